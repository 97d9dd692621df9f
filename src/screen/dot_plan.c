// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/dot_plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// Far outside of any plan, and well inside of int.
#define DOT_LIMIT 1e8

void sm_plan_bounds_add(sm_plan_bounds *bounds, double x_m, double y_m) {
    bounds->left_m = fmin(bounds->left_m, x_m);
    bounds->right_m = fmax(bounds->right_m, x_m);
    bounds->near_m = fmin(bounds->near_m, y_m);
    bounds->far_m = fmax(bounds->far_m, y_m);
}

void sm_plan_deinit(sm_plan *plan) {
    free(plan->dots);
    free(plan->looks);
    free(plan->taken);
    *plan = (sm_plan){0};
}

double sm_plan_scale(const sm_plan_bounds *bounds, int columns, int rows) {
    // The middles of the outermost dots are one dot less apart than there are dots.
    double across = (bounds->right_m - bounds->left_m) / (columns * SM_PLAN_DOTS_ACROSS - 1);
    double down = (bounds->far_m - bounds->near_m) / (rows * SM_PLAN_DOTS_DOWN - 1);
    double scale = fmax(across, down);
    return scale > 0 ? scale : 1;
}

static bool make_room(sm_plan *plan, size_t cells) {
    if (plan->room >= cells)
        return true;
    sm_plan_deinit(plan);
    plan->dots = malloc(cells);
    plan->looks = malloc(cells);
    plan->taken = malloc(cells);
    if (!plan->dots || !plan->looks || !plan->taken) {
        sm_plan_deinit(plan);
        return false;
    }
    plan->room = cells;
    return true;
}

sm_result sm_plan_fit(sm_plan *plan, const sm_plan_bounds *bounds, int columns, int rows) {
    size_t cells = (size_t)columns * (size_t)rows;
    if (!make_room(plan, cells))
        return SM_NO_MEMORY;
    memset(plan->dots, 0, cells);
    memset(plan->looks, SM_LOOK_PLAIN, cells);
    memset(plan->taken, 0, cells);
    plan->columns = columns;
    plan->rows = rows;
    plan->metres_a_dot = sm_plan_scale(bounds, columns, rows);
    double across_m = (columns * SM_PLAN_DOTS_ACROSS - 1) * plan->metres_a_dot;
    double down_m = (rows * SM_PLAN_DOTS_DOWN - 1) * plan->metres_a_dot;
    plan->left_m = (bounds->left_m + bounds->right_m - across_m) / 2;
    plan->far_m = (bounds->near_m + bounds->far_m + down_m) / 2;
    return SM_OK;
}

static int to_dot(double dots) {
    return (int)lround(fmin(fmax(dots, -DOT_LIMIT), DOT_LIMIT));
}

sm_plan_dot sm_plan_at(const sm_plan *plan, double x_m, double y_m) {
    return (sm_plan_dot){to_dot((x_m - plan->left_m) / plan->metres_a_dot),
                         to_dot((plan->far_m - y_m) / plan->metres_a_dot)};
}

void sm_plan_set(sm_plan *plan, sm_plan_dot dot, sm_look look) {
    // The bits of U+2800 to U+28FF: dots 1 to 3 and 7 down the left column, 4 to 6 and 8 down the right one.
    static const uint8_t bits[SM_PLAN_DOTS_ACROSS][SM_PLAN_DOTS_DOWN] = {{0x01, 0x02, 0x04, 0x40},
                                                                         {0x08, 0x10, 0x20, 0x80}};
    if (dot.x < 0 || dot.y < 0 || dot.x >= plan->columns * SM_PLAN_DOTS_ACROSS ||
        dot.y >= plan->rows * SM_PLAN_DOTS_DOWN)
        return;
    size_t cell =
        (size_t)(dot.y / SM_PLAN_DOTS_DOWN) * (size_t)plan->columns + (size_t)(dot.x / SM_PLAN_DOTS_ACROSS);
    plan->dots[cell] |= bits[dot.x % SM_PLAN_DOTS_ACROSS][dot.y % SM_PLAN_DOTS_DOWN];
    plan->looks[cell] = (uint8_t)look;
}

static int between(int value, int low, int high) {
    return value < low ? low : value > high ? high : value;
}

void sm_plan_line(sm_plan *plan, sm_plan_dot from, sm_plan_dot to, int step, sm_look look) {
    int right = plan->columns * SM_PLAN_DOTS_ACROSS, bottom = plan->rows * SM_PLAN_DOTS_DOWN;
    int x0 = between(from.x, 0, right), x1 = between(to.x, 0, right);
    int y0 = between(from.y, 0, bottom), y1 = between(to.y, 0, bottom);
    if (from.y == to.y)
        for (int x = x0 < x1 ? x0 : x1; x <= (x0 < x1 ? x1 : x0); x += step)
            sm_plan_set(plan, (sm_plan_dot){x, from.y}, look);
    else
        for (int y = y0 < y1 ? y0 : y1; y <= (y0 < y1 ? y1 : y0); y += step)
            sm_plan_set(plan, (sm_plan_dot){from.x, y}, look);
}

void sm_plan_ring(sm_plan *plan, sm_plan_dot centre, double radius, sm_look look) {
    // Row by row and column by column, so that a ring of any size costs no more than the plan has dots.
    int right = plan->columns * SM_PLAN_DOTS_ACROSS, bottom = plan->rows * SM_PLAN_DOTS_DOWN;
    for (int x = 0; x < right; x++) {
        double across = x - centre.x, rest = radius * radius - across * across;
        if (rest >= across * across && x % 3 == 0) { // where the ring is nearer to level than to upright
            int down = to_dot(sqrt(rest));
            sm_plan_set(plan, (sm_plan_dot){x, centre.y - down}, look);
            sm_plan_set(plan, (sm_plan_dot){x, centre.y + down}, look);
        }
    }
    for (int y = 0; y < bottom; y++) {
        double down = y - centre.y, rest = radius * radius - down * down;
        if (rest >= down * down && y % 3 == 0) {
            int across = to_dot(sqrt(rest));
            sm_plan_set(plan, (sm_plan_dot){centre.x - across, y}, look);
            sm_plan_set(plan, (sm_plan_dot){centre.x + across, y}, look);
        }
    }
}

void sm_plan_draw(const sm_plan *plan, sm_area area) {
    for (int y = 0; y < plan->rows; y++) {
        for (int x = 0; x < plan->columns; x++) {
            size_t cell = (size_t)y * (size_t)plan->columns + (size_t)x;
            unsigned dots = plan->dots[cell];
            if (dots) { // U+2800 + dots in UTF-8
                const char text[] = {(char)0xE2, (char)(0xA0 + (dots >> 6)), (char)(0x80 + (dots & 0x3F)),
                                     '\0'};
                sm_area_text(area, x, y, (sm_look)plan->looks[cell], text);
            }
        }
    }
}

bool sm_plan_is_free(const sm_plan *plan, int x, int y, int columns) {
    if (x < 0 || y < 0 || y >= plan->rows || columns > plan->columns - x)
        return false;
    const uint8_t *row = plan->taken + (size_t)y * (size_t)plan->columns;
    for (int i = 0; i < columns; i++)
        if (row[x + i])
            return false;
    return true;
}

void sm_plan_take(sm_plan *plan, int x, int y, int columns) {
    for (int i = 0; i < columns; i++)
        if (x + i >= 0 && x + i < plan->columns && y >= 0 && y < plan->rows)
            plan->taken[(size_t)y * (size_t)plan->columns + (size_t)(x + i)] = 1;
}

double sm_plan_round_metres(double metres) {
    double power = pow(10, floor(log10(metres)));
    double times = metres / power;
    // A hair of room, as powers of ten below 1 are not exact.
    return power * (times >= 5 - 1e-9 ? 5 : times >= 2 - 1e-9 ? 2 : 1);
}
