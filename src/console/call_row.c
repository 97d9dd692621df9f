// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/call_row.h"

#include "console/tell.h"

#include "slowmatch/time_of_day.h"

static void add_call(const sm_snapshot *now, sm_text *out) {
    const sm_incidents *incidents = &now->incidents;
    char age[24];
    sm_text_printf(out, "%s %s %s ago: %s", incidents->calls_open > 0 ? "CALL" : "call", incidents->call_who,
                   sm_age_format(now->wall.us - incidents->call_at.us, age), incidents->call_text);
}

static int add_call_hint(sm_text *out) {
    char name[16];
    sm_text_printf(out, " [%s] answers", sm_key_name('y', name));
    return sm_text_columns(sm_text_get(out));
}

bool sm_call_fits(const sm_snapshot *snapshot, int columns) {
    sm_text text = {0};
    int room = columns - 2;
    if (snapshot->incidents.calls_open > 0)
        room -= add_call_hint(&text);
    sm_text_clear(&text);
    add_call(snapshot, &text);
    bool fits = snapshot->incidents.call_at.us != SM_UNSET_US && sm_text_columns(sm_text_get(&text)) <= room;
    sm_text_deinit(&text);
    return fits;
}

int sm_call_row_draw(const sm_view *view, sm_area area) {
    const sm_snapshot *now = view->snapshot;
    const sm_incidents *incidents = &now->incidents;
    if (incidents->call_at.us == SM_UNSET_US)
        return 0;
    char answered[24];
    bool over = view->drill && view->drill->over, open = incidents->calls_open > 0 && !over;
    sm_text text = {0};
    add_call(now, &text);
    if (!open && incidents->answer_at.us != SM_UNSET_US && incidents->answer_at.us >= incidents->call_at.us) {
        sm_text_printf(&text, " · answered %s ago: %s",
                       sm_age_format(now->wall.us - incidents->answer_at.us, answered), incidents->answer);
    } else if (incidents->calls_open == 0) {
        sm_text_printf(&text, " · clear called since");
    } else if (open && incidents->calls_open > 1) {
        sm_text_printf(&text, " · %u calls unanswered", incidents->calls_open);
    }
    sm_area row = sm_area_part(area, 1, 0, area.columns - 2, 1);
    int room = row.columns;
    if (open &&
        (!view->following || sm_ui_seat_may(view, SM_ACT_ANSWER))) { // what to do is never what is cut
        sm_text hint = {0};
        room -= add_call_hint(&hint);
        sm_area_text(row, room, 0, SM_LOOK_KEY, sm_text_get(&hint));
        sm_text_deinit(&hint);
    }
    sm_area_field(row, 0, 0, room, open ? SM_LOOK_WARN : SM_LOOK_DIM, sm_text_get(&text));
    sm_text_deinit(&text);
    return 1;
}
