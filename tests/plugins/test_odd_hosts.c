/* What a host may ask and no sane one does: the binaries themselves, without lilv between. */
#include "every.h"

#include <dlfcn.h>

typedef struct {
    void *binary;
    const LV2_Descriptor *(*descriptor)(uint32_t index);
} Opened;

static Opened open_binary(const Case *c)
{
    char path[4200];
    snprintf(path, sizeof path, "%s/linctus.lv2/%s.so", every_build(), c->plugin->stem);
    Opened o = {.binary = dlopen(path, RTLD_NOW | RTLD_LOCAL)};
    if (!o.binary)
        fail_msg("%s", dlerror());
    void *symbol = dlsym(o.binary, "lv2_descriptor");
    assert_non_null(symbol);
    memcpy(&o.descriptor, &symbol, sizeof symbol); /* ISO C has no cast between the two */
    return o;
}

/* A number too small for a float to hold at full precision: 0 once the processor has been told to flush them. */
static bool small_numbers_count(void)
{
    volatile float small = 1e-30f;
    return small * 1e-10f > 0.f;
}

static void loading_leaves_the_arithmetic_alone(void **state)
{
    assert_true(small_numbers_count());
    const Opened o = open_binary(*state);
    assert_true(small_numbers_count());
    dlclose(o.binary);
}

static void there_are_two_descriptors_and_no_more(void **state)
{
    const Opened o = open_binary(*state);
    assert_non_null(o.descriptor(0));
    assert_non_null(o.descriptor(1));
    assert_null(o.descriptor(2));
    assert_null(o.descriptor(UINT32_MAX));
    dlclose(o.binary);
}

static void unknown_extensions_are_not_there(void **state)
{
    const Opened o = open_binary(*state);
    for (uint32_t i = 0; i < 2; ++i)
        assert_null(o.descriptor(i)->extension_data("http://example.org/none"));
    dlclose(o.binary);
}

/* A list of features with none that is known, no list at all, ports past the last, clean-up of nothing. */
static void strangers_do_no_harm(void **state)
{
    const Case *c = *state;
    const Opened o = open_binary(c);
    const LV2_Feature other = {"http://example.org/other", NULL};
    const LV2_Feature *const features[] = {&other, NULL};
    for (uint32_t i = 0; i < 2; ++i) {
        const LV2_Descriptor *d = o.descriptor(i);
        LV2_Handle handle = d->instantiate(d, 48000.0, "", features);
        assert_non_null(handle);
        float nowhere[64] = {0};
        for (uint32_t port = c->plugin->ports + 4; port < c->plugin->ports + 9; ++port)
            d->connect_port(handle, port, nowhere);
        d->connect_port(handle, UINT32_MAX, nowhere);
        d->run(handle, 64);
        for (int k = 0; k < 64; ++k)
            assert_true(nowhere[k] == 0.f);
        d->cleanup(handle);
        d->cleanup(NULL);
        LV2_Handle bare = d->instantiate(d, 48000.0, "", NULL);
        assert_non_null(bare);
        d->cleanup(bare);
    }
    dlclose(o.binary);
}

int main(void)
{
    static const Property properties[] = {
        {"loading leaves the arithmetic alone", loading_leaves_the_arithmetic_alone, NULL},
        {"there are two descriptors and no more", there_are_two_descriptors_and_no_more, NULL},
        {"unknown extensions are not there", unknown_extensions_are_not_there, NULL},
        {"strangers do no harm", strangers_do_no_harm, NULL},
    };
    return every_run("test_odd_hosts", properties, sizeof properties / sizeof *properties);
}
