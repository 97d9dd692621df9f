# SPDX-License-Identifier: GPL-3.0-or-later
# make: build/slowmatch and build/libslowmatch.a.   make demo, make test: the two commands of the README.
.DEFAULT_GOAL := all
BUILD ?= build
CC ?= cc
OPT ?= -O2 -g
WARN = -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes -Wformat=2 -Wundef \
       -Wcast-qual -Werror
CPPFLAGS += -Iinclude -Isrc -D_GNU_SOURCE
ALL_CFLAGS = -std=c11 $(OPT) $(WARN) -fno-common -pthread $(SANITIZE) $(CFLAGS)
ALL_LDFLAGS = -pthread $(SANITIZE) $(LDFLAGS)
LIBS = -lcsv -linih -lsndfile -lportaudio -lrubberband -lltc -lsqlite3 -lm
CURSES = -lncursesw -ltinfo

LIB_PARTS = base show rig dmx check engine drill walk link logbook audio paper
LIB_SRC := $(foreach part,$(LIB_PARTS),$(wildcard src/$(part)/*.c))
APP_SRC := $(wildcard src/console/*.c src/cmd/*.c src/main.c)
TEST_SRC := $(wildcard tests/*_test.c)
SUPPORT_SRC := $(wildcard tests/support/*.c)
obj = $(patsubst %.c,$(BUILD)/obj/%.o,$(1))
LIB := $(BUILD)/libslowmatch.a
TESTS := $(patsubst tests/%.c,$(BUILD)/tests/%,$(TEST_SRC))

.PHONY: all
all: $(LIB) $(if $(APP_SRC),$(BUILD)/slowmatch) $(BUILD)/compile_commands.json

$(BUILD)/obj/%.o: %.c Makefile
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) $(ALL_CFLAGS) -MMD -MP -c $< -o $@

$(LIB): $(call obj,$(LIB_SRC))
	@rm -f $@
	$(AR) rcs $@ $^

$(BUILD)/slowmatch: $(call obj,$(APP_SRC)) $(LIB)
	$(CC) $(ALL_LDFLAGS) $(call obj,$(APP_SRC)) $(LIB) $(LIBS) $(CURSES) -o $@

CONSOLE_OBJ = $(call obj,$(wildcard src/console/*.c))
$(BUILD)/tests/%: $(BUILD)/obj/tests/%.o $(call obj,$(SUPPORT_SRC)) $(CONSOLE_OBJ) $(LIB)
	@mkdir -p $(@D)
	$(CC) $(ALL_LDFLAGS) $^ $(LIBS) $(CURSES) -lcmocka -lvterm -lutil -o $@

.PHONY: tests
tests: $(TESTS)

-include $(patsubst %.o,%.d,$(call obj,$(LIB_SRC) $(APP_SRC) $(TEST_SRC) $(SUPPORT_SRC)))

# One entry a source file, in the form that clangd and clang-tidy read.
$(BUILD)/compile_commands.json: Makefile $(LIB_SRC) $(APP_SRC) $(TEST_SRC) $(SUPPORT_SRC)
	@mkdir -p $(@D)
	@{ sep='['; for f in $(LIB_SRC) $(APP_SRC) $(TEST_SRC) $(SUPPORT_SRC); do \
	  printf '%s\n{"directory":"%s","file":"%s","command":"%s -c %s"}' "$$sep" "$(CURDIR)" "$$f" \
	    "$(CC) $(CPPFLAGS) $(ALL_CFLAGS)" "$$f"; sep=','; done; [ "$$sep" = '[' ] && printf '['; printf '\n]\n'; } > $@
	@ln -sf $@ compile_commands.json

.PHONY: clean
clean:
	rm -rf $(BUILD) compile_commands.json
