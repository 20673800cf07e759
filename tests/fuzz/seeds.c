/* Writes cases for the fuzzers to start from into two folders: seeds CASES SOUNDS. */
#include "broken.h"
#include "drive.h"

#include <stdio.h>

enum { SEEDS = 360, SMALLEST = 40, SIZES = 6, LARGEST_FILE = 4000 };

static int write_seed(const char *folder, uint32_t n, const uint8_t *bytes, size_t size)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/seed-%03u", folder, n);
    FILE *file = fopen(path, "wb");
    if (!file)
        return 1;
    const size_t written = fwrite(bytes, 1, size, file);
    return fclose(file) || written != size;
}

/* Every plug-in, in several sizes. */
static int write_cases(const char *folder)
{
    int failed = 0;
    for (uint32_t n = 0; n < SEEDS && !failed; ++n) {
        uint8_t bytes[SMALLEST * SIZES];
        const size_t size = (size_t)SMALLEST * (1 + n / 12 % SIZES);
        drive_arbitrary(n, bytes, size);
        failed = write_seed(folder, n, bytes, size);
    }
    return failed;
}

/* Every format, cut off where it is long. */
static int write_sounds(const char *folder)
{
    int failed = 0;
    for (uint32_t kind = 0; kind < WHOLE_KINDS && !failed; ++kind) {
        static uint8_t bytes[WHOLE_ROOM];
        const size_t size = whole_file(kind, bytes);
        if (size)
            failed = write_seed(folder, kind, bytes, size < LARGEST_FILE ? size : LARGEST_FILE);
    }
    return failed;
}

int main(int argc, char **argv)
{
    const int failed = argc != 3 || write_cases(argv[1]) || write_sounds(argv[2]);
    if (failed)
        fprintf(stderr, "seeds: usage: seeds CASES SOUNDS (folders that are there and can be written to)\n");
    return failed;
}
