// SPDX-License-Identifier: GPL-3.0-or-later
// A short way from place to place.
#include "slowmatch/walk.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// Lengths that differ by less are the same: no turn is worth it, and rounding cannot turn for ever.
#define SAME_M 1e-9

static double between(const sm_walk_point *points, uint32_t a, uint32_t b) {
    return hypot(points[a].x_m - points[b].x_m, points[a].y_m - points[b].y_m);
}

static double length_of(const sm_walk_point *points, const uint32_t *order, uint32_t count) {
    double metres = 0;
    for (uint32_t i = 1; i < count; i++)
        metres += between(points, order[i - 1], order[i]);
    return metres;
}

static void swap(uint32_t *a, uint32_t *b) {
    uint32_t kept = *a;
    *a = *b;
    *b = kept;
}

// From each place to the nearest not yet walked; the first in the table where equal.
static void nearest_first(const sm_walk_point *points, uint32_t count, uint32_t start, uint32_t *order) {
    for (uint32_t i = 0; i < count; i++)
        order[i] = i;
    swap(&order[0], &order[start]);
    for (uint32_t at = 1; at < count; at++) {
        uint32_t best = at;
        for (uint32_t i = at + 1; i < count; i++) {
            double nearer =
                between(points, order[at - 1], order[best]) - between(points, order[at - 1], order[i]);
            if (nearer > SAME_M || (nearer > -SAME_M && order[i] < order[best]))
                best = i;
        }
        swap(&order[at], &order[best]);
    }
}

static void turn_round(uint32_t *order, uint32_t first, uint32_t last) {
    while (first < last)
        swap(&order[first++], &order[last--]);
}

// What is saved by walking the stretch FIRST to LAST the other way round.
static double saved(const sm_walk_point *points, const uint32_t *order, uint32_t count, uint32_t first,
                    uint32_t last) {
    double before = between(points, order[first - 1], order[first]);
    double after = between(points, order[first - 1], order[last]);
    if (last + 1 < count) {
        before += between(points, order[last], order[last + 1]);
        after += between(points, order[first], order[last + 1]);
    }
    return before - after;
}

static bool turn_one(const sm_walk_point *points, uint32_t *order, uint32_t count) {
    for (uint32_t first = 1; first < count; first++)
        for (uint32_t last = first + 1; last < count; last++)
            if (saved(points, order, count, first, last) > SAME_M) {
                turn_round(order, first, last);
                return true;
            }
    return false;
}

// All orders of ORDER[AT...] that are still shorter than the best; the best one stays in BEST.
typedef struct search {
    const sm_walk_point *points;
    uint32_t count;
    uint32_t order[SM_WALK_EXACT_MAX], best[SM_WALK_EXACT_MAX];
    double best_m;
} search;

static void try_all(search *s, uint32_t at, double metres) {
    if (metres > s->best_m - SAME_M)
        return;
    if (at == s->count) {
        s->best_m = metres;
        memcpy(s->best, s->order, sizeof s->best);
        return;
    }
    for (uint32_t i = at; i < s->count; i++) {
        swap(&s->order[at], &s->order[i]);
        try_all(s, at + 1, metres + between(s->points, s->order[at - 1], s->order[at]));
        swap(&s->order[at], &s->order[i]);
    }
}

static void shortest(const sm_walk_point *points, uint32_t count, uint32_t *order) {
    search s = {.points = points, .count = count, .best_m = length_of(points, order, count)};
    memcpy(s.order, order, count * sizeof *order);
    memcpy(s.best, order, count * sizeof *order);
    try_all(&s, 1, 0);
    memcpy(order, s.best, count * sizeof *order);
}

void sm_walk_route(const sm_walk_point *points, uint32_t count, uint32_t start, uint32_t *order,
                   double *metres) {
    nearest_first(points, count, start, order);
    while (turn_one(points, order, count))
        continue;
    if (count <= SM_WALK_EXACT_MAX)
        shortest(points, count, order);
    *metres = length_of(points, order, count);
}
