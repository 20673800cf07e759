#include "mp3head.h"

#include <stdio.h>
#include <string.h>

enum {
    TAG = 10,                      /* bytes of an ID3v2 tag's own head */
    TAGS = 8,                      /* most tags in a row */
    FRAME = 200,                   /* bytes of the first frame that are read: all that stands in its header */
    ENCODER = 4 + 4 + 4 + 100 + 4, /* bytes of a header with all of its four fields, up to the encoder's part */
    ADDED = 21                     /* bytes from there to what the encoder has added */
};

static uint32_t number(const unsigned char *from)
{
    return (uint32_t)from[0] << 24 | (uint32_t)from[1] << 16 | (uint32_t)from[2] << 8 | from[3];
}

/* Goes to the first frame, behind ID3v2 tags, whose sizes have seven bits a byte. */
static bool find_frame(FILE *file, unsigned char frame[FRAME])
{
    long at = 0;
    for (int tags = 0; tags < TAGS; ++tags) {
        memset(frame, 0, FRAME);
        if (fseek(file, at, SEEK_SET) != 0 || fread(frame, 1, FRAME, file) < TAG)
            return false;
        if (memcmp(frame, "ID3", 3) != 0)
            return frame[0] == 0xff && (frame[1] & 0xe6) == 0xe2; /* in step, and of layer III */
        at += TAG;
        for (int k = 0; k < 4; ++k)
            at += (long)(frame[6 + k] & 0x7f) << (7 * (3 - k));
    }
    return false;
}

/* Samples before and behind the sound, 12 bits each. */
static uint32_t added(const unsigned char *header)
{
    const unsigned char *from = header + ENCODER + ADDED;
    const bool told = (header[7] & 0xf) == 0xf && header[ENCODER];
    return told ? ((uint32_t)from[0] << 4 | from[1] >> 4) + ((uint32_t)(from[1] & 0xf) << 8 | from[2]) : 0;
}

static bool is_first(const unsigned char *frame) /* MPEG-1; else 2 or 2.5 */
{
    return (frame[1] & 0x18) == 0x18;
}

/* A "Xing" or "Info" header, behind what says how the channels are coded; NULL: there is none. */
static const unsigned char *header_of(const unsigned char *frame)
{
    const bool mono = (frame[3] & 0xc0) == 0xc0;
    const unsigned char *header = frame + 4 + (is_first(frame) ? (mono ? 17 : 32) : (mono ? 9 : 17));
    return !memcmp(header, "Xing", 4) || !memcmp(header, "Info", 4) ? header : NULL;
}

static const unsigned char *other_header_of(const unsigned char *frame)
{
    const unsigned char *header = frame + 4 + 32;
    return memcmp(header, "VBRI", 4) ? NULL : header;
}

static uint64_t promised(const unsigned char frame[FRAME])
{
    const uint64_t samples = is_first(frame) ? 1152 : 576;
    const unsigned char *header = header_of(frame), *other = other_header_of(frame);
    if (other)
        return samples * number(other + 14);
    if (!header || !(header[7] & 1))
        return 0;
    const uint64_t all = samples * number(header + 8), less = added(header);
    return all > less ? all - less : 0;
}

static bool read_frame(const char *path, unsigned char frame[FRAME])
{
    FILE *file = fopen(path, "rb");
    const bool found = file && find_frame(file, frame);
    if (file)
        fclose(file);
    return found;
}

uint64_t mp3head_frames(const char *path)
{
    unsigned char frame[FRAME];
    return read_frame(path, frame) ? promised(frame) : 0;
}

bool mp3head_missing(const char *path)
{
    unsigned char frame[FRAME];
    return read_frame(path, frame) && !header_of(frame) && !other_header_of(frame);
}
