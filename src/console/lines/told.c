// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/lines/told.h"

#include "boards/words/alert_line.h"
#include "boards/words/log_line.h"
#include "boards/words/state_line.h"
#include "console/modes/modes.h"
#include "console/modes/typing.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static void say(sm_lines *lines, sm_text *text) {
    sm_lines_out_say(&lines->out, sm_text_get(text));
    sm_text_clear(text);
}

// ---- rows -------------------------------------------------------------------------------------

// A refusal by hand is told by its answer, an alert by the list of all that stand, a hint by the drill's line.
static bool is_told(const sm_lines *lines, const sm_recent_row *row) {
    bool answered = row->source == SM_SOURCE_CONSOLE &&
                    (row->kind.what == SM_LOG_REFUSED || sm_log_is_act(row->kind, SM_ACT_HINT));
    bool fixture = row->kind.what == SM_LOG_SET || row->kind.what == SM_LOG_HOME;
    return lines->rows != SM_LINES_NONE && !answered && row->kind.what != SM_LOG_ALERT &&
           (lines->rows == SM_LINES_ALL || !fixture);
}

static void say_left_out(sm_lines *lines) {
    char text[80];
    snprintf(text, sizeof text, "(%" PRIu64 " rows were not told: they came too fast)", lines->left_out);
    if (lines->left_out > 0 && !sm_lines_out_is_full(&lines->out)) {
        sm_lines_out_say(&lines->out, text);
        lines->left_out = 0;
    }
}

#define NAMED 4

// What a jump passed over is one line, not one a slot.
static void say_passed(sm_lines *lines, uint32_t *count, sm_text *names) {
    sm_text text = {0};
    if (*count > NAMED)
        sm_text_printf(names, " and %u more", *count - NAMED);
    sm_text_printf(&text, "passed over, LIVE: %s", sm_text_get(names));
    if (*count > 0)
        say(lines, &text);
    *count = 0;
    sm_text_clear(names);
    sm_text_deinit(&text);
}

static void say_row(sm_lines *lines, const sm_recent_row *row) {
    char second[16], clock[24];
    sm_text text = {0};
    sm_text_printf(&text, "%s ", sm_time_of_day_second(lines->seen.ui.view.time_of_day, row->wall, second));
    if (row->has_show)
        sm_text_printf(&text, "%s ", sm_clock_format(clock, row->show.us));
    sm_log_line(row, &text);
    say(lines, &text);
    sm_text_deinit(&text);
}

// What a drill's crew says, as it is heard: the snapshot may have told it before the row came.
static void say_call(sm_lines *lines, const sm_recent_row *row) {
    sm_text text = {0};
    if (lines->seen_us != row->wall.us) {
        sm_text_printf(&text, "DRILL %s: %s", row->target, row->detail);
        say(lines, &text);
    }
    lines->seen_us = row->wall.us;
    sm_text_deinit(&text);
}

// What was read is what people measure for: without a screen nothing else says it.
static void say_readings(sm_lines *lines) {
    const sm_guard_status *guard = &lines->seen.ui.view.snapshot->guards[SM_GUARD_READINGS];
    sm_text text = {0};
    sm_text_printf(&text, "%s %s: %s", sm_guard_text(SM_GUARD_READINGS), sm_guard_word_text(guard->word),
                   guard->why);
    say(lines, &text);
    sm_text_deinit(&text);
}

static void tell_rows(sm_lines *lines) {
    const sm_recent *recent = lines->seen.ui.view.recent;
    sm_text passed = {0};
    uint32_t passed_count = 0;
    bool read = false;
    if (recent->count - lines->told_rows > SM_RECENT_ROWS) {
        lines->left_out += recent->count - lines->told_rows - SM_RECENT_ROWS;
        lines->told_rows = recent->count - SM_RECENT_ROWS;
    }
    for (; lines->told_rows < recent->count; lines->told_rows++) {
        const sm_recent_row *row = sm_recent_at(recent, recent->count - 1 - lines->told_rows);
        if (!is_told(lines, row))
            continue;
        if (sm_lines_out_is_full(&lines->out)) {
            lines->left_out++;
            continue;
        }
        say_left_out(lines);
        read |= sm_log_is_act(row->kind, SM_ACT_MEASURE) || sm_log_is_act(row->kind, SM_ACT_READ);
        if (row->kind.what == SM_LOG_PASSED && lines->rows != SM_LINES_ALL) {
            if (passed_count++ < NAMED)
                sm_text_printf(&passed, "%s%s", passed_count > 1 ? ", " : "", row->target);
            continue;
        }
        say_passed(lines, &passed_count, &passed);
        if (sm_log_is_act(row->kind, SM_ACT_CALL))
            say_call(lines, row);
        else
            say_row(lines, row);
    }
    say_passed(lines, &passed_count, &passed);
    if (read)
        say_readings(lines);
    say_left_out(lines);
    sm_text_deinit(&passed);
}

// ---- alerts -----------------------------------------------------------------------------------

// The essential words of a warning are those that people must know of again when they change.
static bool is_news(const sm_alert *alert, const sm_alert *before) {
    bool warns = sm_alert_row_of(alert->id)->rank == SM_ALERT_WARNING;
    return !before || (warns && (alert->essential != before->essential ||
                                 strncmp(alert->words, before->words, alert->essential) != 0));
}

// Another alert of ALL is about the same: what ALERT tells of goes on, in other words or another rank.
static bool goes_on_as_another(const sm_alert *alert, const sm_alerts *all) {
    bool any = false;
    for (uint32_t i = 0; i < all->count; i++)
        any |= all->at[i].id != alert->id && sm_alert_about(all->at[i].id) == sm_alert_about(alert->id);
    return any;
}

// The show runs on while something burns: that is over for nobody, and told again where the show stands.
static bool burns_on(const sm_alert *alert, const sm_snapshot *now) {
    return alert->id == SM_ALERT_BURNING && now->burning_count + now->flying > 0;
}

static void tell_alerts(sm_lines *lines) {
    const sm_alerts *now = &lines->seen.ui.alerts;
    const sm_snapshot *snapshot = lines->seen.ui.view.snapshot;
    sm_text text = {0};
    for (uint32_t i = 0; i < lines->told_alerts.count; i++) {
        const sm_alert *alert = &lines->told_alerts.at[i];
        if (sm_alerts_find(now, alert->id) || goes_on_as_another(alert, now) || burns_on(alert, snapshot))
            continue;
        sm_text_printf(&text, "no longer: %s %s", sm_alert_rank_text(sm_alert_row_of(alert->id)->rank),
                       alert->words);
        say(lines, &text);
    }
    for (uint32_t i = 0; i < now->count; i++) {
        const sm_alert *alert = &now->at[i];
        const sm_alert_row *row = sm_alert_row_of(alert->id);
        const sm_alert *before = sm_alerts_find(&lines->told_alerts, alert->id);
        if (!is_news(alert, before))
            continue;
        const bool goes_on = before || goes_on_as_another(alert, &lines->told_alerts);
        sm_text_printf(&text, "%s%s %s; %s: %s", goes_on ? "now " : "", sm_alert_rank_text(row->rank),
                       alert->words, row->who, sm_alert_to_do(alert->id, snapshot->state, snapshot->key));
        say(lines, &text);
    }
    lines->told_alerts = *now;
    sm_text_deinit(&text);
}

// ---- a drill -------------------------------------------------------------------------------------

static void tell_seen(sm_lines *lines) {
    const sm_incidents *incidents = &lines->seen.ui.view.snapshot->incidents;
    sm_text text = {0};
    if (incidents->latest_at.us != lines->seen_us && incidents->latest_at.us != SM_UNSET_US) {
        sm_text_printf(&text, "DRILL %s", incidents->latest);
        say(lines, &text);
    }
    lines->seen_us = incidents->latest_at.us;
    sm_text_deinit(&text);
}

// The hint stands all the time, also as it changes.
static bool hints(const sm_drill_view *drill) {
    return drill && !drill->over && (drill->held || drill->drill->hints == SM_HINTS_FULL);
}

static void put_hint(const sm_view *view, sm_text *out) {
    char word[16];
    bool has_word =
        view->key_of && view->drill->next != SM_ACT_COUNT && view->key_of(view->drill->next, word);
    sm_text_printf(out, "DRILL hint: %s%s%s%s", has_word ? "[" : "", has_word ? word : "",
                   has_word ? "] " : "", view->drill->hint);
}

static void tell_drill(sm_lines *lines) {
    const sm_drill_view *drill = lines->seen.ui.view.drill;
    sm_text text = {0};
    if (!drill)
        return;
    tell_seen(lines);
    if (drill->marked[0] && drill->marked_at.us != lines->marked_us && drill->drill->hints == SM_HINTS_FULL &&
        !drill->over) {
        sm_text_printf(&text, "DRILL (%s)", drill->marked);
        say(lines, &text);
    }
    lines->marked_us = drill->marked_at.us;
    if (drill->asked[0] && drill->asked_at.us != lines->hinted_us) {
        sm_text_printf(&text, "DRILL hint: %s", drill->asked);
        say(lines, &text);
    }
    lines->hinted_us = drill->asked_at.us;
    if (hints(drill) && !lines->typed && strcmp(drill->hint, lines->told_hint) != 0) {
        put_hint(&lines->seen.ui.view, &text); // where a line was typed the state has it
        say(lines, &text);
    }
    snprintf(lines->told_hint, sizeof lines->told_hint, "%s", drill->hint);
    if (drill->over && !lines->told_over) {
        sm_text_printf(&text, drill->broken_off ? "NO DRILL: a real emergency. This rehearsal is over."
                                                : "DRILL OVER: `debrief` has it; `quit` leaves.");
        say(lines, &text);
    }
    lines->told_over = drill->over;
    sm_text_deinit(&text);
}

// ---- all of it --------------------------------------------------------------------------------------

bool sm_lines_word_of(sm_act act, char word[16]) {
    snprintf(word, 16, "%s", sm_action_row_of(act)->name);
    return true;
}

void sm_lines_told_begin(sm_lines *lines) {
    lines->told_state = SM_STATE_COUNT;
    lines->seen_us = lines->marked_us = lines->hinted_us = SM_UNSET_US;
    lines->asked_anew = true;
    sm_text text = {0};
    sm_text_printf(&text,
                   "REHEARSAL of %s, as lines. `help` has the words and keys, `quit` leaves; a line of one "
                   "blank, `safe` and "
                   "Ctrl-C make safe.",
                   lines->seen.ui.view.show->settings.title);
    say(lines, &text);
    sm_text_deinit(&text);
}

static void tell_message(sm_lines *lines) {
    sm_ui *ui = &lines->seen.ui;
    // What stands for as long as it is wrong is told once, and again after a line.
    if (ui->has_message && (lines->typed || strcmp(ui->message.text, lines->told_message) != 0)) {
        sm_lines_out_say(&lines->out, ui->message.text);
        snprintf(lines->told_message, sizeof lines->told_message, "%s", ui->message.text);
    }
    ui->has_message = false;
}

void sm_lines_tell(sm_lines *lines) {
    sm_ui *ui = &lines->seen.ui;
    tell_alerts(lines);
    tell_rows(lines);
    tell_drill(lines);
    tell_message(lines);
    if (ui->bell)
        sm_lines_out_bell(&lines->out);
    ui->bell = false;
}

// ---- what is asked ---------------------------------------------------------------------------------

static void put_page(sm_lines *lines, int rows) {
    sm_ui *ui = &lines->seen.ui;
    const sm_mode *mode = sm_mode_of(ui->mode);
    sm_area page = sm_lines_out_page(&lines->out, rows);
    if (mode->draw && mode->draw(ui, page))
        sm_lines_out_say_page(&lines->out, rows);
}

#define BOARD_ROWS 40

static void put_board(sm_lines *lines) {
    sm_ui *ui = &lines->seen.ui;
    sm_area page = sm_lines_out_page(&lines->out, BOARD_ROWS);
    lines->shows_board = false;
    sm_board_at(ui->chosen)->draw(ui->states[ui->chosen], &ui->view, page, true);
    sm_lines_out_say_page(&lines->out, BOARD_ROWS);
}

static void put_question(sm_lines *lines) {
    sm_ui *ui = &lines->seen.ui;
    const sm_mode *mode = sm_mode_of(ui->mode);
    sm_text text = {0};
    put_page(lines, BOARD_ROWS);
    if (ui->mode == SM_UI_PROMPT && ui->asking == SM_ACT_COUNT && ui->chosen == SM_BOARD_DEBRIEF)
        put_board(lines); // what is asked stands on it
    if (mode->question)
        mode->question(ui, 80, &text);
    if (ui->mode == SM_UI_PROMPT) {
        sm_text_printf(&text, "%s%s%s", ui->prompt.label, ui->prompt.length > 0 ? " " : "", ui->prompt.text);
        if (ui->prompt.length == 0 && ui->prompt.offer[0])
            sm_text_printf(&text, " (Enter takes %s)", ui->prompt.offer);
        sm_text_printf(&text, " (. leaves it)");
    }
    if (text.length > 0)
        say(lines, &text);
    sm_text_deinit(&text);
}

// What is next is told of what was done, never of what was before it.
static bool is_late(sm_lines *lines) {
    bool behind = sm_session_is_behind(lines->seen.session);
    if (behind && lines->typed)
        sm_lines_out_say(&lines->out, "not answered yet; the state is told when it is");
    lines->late = behind && (lines->typed || lines->late);
    return behind;
}

static void put_state(sm_lines *lines) {
    const bool was_late = lines->late;
    if (is_late(lines))
        return;
    const sm_view *view = &lines->seen.ui.view;
    sm_text text = {0}, step = {0};
    bool has_step = sm_next_step_describe(view, &step);
    bool changed = view->snapshot->state != lines->told_state ||
                   view->snapshot->people_count != lines->told_people ||
                   strcmp(sm_text_get(&step), lines->told_step) != 0;
    if (changed || lines->typed || was_late) {
        sm_state_line_format(view->snapshot, view->time_of_day, &text);
        say(lines, &text);
        // a drill's hint knows what it asks for: the usual next step beside it would say something else
        if (hints(view->drill) && lines->typed)
            put_hint(view, &text);
        else if (!hints(view->drill) && has_step)
            sm_text_printf(&text, "NEXT: %s", sm_text_get(&step));
        if (text.length > 0)
            say(lines, &text);
    }
    lines->told_state = view->snapshot->state;
    lines->told_people = view->snapshot->people_count;
    snprintf(lines->told_step, sizeof lines->told_step, "%s", sm_text_get(&step));
    sm_text_deinit(&step);
    sm_text_deinit(&text);
}

static const char own_words[] = "A line is an action with what belongs to it (`wind 3`), the name of a board "
                                "(`guards`), the name of a key (`k`, `F3`, "
                                "`PageDown`), or one of: `LINE ?` what LINE may go on with; `help TEXT` what "
                                "has that text; `alerts`; `rows "
                                "some`, `rows all` or `rows none` of the "
                                "log are told as they come; a line of one blank makes safe. An empty line "
                                "says the state again, and answers a question by Enter.";

void sm_lines_prompt(sm_lines *lines) {
    sm_ui *ui = &lines->seen.ui;
    if (ui->mode == SM_UI_HELP || ui->mode == SM_UI_ALERTS) { // they are read, and that is all
        if (ui->mode == SM_UI_HELP)
            sm_lines_out_say(&lines->out, own_words);
        put_page(lines, SM_CELLS_ROWS_MAX);
        ui->mode = SM_UI_BOARD;
    }
    if (lines->shows_board)
        put_board(lines);
    if (ui->mode == SM_UI_BOARD)
        put_state(lines);
    else if (lines->asked_anew)
        put_question(lines);
    lines->asked_anew = lines->typed = false;
    sm_lines_out_prompt(&lines->out, "> ");
}
