# Everything `make check` runs, and its longer and sanitised sisters.

# Unit and fault tests run under ASan+UBSan, those with threads again under TSan, the system tests
# against the debug build, and each fuzz target for a slice over its corpus.
THREADED := $(wildcard tests/unit/test_*thread*.c tests/unit/test_queue.c tests/unit/test_control*.c tests/unit/test_web*.c)
PEERS    := $(sort $(wildcard tests/peers/test_*.py))
SYSTEM   := $(sort $(wildcard tests/system/test_*.py))
FUZZ_BIN := $(patsubst %.c,build/fuzz/%,$(FUZZ))

# Rounds and seconds of the campaigns; the programs' own defaults are the short ones.
FUZZ_SLICE_S ?= 10
LONG_ROUNDS  ?= 20000
LONG_EXCHANGES ?= 1000000
LONG_FUZZ_S  ?= 300

check: deps-test
	$(MAKE) VARIANT=debug programs build/debug/trivet-kitchen build/debug/trivet-past
	$(MAKE) VARIANT=asan tests programs
	$(MAKE) VARIANT=tsan $(patsubst %.c,build/tsan/%,$(THREADED))
	$(MAKE) VARIANT=fuzz CC=clang fuzz-programs
	$(PYTHON) tests/run.py $(patsubst %.c,build/asan/%,$(UNIT)) $(patsubst %.c,build/tsan/%,$(THREADED)) \
	    $(PEERS) $(FUZZ_BIN:%=%:$(FUZZ_SLICE_S)) $(SYSTEM)

check-long: deps-test
	$(MAKE) VARIANT=debug programs build/debug/trivet-kitchen
	$(MAKE) VARIANT=asan tests
	$(MAKE) VARIANT=fuzz CC=clang fuzz-programs
	TRIVET_ROUNDS=$(LONG_ROUNDS) TRIVET_EXCHANGES=$(LONG_EXCHANGES) TRIVET_LIMIT_S=14400 $(PYTHON) tests/run.py \
	    $(patsubst %.c,build/asan/%,$(wildcard tests/fault/test_*.c)) tests/system/test_crash.py $(FUZZ_BIN:%=%:$(LONG_FUZZ_S))

asan: deps-test
	$(MAKE) VARIANT=asan tests
	$(PYTHON) tests/run.py $(patsubst %.c,build/asan/%,$(UNIT))

tsan: deps-test
	$(MAKE) VARIANT=tsan tests
	$(PYTHON) tests/run.py $(patsubst %.c,build/tsan/%,$(UNIT))

fuzz-programs: $(patsubst %.c,$(BUILD)/%,$(FUZZ))

$(patsubst %.c,$(BUILD)/%,$(FUZZ)): $(BUILD)/%: $(BUILD)/%.o $(LIBTRIVET)
	$(call say,LINK,$@)
	$(Q)$(LINK) -fsanitize=fuzzer -o $@ $^ $(LIBS)

bench: deps-test
	$(MAKE) VARIANT=release programs build/release/trivet-kitchen build/release/trivet-past $(patsubst %.c,build/release/%,$(BENCH))
	$(PYTHON) tests/bench/run.py build/release
