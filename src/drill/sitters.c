// SPDX-License-Identifier: GPL-3.0-or-later
// A crew: people who sit elsewhere, at seats that the lead granted, while the lead has the key here.
//
// A spotter calls clear, answers, reports and stops; what the file asks of the spotter is theirs, and so is every clear that is asked
// for. A person whom the file has answer speaks for themselves: where the drill would say their words they are told so alone, and what
// waits for these words waits for them. Anybody stops anything, and a stop counts for the crew, whoever made it. Nobody but the lead has
// the key. A seat at which nobody sits is played as it ever was.
#include "drill/run.h"

#include <stdio.h>
#include <string.h>

static const char spotter[] = "spotter";

// ---- who sits where -------------------------------------------------------------------------

static drill_sitter *find(sm_drill_run *run, const char *seat) {
    for (uint32_t i = 0; i < run->sitter_count; i++)
        if (sm_person_same(run->sitters[i].seat, seat))
            return &run->sitters[i];
    return NULL;
}

bool drill_sits(const sm_drill_run *run, const char *seat) {
    for (uint32_t i = 0; i < run->sitter_count; i++)
        if (run->sitters[i].there && sm_person_same(run->sitters[i].seat, seat))
            return true;
    return false;
}

bool drill_has_spotter(const sm_drill_run *run) {
    for (uint32_t i = 0; i < run->sitter_count; i++)
        if (sm_person_same(run->sitters[i].seat, spotter))
            return true;
    return run->drill->seat == SM_SEAT_SPOTTER;
}

uint32_t sm_drill_sitters(const sm_drill_run *run) {
    return run->sitter_count;
}

const char *sm_drill_sitter_seat(const sm_drill_run *run, uint32_t index) {
    return run->sitters[index].seat;
}

const char *sm_drill_sitter_who(const sm_drill_run *run, uint32_t index) {
    return run->sitters[index].who;
}

drill_role drill_role_of(const sm_drill_run *run, sm_drill_for seat, sm_act act) {
    if (run->drill->seat == SM_SEAT_SPOTTER)
        return DRILL_SPOTTER;
    bool theirs = seat == SM_FOR_SPOTTER || (act == SM_ACT_CALL_CLEAR && drill_has_spotter(run));
    return theirs ? DRILL_SPOTTER : DRILL_LEAD;
}

bool drill_counts(const sm_drill_run *run, sm_drill_for seat) {
    return seat != SM_FOR_SPOTTER || drill_has_spotter(run);
}

void drill_tell_sitter(sm_drill_run *run, const char *seat, const char *format, ...) {
    sm_text text = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&text, format, args);
    va_end(args);
    if (run->options.to_seat)
        run->options.to_seat(run->options.sink_context, seat, sm_text_get(&text));
    sm_text_deinit(&text);
}

bool drill_is_named(const sm_drill *drill, const char *seat) {
    for (uint32_t i = 0; i < drill->answer_count; i++)
        if (sm_person_same(drill->answers[i], seat))
            return true;
    return false;
}

static void brief(sm_drill_run *run, const char *seat) {
    const sm_drill *d = run->drill;
    bool watches = sm_person_same(seat, spotter);
    drill_tell_sitter(run, seat, "REHEARSAL drill \"%s\". You sit as %s. NO DRILL, typed, ends it for all.",
                      d->title, seat);
    for (uint32_t i = 0; watches && i < SM_DRILL_BRIEFS && d->told[SM_SEAT_SPOTTER][i]; i++)
        if (d->told[SM_SEAT_SPOTTER][i][0] != '\0')
            drill_tell_sitter(run, seat, "%s", d->told[SM_SEAT_SPOTTER][i]);
    if (watches)
        drill_tell_sitter(run, seat,
                          "F7 has your brief. A person leads: you call clear when everyone has answered, "
                          "answer, report, stop.");
    else if (drill_is_named(d, seat))
        drill_tell_sitter(
            run, seat, "You are %s: you are told here alone what happens to you, and answer in your words.",
            seat);
    else
        drill_tell_sitter(run, seat, "Your position is yours to watch: call hold, report, answer.");
}

static bool says_outside(const char *text) {
    return sm_words_said(NULL, "outside/out/clear", text);
}

void drill_sitter_spoke(sm_drill_run *run, const char *seat, const char *text) {
    for (uint32_t i = 0; i < run->drill->event_count; i++) {
        const sm_injection *in = &run->drill->events[i].injection;
        trigger *t = drill_trigger_of(run, TRIGGER_EVENT, i);
        if (!t->awaits || !sm_person_same(in->who, seat))
            continue;
        if (text && in->what == SM_INJECT_CALL && says_outside(in->text) && !says_outside(text))
            continue;
        t->awaits = false;
        if (text)
            drill_event_came(run, t);
        else
            t->due = sm_rehearsal_facts(run->rehearsal).now;
    }
}

void sm_drill_run_sit(sm_drill_run *run, const char *seat, const char *who, bool there) {
    drill_sitter *sitter = find(run, seat);
    if (!sitter && (!there || run->sitter_count == DRILL_SITTERS || run->over))
        return;
    if (!sitter) {
        sitter = &run->sitters[run->sitter_count++];
        snprintf(sitter->seat, sizeof sitter->seat, "%s", seat);
    }
    if (there)
        snprintf(sitter->who, sizeof sitter->who, "%s", who);
    bool comes = there && !sitter->there, goes = !there && sitter->there;
    sitter->there = there;
    if (comes)
        brief(run, seat);
    else if (goes)
        drill_sitter_spoke(run, seat, NULL);
}

bool drill_is_trainee(sm_source source) {
    return source == SM_SOURCE_CONSOLE || source == SM_SOURCE_REMOTE || source == SM_SOURCE_SCRIPT ||
           source == SM_SOURCE_SEAT;
}

// ---- looking at one of them -----------------------------------------------------------------------

bool drill_is_own(const sm_drill_run *run, const sm_drill_entry *entry) {
    if (!drill_is_trainee(entry->source))
        return false;
    if (!run->one_part)
        return true;
    bool here = entry->source != SM_SOURCE_SEAT;
    return run->part == DRILL_LEAD ? here : !here && sm_person_same(entry->seat, run->part_seat);
}
