# Trivet: build, test, install. Out of tree under build/VARIANT; nothing is generated beside the sources.
# `make help` lists the targets.

# ---- what Debian 12 has to provide; the only list there is -------------------------------------
BUILD_PACKAGES := gcc libc6-dev libmodbus-dev libsqlite3-dev libmicrohttpd-dev \
                  libyaml-dev libjansson-dev libsodium-dev zlib1g-dev tzdata
TEST_PACKAGES  := libcmocka-dev clang libclang-rt-14-dev socat sqlite3 python3 python3-numpy python3-pymodbus \
                  python3-serial-asyncio python3-iapws mbpoll mandoc dpkg-dev systemd udev umockdev locales
LINT_PACKAGES  := clang-format clang-tidy cppcheck
DEB_PACKAGES   := dpkg-dev lintian

# ---- variants ------------------------------------------------------------------------------------
# debug, release, asan (with UBSan), tsan, fuzz (clang) or matrix (optimisation given by CFLAGS); each has its own tree. (No comment after a value: make
# keeps the blanks.)
VARIANT ?= debug
BUILD   ?= build/$(VARIANT)
PREFIX  ?= /usr/local
DESTDIR ?=
VERSION := 0.1.0
PYTHON  := /usr/bin/python3

VARIANT_debug   := -O1 -g
VARIANT_release := -O2 -g -D_FORTIFY_SOURCE=2 -fstack-protector-strong
VARIANT_asan    := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
VARIANT_tsan    := -O1 -g -fsanitize=thread
VARIANT_fuzz    := -O1 -g -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all
VARIANT_matrix  := -g

WARN := -Wall -Wextra -Wshadow -Wconversion $(if $(WERROR),-Werror)
# CRASH_POINTS lets a test name the stage at which the process kills itself; never in a release build.
OWN  := -std=c17 -D_POSIX_C_SOURCE=200809L $(WARN) $(VARIANT_$(VARIANT)) -pthread -fno-fast-math -ffp-contract=off \
        $(if $(filter release,$(VARIANT)),,-DTRIVET_CRASH_POINTS) -DTRIVET_VERSION='"$(VERSION)"'
LIBS := -lmodbus -lsqlite3 -lmicrohttpd -lyaml -ljansson -lsodium -lz -lm
TEST_LIBS := -lcmocka

# One short line per step; V=1 shows the commands.
Q   := $(if $(V),,@)
say  = @$(if $(V),:,printf '  %-5s %s\n' '$(1)' '$(2)')

# The user's flags come last and are never overwritten.
COMPILE = $(CC) -I. -Iinclude -I$(BUILD)/generated $(OWN) $(CPPFLAGS) $(CFLAGS)
LINK    = $(CC) $(OWN) $(CFLAGS) $(LDFLAGS)

# ---- sources ---------------------------------------------------------------------------------------
MAINS   := daemon/main.c daemon/cli/main.c
ROOMS   := $(filter-out $(MAINS),$(wildcard daemon/*.c daemon/*/*.c drivers/*.c drivers/*/*.c web/*.c))
PAST    := tests/kitchen/past.c tests/kitchen/diary.c
KITCHEN := $(filter-out $(PAST),$(wildcard tests/kitchen/*.c))
SUPPORT := $(wildcard tests/support/*.c)
UNIT    := $(wildcard tests/unit/test_*.c tests/fault/test_*.c)
FUZZ    := $(wildcard tests/fuzz/fuzz_*.c)
BENCH   := $(wildcard tests/bench/bench_*.c)
ASSETS  := $(sort $(wildcard web/assets/*))
ENGINE_SOURCES := $(sort $(wildcard daemon/engine/*.[ch]) daemon/base/units.c \
                    $(addprefix include/trivet/,engine.h decision.h entry.h plan.h reading.h switch_event.h units.h lethal.h calibration.h calendar.h) daemon/base/lethal.c \
                    daemon/base/correction.c daemon/plan/oven.c daemon/base/calendar.c)
C_FILES := $(sort $(MAINS) $(ROOMS) $(KITCHEN) $(PAST) $(SUPPORT) $(UNIT) $(FUZZ) $(BENCH))

obj = $(patsubst %.c,$(BUILD)/%.o,$(1))

LIBTRIVET := $(BUILD)/libtrivet.a
PROGRAMS  := $(BUILD)/trivetd $(BUILD)/trivet
UNIT_BIN  := $(patsubst %.c,$(BUILD)/%,$(UNIT))


.PHONY: all programs tests fuzz-programs check check-long mutants asan tsan demo demo-stop install install-files deb deb-package style \
        lint clean help deps-build deps-test deps-lint deps-deb bench FORCE
.DELETE_ON_ERROR:
.SECONDARY:

all: programs

programs: $(PROGRAMS)

# A stamp is rewritten only when its text changes: new flags recompile, a new or deleted source relinks.
define stamp
$(1): FORCE ; @mkdir -p $$(@D); printf '%s\n' '$(subst ','\'',$(2))' | cmp -s - $$@ || printf '%s\n' '$(subst ','\'',$(2))' > $$@
endef
$(eval $(call stamp,$(BUILD)/flags,$(COMPILE)))
$(eval $(call stamp,$(BUILD)/objects,$(LINK) $(LIBS) $(ROOMS) $(KITCHEN) $(PAST) $(SUPPORT) $(ASSETS)))

# The engine names the exact text it was built from: a cached state or a recorded decision of another
# engine is recognised, however small the difference.
$(BUILD)/generated/engine_id.h: $(ENGINE_SOURCES) Makefile
	@mkdir -p $(@D)
	@printf '#define ENGINE_SOURCE_ID "%.12s"\n' "$$(cat $(ENGINE_SOURCES) | sha256sum)" > $@

# The page's files become bytes in the program, each with its digest as the tag a browser may keep it under.
$(BUILD)/generated/web_assets.c: $(ASSETS) Makefile
	@mkdir -p $(@D)
	@{ printf '#include "web/asset.h"\n'; \
	   for f in $(ASSETS); do n=$$(basename $$f); \
	       printf 'static const unsigned char %s[] = {\n' "$$(printf %s $$n | tr . _)"; \
	       od -An -v -tu1 $$f | sed 's/[0-9][0-9]*/&,/g'; printf '};\n'; done; \
	   printf 'const struct web_asset web_assets[] = {\n'; \
	   for f in $(ASSETS); do n=$$(basename $$f); v=$$(printf %s $$n | tr . _); \
	       printf '{"%s", %s, sizeof %s, "\\"%.16s\\""},\n' $$n $$v $$v "$$(sha256sum $$f)"; done; \
	   printf '{0}};\n'; } > $@

$(BUILD)/generated/web_assets.o: $(BUILD)/generated/web_assets.c web/asset.h $(BUILD)/flags
	$(call say,CC,$<)
	$(Q)$(COMPILE) -c -o $@ $<

$(BUILD)/%.o: %.c $(BUILD)/flags | $(BUILD)/generated/engine_id.h
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(COMPILE) -MMD -MP -c -o $@ $<

$(LIBTRIVET): $(call obj,$(ROOMS)) $(BUILD)/generated/web_assets.o $(BUILD)/objects
	@rm -f $@
	$(call say,AR,$@)
	$(Q)ar rcs $@ $(call obj,$(ROOMS)) $(BUILD)/generated/web_assets.o

$(BUILD)/trivetd: $(BUILD)/daemon/main.o $(LIBTRIVET)
	$(call say,LINK,$@)
	$(Q)$(LINK) -o $@ $^ $(LIBS)

$(BUILD)/trivet: $(BUILD)/daemon/cli/main.o $(LIBTRIVET)
	$(call say,LINK,$@)
	$(Q)$(LINK) -o $@ $^ $(LIBS)

$(BUILD)/trivet-kitchen: $(call obj,$(KITCHEN)) $(LIBTRIVET)
	$(call say,LINK,$@)
	$(Q)$(LINK) -o $@ $^ $(LIBS)

$(BUILD)/trivet-past: $(call obj,$(PAST) tests/kitchen/physics.c) $(LIBTRIVET)
	$(call say,LINK,$@)
	$(Q)$(LINK) -o $@ $^ $(LIBS)

$(UNIT_BIN): $(BUILD)/%: $(BUILD)/%.o $(call obj,$(SUPPORT)) $(LIBTRIVET)
	$(call say,LINK,$@)
	$(Q)$(LINK) -o $@ $^ $(TEST_LIBS) $(LIBS)

$(patsubst %.c,$(BUILD)/%,$(BENCH)): $(BUILD)/%: $(BUILD)/%.o $(LIBTRIVET)
	$(call say,LINK,$@)
	$(Q)$(LINK) -o $@ $^ $(LIBS)

tests: $(UNIT_BIN)

-include $(patsubst %.c,$(BUILD)/%.d,$(C_FILES))

# ---- what is missing on this machine ------------------------------------------------------------------
deps-build: ; @tests/support/install-packages $(BUILD_PACKAGES)
deps-test:  ; @tests/support/install-packages $(BUILD_PACKAGES) $(TEST_PACKAGES)
deps-lint:  ; @tests/support/install-packages $(BUILD_PACKAGES) $(LINT_PACKAGES)
deps-deb:   ; @tests/support/install-packages $(BUILD_PACKAGES) $(DEB_PACKAGES)

include tests/tests.mk

# ---- demo -------------------------------------------------------------------------------------------------
demo: deps-build
	$(MAKE) programs $(BUILD)/trivet-kitchen $(BUILD)/trivet-past
	@BIN=$(BUILD) tests/kitchen/demo

demo-stop:
	@tests/kitchen/demo stop

# ---- install ----------------------------------------------------------------------------------------------
# The example plan keeps its records beside itself for the demo; an installed one where the unit lets the daemon write.
INSTALL_VARIANT ?= release
INSTALL_BUILD   ?= build/$(INSTALL_VARIANT)
LIBDIR          := $(DESTDIR)$(PREFIX)/lib
SHAREDIR        := $(DESTDIR)$(PREFIX)/share
DOCDIR          := $(SHAREDIR)/doc/trivet
INSTALLED_PLACES := s|^  directory: records\b.*|  directory: /var/lib/trivet\n  socket: /run/trivet/control|

install:
	$(MAKE) VARIANT=$(INSTALL_VARIANT) BUILD=$(INSTALL_BUILD) programs
	@$(MAKE) --no-print-directory install-files

# What is built already; README's links follow its new place.
install-files:
	install -d $(DESTDIR)$(PREFIX)/sbin $(DESTDIR)$(PREFIX)/bin $(DOCDIR)/examples $(SHAREDIR)/trivet/profiles $(SHAREDIR)/man/man1 $(SHAREDIR)/man/man5 \
	    $(SHAREDIR)/man/man8 $(SHAREDIR)/bash-completion/completions $(LIBDIR)/systemd/system $(LIBDIR)/sysusers.d \
	    $(LIBDIR)/tmpfiles.d $(LIBDIR)/udev/rules.d
	install -m 755 $(INSTALL_BUILD)/trivetd $(DESTDIR)$(PREFIX)/sbin/trivetd
	install -m 755 $(INSTALL_BUILD)/trivet $(DESTDIR)$(PREFIX)/bin/trivet
	sed 's|@SBINDIR@|$(PREFIX)/sbin|' config/trivetd.service > $(LIBDIR)/systemd/system/trivetd.service
	chmod 644 $(LIBDIR)/systemd/system/trivetd.service
	install -m 644 config/trivet.sysusers $(LIBDIR)/sysusers.d/trivet.conf
	install -m 644 config/trivet.tmpfiles $(LIBDIR)/tmpfiles.d/trivet.conf
	install -m 644 config/60-trivet.rules $(LIBDIR)/udev/rules.d/60-trivet.rules
	install -m 644 $(wildcard config/profiles/*.yaml) $(SHAREDIR)/trivet/profiles/
	install -m 644 config/trivet.bash $(SHAREDIR)/bash-completion/completions/trivet
	ln -sf trivet $(SHAREDIR)/bash-completion/completions/trivetd
	for page in docs/*.[158]; do install -m 644 $$page $(SHAREDIR)/man/man$${page##*.}/ || exit 1; done
	install -m 644 LICENSE $(wildcard docs/*.md docs/*.png) $(DOCDIR)/
	sed 's|](docs/|](|g; s|](config/|](examples/|g' README.md > $(DOCDIR)/README.md
	chmod 644 $(DOCDIR)/README.md
	for plan in config/*.yaml; do to=$(DOCDIR)/examples/$${plan##*/}; \
	    sed '$(INSTALLED_PLACES)' $$plan > $$to && chmod 644 $$to || exit 1; done
	@[ -n '$(DESTDIR)' ] || echo 'Next: systemd-sysusers trivet.conf; systemd-tmpfiles --create trivet.conf; systemctl daemon-reload'

# A Debian package in build/deb, from config/debian; deb-package alone looks for nothing and checks nothing.
DEB ?= build/deb

deb: deps-deb
	$(MAKE) deb-package
	@# A package that nobody has asked the archive for closes no bug of its list.
	lintian --fail-on error,warning --suppress-tags initial-upload-closes-no-bugs $(DEB)/*.deb

deb-package:
	rm -rf $(DEB)
	$(MAKE) install DESTDIR=$(abspath $(DEB))/root PREFIX=/usr LDFLAGS='$(LDFLAGS) -Wl,-z,relro,-z,now'
	config/debian/assemble $(DEB)

# ---- care ---------------------------------------------------------------------------------------------------
style:
	@clang-format --version >/dev/null 2>&1 || $(MAKE) deps-lint
	@bad=0; for f in $(C_FILES) $(wildcard include/trivet/*.h daemon/*.h daemon/*/*.h drivers/*.h drivers/*/*.h web/*.h tests/*/*.h); do \
	    clang-format "$$f" | diff -u --label "$$f" --label "$$f (style)" "$$f" - || bad=1; done; exit $$bad

lint: deps-lint $(BUILD)/generated/engine_id.h
	cppcheck --quiet --std=c17 --enable=warning,portability --inline-suppr --error-exitcode=1 -Iinclude -I. \
	    --suppress=missingIncludeSystem $(MAINS) $(ROOMS)
	@# One file a call: with several, clang-tidy 14 finds va_lists uninitialised that are not.
	printf '%s\n' $(MAINS) $(ROOMS) | xargs -P 2 -I '{}' clang-tidy --quiet '{}' -- -std=c17 -D_POSIX_C_SOURCE=200809L -Iinclude -I. -I$(BUILD)/generated \
	    -DTRIVET_VERSION='"$(VERSION)"'

clean:
	rm -rf build

help:
	@echo 'make              build trivetd and trivet into build/debug'
	@echo 'make demo         install what is missing, build, start a simulated kitchen and the daemon'
	@echo 'make demo-stop    end a running demo'
	@echo 'make check        install what is missing, build, run the whole test suite'
	@echo 'make check-long   the long campaigns: thousands of crash rounds, fuzzing'
	@echo 'make mutants      break the judge in one place at a time: what do the tests notice? MUTANTS=N for about N'
	@echo 'make asan, tsan   the unit and fault tests under the sanitizers'
	@echo 'make bench        speed, as ratios against the raw libraries'
	@echo 'make install      DESTDIR= PREFIX=/usr/local'
	@echo 'make deb          a Debian package in build/deb'
	@echo 'make style, lint  clang-format differences; cppcheck and clang-tidy'
	@echo 'make clean        remove build/'

FORCE:
