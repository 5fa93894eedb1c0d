# Everything `make check` runs, and its longer and sanitised sisters.

# Unit and fault tests run under ASan+UBSan, those with threads again under TSan, the system tests
# against the debug build, and each fuzz target for a slice over its corpus.
THREADED := $(wildcard tests/unit/test_*thread*.c tests/unit/test_queue.c tests/unit/test_control*.c tests/unit/test_web*.c)
PEERS    := $(sort $(wildcard tests/peers/test_*.py))
# The longest first, so that nothing runs on alone at the end.
LONGEST  := tests/system/test_replay_matrix.py
SYSTEM   := $(LONGEST) $(filter-out $(LONGEST),$(sort $(wildcard tests/system/test_*.py)))
FUZZ_BIN := $(patsubst %.c,build/fuzz/%,$(FUZZ))

# Rounds and seconds of the campaigns; the programs' own defaults are the short ones.
FUZZ_SLICE_S ?= 10
LONG_ROUNDS  ?= 20000
LONG_EXCHANGES ?= 1000000
LONG_FUZZ_S  ?= 300
LONG_WEEKS   ?= 100

# Whoever gave no -j still gets all of the machine: building is half of the whole.
JOBS = $(if $(findstring -j,$(MAKEFLAGS)),,-j$(shell nproc))

check: deps-test
	$(MAKE) $(JOBS) VARIANT=debug programs build/debug/trivet-kitchen build/debug/trivet-past
	$(MAKE) $(JOBS) VARIANT=asan tests programs
	$(MAKE) $(JOBS) VARIANT=tsan $(patsubst %.c,build/tsan/%,$(THREADED))
	$(MAKE) $(JOBS) VARIANT=fuzz CC=clang fuzz-programs
	$(PYTHON) tests/run.py $(SYSTEM) $(PEERS) $(FUZZ_BIN:%=%:$(FUZZ_SLICE_S)) \
	    $(patsubst %.c,build/asan/%,$(UNIT)) $(patsubst %.c,build/tsan/%,$(THREADED))

check-long: deps-test
	$(MAKE) $(JOBS) VARIANT=debug programs build/debug/trivet-kitchen build/debug/trivet-past
	$(MAKE) $(JOBS) VARIANT=asan tests
	$(MAKE) $(JOBS) VARIANT=fuzz CC=clang fuzz-programs
	TRIVET_FUZZ_SEED=0 TRIVET_ROUNDS=$(LONG_ROUNDS) TRIVET_EXCHANGES=$(LONG_EXCHANGES) TRIVET_WEEKS=$(LONG_WEEKS) \
	    TRIVET_LIMIT_S=14400 $(PYTHON) tests/run.py $(patsubst %.c,build/asan/%,$(wildcard tests/fault/test_*.c)) \
	    build/asan/tests/unit/test_kitchen_weeks tests/system/test_past.py tests/system/test_crash.py $(FUZZ_BIN:%=%:$(LONG_FUZZ_S))

# Breaks the judge in one place at a time: the share of breaks that the tests notice (docs/mutants.md).
MUTANTS ?= 0
MUTANT_SEED ?= 1
mutants: deps-test
	$(MAKE) $(JOBS) VARIANT=release tests
	$(PYTHON) -B tests/mutants/run.py build/release --of $(MUTANTS) --seed $(MUTANT_SEED)

asan: deps-test
	$(MAKE) $(JOBS) VARIANT=asan tests
	$(PYTHON) tests/run.py $(patsubst %.c,build/asan/%,$(UNIT))

tsan: deps-test
	$(MAKE) $(JOBS) VARIANT=tsan tests
	$(PYTHON) tests/run.py $(patsubst %.c,build/tsan/%,$(UNIT))

fuzz-programs: $(patsubst %.c,$(BUILD)/%,$(FUZZ))

$(patsubst %.c,$(BUILD)/%,$(FUZZ)): $(BUILD)/%: $(BUILD)/%.o $(LIBTRIVET)
	$(call say,LINK,$@)
	$(Q)$(LINK) -fsanitize=fuzzer -o $@ $^ $(LIBS)

# What forecasts are scored with: they lie beside the repository, or are named on the command line.
SCORER ?= ../shared/tools/score_forecasts.py
CORPUS ?= ../shared/reference/thermal/corpus

bench: deps-test
	$(MAKE) $(JOBS) VARIANT=release programs build/release/trivet-kitchen build/release/trivet-past $(patsubst %.c,build/release/%,$(BENCH))
	$(PYTHON) tests/bench/run.py build/release
	$(PYTHON) -B tests/bench/learning.py build/release
	$(PYTHON) -B tests/bench/forecasts.py build/release $(SCORER) $(CORPUS)
