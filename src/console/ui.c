// SPDX-License-Identifier: GPL-3.0-or-later
// What keys do.
#include "console/ui.h"

#include "boards/words/state_line.h"
#include "screen/scroller.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- boards -----------------------------------------------------------------------------------

sm_result sm_ui_init(sm_ui *ui) {
    ui->mode = SM_UI_FIRST;
    ui->cursor_x = -1;
    ui->state = ui->view.snapshot->state;
    sm_choices_init(&ui->choices);
    ui->strip = sm_strip_create();
    bool made = ui->strip != NULL;
    for (size_t i = 0; i < SM_BOARDS; i++) {
        ui->states[i] = calloc(1, sm_board_at(i)->state_size);
        made = made && ui->states[i];
    }
    return made ? SM_OK : SM_NO_MEMORY;
}

void sm_ui_deinit(sm_ui *ui) {
    sm_strip_destroy(ui->strip);
    for (size_t i = 0; i < SM_BOARDS; i++) {
        if (ui->states[i] && sm_board_at(i)->forget)
            sm_board_at(i)->forget(ui->states[i]);
        free(ui->states[i]);
    }
}

void sm_ui_show_changed(sm_ui *ui) {
    sm_strip_forget(ui->strip);
    for (size_t i = 0; i < SM_BOARDS; i++) {
        const sm_board *board = sm_board_at(i);
        if (board->show_changed) {
            board->show_changed(ui->states[i], &ui->view);
        } else {
            if (board->forget)
                board->forget(ui->states[i]);
            memset(ui->states[i], 0, board->state_size);
        }
    }
}

bool sm_ui_work(sm_ui *ui) {
    bool more = false;
    for (size_t i = 0; i < SM_BOARDS; i++) {
        const sm_board *board = sm_board_at(i);
        more |= board->work && board->work(ui->states[i], &ui->view);
    }
    return more;
}

size_t sm_ui_beside(const sm_ui *ui, size_t boards[SM_BESIDE]) {
    size_t count = 0;
    for (size_t i = 0; i < ui->choices.beside_count; i++) {
        size_t board = sm_board_named(ui->choices.beside[i]);
        if (board < SM_BOARDS && sm_board_is_offered(sm_board_at(board), &ui->view))
            boards[count++] = board;
    }
    return count;
}

// A board that stands beside others leaves the one to the left where it is.
static void go_to(sm_ui *ui, size_t board) {
    size_t beside[SM_BESIDE], count = sm_ui_beside(ui, beside);
    ui->chosen = board;
    bool stands = false;
    for (size_t i = 0; i < count; i++)
        stands = stands || beside[i] == board;
    ui->left = stands ? ui->left : board;
}

static void choose(sm_ui *ui, size_t board) {
    ui->choices.big = false;
    go_to(ui, board);
    snprintf(ui->choices.board, sizeof ui->choices.board, "%s", sm_board_at(board)->name);
    ui->chose = true;
}

void sm_ui_begin_as_chosen(sm_ui *ui) {
    size_t board = sm_board_named(ui->choices.board);
    if (board < SM_BOARDS && sm_board_is_offered(sm_board_at(board), &ui->view))
        go_to(ui, board);
}

// STEP (1, or SM_BOARDS - 1 for back) boards on, past those that are of no use now.
static void choose_next(sm_ui *ui, size_t step) {
    size_t board = ui->chosen;
    do {
        board = (board + step) % SM_BOARDS;
    } while (!sm_board_is_offered(sm_board_at(board), &ui->view));
    choose(ui, board);
}

// What misfired is put before people when the show has ended or was made safe, and taken away when they arm again.
static void follow_state(sm_ui *ui, sm_state from, sm_state to) {
    bool over = to == SM_STATE_ENDED || (to == SM_STATE_SAFE && from >= SM_STATE_RUNNING);
    if (over && ui->chosen != SM_BOARD_AFTER) {
        ui->before_after = ui->chosen;
        go_to(ui, SM_BOARD_AFTER);
    } else if (to == SM_STATE_ARMING && ui->chosen == SM_BOARD_AFTER) {
        go_to(ui, ui->before_after);
    }
    // A question put in one state is not answered in another.
    if (ui->mode == SM_UI_CONFIRM && ui->confirm.act != SM_ACT_QUIT)
        ui->mode = SM_UI_BOARD;
}

// The debrief comes up by itself, once, but not in a real emergency. A text under way is typed to its end.
static void follow_drill(sm_ui *ui) {
    const sm_drill_view *drill = ui->view.drill;
    if (ui->drill_ended || !drill || !drill->over || drill->broken_off || !ui->view.debrief)
        return;
    ui->drill_ended = true;
    go_to(ui, SM_BOARD_DEBRIEF);
    if (ui->mode != SM_UI_PROMPT)
        ui->mode = SM_UI_BOARD;
}

void sm_ui_look(sm_ui *ui) {
    const sm_snapshot *now = ui->view.snapshot;
    if (now->state != ui->state) {
        follow_state(ui, ui->state, now->state);
        ui->bell |= ui->view.tones && (now->state == SM_STATE_ARMED || now->state == SM_STATE_ENDED);
        ui->bell_at = now->wall.us;
        ui->state = now->state;
        sm_ui_ask_look(ui); // other actions are allowed now
    }
    follow_drill(ui);
    if (now->state == SM_STATE_ARMING && now->wall.us >= ui->bell_at) {
        ui->arming_tone |= ui->view.tones;
        ui->bell_at += SM_US_PER_S;
    }
    if (!sm_call_tones_follow(&ui->call_tones, &ui->view))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "memory ran out: the call tones are as they were");
}

// ---- saying something --------------------------------------------------------------------------

void sm_ui_say(sm_ui *ui, sm_outcome_kind kind, const char *text) {
    ui->has_message = true;
    ui->message.kind = kind;
    ui->message.wall = ui->view.snapshot->wall;
    snprintf(ui->message.text, sizeof ui->message.text, "%s", text);
}

void sm_ui_do(sm_ui *ui, const char *line) {
    ui->has_message = false;
    if (!ui->act(ui->owner, line))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "memory ran out: nothing was done");
}

static void make_safe(sm_ui *ui) {
    sm_ui_do(ui, "safe");
    if (ui->mode == SM_UI_CONFIRM || ui->mode == SM_UI_PROMPT || ui->mode == SM_UI_INHIBIT)
        ui->mode = SM_UI_BOARD;
}

// ---- the first screen ----------------------------------------------------------------------------

static void press_first(sm_ui *ui, int key) {
    if (key == 'n' || key == 'N') {
        ui->view.tones = true;
        sm_ui_say(ui, SM_OUTCOME_TOLD, "tones on: no live product within earshot, as answered just now");
    } else if (key == 'y' || key == 'Y') {
        ui->view.tones = false;
        sm_ui_say(ui, SM_OUTCOME_TOLD, "tones off: live product is within earshot");
    } else {
        ui->view.tones = false;
        sm_ui_say(ui, SM_OUTCOME_TOLD, "tones off: the question was not answered (T asks again)");
    }
    ui->mode = SM_UI_BOARD;
    if (ui->view.drill && !ui->drill_begun) {
        ui->drill_begun = true; // nobody's time runs while they read the brief
        ui->act(ui->owner, "go-drill");
    }
}

// ---- the key table's rows -----------------------------------------------------------------------------

// The next step of a scale above or below VALUE.
static double step(const double *scale, size_t count, double value, bool up) {
    if (up) {
        for (size_t i = 0; i < count; i++)
            if (scale[i] > value + 1e-9)
                return scale[i];
        return scale[count - 1];
    }
    for (size_t i = count; i > 0; i--)
        if (scale[i - 1] < value - 1e-9)
            return scale[i - 1];
    return scale[0];
}

static void step_speed(sm_ui *ui, bool up) {
    static const double speeds[] = {0.1, 0.25, 0.5, 0.75, 1, 1.25, 1.5, 2};
    char line[32];
    double speed = step(speeds, sizeof speeds / sizeof speeds[0], ui->view.snapshot->speed_ppm / 1e6, up);
    snprintf(line, sizeof line, "speed %g", speed);
    sm_ui_do(ui, line);
}

static void step_volume(sm_ui *ui, bool up) {
    static const double volumes[] = {0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100};
    char line[32];
    double volume = step(volumes, sizeof volumes / sizeof volumes[0], ui->view.snapshot->volume, up);
    snprintf(line, sizeof line, "volume %g", volume);
    sm_ui_do(ui, line);
}

static void next_colours(sm_ui *ui) {
    ui->choices.colours = (sm_palette)((ui->choices.colours + 1) % SM_PALETTE_COUNT);
    ui->chose = true;
    const sm_palette_row *row = sm_palette_row_of(ui->choices.colours);
    char text[96];
    snprintf(text, sizeof text, "colours: %s, %s", row->name, row->about);
    sm_ui_say(ui, SM_OUTCOME_TOLD, text);
}

// Keeps the chosen board beside others, the latest of at most SM_BESIDE; or gives it back its place to the left.
static void step_beside(sm_ui *ui) {
    sm_choices *choices = &ui->choices;
    const char *name = sm_board_at(ui->chosen)->name;
    size_t at = 0;
    while (at < choices->beside_count && strcmp(choices->beside[at], name) != 0)
        at++;
    bool stood = at < choices->beside_count, full = choices->beside_count == SM_BESIDE;
    if (stood || full) {
        size_t out = stood ? at : 0;
        choices->beside_count--;
        memmove(choices->beside[out], choices->beside[out + 1],
                (choices->beside_count - out) * sizeof choices->beside[0]);
    }
    if (!stood)
        snprintf(choices->beside[choices->beside_count++], SM_BOARD_NAME, "%s", name);
    ui->left = ui->chosen;
    ui->chose = true;
    char text[96];
    snprintf(text, sizeof text, "%s %s on a wide terminal", name,
             stood ? "has the left half for itself" : "stands beside the others");
    sm_ui_say(ui, SM_OUTCOME_TOLD, text);
}

static void do_row(sm_ui *ui, const sm_key_row *row) {
    if (sm_ui_sound_row(ui, row))
        return;
    switch (row->how) {
    case SM_HOW_ACT:
        sm_ui_do(ui, sm_action_row_of(row->act)->name);
        break;
    case SM_HOW_KEY:
        sm_ui_do(ui, sm_action_row_of(ui->view.snapshot->key ? SM_ACT_KEY_OFF : SM_ACT_KEY_ON)->name);
        break;
    case SM_HOW_CONFIRM:
        sm_ui_confirm_key(ui, row->act);
        break;
    case SM_HOW_BIG:
        ui->choices.big = !ui->choices.big;
        ui->chose = true;
        break;
    case SM_HOW_INHIBIT:
        sm_ui_ask_inhibit(ui);
        break;
    case SM_HOW_START_AT:
        sm_ui_ask_start_at(ui);
        break;
    case SM_HOW_ASK:
        sm_ui_ask_arguments(ui, row->act);
        break;
    case SM_HOW_FASTER:
    case SM_HOW_SLOWER:
        step_speed(ui, row->how == SM_HOW_FASTER);
        break;
    case SM_HOW_LOUDER:
    case SM_HOW_SOFTER:
        step_volume(ui, row->how == SM_HOW_LOUDER);
        break;
    case SM_HOW_COMMAND:
        sm_ui_ask_line(ui, SM_ASK_COMMAND, ":", "");
        break;
    case SM_HOW_READINGS:
        sm_ui_ask_line(ui, SM_ASK_READINGS, "file of readings:", "");
        break;
    case SM_HOW_TONES:
        ui->mode = SM_UI_FIRST;
        break;
    case SM_HOW_STRIP_CLOSER:
    case SM_HOW_STRIP_WIDER:
        sm_strip_zoom(ui->strip, ui->view.show, row->how == SM_HOW_STRIP_CLOSER);
        break;
    case SM_HOW_HELP:
        ui->mode = SM_UI_HELP;
        ui->help.top = 0;
        break;
    case SM_HOW_NEXT_BOARD:
        choose_next(ui, 1);
        break;
    case SM_HOW_PREVIOUS_BOARD:
        choose_next(ui, SM_BOARDS - 1);
        break;
    case SM_HOW_COLOURS:
        next_colours(ui);
        break;
    case SM_HOW_BESIDE:
        step_beside(ui);
        break;
    case SM_HOW_REDRAW:
        ui->repaint = true;
        break;
    default: // of sm_ui_sound_row
        break;
    }
}

static bool choose_by_key(sm_ui *ui, int key) {
    for (size_t i = 0; i < SM_BOARDS; i++) {
        if (sm_board_at(i)->key == key) {
            choose(ui, i);
            return true;
        }
    }
    return false;
}

// What a board, or the strip, asks for after a key or the mouse.
static void grant(sm_ui *ui, unsigned next, const sm_request *request) {
    if (next & SM_NEXT_ACT)
        sm_ui_do(ui, request->line);
    if (next & SM_NEXT_CUE) {
        sm_board_score.show_cue(ui->states[SM_BOARD_SCORE], &ui->view, request->cue);
        choose(ui, SM_BOARD_SCORE);
    }
    if (next & SM_NEXT_PROMPT)
        sm_ui_ask_line(ui, SM_ASK_COMMAND, ":", request->line);
    if (next & SM_NEXT_ASK)
        sm_ui_ask_board(ui, ui->chosen, request->line);
}

static void press_board(sm_ui *ui, int key) {
    const sm_board *board = sm_board_at(ui->chosen);
    sm_request request = {0};
    bool shown = board->press && !ui->choices.big; // a board that is not seen takes no keys
    unsigned next = shown ? board->press(ui->states[ui->chosen], &ui->view, key, &request) : SM_NEXT_UNUSED;
    grant(ui, next, &request);
    if (!(next & SM_NEXT_UNUSED) || choose_by_key(ui, key))
        return;
    const sm_key_row *row = sm_keymap_find(key);
    if (row) {
        do_row(ui, row);
    } else if (key == SM_KEY_ESCAPE) {
        ui->has_message = false;
        ui->chose |= ui->choices.big;
        ui->choices.big = false;
    } else if (key > SM_KEY_SAFE && key < SM_KEY_SPECIAL) {
        char text[64], name[16];
        snprintf(text, sizeof text, "no key %s on this board: ? lists those it has", sm_key_name(key, name));
        sm_ui_say(ui, SM_OUTCOME_TOLD, text);
    }
}

static void press_help(sm_ui *ui, int key) {
    if (!sm_scroller_press(&ui->help, key))
        ui->mode = SM_UI_BOARD;
}

// A blank that separates no words, before the first or after another blank: while the module is not safe no line needs it, and a
// hand that reaches for the stop types it.
static bool blank_stops(const sm_ui *ui) {
    const sm_prompt *prompt = &ui->prompt;
    return ui->mode == SM_UI_PROMPT && ui->view.snapshot->state != SM_STATE_SAFE &&
           (prompt->cursor == 0 || prompt->text[prompt->cursor - 1] == ' ');
}

bool sm_ui_press(sm_ui *ui, int key) {
    if (key == SM_KEY_SPECIAL || key == SM_KEY_NONE)
        return false;
    // First of all, from everywhere: make safe.
    if (key == SM_KEY_SAFE_TYPING ||
        (key == SM_KEY_SAFE && (ui->mode != SM_UI_PROMPT || ui->too_small || blank_stops(ui)))) {
        make_safe(ui);
        return true;
    }
    if (ui->too_small) { // what cannot be seen is neither asked nor answered
        if (key == 'p')
            sm_ui_do(ui, "pause");
        return true;
    }
    if (key == SM_KEY_REDRAW) {
        ui->repaint = true;
        return true;
    }
    switch (ui->mode) {
    case SM_UI_FIRST:
        press_first(ui, key);
        break;
    case SM_UI_PROMPT:
        sm_ui_press_prompt(ui, key);
        break;
    case SM_UI_CONFIRM:
        sm_ui_press_confirm(ui, key);
        break;
    case SM_UI_INHIBIT:
        sm_ui_press_inhibit(ui, key);
        break;
    case SM_UI_HELP:
        press_help(ui, key);
        break;
    case SM_UI_BOARD:
        press_board(ui, key);
        break;
    }
    return true;
}

// ---- the mouse -------------------------------------------------------------------------------------

#define WHEEL_STEPS 3

static void point_board(sm_ui *ui, size_t number, sm_mouse mouse) {
    const sm_board *board = sm_board_at(number);
    sm_request request = {0};
    unsigned next = SM_NEXT_NOTHING;
    if (mouse.what == SM_MOUSE_CLICK)
        choose(ui, number);
    if (board->point) {
        next = board->point(ui->states[number], &ui->view, mouse, &request);
    } else if (mouse.what != SM_MOUSE_CLICK && board->press) {
        int key = mouse.what == SM_MOUSE_WHEEL_UP ? SM_KEY_UP : SM_KEY_DOWN;
        for (int i = 0; i < WHEEL_STEPS; i++)
            next |= board->press(ui->states[number], &ui->view, key, &request);
    }
    grant(ui, next & ~(unsigned)SM_NEXT_ACT, &request);
}

// A click asks for a second key before the show is elsewhere; the wheel shows less or more of it.
static void point_strip(sm_ui *ui, sm_mouse mouse) {
    sm_show_time moment;
    if (mouse.what != SM_MOUSE_CLICK) {
        sm_strip_zoom(ui->strip, ui->view.show, mouse.what == SM_MOUSE_WHEEL_UP);
    } else if (sm_strip_moment(ui->strip, &ui->view, mouse.x, &moment)) {
        char clock[24], line[40];
        snprintf(line, sizeof line, "seek %s", sm_clock_format(clock, moment.us));
        if (sm_action_row_of(SM_ACT_SEEK)->states & 1u << ui->view.snapshot->state) {
            sm_text says = {0};
            sm_jump_describe(&ui->view, moment, &says);
            sm_ui_confirm(ui, SM_ACT_SEEK, line, sm_text_get(&says));
            sm_text_deinit(&says);
        } else {
            sm_ui_do(ui, line); // refused, and the engine says why
        }
    }
}

static void point_at(sm_ui *ui, sm_hit hit, sm_mouse mouse) {
    switch (hit.what) {
    case SM_HIT_TAB:
        if (mouse.what == SM_MOUSE_CLICK)
            choose(ui, hit.board);
        break;
    case SM_HIT_BOARD:
        point_board(ui, hit.board, mouse);
        break;
    case SM_HIT_STRIP:
        point_strip(ui, mouse);
        break;
    default:
        break;
    }
}

bool sm_ui_point(sm_ui *ui, sm_mouse mouse) {
    sm_hit hit = sm_hits_find(&ui->hits, &mouse);
    bool click = mouse.what == SM_MOUSE_CLICK;
    if (hit.what == SM_HIT_SAFE) {
        if (click)
            make_safe(ui);
        return click;
    }
    if (ui->mode == SM_UI_HELP && !click) {
        int key = mouse.what == SM_MOUSE_WHEEL_UP ? SM_KEY_UP : SM_KEY_DOWN;
        for (int i = 0; i < WHEEL_STEPS; i++)
            press_help(ui, key);
        return true;
    }
    if (ui->mode == SM_UI_HELP) {
        ui->mode = SM_UI_BOARD;
    } else if (ui->mode == SM_UI_CONFIRM && click) {
        sm_ui_press_confirm(ui, SM_KEY_NONE); // as any key that is not the second one
        return true;
    } else if (ui->mode == SM_UI_INHIBIT && click) {
        sm_ui_press_inhibit(ui, SM_KEY_NONE); // likewise
        return true;
    }
    if (ui->mode != SM_UI_BOARD || ui->too_small)
        return false;
    point_at(ui, hit, mouse);
    return true;
}
