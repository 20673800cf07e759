#include "wavhead.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define UNKNOWN 0x7ffff000u /* bytes: from here on, what stands there when a program writes to a pipe */

enum { MOST_CHUNKS = 1000 /* before the data: a file of zeros has no end of them */ };

/* A file's head as far as it was read. */
typedef struct {
    FILE *file;
    bool big;       /* numbers begin with their highest byte */
    bool wide;      /* a size is told apart, in 64 bits: */
    uint64_t data;  /* bytes; 0: not told */
    uint32_t frame; /* bytes of one; 0: not told */
    uint32_t left;  /* of the chunk */
} Head;

static uint64_t number(const Head *h, const unsigned char *from, int bytes)
{
    uint64_t n = 0;
    for (int k = 0; k < bytes; ++k)
        n = n << 8 | from[h->big ? k : bytes - 1 - k];
    return n;
}

/* The chunk's first bytes, all zero where there are fewer. */
static void read_chunk(Head *h, unsigned char *to, uint32_t bytes)
{
    memset(to, 0, bytes);
    if (h->left >= bytes && fread(to, 1, bytes, h->file) == bytes)
        h->left -= bytes;
    else
        memset(to, 0, bytes);
}

static void note_chunk(Head *h, const unsigned char *name)
{
    unsigned char inside[16];
    if (!memcmp(name, "fmt ", 4)) {
        read_chunk(h, inside, 16);
        h->frame = (uint32_t)number(h, inside + 12, 2);
    } else if (h->wide && !memcmp(name, "ds64", 4)) {
        read_chunk(h, inside, 16);
        h->data = number(h, inside + 8, 8);
    }
}

/* Frames, by a chunk that tells them. false: it is another one. */
static bool tells_frames(Head *h, const unsigned char *name, uint64_t *frames)
{
    unsigned char inside[6];
    if (h->big && !memcmp(name, "COMM", 4)) {
        read_chunk(h, inside, sizeof inside);
        *frames = number(h, inside + 2, 4);
        return true;
    }
    if (h->big || memcmp(name, "data", 4) != 0)
        return false;
    const uint64_t bytes = h->wide && h->left == UINT32_MAX ? h->data : h->left < UNKNOWN ? h->left : 0;
    *frames = h->frame ? bytes / h->frame : 0;
    return true;
}

static uint64_t find_frames(Head *h)
{
    unsigned char head[8];
    uint64_t frames = 0;
    for (int chunks = 0; chunks < MOST_CHUNKS && fread(head, 1, sizeof head, h->file) == sizeof head; ++chunks) {
        h->left = (uint32_t)number(h, head + 4, 4);
        const bool odd = h->left & 1u;
        if (tells_frames(h, head, &frames))
            return frames;
        note_chunk(h, head);
        if (h->left >= UNKNOWN || fseek(h->file, (long)h->left + odd, SEEK_CUR))
            return 0;
    }
    return 0;
}

/* Is it a file that such a head stands in? */
static bool begin(Head *h)
{
    unsigned char head[12];
    if (fread(head, 1, sizeof head, h->file) != sizeof head)
        return false;
    h->big = !memcmp(head, "FORM", 4);
    h->wide = !memcmp(head, "RF64", 4) || !memcmp(head, "BW64", 4);
    if (h->big)
        return !memcmp(head + 8, "AIFF", 4) || !memcmp(head + 8, "AIFC", 4);
    return (h->wide || !memcmp(head, "RIFF", 4)) && !memcmp(head + 8, "WAVE", 4);
}

uint64_t wavhead_frames(const char *path)
{
    Head h = {.file = fopen(path, "rb")};
    if (!h.file)
        return 0;
    const uint64_t frames = begin(&h) ? find_frames(&h) : 0;
    fclose(h.file);
    return frames;
}
