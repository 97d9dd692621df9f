// SPDX-License-Identifier: GPL-3.0-or-later
// What an instructor may do, from wherever, and what they are told of the drill.
#include "link/to_come.h"

#include "slowmatch/link.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

// ---- telling --------------------------------------------------------------------------------------

static void say(sm_link_say *to, void *context, const char *format, ...) SM_PRINTF(3, 4);
static void say(sm_link_say *to, void *context, const char *format, ...) {
    sm_text line = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&line, format, args);
    va_end(args);
    to(context, sm_text_get(&line));
    sm_text_deinit(&line);
}

void sm_link_hello(const sm_drill_run *run, char hello[SM_LINK_LINE]) {
    const sm_drill *drill = sm_drill_of(run);
    snprintf(hello, SM_LINK_LINE,
             "REHEARSAL drill \"%.200s\" as %s%s%.100s, seed %llu. NO DRILL ends it at once; help says what "
             "you can do.",
             drill->title, sm_drill_seat_text(drill->seat),
             sm_drill_crew(run)[0] != '\0' ? ", taken by " : "", sm_drill_crew(run),
             (unsigned long long)sm_drill_seed(run));
}

static void say_to_come(const sm_drill_run *run, sm_link_say *to, void *context) {
    sm_text lines = {0};
    link_put_to_come(run, &lines);
    for (char *line = lines.bytes, *end; line && (end = strchr(line, '\n')); line = end + 1) {
        *end = '\0';
        to(context, line);
    }
    sm_text_deinit(&lines);
}

void sm_link_welcome(const sm_drill_run *run, sm_link_say *to, void *context) {
    char hello[SM_LINK_LINE];
    sm_link_hello(run, hello);
    to(context, hello);
    say_to_come(run, to, context);
}

static void say_state(sm_link_feed *feed, sm_drill_run *run, sm_link_say *to, void *context) {
    sm_facts facts = sm_rehearsal_facts(sm_drill_rehearsal(run));
    char text[200];
    snprintf(text, sizeof text, "REHEARSAL %s, key %s, %s, %u in the field, %u misfired%s%s",
             sm_state_text(facts.state), facts.key ? "ON" : "OFF",
             facts.clear_called ? "clear called" : "clear not called", facts.people, facts.misfired,
             facts.link_lost ? ", LINK LOST" : "", sm_drill_is_held(run) ? ", DRILL HELD" : "");
    if (strcmp(text, feed->state) == 0)
        return;
    memcpy(feed->state, text, sizeof text);
    to(context, text);
}

void sm_link_tell_news(sm_link_feed *feed, sm_drill_run *run, sm_link_say *to, void *context) {
    for (; feed->told < sm_drill_entry_count(run); feed->told++) {
        sm_drill_entry entry = sm_drill_entry_at(run, feed->told);
        char clock[24], source[SM_SEAT_NAME + 8];
        say(to, context, "%s %s: %s %s%s%s", sm_clock_format(clock, entry.at.us),
            sm_source_put(source, entry.source, entry.seat), sm_log_word(entry.kind), entry.target,
            entry.detail[0] != '\0' ? " " : "", entry.detail);
    }
    say_state(feed, run, to, context);
    if (sm_drill_is_over(run) && !feed->end_told) {
        feed->end_told = true;
        say(to, context,
            sm_drill_was_broken_off(run) ? "the drill was broken off, without a score"
                                         : "the drill is over: %d of 100",
            sm_drill_score(run));
    }
}

// ---- doing ------------------------------------------------------------------------------------------

static const struct {
    sm_act act;
    const char *line;
} permitted[] = {
    {SM_ACT_TRIGGER, "trigger EVENT    make an event of the drill happen now"},
    {SM_ACT_INJECT, "inject DO        make anything happen now that a drill can: inject wind 14 m/s"},
    {SM_ACT_CALL, "call WHO TEXT    speak as a person of the crew"},
    {SM_ACT_JUDGE, "judge MARK yes|no REASON  judge a mark; what was computed is kept beside it"},
    {SM_ACT_TICK, "tick NAME yes|no what was to be said aloud was said and read back, or not"},
    {SM_ACT_PASS_TIME, "pass-time        let a wait run out (passed in practice)"},
    {SM_ACT_HOLD_DRILL, "hold-drill       hold the drill: its clock stands, the show is paused"},
    {SM_ACT_GO_DRILL, "go-drill         go on; the trainee resumes the show"},
    {SM_ACT_REMARK, "remark TEXT      add a remark to the debrief"},
};

const char *sm_link_help(void) {
    return "trigger EVENT, inject DO, call WHO TEXT, judge MARK yes|no REASON, tick NAME yes|no, pass-time, "
           "hold-drill, go-drill, remark TEXT; state lists what is to come and what is next; leave; NO DRILL "
           "for a real emergency";
}

static bool is_permitted(sm_act act) {
    for (size_t i = 0; i < sizeof permitted / sizeof permitted[0]; i++)
        if (permitted[i].act == act)
            return true;
    return false;
}

static void say_help(sm_link_say *to, void *context) {
    for (size_t i = 0; i < sizeof permitted / sizeof permitted[0]; i++)
        to(context, permitted[i].line);
    to(context, "state            what there is to come, and what is next for the trainee");
    to(context, "leave            go; the drill goes on alone");
    to(context, "NO DRILL         a real emergency: it ends at once");
}

sm_result sm_link_obey(sm_link_feed *feed, sm_drill_run *run, sm_wall_time now, const char *line,
                       sm_link_say *to, void *context, bool *did) {
    sm_action action;
    char why[200];
    size_t at = 0;
    if (strcmp(line, SM_NO_DRILL) == 0) {
        *did = true;
        return sm_drill_no_drill(run, now);
    }
    if (strcmp(line, "help") == 0) {
        say_help(to, context);
        return SM_OK;
    }
    if (strcmp(line, "state") == 0) {
        feed->state[0] = '\0';
        say_to_come(run, to, context);
        return SM_OK;
    }
    if (sm_action_read(sm_drill_of(run)->show, line, strlen(line), &action, why, &at) != SM_OK) {
        say(to, context, "not understood: %s", why);
        return SM_OK;
    }
    if (!is_permitted(action.act) || action.remote != 0) {
        say(to, context, "not yours to do: %s", sm_link_help());
        return SM_OK;
    }
    sm_result result = sm_drill_act(run, &action, SM_SOURCE_INSTRUCTOR, now);
    if (result == SM_REFUSED)
        say(to, context, "refused: %s", sm_rehearsal_refusal(sm_drill_rehearsal(run)));
    *did = *did || result == SM_OK;
    return result == SM_REFUSED ? SM_OK : result;
}
