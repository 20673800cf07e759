#include "heard_before.h"

#define LONGEST 0.3          /* s: a stretch ends at the first crossing after this */
#define PAUSE   0.05         /* s without a crossing: they end a stretch */
#define SLOT    0.01         /* s */
#define HASHES  4294967296.0 /* 2^32 */

enum {
    CROSSINGS = 8, /* fewest in a stretch that is judged: fewer may match by chance */
    SLOTS = 64,    /* as many as `repeats` has bits */
};

void heard_before_init(HeardBefore *h, double rate)
{
    *h = (HeardBefore){.longest = (uint32_t)(LONGEST * rate),
                       .pause = (uint32_t)(PAUSE * rate),
                       .slot = (uint32_t)(SLOT * rate),
                       .cuts = HEARD_BEFORE_CUTS * HASHES / rate,
                       .pausing = true};
}

static void begin_stretch(HeardBefore *h, uint64_t at)
{
    h->began = at;
    h->stretch = h->crossings = 0;
}

void heard_before_reset(HeardBefore *h)
{
    h->above = h->again = false;
    h->pausing = true;
    h->repeats = 0;
}

/* Mixes the bits so that each depends on all: the last step of MurmurHash3 (A. Appleby, public domain; its constants
 * from memory). */
static uint32_t mixed(uint32_t x)
{
    x = (x ^ x >> 16) * 0x85ebca6bu;
    x = (x ^ x >> 13) * 0xc2b2ae35u;
    return x ^ x >> 16;
}

/* ---- What is remembered ---- */

static bool is_judged(const HeardStretches *s, uint32_t hash)
{
    return hash % (1u << s->thinned) == 0;
}

static bool is_known(const HeardStretches *s, uint32_t hash)
{
    bool known = false;
    for (uint32_t i = 0; i < s->count; ++i)
        known |= s->hash[i] == hash;
    return known;
}

static void thin_out(HeardStretches *s)
{
    uint32_t kept = 0;
    ++s->thinned;
    for (uint32_t i = 0; i < s->count; ++i)
        if (is_judged(s, s->hash[i]))
            s->hash[kept++] = s->hash[i];
    s->count = kept;
}

static void remember(HeardStretches *s, uint32_t hash)
{
    if (s->count == HEARD_BEFORE_KEPT)
        thin_out(s);
    if (s->count < HEARD_BEFORE_KEPT && is_judged(s, hash))
        s->hash[s->count++] = hash;
}

/* ---- Stretches ---- */

/* Marks the slots that begin in the stretch, which ends before `end`: 45 at most. */
static void mark_stretch(HeardBefore *h, uint64_t end)
{
    const uint64_t first = (h->began + h->slot - 1) / h->slot, after = (end + h->slot - 1) / h->slot;
    const uint64_t moves = after - 1 - h->marked, slots = after - first;
    h->repeats = moves < SLOTS ? h->repeats << moves : 0;
    h->repeats |= (UINT64_C(1) << slots) - 1;
    h->marked = after - 1;
}

static void end_stretch(HeardBefore *h, HeardStretches *known, uint64_t end)
{
    const uint32_t hash = h->stretch % HEARD_BEFORE_HASHES;
    if (h->crossings >= CROSSINGS && is_judged(known, hash)) {
        h->again = is_known(known, hash);
        h->remembered += !h->again;
        if (!h->again)
            remember(known, hash);
    }
    if (h->again)
        mark_stretch(h, end);
    begin_stretch(h, end);
}

/* `recent` depends on the last eight crossings alone, as older bits are shifted out. No judged stretch has fewer. */
static void cross(HeardBefore *h, HeardStretches *known, uint64_t at)
{
    const uint32_t since = (uint32_t)(at - h->last);
    h->recent = h->recent << 4 ^ mixed(since);
    h->stretch = mixed(h->stretch + since);
    ++h->crossings;
    const bool cut = (double)mixed(h->recent) < h->cuts * since || at - h->began >= h->longest;
    if (cut && h->crossings >= CROSSINGS)
        end_stretch(h, known, at);
}

static void look_for_pause(HeardBefore *h, HeardStretches *known, uint64_t now)
{
    if (h->pausing || now - h->last <= h->pause)
        return;
    end_stretch(h, known, h->last + h->pause);
    h->pausing = true;
}

static void rise(HeardBefore *h, HeardStretches *known, uint64_t at)
{
    look_for_pause(h, known, at);
    if (h->pausing)
        begin_stretch(h, at);
    else
        cross(h, known, at);
    h->pausing = false;
    h->last = at;
}

void heard_before_process(HeardBefore *h, HeardStretches *known, const float *in, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const bool above = in[i] > 0.f;
        if (above && !h->above)
            rise(h, known, h->heard + i);
        h->above = above;
    }
    h->heard += n;
    look_for_pause(h, known, h->heard);
}

bool heard_before_at(const HeardBefore *h, uint32_t ago)
{
    if (ago > h->heard)
        return false;
    const uint64_t slot = (h->heard - ago) / h->slot;
    return slot <= h->marked && h->marked - slot < SLOTS && (h->repeats >> (h->marked - slot) & 1);
}
