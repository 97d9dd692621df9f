// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/choices.h"

#include "slowmatch/background.h"
#include "slowmatch/files.h"
#include "slowmatch/ini.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SECTION "console"
#define STOP_PATIENCE_US SM_US_PER_S

void sm_choices_init(sm_choices *choices) {
    *choices = (sm_choices){.beside = {"rails", "fixtures"}, .beside_count = 2, .mouse = true};
}

char *sm_choices_path(void) {
    static const char name[] = "slowmatch/console.ini";
    const char *config = getenv("XDG_CONFIG_HOME"), *home = getenv("HOME");
    sm_text path = {0};
    if (config && config[0] == '/') // a relative one is to be ignored
        sm_text_printf(&path, "%s/%s", config, name);
    else if (home && home[0] == '/')
        sm_text_printf(&path, "%s/.config/%s", home, name);
    char *copy = path.length > 0 && !path.failed ? strdup(sm_text_get(&path)) : NULL;
    sm_text_deinit(&path);
    return copy;
}

// ---- reading -------------------------------------------------------------------------------------------

static bool take_name(const char *value, char out[SM_BOARD_NAME]) {
    size_t length = strlen(value);
    if (length == 0 || length >= SM_BOARD_NAME || strspn(value, "abcdefghijklmnopqrstuvwxyz-") != length)
        return false;
    memcpy(out, value, length + 1);
    return true;
}

static bool take_board(const char *value, sm_choices *out) {
    return take_name(value, out->board);
}

static bool take_beside(const char *value, sm_choices *out) {
    sm_choices taken = {0};
    char copy[SM_BESIDE * SM_BOARD_NAME + 16];
    if (strlen(value) >= sizeof copy)
        return false;
    memcpy(copy, value, strlen(value) + 1);
    char *rest = copy;
    for (char *word = strtok_r(rest, " ,", &rest); word; word = strtok_r(NULL, " ,", &rest)) {
        if (taken.beside_count == SM_BESIDE || !take_name(word, taken.beside[taken.beside_count]))
            return false;
        taken.beside_count++;
    }
    memcpy(out->beside, taken.beside, sizeof out->beside);
    out->beside_count = taken.beside_count;
    return true;
}

static bool take_colours(const char *value, sm_choices *out) {
    sm_palette palette = sm_palette_named(value);
    if (palette == SM_PALETTE_COUNT)
        return false;
    out->colours = palette;
    return true;
}

static bool take_switch(const char *value, bool *out) {
    bool on = strcmp(value, "on") == 0;
    if (!on && strcmp(value, "off") != 0)
        return false;
    *out = on;
    return true;
}

static bool take_big(const char *value, sm_choices *out) {
    return take_switch(value, &out->big);
}

static bool take_mouse(const char *value, sm_choices *out) {
    return take_switch(value, &out->mouse);
}

static const struct {
    const char *key;
    bool (*take)(const char *value, sm_choices *out);
    const char *right;
} keys[] = {
    {"board", take_board, "the name of a board"},
    {"beside", take_beside, "up to three names of boards"},
    {"colours", take_colours, "plain, dark, light, colour-blind or night"},
    {"big-figures", take_big, "on or off"},
    {"mouse", take_mouse, "on or off"},
};

static void take_entry(const sm_ini_entry *entry, const char *path, sm_choices *out, sm_findings *findings) {
    if (!entry->key) {
        if (strcmp(entry->section, SECTION) != 0) {
            sm_findings_add(findings, path, entry->line, entry->column, SM_ERROR, "ini",
                            "no section [%s] here; there is only [" SECTION "]", entry->section);
        }
        return;
    }
    if (strcmp(entry->section, SECTION) != 0)
        return;
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (strcmp(keys[i].key, entry->key) == 0) {
            if (!keys[i].take(entry->value, out)) {
                sm_findings_add(findings, path, entry->line, entry->value_column, SM_ERROR, "ini",
                                "%s \"%s\": it is %s", entry->key, entry->value, keys[i].right);
            }
            return;
        }
    }
    sm_findings_add(findings, path, entry->line, entry->column, SM_ERROR, "ini",
                    "no key \"%s\"; there are board, beside, colours, big-figures, mouse", entry->key);
}

static void read_bytes(const char *path, char *bytes, size_t length, sm_choices *out, sm_findings *findings) {
    sm_arena *arena = sm_arena_create();
    sm_ini ini = {0};
    sm_text_clean(path, bytes, length, findings);
    if (arena && sm_ini_read(path, bytes, length, arena, findings, &ini) == SM_OK)
        for (size_t i = 0; i < ini.count; i++)
            take_entry(&ini.entries[i], path, out, findings);
    sm_arena_destroy(arena);
}

void sm_choices_read(const char *path, sm_choices *out, char problem[SM_CHOICES_PROBLEM]) {
    problem[0] = '\0';
    char *bytes;
    size_t length;
    errno = 0;
    if (sm_file_read(path, &bytes, &length) != SM_OK) {
        if (errno != ENOENT && errno != ENOTDIR) {
            snprintf(problem, SM_CHOICES_PROBLEM, "%s: what was chosen earlier cannot be read: %s", path,
                     errno ? strerror(errno) : "memory ran out");
        }
        return;
    }
    sm_findings *findings = sm_findings_create();
    if (findings) {
        read_bytes(path, bytes, length, out, findings);
        const sm_finding *first = sm_findings_at(findings, 0);
        if (first) {
            snprintf(problem, SM_CHOICES_PROBLEM, "%s:%u:%u: error: %s; the rest of it is used", first->file,
                     first->line, first->column, first->message);
        }
    }
    sm_findings_destroy(findings);
    free(bytes);
}

// ---- writing -------------------------------------------------------------------------------------------

static const char *switch_word(bool on) {
    return on ? "on" : "off";
}

static void format(const sm_choices *choices, sm_text *out) {
    sm_text_printf(
        out, "; What was chosen on the console. Written by slowmatch; it may be edited while none runs.\n"
             "[" SECTION "]\n");
    if (choices->board[0])
        sm_text_printf(out, "board = %s\n", choices->board);
    sm_text_printf(out, "beside =");
    for (size_t i = 0; i < choices->beside_count; i++)
        sm_text_printf(out, " %s", choices->beside[i]);
    sm_text_printf(out, "\ncolours = %s\nbig-figures = %s\nmouse = %s\n",
                   sm_palette_row_of(choices->colours)->name, switch_word(choices->big),
                   switch_word(choices->mouse));
}

sm_result sm_choices_write(const char *path, const sm_choices *choices) {
    sm_text text = {0};
    format(choices, &text);
    sm_result result =
        text.failed ? SM_NO_MEMORY : sm_folder_make_above(path, 0700); // as the specification says
    if (result == SM_OK)
        result =
            sm_file_replace(path, &(sm_file_new){.bytes = text.bytes, .length = text.length, .mode = 0666});
    int reason = errno;
    sm_text_deinit(&text);
    errno = reason;
    return result;
}

// ---- in the background ---------------------------------------------------------------------------------

struct sm_choices_keeper {
    char *path;
    sm_background *background;
};

static void keeper_free(sm_choices_keeper *keeper) {
    free(keeper->path);
    free(keeper);
}

// Only the latest choices count.
static int write_latest(void *context, const char *bytes, size_t length, bool durable) {
    const sm_choices_keeper *keeper = context;
    sm_choices latest;
    (void)durable;
    memcpy(&latest, bytes + length - sizeof latest, sizeof latest);
    sm_result result = sm_choices_write(keeper->path, &latest);
    return result == SM_OK ? 0 : result == SM_NO_MEMORY ? ENOMEM : errno;
}

static void abandon(void *context) {
    keeper_free(context);
}

static const sm_background_work work = {.write = write_latest, .abandon = abandon};

sm_result sm_choices_keeper_start(const char *path, sm_choices_keeper **out) {
    sm_choices_keeper *keeper = calloc(1, sizeof *keeper);
    if (!keeper)
        return SM_NO_MEMORY;
    keeper->path = strdup(path);
    if (!keeper->path || sm_background_start(&work, keeper, &keeper->background) != SM_OK) {
        keeper_free(keeper);
        return SM_NO_MEMORY;
    }
    *out = keeper;
    return SM_OK;
}

void sm_choices_keeper_put(sm_choices_keeper *keeper, const sm_choices *choices) {
    if (keeper)
        sm_background_put(keeper->background, (const char *)choices, sizeof *choices, false);
}

int sm_choices_keeper_error(sm_choices_keeper *keeper) {
    return keeper ? sm_background_error(keeper->background) : 0;
}

void sm_choices_keeper_stop(sm_choices_keeper *keeper) {
    if (keeper && sm_background_close(keeper->background, STOP_PATIENCE_US))
        keeper_free(keeper);
}
