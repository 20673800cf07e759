#include "mp3whole.h"

#include "mp3head.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The file is given out as so much longer than it is that no guess lies too low: frames have 24 bytes (8 kbit/s at
 * 24 kHz) to 1441 (320 kbit/s at 32 kHz), 60 times as many. It then ends early, as one cut short does. */
#define LONGER 64

enum { TAG = 128 /* bytes at the end given out, which a reader looks for a tag in before it reads anything */ };

struct Mp3Whole {
    FILE *file;
    sf_count_t length, at; /* bytes */
};

static sf_count_t length_of(void *user)
{
    const Mp3Whole *w = user;
    return LONGER * w->length + TAG;
}

static sf_count_t seek_to(sf_count_t offset, int whence, void *user)
{
    Mp3Whole *w = user;
    const sf_count_t to = offset + (whence == SEEK_SET ? 0 : whence == SEEK_CUR ? w->at : length_of(w));
    if (to < 0)
        return -1;
    w->at = to;
    return to;
}

static sf_count_t tell(void *user)
{
    const Mp3Whole *w = user;
    return w->at;
}

static sf_count_t read_no_tag(Mp3Whole *w, void *to, sf_count_t bytes)
{
    const sf_count_t left = length_of(w) - w->at, got = bytes < left ? bytes : left;
    if (got <= 0)
        return 0;
    memset(to, 0, (size_t)got);
    w->at += got;
    return got;
}

static sf_count_t read_some(void *to, sf_count_t bytes, void *user)
{
    Mp3Whole *w = user;
    if (w->at >= LONGER * w->length)
        return read_no_tag(w, to, bytes);
    if (fseek(w->file, (long)w->at, SEEK_SET))
        return 0;
    const sf_count_t got = (sf_count_t)fread(to, 1, (size_t)bytes, w->file);
    w->at += got;
    return got;
}

static Mp3Whole *begin(const char *path)
{
    Mp3Whole *w = mp3head_missing(path) ? calloc(1, sizeof *w) : NULL;
    if (!w)
        return NULL;
    w->file = fopen(path, "rb");
    if (w->file && !fseek(w->file, 0, SEEK_END)) {
        w->length = (sf_count_t)ftell(w->file);
        return w;
    }
    mp3whole_close(w);
    return NULL;
}

SNDFILE *mp3whole_open(const char *path, SF_INFO *info, Mp3Whole **whole)
{
    SF_VIRTUAL_IO io = {.get_filelen = length_of, .seek = seek_to, .read = read_some, .tell = tell};
    SF_INFO heard = {0};
    Mp3Whole *w = begin(path);
    SNDFILE *file = w ? sf_open_virtual(&io, SFM_READ, &heard, w) : NULL;
    *whole = file ? w : NULL;
    if (file)
        *info = heard;
    else
        mp3whole_close(w);
    return file;
}

void mp3whole_close(Mp3Whole *whole)
{
    if (whole && whole->file)
        fclose(whole->file);
    free(whole);
}
