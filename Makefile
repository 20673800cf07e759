# Linctus: builds the LV2 bundle, its tests and its demo. `make help` lists what it can do.

# ---- Options: set any of them on the command line ----
CC       ?= cc
AR       ?= ar
PKG      ?= pkg-config
OPT      ?= -O2 -g
WARN     ?= -Wall -Wextra -Wpedantic -Wconversion -Wshadow
WERROR   ?=
PREFIX   ?=
DESTDIR  ?=
# Where `make install` puts the bundle: the user's own folder, or PREFIX/lib/lv2 where PREFIX is given.
LV2DIR   ?= $(if $(PREFIX),$(PREFIX)/lib/lv2,$(HOME)/.lv2)
BUILD    ?= build
JOBS     ?= $(shell nproc 2>/dev/null || echo 2)

# -ffp-contract=off: vector lanes and remainders do identical arithmetic, on every machine.
BASE_FLAGS := -std=c11 -ffp-contract=off -fvisibility=hidden -fPIC -MMD -MP
ALL_CFLAGS  = $(BASE_FLAGS) $(WARN) $(WERROR) $(OPT) $(CPPFLAGS) $(CFLAGS)
COMPILE     = $(CC) $(ALL_CFLAGS)

# ---- common-dsp: the library ----
DSP_SRC := $(wildcard common-dsp/*.c)
DSP_OBJ := $(DSP_SRC:%.c=$(BUILD)/obj/%.o)
DSP_LIB := $(BUILD)/libcommon-dsp.a

# ---- tests that need the library alone ----
SINGER_SRC := $(filter-out tests/singer/main.c,$(wildcard tests/singer/*.c))
SINGER_OBJ := $(SINGER_SRC:%.c=$(BUILD)/obj/%.o)
UNIT_TESTS := $(patsubst tests/unit/%.c,$(BUILD)/tests/unit/%,$(wildcard tests/unit/test_*.c))

.DEFAULT_GOAL := all
all: $(DSP_LIB)

$(DSP_LIB): $(DSP_OBJ)
	rm -f $@ && $(AR) rcs $@ $^

$(BUILD)/obj/common-dsp/%.o: common-dsp/%.c
	@mkdir -p $(@D)
	$(COMPILE) -Icommon-dsp -c -o $@ $<

TEST_LIBS = $(shell $(PKG) --cflags --libs sndfile) -lcmocka -lm

$(BUILD)/obj/tests/%.o: tests/%.c
	@mkdir -p $(@D)
	$(COMPILE) -D_POSIX_C_SOURCE=200809L -Icommon-dsp -Itests $(shell $(PKG) --cflags sndfile lilv-0) -c -o $@ $<

$(BUILD)/tests/unit/%: $(BUILD)/obj/tests/unit/%.o $(BUILD)/obj/tests/figure.o $(BUILD)/obj/tests/spoken.o $(SINGER_OBJ) $(DSP_LIB)
	@mkdir -p $(@D)
	$(COMPILE) -o $@ $^ $(TEST_LIBS)

unit-tests: $(UNIT_TESTS)

clean:
	rm -rf $(BUILD)

.PHONY: all unit-tests clean
.SECONDARY:
-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)
