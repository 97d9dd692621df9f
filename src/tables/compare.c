// SPDX-License-Identifier: GPL-3.0-or-later
#include "tables/compare.h"

#include "slowmatch/json.h"
#include "slowmatch/walk.h"

#include <stdlib.h>
#include <string.h>

static const struct {
    const char *what, *key;
} again_names[AGAIN_COUNT] = {
    [AGAIN_LOOK] = {"look at the slot again", "look"},
    [AGAIN_MEASURE] = {"measure again", "measure"},
    [AGAIN_ADDRESS] = {"set the address again", "address"},
    [AGAIN_WALK] = {"walk again", "walk"},
    [AGAIN_PRINT] = {"print again", "print"},
    [AGAIN_HEAR] = {"hear again", "hear"},
};

// "": there is none, or it cannot be read.
static sm_walk_hash hash_of_music(sm_compare *compare, const sm_show *show) {
    sm_walk_hash hash = {""};
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", show->folder, show->settings.audio);
    const sm_result result = show->settings.audio[0] == '\0' ? SM_NOT_FOUND
                             : path.failed                   ? SM_NO_MEMORY
                                                             : sm_walk_hash_file(path.bytes, NULL, &hash);
    if (result != SM_OK)
        hash.hex[0] = '\0';
    compare->no_memory = compare->no_memory || result == SM_NO_MEMORY;
    sm_text_deinit(&path);
    return hash;
}

// Another recording under the same name, or of the same name in another place: another name is told with show.ini.
static void compare_music(sm_compare *compare) {
    const char *const name = compare->now->settings.audio;
    if (strcmp(compare->old->settings.audio, name) != 0)
        return;
    const sm_walk_hash old = hash_of_music(compare, compare->old), now = hash_of_music(compare, compare->now);
    if (strcmp(old.hex, now.hex) == 0)
        return;
    compare_add(compare, (account_line){.kind = "music", .file = name, .what = "bytes"},
                "%s: not the same file", name);
    compare_again(compare, AGAIN_HEAR, "the music");
}

sm_result sm_compare_create(const sm_show *old, const sm_show *now, sm_compare **out) {
    sm_compare *const compare = calloc(1, sizeof *compare);
    if (!compare)
        return SM_NO_MEMORY;
    *compare = (sm_compare){.old = old, .now = now, .arena = sm_arena_create()};
    sm_result result = compare->arena ? compare_cues(compare) : SM_NO_MEMORY;
    if (result == SM_OK)
        result = compare_tables(compare);
    if (result == SM_OK) {
        compare_music(compare);
        result = compare_consequences(compare);
    }
    if (result == SM_OK && compare->no_memory)
        result = SM_NO_MEMORY;
    if (result == SM_OK)
        *out = compare;
    else
        sm_compare_destroy(compare);
    return result;
}

void sm_compare_destroy(sm_compare *compare) {
    if (!compare)
        return;
    for (size_t i = 0; i < AGAIN_COUNT; i++)
        free(compare->again[i].things);
    free(compare->lines);
    sm_arena_destroy(compare->arena);
    free(compare);
}

size_t sm_compare_count(const sm_compare *compare) {
    return compare->count;
}

// ---- in words -----------------------------------------------------------------------------

enum { FEW_CUES = 12 }; // that can be named also where they are all

#define GREEDY "So much is different that not every pairing was tried: a shorter account may be possible."

void sm_compare_text(const sm_compare *compare, sm_text *out) {
    if (compare->count == 0) {
        sm_text_printf(out, "no difference found in what the tables say\n");
        return;
    }
    sm_text_printf(out, "%zu difference%s\n", compare->count, compare->count == 1 ? "" : "s");
    for (size_t i = 0; i < compare->count; i++)
        sm_text_printf(out, "  %s\n", compare->lines[i].text);
    if (compare->is_greedy)
        sm_text_printf(out, "%s\n", GREEDY);
    for (size_t i = 0; i < AGAIN_COUNT; i++) {
        const again_line *const line = &compare->again[i];
        if (line->count == 0)
            continue;
        sm_text_printf(out, "%s:", again_names[i].what);
        if (i == AGAIN_HEAR && line->count > FEW_CUES && line->count >= compare->now->cue_count) {
            sm_text_printf(out, " the whole show, all %u cues\n", (unsigned)compare->now->cue_count);
            continue;
        }
        for (size_t k = 0; k < line->count; k++)
            sm_text_printf(out, "%s %s", k > 0 ? "," : "", line->things[k]);
        sm_text_append(out, "\n", 1);
    }
}

static void print_line(const account_line *line, sm_text *out) {
    sm_json json = {.out = out};
    sm_json_open(&json, NULL, '{');
    sm_json_text(&json, "kind", line->kind);
    sm_json_text(&json, "file", line->file);
    sm_json_text(&json, "name", line->name);
    sm_json_text(&json, "target", line->where);
    sm_json_text(&json, "what", line->what);
    const bool is_move = strcmp(line->kind, "move") == 0;
    sm_json_text(&json, is_move ? "from" : "was", line->was);
    sm_json_text(&json, is_move ? "until" : "now", line->now);
    sm_json_text(&json, "text", line->text);
    sm_json_close(&json, '}');
    sm_text_append(out, "\n", 1);
}

void sm_compare_json(const sm_compare *compare, sm_text *out) {
    for (size_t i = 0; i < compare->count; i++)
        print_line(&compare->lines[i], out);
    for (size_t i = 0; i < AGAIN_COUNT; i++) {
        const again_line *const line = &compare->again[i];
        if (line->count == 0)
            continue;
        sm_json json = {.out = out};
        sm_json_open(&json, NULL, '{');
        sm_json_text(&json, "kind", "again");
        sm_json_text(&json, "what", again_names[i].key);
        sm_json_open(&json, "things", '[');
        for (size_t k = 0; k < line->count; k++)
            sm_json_text(&json, NULL, line->things[k]);
        sm_json_close(&json, ']');
        sm_json_close(&json, '}');
        sm_text_append(out, "\n", 1);
    }
    sm_json json = {.out = out};
    sm_json_open(&json, NULL, '{');
    sm_json_bool(&json, "same", compare->count == 0);
    sm_json_integer(&json, "differences", (int64_t)compare->count);
    sm_json_bool(&json, "shortest", !compare->is_greedy);
    sm_json_close(&json, '}');
    sm_text_append(out, "\n", 1);
}
