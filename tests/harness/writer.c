#include "writer.h"

static bool writer_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    Writer *w = (Writer *)s;
    for (uint32_t done = 0; done < n; done += SOUND_BLOCK) {
        const float *from[DSP_CHANNELS];
        for (uint32_t c = 0; c < w->sound.channels; ++c)
            from[c] = in[c] + done;
        if (!sound_write(&w->sound, from, n - done < SOUND_BLOCK ? n - done : SOUND_BLOCK, e))
            return false;
    }
    return true;
}

static bool writer_end(Sink *s, Error *e)
{
    return sound_finish(&((Writer *)s)->sound, e);
}

bool writer_start(Writer *w, NewFile *file, double rate, uint32_t channels, uint64_t frames, SoundBits bits, Error *e)
{
    const int handle = newfile_open(file, e);
    w->sink = (Sink){writer_write, writer_end};
    return handle >= 0 && sound_create(&w->sound, handle, file->name, rate, channels, frames, bits, e);
}

uint64_t writer_over(const Writer *w)
{
    return w->sound.over;
}

void writer_free(Writer *w)
{
    sound_drop(&w->sound);
}
