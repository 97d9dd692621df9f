// SPDX-License-Identifier: GPL-3.0-or-later
// Which cue became which: first those that are equal, then those that are equal but for the note, ids only breaking ties; what is left
// over is assigned at the least cost.
#include "tables/compare.h"

#include "slowmatch/assign.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

// What a difference costs. A cue that is dropped or added costs 1, so a pair is never worth more than 2.
static const double part_costs[] = {
    [CUE_TARGET] = 1,     [CUE_DO] = 1,     [CUE_FADE] = 0.5, [CUE_LASTS] = 0.5,
    [CUE_IGNITERS] = 0.5, [CUE_WIRE] = 0.5, [CUE_AIM] = 0.5,
};
static_assert(sizeof part_costs / sizeof part_costs[0] == CUE_PARTS, "a cost for each part");
#define TIME_COST 1.0
#define NOTE_COST 0.2
#define ALONE_COST 1.0
#define ID_BONUS 0.05
// Of two pairs that cost the same the one with the nearer moments is taken.
#define NEARNESS_A_SECOND 1e-5
#define NEARNESS_MOST 0.01

static void pair(cue_matching *in, uint32_t old, uint32_t now) {
    in->old.rows[old].match = now;
    in->now.rows[now].match = old;
}

// ---- equal ones -----------------------------------------------------------------------

static bool is_same(const cue_row *a, const cue_row *b, bool with_note, bool with_id) {
    return (!with_note || a->note == b->note) && (!with_id || (a->id == b->id && a->id != 0));
}

// Old cues by their number; of several equal ones the first that is free.
static void match_equal(cue_matching *in, bool with_note, bool with_id) {
    for (uint32_t i = 0; i < in->old.count; i++) {
        const cue_row *const cue = &in->old.rows[i];
        uint32_t count;
        if (cue->match != SM_NONE)
            continue;
        const uint32_t first = compare_body_range(&in->now, cue->body, &cue->time_us, &count);
        for (uint32_t k = 0; k < count; k++) {
            const uint32_t other = in->now.by_body[first + k];
            if (in->now.rows[other].match == SM_NONE &&
                is_same(cue, &in->now.rows[other], with_note, with_id)) {
                pair(in, i, other);
                break;
            }
        }
    }
}

// ---- the rest ---------------------------------------------------------------------------

static double cost_of(const cue_row *old, const cue_row *now) {
    double cost = old->time_us != now->time_us ? TIME_COST : 0;
    for (size_t i = 0; i < CUE_PARTS; i++)
        cost += old->parts[i] != now->parts[i] ? part_costs[i] : 0;
    cost += old->note != now->note ? NOTE_COST : 0;
    const bool same_id = old->id == now->id && old->id != 0;
    if (cost > 2 * ALONE_COST || (cost > 2 * ALONE_COST - 0.01 && !same_id))
        return 2 * ALONE_COST;
    const double away_s = fabs((double)(now->time_us - old->time_us)) / (double)SM_US_PER_S;
    return cost - (same_id ? ID_BONUS : 0) + fmin(NEARNESS_MOST, away_s * NEARNESS_A_SECOND);
}

static uint32_t list_left(const cue_set *set, uint32_t *out) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < set->count; i++)
        if (set->rows[i].match == SM_NONE)
            out[count++] = i;
    return count;
}

static sm_result assign_left(cue_matching *in, const uint32_t *old, uint32_t old_count, const uint32_t *now,
                             uint32_t now_count) {
    const uint32_t n = old_count > now_count ? old_count : now_count;
    double *const costs = sm_arena_alloc(in->arena, ((size_t)n * n + 1) * sizeof *costs);
    uint32_t *const column_of = sm_arena_alloc(in->arena, ((size_t)n + 1) * sizeof *column_of);
    if (!costs || !column_of)
        return SM_NO_MEMORY;
    for (uint32_t i = 0; i < n; i++)
        for (uint32_t k = 0; k < n; k++)
            costs[(size_t)i * n + k] = i < old_count && k < now_count
                                           ? cost_of(&in->old.rows[old[i]], &in->now.rows[now[k]])
                                           : ALONE_COST;
    const sm_result result = sm_assign(costs, n, in->arena, column_of);
    for (uint32_t i = 0; i < old_count && result == SM_OK; i++)
        if (column_of[i] < now_count && costs[(size_t)i * n + column_of[i]] < 2 * ALONE_COST)
            pair(in, old[i], now[column_of[i]]);
    return result;
}

// What two cues may have in common, the most telling first: a key of a cue, so that equal keys can lie together.
typedef struct key {
    uint64_t value;
    uint32_t row;
} key;

enum { KEYS = 5 };

static uint64_t key_of(const cue_row *cue, int which) {
    const uint64_t target = cue->parts[CUE_TARGET], what = cue->parts[CUE_DO];
    const uint64_t time = (uint64_t)cue->time_us * UINT64_C(11400714819323198485);
    switch (which) {
    case 0:
        return cue->id != 0 ? cue->id : UINT64_MAX;
    case 1:
        return target << 32 | what;
    case 2:
        return time ^ target << 1;
    case 3:
        return time ^ what << 33;
    default:
        return target;
    }
}

static int by_key(const void *a, const void *b) {
    const key *const first = a, *const second = b;
    if (first->value != second->value)
        return first->value < second->value ? -1 : 1;
    return (first->row > second->row) - (first->row < second->row);
}

static uint32_t list_keys(const cue_set *set, int which, key *out) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < set->count; i++)
        if (set->rows[i].match == SM_NONE && key_of(&set->rows[i], which) != UINT64_MAX)
            out[count++] = (key){key_of(&set->rows[i], which), i};
    qsort(out, count, sizeof *out, by_key);
    return count;
}

// Cues with the same key in their order, each with the next.
static sm_result match_greedily(cue_matching *in) {
    key *const old = sm_arena_alloc(in->arena, ((size_t)in->old.count + 1) * sizeof *old);
    key *const now = sm_arena_alloc(in->arena, ((size_t)in->now.count + 1) * sizeof *now);
    if (!old || !now)
        return SM_NO_MEMORY;
    in->is_greedy = true;
    for (int which = 0; which < KEYS; which++) {
        const uint32_t old_count = list_keys(&in->old, which, old),
                       now_count = list_keys(&in->now, which, now);
        for (uint32_t i = 0, k = 0; i < old_count && k < now_count;) {
            const bool is_equal = old[i].value == now[k].value;
            if (is_equal && cost_of(&in->old.rows[old[i].row], &in->now.rows[now[k].row]) < 2 * ALONE_COST)
                pair(in, old[i].row, now[k].row);
            const bool old_first = old[i].value < now[k].value;
            i += is_equal || old_first;
            k += is_equal || !old_first;
        }
    }
    return SM_OK;
}

static void forget(cue_set *set) {
    for (uint32_t i = 0; i < set->count; i++)
        set->rows[i].match = SM_NONE;
}

sm_result compare_match(cue_matching *in) {
    forget(&in->old);
    forget(&in->now);
    in->is_greedy = false;
    for (int with_note = 1; with_note >= 0; with_note--)
        for (int with_id = 1; with_id >= 0; with_id--)
            match_equal(in, with_note, with_id);
    uint32_t *const old = sm_arena_alloc(in->arena, ((size_t)in->old.count + 1) * sizeof *old);
    uint32_t *const now = sm_arena_alloc(in->arena, ((size_t)in->now.count + 1) * sizeof *now);
    if (!old || !now)
        return SM_NO_MEMORY;
    const uint32_t old_count = list_left(&in->old, old), now_count = list_left(&in->now, now);
    if (old_count > CUES_EXACT_MAX || now_count > CUES_EXACT_MAX)
        return match_greedily(in);
    return old_count > 0 && now_count > 0 ? assign_left(in, old, old_count, now, now_count) : SM_OK;
}
