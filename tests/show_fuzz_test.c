// SPDX-License-Identifier: GPL-3.0-or-later
// Whatever a folder holds, loading ends, and what it keeps is whole: the files of a good show are damaged at random, by a
// seeded generator, and every number of the show that comes of it must point at something.
#include "support/show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { ROUNDS = 1000, SOAK_ROUNDS = 100000, FILE_BYTES_MAX = 16384 };

static uint64_t next_random(uint64_t *seed) {
    *seed ^= *seed << 13; // xorshift64
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

static size_t below(uint64_t *seed, size_t limit) {
    return limit > 0 ? (size_t)(next_random(seed) % limit) : 0;
}

// Pieces that readers of such files stumble over.
static const char *const pieces[] = {
    ",",
    "\"",
    "\"\"",
    "\n",
    "\r",
    "\r\n",
    "#",
    ";",
    " ;",
    "=",
    ":",
    "[",
    "]",
    " ",
    "\t",
    "-",
    "--",
    "-1",
    "0",
    "%",
    "101%",
    "256",
    "999999999999999999999",
    "1e9",
    ".",
    "A-05",
    "A-99",
    "par-1",
    "pars",
    "jet-1",
    "dim=",
    "dim=1",
    "=1",
    "\xEF\xBB\xBF",
    "\xC3\xA9",
    "\xFF",
    "\xC2\x9B",
    "\x1B[2J",
    "open",
    "12 m 22 AWG",
    "3p",
    "01:00:00;00",
    "00:01:00:00",
    "-5",
    "\" \"",
    "par,",
    "go-on",
    "\"\n\"",
    "long-C-120",
    "long-C",
};

static void insert(char *text, size_t *length, size_t at, const char *piece, size_t piece_length) {
    if (*length + piece_length >= FILE_BYTES_MAX)
        return;
    memmove(text + at + piece_length, text + at, *length - at);
    memcpy(text + at, piece, piece_length);
    *length += piece_length;
}

static void damage(char *text, size_t *length, uint64_t *seed) {
    const size_t at = below(seed, *length + 1);
    const size_t left = *length - at;
    char copy[64];
    size_t size;
    switch (below(seed, 6)) {
    case 0: // another byte, a zero byte among them
        if (left > 0)
            text[at] = (char)next_random(seed);
        break;
    case 1:
        size = below(seed, left + 1 < 20 ? left + 1 : 20);
        memmove(text + at, text + at + size, left - size);
        *length -= size;
        break;
    case 2: // cut short
        if (below(seed, 8) == 0)
            *length = at;
        break;
    case 3: // said twice
        size = left < sizeof copy ? left : sizeof copy;
        memcpy(copy, text + at, size);
        insert(text, length, below(seed, *length + 1), copy, size);
        break;
    default: {
        const char *const piece = pieces[below(seed, sizeof pieces / sizeof pieces[0])];
        insert(text, length, at, piece, strlen(piece));
    }
    }
}

// ---- what a show must be ----------------------------------------------------------

static void judge_rows(const sm_show *show) {
    for (uint32_t i = 0; i < show->rail_count; i++) {
        assert_true(show->rails[i].module < show->module_count);
        assert_true(show->rails[i].position == SM_NONE || show->rails[i].position < show->position_count);
        assert_true(show->rails[i].slot_base + (uint32_t)show->rails[i].slots <= show->slot_count);
    }
    for (uint32_t i = 0; i < show->effect_count; i++)
        assert_true(show->effects[i].igniter < show->igniter_count);
    for (uint32_t i = 0; i < show->profile_count; i++) {
        const sm_profile *const each = &show->profiles[i];
        assert_true(each->channel_count > 0);
        assert_true(!each->flame || (each->enable < each->channel_count && each->fire < each->channel_count));
    }
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        const sm_fixture *const each = &show->fixtures[i];
        assert_true(each->profile < show->profile_count);
        assert_true(each->feed == SM_NONE || each->feed < show->feed_count);
        assert_true(each->channel_base + show->profiles[each->profile].channel_count <= show->channel_count);
    }
    for (uint32_t i = 0; i < show->feed_count; i++)
        assert_true(show->feeds[i].from == SM_NONE || show->feeds[i].from < show->feed_count);
    for (uint32_t i = 0; i < show->line_count; i++)
        for (uint32_t k = 0; k < show->lines[i].chain_count; k++)
            assert_true(show->lines[i].chain[k] < show->fixture_count);
    for (uint32_t i = 0; i < show->group_count; i++) {
        for (uint32_t k = 0; k < show->groups[i].member_count; k++) {
            const sm_target each = show->groups[i].members[k];
            assert_true(each.index < (each.kind == SM_TARGET_SLOT ? show->slot_count : show->fixture_count));
        }
    }
    for (uint32_t i = 0; i < show->reading_count; i++)
        assert_true(show->readings[i].slot < show->slot_count);
}

static void judge_event(const sm_show *show, uint32_t event) {
    const sm_event each = show->events[event];
    sm_text text = {0};
    char slot[48];
    assert_true(each.cue < show->cue_count);
    const sm_cue *const cue = &show->cues[each.cue];
    assert_true(event >= cue->first_event && event - cue->first_event < sm_cue_event_count(show, each.cue));
    if (cue->kind == SM_CUE_FIRE) {
        assert_true(each.target < show->firing_count);
        assert_true(show->firings[each.target].event == event);
        assert_true(show->firings[each.target].effect < show->effect_count);
        assert_true(strlen(sm_slot_format(show, show->firings[each.target].slot, slot)) > 3);
        return;
    }
    uint32_t count;
    const sm_level *const levels = sm_event_levels(show, event, &count);
    assert_true(each.target < show->fixture_count && count > 0);
    const sm_profile *const profile = &show->profiles[show->fixtures[each.target].profile];
    for (uint32_t i = 0; i < count; i++)
        assert_true(levels[i].channel < profile->channel_count &&
                    (i == 0 || levels[i - 1].channel < levels[i].channel));
    sm_event_format_levels(show, event, &text);
    assert_true(text.length > 0);
    sm_text_deinit(&text);
}

static void judge_events(const sm_show *show) {
    uint32_t events = 0;
    char id[12];
    for (uint32_t i = 0; i < show->cue_count; i++) {
        assert_true(show->cues[i].first_event == events);
        assert_true(strlen(sm_cue_id(show, i, id)) > 0);
        (void)strlen(sm_show_text(show, show->cues[i].note));
        events += sm_cue_event_count(show, i);
    }
    assert_int_equal(events, show->event_count);
    for (uint32_t i = 0; i < show->event_count; i++) {
        judge_event(show, i);
        if (i == 0)
            continue;
        const uint32_t before = show->order[i - 1], after = show->order[i];
        const sm_us before_us = sm_event_due_us(show, before), after_us = sm_event_due_us(show, after);
        assert_true(before_us < after_us || (before_us == after_us && before < after));
    }
}

// ---- the damage -------------------------------------------------------------------

typedef struct file {
    const char *name;
    char *bytes;
    size_t length;
} file;

// Damages one file, loads, judges, and puts the file back. Returns what loading said.
static sm_result round_of(const show_folder *folder, const file *files, size_t count, uint64_t *seed) {
    static char text[FILE_BYTES_MAX];
    const sm_show_load_options options = {.keep_invalid = true};
    const file *const chosen = &files[below(seed, count)];
    size_t length = chosen->length;
    sm_show *show = NULL;
    sm_findings *const findings = sm_findings_create();
    if (!chosen->bytes)
        fail();
    else
        memcpy(text, chosen->bytes, length);
    for (size_t i = below(seed, 6) + 1; i > 0; i--)
        damage(text, &length, seed);
    show_folder_put_bytes(folder, chosen->name, text, length);
    const sm_result result = sm_show_load(folder->path, &options, findings, &show);
    assert_true(result == SM_OK || result == SM_INVALID || result == SM_UNREADABLE);
    assert_true((result == SM_OK) == (sm_findings_count_of(findings, SM_ERROR) == 0));
    assert_true((!show) == (result == SM_UNREADABLE));
    if (show) {
        judge_rows(show);
        judge_events(show);
    }
    sm_show_destroy(show);
    sm_findings_destroy(findings);
    show_folder_put_bytes(folder, chosen->name, chosen->bytes, chosen->length);
    return result;
}

static void survives_damaged_files(void **state) {
    (void)state;
    file files[32] = {0};
    size_t count, good = 0;
    uint64_t seed = UINT64_C(0x510357A7);
    const size_t rounds = getenv("SLOWMATCH_SOAK") ? SOAK_ROUNDS : ROUNDS;
    const show_folder folder = show_folder_make();
    const sm_table_schema *const tables = sm_show_schema(&count);
    for (size_t i = 0; i < count; i++) {
        char path[128];
        files[i].name = tables[i].file;
        snprintf(path, sizeof path, "tests/data/show/every-table/%s", tables[i].file);
        assert_int_equal(sm_file_read(path, &files[i].bytes, &files[i].length), SM_OK);
        show_folder_put_bytes(&folder, files[i].name, files[i].bytes, files[i].length);
    }
    for (size_t i = 0; i < rounds; i++)
        good += round_of(&folder, files, count, &seed) == SM_OK ? 1 : 0;
    print_message("%zu of %zu damaged shows were good all the same\n", good, rounds);
    assert_true(good > 0 && good < rounds); // the damage is neither none nor total
    for (size_t i = 0; i < count; i++)
        free(files[i].bytes);
    show_folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(survives_damaged_files),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
