/* Plays a file into JACK clients and records what they make of it:
 *     feed IN.wav FOLDER CLIENT...
 * Each channel of IN goes to the audio input of the same place of every client; FOLDER/CLIENT.wav gets the client's
 * audio outputs, float, frame for frame what the first to the last frame of IN gave.
 *
 * It does so in JACK's freewheel mode: the server waits for every client in every cycle, so that a busy machine loses
 * no frame. The file starts at the start of a cycle, after a second of silence in which the controls arrive. A client
 * of its own records: one that played and recorded would hear itself a cycle late. Exit status 0: done. */
#include <jack/jack.h>
#include <sndfile.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { CHANNELS = 2, CLIENTS = 64 };

typedef struct {
    const char *name;
    uint32_t outs;
    jack_port_t *port[CHANNELS]; /* of the recorder */
    float *heard;                /* interleaved, `frames` of them */
} Client;

typedef struct {
    uint32_t frames, channels;
    int rate;
    float *x;
    jack_port_t *port[CHANNELS]; /* of the player */
    jack_client_t *player, *recorder;
    Client client[CLIENTS];
    int clients;
    atomic_bool go;
    atomic_llong at; /* of the cycle being played; negative: silence before the file */
    long long next;  /* of the cycle to come: the player's own */
} Feed;

static int fail(const char *what, const char *name)
{
    printf("%s: %s\n", name, what);
    return 1;
}

static void nap(void)
{
    nanosleep(&(struct timespec){.tv_nsec = 20000000}, NULL);
}

/* ---- What runs in JACK's threads ---- */

static int play(jack_nframes_t n, void *data)
{
    Feed *f = data;
    if (atomic_load(&f->go)) {
        atomic_store(&f->at, f->next);
        f->next += n;
    }
    const long long at = atomic_load(&f->at);
    for (uint32_t c = 0; c < f->channels; ++c) {
        float *out = jack_port_get_buffer(f->port[c], n);
        for (jack_nframes_t i = 0; i < n; ++i) {
            const long long frame = at + i;
            out[i] = frame >= 0 && frame < f->frames ? f->x[(size_t)frame * f->channels + c] : 0.0f;
        }
    }
    return 0;
}

/* Runs after the player and the clients between them, in the same cycle. */
static int record(jack_nframes_t n, void *data)
{
    Feed *f = data;
    const long long at = atomic_load(&f->at);
    for (int k = 0; k < f->clients; ++k) {
        const Client *client = &f->client[k];
        for (uint32_t c = 0; c < client->outs; ++c) {
            const float *in = jack_port_get_buffer(client->port[c], n);
            for (jack_nframes_t i = 0; i < n; ++i)
                if (at + i >= 0 && at + i < f->frames)
                    client->heard[(size_t)(at + i) * client->outs + c] = in[i];
        }
    }
    return 0;
}

/* ---- Files ---- */

static int load(Feed *f, const char *path)
{
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (!file || info.channels > CHANNELS)
        return fail("cannot read it, or too many channels", path);
    f->channels = (uint32_t)info.channels;
    f->rate = info.samplerate;
    f->x = calloc((size_t)info.frames * f->channels + 1, sizeof *f->x);
    f->frames = f->x ? (uint32_t)sf_readf_float(file, f->x, info.frames) : 0;
    sf_close(file);
    return f->frames ? 0 : fail("empty", path);
}

static int save(const Feed *f, const Client *client, const char *folder)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/%s.wav", folder, client->name);
    SF_INFO info = {.samplerate = f->rate, .channels = (int)client->outs, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    const bool done = file && sf_writef_float(file, client->heard, f->frames) == f->frames;
    if (file)
        sf_close(file);
    return done ? 0 : fail("cannot write it", path);
}

/* ---- The graph ---- */

/* The ports of a client by name, audio only, in order; waits for up to 20 s until there are some. To be jack_free()d.
 */
static const char **ports_of(const Feed *f, const char *client, unsigned long flags)
{
    char pattern[256];
    snprintf(pattern, sizeof pattern, "^%s:", client);
    const char **ports = NULL;
    for (int tries = 0; tries < 1000 && !ports; ++tries) {
        ports = jack_get_ports(f->player, pattern, JACK_DEFAULT_AUDIO_TYPE, flags);
        if (!ports)
            nap();
    }
    return ports;
}

static int connect_inputs(Feed *f, const Client *client)
{
    const char **ins = ports_of(f, client->name, JackPortIsInput);
    if (!ins)
        return fail("no audio inputs", client->name);
    int status = 0;
    for (uint32_t c = 0; c < f->channels && ins[c]; ++c)
        status |= jack_connect(f->player, jack_port_name(f->port[c]), ins[c]);
    jack_free(ins);
    return status ? fail("inputs cannot be connected", client->name) : 0;
}

static int connect_outputs(Feed *f, const Client *client, const char **outs)
{
    int status = 0;
    for (uint32_t c = 0; c < client->outs; ++c)
        status |= jack_connect(f->recorder, outs[c], jack_port_name(client->port[c]));
    return status ? fail("outputs cannot be connected", client->name) : 0;
}

static int add_client(Feed *f, const char *name)
{
    if (f->clients == CLIENTS)
        return fail("one client too many", name);
    Client *client = &f->client[f->clients++];
    client->name = name;
    const char **outs = ports_of(f, name, JackPortIsOutput);
    if (!outs)
        return fail("no audio outputs", name);
    while (client->outs < CHANNELS && outs[client->outs]) {
        char own[128];
        snprintf(own, sizeof own, "%s-%u", name, client->outs);
        client->port[client->outs++] =
            jack_port_register(f->recorder, own, JACK_DEFAULT_AUDIO_TYPE, JackPortIsInput, 0);
    }
    client->heard = calloc((size_t)f->frames * client->outs + 1, sizeof *client->heard);
    jack_free(outs);
    return client->heard ? 0 : fail("no memory", name);
}

static int open_graph(Feed *f)
{
    f->player = jack_client_open("player", JackNoStartServer, NULL);
    f->recorder = jack_client_open("recorder", JackNoStartServer, NULL);
    if (!f->player || !f->recorder)
        return fail("no JACK server", "feed");
    if (jack_get_sample_rate(f->player) != (jack_nframes_t)f->rate)
        return fail("the server runs at another rate than the file", "feed");
    for (uint32_t c = 0; c < f->channels; ++c) {
        const char name[] = {'o', 'u', 't', (char)('1' + c), '\0'};
        f->port[c] = jack_port_register(f->player, name, JACK_DEFAULT_AUDIO_TYPE, JackPortIsOutput, 0);
    }
    return 0;
}

static int wire(Feed *f)
{
    int status = 0;
    for (int k = 0; k < f->clients && !status; ++k) {
        const char **outs = ports_of(f, f->client[k].name, JackPortIsOutput);
        status = !outs || connect_inputs(f, &f->client[k]) || connect_outputs(f, &f->client[k], outs);
        jack_free(outs);
    }
    return status;
}

/* Freewheels from a second before the file to a cycle or more past its end. */
static int run(Feed *f)
{
    const jack_nframes_t cycle = jack_get_buffer_size(f->player);
    f->next = -(long long)cycle * (1 + f->rate / (int)cycle);
    atomic_store(&f->at, f->next);
    jack_set_process_callback(f->player, play, f);
    jack_set_process_callback(f->recorder, record, f);
    if (jack_activate(f->player) || jack_activate(f->recorder) || wire(f))
        return fail("the graph cannot be set up", "feed");
    if (jack_set_freewheel(f->player, 1))
        return fail("no freewheel mode", "feed");
    atomic_store(&f->go, true);
    int naps = 0;
    while (atomic_load(&f->at) < (long long)f->frames + cycle && ++naps < 3000)
        nap();
    jack_set_freewheel(f->player, 0);
    jack_client_close(f->recorder);
    jack_client_close(f->player);
    return naps < 3000 ? 0 : fail("the server did not get to the end of the file within a minute", "feed");
}

int main(int argc, char **argv)
{
    if (argc < 4)
        return fail("usage: feed IN.wav FOLDER CLIENT...", "feed");
    static Feed f;
    if (load(&f, argv[1]) || open_graph(&f))
        return 1;
    for (int a = 3; a < argc; ++a)
        if (add_client(&f, argv[a]))
            return 1;
    int status = run(&f);
    for (int k = 0; k < f.clients && !status; ++k)
        status = save(&f, &f.client[k], argv[2]);
    for (int k = 0; k < f.clients; ++k)
        free(f.client[k].heard);
    free(f.x);
    return status;
}
