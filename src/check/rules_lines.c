// SPDX-License-Identifier: GPL-3.0-or-later
// The DMX lines: loads, lengths, and who is on them.
#include "check/rule.h"

#include <math.h>

// EIA-485, E1.11: unit loads a segment (second-hand).
#define MOST_LOADS 32u
// Advice and ceiling as commonly quoted; public texts disagree (common practice).
#define LENGTH_WARNING_M 300.0
#define LENGTH_ERROR_M 500.0
// Lengths that came by way of feet compare with this much room, in metres.
#define ROOM_M 1e-9

static void judge_loads(sm_check *check, const sm_line *line) {
    if (line->chain_count > MOST_LOADS)
        check_put(check, "line-loads", (check_place){"lines.csv", line->line, "chain"},
                  (check_figures){FIGURE_PLAIN, line->chain_count, MOST_LOADS, "unit loads"},
                  "line %s has %u fixtures; a segment drives %u unit loads: split it, or put a repeater",
                  line->name, line->chain_count, MOST_LOADS);
}

static void judge_length(sm_check *check, const sm_line *line) {
    double length_m = 0.0;
    for (uint32_t c = 0; c < line->cable_count; c++)
        length_m += line->cables_m[c];
    if (length_m <= LENGTH_WARNING_M + ROOM_M)
        return;
    const bool error = length_m > LENGTH_ERROR_M + ROOM_M;
    const double limit_m = error ? LENGTH_ERROR_M : LENGTH_WARNING_M;
    check_put_as(check, error ? SM_ERROR : SM_WARNING, "line-length",
                 (check_place){"lines.csv", line->line, "cables"},
                 (check_figures){FIGURE_FOUND, length_m, limit_m, NULL}, "line %s is %s long; %s %s",
                 line->name, FOUND_M(length_m),
                 error ? "the ceiling commonly quoted is" : "the advice is at most", NEEDED_M(limit_m));
}

// Where cable NUMBER of a line begins: its source, or the fixture before.
static uint32_t position_before(const sm_show *show, const sm_line *line, uint32_t number) {
    if (number == 0)
        return line->source;
    return line->chain[number - 1] != SM_NONE ? show->fixtures[line->chain[number - 1]].position : SM_NONE;
}

static void judge_cables(sm_check *check, const sm_line *line) {
    const sm_show *show = check->show;
    for (uint32_t c = 0; c < line->cable_count && c < line->chain_count; c++) {
        const uint32_t from = position_before(show, line, c);
        const uint32_t fixture = line->chain[c];
        const uint32_t to = fixture != SM_NONE ? show->fixtures[fixture].position : SM_NONE;
        if (from == SM_NONE || to == SM_NONE)
            continue;
        const double ground_m = sm_site_between_m(show, from, to);
        const double needed_m = ground_m + line->slack_m;
        if (line->cables_m[c] >= needed_m - ROOM_M)
            continue;
        check_put(check, "line-cable-short", (check_place){"lines.csv", line->line, "cables"},
                  (check_figures){FIGURE_FOUND, line->cables_m[c], needed_m, NULL},
                  "line %s, cable %u to %s is %s; from %s to %s it is %s on the ground, with slack %s",
                  line->name, c + 1, show->fixtures[fixture].name, FOUND_M(line->cables_m[c]),
                  show->positions[from].name, show->positions[to].name, NEEDED_M(ground_m),
                  NEEDED_M(needed_m));
    }
}

static void judge_universe(sm_check *check, const sm_line *line) {
    const sm_show *show = check->show;
    for (uint32_t i = 0; i < line->chain_count; i++) {
        if (line->chain[i] == SM_NONE)
            continue;
        const sm_fixture *fixture = &show->fixtures[line->chain[i]];
        if (fixture->universe == line->universe)
            continue;
        check_put(check, "universe-mixed", (check_place){"lines.csv", line->line, "chain"},
                  (check_figures){FIGURE_PLAIN, fixture->universe, line->universe, ""},
                  "line %s carries universe %d, %s on it listens to universe %d", line->name, line->universe,
                  fixture->name, fixture->universe);
        return;
    }
}

sm_result check_lines(sm_check *check) {
    for (uint32_t l = 0; l < check->show->line_count; l++) {
        const sm_line *line = &check->show->lines[l];
        judge_loads(check, line);
        judge_length(check, line);
        judge_cables(check, line);
        judge_universe(check, line);
    }
    return SM_OK;
}

// FIRST_LINES[f] is one more than the first line that fixture f is on; 0: on none.
static void judge_twice(sm_check *check, uint32_t number, uint32_t *first_lines) {
    const sm_show *show = check->show;
    const sm_line *line = &show->lines[number];
    for (uint32_t i = 0; i < line->chain_count; i++) {
        const uint32_t fixture = line->chain[i];
        if (fixture == SM_NONE)
            continue;
        if (first_lines[fixture] == 0) {
            first_lines[fixture] = number + 1;
            continue;
        }
        const sm_line *other = &show->lines[first_lines[fixture] - 1];
        check_put(check, "line-twice", (check_place){"lines.csv", line->line, "chain"}, check_no_figures(),
                  "%s is on line %s and on line %s (line %u of the file)", show->fixtures[fixture].name,
                  line->name, other->name, other->line);
    }
}

sm_result check_line_members(sm_check *check) {
    const sm_show *show = check->show;
    if (check_is_incomplete(check, "lines.csv"))
        return SM_OK;
    if (show->line_count == 0) {
        check_put_as(check, SM_NOTE, "line-missing", (check_place){"fixtures.csv", 0, NULL},
                     (check_figures){FIGURE_PLAIN, show->fixture_count, 0.0, "fixtures"},
                     "there is no lines.csv: loads, lengths and cables of the DMX lines are not judged");
        return SM_OK;
    }
    uint32_t *first_lines =
        sm_arena_alloc(check->arena, ((size_t)show->fixture_count + 1) * sizeof *first_lines);
    if (!first_lines)
        return SM_NO_MEMORY;
    for (uint32_t l = 0; l < show->line_count; l++)
        judge_twice(check, l, first_lines);
    for (uint32_t f = 0; f < show->fixture_count; f++)
        if (first_lines[f] == 0)
            check_put(check, "line-missing", (check_place){"fixtures.csv", show->fixtures[f].line, "name"},
                      check_no_figures(), "%s is on no line of lines.csv", show->fixtures[f].name);
    return SM_OK;
}
