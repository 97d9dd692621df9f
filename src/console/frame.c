// SPDX-License-Identifier: GPL-3.0-or-later
// The frame: what is always there, and where the boards go.
//
//   title, show time, speed, sound          1 row
//   the state                               1 row (2 on narrow terminals where it needs them); its word never moves
//   the most pressing alert                 1 row, blank where there is none (below 80 columns 2 where it needs them, before the state's second)
//   the latest call from a person, until it is answered and after   1 row, once somebody has called
//   in a drill: what was seen or heard, what is next   2 to 4 rows
//   clear, wind, readings and their age     1 row   from 16 rows on
//   the strip                               2 rows from 20 rows on, 4 from 40
//   which boards there are                  1 row
//   the board, or several side by side from 150 columns and 30 rows on
//   the latest message, or what is typed    1 row, growing upwards over the board (foot.c)
//   keys                                    1 row
#include "console/frame.h"

#include "boards/boards.h"
#include "boards/words/alert_line.h"
#include "boards/words/state_line.h"
#include "boards/words/tones_on.h"
#include "console/big_screen.h"
#include "console/call_row.h"
#include "console/drill_rows.h"
#include "console/foot.h"
#include "console/modes/modes.h"
#include "console/placement.h"

#include <stdio.h>
#include <string.h>

// ---- the first row -----------------------------------------------------------------------------

// "1:23.4": tenths are enough for the eye.
static void add_clock(sm_text *out, sm_us us) {
    char clock[24];
    sm_clock_format(clock, us);
    size_t length = strlen(clock);
    sm_text_append(out, clock, length > 2 ? length - 2 : length);
}

static void add_sound(const sm_view *view, sm_text *out) {
    const sm_audio_status *sound = view->sound;
    if (view->following) {
        sm_text_printf(out, "%s", view->told_run ? view->told_run : "told elsewhere");
        return;
    }
    switch (sound->state) {
    case SM_AUDIO_SOUNDING:
        sm_text_printf(out, "sound %s", sound->device);
        break;
    case SM_AUDIO_STARTING:
        sm_text_printf(out, "sound starting");
        break;
    case SM_AUDIO_LOST:
        sm_text_printf(out, "SOUND LOST, clock runs on");
        break;
    default:
        sm_text_printf(out, "silent clock");
        break;
    }
    if (view->snapshot->muted)
        sm_text_printf(out, " MUTED");
    else if (view->snapshot->volume < 100)
        sm_text_printf(out, " %.0f %%", view->snapshot->volume);
    sm_text tones = {0};
    sm_tones_describe(view, &tones);
    if (tones.length > 0)
        sm_text_printf(out, ", %s", sm_text_get(&tones));
    sm_text_deinit(&tones);
    if (sound->has_music && !sound->decoded)
        sm_text_printf(out, " reading %d %%", sound->progress);
    if (sound->problem[0])
        sm_text_printf(out, " MUSIC: see notes");
}

static void draw_title(const sm_view *view, sm_area area) {
    sm_text right = {0};
    add_clock(&right, view->snapshot->at.us);
    sm_text_printf(&right, " of ");
    add_clock(&right, view->show->length_us);
    if (area.columns >= 60 || view->snapshot->speed_ppm != SM_SPEED_ONE)
        sm_text_printf(&right, "  speed %g", view->snapshot->speed_ppm / 1e6);
    int clock = sm_text_columns(sm_text_get(&right)), width = clock;
    sm_text sound = {0};
    if (area.columns >= 60) {
        sm_text_printf(&sound, "%s",
                       view->lights.on ? "LIGHTS ON, "
                                       : ""); // also here: a more urgent alert may hide that of the lights
        add_sound(view, &sound);
        int needed = sm_text_columns(sm_text_get(&sound)), room = area.columns - 22 - clock;
        width += 2 + (needed < room ? needed : room);
    }
    int x = area.columns - width - 1;
    sm_area_field(area, 1, 0, x - 2, SM_LOOK_TITLE, view->show->settings.title);
    sm_area_text(area, x, 0, SM_LOOK_PLAIN, sm_text_get(&right));
    sm_area_field(area, x + clock + 2, 0, width - clock - 2, SM_LOOK_PLAIN, sm_text_get(&sound));
    sm_text_deinit(&right);
    sm_text_deinit(&sound);
}

// ---- the state and what has an age -------------------------------------------------------------------

// Room for all of it, on the stack: the state line and the alert stand also where memory has run out.
#define STATE_LINE 1024

// In the rows of AREA, cut where it is longer: what is wrong has rows of its own.
static void draw_state(const sm_view *view, sm_area area) {
    char room[STATE_LINE] = "";
    sm_text text = SM_TEXT_IN(room);
    sm_state_line line = sm_state_line_look(view, &text);
    sm_area part = sm_area_part(area, 1, 0, area.columns - 1, area.rows);
    sm_area_wrap_cut(part, 10, SM_LOOK_PLAIN, sm_text_get(&text));
    sm_area_look(part, (int)line.word_at, 0, (int)line.word_length,
                 line.armed ? SM_LOOK_STATE_ARMED : SM_LOOK_STATE);
    sm_text_deinit(&text);
}

static int state_rows(const sm_view *view, int columns) {
    char room[STATE_LINE] = "";
    sm_text text = SM_TEXT_IN(room);
    (void)sm_state_line_look(view, &text);
    int needed = sm_text_columns(sm_text_get(&text));
    sm_text_deinit(&text);
    // Elsewhere its length changes all the time, and what stands below must not jump.
    return view->snapshot->state == SM_STATE_SAFE && needed <= columns ? 1 : 2;
}

// OUT gets as much of the alert as fits into two rows of COLUMNS.
static sm_look alert_in_two_rows(const sm_view *view, int columns, sm_text *out) {
    sm_area nowhere = {.columns = columns};
    sm_look look = SM_LOOK_PLAIN;
    int rows = 3;
    for (int most = 2 * columns; rows > 2 && most >= columns; most--) {
        sm_text_clear(out);
        look = sm_alert_line(view, most, out);
        rows = sm_area_wrap(nowhere, 0, 2, look, sm_text_get(out));
    }
    return look;
}

// Blank where nothing is wrong.
static void draw_alert(const sm_view *view, sm_area area) {
    char room[STATE_LINE] = "";
    sm_text text = SM_TEXT_IN(room);
    sm_area part = sm_area_part(area, 1, 0, area.columns - 2, area.rows);
    if (area.rows < 2) {
        sm_look look = sm_alert_line(view, part.columns, &text);
        sm_area_text(part, 0, 0, look, sm_text_get(&text));
    } else {
        sm_look look = alert_in_two_rows(view, part.columns, &text);
        sm_area_wrap(part, 0, 2, look, sm_text_get(&text));
    }
    sm_text_deinit(&text);
}

// What is wrong and what to do do not fit into one row of COLUMNS, and must not wait.
static bool needs_two_rows(const sm_view *view, int columns) {
    char room[STATE_LINE] = "";
    sm_text text = SM_TEXT_IN(room);
    bool presses =
        view->alerts->count > 0 && sm_alert_row_of(view->alerts->at[0].id)->rank < SM_ALERT_ADVISORY;
    (void)sm_alert_line(view, STATE_LINE, &text);
    int needed = sm_text_columns(sm_text_get(&text));
    sm_text_deinit(&text);
    return presses && needed > columns;
}

// On a narrow terminal an alert that needs a second row takes that of the state. Returns the rows taken.
static int draw_state_and_alert(const sm_view *view, sm_area all, int y) {
    bool narrow = all.columns < 60, two = all.columns < 80 && needs_two_rows(view, all.columns - 2);
    int state = two || !narrow ? 1 : state_rows(view, all.columns - 1), alert = two ? 2 : 1;
    draw_state(view, sm_area_part(all, 0, y, all.columns, state));
    draw_alert(view, sm_area_part(all, 0, y + state, all.columns, alert));
    return state + alert;
}

// The age is that of the oldest reading, by its own date where it is from a file.
static void add_readings(const sm_view *view, sm_text *out) {
    sm_readings_age age = sm_snapshot_readings_age(view->snapshot, view->time_of_day);
    uint32_t programmed = 0;
    for (uint32_t slot = 0; slot < view->show->slot_count; slot++)
        programmed += view->show->slot_firings[slot] != SM_NONE;
    char span[24];
    sm_text_printf(out, "%u of %u read", age.read, programmed);
    if (age.oldest_us != SM_UNSET_US)
        sm_text_printf(out, " %s ago", sm_age_format(age.oldest_us, span));
    if (age.from_file > 0)
        sm_text_printf(out, " (%u file%s)", age.from_file, age.undated > 0 ? ", undated" : "");
}

static void draw_ages(const sm_view *view, sm_area area) {
    const sm_snapshot *now = view->snapshot;
    char minute[16], age[24];
    sm_text text = {0};
    if (now->clear_called) {
        sm_text_printf(&text, "clear called%s%s %s, %s ago", now->clear_who[0] ? " by " : "", now->clear_who,
                       sm_time_of_day_minute(view->time_of_day, now->clear_at, minute),
                       sm_age_format(now->wall.us - now->clear_at.us, age));
    } else {
        sm_text_printf(&text, now->clear_lapse[0] ? "clear lapsed" : "clear not called");
    }
    sm_text_printf(&text, " · ");
    if (now->wind_known) {
        bool over = now->wind_m_s > view->show->settings.wind_limit_m_s; // false where the limit is not set
        sm_text_printf(&text, "wind %.1f m/s%s %s ago", now->wind_m_s, over ? " OVER LIMIT" : "",
                       sm_age_format(now->wall.us - now->wind_at.us, age));
    } else {
        sm_text_printf(&text, "wind not measured");
    }
    sm_text_printf(&text, " · ");
    add_readings(view, &text);
    sm_area_field(area, 1, 0, area.columns - 2, SM_LOOK_DIM, sm_text_get(&text));
    sm_text_deinit(&text);
}

// "12", or "3 ERRORS", which stays in sight however many messages come and go; "" for no findings. Returns BUFFER.
static const char *findings_mark(const sm_view *view, char buffer[32]) {
    size_t findings = sm_findings_count(view->findings),
           errors = sm_findings_count_of(view->findings, SM_ERROR);
    buffer[0] = '\0';
    if (errors > 0)
        snprintf(buffer, 32, "%zu ERROR%s", errors, errors == 1 ? "" : "S");
    else if (findings > 0)
        snprintf(buffer, 32, "%zu", findings);
    return buffer;
}

// Columns that board I takes among the others, 0 where it is not offered.
static int tab_columns(const sm_ui *ui, size_t i, const char *mark) {
    const sm_board *board = sm_board_at(i);
    char name[16];
    if (i != ui->chosen && !sm_board_is_offered(board, &ui->view))
        return 0;
    int own = board == &sm_board_notes && mark[0] ? (int)strlen(mark) + 1 : 0;
    return sm_text_columns(sm_key_name(board->key, name)) + sm_text_columns(board->name) + 2 + own;
}

static int draw_tab(sm_ui *ui, sm_area area, int x, size_t i, const char *mark) {
    const sm_board *board = sm_board_at(i);
    char name[16];
    int from = x;
    x += sm_area_text(area, x, 0, SM_LOOK_DIM, sm_key_name(board->key, name)) + 1;
    x += sm_area_text(area, x, 0, i == ui->chosen ? SM_LOOK_SELECTED : SM_LOOK_PLAIN, board->name) + 1;
    sm_hits_add(&ui->hits, SM_HIT_TAB, i, sm_area_part(area, from, 0, x - 1 - from, 1));
    if (board == &sm_board_notes && mark[0])
        x += sm_area_text(area, x, 0, SM_LOOK_WARN, mark) + 1;
    return x;
}

// The first board to be named, so that the chosen one still fits in ROOM columns.
static size_t first_tab(const sm_ui *ui, int room, const char *mark) {
    size_t first = ui->chosen;
    int taken = 1 + tab_columns(ui, first, mark);
    while (first > 0 && taken + tab_columns(ui, first - 1, mark) <= room)
        taken += tab_columns(ui, --first, mark);
    return first;
}

// Names all boards. Where they do not fit: as many as do, with the chosen one, and the key that leads to the others.
static void draw_tabs(sm_ui *ui, sm_area area) {
    static const char others[] = "Tab: other boards";
    char mark[32], notes[16];
    findings_mark(&ui->view, mark);
    int needed = 1, room = area.columns - (int)sizeof others;
    for (size_t i = 0; i < SM_BOARDS; i++)
        needed += tab_columns(ui, i, mark);
    bool all = needed <= area.columns;
    // The mark keeps its place at the end, whether or not its board is in sight.
    room -= mark[0] ? (int)strlen(mark) + 12 : 0;
    size_t first = all ? 0 : first_tab(ui, room, mark);
    int x = 1;
    bool marked = false;
    for (size_t i = first; i < SM_BOARDS && (all || i <= ui->chosen || x + tab_columns(ui, i, mark) <= room);
         i++) {
        if (tab_columns(ui, i, mark) > 0) {
            x = draw_tab(ui, area, x, i, mark);
            marked = marked || sm_board_at(i) == &sm_board_notes;
        }
    }
    if (!all) {
        int from = x + 1;
        x += sm_area_text(area, from, 0, SM_LOOK_DIM, others) + 3;
        sm_hits_add(&ui->hits, SM_HIT_TAB, (ui->chosen + 1) % SM_BOARDS,
                    sm_area_part(area, from, 0, x - 2 - from, 1));
        if (mark[0] && !marked) {
            x += sm_area_printf(area, x, 0, SM_LOOK_DIM, "%s notes ", sm_key_name(sm_board_notes.key, notes));
            sm_area_text(area, x, 0, SM_LOOK_WARN, mark);
        }
    }
}

// ---- the boards -----------------------------------------------------------------------------------------

static void draw_board(sm_ui *ui, size_t number, sm_area area, bool headed) {
    const sm_board *board = sm_board_at(number);
    if (headed) {
        bool chosen = number == ui->chosen;
        sm_area_field(area, 0, 0, area.columns, chosen ? SM_LOOK_SELECTED : SM_LOOK_HEADING, board->name);
        area = sm_area_part(area, 0, 1, area.columns, area.rows - 1);
    }
    sm_hits_add(&ui->hits, SM_HIT_BOARD, number, area);
    board->draw(ui->states[number], &ui->view, area, number == ui->chosen);
}

// The board on the left half: the one that was there last, or the first board where that now stands on the right half.
static size_t left_board(const sm_ui *ui, const size_t *beside, size_t count) {
    size_t left = ui->left;
    for (size_t i = 0, tried = 0; i < count && tried <= SM_BOARDS; i++) {
        if (beside[i] == left) {
            left = tried++;
            i = SIZE_MAX; // the new one is compared with all of them too
        }
    }
    return left;
}

// On the left one board; on the right, one above the other, those that were chosen to stand beside it.
static void draw_wide(sm_ui *ui, sm_area area) {
    size_t beside[SM_BESIDE], count = sm_ui_beside(ui, beside);
    if (count == 0) {
        draw_board(ui, ui->chosen, area, false);
        return;
    }
    int split = area.columns * 11 / 20;
    draw_board(ui, left_board(ui, beside, count), sm_area_part(area, 0, 0, split, area.rows), true);
    sm_area right = sm_area_part(area, split + 1, 0, area.columns - split - 1, area.rows);
    for (size_t i = 0, y = 0; i < count; i++) {
        // The upper ones are the ones chosen first: they get a little more.
        int left = right.rows - (int)y,
            rows = i + 1 == count ? left : left * 3 / (int)(3 + 2 * (count - i - 1));
        draw_board(ui, beside[i], sm_area_part(right, 0, (int)y, right.columns, rows), true);
        y += (size_t)rows;
    }
}

// Dims AREA, so that nobody takes what stands there for the present.
static void dim(sm_area area) {
    for (int y = 0; y < area.rows; y++)
        sm_area_look(sm_area_part(area, 0, y, area.columns, 1), 0, 0, area.columns, SM_LOOK_DIM);
}

static void draw_middle(sm_ui *ui, sm_area area) {
    const sm_mode *mode = sm_mode_of(ui->mode);
    if (mode->draw && mode->draw(ui, area))
        return;
    // A board writes "now" and "burns" about the last state that was told. Once the link is lost that is the past.
    bool was = ui->view.following && ui->view.snapshot->incidents.link_lost;
    if (was) {
        sm_area_text(area, 0, 0, SM_LOOK_WARN,
                     "LAST KNOWN, NOT NOW: all below is as it was when the link was lost");
        area = sm_area_part(area, 0, 1, area.columns, area.rows - 1);
    }
    if (area.columns >= 150 && area.rows >= 20)
        draw_wide(ui, area);
    else
        draw_board(ui, ui->chosen, area, false);
    if (was)
        dim(area);
}

// ---- all of it --------------------------------------------------------------------------------------------

static void draw_too_small(const sm_ui *ui, sm_area area) {
    char room[STATE_LINE] = "";
    sm_text text = SM_TEXT_IN(room);
    sm_state_line line = sm_state_line_look(&ui->view, &text);
    // The state goes first; the rest says how to stop and what size is needed, in at most three rows where there are more.
    int state_rows = area.rows > 3 ? area.rows - 3 : 1;
    int needed = sm_area_wrap(sm_area_part(area, 0, area.rows, area.columns, 0), 0, 2, SM_LOOK_PLAIN,
                              sm_text_get(&text));
    state_rows = needed < state_rows ? needed : state_rows;
    sm_area_wrap_cut(sm_area_part(area, 0, 0, area.columns, state_rows), 2, SM_LOOK_PLAIN,
                     sm_text_get(&text));
    sm_area_look(area, (int)line.word_at, 0, (int)line.word_length,
                 line.armed ? SM_LOOK_STATE_ARMED : SM_LOOK_STATE);
    sm_text_clear(&text);
    sm_text_printf(&text, "%sThe boards need %dx%d, this is %dx%d; the rehearsal goes on.",
                   ui->view.following ? "" : "SPACE makes safe, p pauses. ", SM_UI_COLUMNS, SM_UI_ROWS,
                   area.columns, area.rows);
    sm_area_wrap(area, state_rows, 0, SM_LOOK_WARN, sm_text_get(&text));
    sm_text_deinit(&text);
}

#define LEAST_BOARD_ROWS 8

// What only the person at this seat is told, and what is theirs to say. Returns the rows that it takes.
static int draw_told(const sm_view *view, sm_area area) {
    sm_text text = {0};
    if (!view->told)
        return 0;
    sm_text_printf(&text, "TO YOU ALONE: %s", view->told);
    sm_area_wrap_cut(sm_area_part(area, 1, 0, area.columns - 2, area.rows), 2, SM_LOOK_NOW,
                     sm_text_get(&text));
    sm_text_deinit(&text);
    return area.rows; // what stands below must not jump
}

// Who sits elsewhere.
static int draw_seats(const sm_view *view, sm_area area) {
    bool wrong = false;
    sm_text text = {0};
    for (uint32_t i = 0; view->seats && i < view->seats->count; i++)
        wrong = wrong || view->seats->at[i].sits == SM_SITS_LOST || view->seats->at[i].asked;
    if (!view->seats || view->seats->count == 0)
        return 0;
    sm_text_printf(&text, "SEATS ");
    sm_seats_describe(view->seats, view->drill || view->seat_drills, &text);
    sm_area_field(area, 1, 0, area.columns - 2, wrong ? SM_LOOK_WARN : SM_LOOK_DIM, sm_text_get(&text));
    sm_text_deinit(&text);
    return 1;
}

void sm_frame_draw(sm_ui *ui, sm_cells *cells) {
    sm_cells_clear(cells);
    ui->hits.count = 0;
    sm_area all = sm_area_of(cells);
    ui->too_small = all.columns < SM_UI_COLUMNS || all.rows < SM_UI_ROWS;
    if (ui->too_small) {
        ui->cursor_x = -1;
        draw_too_small(ui, all);
        return;
    }
    int y = 0, strip_rows = all.rows >= 40 ? 4 : all.rows >= 20 ? 2 : 0;
    draw_title(&ui->view, sm_area_part(all, 0, y++, all.columns, 1));
    y += draw_state_and_alert(&ui->view, all, y);
    y += sm_call_row_draw(&ui->view, sm_area_part(all, 0, y, all.columns, 1));
    y += draw_told(&ui->view, sm_area_part(all, 0, y, all.columns, 2));
    y += draw_seats(&ui->view, sm_area_part(all, 0, y, all.columns, 1));
    if (ui->view.drill) {
        bool reads = ui->mode == SM_UI_HELP && all.rows < 20; // the brief needs the room
        int rows = reads ? 1 : sm_drill_rows_count(ui->view.drill, all.columns);
        sm_drill_rows_draw(ui->view.drill, ui->view.snapshot, sm_area_part(all, 0, y, all.columns, rows));
        y += rows;
    }
    if (all.rows >= 16)
        draw_ages(&ui->view, sm_area_part(all, 0, y++, all.columns, 1));
    if (ui->choices.big && ui->mode != SM_UI_FIRST && ui->mode != SM_UI_HELP) {
        sm_big_screen_draw(&ui->view, sm_area_part(all, 0, y, all.columns, all.rows - 2 - y));
        sm_foot_draw(ui, sm_area_part(all, 0, y, all.columns, all.rows - y));
        return;
    }
    if (strip_rows > 0) {
        sm_area strip = sm_area_part(all, 1, y, all.columns - 2, strip_rows);
        sm_hits_add(&ui->hits, SM_HIT_STRIP, 0, strip);
        sm_strip_draw(ui->strip, &ui->view, strip);
        if (ui->view.following && ui->view.snapshot->incidents.link_lost)
            dim(strip);
        y += strip_rows;
    }
    draw_tabs(ui, sm_area_part(all, 0, y++, all.columns, 1));
    // A long message takes rows from the board. It covers them where fewer than LEAST_BOARD_ROWS would be left.
    int room = all.rows - y, foot = sm_foot_rows(ui, all);
    draw_middle(ui, sm_area_part(all, 0, y, all.columns, room - (room - foot < LEAST_BOARD_ROWS ? 2 : foot)));
    sm_foot_draw(ui, sm_area_part(all, 0, y, all.columns, all.rows - y));
}
