/* Writes arbitrary cases for fuzz_plugins to start from: seeds FOLDER. */
#include "drive.h"

#include <stdio.h>

enum { SEEDS = 360, SMALLEST = 40, SIZES = 6 };

static int write_seed(const char *folder, uint32_t n)
{
    uint8_t bytes[SMALLEST * SIZES];
    const size_t size = SMALLEST * (1 + n / 12 % SIZES);
    char path[4096];
    snprintf(path, sizeof path, "%s/seed-%03u", folder, n);
    drive_arbitrary(n, bytes, size);
    FILE *file = fopen(path, "wb");
    if (!file)
        return 1;
    const size_t written = fwrite(bytes, 1, size, file);
    return fclose(file) || written != size;
}

int main(int argc, char **argv)
{
    int failed = argc != 2;
    for (uint32_t n = 0; n < SEEDS && !failed; ++n)
        failed = write_seed(argv[1], n);
    if (failed)
        fprintf(stderr, "seeds: usage: seeds FOLDER (that is there and can be written to)\n");
    return failed;
}
