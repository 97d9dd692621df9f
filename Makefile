# SPDX-License-Identifier: GPL-3.0-or-later
# make: build/slowmatch and build/libslowmatch.a.   make demo, make test: the two commands of the README, which also install
# what is missing.   make help: all targets.
.DEFAULT_GOAL := all
BUILD ?= build
CC ?= cc
# Unset: -O2 where benches see it, -O1 for words, screens and tests, which saves a third of the build; no lines for a debugger, a fifth
# of it (OPT="-Og -g" BUILD=build-debug has them).
OPT ?=
FAST_PARTS = audio base check dmx import lights rig show tables
JOBS ?= 2
PREFIX ?= /usr/local
DESTDIR ?=

# V=1 shows the whole commands.
Q = $(if $(V),,@)
# Said by make itself: a process each would be a second of the build.
say = $(if $(V),,$(info $()  $(1)))

# ---- flags ----------------------------------------------------------------------------------------------------
WARN = -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes -Wformat=2 -Wundef \
       -Wcast-qual -Wvla -Wwrite-strings -Wimplicit-fallthrough -Wpointer-arith -Werror
# The version stands in one place, with what users notice of it.
VERSION := $(shell sed -n '1s/.*(\([^)-]*\).*/\1/p' src/package/debian/changelog)
CPPFLAGS += -Iinclude -Isrc -D_GNU_SOURCE -DSM_VERSION=$(VERSION)
opt = $(or $(OPT),$(if $(filter $(FAST_PARTS:%=src/%/%) tests/bench/%,$<),-O2,-O1))
ALL_CFLAGS = -std=c11 $(opt) $(WARN) -fno-common -pthread $(SANITIZE) $(CFLAGS)
ALL_LDFLAGS = -pthread $(SANITIZE) $(LDFLAGS)
LIBS = -lcsv -linih -lsndfile -lportaudio -lsamplerate -lrubberband -lltc -lsqlite3 -lnettle -lz -lzip -lexpat -lmosquitto -ljansson -lm
CURSES = -lncursesw -ltinfo
TEST_LIBS = -lcmocka -lvterm -lutil
# Two hundred test programs are linked: where there is a linker that takes a third of the time, it does that.
TEST_LD := $(firstword $(foreach ld,lld gold,$(if $(wildcard $(addsuffix /ld.$(ld),$(subst :, ,$(PATH)))),-fuse-ld=$(ld))))

# ---- what there is --------------------------------------------------------------------------------------------
LIB_PARTS = base show starter import rig dmx check engine drill walk link logbook audio session paper tables lights tell
LIB_SRC := $(foreach part,$(LIB_PARTS),$(wildcard src/$(part)/*.c src/$(part)/*/*.c))
CONSOLE_SRC := $(foreach part,screen boards console,$(wildcard src/$(part)/*.c src/$(part)/*/*.c))
APP_SRC := $(CONSOLE_SRC) $(wildcard src/cmd/*.c src/main.c)
TEST_SRC := $(or $(TAKE:%=tests/%_test.c),$(filter-out $(LEAVE_OUT:%=tests/%_test.c),$(wildcard tests/*_test.c)))
SUPPORT_SRC := $(wildcard tests/support/*.c)
BENCH_SRC := $(wildcard tests/bench/*.c)
BENCH_SH := $(wildcard tests/bench/*.sh)
ALL_SRC := $(LIB_SRC) $(APP_SRC) $(TEST_SRC) $(SUPPORT_SRC) $(BENCH_SRC)
FORMATTED = $(ALL_SRC) $(wildcard demo-shows/*/*.[ch] include/slowmatch/*.h src/*/*.h src/*/*/*.h tests/*.h tests/support/*.h tests/bench/*.h)
obj = $(patsubst %.c,$(BUILD)/obj/%.o,$(1))
FOLDERS = $(patsubst %/,%,$(sort $(dir $(call obj,$(ALL_SRC))))) $(BUILD)/obj/tests/tools $(BUILD)/tests $(BUILD)/tests/bench
LIB := $(BUILD)/libslowmatch.a
PROGRAM := $(if $(wildcard src/main.c src/cmd/main.c),$(BUILD)/slowmatch)
TESTS := $(patsubst tests/%.c,$(BUILD)/tests/%,$(TEST_SRC))
BENCHES := $(patsubst tests/%.c,$(BUILD)/tests/%,$(BENCH_SRC))

# ---- building -------------------------------------------------------------------------------------------------
.PHONY: all
all: $(LIB) $(PROGRAM) $(BUILD)/compile_commands.json
	@:

$(FOLDERS):
	@mkdir -p $@

$(BUILD)/obj/%.o: %.c Makefile | $(FOLDERS)
	$(call say,cc $<)
	$(Q)$(CC) $(CPPFLAGS) $(ALL_CFLAGS) -MMD -MP -c $< -o $@

$(LIB): $(call obj,$(LIB_SRC))
	@rm -f $@
	$(call say,ar $@)
	$(Q)$(AR) rcs $@ $^

$(BUILD)/slowmatch: $(call obj,$(APP_SRC)) $(LIB)
	$(call say,link $@)
	$(Q)$(CC) $(ALL_LDFLAGS) $(call obj,$(APP_SRC)) $(LIB) $(LIBS) $(CURSES) -o $@

# The program with a fault planted in one of the three pieces that lights on a wire must pass: the others stop it, and tests see that.
FAULTS = $(patsubst %,$(BUILD)/slowmatch-fault-%,frame judge mask)
$(FAULTS): $(BUILD)/slowmatch-fault-%: src/lights/%.c $(call obj,$(APP_SRC)) $(LIB)
	$(call say,link $@)
	$(Q)$(CC) $(CPPFLAGS) $(ALL_CFLAGS) -DSM_LIGHTS_FAULT -c $< -o $(BUILD)/obj/src/lights/$*-fault.o
	$(Q)$(CC) $(ALL_LDFLAGS) $(call obj,$(APP_SRC)) $(BUILD)/obj/src/lights/$*-fault.o $(LIB) $(LIBS) $(CURSES) -o $@

$(BUILD)/tests/%: $(BUILD)/obj/tests/%.o $(call obj,$(SUPPORT_SRC)) $(call obj,$(CONSOLE_SRC)) $(LIB) | $(FOLDERS)
	$(call say,link $@)
	$(Q)$(CC) $(TEST_LD) $(ALL_LDFLAGS) $^ $(LIBS) $(CURSES) $(TEST_LIBS) -o $@

# Preloaded into the program by faults_test.
$(BUILD)/faults.so: tests/tools/faults.c | $(FOLDERS)
	$(call say,link $@)
	$(Q)$(CC) -std=c11 -O2 $(WARN) -fPIC -shared -pthread $< -o $@
$(BUILD)/tests/faults_test $(BUILD)/tests/faults_console_test: | $(BUILD)/faults.so

# Every reader of what comes from outside, under libFuzzer: built by `make fuzz`, with the flags that it gives.
$(BUILD)/fuzz: $(BUILD)/obj/tests/tools/fuzz.o $(call obj,$(SUPPORT_SRC)) $(call obj,$(CONSOLE_SRC)) $(LIB)
	$(call say,link $@)
	$(Q)$(CC) $(ALL_LDFLAGS) -fsanitize=fuzzer $^ $(LIBS) $(CURSES) $(TEST_LIBS) -o $@

.PHONY: tests benches
tests: $(TESTS) $(PROGRAM) $(FAULTS)
benches: $(BENCHES)
# Kept, although only a chain of pattern rules names them.
.SECONDARY: $(call obj,$(TEST_SRC) $(SUPPORT_SRC) $(BENCH_SRC))

-include $(patsubst %.o,%.d,$(call obj,$(ALL_SRC)))

# One entry a source file, in the form that clangd and clang-tidy read.
$(BUILD)/compile_commands.json: Makefile $(ALL_SRC)
	@mkdir -p $(@D)
	@{ sep='['; for f in $(ALL_SRC); do \
	  printf '%s\n{"directory":"%s","file":"%s","command":"%s -c %s"}' "$$sep" "$(CURDIR)" "$$f" \
	    "$(CC) $(CPPFLAGS) $(ALL_CFLAGS)" "$$f"; sep=','; done; [ "$$sep" = '[' ] && printf '['; printf '\n]\n'; } > $@
	@[ "$(BUILD)" != build ] || ln -sf $@ compile_commands.json

# ---- the commands that set themselves up ----------------------------------------------------------------------
# The list of sources was read before anything was installed and stays right; only compiling has to come after.
DEPS = CC="$(CC)" sh tests/tools/deps.sh
SUBMAKE = $(MAKE) --no-print-directory $(if $(findstring j,$(filter-out --%,$(MAKEFLAGS))),,-j$(JOBS))
RUN_TESTS = JOBS=$(JOBS) sh tests/tools/run.sh $(BUILD) $(TESTS)

.PHONY: deps demo demo-crew test soak asan tsan memcheck bench
deps:
	@$(DEPS) build test

demo:
	@$(DEPS) build
	@$(SUBMAKE) all >&2
	@if [ -t 0 ] && [ -t 1 ]; then $(BUILD)/slowmatch demo-shows/lantern-quay; \
	  else $(BUILD)/slowmatch demo-shows/lantern-quay --headless; fi

# A broker, a rehearsal and three followers, in panes of one terminal; DRILL=3: that drill, with a spotter and a K at seats of their own.
demo-crew:
	@$(DEPS) build crew
	@$(SUBMAKE) all >&2
	@sh tests/tools/demo_crew.sh $(BUILD) $(DRILL)

test:
	@$(DEPS) build test
	@$(SUBMAKE) all tests
	@also=; sh tests/tools/layers.sh $(BUILD) || also="layers.sh: the tree breaks its own rules, see above"; \
	  ALSO_FAILED="$$also" $(RUN_TESTS)

asan: export ASAN_OPTIONS := detect_leaks=1:$(ASAN_OPTIONS)
asan: export UBSAN_OPTIONS := print_stacktrace=1:$(UBSAN_OPTIONS)
asan:
	@$(MAKE) --no-print-directory test BUILD=build-asan OPT="-O1 -g1 -fno-omit-frame-pointer" \
	  SANITIZE="-fsanitize=address,undefined -fno-sanitize-recover=all"

# The same programs; those that have long runs look for SLOWMATCH_SOAK.
soak: export SLOWMATCH_SOAK := 1
soak: export TEST_TIMEOUT := 7200
soak:
	@$(DEPS) soak
	@$(MAKE) --no-print-directory test JOBS=1
	@sh tests/tools/paper_browsers.sh "$(CURDIR)/$(BUILD)"
	@$(MAKE) --no-print-directory fuzz

# MINUTES each (10), READER="drill map" those alone.
.PHONY: fuzz
fuzz:
	@$(DEPS) build test fuzz
	@$(SUBMAKE) $(BUILD)-fuzz/fuzz BUILD=$(BUILD)-fuzz CC=clang OPT="-O1 -g" LDFLAGS="$(LDFLAGS)" \
	  SANITIZE="-fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all"
	@sh tests/tools/fuzz.sh $(BUILD)-fuzz $$(($(or $(MINUTES),10) * 60)) $(READER)

memcheck: export WRAP := valgrind -q --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite
memcheck: export TEST_TIMEOUT := 1800
# Not under valgrind, which has a malloc and system calls of its own and is too slow to play in real time: tests that put
# their own malloc in place, forbid system calls, or play to a sound server.
memcheck:
	@$(DEPS) memcheck
	@$(MAKE) --no-print-directory test LEAVE_OUT="audio_callback audio_listen audio_loss audio_sound audio_speed audio_timecode audio_timecode_in \
	  audio_tones check_hostile logbook_memory parts_memory show_memory tell_broker"

# What has threads: the console with sound in a pseudo-terminal, headless runs, a drill with its instructor, what writes to
# disk. A report of a race fails the run wherever it came from: the programs under test write theirs into this folder too.
TSAN_REPORTS = $(CURDIR)/build-tsan/reports
tsan: export TSAN_OPTIONS = log_path=$(TSAN_REPORTS)/race:suppressions=$(CURDIR)/tests/data/tsan-suppressions.txt
tsan:
	@rm -rf $(TSAN_REPORTS) && mkdir -p $(TSAN_REPORTS)
	@status=0; $(MAKE) --no-print-directory test BUILD=build-tsan OPT="-O1 -g -fno-omit-frame-pointer -Wno-tsan" \
	  SANITIZE=-fsanitize=thread TAKE="$(or $(TAKE),console_sound console_drill headless_run link os_background show_parts \
	  audio_ring audio_sound audio_listen audio_timecode_in)" || status=1; \
	  cat $(TSAN_REPORTS)/race* 2>/dev/null && status=1; exit $$status

# Small changes to the code of PART, each held against the part's tests. COUNT, SEED, MINUTES, ONLY: see tests/tools/mutants.py.
.PHONY: mutants objects
objects: $(call obj,$(LIB_SRC) $(APP_SRC) $(SUPPORT_SRC))
mutants: export CC := $(CC)
mutants: export COMPILE = $(filter-out -g% $(WARN),$(CPPFLAGS) $(ALL_CFLAGS))
mutants: export LINK = $(ALL_LDFLAGS) $(LIBS) $(CURSES) $(TEST_LIBS)
mutants: export SANITIZERS = -fsanitize=address,undefined -fno-sanitize-recover=all
mutants:
	@$(DEPS) build test mutants
	@$(SUBMAKE) objects BUILD=$(BUILD)-mutants OPT="-O2 -fPIC"
	@status=0; for part in $(or $(PART),rig dmx engine drill walk logbook); do \
	  python3 tests/tools/mutants.py $(BUILD)-mutants $$part || status=1; done; exit $$status

bench:
	@$(DEPS) build test bench
	@$(SUBMAKE) all benches
	@for b in $(BENCHES); do echo "--- $${b##*/}"; SLOWMATCH_BUILD="$(CURDIR)/$(BUILD)" $$b || exit 1; done
	@for b in $(BENCH_SH); do echo "--- $${b##*/}"; SLOWMATCH_BUILD="$(CURDIR)/$(BUILD)" sh $$b || exit 1; done

# ---- keeping the sources in order -----------------------------------------------------------------------------
.PHONY: tidy layers unreached format format-check
tidy:
	@$(DEPS) build test tidy
	@$(MAKE) --no-print-directory $(BUILD)/compile_commands.json
	@status=0; printf '%s\n' $(ALL_SRC) | xargs -P $(JOBS) -n 8 clang-tidy -p $(BUILD) --quiet || status=1; \
	  $(MAKE) --no-print-directory -k layers unreached format-check || status=1; exit $$status

layers: $(call obj,$(LIB_SRC) $(APP_SRC))
	@sh tests/tools/layers.sh $(BUILD)

# Objects of their own, in which each function is a section and nothing is inlined; the program is linked of them once.
unreached:
	@$(SUBMAKE) all BUILD=build-unreached OPT=-O0 CFLAGS="-ffunction-sections -w" >/dev/null
	@sh tests/tools/unreached.sh build-unreached "$(CC)" $(ALL_LDFLAGS) $(LIBS) $(CURSES)

format:
	clang-format -i $(FORMATTED)

format-check:
	@clang-format --dry-run -Werror $(FORMATTED)

# ---- putting it elsewhere -------------------------------------------------------------------------------------
AT = $(DESTDIR)$(PREFIX)
.PHONY: install clean help
install: all
	install -d $(AT)/bin $(AT)/lib $(AT)/include/slowmatch $(AT)/share/man/man1 $(AT)/share/man/man5 $(AT)/share/man/man7
	install -m 755 $(PROGRAM) $(AT)/bin/
	install -m 644 $(LIB) $(AT)/lib/
	install -m 644 include/slowmatch/*.h $(AT)/include/slowmatch/
	for page in man/*.1; do [ ! -e "$$page" ] || install -m 644 "$$page" $(AT)/share/man/man1/; done
	for page in man/*.5; do [ ! -e "$$page" ] || install -m 644 "$$page" $(AT)/share/man/man5/; done
	for page in man/*.7; do [ ! -e "$$page" ] || install -m 644 "$$page" $(AT)/share/man/man7/; done
	install -d $(AT)/share/bash-completion/completions $(AT)/share/zsh/site-functions $(AT)/share/fish/vendor_completions.d
	sh src/package/completions.sh bash $(PROGRAM) > $(AT)/share/bash-completion/completions/slowmatch
	sh src/package/completions.sh zsh $(PROGRAM) > $(AT)/share/zsh/site-functions/_slowmatch
	sh src/package/completions.sh fish $(PROGRAM) > $(AT)/share/fish/vendor_completions.d/slowmatch.fish
	cd demo-shows && find . -type f ! -name '*.[ch]' -exec install -D -m 644 {} $(AT)/share/slowmatch/demo-shows/{} \;

# The tree as one archive, and the Debian package, made from that archive. Both are the same bytes whenever they are made.
.PHONY: dist deb
MADE_OF := .ci .clang-format .clang-tidy .editorconfig .gitignore README.md DEVELOPERS.md Makefile src include tests demo-shows man
DIST = $(BUILD)/slowmatch-$(VERSION).tar.gz
PACKED := $(BUILD)/deb/slowmatch-$(VERSION)
dist:
	@mkdir -p $(BUILD)
	@tar -c --sort=name --mtime="$$(sed -n 's/^ -- .*>  //p' src/package/debian/changelog | head -n 1)" --owner=0 --group=0 \
	  --numeric-owner --mode=u+rw,go=rX --exclude='*.log' --transform='s,^,slowmatch-$(VERSION)/,S' $(MADE_OF) | gzip -9n > $(DIST)
	@echo $(DIST)
deb: dist
	@$(DEPS) build deb
	@rm -rf $(BUILD)/deb && mkdir -p $(BUILD)/deb && tar -C $(BUILD)/deb -xzf $(DIST)
	@cp -r $(PACKED)/src/package/debian $(PACKED)/debian
	@cd $(PACKED) && env -u MAKEFLAGS -u MAKELEVEL -u BUILD -u OPT dpkg-buildpackage -us -uc -b -j$(JOBS) >../package.log 2>&1 || \
	  { tail -n 30 ../package.log; exit 1; }
	@lintian --fail-on error,warning $(BUILD)/deb/*.changes
	@ls $(BUILD)/deb/*.deb

clean:
	rm -rf build build-* $(BUILD) compile_commands.json

help:
	@echo 'make            build/slowmatch and build/libslowmatch.a'
	@echo 'make demo       install what is missing, build, rehearse the demo show'
	@echo 'make demo-crew  the demo show and three followers through a broker, in panes of tmux (DRILL=3: a crew drill)'
	@echo 'make test       install what is missing, build, run every test (6 minutes on two cores)'
	@echo 'make asan       the same tests under the address and undefined-behaviour sanitizers (in build-asan)'
	@echo 'make tsan       what has threads, under the thread sanitizer: console with sound, headless, a drill with its instructor'
	@echo 'make memcheck   the same tests under valgrind'
	@echo 'make soak       the same tests with their long runs'
	@echo 'make fuzz       every reader of what comes from outside, under libFuzzer (MINUTES=10 each, READER=drill)'
	@echo 'make mutants    PART=rig: which small changes to a part would its tests not see (COUNT, SEED, MINUTES, ONLY)'
	@echo 'make bench      what is fast and what is big, as ratios'
	@echo 'make deps       only install what is missing'
	@echo 'make tidy       clang-tidy, format and layer checks;   make format: clang-format in place'
	@echo 'make unreached  the functions that no program reaches'
	@echo 'make dist       the tree as one archive;   make deb: a Debian package of it, looked through by lintian'
	@echo 'make install    to DESTDIR and PREFIX ($(PREFIX));   make clean'
	@echo 'Variables: CC, BUILD (a folder each compiler), OPT, CFLAGS, LDFLAGS, JOBS, V=1'
