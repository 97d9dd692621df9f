// SPDX-License-Identifier: GPL-3.0-or-later
// Drawing the plan. First all dots; then the names, which depend on nothing that moves, so that they stand still; then
// what is done at each place, where there is still room: in words, else in letters, else one letter in place of the dot.
#include "boards/ground/ground.h"

#include "slowmatch/site.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// From so many rows on a place is a cross of dots instead of a single one.
#define CROSS_ROWS 8
// From so many columns on what is done is said in words.
#define WORDS_COLUMNS 60

void sm_ground_plan_deinit(sm_ground_plan *drawn) {
    sm_plan_deinit(&drawn->plan);
    sm_plan_deinit(&drawn->bar);
    free(drawn->labels);
    *drawn = (sm_ground_plan){0};
}

sm_plan_bounds sm_ground_bounds(const sm_show *show) {
    double front = show->settings.audience_m;
    sm_plan_bounds bounds = {0, 0, front, front};
    for (uint32_t p = 0; p < show->position_count; p++) {
        const sm_position *position = &show->positions[p];
        if (p == 0)
            bounds.left_m = bounds.right_m = position->x_m;
        sm_plan_bounds_add(&bounds, position->x_m, position->y_m);
    }
    return bounds;
}

static sm_plan_dot dot_of(const sm_plan *plan, const sm_show *show, uint32_t place) {
    return sm_plan_at(plan, show->positions[place].x_m, show->positions[place].y_m);
}

static uint32_t place_under(const sm_ground *ground, uint32_t cursor) {
    return cursor < ground->unit_count ? ground->units[cursor].position : SM_NONE;
}

// ---- dots ------------------------------------------------------------------------------------------

static void set_at(sm_plan *plan, sm_plan_dot dot, int x, int y, sm_look look) {
    sm_plan_set(plan, (sm_plan_dot){dot.x + x, dot.y + y}, look);
}

// A place by itself is a cross; the more is done there, the more dots it has.
static void draw_mark(sm_plan *plan, sm_plan_dot dot, const sm_doing *doing, sm_look look) {
    int arm = plan->rows >= CROSS_ROWS ? 1 : 0;
    if (doing->burning > doing->aerials || doing->percent >= 50)
        arm++;
    for (int i = -arm; i <= arm; i++) {
        set_at(plan, dot, i, 0, look);
        set_at(plan, dot, 0, i, look);
    }
    for (int i = 1; doing->lit > 0 && i <= 2; i++) {
        set_at(plan, dot, -1, -i, look);
        set_at(plan, dot, 1, -i, look);
        set_at(plan, dot, 0, -i - 1, look);
    }
    for (int i = 1; doing->flying > 0 && i <= 3; i++)
        set_at(plan, dot, 0, -i, look);
    if (doing->aerials > 0)
        sm_plan_ring(plan, dot, plan->rows >= CROSS_ROWS ? 5 : 3, look);
    set_at(plan, dot, 0, 0, look);
}

static void draw_front(sm_plan *plan, const sm_show *show) {
    sm_plan_dot at = sm_plan_at(plan, plan->left_m, show->settings.audience_m);
    sm_plan_line(plan, (sm_plan_dot){0, at.y}, (sm_plan_dot){plan->columns * SM_PLAN_DOTS_ACROSS - 1, at.y},
                 1, SM_LOOK_NOW);
}

// Round the place under the cursor, the figure that is used; from it to the audience front, the distance.
static void draw_distance(sm_plan *plan, const sm_ground *ground, uint32_t place) {
    const sm_place_need *need = &ground->places[place].need;
    sm_plan_dot dot = dot_of(plan, ground->show, place);
    sm_plan_dot front =
        sm_plan_at(plan, ground->show->positions[place].x_m, ground->show->settings.audience_m);
    if (!isnan(need->metres))
        sm_plan_ring(plan, dot, need->metres / plan->metres_a_dot, SM_LOOK_DIM);
    sm_plan_line(plan, dot, front, 3, SM_LOOK_DIM);
}

static sm_look look_of(const sm_doing *doing, sm_look idle) {
    sm_look look = idle;
    sm_text unused = {0};
    sm_doing_describe(doing, SM_DOING_LETTER, &look, &unused);
    sm_text_deinit(&unused);
    return look;
}

static void draw_dots(sm_plan *plan, const sm_ground *ground, uint32_t chosen) {
    draw_front(plan, ground->show);
    if (chosen != SM_NONE)
        draw_distance(plan, ground, chosen);
    for (uint32_t p = 0; p < ground->place_count; p++) {
        const sm_place_on_ground *place = &ground->places[p];
        sm_plan_dot dot = dot_of(plan, ground->show, p);
        draw_mark(plan, dot, &place->doing,
                  look_of(&place->doing, place->count > 0 ? SM_LOOK_PLAIN : SM_LOOK_DIM));
        sm_plan_take(plan, dot.x / SM_PLAN_DOTS_ACROSS, dot.y / SM_PLAN_DOTS_DOWN, 1);
    }
}

// ---- names ------------------------------------------------------------------------------------------

// Outside of the plan, or nothing there.
static bool is_gap(const sm_plan *plan, int x, int y) {
    return x < 0 || x >= plan->columns || sm_plan_is_free(plan, x, y, 1);
}

// Where a name is looked for.
typedef struct label_spot {
    sm_plan *plan;
    int x, y;    // the cell of the dot
    int columns; // of the name
    bool close;  // it may touch what is not its own
} label_spot;

static bool try_label(const label_spot *spot, sm_ground_label *label, int x, int y, bool leftward) {
    bool own_before = y == spot->y && x - 1 <= spot->x && x > spot->x;
    bool own_behind = y == spot->y && x + spot->columns >= spot->x && x < spot->x;
    bool apart = (own_before || is_gap(spot->plan, x - 1, y)) &&
                 (own_behind || is_gap(spot->plan, x + spot->columns, y));
    if (!sm_plan_is_free(spot->plan, x, y, spot->columns) || !(apart || spot->close))
        return false;
    *label = (sm_ground_label){x, y, spot->columns, leftward};
    sm_plan_take(spot->plan, x, y, spot->columns);
    return true;
}

// Beside the dot, clear of the arms of its cross; above or below it; then further off.
static bool find_room(const label_spot *spot, sm_ground_label *label, bool on_right) {
    int x = spot->x, y = spot->y, columns = spot->columns;
    int cross = spot->plan->rows >= CROSS_ROWS ? 1 : 0;
    int right = x + 1 + (on_right ? cross : 0), left = x - columns - (on_right ? 0 : cross);
    return try_label(spot, label, right, y, false) || try_label(spot, label, left, y, true) ||
           try_label(spot, label, x - columns / 2, y - 1, false) ||
           try_label(spot, label, x - columns / 2, y + 1, false) ||
           try_label(spot, label, x + 1, y - 1, false) || try_label(spot, label, x + 1, y + 1, false) ||
           try_label(spot, label, x - columns, y - 1, true) ||
           try_label(spot, label, x - columns, y + 1, true);
}

typedef enum naming { NAME_ALL, NAME_FOLDED, NAME_END, NAME_CLOSE, NAMINGS } naming;

// All units of a place; the first and how many more there are; that with the end of the first's name only ("-3"), even
// where it touches something else.
static void name_place(const sm_ground *ground, uint32_t p, naming how, sm_text *out) {
    const sm_place_on_ground *place = &ground->places[p];
    uint32_t named = how == NAME_ALL ? place->count : 1;
    for (uint32_t i = 0; i < named; i++) {
        const char *name = place->count > 0 ? sm_unit_name(ground->show, &ground->units[place->first + i])
                                            : ground->show->positions[p].name;
        const char *end = how >= NAME_END ? strrchr(name, '-') : NULL;
        sm_text_printf(out, "%s%s", i > 0 ? " " : "", end ? end : name);
    }
    if (named < place->count)
        sm_text_printf(out, "%s+%u", how >= NAME_END ? "" : " ", place->count - named);
}

// With FORCE it gets a place even where something else stands.
static void draw_name(sm_ground_plan *drawn, const sm_ground *ground, uint32_t p, sm_look look, bool force,
                      sm_area area) {
    sm_plan *plan = &drawn->plan;
    sm_ground_label *label = &drawn->labels[p];
    sm_plan_dot dot = dot_of(plan, ground->show, p);
    sm_text text = {0};
    int columns = 0;
    *label = (sm_ground_label){0};
    for (int how = NAME_ALL; how < NAMINGS && label->columns == 0; how++) {
        sm_text_clear(&text);
        name_place(ground, p, (naming)how, &text);
        columns = sm_text_columns(sm_text_get(&text));
        if (how > NAME_ALL || ground->places[p].count < 2 || columns <= plan->columns / 4) {
            const label_spot spot = {plan, dot.x / SM_PLAN_DOTS_ACROSS, dot.y / SM_PLAN_DOTS_DOWN, columns,
                                     how == NAME_CLOSE};
            find_room(&spot, label, dot.x % SM_PLAN_DOTS_ACROSS != 0);
        }
    }
    if (label->columns == 0 && force) {
        int x = dot.x / SM_PLAN_DOTS_ACROSS + 1;
        x = x + columns > plan->columns ? plan->columns - columns : x;
        *label = (sm_ground_label){x < 0 ? 0 : x, dot.y / SM_PLAN_DOTS_DOWN, columns, false};
    }
    if (label->columns > 0)
        sm_area_text(area, label->x, label->y, look, sm_text_get(&text));
    drawn->unnamed += label->columns == 0 && ground->places[p].count > 0;
    sm_text_deinit(&text);
}

// The one under the cursor first, so that it always has a name; then units; then places where nothing stands.
static void draw_names(sm_ground_plan *drawn, const sm_ground *ground, uint32_t chosen, bool focused,
                       sm_area area) {
    drawn->unnamed = 0;
    for (int pass = 0; pass < 3; pass++) {
        for (uint32_t p = 0; p < ground->place_count; p++) {
            int own = p == chosen ? 0 : ground->places[p].count > 0 ? 1 : 2;
            if (own == pass) {
                sm_look look = pass == 0 && focused ? SM_LOOK_SELECTED
                               : pass == 2          ? SM_LOOK_DIM
                                                    : SM_LOOK_PLAIN;
                draw_name(drawn, ground, p, look, pass == 0, area);
            }
        }
    }
}

// ---- what is done -------------------------------------------------------------------------------------

// Beside the name, away from the dot; else on the other side of the dot. It has a blank on both sides, so that it is not taken
// for another's.
static bool put_beside(sm_ground_plan *drawn, uint32_t p, sm_plan_dot dot, const char *text, sm_look look,
                       sm_area area) {
    sm_plan *plan = &drawn->plan;
    const sm_ground_label *label = &drawn->labels[p];
    int columns = sm_text_columns(text), cell = dot.x / SM_PLAN_DOTS_ACROSS;
    bool named = label->columns > 0;
    int y = named ? label->y : dot.y / SM_PLAN_DOTS_DOWN;
    int right = named && !label->leftward ? label->x + label->columns : cell + 1;
    int left = named && label->leftward ? label->x : cell;
    const int sides[] = {right + 1, left - 1 - columns};
    for (size_t i = 0; i < sizeof sides / sizeof sides[0]; i++) {
        int x = sides[i];
        if (sm_plan_is_free(plan, x, y, columns) && is_gap(plan, x - 1, y) && is_gap(plan, x + columns, y)) {
            sm_area_text(area, x, y, look, text);
            sm_plan_take(plan, x, y, columns);
            return true;
        }
    }
    return false;
}

static void draw_doing(sm_ground_plan *drawn, const sm_ground *ground, uint32_t p, sm_area area) {
    sm_plan_dot dot = dot_of(&drawn->plan, ground->show, p);
    sm_text text = {0};
    for (int length = drawn->plan.columns >= WORDS_COLUMNS ? SM_DOING_WORDS : SM_DOING_LETTERS;
         length < SM_DOING_LENGTHS; length++) {
        sm_look look = SM_LOOK_PLAIN;
        sm_text_clear(&text);
        sm_doing_describe(&ground->places[p].doing, (sm_doing_length)length, &look, &text);
        if (text.length == 0 || put_beside(drawn, p, dot, sm_text_get(&text), look, area))
            break;
        if (length == SM_DOING_LETTER) {
            sm_area_text(area, dot.x / SM_PLAN_DOTS_ACROSS, dot.y / SM_PLAN_DOTS_DOWN, look,
                         sm_text_get(&text));
        }
    }
    sm_text_deinit(&text);
}

// ---- lines and scale ---------------------------------------------------------------------------------

// A word on the audience front, where no dot of a place is.
static void draw_front_word(sm_ground_plan *drawn, const sm_ground *ground, sm_area area) {
    sm_plan *plan = &drawn->plan;
    int y = sm_plan_at(plan, plan->left_m, ground->show->settings.audience_m).y / SM_PLAN_DOTS_DOWN;
    const char *word = plan->columns >= 40 ? " audience front " : " audience ";
    int columns = sm_text_columns(word);
    for (int x = plan->columns - columns - 1; x > 0; x--) {
        if (sm_plan_is_free(plan, x, y, columns)) {
            sm_area_text(area, x, y, SM_LOOK_NOW, word);
            sm_plan_take(plan, x, y, columns);
            return;
        }
    }
}

static void draw_metres(sm_ground_plan *drawn, const sm_ground *ground, uint32_t place, sm_area area) {
    sm_plan *plan = &drawn->plan;
    sm_plan_dot dot = dot_of(plan, ground->show, place);
    int front = sm_plan_at(plan, plan->left_m, ground->show->settings.audience_m).y;
    int x = dot.x / SM_PLAN_DOTS_ACROSS + 1, y = (dot.y + front) / 2 / SM_PLAN_DOTS_DOWN;
    char text[24];
    int columns = snprintf(text, sizeof text, "%.1f m", sm_site_audience_m(ground->show, place));
    if (sm_plan_is_free(plan, x, y, columns)) {
        sm_area_text(area, x, y, SM_LOOK_DIM, text);
        sm_plan_take(plan, x, y, columns);
    }
}

// About a quarter of the width, a round number of metres.
static void draw_scale(sm_ground_plan *drawn, sm_area area) {
    sm_plan *bar = &drawn->bar;
    double scale = drawn->plan.metres_a_dot;
    int dots = drawn->plan.columns * SM_PLAN_DOTS_ACROSS;
    double metres = sm_plan_round_metres((dots < 8 ? 1 : dots / 4) * scale);
    int from = 1, to = from + (int)lround(metres / scale);
    sm_plan_line(bar, (sm_plan_dot){from, 3}, (sm_plan_dot){to, 3}, 1, SM_LOOK_PLAIN);
    sm_plan_line(bar, (sm_plan_dot){from, 1}, (sm_plan_dot){from, 3}, 1, SM_LOOK_PLAIN);
    sm_plan_line(bar, (sm_plan_dot){to, 1}, (sm_plan_dot){to, 3}, 1, SM_LOOK_PLAIN);
    sm_plan_draw(bar, area);
    int x = to / SM_PLAN_DOTS_ACROSS + 2;
    x += sm_area_printf(area, x, 0, SM_LOOK_PLAIN, "%g m", metres) + 2;
    if (drawn->unnamed > 0) {
        char text[32];
        int columns = snprintf(text, sizeof text, "%u unnamed", drawn->unnamed);
        sm_area_field(area, x, 0, columns < area.columns - x ? columns : area.columns - x, SM_LOOK_WARN,
                      text);
        x += columns + 2;
    }
    const char *axes = "x along the front, y away";
    if (x + sm_text_columns(axes) <= area.columns)
        sm_area_text(area, x, 0, SM_LOOK_DIM, axes);
}

sm_result sm_ground_plan_draw(sm_ground_plan *drawn, const sm_ground *ground, uint32_t cursor, bool focused,
                              sm_area area) {
    sm_plan_bounds bounds = sm_ground_bounds(ground->show);
    sm_area part = sm_area_part(area, 0, 0, area.columns, area.rows - 1);
    sm_ground_label *labels = realloc(drawn->labels, (ground->place_count + 1u) * sizeof *labels);
    if (!labels)
        return SM_NO_MEMORY;
    drawn->labels = labels;
    if (sm_plan_fit(&drawn->plan, &bounds, part.columns, part.rows) != SM_OK ||
        sm_plan_fit(&drawn->bar, &bounds, part.columns, 1) != SM_OK)
        return SM_NO_MEMORY;
    drawn->x = area.x;
    drawn->y = area.y;
    drawn->columns = area.columns;
    drawn->rows = area.rows;
    uint32_t chosen = place_under(ground, cursor);
    draw_dots(&drawn->plan, ground, chosen);
    sm_plan_draw(&drawn->plan, part);
    draw_names(drawn, ground, chosen, focused, part);
    draw_front_word(drawn, ground, part);
    for (uint32_t p = 0; p < ground->place_count; p++)
        draw_doing(drawn, ground, p, part);
    if (chosen != SM_NONE)
        draw_metres(drawn, ground, chosen, part);
    draw_scale(drawn, sm_area_part(area, 0, area.rows - 1, area.columns, 1));
    return SM_OK;
}

// ---- pointing at it --------------------------------------------------------------------------------------

uint32_t sm_ground_plan_hit(const sm_ground_plan *drawn, const sm_ground *ground, int x, int y) {
    uint32_t best = SM_NONE;
    int best_distance = 3;
    for (uint32_t p = 0; p < ground->place_count; p++) {
        const sm_ground_label *label = &drawn->labels[p];
        if (ground->places[p].count == 0)
            continue;
        if (y == label->y && x >= label->x && x < label->x + label->columns)
            return p;
        sm_plan_dot dot = dot_of(&drawn->plan, ground->show, p);
        int across = abs(dot.x / SM_PLAN_DOTS_ACROSS - x), down = abs(dot.y / SM_PLAN_DOTS_DOWN - y);
        int distance = across > down ? across : down;
        if (distance < best_distance) {
            best_distance = distance;
            best = p;
        }
    }
    return best;
}
