// SPDX-License-Identifier: GPL-3.0-or-later
// The guards as a list: what is met, why, how old that is, what to do; then what a person should know before arming.
#include "console/view.h"

#include "console/state_line.h"

#include <stdio.h>
#include <string.h>

static const char *what_to_do(sm_guard guard, sm_guard_word word) {
    static const char *const missing[SM_GUARD_COUNT] = {
        [SM_GUARD_KEY] = "k turns the key",
        [SM_GUARD_FIELD] = "everybody out and counted: l reports who left",
        [SM_GUARD_CLEAR] = "c calls clear, when the field was checked and is empty",
        [SM_GUARD_RAILS] =
            "everybody out of the field, then P plugs a rail at the module; or W waives, naming each rail",
        [SM_GUARD_READINGS] = "key off, U unplugs the rail, one in by name (e), F repairs, out (l), P plugs, "
                              "M measures all again, "
                              "a new clear; or W waives, naming each slot",
    };
    if (word == SM_GUARD_MET || word == SM_GUARD_WAIVED) {
        return "";
    }
    if (word == SM_GUARD_NOT_CHECKED) {
        return "does not refuse; M measures, digits on the rails board enter readings";
    }
    return missing[guard];
}

static int draw_guard(const sm_view *view, sm_area area, int y, sm_guard guard) {
    const sm_guard_status *status = &view->snapshot->guards[guard];
    bool met = status->word == SM_GUARD_MET;
    sm_area_text(area, 1, y, SM_LOOK_TITLE, sm_guard_text(guard));
    sm_area_text(area, 11, y, met ? SM_LOOK_PLAIN : SM_LOOK_WARN, sm_guard_word_text(status->word));
    int x = area.columns >= 60 ? 24 : 3, down = area.columns >= 60 ? 0 : 1;
    sm_area text = sm_area_part(area, x, 0, area.columns - x, area.rows);
    int rows = sm_area_wrap(text, y + down, 0, SM_LOOK_PLAIN, status->why);
    const char *todo = what_to_do(guard, status->word);
    if (guard == SM_GUARD_READINGS && !met && view->rig[0]) { // one cause before many repairs
        rows += sm_area_wrap(text, y + down + rows, 0, SM_LOOK_WARN, view->rig);
    }
    if (todo[0]) {
        rows += sm_area_wrap(text, y + down + rows, 2, SM_LOOK_NOW, todo);
    }
    return down + (rows > 0 ? rows : 1);
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
                       sm_day_minute(view->day, now->wind_at, minute),
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

static int draw_inhibits(const sm_view *view, sm_area area, int y) {
    const sm_snapshot *now = view->snapshot;
    sm_text text = {0};
    for (uint32_t i = 0; i < now->inhibit_count; i++) {
        sm_text_printf(&text, "%s%s", i > 0 ? ", " : "", now->inhibits[i]);
    }
    int rows = draw_fact(area, y, "inhibits", now->inhibit_count ? SM_LOOK_WARN : SM_LOOK_DIM,
                         now->inhibit_count ? sm_text_get(&text) : "none");
    sm_text_deinit(&text);
    return rows;
}

static void guards_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    sm_scroller *self = state;
    (void)focused;
    // Drawn upwards by what is scrolled; what lies outside is cut off.
    int y = -self->top;
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++) {
        y += draw_guard(view, area, y, (sm_guard)guard);
    }
    y++;
    y += draw_people(view, area, y);
    y += draw_wind(view, area, y);
    y += draw_inhibits(view, area, y);
    sm_text wait = {0};
    sm_wait_describe(view->snapshot, &wait);
    y +=
        draw_fact(area, y, "wait", SM_LOOK_PLAIN, wait.length ? sm_text_get(&wait) : "nothing has fired yet");
    sm_text_deinit(&wait);
    sm_scroller_drawn(self, y, area.rows);
}

static unsigned guards_press(void *state, const sm_view *view, int key, sm_request *request) {
    (void)view;
    (void)request;
    return sm_scroller_press(state, key);
}

const sm_board sm_board_guards = {
    .name = "guards",
    .key = SM_KEY_F0 + 5,
    .about = "what stands in the way of arming, and what to do",
    .state_size = sizeof(sm_scroller),
    .draw = guards_draw,
    .press = guards_press,
};
