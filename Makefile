# Linctus: builds the LV2 bundle, its tests and its demo. `make help` lists what it can do.

# The suite's version: it stands here alone, and goes into the names of what `make dist` makes.
VERSION := 0.2.0

# ---- Options: set any of them on the command line ----
CC      ?= cc
AR      ?= ar
AWK     ?= awk
PKG     ?= pkg-config
OPT     ?= -O2 -g
WARN    ?= -Wall -Wextra -Wpedantic -Wconversion -Wshadow
WERROR  ?=
PREFIX  ?=
DESTDIR ?=
# Where `make install` puts the bundle: the user's own folder, or PREFIX/lib/lv2 where PREFIX is given.
LV2DIR  ?= $(if $(PREFIX),$(PREFIX)/lib/lv2,$(HOME)/.lv2)
BUILD   ?= build
JOBS    ?= $(shell nproc 2>/dev/null || echo 2)
# The demo: your own recording and the voice range it was sung in, instead of the invented singer.
VOCAL   ?=
VOICE   ?=
# The time of every file in an archive of `make dist`, in seconds since 1970: any, as long as it is always the same.
SOURCE_DATE_EPOCH ?= 1577836800

# Flags under which NaN and infinity are not told from sound, the order of a sum is the compiler's, or a plug-in sets the
# whole host's denormals to 0 by being loaded. dsp.h stops such a build too, but not every compiler has a macro for each.
UNSAFE := -ffast-math -Ofast -ffinite-math-only -funsafe-math-optimizations -fassociative-math -freciprocal-math -mdaz-ftz
ASKED  := $(filter $(UNSAFE),$(CC) $(OPT) $(CPPFLAGS) $(CFLAGS) $(LDFLAGS))
ifneq ($(ASKED),)
$(error Linctus cannot be built with $(ASKED): it has to tell NaN and infinity from sound, and to leave the host's arithmetic alone)
endif

# -ffp-contract=off: vector lanes and remainders do identical arithmetic, on every machine.
BASE_FLAGS := -std=c11 -ffp-contract=off -fvisibility=hidden -fPIC -MMD -MP
# What is built is equal to the bit wherever the tree and BUILD stand: debug information and assertions name files by
# their place in the tree. The compiler takes its folder from PWD, which may hold a symbolic link.
SAME_PATHS := -ffile-prefix-map=$(CURDIR)=. -ffile-prefix-map=$(BUILD)/=build/
export PWD := $(CURDIR)
# V=1 shows every command.
V ?= 0
Q := $(if $(filter 1,$(V)),,@)
SAY := $(if $(filter 1,$(V))$(findstring s,$(firstword -$(MAKEFLAGS))),@true,@echo)
COMPILE     = $(CC) $(BASE_FLAGS) $(SAME_PATHS) $(WARN) $(WERROR) $(OPT) $(CPPFLAGS) $(CFLAGS)
LINK        = $(COMPILE) $(LDFLAGS)
# What is linked, of what a file is made of: the rest are stamps (below).
OBJECTS     = $(filter %.o,$^) $(filter %.a,$^)
# No locale has a say in how numbers are written.
WRITE       = LC_ALL=C $(AWK)

.DEFAULT_GOAL := all
all: bundle rendering ##       build the complete bundle, build/linctus.lv2, and the program build/render (the default)

# ---- common-dsp: the library ----
DSP_LIB := $(BUILD)/libcommon-dsp.a
DSP_OBJ := $(patsubst %.c,$(BUILD)/obj/%.o,$(sort $(wildcard common-dsp/*.c)))

# The library of Fourier transforms: only what uses fourier.c links it. KISSFFT="-Ipath path/libkissfft-float.a" takes another
# build of it, a static one too.
KISSFFT       ?= $(shell $(PKG) --cflags --libs kissfft-float 2>/dev/null)
KISSFFT_LIBS  := -Wl,--as-needed $(filter-out -I% -D%,$(KISSFFT)) -Wl,--no-as-needed
FLAGS_fourier := $(filter -I% -D%,$(KISSFFT))
ifeq ($(strip $(KISSFFT)),)
$(BUILD)/obj/common-dsp/fourier.o: ; $(error Linctus needs kissfft: on Debian the package libkissfft-dev)
endif

$(BUILD)/obj/common-dsp/%.o: common-dsp/%.c $(BUILD)/stamps/compile
	@mkdir -p $(@D)
	$(SAY) "  CC    $@"
	$(Q)$(COMPILE) -Icommon-dsp $(FLAGS_$(*F)) -c -o $@ $<

$(DSP_LIB): $(DSP_OBJ) $(BUILD)/stamps/archive
	$(SAY) "  AR    $@"
	$(Q)rm -f $@ && $(AR) rcsD $@ $(OBJECTS)

# ---- plugins: a folder each, beside the shell they share ----
BUNDLE    := $(BUILD)/linctus.lv2
# What a plug-in's file ends in: dll for Windows.
SO        ?= so
LV2       := $(shell $(PKG) --cflags lv2 2>/dev/null)
PLUGINS   := $(filter-out shell,$(notdir $(sort $(wildcard plugins/*))))
SHELL_OBJ := $(patsubst %.c,$(BUILD)/obj/%.o,$(sort $(wildcard plugins/shell/*.c)))
PRESETS   := $(sort $(wildcard presets/*.ttl))
BUNDLE_FILES := $(PLUGINS:%=$(BUNDLE)/%.$(SO)) $(PLUGINS:%=$(BUNDLE)/%.ttl) $(PLUGINS:%=$(BUNDLE)/%-stereo.ttl) \
	$(addprefix $(BUNDLE)/,manifest.ttl linctus.ttl presets.ttl presets-stereo.ttl)

bundle: $(BUNDLE_FILES)

$(BUILD)/gen/%-ports.h: ttl/%.ttl ttl/ports.awk $(BUILD)/stamps/turtle
	@mkdir -p $(@D)
	$(SAY) "  MAKE  $@"
	$(Q)$(WRITE) -v name=$* -f ttl/ports.awk $< >$@.part && mv $@.part $@

$(BUILD)/obj/plugins/%.o: plugins/%.c $(BUILD)/stamps/compile
	@mkdir -p $(@D)
	$(SAY) "  CC    $@"
	$(Q)$(COMPILE) -Icommon-dsp -Iplugins/shell -I$(BUILD)/gen $(LV2) -c -o $@ $<

# All symbols are found when a plug-in is loaded: not at a function's first call, which is the audio thread's.
ifeq ($(SO),so)
AT_LOAD := -Wl,-z,now
endif

define PLUGIN_RULES
$(BUILD)/obj/plugins/$(1)/$(1).o: $(BUILD)/gen/$(1)-ports.h
$(BUNDLE)/$(1).$$(SO): $(BUILD)/obj/plugins/$(1)/$(1).o $(SHELL_OBJ) $(DSP_LIB) $(BUILD)/stamps/link
	@mkdir -p $$(@D)
	$(SAY) "  LINK  $$@"
	$(Q)$$(LINK) -shared $(AT_LOAD) -o $$@ $$(OBJECTS) $(KISSFFT_LIBS) -lm
endef
$(foreach p,$(PLUGINS),$(eval $(call PLUGIN_RULES,$(p))))

# Chain's processors, in order, have the values of a voice from the presets.
ROW := trim tone compressor esses plate
$(BUILD)/gen/chain-voices.h: ttl/voices.awk $(ROW:%=ttl/%.ttl) ttl/chain.ttl $(PRESETS) $(BUILD)/stamps/turtle
	@mkdir -p $(@D)
	$(SAY) "  MAKE  $@"
	$(Q)$(WRITE) -v row="$(ROW)" -f ttl/voices.awk $(ROW:%=ttl/%.ttl) ttl/chain.ttl $(PRESETS) >$@.part && mv $@.part $@
$(BUILD)/obj/plugins/chain/chain.o: $(BUILD)/gen/chain-voices.h $(ROW:%=$(BUILD)/gen/%-ports.h)

$(BUNDLE)/linctus.ttl: ttl/linctus.ttl $(BUILD)/stamps/turtle
	@mkdir -p $(@D)
	$(Q)cp $< $@

$(BUNDLE)/manifest.ttl: ttl/manifest.awk $(PRESETS) $(PLUGINS:%=ttl/%.ttl) $(BUILD)/stamps/turtle
	@mkdir -p $(@D)
	$(SAY) "  MAKE  $@"
	$(Q)$(WRITE) -v names="$(PLUGINS)" -v suffix=$(SO) -f ttl/manifest.awk $(PRESETS) >$@.part && mv $@.part $@

$(BUNDLE)/presets.ttl: $(PRESETS) $(BUILD)/stamps/turtle
	@mkdir -p $(@D)
	$(Q)cat $(PRESETS) >$@

$(BUNDLE)/presets-stereo.ttl: $(PRESETS) $(BUILD)/stamps/turtle
	@mkdir -p $(@D)
	$(Q)sed 's/<urn:linctus:\([a-z]*\)\([:>]\)/<urn:linctus:\1-stereo\2/' $(PRESETS) >$@

$(BUNDLE)/%-stereo.ttl: ttl/%.ttl ttl/variants.awk $(BUILD)/stamps/turtle
	@mkdir -p $(@D)
	$(SAY) "  MAKE  $@"
	$(Q)$(WRITE) -v stereo=1 -f ttl/variants.awk $< >$@.part && mv $@.part $@

$(BUNDLE)/%.ttl: ttl/%.ttl ttl/variants.awk $(BUILD)/stamps/turtle
	@mkdir -p $(@D)
	$(SAY) "  MAKE  $@"
	$(Q)$(WRITE) -v stereo=0 -f ttl/variants.awk $< >$@.part && mv $@.part $@

# ---- tests ----
SINGER_OBJ  := $(patsubst %.c,$(BUILD)/obj/%.o,$(filter-out %/main.c,$(sort $(wildcard tests/singer/*.c))))
HARNESS_OBJ := $(patsubst %.c,$(BUILD)/obj/%.o,$(filter-out %/render.c,$(sort $(wildcard tests/harness/*.c))))
# Where tests get speech from; without libsndfile, for another machine: tests/cross/spoken.c, which has none.
SPOKEN      ?= tests/spoken.c tests/voices.c
SUPPORT_OBJ := $(patsubst %.c,$(BUILD)/obj/%.o,$(filter-out tests/spoken.c tests/voices.c,$(sort $(wildcard tests/*.c))) $(SPOKEN))
programs     = $(patsubst %.c,$(BUILD)/%,$(wildcard tests/$(1)/test_*.c))
DSP_TESTS   := $(call programs,unit) $(call programs,published)
HOST_TESTS  := $(call programs,plugins)
TESTS       := $(DSP_TESTS) $(HOST_TESTS)
SNDFILE     := $(shell $(PKG) --cflags --libs sndfile 2>/dev/null)
TEST_CFLAGS := $(shell $(PKG) --cflags sndfile lilv-0 2>/dev/null)
LILV        := $(shell $(PKG) --cflags --libs lilv-0 2>/dev/null)
SOXR        := $(shell $(PKG) --cflags --libs soxr 2>/dev/null)
# LINCTUS_ONLY picks tests in every program (tests/only.h).
ONLY_TESTS  := -D_cmocka_run_group_tests=only_run_group
# What the harness links.
HARNESS     := $(SNDFILE) $(LILV) $(SOXR)

$(BUILD)/obj/tests/%.o: tests/%.c $(BUILD)/stamps/compile
	@mkdir -p $(@D)
	$(SAY) "  CC    $@"
	$(Q)$(COMPILE) -D_POSIX_C_SOURCE=200809L -Icommon-dsp -Iplugins/shell -Itests -Itests/harness -Itests/singer $(TEST_CFLAGS) $(ONLY_TESTS) -c -o $@ $<

# A second opinion on loudness, where it is installed.
EBUR128_LIBS := $(shell $(PKG) --cflags --libs libebur128 2>/dev/null)
LIBS_test_bs1770 = $(EBUR128_LIBS)
LIBS_test_deliver = $(EBUR128_LIBS)
LIBS_test_report = $(EBUR128_LIBS)
$(addprefix $(BUILD)/obj/tests/,published/test_bs1770.o plugins/test_deliver.o plugins/test_report.o): \
	CPPFLAGS += $(if $(EBUR128_LIBS),-DHAVE_EBUR128)

$(DSP_TESTS): $(BUILD)/tests/%: $(BUILD)/obj/tests/%.o $(SUPPORT_OBJ) $(SINGER_OBJ) $(DSP_LIB)
	@mkdir -p $(@D)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -o $@ $(OBJECTS) $(SNDFILE) -lcmocka $(KISSFFT_LIBS) -lm $(LIBS_$(@F))

$(HOST_TESTS): $(BUILD)/tests/%: $(BUILD)/obj/tests/%.o $(SUPPORT_OBJ) $(SINGER_OBJ) $(HARNESS_OBJ) \
		$(BUILD)/obj/tests/fuzz/drive.o $(BUILD)/obj/tests/fuzz/broken.o $(BUILD)/obj/plugins/shell/handover.o $(BUILD)/obj/plugins/shell/state.o $(DSP_LIB)
	@mkdir -p $(@D)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -pthread -o $@ $(OBJECTS) $(HARNESS) -lcmocka $(KISSFFT_LIBS) -lm $(LIBS_$(@F))

# The shell by itself, round a processor of the test's own.
$(BUILD)/tests/plugins/test_shell: $(patsubst %,$(BUILD)/obj/plugins/shell/%.o,shell ports audio bypass)

# The handover between threads once more, with the compiler's thread sanitizer, where that works; else a skip that says so.
THREADS ?= $(BUILD)/tests/threads/test_handover_races
HANDOVER_SOURCES := tests/plugins/test_handover.c tests/only.c plugins/shell/handover.c common-dsp/learned.c common-dsp/learned_store.c
$(BUILD)/tests/threads/test_handover_races: $(HANDOVER_SOURCES) plugins/shell/handover.h common-dsp/learned.h common-dsp/learned_store.h \
		$(BUILD)/stamps/compile
	@mkdir -p $(@D)
	$(SAY) "  LINK  $@"
	$(Q)if echo 'int main(void) { return 0; }' | $(CC) -fsanitize=thread -x c -o $@.probe - 2>/dev/null && $@.probe 2>/dev/null; then \
		$(CC) -std=c11 -O2 -g -fsanitize=thread -DROUNDS=200000 -D_POSIX_C_SOURCE=200809L $(ONLY_TESTS) $(WARN) -Icommon-dsp -Iplugins/shell \
			-pthread -o $@ $(HANDOVER_SOURCES) -lcmocka -lm; \
	else \
		printf '#!/bin/sh\necho "skipped $(@F): no thread sanitizer works here"\necho "0 passed, 0 failed, 1 skipped"\n' >$@ && chmod +x $@; \
	fi; rm -f $@.probe

# The room's loops are the compiler's to unroll: it takes half the time.
$(BUILD)/obj/tests/singer/room.o: OPT := $(OPT:-O2=-O3)

$(BUILD)/singer: $(BUILD)/obj/tests/singer/main.o $(SINGER_OBJ) $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -o $@ $(OBJECTS) $(SNDFILE) -lm

$(BUILD)/obj/tests/harness/help.o: TEST_CFLAGS += -DLINCTUS_VERSION='"$(VERSION)"'

$(BUILD)/render: $(BUILD)/obj/tests/harness/render.o $(HARNESS_OBJ) $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -pthread -o $@ $(OBJECTS) $(HARNESS) -lm

# render needs three libraries that the plug-ins do not: without them everything else is built.
RENDER := $(if $(and $(SNDFILE),$(LILV),$(SOXR)),$(BUILD)/render)
rendering: $(RENDER)
	$(if $(RENDER),,$(SAY) "  build/render was left out: it needs lilv, libsndfile and libsoxr (packages liblilv-dev, libsndfile1-dev, libsoxr-dev)")

TOOLS := $(if $(wildcard tests/singer/main.c),$(BUILD)/singer) $(if $(wildcard tests/harness/render.c),$(BUILD)/render)

tests: bundle $(TESTS) $(TOOLS)

# jalv's part needs the JACK headers; without them it is skipped, and says so.
JACK       := $(shell $(PKG) --cflags --libs jack 2>/dev/null)
HOST_TOOLS := $(addprefix $(BUILD)/,reference singer render $(if $(JACK),feed))
# Plug-ins built for a sanitizer or a counter do not load into other hosts: those targets leave the hosts out.
HOSTS ?= tests/hosts/run.sh
# Tests of the build itself: they are no programs that could be built in another way either.
BUILDING ?= tests/test_packages.sh tests/test_build.sh tests/test_evidence.sh tests/test_mutate.sh tests/test_flags.sh tests/test_install.sh tests/test_demo.sh
CHECKED   = $(TESTS) $(THREADS) tests/test_run.sh $(BUILDING) $(HOSTS)
# What takes longest begins first, so that no processor has nothing to do at the end.
LONG     := tests/test_build.sh tests/hosts/run.sh $(patsubst %,$(BUILD)/tests/plugins/test_%,invariance damage clicks render)
# The figures are compared last of all: other builds may differ in digits that do not matter.
EVIDENCE ?= tests/evidence.sh
check: tests validate $(THREADS) $(if $(HOSTS),$(HOST_TOOLS)) ##     build and run all tests; figures go to build/check-report.txt
	@rm -f $(BUILD)/check-report.txt $(BUILD)/check-passed
	@tests/sources.sh >$(BUILD)/check-passed.part && cat $(BUILD)/stamps/compile >>$(BUILD)/check-passed.part
	@LINCTUS_BUILD=$(BUILD) LINCTUS_REPORT=$(BUILD)/check-report.txt LINCTUS_TIMES=$(BUILD)/check-times.txt \
		LINCTUS_LAST="tests/limits.sh $(EVIDENCE)" JOBS=$(JOBS) CC="$(CC)" \
		tests/run.sh $(JOBS) $(filter $(LONG),$(CHECKED)) $(filter-out $(LONG),$(CHECKED))
	@mv $(BUILD)/check-passed.part $(BUILD)/check-passed

SANITIZE := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer

sanitize: ##  all tests under the address and undefined-behaviour sanitizers
	+LSAN_OPTIONS=suppressions=$(CURDIR)/tests/lsan.supp:print_suppressions=0 \
		$(MAKE) BUILD=$(BUILD)/sanitize OPT="$(SANITIZE)" HOSTS= THREADS= BUILDING= EVIDENCE= check

# The programs that `make check` was quickest with, up to this much of its CPU time together, in seconds.
QUICK ?= 100
sanitize-quick: ## the quickest of them, after a `make check` that has measured which those are
	+@LSAN_OPTIONS=suppressions=$(CURDIR)/tests/lsan.supp:print_suppressions=0 MAKE="$(MAKE)" \
		tests/sanitize_quick.sh $(BUILD) $(QUICK) OPT="$(SANITIZE)"

# Everything that needs the library alone, for tests/cross.sh.
unit-tests: $(DSP_TESTS)

# How many mutants, and which: the same seed draws the same ones. ONLY is a pattern of "file:line: from -> to".
N    ?= 60
SEED ?=
ONLY ?=
mutate: ##    break N places, drawn by SEED, one at a time, and see that the tests notice
	@N=$(N) SEED=$(SEED) ONLY='$(ONLY)' JOBS=$(JOBS) BUILD=$(BUILD) perl tests/mutate/mutate.pl

COVERAGE := $(BUILD)/coverage
coverage: ##  line and branch coverage of common-dsp and plugins by all tests
	find $(COVERAGE) -name '*.gcda' -delete 2>/dev/null || true
	+$(MAKE) BUILD=$(COVERAGE) OPT="-O1 -fno-inline -g --coverage -DCOUNTED" HOSTS= THREADS= BUILDING= EVIDENCE= check
	tests/coverage.sh $(COVERAGE)

FUZZ         := $(BUILD)/fuzz
# It goes on until all three are reached: CPU seconds, calls of run(), frames.
FUZZ_SECONDS ?= 600
FUZZ_RUNS    ?= 0
FUZZ_FRAMES  ?= 0
# trace-cmp calls out at every comparison; nothing here compares with a magic number that has to be guessed.
FUZZ_FLAGS   := -O2 -g -fsanitize=address,undefined,fuzzer-no-link -fno-sanitize-coverage=trace-cmp \
	-fno-sanitize-recover=all
FUZZ_RENDER_SECONDS ?= 300
FUZZ_RUN = LINCTUS_BUNDLE=$(FUZZ)/linctus.lv2 LINCTUS_FUZZ_RUNS=$(FUZZ_RUNS) LINCTUS_FUZZ_FRAMES=$(FUZZ_FRAMES)
FUZZ_OPT = -rss_limit_mb=4096 -artifact_prefix=$(FUZZ)/found/
fuzz: ##      coverage-guided fuzzing of every plug-in for FUZZ_SECONDS of CPU time, then of render (needs clang)
	+$(MAKE) BUILD=$(FUZZ) CC=clang OPT="$(FUZZ_FLAGS)" bundle $(FUZZ)/fuzz_plugins $(FUZZ)/fuzz_render $(FUZZ)/seeds
	mkdir -p $(FUZZ)/cases $(FUZZ)/case-seeds $(FUZZ)/sounds $(FUZZ)/sound-seeds $(FUZZ)/found
	$(FUZZ)/seeds $(FUZZ)/case-seeds $(FUZZ)/sound-seeds
	$(FUZZ_RUN) LINCTUS_FUZZ_SECONDS=$(FUZZ_SECONDS) $(FUZZ)/fuzz_plugins -max_len=600 -timeout=60 $(FUZZ_OPT) \
		$(FUZZ)/cases $(FUZZ)/case-seeds
	$(FUZZ_RUN) LINCTUS_FUZZ_SECONDS=$(FUZZ_RENDER_SECONDS) $(FUZZ)/fuzz_render -max_len=4096 -timeout=120 $(FUZZ_OPT) \
		$(FUZZ)/sounds $(FUZZ)/sound-seeds

$(BUILD)/fuzz_render: $(BUILD)/obj/tests/fuzz/fuzz_render.o $(BUILD)/obj/tests/fuzz/broken.o $(HARNESS_OBJ) $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -pthread -fsanitize=fuzzer -rdynamic -o $@ $(OBJECTS) $(HARNESS) -lm

$(BUILD)/fuzz_plugins: $(BUILD)/obj/tests/fuzz/fuzz_plugins.o $(BUILD)/obj/tests/fuzz/drive.o $(HARNESS_OBJ) $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -pthread -fsanitize=fuzzer -rdynamic -o $@ $(OBJECTS) $(HARNESS) -lm

$(BUILD)/seeds: $(BUILD)/obj/tests/fuzz/seeds.o $(BUILD)/obj/tests/fuzz/drive.o $(BUILD)/obj/tests/fuzz/broken.o $(HARNESS_OBJ) $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -pthread -rdynamic -o $@ $(OBJECTS) $(HARNESS) -lm

HOURS ?= 24
VOICES := $(addprefix $(BUILD)/tests/unit/,test_finder test_esses_voices test_check_voices test_hum_voices test_pop_taming test_noise_floor_voices \
	test_rests_voices test_ticks_voices test_phrase_voices test_booth_voices test_phrase_ride_voices) \
	$(addprefix $(BUILD)/tests/plugins/,test_whole test_like)
voices: $(VOICES) bundle $(BUILD)/render ##     the finder, Esses, Check, the repairs and --like on recorded voices, more of them than in make check: a table per voice
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=all $(BUILD)/tests/unit/test_finder
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=judge $(BUILD)/tests/unit/test_esses_voices
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=all $(BUILD)/tests/unit/test_check_voices
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=all $(BUILD)/tests/unit/test_hum_voices
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=all $(BUILD)/tests/unit/test_pop_taming
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=judge $(BUILD)/tests/unit/test_rests_voices
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=judge $(BUILD)/tests/unit/test_ticks_voices
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=judge $(BUILD)/tests/unit/test_phrase_voices
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=judge $(BUILD)/tests/unit/test_phrase_ride_voices
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=judge $(BUILD)/tests/plugins/test_whole
	LINCTUS_BUILD=$(BUILD) $(BUILD)/tests/unit/test_noise_floor_voices
	LINCTUS_BUILD=$(BUILD) LINCTUS_ONLY=recorded LINCTUS_TAKES=3 $(BUILD)/tests/plugins/test_like
	LINCTUS_BUILD=$(BUILD) LINCTUS_VOICES=all $(BUILD)/tests/unit/test_booth_voices

endurance: bundle $(BUILD)/tests/plugins/test_endurance ## the whole chain for HOURS simulated hours: nothing drifts, no memory grows
	LINCTUS_BUILD=$(BUILD) LINCTUS_HOURS=$(HOURS) $(BUILD)/tests/plugins/test_endurance

bench: bundle $(BUILD)/bench $(BUILD)/beside $(BUILD)/singer $(BUILD)/render ##     CPU time and instructions of every plug-in, beside general tools: build/bench.txt
	+@$(MAKE) BUILD=$(BUILD)/narrow CPPFLAGS="$(CPPFLAGS) -DWIDE_OFF" bundle
	@tests/bench/run.sh $(BUILD) $(BUILD)/narrow
	@tests/bench/beside.sh $(BUILD)

bench-page: ## write the tables of the last make bench into tests/BENCH.md
	@tests/bench/page.sh $(BUILD)/bench.txt

# Chooses the seeds of the plate's tables: see the source.
RATE  ?= 48000
FIRST ?= 1
LAST  ?= 300
plate-tables: $(BUILD)/plate_tables ## draws the plate's tables for RATE from seeds FIRST to LAST, measures them, prints the best
	$(BUILD)/plate_tables $(RATE) $(FIRST) $(LAST)

$(BUILD)/plate_tables: $(BUILD)/obj/tests/plate_tables/search.o $(BUILD)/obj/tests/ambience.o $(BUILD)/obj/tests/response.o $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -o $@ $(OBJECTS) -lcmocka -lm

# Where valgrind's header is, callgrind counts.
$(BUILD)/obj/tests/bench/measure.o: CPPFLAGS += $(if $(wildcard /usr/include/valgrind/callgrind.h),-DHAVE_CALLGRIND)

$(BUILD)/bench: $(patsubst %.c,$(BUILD)/obj/%.o,$(sort $(wildcard tests/bench/*.c))) $(HARNESS_OBJ) $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -pthread -o $@ $(OBJECTS) $(HARNESS) -lm

# The repairs beside general tools: what they make of the same takes.
$(BUILD)/beside: $(patsubst %.c,$(BUILD)/obj/%.o,$(sort $(wildcard tests/bench/beside/*.c)) tests/bench/measure.c tests/bench/work.c) \
		$(SUPPORT_OBJ) $(SINGER_OBJ) $(HARNESS_OBJ) $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -o $@ $(OBJECTS) $(HARNESS) -lcmocka $(KISSFFT_LIBS) -lm

hosts: bundle $(HOST_TOOLS) ##     run every plug-in in real hosts and compare the audio
	@JOBS=$(JOBS) tests/hosts/run.sh $(BUILD)

$(BUILD)/reference: $(BUILD)/obj/tests/hosts/reference.o $(HARNESS_OBJ) $(DSP_LIB)
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -pthread -o $@ $(OBJECTS) $(HARNESS) -lm

$(BUILD)/feed: $(BUILD)/obj/tests/hosts/feed.o
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -o $@ $(OBJECTS) $(SNDFILE) $(JACK)

cross: ##     unit tests and every plug-in with gcc, clang and musl, for 32-bit x86, ARM, big-endian; and under Windows
	@CROSS=$(BUILD)/cross MAKE="$(MAKE)" JOBS=$(JOBS) tests/cross.sh

# A plug-in's library by itself, without lilv: see the source.
$(BUILD)/load: $(BUILD)/obj/tests/cross/load.o
	$(SAY) "  LINK  $@"
	$(Q)$(LINK) -o $@ $(OBJECTS) $(LOAD_LIBS) -lm

validate: bundle ##  check the bundle with lv2_validate and sord_validate; no warning is let pass
	@tests/validate.sh $(BUNDLE)
	@tests/controls.sh check

lint: bundle ##      clang-format, clang-tidy, cppcheck and gcc -fanalyzer, all clean
	@JOBS=$(JOBS) tests/lint.sh $(BUILD)

valgrind: tests ##  memcheck over the plug-in tests and the quick unit tests
	@JOBS=$(JOBS) tests/valgrind.sh $(BUILD)

controls: ##  write ttl/CONTROLS.md from the descriptors
	@tests/controls.sh write

evidence: ##  write the figures of the last make check into tests/EVIDENCE.md
	@tests/evidence.sh write $(BUILD)/check-report.txt

# ---- demo ----
# As they were typed: neither make nor the shell finds anything to expand in a name.
demo: export LINCTUS_VOCAL := $(value VOCAL)
demo: export LINCTUS_VOICE := $(value VOICE)
demo: bundle $(BUILD)/singer $(BUILD)/render ##      render a faulty take, or yours: make demo VOCAL=take.wav VOICE=mezzo
	@tests/harness/demo.sh "$(BUILD)" "$$LINCTUS_VOCAL" "$$LINCTUS_VOICE"

picture: bundle $(BUILD)/singer $(BUILD)/render ##   draw README's picture, tests/harness/demo.svg, anew from the demo's report
	@LINCTUS_BUILD=$(BUILD) tests/test_demo.sh write

# ---- archives ----
DIST ?= $(BUILD)/dist
dist: bundle ##      a source archive and one of the bundle, in build/dist: equal to the bit wherever they are made
	@SOURCE_DATE_EPOCH=$(SOURCE_DATE_EPOCH) tests/dist.sh $(DIST) linctus-$(VERSION) "$$($(CC) -dumpmachine)" \
		$(BUNDLE) $(notdir $(BUNDLE_FILES))

# ---- install ----
install: bundle ##   copy the bundle to LV2DIR (your own ~/.lv2, or PREFIX/lib/lv2)
	install -d "$(DESTDIR)$(LV2DIR)/linctus.lv2"
	install -m 644 $(filter %.ttl,$(BUNDLE_FILES)) "$(DESTDIR)$(LV2DIR)/linctus.lv2"
	install -m 755 $(filter %.$(SO),$(BUNDLE_FILES)) "$(DESTDIR)$(LV2DIR)/linctus.lv2"

# The program under a name that nothing else has, with its page of the manual and a completion for bash, both made from
# what its --help prints. It finds the bundle that `make install` put under the same PREFIX.
$(BUILD)/linctus-render.1: $(BUILD)/render tests/harness/man.awk
	$(SAY) "  MAN   $@"
	$(Q)$(BUILD)/render --help | $(WRITE) -v name=linctus-render -v version=$(VERSION) -f tests/harness/man.awk >$@.part
	$(Q)mv $@.part $@

$(BUILD)/linctus-render.bash: $(BUILD)/render tests/harness/completion.bash
	$(SAY) "  TEXT  $@"
	$(Q)options=$$($(BUILD)/render --help | LC_ALL=C sed -n 's/^  \(-[^ ]*\).*/\1/p' | tr '\n' ' ') && \
		sed "s/@NAME@/linctus-render/; s/@OPTIONS@/$${options% }/" tests/harness/completion.bash >$@.part
	$(Q)mv $@.part $@

install-render: install $(BUILD)/linctus-render.1 $(BUILD)/linctus-render.bash ## the same under PREFIX, with the program linctus-render, its manual and completion
	$(if $(PREFIX),,$(error make install-render needs to know where: PREFIX=/usr/local, or PREFIX=$(HOME)/.local))
	install -d "$(DESTDIR)$(PREFIX)/bin" "$(DESTDIR)$(PREFIX)/share/man/man1" \
		"$(DESTDIR)$(PREFIX)/share/bash-completion/completions"
	install -m 755 $(BUILD)/render "$(DESTDIR)$(PREFIX)/bin/linctus-render"
	install -m 644 $(BUILD)/linctus-render.1 "$(DESTDIR)$(PREFIX)/share/man/man1"
	install -m 644 $(BUILD)/linctus-render.bash "$(DESTDIR)$(PREFIX)/share/bash-completion/completions/linctus-render"

uninstall: ## remove it again, and what install-render put under PREFIX
	rm -rf "$(DESTDIR)$(LV2DIR)/linctus.lv2"
	$(if $(PREFIX),rm -f "$(DESTDIR)$(PREFIX)/bin/linctus-render" "$(DESTDIR)$(PREFIX)/share/man/man1/linctus-render.1" \
		"$(DESTDIR)$(PREFIX)/share/bash-completion/completions/linctus-render")

clean: ##     remove everything built
	rm -rf $(BUILD)

help: ##      this list
	@sed -n 's/^\([a-z-]*\):[^#]*## *\(.*\)/  make \1\t\2/p' $(MAKEFILE_LIST) | expand -t 24

# ---- stamps ----
# A stamp holds what commands of its kind are made of besides files: which compiler and flags, which libraries, the
# list of what is put together. It is written where that has changed, or where this Makefile has, and what such commands
# make depends on it. So another CC= or CFLAGS= builds anew what it has a part in, and so does a source file that came
# or went.
STAMP_compile := $(COMPILE) $(KISSFFT) $(LV2) $(TEST_CFLAGS) $(EBUR128_LIBS)
STAMP_archive := $(AR) $(DSP_OBJ)
STAMP_link    := $(LINK) $(KISSFFT) $(HARNESS) $(EBUR128_LIBS) $(JACK) $(LOAD_LIBS) \
	$(SHELL_OBJ) $(SINGER_OBJ) $(HARNESS_OBJ) $(SUPPORT_OBJ)
STAMP_turtle  := $(AWK) $(SO) $(PLUGINS) $(PRESETS)
differ         = $(subst x$(1),,x$(2))$(subst x$(2),,x$(1))

define STAMP_RULE
$(BUILD)/stamps/$(1): Makefile $(if $(call differ,$(strip $(STAMP_$(1))),$(strip $(file <$(BUILD)/stamps/$(1)))),always)
	@mkdir -p $$(@D)
	@printf '%s\n' '$$(subst ','\'',$$(strip $$(STAMP_$(1))))' >$$@
endef
$(foreach kind,compile archive link turtle,$(eval $(call STAMP_RULE,$(kind))))

$(DSP_TESTS) $(HOST_TESTS) $(addprefix $(BUILD)/,singer render bench beside plate_tables reference feed load seeds fuzz_plugins fuzz_render): \
	$(BUILD)/stamps/link

.PHONY: always all bundle demo picture rendering dist sanitize-quick tests unit-tests check sanitize mutate coverage fuzz voices endurance plate-tables bench bench-page hosts cross lint valgrind validate controls evidence install install-render uninstall clean help
.SECONDARY:
.DELETE_ON_ERROR:
-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)
