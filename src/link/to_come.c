// SPDX-License-Identifier: GPL-3.0-or-later
#include "link/to_come.h"

#include <string.h>

static void put_span(sm_text *out, sm_us us) {
    sm_text_printf(out, "%g s", (double)us / 1e6);
}

// As the file has it: running + 5 s..20 s.
static void put_when(const sm_drill *drill, const sm_drill_when *when, sm_text *out) {
    char moment[24];
    switch (when->on) {
    case SM_ON_NOTHING:
        break;
    case SM_ON_BEGIN:
        sm_text_printf(out, "begin");
        break;
    case SM_ON_MOMENT:
        sm_text_printf(out, "@%s", sm_clock_format(moment, when->moment.us));
        break;
    case SM_ON_ACTION:
        sm_text_printf(out, "action %s%s%s", sm_action_row_of(when->action.act)->name,
                       when->action.target[0] != '\0' ? " " : "", when->action.target);
        break;
    case SM_ON_STATE:
        sm_text_printf(out, "%s", sm_state_text(when->state));
        break;
    case SM_ON_EVENT:
        sm_text_printf(out, "%s", drill->events[when->index].name);
        break;
    case SM_ON_EXPECT:
        sm_text_printf(out, "%s", drill->expects[when->index].name);
        break;
    }
    if (when->most_us == 0)
        return;
    sm_text_printf(out, " + ");
    put_span(out, when->least_us);
    if (when->most_us != when->least_us) {
        sm_text_printf(out, "..");
        put_span(out, when->most_us);
    }
}

static void put_events(const sm_drill_run *run, sm_text *out) {
    const sm_drill *drill = sm_drill_of(run);
    char clock[24];
    for (uint32_t i = 0; i < drill->event_count; i++) {
        const sm_drill_event *event = &drill->events[i];
        sm_wall_time at;
        sm_text_printf(out, "event %s: ", event->name);
        if (sm_drill_event_came(run, i, &at)) {
            sm_text_printf(out, "came at %s\n", sm_clock_format(clock, at.us));
            continue;
        }
        if (sm_drill_event_due(run, i, &at)) {
            sm_text_printf(out, "comes at %s", sm_clock_format(clock, at.us));
        } else {
            sm_text_printf(out, "waits for ");
            put_when(drill, &event->when, out);
        }
        bool is_call = event->injection.what == SM_INJECT_CALL; // its text is what is said
        sm_text_printf(out, ": %s%s%s%s\n", is_call ? "call " : "", is_call ? event->injection.who : "",
                       is_call ? " " : "", event->injection.text);
    }
}

static void put_expects(const sm_drill_run *run, sm_text *out) {
    const sm_drill *drill = sm_drill_of(run);
    for (uint32_t i = 0; i < drill->expect_count; i++) {
        const sm_drill_expect *expect = &drill->expects[i];
        const sm_drill_mark mark = sm_drill_expect_mark(run, i);
        const char *action = sm_action_row_of(expect->action.act)->name;
        if (mark.decided) {
            sm_text_printf(out, "expect %s: %d of %d\n", expect->name, mark.got, mark.marks);
        } else if (mark.came) {
            sm_text_printf(out, "expect %s: %s is asked for, within ", expect->name, action);
            put_span(out, expect->within_us);
            sm_text_append(out, "\n", 1);
        } else {
            sm_text_printf(out, "expect %s: %s, waits for ", expect->name, action);
            put_when(drill, &expect->after, out);
            sm_text_append(out, "\n", 1);
        }
    }
}

// 1: it was ticked yes, -1: no, 0: not yet.
static int ticked(const sm_drill_run *run, const char *name) {
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++) {
        const sm_drill_mark mark = sm_drill_mark_at(run, i);
        if (mark.kind == SM_MARK_SPOKEN && strcmp(mark.name, name) == 0)
            return mark.got > 0 ? 1 : -1;
    }
    return 0;
}

static void put_spokens(const sm_drill_run *run, sm_text *out) {
    const sm_drill *drill = sm_drill_of(run);
    for (uint32_t i = 0; i < drill->spoken_count; i++) {
        const sm_drill_spoken *spoken = &drill->spokens[i];
        int yes = ticked(run, spoken->name);
        sm_text_printf(out, "spoken %s, after ", spoken->name);
        put_when(drill, &spoken->after, out);
        sm_text_printf(out, ": \"%s\" ", spoken->words);
        if (yes != 0)
            sm_text_printf(out, "(ticked %s)\n", yes > 0 ? "yes" : "no");
        else
            sm_text_printf(out, "(tick %s yes or no)\n", spoken->name);
    }
}

void link_put_to_come(const sm_drill_run *run, sm_text *out) {
    char hint[240];
    put_events(run, out);
    put_expects(run, out);
    put_spokens(run, out);
    sm_drill_hint(run, hint);
    sm_text_printf(out, "next for the trainee: %s\n", hint);
}
