# Everything `make check` runs, and its longer and sanitised sisters.

# Unit and fault tests run under ASan+UBSan, those with threads again under TSan, the system tests
# against the debug build.
THREADED := $(wildcard tests/unit/test_*thread*.c tests/unit/test_queue.c tests/unit/test_control*.c tests/unit/test_web*.c)

check: deps-test
	$(MAKE) VARIANT=asan tests programs
	$(MAKE) VARIANT=tsan $(patsubst %.c,build/tsan/%,$(THREADED))
	$(MAKE) VARIANT=debug programs build/debug/trivet-kitchen
	$(PYTHON) tests/run.py $(patsubst %.c,build/asan/%,$(UNIT)) $(patsubst %.c,build/tsan/%,$(THREADED)) \
	    $(sort $(wildcard tests/system/test_*.py))

asan: deps-test
	$(MAKE) VARIANT=asan tests
	$(PYTHON) tests/run.py $(patsubst %.c,build/asan/%,$(UNIT))

tsan: deps-test
	$(MAKE) VARIANT=tsan tests
	$(PYTHON) tests/run.py $(patsubst %.c,build/tsan/%,$(UNIT))
