// SPDX-License-Identifier: GPL-3.0-or-later
// Rows are added one by one. Potentials u (rows) and v (columns) keep every reduced cost cost - u - v at or
// above 0, and at 0 on assigned pairs; a new row looks for the shortest path of reduced costs to a free
// column, and the assignments along that path are turned over. Index 0 of rows and columns stands for "none",
// so everything counts from 1.
#include "slowmatch/assign.h"

#include <assert.h>
#include <math.h>

typedef struct assignment {
    const double *costs;
    uint32_t n;
    double *u, *v;
    double *least;    // per column: length of the shortest path found to it
    uint32_t *row_of; // per column: assigned row
    uint32_t *from;   // per column: column before it on that path
    bool *reached;    // per column: path is final
} assignment;

static bool assignment_init(assignment *a, const double *costs, uint32_t n, sm_arena *arena) {
    size_t room = (size_t)n + 1;
    *a = (assignment){
        .costs = costs,
        .n = n,
        .u = sm_arena_alloc(arena, room * sizeof *a->u),
        .v = sm_arena_alloc(arena, room * sizeof *a->v),
        .least = sm_arena_alloc(arena, room * sizeof *a->least),
        .row_of = sm_arena_alloc(arena, room * sizeof *a->row_of),
        .from = sm_arena_alloc(arena, room * sizeof *a->from),
        .reached = sm_arena_alloc(arena, room * sizeof *a->reached),
    };
    return a->u && a->v && a->least && a->row_of && a->from && a->reached;
}

// Shortens paths by way of COLUMN, settles the nearest open column and returns it.
static uint32_t reach_next(assignment *a, uint32_t column) {
    uint32_t row = a->row_of[column], next = 0;
    double step = INFINITY;
    for (uint32_t j = 1; j <= a->n; j++) {
        if (a->reached[j])
            continue;
        double reduced = a->costs[(size_t)(row - 1) * a->n + (j - 1)] - a->u[row] - a->v[j];
        if (reduced < a->least[j]) {
            a->least[j] = reduced;
            a->from[j] = column;
        }
        if (a->least[j] < step) {
            step = a->least[j];
            next = j;
        }
    }
    assert(next != 0); // there are as many columns as rows: one is left
    for (uint32_t j = 0; j <= a->n; j++) {
        if (a->reached[j]) {
            a->u[a->row_of[j]] += step;
            a->v[j] -= step;
        } else {
            a->least[j] -= step;
        }
    }
    return next;
}

static void add_row(assignment *a, uint32_t row) {
    for (uint32_t j = 0; j <= a->n; j++) {
        a->least[j] = INFINITY;
        a->reached[j] = false;
    }
    a->row_of[0] = row;
    uint32_t column = 0;
    do {
        a->reached[column] = true;
        column = reach_next(a, column);
    } while (a->row_of[column] != 0);
    while (column != 0) {
        a->row_of[column] = a->row_of[a->from[column]];
        column = a->from[column];
    }
}

sm_result sm_assign(const double *costs, uint32_t n, sm_arena *arena, uint32_t *column_of) {
    assignment a;
    if (!assignment_init(&a, costs, n, arena))
        return SM_NO_MEMORY;
    for (uint32_t row = 1; row <= n; row++)
        add_row(&a, row);
    for (uint32_t column = 1; column <= n; column++) {
        assert(a.row_of[column] >= 1 && a.row_of[column] <= n);
        column_of[a.row_of[column] - 1] = column - 1;
    }
    return SM_OK;
}
