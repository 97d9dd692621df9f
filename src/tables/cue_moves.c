// SPDX-License-Identifier: GPL-3.0-or-later
// "Everything from T on is d later". Cues that are nowhere to be found at their own time vote for every d at which a cue of the same
// body stands in the other show. For each moment of the old show and each d with most votes it is counted how many of its cues are found
// d later; the way through all moments that finds most, at a price for each change of d, tells what moved (Viterbi 1967).
#include "tables/compare.h"

#include <stdlib.h>
#include <string.h>

enum { VOTES_A_BODY = 2500, ROUNDS = 3, SPANS_A_ROUND = 5 };

typedef struct votes {
    sm_us *by_us;
    size_t count, room;
    bool no_memory;
} votes;

static void vote(votes *in, sm_us by_us) {
    if (in->count == in->room) {
        const size_t room = in->room > 0 ? 2 * in->room : 1024;
        sm_us *const grown = realloc(in->by_us, room * sizeof *grown);
        if (!grown) {
            in->no_memory = true;
            return;
        }
        in->by_us = grown;
        in->room = room;
    }
    in->by_us[in->count++] = by_us;
}

static bool is_found(const cue_matching *matching, const cue_row *cue, sm_us at_us) {
    uint32_t count;
    compare_body_range(&matching->now, cue->body, &at_us, &count);
    return count > 0;
}

// FROM_US: when CUE is in the old show.
static void vote_for(const cue_set *now, const cue_row *cue, sm_us from_us, votes *in) {
    uint32_t count;
    const uint32_t first = compare_body_range(now, cue->body, NULL, &count);
    const uint32_t step = count > VOTES_A_BODY ? count / VOTES_A_BODY + 1 : 1;
    for (uint32_t i = 0; i < count && !in->no_memory; i += step)
        vote(in, now->rows[now->by_body[first + i]].time_us - from_us);
}

static int by_value(const void *a, const void *b) {
    const sm_us first = *(const sm_us *)a, second = *(const sm_us *)b;
    return (first > second) - (first < second);
}

typedef struct tally {
    sm_us by_us;
    size_t votes;
} tally;

static bool is_known(const cue_matching *matching, sm_us by_us) {
    size_t at = 0;
    while (at < matching->span_count && matching->spans_us[at] != by_us)
        at++;
    return at < matching->span_count;
}

// Where a pattern comes again and again every repeat of it has as many votes: the nearest is meant.
static bool is_before(tally a, tally b) {
    return a.votes != b.votes ? a.votes > b.votes : llabs(a.by_us) < llabs(b.by_us);
}

// Puts COUNTED among the BEST, the most votes first.
static void rank(tally best[SPANS_A_ROUND], tally counted) {
    for (size_t i = 0; i < SPANS_A_ROUND; i++)
        if (is_before(counted, best[i])) {
            const tally kept = best[i];
            best[i] = counted;
            counted = kept;
        }
}

// Adds the spans with most votes, two at least.
static void choose_spans(votes *in, cue_matching *matching) {
    tally best[SPANS_A_ROUND] = {0};
    if (in->count > 0)
        qsort(in->by_us, in->count, sizeof *in->by_us, by_value);
    for (size_t i = 0, end; i < in->count; i = end) {
        for (end = i + 1; end < in->count && in->by_us[end] == in->by_us[i];)
            end++;
        if (!is_known(matching, in->by_us[i]))
            rank(best, (tally){in->by_us[i], end - i});
    }
    for (size_t i = 0; i < SPANS_A_ROUND && best[i].votes > 1 && matching->span_count < CUE_SPANS_MAX; i++)
        matching->spans_us[matching->span_count++] = best[i].by_us;
}

static int by_time(const void *a, const void *b, void *context) {
    const cue_row *const rows = context;
    const uint32_t i = *(const uint32_t *)a, k = *(const uint32_t *)b;
    if (rows[i].time_us != rows[k].time_us)
        return rows[i].time_us < rows[k].time_us ? -1 : 1;
    return (i > k) - (i < k);
}

static sm_us moment_at(const cue_matching *matching, uint32_t place) {
    return matching->original[matching->by_time[place]];
}

// The place behind the cues of the same moment as those at FIRST.
static uint32_t behind_moment(const cue_matching *matching, uint32_t first) {
    uint32_t end = first + 1;
    while (end < matching->old.count && moment_at(matching, end) == moment_at(matching, first))
        end++;
    return end;
}

static bool reserve(cue_matching *matching) {
    const size_t room = (size_t)matching->old.count + 1;
    matching->by_time = sm_arena_alloc(matching->arena, room * sizeof *matching->by_time);
    matching->original = sm_arena_alloc(matching->arena, room * sizeof *matching->original);
    matching->moves = sm_arena_alloc(matching->arena, room * sizeof *matching->moves);
    matching->found = sm_arena_alloc(matching->arena, room * sizeof *matching->found);
    matching->before = sm_arena_alloc(matching->arena, room * sizeof *matching->before);
    matching->now_by_time =
        sm_arena_alloc(matching->arena, ((size_t)matching->now.count + 1) * sizeof *matching->now_by_time);
    return matching->now_by_time && matching->by_time && matching->original && matching->moves &&
           matching->found && matching->before;
}

// ---- the way through all moments --------------------------------------------------------

// Where the way to span TO at the place FIRST comes from. To begin another move costs PRICE, to end one nothing.
static size_t come_from(const cue_matching *matching, const int64_t *best, size_t to, int64_t price) {
    size_t from = to;
    for (size_t k = 0; k < matching->span_count; k++) {
        const int64_t stay = best[from] - (from != to && to != 0 ? price : 0);
        if (best[k] - (k != to && to != 0 ? price : 0) > stay)
            from = k;
    }
    return from;
}

static void walk_on(cue_matching *matching, uint32_t first, uint32_t end, int64_t *best, int64_t price) {
    int64_t next[CUE_SPANS_MAX];
    for (size_t to = 0; to < matching->span_count; to++) {
        const size_t from = first > 0 ? come_from(matching, best, to, price) : 0;
        next[to] = best[from] - (from != to && to != 0 ? price : 0);
        for (uint32_t i = first; i < end; i++) {
            next[to] += matching->found[i].spans[to];
            matching->before[i].spans[to] = (uint8_t)(i == first ? from : to);
        }
    }
    memcpy(best, next, sizeof next[0] * matching->span_count);
}

static void move_back_from(cue_matching *matching, size_t span) {
    for (uint32_t i = matching->old.count; i-- > 0;) {
        cue_row *const cue = &matching->old.rows[matching->by_time[i]];
        cue->moved_us = matching->spans_us[span];
        cue->time_us = moment_at(matching, i) + cue->moved_us;
        span = matching->before[i].spans[span];
    }
}

static void list_moves(cue_matching *matching) {
    const uint32_t count = matching->old.count;
    matching->move_count = 0;
    for (uint32_t i = 0, end; i < count; i = end) {
        const sm_us by_us = matching->old.rows[matching->by_time[i]].moved_us;
        for (end = i + 1; end < count && matching->old.rows[matching->by_time[end]].moved_us == by_us;)
            end++;
        if (by_us != 0)
            matching->moves[matching->move_count++] = (cue_move){
                moment_at(matching, i), moment_at(matching, end - 1), by_us, end == count, end - i};
    }
}

void compare_take_moves(cue_matching *matching, int64_t price) {
    int64_t best[CUE_SPANS_MAX] = {0};
    size_t last = 0;
    for (uint32_t i = 0, end; i < matching->old.count; i = end) {
        end = behind_moment(matching, i);
        walk_on(matching, i, end, best, price);
    }
    for (size_t i = 1; i < matching->span_count; i++)
        if (best[i] >= best[last]) // a move that nothing ends goes on
            last = i;
    move_back_from(matching, last);
    list_moves(matching);
}

// ---- rounds -------------------------------------------------------------------------------

// A cue that was changed is not found anywhere; one that has most of it in common, at that moment, tells a little where it went.
static bool is_nearly_found(const cue_matching *matching, const cue_row *cue, sm_us at_us) {
    uint32_t low = 0, high = matching->now.count;
    while (low < high) {
        const uint32_t middle = low + (high - low) / 2;
        if (matching->now.rows[matching->now_by_time[middle]].time_us < at_us)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low < matching->now.count; low++) {
        const cue_row *const other = &matching->now.rows[matching->now_by_time[low]];
        size_t same = 0;
        if (other->time_us != at_us)
            break;
        for (size_t part = 0; part < CUE_PARTS; part++)
            same += other->parts[part] == cue->parts[part];
        if (same + 1 == CUE_PARTS)
            return true;
    }
    return false;
}

static void look_for_all(cue_matching *matching) {
    for (uint32_t i = 0; i < matching->old.count; i++)
        for (size_t k = 0; k < matching->span_count; k++) {
            const cue_row *const cue = &matching->old.rows[matching->by_time[i]];
            const sm_us at_us = moment_at(matching, i) + matching->spans_us[k];
            matching->found[i].spans[k] = is_found(matching, cue, at_us)          ? CUE_FOUND
                                          : is_nearly_found(matching, cue, at_us) ? 1
                                                                                  : 0;
        }
}

// What is not found where the moves so far put it votes for more spans. False: there are no more.
static bool hold_round(cue_matching *matching, votes *in) {
    const size_t before = matching->span_count;
    in->count = 0;
    for (uint32_t i = 0; i < matching->old.count; i++) {
        const cue_row *const cue = &matching->old.rows[matching->by_time[i]];
        if (!is_found(matching, cue, cue->time_us))
            vote_for(&matching->now, cue, moment_at(matching, i), in);
    }
    choose_spans(in, matching);
    look_for_all(matching);
    compare_take_moves(matching, CUE_FOUND);
    return matching->span_count > before && !in->no_memory;
}

// Pairs that differ in their time alone vote too.
bool compare_more_moves(cue_matching *matching) {
    votes in = {0};
    const size_t before = matching->span_count;
    for (uint32_t i = 0; i < matching->old.count; i++) {
        const cue_row *const cue = &matching->old.rows[i];
        const cue_row *const now = cue->match != SM_NONE ? &matching->now.rows[cue->match] : NULL;
        if (now && now->body == cue->body && now->time_us != cue->time_us)
            vote(&in, now->time_us - (cue->time_us - cue->moved_us));
    }
    if (!in.no_memory)
        choose_spans(&in, matching);
    look_for_all(matching);
    free(in.by_us);
    return matching->span_count > before;
}

sm_result compare_find_moves(cue_matching *matching) {
    votes in = {0};
    if (!reserve(matching))
        return SM_NO_MEMORY;
    for (uint32_t i = 0; i < matching->old.count; i++) {
        matching->by_time[i] = i;
        matching->original[i] = matching->old.rows[i].time_us;
    }
    qsort_r(matching->by_time, matching->old.count, sizeof *matching->by_time, by_time, matching->old.rows);
    for (uint32_t i = 0; i < matching->now.count; i++)
        matching->now_by_time[i] = i;
    qsort_r(matching->now_by_time, matching->now.count, sizeof *matching->now_by_time, by_time,
            matching->now.rows);
    matching->span_count = 1;
    for (int i = 0; i < ROUNDS && hold_round(matching, &in); i++) {
    }
    free(in.by_us);
    return in.no_memory ? SM_NO_MEMORY : SM_OK;
}
