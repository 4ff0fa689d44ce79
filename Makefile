# afterset: a controller for a short interval block on a home bike.
#
#   make demo     install what is missing, build, ride the virtual bike
#   make          build/release/afterset and afterset-radio
#   make test     every test; sanitizers and a guest kernel included
#   make test-vm  of these the ones that need a Bluetooth or USB stack, in that guest under QEMU
#   make prove    contracts, and that no run-time error is possible, by Frama-C
#   make prove-planted  what Eva says of faults planted for it
#   make fuzz     search every reader of foreign octets for input that breaks it; TIME=60
#   make coverage lines and branches that the unit tests reach
#   make mutants  what the tests make of the safety step and control with one operator changed
#   make lint     compilers, analysers, format, layers, purity
#   make bench    speed and memory, as ratios within one run
#   make bench-vm the same of links over the air, in the guest
#   make install  DESTDIR= PREFIX=/usr/local
#   make deps     install the Debian packages named below
#
# MODE=release|debug|asan|cov|fuzz picks flags and a folder of its own under build/.  V=1 shows commands.

MODE    ?= release
PREFIX  ?= /usr/local
OUT     := build/$(MODE)
PROGRAM := $(OUT)/afterset
RADIO   := $(OUT)/afterset-radio
Q       := $(if $(V),,@)
say      = @printf '  %-7s %s\n' '$(1)' '$(2)'

VERSION := 0.1.0

# ---- what is needed ---------------------------------------------------------------------------

PACKAGES_BUILD := gcc make pkg-config libsqlite3-dev libjansson-dev zlib1g-dev liblzma-dev libbluetooth-dev \
                  libsystemd-dev libncurses-dev libasound2-dev libusb-1.0-0-dev
PACKAGES_INSTALL := $(PACKAGES_BUILD) libcap2-bin
PACKAGES_TEST  := $(PACKAGES_BUILD) libcmocka-dev python3 sqlite3 tmux gpsbabel chromium umockdev libumockdev-dev
PACKAGES_LINT  := $(PACKAGES_TEST) clang clang-tidy clang-format cppcheck shellcheck mandoc
PACKAGES_PROVE := frama-c-base why3 z3 cvc4 python3
PACKAGES_FUZZ  := $(PACKAGES_TEST) clang libclang-rt-14-dev
PACKAGES_COVERAGE := $(PACKAGES_TEST) gcovr
LIBRARIES      := sqlite3 jansson zlib liblzma libsystemd bluez ncursesw alsa libusb-1.0

# ---- flags ------------------------------------------------------------------------------------

WARNINGS := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wswitch-enum -Wstrict-prototypes \
            -Wmissing-prototypes -Wcast-qual -Wformat=2 -Wundef -Wvla -Wwrite-strings
MODE_FLAGS_release := -O2 -g -D_FORTIFY_SOURCE=2 -fstack-protector-strong
MODE_FLAGS_debug   := -O1 -g3
MODE_FLAGS_asan    := -O1 -g3 -fno-omit-frame-pointer -fsanitize=address,undefined \
                      -fno-sanitize-recover=all
MODE_FLAGS_cov     := -O0 -g3 --coverage
MODE_FLAGS_fuzz    := -O1 -g3 -fno-omit-frame-pointer -fno-sanitize-recover=all \
                      -fsanitize=fuzzer-no-link,address,undefined
MODE_FLAGS         := $(or $(MODE_FLAGS_$(MODE)),$(error MODE is release, debug, asan, cov or fuzz, not '$(MODE)'))

DEFINES     := -D_GNU_SOURCE -DAFTERSET_VERSION='"$(VERSION)"'
LIB_CFLAGS   = $(shell pkg-config --cflags $(LIBRARIES) 2>/dev/null)
LIB_LIBS     = $(shell pkg-config --libs $(LIBRARIES) 2>/dev/null) -lm
ALL_CFLAGS   = -std=c11 $(DEFINES) -Iinclude -Isrc -I$(OUT) $(WARNINGS) $(if $(WERROR),-Werror) \
               $(MODE_FLAGS) $(LIB_CFLAGS) $(CFLAGS)
ALL_LDFLAGS  = $(MODE_FLAGS) -Wl,--as-needed $(LDFLAGS)

# ---- files ------------------------------------------------------------------------------------

SOURCES  := $(sort $(wildcard src/*/*.c))
MAINS    := src/app/main.c src/app/main_radio.c
OBJECTS  := $(SOURCES:%.c=$(OUT)/%.o)
LIBRARY  := $(OUT)/libafterset.a
UNITS    := $(patsubst %.c,$(OUT)/%,$(sort $(wildcard tests/unit/*/test_*.c)))
SUPPORT  := $(OUT)/libsupport.a
SUPPORTS := $(patsubst %.c,$(OUT)/%.o,$(sort $(wildcard tests/support/*.c)))
# What has umockdev's devices on USB; its preload library is linked in, or the sanitizer would not come first.
MOCK_RUN := $(OUT)/tests/e2e/lib/usb_mocked
MOCKED   := $(addprefix $(OUT)/tests/unit/,io/test_link_usb io/test_link_usb_halt \
            app/test_letting_go_trainer) $(MOCK_RUN)
MOCKER   := $(OUT)/tests/support/usb_mock.o
MOCK_CFLAGS := $(patsubst -I%,-isystem %,$(shell pkg-config --cflags umockdev-1.0 2>/dev/null))
MOCK_LIBS := -Wl,--push-state,--no-as-needed -lumockdev-preload -Wl,--pop-state \
             $(shell pkg-config --libs umockdev-1.0 2>/dev/null)
ifeq ($(MOCK_CFLAGS),)
UNITS    := $(filter-out $(MOCKED),$(UNITS))
SUPPORTS := $(filter-out $(MOCKER),$(SUPPORTS))
MOCK_RUN :=
endif
BENCHES  := $(patsubst %.c,$(OUT)/%,$(sort $(wildcard tests/bench/bench_*.c)))
BENCHED  := $(OUT)/libbench.a
BENCHEDS := $(patsubst %.c,$(OUT)/%.o,$(filter-out tests/bench/bench_%,$(wildcard tests/bench/*.c)))
FUZZES   := $(patsubst %.c,$(OUT)/%,$(sort $(wildcard tests/fuzz/fuzz_*.c)))
FUZZED   := $(OUT)/tests/fuzz/common.o
JOURNEYS := $(sort $(wildcard tests/e2e/test_*))
SAFETY_TESTS := $(addprefix tests/unit/ride/test_,\
                safety safety_states holds control letting_go ride invariants)
PURE     := base wire body ride text

# ---- build ------------------------------------------------------------------------------------

.PHONY: all demo test test-vm bench-vm vm-programs planted mutants prove prove-planted lint bench install clean \
        deps unit of-release of-asan journeys format FORCE replayed fuzz searches coverage
.DELETE_ON_ERROR:
.SECONDARY:

all: $(PROGRAM) $(RADIO)

$(PROGRAM): $(OUT)/src/app/main.o $(LIBRARY)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(LIB_LIBS)

# It may have a capability, so it is linked with nothing but the C library.
$(RADIO): $(OUT)/src/app/main_radio.o $(LIBRARY)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^

$(LIBRARY): $(filter-out $(MAINS:%.c=$(OUT)/%.o),$(OBJECTS))
	$(call say,AR,$@)
	$(Q)rm -f $@ && $(AR) rcs $@ $^

# An archive, so that a test is linked with what it uses and may bring its own of the rest.
$(SUPPORT): $(SUPPORTS)
	$(call say,AR,$@)
	$(Q)rm -f $@ && $(AR) rcs $@ $^

$(BENCHED): $(BENCHEDS)
	$(call say,AR,$@)
	$(Q)rm -f $@ && $(AR) rcs $@ $^

$(OUT)/tests/%: $(OUT)/tests/%.o $(SUPPORT) $(LIBRARY)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(LIB_LIBS) -lcmocka

$(MOCKED): private LIB_LIBS += $(MOCK_LIBS)
$(MOCKER): private LIB_CFLAGS += $(MOCK_CFLAGS)

$(BENCHES): %: %.o $(BENCHED) $(SUPPORT) $(LIBRARY)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(LIB_LIBS) -lcmocka

# Searched by libFuzzer's own main() where that is wanted, else replayed by ours.
$(FUZZES): %: %.o $(FUZZED) $(if $(filter fuzz,$(MODE)),,$(OUT)/tests/fuzz/replay.o) $(SUPPORT) $(LIBRARY)
	$(call say,LINK,$@)
	$(Q)$(CC) $(ALL_LDFLAGS) $(if $(filter fuzz,$(MODE)),-fsanitize=fuzzer) -o $@ $^ $(LIB_LIBS) -lcmocka

$(OUT)/%.o: %.c $(OUT)/flags
	$(call say,CC,$<)
	$(Q)mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CFLAGS) -Itests -MMD -MP -c -o $@ $<

# The built-in machine and rider are the text of their files, without comments, as a C string.
EMBEDDED := $(OUT)/embedded/power.machine.h $(OUT)/embedded/steady.rider.h

$(OUT)/src/io/virtual_default.o: $(EMBEDDED)
$(OUT)/embedded/%.h: tests/machines/%
	$(embed)
$(OUT)/embedded/%.h: tests/riders/%
	$(embed)
define embed
	$(call say,EMBED,$<)
	$(Q)mkdir -p $(@D)
	$(Q){ echo 'static const char $(subst .,_,$(<F))[] ='; \
	    sed -e 's/ *#.*//' -e '/^$$/d' -e 's/["\\]/\\&/g' -e 's/.*/"&\\n"/' $<; echo ';'; } > $@
endef

# Rewritten only when the flags change, so that a changed flag rebuilds everything.
$(OUT)/flags: FORCE
	@mkdir -p $(@D); echo '$(CC) $(ALL_CFLAGS) $(ALL_LDFLAGS)' | cmp -s - $@ || \
	    echo '$(CC) $(ALL_CFLAGS) $(ALL_LDFLAGS)' > $@

-include $(shell find $(OUT) -name '*.d' 2>/dev/null)

# ---- test -------------------------------------------------------------------------------------

# A job for each core, unless it was said how many; what one says stays together.
AT_ONCE = $(if $(filter -j%,$(MAKEFLAGS)),,-j$(shell nproc)) --output-sync

test:
	@tests/tools/install_packages.sh $(PACKAGES_TEST)
	$(Q)$(MAKE) --no-print-directory $(AT_ONCE) of-release of-asan
	$(Q)$(MAKE) --no-print-directory MODE=release journeys
	$(Q)$(MAKE) --no-print-directory test-vm

# The longest test of all runs beside everything else: both builds share the cores out.
of-release:
	$(Q)$(MAKE) --no-print-directory MODE=release all unit planted
of-asan:
	$(Q)$(MAKE) --no-print-directory MODE=asan all unit replayed

unit: $(UNITS:%=%.passed)
	$(if $(MOCK_CFLAGS),,@echo "  SKIPPED $(MOCKED): there is no umockdev (packages umockdev, libumockdev-dev)")

%.passed: % FORCE
	$(Q)tests/tools/run_unit.sh $*

# What was ever found by a search, and what comes of changing it, through the same programs.
replayed: $(FUZZES:%=%.replayed)

%.replayed: % FORCE
	$(call say,REPLAY,$*)
	$(Q)$* tests/fuzz/corpus/$(patsubst fuzz_%,%,$(notdir $*))/* > $*.log 2>&1 || { tail -40 $*.log; exit 1; }

TIME ?= 60
fuzz:
	@tests/tools/install_packages.sh $(PACKAGES_FUZZ)
	$(Q)$(MAKE) --no-print-directory MODE=fuzz CC=clang searches
	$(Q)tests/tools/fuzz.sh build/fuzz/tests/fuzz $(TIME)

searches: $(FUZZES)

COVERED = $(foreach room,$(PURE),$(patsubst %.c,build/cov/%,$(wildcard tests/unit/$(room)/test_*.c)))
coverage:
	@tests/tools/install_packages.sh $(PACKAGES_COVERAGE)
	$(Q)find build/cov -name '*.gcda' -delete 2> /dev/null || true
	$(Q)$(MAKE) --no-print-directory MODE=cov unit UNITS='$(COVERED)'
	$(Q)tests/tools/coverage.sh build/cov $(PURE)

journeys: $(PROGRAM) $(MOCK_RUN)
	$(Q)tests/tools/run_journeys.sh build $(JOURNEYS)

# Faults planted in the safety step and around it, each to be caught by the rule that it breaks.
planted: $(SAFETY_TESTS:%=$(OUT)/%)
	$(call say,PLANT,src/ride)
	$(Q)tests/mutation/mutate.py planted $(OUT)

mutants: $(SAFETY_TESTS:%=$(OUT)/%)
	$(Q)tests/mutation/mutate.py operators $(OUT)

PROVED := src/base/bytes.c src/ride/safety.c
prove:
	@tests/tools/install_packages.sh $(PACKAGES_PROVE)
	$(Q)tests/tools/prove.sh $(PROVED)
	$(Q)tests/prove/loops.py --variants $(PROVED)
	$(Q)tests/prove/eva.py --proved $(PROVED)
	$(Q)tests/prove/sight.py

# Faults planted in the sources, one for each driver of Eva, which must raise an alarm.
prove-planted:
	@tests/tools/install_packages.sh $(PACKAGES_PROVE)
	$(Q)tests/prove/planted.py

test-vm: vm-programs
	$(Q)tests/vm/run

bench-vm: vm-programs
	$(Q)tests/vm/run --script tests/vm/bench

vm-programs:
	$(Q)$(MAKE) --no-print-directory MODE=asan all
	$(Q)$(MAKE) --no-print-directory MODE=release all build/release/tests/vm/bluez_peer \
	    build/release/tests/vm/bluez_client

# ---- lint, bench, the rest --------------------------------------------------------------------

lint:
	@tests/tools/install_packages.sh $(PACKAGES_LINT)
	$(Q)PURE='$(PURE)' VERSION='$(VERSION)' LIB_CFLAGS='$(LIB_CFLAGS) $(MOCK_CFLAGS)' WARNINGS='$(WARNINGS)' \
	    MAKE='$(MAKE)' tests/tools/lint.sh

format:
	clang-format -i $$(git ls-files '*.c' '*.h')

bench:
	@tests/tools/install_packages.sh $(PACKAGES_TEST)
	$(Q)$(MAKE) --no-print-directory MODE=release all benches
	$(Q)tests/bench/run.sh build/release

.PHONY: benches
benches: $(BENCHES)

demo:
	@tests/tools/install_packages.sh $(PACKAGES_BUILD)
	$(Q)$(MAKE) --no-print-directory MODE=release all
	build/release/afterset ride profiles/20-10x8.profile --bike virtual --rate 20

deps:
	@tests/tools/install_packages.sh $(PACKAGES_LINT)

# The small program alone gets the capability; afterset scan --help says why.
CAPABILITY = cap_net_admin+ep $(PREFIX)/libexec/afterset-radio

install:
	@[ -n '$(DESTDIR)' ] || tests/tools/install_packages.sh $(PACKAGES_INSTALL)
	$(Q)$(MAKE) --no-print-directory MODE=$(MODE) all
	install -D -m 755 $(PROGRAM) $(DESTDIR)$(PREFIX)/bin/afterset
	install -D -m 755 $(RADIO) $(DESTDIR)$(PREFIX)/libexec/afterset-radio
	@[ -n '$(DESTDIR)' ] || setcap $(CAPABILITY) || echo 'to find bikes without bluetoothd: sudo setcap $(CAPABILITY)'
	install -d $(DESTDIR)$(PREFIX)/share/afterset/profiles
	install -m 644 $(wildcard profiles/*.profile) $(DESTDIR)$(PREFIX)/share/afterset/profiles
	install -D -m 644 src/man/afterset.1 $(DESTDIR)$(PREFIX)/share/man/man1/afterset.1
	install -D -m 644 src/man/afterset-profile.5 $(DESTDIR)$(PREFIX)/share/man/man5/afterset-profile.5
	install -D -m 644 udev/70-afterset.rules $(DESTDIR)/lib/udev/rules.d/70-afterset.rules

clean:
	rm -rf build
