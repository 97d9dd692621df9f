// SPDX-License-Identifier: GPL-3.0-or-later
// The guards as a list: what is met, why, how old that is, what to do; then what a person should know before arming.
#include "boards/view.h"
#include "boards/words/alert_line.h"
#include "boards/words/planted.h"
#include "boards/words/state_line.h"
#include "screen/scroller.h"

#include "slowmatch/conditions.h"

#include <assert.h>
#include <ctype.h>
#include <stdio.h>
#include <string.h>

// The guards in the order in which a crew works: rails are last of the rig, then everybody out and counted, only then measured.
static const sm_guard order[] = {SM_GUARD_RAILS, SM_GUARD_FIELD, SM_GUARD_READINGS, SM_GUARD_CLEAR,
                                 SM_GUARD_KEY};
static_assert(sizeof order / sizeof order[0] == SM_GUARD_COUNT, "each guard has its place");

// Advice is given for the state one is in: nobody is sent into the field, or to measure, past a module that is not safe.
static const char *what_to_do(const sm_view *view, sm_guard guard) {
    const sm_snapshot *now = view->snapshot;
    const sm_guard_word word = now->guards[guard].word;
    // Whoever calls clear has had the field looked at.
    const bool hands = guard == SM_GUARD_RAILS || guard == SM_GUARD_READINGS || guard == SM_GUARD_CLEAR;
    static const char *const missing[] = {
        [SM_GUARD_KEY] = "k turns the key",
        [SM_GUARD_FIELD] = "everybody out and counted: l reports who left",
        [SM_GUARD_CLEAR] = "c calls clear, when the field was checked and is empty",
        [SM_GUARD_RAILS] = "P plugs a rail at the module; or W waives, naming each rail",
        [SM_GUARD_READINGS] = "key off, U unplugs the rail, one in by name (e), F repairs, out (l), P plugs, "
                              "M measures all again, "
                              "a new clear; or W waives, naming each slot",
    };
    static_assert(sizeof missing / sizeof missing[0] == SM_GUARD_COUNT, "what to do for each guard");
    if (word == SM_GUARD_MET || word == SM_GUARD_WAIVED)
        return "";
    if (now->incidents.link_lost) // then nothing but the link counts, and who is out there
        return guard == SM_GUARD_FIELD ? missing[guard] : "";
    if (now->incidents.storm && guard != SM_GUARD_FIELD) // nobody is sent out to a rail
        return "";
    if (hands && now->state == SM_STATE_SAFE && (now->misfired > 0 || sm_snapshot_all_stay_out(now)))
        return now->misfired > 0 ? "all stay out: a misfire stands, the licensed operator decides"
                                 : "all stay out: not before the wait has run and nothing burns";
    if (word == SM_GUARD_NOT_CHECKED) {
        return now->state == SM_STATE_SAFE
                   ? "does not refuse; everybody out, then M and Enter measures all rails"
                   : "does not refuse; make safe before measuring";
    }
    if (now->state != SM_STATE_SAFE)
        return "make safe and key off first";
    if (guard == SM_GUARD_KEY &&
        !now->clear_called) // nobody is led to turn it with hands or feet in the field
        return "after the clear";
    if (guard == SM_GUARD_RAILS && now->people_count > 0)
        return "everybody out of the field first: l reports who left";
    if (guard == SM_GUARD_READINGS && sm_condition_any_spent(now)) // spent is no fault
        return "count fired and not fired; then R re-rigs all (simulated)";
    if (guard == SM_GUARD_READINGS &&
        sm_condition_swapped(now, view->swapped)) // one cause, and nobody goes in
        return "key off, E exchanges their plugs at the module end, M measures all again, a new clear";
    return missing[guard];
}

// ---- what stands beside the guards --------------------------------------------------------------

typedef struct obstacle {
    const char *name, *word, *to_do; // to_do NULL: as the alert says
    sm_alert_id alert;
    bool (*stands)(const sm_snapshot *now, sm_text *why, sm_wall_time *since);
} obstacle;

static bool link_is_lost(const sm_snapshot *now, sm_text *why, sm_wall_time *since) {
    *since = now->incidents.link_at;
    sm_text_printf(why, "nothing is known of the module: TREAT AS ARMED");
    return now->incidents.link_lost;
}

// It refuses nothing, as a real module would not: only people know of it.
static bool storm_stands(const sm_snapshot *now, sm_text *why, sm_wall_time *since) {
    since->us = SM_UNSET_US;
    sm_text_printf(why, "thunder, or a storm warning");
    return now->incidents.storm;
}

static bool hold_stands(const sm_snapshot *now, sm_text *why, sm_wall_time *since) {
    if (now->hold_count == 0)
        return false;
    *since = now->hold_at;
    sm_hold_describe(now->hold_who, now->hold_why, now->hold_count, why);
    return true;
}

static bool timecode_refuses(const sm_snapshot *now, sm_text *why, sm_wall_time *since) {
    since->us = SM_UNSET_US;
    return sm_timecode_refuses(&now->timecode, now->show, now->wall, why);
}

// Where one of them stands, no number of guards that are met leads on.
static const obstacle obstacles[] = {
    {"link", "LOST", NULL, SM_ALERT_LINK, link_is_lost},
    {"storm", "STANDS", NULL, SM_ALERT_STORM, storm_stands},
    {"hold", "STANDS", "ask why; g lifts it when they agree", SM_ALERT_HOLD, hold_stands},
    {"timecode", "REFUSES", "start and resume are refused until it is LOCKED within the show",
     SM_ALERT_TIMECODE, timecode_refuses},
};
#define OBSTACLES (sizeof obstacles / sizeof obstacles[0])

static bool stands(const sm_view *view, const obstacle *row) {
    sm_text why = {0};
    sm_wall_time since;
    bool yes = row->stands(view->snapshot, &why, &since);
    sm_text_deinit(&why);
    return yes;
}

static int draw_next(const sm_view *view, sm_area area, int y) {
    sm_text text = {0}, step = {0};
    uint32_t met = 0;
    for (size_t i = 0; i < OBSTACLES; i++)
        if (stands(view, &obstacles[i]))
            sm_text_printf(&text, "%s %s, ", obstacles[i].name, obstacles[i].word);
    if (text.bytes) // each begins the row
        text.bytes[0] = (char)toupper((unsigned char)text.bytes[0]);
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++)
        met += view->snapshot->guards[guard].word == SM_GUARD_MET;
    sm_text_printf(&text, "%u of %d MET.", met, SM_GUARD_COUNT);
    if (sm_next_step_describe(view, &step))
        sm_text_printf(&text, " NEXT: %s", sm_text_get(&step));
    sm_text_deinit(&step);
    sm_area part = sm_area_part(area, 1, 0, area.columns - 1, area.rows);
    int rows = sm_area_wrap(part, y, 2, SM_LOOK_NOW, sm_text_get(&text));
    sm_text_deinit(&text);
    return rows;
}

// Where the columns are; on narrow terminals what is said goes below.
#define AT_NAME 3
#define AT_WORD 13
#define AT_AGE 26
#define AT_WHY 35

// NUMBER 0: what stands, and is no guard.
static void draw_head(sm_area area, int y, int number, const char *name, sm_look look, const char *word) {
    if (number == 0)
        sm_area_text(area, 1, y, look, "!");
    else
        sm_area_printf(area, 1, y, SM_LOOK_DIM, "%d", number);
    sm_area_text(area, AT_NAME, y, SM_LOOK_TITLE, name);
    sm_area_text(area, AT_WORD, y, look, word);
}

static void draw_age(const sm_view *view, sm_area area, int y, sm_wall_time since) {
    char age[24];
    if (since.us != SM_UNSET_US)
        sm_area_text(area, AT_AGE, y, SM_LOOK_DIM, sm_age_format(view->snapshot->wall.us - since.us, age));
}

// Where it is said why, and what to do; *DOWN: so many rows below the head.
static sm_area text_part(sm_area area, int *down) {
    bool wide = area.columns >= 60;
    int x = wide ? AT_WHY : AT_NAME;
    *down = wide ? 0 : 1;
    return sm_area_part(area, x, 0, area.columns - x, area.rows);
}

static int draw_obstacle(const sm_view *view, sm_area area, int y, const obstacle *row) {
    sm_text why = {0};
    sm_wall_time since;
    int rows = 0;
    if (row->stands(view->snapshot, &why, &since)) {
        draw_head(area, y, 0, row->name, SM_LOOK_WARN, row->word);
        draw_age(view, area, y, since);
        sm_area text = text_part(area, &rows);
        rows += sm_area_wrap(text, y + rows, 0, SM_LOOK_WARN, sm_text_get(&why));
        const sm_snapshot *now = view->snapshot;
        rows += sm_area_wrap(text, y + rows, 2, SM_LOOK_NOW,
                             row->to_do ? row->to_do : sm_alert_to_do(row->alert, now->state, now->key));
    }
    sm_text_deinit(&why);
    return rows;
}

static int draw_guard(const sm_view *view, sm_area area, int y, int number, sm_guard guard) {
    const sm_guard_status *status = &view->snapshot->guards[guard];
    bool met = status->word == SM_GUARD_MET;
    draw_head(area, y, number, sm_guard_text(guard), met ? SM_LOOK_PLAIN : SM_LOOK_WARN,
              sm_guard_word_text(status->word));
    draw_age(view, area, y, status->since);
    int down;
    sm_area text = text_part(area, &down);
    int rows = sm_area_wrap(text, y + down, 0, SM_LOOK_PLAIN, status->why);
    const char *todo = what_to_do(view, guard);
    if (guard == SM_GUARD_READINGS && !met && view->rig_explanation[0]) // one cause before many repairs
        rows += sm_area_wrap(text, y + down + rows, 0, SM_LOOK_WARN, view->rig_explanation);
    if (todo[0])
        rows += sm_area_wrap(text, y + down + rows, 2, SM_LOOK_NOW, todo);
    return down + (rows > 0 ? rows : 1);
}

// After the guards: the two steps that ask for them.
static int draw_steps(const sm_view *view, sm_area area, int y) {
    static const char *const arm[] = {"to do", "under way", "done", "done", "done", "done"};
    static const char *const start[] = {"to do", "to do", "to do", "done", "PAUSED", "ENDED"};
    static_assert(sizeof arm / sizeof arm[0] == SM_STATE_COUNT, "a word for each state");
    static_assert(sizeof start / sizeof start[0] == SM_STATE_COUNT, "a word for each state");
    const sm_snapshot *now = view->snapshot;
    bool paused = now->state == SM_STATE_PAUSED, lost = now->incidents.link_lost;
    draw_head(area, y, SM_GUARD_COUNT + 1, "arm", SM_LOOK_PLAIN, lost ? "not known" : arm[now->state]);
    draw_head(area, y + 1, SM_GUARD_COUNT + 2, paused ? "resume" : "start", SM_LOOK_PLAIN,
              lost ? "not known" : start[now->state]);
    if (area.columns >= 60) {
        sm_area_text(area, AT_WHY, y, SM_LOOK_DIM, "a, then Enter; asks for all of these");
        sm_area_printf(area, AT_WHY, y + 1, SM_LOOK_DIM, "%c, then Enter; asks for field, clear and key",
                       paused ? 'r' : 'b');
    }
    return 2;
}

static int draw_fact(sm_area area, int y, const char *name, sm_look look, const char *text) {
    sm_area_text(area, 1, y, SM_LOOK_TITLE, name);
    sm_area part = sm_area_part(area, 11, 0, area.columns - 11, area.rows);
    int rows = sm_area_wrap(part, y, 0, look, text);
    return rows > 0 ? rows : 1;
}

static int draw_people(const sm_view *view, sm_area area, int y) {
    sm_text text = {0};
    const sm_snapshot *now = view->snapshot;
    sm_text_printf(&text, "%u %s reported in the field", now->people_count,
                   now->people_count == 1 ? "person" : "people");
    for (uint32_t i = 0; i < now->people_count; i++) {
        char age[24];
        sm_text_printf(&text, "%s %s for %s", i == 0 ? ":" : ",", now->people[i].name,
                       sm_age_format(now->wall.us - now->people[i].since.us, age));
    }
    int rows =
        draw_fact(area, y, "people", now->people_count ? SM_LOOK_WARN : SM_LOOK_PLAIN, sm_text_get(&text));
    sm_text_deinit(&text);
    return rows;
}

static int draw_wind(const sm_view *view, sm_area area, int y) {
    const sm_snapshot *now = view->snapshot;
    double limit = view->show->settings.wind_limit_m_s;
    sm_text text = {0};
    bool over = false;
    if (now->wind_known) {
        char minute[16], age[24];
        over = now->wind_m_s > limit; // false where the limit is not set
        sm_text_printf(&text, "%.1f m/s at %s, %s ago", now->wind_m_s,
                       sm_time_of_day_minute(view->time_of_day, now->wind_at, minute),
                       sm_age_format(now->wall.us - now->wind_at.us, age));
    } else {
        sm_text_printf(&text, "not measured");
    }
    if (limit == limit) {
        sm_text_printf(&text, "; limit %.1f m/s (your setting)%s", limit,
                       over ? ": OVER IT, no aerials" : "");
    } else {
        sm_text_printf(&text, "; limit NOT SET");
    }
    int rows = draw_fact(area, y, "wind", over ? SM_LOOK_WARN : SM_LOOK_PLAIN, sm_text_get(&text));
    sm_text_deinit(&text);
    return rows;
}

// What is held back, waived, stray, slowed or repeated; where there is nothing, NONE.
static int draw_standing(const sm_view *view, sm_area area, int y, const char *name,
                         bool (*standing)(const sm_snapshot *snapshot, sm_text *out), const char *none) {
    sm_text text = {0};
    bool any = standing(view->snapshot, &text);
    int rows = draw_fact(area, y, name, any ? SM_LOOK_WARN : SM_LOOK_DIM, any ? sm_text_get(&text) : none);
    sm_text_deinit(&text);
    return rows;
}

// What is listened to, and what it lets begin.
static int draw_timecode(const sm_view *view, sm_area area, int y) {
    const sm_snapshot *now = view->snapshot;
    const sm_timecode_in *timecode = &now->timecode;
    const char *outside = sm_timecode_outside(timecode, now->show, now->wall);
    char span[24];
    sm_text text = {0};
    sm_text_printf(&text, "%s for %s", sm_timecode_state_text(timecode->state),
                   sm_age_format(now->wall.us - timecode->since.us, span));
    if (outside)
        sm_text_printf(&text, ", %s", outside);
    else if (timecode->why[0])
        sm_text_printf(&text, ": %s", timecode->why);
    if (sm_timecode_leads(timecode))
        sm_text_printf(&text, "; show %s, %s%s frames a second",
                       sm_clock_format(span, sm_show_clock_show_at(&timecode->line, now->wall).us),
                       sm_timecode_rate_text(timecode->rate), timecode->drop ? " drop" : "");
    const bool good = timecode->state == SM_TIMECODE_LOCKED && !outside;
    int rows = draw_fact(area, y, "timecode", good ? SM_LOOK_PLAIN : SM_LOOK_WARN, sm_text_get(&text));
    sm_text_deinit(&text);
    return rows;
}

static void guards_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    sm_scroller *self = state;
    (void)focused;
    // Drawn upwards by what is scrolled; what lies outside is cut off.
    int y = -self->top;
    y += draw_next(view, area, y);
    for (size_t i = 0; i < OBSTACLES; i++)
        y += draw_obstacle(view, area, y, &obstacles[i]);
    for (int i = 0; i < SM_GUARD_COUNT; i++)
        y += draw_guard(view, area, y, i + 1, order[i]);
    y += draw_steps(view, area, y);
    y++;
    y += draw_people(view, area, y);
    y += draw_wind(view, area, y);
    if (view->snapshot->timecode.state != SM_TIMECODE_OFF)
        y += draw_timecode(view, area, y);
    if (view->drill)
        y += draw_standing(view, area, y, "seen", sm_planted_describe, "nothing that should not be");
    y += draw_standing(view, area, y, "inhibits", sm_condition_held, "none");
    y += draw_standing(view, area, y, "stray", sm_condition_stray, "none among those read");
    y += draw_standing(view, area, y, "speed", sm_condition_speed, "1");
    y += draw_standing(view, area, y, "repeat", sm_condition_repeat, "none");
    sm_text wait = {0};
    (void)sm_wait_describe(view->snapshot, &wait);
    y += draw_fact(area, y, "after", SM_LOOK_PLAIN,
                   wait.length                           ? sm_text_get(&wait)
                   : view->snapshot->incidents.link_lost ? "not known: the link is lost"
                                                         : "nothing has fired yet");
    sm_text_deinit(&wait);
    sm_scroller_drawn_in(self, y, area);
}

static unsigned guards_press(void *state, const sm_view *view, int key, sm_request *request) {
    (void)view;
    (void)request;
    return sm_scroller_press(state, key) ? SM_NEXT_REDRAW : SM_NEXT_UNUSED;
}

const sm_board sm_board_guards = {
    .name = "guards",
    .key = SM_KEY_F0 + 5,
    .about = "what stands in the way of arming, and what to do",
    .state_size = sizeof(sm_scroller),
    .draw = guards_draw,
    .press = guards_press,
};
