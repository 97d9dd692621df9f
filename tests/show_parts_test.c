// SPDX-License-Identifier: GPL-3.0-or-later
// A cues.csv read in parts at once gives what reading it from its first byte to its last gives: every cue, event, firing, level,
// text, allowance and finding, for random tables and any number of threads and of parts. Plain reading is the reference, and
// is held against other things elsewhere (show_load_test, show_csv_test).
#include "support/show_folder.h"

#include "slowmatch/workers.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static uint32_t below(uint64_t *seed, uint32_t limit) {
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(*seed >> 33) % limit;
}

// ---- everything that a show says of its cues ------------------------------------------

static void tell_cues(const sm_show *show, sm_text *out) {
    char id[12];
    for (uint32_t i = 0; i < show->cue_count; i++) {
        const sm_cue *const cue = &show->cues[i];
        sm_text_printf(out,
                       "cue %s line %u at %lld fade %u lasts %u kind %d mixed %d events %u from %u note %s\n",
                       sm_cue_id(show, i, id), cue->line, (long long)cue->time_us, cue->fade_us,
                       cue->lasts_us, cue->kind, cue->mixed, sm_cue_event_count(show, i), cue->first_event,
                       sm_show_text(show, cue->note));
    }
}

static void tell_events(const sm_show *show, sm_text *out) {
    for (uint32_t i = 0; i < show->event_count; i++) {
        sm_text_printf(out, "event %u cue %u target %u due %lld ", i, show->events[i].cue,
                       show->events[i].target, (long long)sm_event_due_us(show, i));
        sm_event_format_levels(show, i, out);
        sm_text_printf(out, " in order %u\n", show->order[i]);
    }
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *const firing = &show->firings[i];
        sm_text_printf(
            out,
            "firing event %u slot %u effect %u aim %s at %lld lead %lld lasts %lld load %d %d wire %.17g\n",
            firing->event, firing->slot, firing->effect, sm_firing_aim(show, firing),
            (long long)firing->fire_us, (long long)firing->lead_us, (long long)firing->lasts_us,
            (int)firing->load, (int)firing->igniters, firing->wire_m);
    }
    for (uint32_t i = 0; i < show->slot_count; i++)
        sm_text_printf(out, "slot %u fired %u\n", i, show->slot_firings[i]);
}

static void tell_rest(const sm_show *show, const sm_findings *findings, sm_text *out) {
    for (uint32_t i = 0; i < show->allow_count; i++)
        sm_text_printf(out, "allow %s line %u for %u: %s\n", show->allows[i].rule, show->allows[i].line,
                       show->allows[i].row_line, show->allows[i].reason);
    sm_text_printf(out, "ends %lld left out %d\n", (long long)show->length_us, show->cues_left_out);
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        const sm_finding *const each = sm_findings_at(findings, i);
        sm_finding_format(out, NULL, each);
        sm_text_printf(out, " %.17g %.17g %s\n", isnan(each->value) ? -1 : each->value,
                       isnan(each->limit) ? -1 : each->limit, each->unit);
    }
}

// Loads FOLDER in parts of PART_BYTES, or plainly where TOGETHER is NULL, and tells all. *errors: findings.
static sm_text tell(const show_folder *folder, sm_together *together, size_t part_bytes, size_t *errors) {
    const sm_show_load_options options = {
        .keep_invalid = true, .together = together, .part_bytes = part_bytes};
    sm_show *show = NULL;
    sm_text out = {0};
    sm_findings *const findings = sm_findings_create();
    const sm_result result = sm_show_load(folder->path, &options, findings, &show);
    sm_text_printf(&out, "%s\n", sm_result_text(result));
    assert_non_null(show);
    tell_cues(show, &out);
    tell_events(show, &out);
    tell_rest(show, findings, &out);
    *errors = sm_findings_count(findings);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
    assert_false(out.failed);
    return out;
}

// ---- by so many threads ------------------------------------------------------------------

static size_t pieces_done; // by the last of them

static void by_one(sm_piece *piece, void *context, size_t count) {
    pieces_done = count;
    sm_workers_on(1, piece, context, count);
}

static void by_two(sm_piece *piece, void *context, size_t count) {
    pieces_done = count;
    sm_workers_on(2, piece, context, count);
}

static void by_three(sm_piece *piece, void *context, size_t count) {
    pieces_done = count;
    sm_workers_on(3, piece, context, count);
}

static void by_seven(sm_piece *piece, void *context, size_t count) {
    pieces_done = count;
    sm_workers_on(7, piece, context, count);
}

static sm_together *const hands[] = {by_one, by_two, by_three, by_seven};

// ---- random tables -------------------------------------------------------------------------

// What stands after the time and before and after a number of 1 to 255.
static const struct {
    const char *before, *after;
} good_rows[] = {
    {".5,par-1,red=", " green=2,1,2,,\n"},
    {",par-2,dim=", ",,,,\r\n"},
    {",pars,blue=", " dim=255,0.5,,both,\n"},
    {",A-01,comet,,,\"one, ", "\",\n"},
    {",A-02 A-03,fountain,,", ",,\n"},
    {",A-04,fountain,,,,q", "\n"},
    {",\"par-2\",\"red=", "\",,,\"line\nfeed \"\"and quotes\"\"\",\n"},
    {",jet-1,permit=", " flame=0,,1 s,\"\r\n\",\n"},
    {",pars-and-jet,level=", ",,,,\n"}, // profiles of their own numbers for one channel
};

static const char *const odd_rows[] = {
    "\n",
    ",,,,,,\n",
    "# a comment, with \"quotes\n",
    "# a plain comment\n",
    "# allow two-at-once: it is meant\n",
    "1,par-9,red=1,,,,\n",
    "1,par-1,red=300,,,,\n",
    "x,par-1,red=3,,,,\n",
    "1,par-1,red=3\n",
    "1,pa\"r-1,red=3,,,,\n",
    "1,\"par-1\"x,red=3,,,,\n",
    "1,par-1,red=1,,,\"a quote that goes on,\n",
    "1,par-1,red=1,,,\xFF\xFE,\n",
    "1,par-1,red=1,,,a\rb,\n",
    "1,A-09,comet,,,,\n",
    "2,jet-1 A-01,comet,,,,\n",
};

static void draw_row(uint64_t *seed, sm_text *out, uint32_t *time_s) {
    const uint32_t kind = below(seed, sizeof good_rows / sizeof good_rows[0]), level = 1 + below(seed, 255);
    *time_s += below(seed, 8) > 0 ? below(seed, 3) : 0;
    const uint32_t at_s = below(seed, 40) > 0 ? *time_s : *time_s / 2; // now and then out of order
    sm_text_printf(out, "%u%s%u%s", at_s, good_rows[kind].before, level, good_rows[kind].after);
}

// ODD: one row in so many is odd, 0: none.
static sm_text draw_table(uint64_t *seed, uint32_t odd) {
    sm_text out = {0};
    uint32_t time_s = 0;
    if (below(seed, 4) == 0)
        sm_text_printf(&out, "\xEF\xBB\xBF");
    if (below(seed, 3) == 0)
        sm_text_printf(&out, "# before the header\n\n");
    sm_text_printf(&out, "time,target,do,fade,lasts,note,id\n");
    for (uint32_t i = below(seed, 120) + 1; i > 0; i--)
        if (odd > 0 && below(seed, odd) == 0)
            sm_text_printf(&out, "%s", odd_rows[below(seed, sizeof odd_rows / sizeof odd_rows[0])]);
        else
            draw_row(seed, &out, &time_s);
    if (below(seed, 4) == 0)
        sm_text_printf(&out, "%u,par-1,red=1,,,\"no end\nof a line\",", time_s);
    return out;
}

// ---- the tests -------------------------------------------------------------------------------

// The small show, with a group whose fixtures have unlike profiles.
static show_folder make_folder(void) {
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "profiles.csv",
                    "name,channels,home,hazard,enable,fire\n"
                    "par,dim red green blue level,,,,\n"
                    "jet,permit flame level,,flame,permit 128-255,flame 1-255\n");
    show_folder_put(&folder, "fixtures.csv",
                    "name,profile,address\npar-1,par,1\npar-2,par,10\njet-1,jet,20\n");
    show_folder_put(&folder, "groups.csv",
                    "name,members\npars,par-1 par-2\npars-and-jet,par-1 jet-1 par-2\n");
    return folder;
}

static void compare(const show_folder *folder, size_t table_bytes, sm_together *together, size_t part_bytes) {
    size_t plain_findings, findings;
    pieces_done = 0;
    sm_text plain = tell(folder, NULL, 0, &plain_findings);
    sm_text parted = tell(folder, together, part_bytes, &findings);
    size_t same = 0, line = 0; // up to where, and where that line begins
    for (; same < plain.length && plain.bytes[same] == parted.bytes[same]; same++)
        line = plain.bytes[same] == '\n' ? same + 1 : line;
    if (same != parted.length)
        fail_msg("%zu bytes in parts of %zu, first line %.60s; plainly: %.200s; in parts: %.200s",
                 table_bytes, part_bytes, sm_text_get(&plain), plain.bytes + line, parted.bytes + line);
    sm_text_deinit(&plain);
    sm_text_deinit(&parted);
}

static void gives_the_same_for_any_table(void **state) {
    (void)state;
    const uint32_t rates[] = {0, 0, 200, 60, 12, 3};
    const uint32_t rounds = getenv("SLOWMATCH_SOAK") ? 20000 : 300;
    const show_folder folder = make_folder();
    uint64_t seed = 5;
    uint32_t in_parts = 0;
    for (uint32_t round = 0; round < rounds; round++) {
        sm_text table = draw_table(&seed, rates[round % (sizeof rates / sizeof rates[0])]);
        assert_false(table.failed);
        show_folder_put_bytes(&folder, "cues.csv", table.bytes, table.length);
        compare(&folder, table.length, hands[round % (sizeof hands / sizeof hands[0])],
                20 + below(&seed, 400));
        in_parts += pieces_done > 0;
        sm_text_deinit(&table);
    }
    assert_in_range(in_parts, rounds / 2, rounds);
    show_folder_remove(&folder);
}

// Large enough for parts of the size that the program takes by itself.
static void gives_the_same_for_a_long_table(void **state) {
    (void)state;
    const show_folder folder = make_folder();
    sm_text table = {0};
    uint64_t seed = 6;
    uint32_t time_s = 0;
    sm_text_printf(&table, "time,target,do,fade,lasts,note,id\n");
    while (table.length < 6 * 1024 * 1024)
        draw_row(&seed, &table, &time_s);
    sm_text_printf(&table, "nonsense\n");
    for (int i = 0; i < 1000; i++)
        draw_row(&seed, &table, &time_s);
    show_folder_put_bytes(&folder, "cues.csv", table.bytes, table.length);
    compare(&folder, table.length, by_three, 0);
    assert_true(pieces_done > 1);
    sm_text_deinit(&table);
    show_folder_remove(&folder);
}

static void leaves_a_small_table_to_one(void **state) {
    (void)state;
    const show_folder folder = make_folder();
    sm_text table = {0};
    uint64_t seed = 7;
    uint32_t time_s = 0;
    sm_text_printf(&table, "time,target,do,fade,lasts,note,id\n");
    while (table.length < 1024 * 1024)
        draw_row(&seed, &table, &time_s);
    show_folder_put_bytes(&folder, "cues.csv", table.bytes, table.length);
    compare(&folder, table.length, by_three, 0);
    assert_int_equal(pieces_done, 0);
    sm_text_deinit(&table);
    show_folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_the_same_for_any_table),
        cmocka_unit_test(gives_the_same_for_a_long_table),
        cmocka_unit_test(leaves_a_small_table_to_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
