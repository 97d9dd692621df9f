// SPDX-License-Identifier: GPL-3.0-or-later
// The account of cues.csv, in words.
#include "tables/compare.h"

#include <stdlib.h>
#include <string.h>

typedef struct telling {
    sm_compare *compare;
    cue_matching matching;
    size_t time, note, id; // columns
    size_t parts[CUE_PARTS];
} telling;

static const char *id_of(const telling *in, const cue_set *set, const cue_row *cue) {
    char ordinal[16] = "";
    sm_text text = SM_TEXT_IN(ordinal);
    const char *const id = cue->row->cells[in->id];
    if (id[0] != '\0')
        return id;
    sm_text_printf(&text, "%zu", (size_t)(cue - set->rows) + 1);
    return compare_keep(in->compare, sm_text_get(&text));
}

static const char *by_text(sm_us by_us, char buffer[48]) {
    const sm_us size = by_us < 0 ? -by_us : by_us;
    char digits[24];
    sm_us_format(digits, size);
    char *end = digits + strlen(digits);
    while (end[-1] == '0')
        *--end = '\0';
    if (end[-1] == '.')
        end[-1] = '\0';
    sm_text out = {.bytes = buffer, .capacity = 48, .lent = true};
    buffer[0] = '\0';
    sm_text_printf(&out, "%s s %s", digits, by_us < 0 ? "earlier" : "later");
    return buffer;
}

static void tell_move(telling *in, const cue_move *move) {
    char from[24], until[24], by[48];
    sm_clock_format(from, move->from_us);
    sm_clock_format(until, move->until_us);
    by_text(move->by_us, by);
    const account_line line = {.kind = "move",
                               .was = compare_keep(in->compare, from),
                               .now = move->is_open ? NULL : compare_keep(in->compare, until),
                               .what = compare_keep(in->compare, by)};
    if (move->cues == 1)
        compare_add(in->compare, line, "the cue at %s is %s", from, by);
    else
        compare_add(in->compare, line, "everything from %s %s%s is %s: %u cues", from,
                    move->is_open ? "on" : "to ", move->is_open ? "" : until, by, (unsigned)move->cues);
}

static void hear(telling *in, const char *where, const char *id) {
    char room[160] = "";
    sm_text thing = SM_TEXT_IN(room);
    sm_text_printf(&thing, "%s (cue %s)", where, id);
    compare_again(in->compare, AGAIN_HEAR, sm_text_get(&thing));
    sm_text_deinit(&thing);
}

static void tell_time(telling *in, const account_line *line, const cue_row *old, const cue_row *now) {
    char by[48];
    const sm_us away_us = now->time_us - (old->time_us - old->moved_us);
    if (away_us == 0)
        compare_add(in->compare, *line, "%s (cue %s): stays at %s", line->where, line->name, line->now);
    else
        compare_add(in->compare, *line, "%s (cue %s): %s, at %s (was %s)", line->where, line->name,
                    by_text(away_us, by), line->now, line->was);
    hear(in, line->where, line->name);
}

static const char *or_nothing(const char *text) {
    return text[0] != '\0' ? text : "nothing";
}

// What only the order of targets and spellings tells is no change.
static void tell_part(telling *in, account_line line, const char *column, size_t number, const cue_row *old,
                      const cue_row *now) {
    line.what = column;
    line.was = old->row->cells[number];
    line.now = now->row->cells[number];
    if (strcmp(column, "target") == 0)
        compare_add(in->compare, line, "%s (cue %s): now at %s", line.where, line.name, line.now);
    else
        compare_add(in->compare, line, "%s (cue %s): %s now %s, was %s", line.where, line.name, column,
                    or_nothing(line.now), or_nothing(line.was));
}

static void tell_pair(telling *in, const cue_row *old, const cue_row *now) {
    const account_line line = {.kind = "cue",
                               .file = "cues.csv",
                               .name = id_of(in, &in->matching.now, now),
                               .where = old->row->cells[in->parts[CUE_TARGET]]};
    if (old->time_us != now->time_us) {
        account_line moved = line;
        moved.what = "time";
        moved.was = old->row->cells[in->time];
        moved.now = now->row->cells[in->time];
        tell_time(in, &moved, old, now);
    }
    for (size_t i = 0; i < CUE_PARTS; i++)
        if (old->parts[i] != now->parts[i])
            tell_part(in, line, compare_part_names[i], in->parts[i], old, now);
    if (old->note != now->note)
        tell_part(in, line, "note", in->note, old, now);
}

static void tell_alone(telling *in, const cue_set *set, const cue_row *cue, bool added) {
    const char *const target = cue->row->cells[in->parts[CUE_TARGET]];
    const account_line line = {.kind = "cue",
                               .file = "cues.csv",
                               .name = id_of(in, set, cue),
                               .where = target,
                               .what = added ? "added" : "dropped"};
    compare_add(in->compare, line, "%s (cue %s): %s, %s at %s", target, line.name, line.what,
                cue->row->cells[in->parts[CUE_DO]], cue->row->cells[in->time]);
    hear(in, target, line.name);
}

static void tell_moves(telling *in) {
    for (size_t i = 0; i < in->matching.move_count; i++)
        tell_move(in, &in->matching.moves[i]);
    const cue_set *const old = &in->matching.old;
    for (uint32_t i = 0; i < old->count; i++)
        if (old->rows[i].moved_us != 0 && old->rows[i].match != SM_NONE &&
            in->matching.now.rows[old->rows[i].match].time_us == old->rows[i].time_us)
            hear(in, old->rows[i].row->cells[in->parts[CUE_TARGET]],
                 id_of(in, &in->matching.now, &in->matching.now.rows[old->rows[i].match]));
}

// Ids that were given anew change nothing that happens: one line for all.
static void tell_ids(telling *in) {
    unsigned count = 0;
    for (uint32_t i = 0; i < in->matching.old.count; i++) {
        const cue_row *const old = &in->matching.old.rows[i];
        count += old->match != SM_NONE && old->id != in->matching.now.rows[old->match].id;
    }
    if (count > 0)
        compare_add(in->compare, (account_line){.kind = "ids", .file = "cues.csv", .what = "id"},
                    "%u cue%s another id", count, count == 1 ? " has" : "s have");
}

static void tell_all(telling *in) {
    const cue_matching *const matching = &in->matching;
    tell_moves(in);
    for (uint32_t i = 0; i < matching->old.count; i++) {
        const cue_row *const old = &matching->old.rows[i];
        if (old->match == SM_NONE)
            tell_alone(in, &matching->old, old, false);
        else
            tell_pair(in, old, &matching->now.rows[old->match]);
    }
    for (uint32_t i = 0; i < matching->now.count; i++)
        if (matching->now.rows[i].match == SM_NONE)
            tell_alone(in, &matching->now, &matching->now.rows[i], true);
    tell_ids(in);
}

static size_t count_pair(const cue_row *old, const cue_row *now) {
    size_t count = (size_t)(old->time_us != now->time_us) + (size_t)(old->note != now->note);
    for (size_t i = 0; i < CUE_PARTS; i++)
        count += old->parts[i] != now->parts[i];
    return count;
}

// How many lines the account takes.
static size_t count_lines(const cue_matching *matching) {
    size_t count = matching->move_count, pairs = 0;
    for (uint32_t i = 0; i < matching->old.count; i++) {
        const cue_row *const old = &matching->old.rows[i];
        pairs += old->match != SM_NONE;
        count += old->match != SM_NONE ? count_pair(old, &matching->now.rows[old->match]) : 1;
    }
    return count + matching->now.count - pairs;
}

static const int64_t prices[] = {INT64_MAX / 4, INT64_C(3) * CUE_FOUND, INT64_C(2) * CUE_FOUND,
                                 CUE_FOUND}; // the first: no move
enum { PRICES = sizeof prices / sizeof prices[0], ROUNDS = 3 };

static sm_result match_at(cue_matching *matching, int64_t price) {
    compare_take_moves(matching, price);
    return compare_match(matching);
}

// With the price of a move that makes the account shortest: where much repeats itself, a move may be found that never was.
static sm_result match_best(cue_matching *matching) {
    size_t best = 0, least = SIZE_MAX;
    sm_result result = SM_OK;
    for (size_t i = 0; i < PRICES && result == SM_OK && (i == 0 || matching->span_count > 1); i++) {
        result = match_at(matching, prices[i]);
        const size_t count = count_lines(matching);
        if (count < least) {
            least = count;
            best = i;
        }
    }
    return result == SM_OK && best + 1 < PRICES ? match_at(matching, prices[best]) : result;
}

static sm_result match_shortest(cue_matching *matching) {
    sm_result result = compare_find_moves(matching);
    if (result == SM_OK)
        result = match_best(matching);
    for (int i = 1; i < ROUNDS && result == SM_OK && compare_more_moves(matching); i++)
        result = match_best(matching);
    return result;
}

sm_result compare_cues(sm_compare *compare) {
    telling in = {.compare = compare,
                  .matching = {.arena = compare->arena},
                  .time = compare_cue_column("time"),
                  .note = compare_cue_column("note"),
                  .id = compare_cue_column("id")};
    for (size_t i = 0; i < CUE_PARTS; i++)
        in.parts[i] = compare_cue_column(compare_part_names[i]);
    sm_result result = compare_cues_read(compare->old, compare->now, &in.matching);
    if (result == SM_OK)
        result = match_shortest(&in.matching);
    if (result != SM_OK)
        return result;
    compare->is_greedy = in.matching.is_greedy;
    tell_all(&in);
    return SM_OK;
}
