#include "soundfile.h"

#include "dsp.h"
#include "mp3head.h"
#include "ours.h"
#include "source.h"
#include "wavhead.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- Reading ---- */

static void name_format(SoundIn *s, int format)
{
    SF_FORMAT_INFO sub = {.format = format & SF_FORMAT_SUBMASK};
    const bool known = !sf_command(NULL, SFC_GET_FORMAT_INFO, &sub, sizeof sub) && sub.name;
    snprintf(s->format, sizeof s->format, "%s", known ? sub.name : "audio");
}

static bool check_file(const char *path, Error *e)
{
    return source_check(path, e) && (!source_is_pipe(path) || error_set(e, ERROR_FILE, "%s: a pipe", path));
}

static bool check_audio(const SoundIn *s, const SF_INFO *info, Error *e)
{
    if (info->channels < 1 || info->channels > DSP_CHANNELS)
        return error_set(e, ERROR_AUDIO, "%s: %d channels; mono or stereo is wanted", s->path, info->channels);
    if (!dsp_rate_ok(s->rate))
        return error_set(e, ERROR_AUDIO, "%s: %g Hz; a rate from %g to %g Hz is wanted", s->path, s->rate, DSP_RATE_MIN,
                         DSP_RATE_MAX);
    return info->frames > 0 || error_set(e, ERROR_EMPTY, "%s: empty, not one sample in it", s->path);
}

/* Opened anew, not a second handle to what is open: each reads at a place of its own. */
static SNDFILE *open_copy(int copy, SF_INFO *info)
{
    char name[64];
    snprintf(name, sizeof name, "/proc/self/fd/%d", copy);
    const int handle = open(name, O_RDONLY);
    return handle < 0 ? NULL : sf_open_fd(handle, SFM_READ, info, SF_TRUE);
}

static bool is_plain(int sub)
{
    return sub <= SF_FORMAT_PCM_32 || sub == SF_FORMAT_PCM_U8 || sub == SF_FORMAT_FLOAT || sub == SF_FORMAT_DOUBLE;
}

/* Less than a tenth of a second that is missing is a head that counts otherwise. Of a compressed WAV no frame is as
 * long as its head says. */
static uint64_t promised(const char *path, int copy, const SF_INFO *info)
{
    char name[64];
    const uint64_t there = (uint64_t)info->frames, tenth = (uint64_t)info->samplerate / 10;
    const int sub = info->format & SF_FORMAT_SUBMASK;
    snprintf(name, sizeof name, "/proc/self/fd/%d", copy);
    const char *from = copy < 0 ? path : name;
    const uint64_t head = is_plain(sub) ? wavhead_frames(from) : mp3head_frames(from);
    if (!head && sub >= SF_FORMAT_MPEG_LAYER_I && sub <= SF_FORMAT_MPEG_LAYER_III)
        return 0; /* libsndfile's figure is a guess by the first frame then */
    return head > there + tenth ? head : there;
}

/* An MP3 that does not tell its length is opened anew, so that it reads to its end. */
static void read_whole(SoundIn *s, int copy, SF_INFO *info)
{
    char name[64];
    if ((info->format & SF_FORMAT_SUBMASK) != SF_FORMAT_MPEG_LAYER_III)
        return;
    snprintf(name, sizeof name, "/proc/self/fd/%d", copy);
    SNDFILE *file = mp3whole_open(copy < 0 ? s->path : name, info, &s->whole);
    if (!file)
        return;
    sf_close(s->file);
    s->file = file;
}

/* libsndfile's own words for a file that it does not know tell nobody what to do. */
static bool no_audio(const char *path, Error *e)
{
    struct stat st;
    if (!stat(path, &st) && S_ISREG(st.st_mode) && !st.st_size)
        return error_set(e, ERROR_EMPTY, "%s: empty: the file has 0 bytes", path);
    if (sf_error(NULL) != SF_ERR_UNRECOGNISED_FORMAT)
        return error_set(e, ERROR_AUDIO, "%s: no audio that can be read: %s", path, sf_strerror(NULL));
    return error_set(e, ERROR_AUDIO,
                     "%s: no audio that can be read. WAV, AIFF, FLAC, Ogg, Opus and MP3 can; of anything else, as m4a, "
                     "make a WAV first",
                     path);
}

bool sound_open(SoundIn *s, const char *path, int copy, Error *e)
{
    *s = (SoundIn){.path = path};
    if (copy < 0 && !check_file(path, e))
        return false;
    SF_INFO info = {0};
    s->file = copy < 0 ? sf_open(path, SFM_READ, &info) : open_copy(copy, &info);
    if (!s->file)
        return no_audio(path, e);
    read_whole(s, copy, &info);
    s->rate = (double)info.samplerate;
    s->channels = (uint32_t)info.channels;
    s->promised = promised(path, copy, &info);
    name_format(s, info.format);
    if (check_audio(s, &info, e))
        return true;
    sound_close(s);
    return false;
}

void sound_close(SoundIn *s)
{
    if (s->file)
        sf_close(s->file);
    mp3whole_close(s->whole);
    s->file = NULL;
    s->whole = NULL;
}

uint32_t sound_read(SoundIn *s, float *const *out, uint32_t n)
{
    float block[SOUND_BLOCK * DSP_CHANNELS];
    const sf_count_t got = sf_readf_float(s->file, block, n < SOUND_BLOCK ? n : SOUND_BLOCK);
    const uint32_t frames = got > 0 ? (uint32_t)got : 0;
    for (uint32_t i = 0; i < frames; ++i) {
        for (uint32_t c = 0; c < s->channels; ++c) {
            const float x = block[i * s->channels + c];
            s->not_finite += isfinite(x) ? 0 : 1;
            out[c][i] = isfinite(x) ? x : 0.f;
            s->damaged += out[c][i] != dsp_undamaged(out[c][i]);
        }
    }
    s->frames += frames;
    return frames;
}

/* ---- Writing ---- */

static bool cannot_write(const SoundOut *s, const char *why, Error *e)
{
    return error_set(e, ERROR_WRITE, "%s: cannot write: %s", s->name, why);
}

typedef struct {
    const char *name;
    int format;
    uint32_t bytes;
    double steps; /* to full scale; 0: float */
} Depth;

static const Depth depth[SOUND_BITS] = {
    [SOUND_24] = {"24 bit", SF_FORMAT_PCM_24, 3, 8388608.0},
    [SOUND_16] = {"16 bit", SF_FORMAT_PCM_16, 2, 32768.0},
    [SOUND_FLOAT] = {"float", SF_FORMAT_FLOAT, 4, 0.0},
};

const char *sound_bits_name(SoundBits bits)
{
    return depth[bits].name;
}

/* Sizes in a WAV have 32 bits. */
static bool fits_wav(uint64_t frames, uint32_t channels, SoundBits bits)
{
    return frames * channels * depth[bits].bytes < UINT32_MAX - 1000;
}

bool sound_create(SoundOut *s, int handle, const char *name, double rate, uint32_t channels, uint64_t frames,
                  SoundBits bits, Error *e)
{
    *s = (SoundOut){.channels = channels, .bits = bits, .noise = 1, .name = name};
    SF_INFO info = {.samplerate = (int)lrint(rate),
                    .channels = (int)channels,
                    .format = (fits_wav(frames, channels, bits) ? SF_FORMAT_WAV : SF_FORMAT_RF64) | depth[bits].format};
    s->file = sf_open_fd(handle, SFM_WRITE, &info, SF_TRUE);
    if (!s->file)
        return cannot_write(s, sf_strerror(NULL), e);
    ours_mark(s->file);
    sf_command(s->file, SFC_SET_ADD_PEAK_CHUNK, NULL, SF_FALSE); /* it holds the time of day */
    return true;
}

/* 0..1, from a linear congruential generator (Numerical Recipes' constants). */
static double noise(SoundOut *s)
{
    s->noise = s->noise * 1664525u + 1013904223u;
    return (double)(s->noise >> 8) / 16777216.0;
}

/* rint() without a call, for what lies within 2^51: a sum with 1.5 times 2^52 has no room for a fraction. */
static double whole(double x)
{
    return x + 0x1.8p52 - 0x1.8p52;
}

/* libsndfile takes the upper bits of an int. Its own conversion from float scales by 2^23 - 1, which moves samples that
 * came from 24 bit by a step. Far over full scale any value will do. */
static int to_steps(SoundOut *s, float sample, double steps)
{
    const double x = dsp_clamp((double)sample * steps, -2.0 * steps, 2.0 * steps), nearest = whole(x);
    const double one = noise(s), dither = one - noise(s);
    s->over += nearest < -steps || nearest > steps - 1.0;
    const double step = x == nearest ? x : whole(x + dither);
    return (int)dsp_clamp(step, -steps, steps - 1.0);
}

static sf_count_t write_float(SoundOut *s, const float *const *in, uint32_t n)
{
    float block[SOUND_BLOCK * DSP_CHANNELS];
    for (uint32_t i = 0; i < n; ++i)
        for (uint32_t c = 0; c < s->channels; ++c)
            block[i * s->channels + c] = in[c][i];
    return sf_writef_float(s->file, block, n);
}

static sf_count_t write_steps(SoundOut *s, const float *const *in, uint32_t n)
{
    int block[SOUND_BLOCK * DSP_CHANNELS];
    const double steps = depth[s->bits].steps;
    const int step = (int)(2147483648.0 / steps);
    for (uint32_t i = 0; i < n; ++i)
        for (uint32_t c = 0; c < s->channels; ++c)
            block[i * s->channels + c] = to_steps(s, in[c][i], steps) * step;
    return sf_writef_int(s->file, block, n);
}

bool sound_write(SoundOut *s, const float *const *in, uint32_t n, Error *e)
{
    errno = 0;
    const sf_count_t wrote = s->bits == SOUND_FLOAT ? write_float(s, in, n) : write_steps(s, in, n);
    return wrote == (sf_count_t)n || cannot_write(s, errno ? strerror(errno) : sf_strerror(s->file), e);
}

bool sound_finish(SoundOut *s, Error *e)
{
    errno = 0;
    const int failed = sf_close(s->file);
    s->file = NULL;
    return !failed || cannot_write(s, errno ? strerror(errno) : sf_error_number(failed), e);
}

void sound_drop(SoundOut *s)
{
    if (s->file)
        sf_close(s->file);
    *s = (SoundOut){0};
}
