// SPDX-License-Identifier: GPL-3.0-or-later
// Every key of a drill's file, declared once: reading, findings and help come from here.
#include "drill/file_keys.h"

#include "slowmatch/columns.h"

#include <assert.h>
#include <math.h>

#define TOLD(row, who, number, key, what)                                                                    \
    [(row) + (number)-1] = {SM_KEY("drill", key, what), SM_WORDS(TEXT, ""),                                  \
                            SM_KEEP(sm_drill, told[who][(number)-1])}
#define BRIEF(number, key)                                                                                   \
    TOLD(KEY_BRIEF, SM_SEAT_LEAD, number, key, "what the trainee is told before it begins, line by line")
#define SPOTTER_BRIEF(number, key)                                                                           \
    TOLD(KEY_SPOTTER_BRIEF, SM_SEAT_SPOTTER, number, key,                                                    \
         "what the spotter is told before it begins, line by line")
#define SEAT(row, part, type)                                                                                \
    [row] = {SM_KEY(part, "seat", "the seat in which it holds: lead, spotter or both"),                      \
             SM_CHOICE("lead", "lead spotter both"), SM_KEEP(type, seat)}
// A cell that has a reader of its own, a text, marks.
#define ASKED(row, part, key, what) [row] = {SM_KEY(part, key, what), .required = true, SM_WORDS(SPECIAL, "")}
#define SAID(row, part, key, what, type, field)                                                              \
    [row] = {SM_KEY(part, key, what), SM_WORDS(TEXT, ""), SM_KEEP(type, field)}
#define MARKS(row, part, most, what, type)                                                                   \
    [row] = {SM_KEY(part, "marks", what), .required = true, SM_NUMBER(INTEGER, "", 0, most),                 \
             SM_KEEP(type, marks)}
#define WHEN "begin, @MOMENT, action NAME, a state, an event or an expectation; then + 5 s or + 5 s..20 s"

static const sm_column columns[] = {
    [KEY_TITLE] = {SM_KEY("drill", "title", "what the drill is called"), .required = true, SM_WORDS(TEXT, ""),
                   SM_KEEP(sm_drill, title)},
    BRIEF(1, "brief"),
    BRIEF(2, "brief-2"),
    BRIEF(3, "brief-3"),
    BRIEF(4, "brief-4"),
    BRIEF(5, "brief-5"),
    BRIEF(6, "brief-6"),
    BRIEF(7, "brief-7"),
    BRIEF(8, "brief-8"),
    BRIEF(9, "brief-9"),
    SPOTTER_BRIEF(1, "spotter-brief"),
    SPOTTER_BRIEF(2, "spotter-brief-2"),
    SPOTTER_BRIEF(3, "spotter-brief-3"),
    SPOTTER_BRIEF(4, "spotter-brief-4"),
    SPOTTER_BRIEF(5, "spotter-brief-5"),
    SPOTTER_BRIEF(6, "spotter-brief-6"),
    SPOTTER_BRIEF(7, "spotter-brief-7"),
    SPOTTER_BRIEF(8, "spotter-brief-8"),
    SPOTTER_BRIEF(9, "spotter-brief-9"),
    [KEY_ANSWERS] = {SM_KEY("drill", "answers",
                            "who must answer before the spotter calls clear: names of calls, commas between"),
                     SM_WORDS(SPECIAL, "")},
    [KEY_PASS] = {SM_KEY("drill", "pass", "the score from which it is passed"),
                  SM_NUMBER(INTEGER, "80", 0, 100), SM_KEEP(sm_drill, pass)},
    [KEY_SEED] = {SM_KEY("drill", "seed", "what the windows of time are drawn from"),
                  SM_NUMBER(INTEGER, "0", 0, 2147483647), SM_KEEP(sm_drill, seed)},
    [KEY_HINTS] = {SM_KEY("drill", "hints", "full, asked or none; none is an assessment"),
                   SM_CHOICE("full", "full asked none"), SM_KEEP(sm_drill, hints)},
    [KEY_AGAIN] =
        {SM_KEY("drill", "again",
                "days after which a crew that reached its mark is asked to take it again, by the sheet "
                "of the logbook; 0: never"),
         SM_NUMBER(INTEGER, SM_DRILL_AGAIN, 0, 36500), SM_KEEP(sm_drill, again_days)},
    [KEY_ENDS] = {SM_KEY("drill", "ends",
                         "when the drill ends: " WHEN "; the end of the run where not given"),
                  SM_WORDS(SPECIAL, "")},
    ASKED(KEY_EVENT_WHEN, "event", "when", WHEN),
    ASKED(KEY_EVENT_DO, "event", "do", "what happens"),
    SEAT(KEY_EVENT_SEAT, "event", sm_drill_event),
    ASKED(KEY_EXPECT_AFTER, "expect", "after", WHEN),
    ASKED(KEY_EXPECT_ACTION, "expect", "action", "what the trainee is to do; arguments may be left out"),
    [KEY_EXPECT_WITHIN] = {SM_KEY("expect", "within", "the time for all marks"), .required = true,
                           SM_SPAN(SM_SECONDS, "", 0.001, 36000), SM_KEEP(sm_drill_expect, within_us)},
    MARKS(KEY_EXPECT_MARKS, "expect", 1000, "marks to earn", sm_drill_expect),
    [KEY_EXPECT_LATE] = {SM_KEY("expect", "late", "what is earned up to twice the time"),
                         SM_CHOICE("linear", "linear none"), SM_KEEP(sm_drill_expect, late_none)},
    SAID(KEY_EXPECT_WORDS, "expect", "words",
         "of an answer or a note: what has to be said, of each group between commas one, alternatives by /; "
         "of a "
         "group that begins with ! none; where not given, an instructor judges it",
         sm_drill_expect, words),
    SAID(KEY_EXPECT_HINT, "expect", "hint", "said when a hint is given", sm_drill_expect, hint),
    SAID(KEY_EXPECT_SAY, "expect", "say", "why, in the debrief", sm_drill_expect, say),
    SEAT(KEY_EXPECT_SEAT, "expect", sm_drill_expect),
    ASKED(KEY_NEVER_ACTION, "never", "action", "what the trainee must not do; never a stop"),
    [KEY_NEVER_WHILE] = {SM_KEY("never", "while", "states, commas between; all where not given"),
                         SM_WORDS(SPECIAL, "")},
    MARKS(KEY_NEVER_MARKS, "never", 100, "marks lost, once", sm_drill_never),
    SAID(KEY_NEVER_SAY, "never", "say", "why, in the debrief", sm_drill_never, say),
    SEAT(KEY_NEVER_SEAT, "never", sm_drill_never),
    ASKED(KEY_BEFORE_ACTION, "before", "action", "the action that others must come before; never a stop"),
    ASKED(KEY_BEFORE_NEEDS, "before", "needs", "actions that must have come and not lapsed, commas between"),
    MARKS(KEY_BEFORE_MARKS, "before", 1000, "marks to earn", sm_drill_before),
    SAID(KEY_BEFORE_SAY, "before", "say", "why, in the debrief", sm_drill_before, say),
    SEAT(KEY_BEFORE_SEAT, "before", sm_drill_before),
    ASKED(KEY_SPOKEN_AFTER, "spoken", "after", WHEN),
    [KEY_SPOKEN_WORDS] = {SM_KEY("spoken", "words", "what is to be said aloud and read back"),
                          .required = true, SM_WORDS(TEXT, ""), SM_KEEP(sm_drill_spoken, words)},
    MARKS(KEY_SPOKEN_MARKS, "spoken", 1000, "marks to earn, where an instructor ticks it", sm_drill_spoken),
    SAID(KEY_SPOKEN_SAY, "spoken", "say", "why, in the debrief", sm_drill_spoken, say),
    SEAT(KEY_SPOKEN_SEAT, "spoken", sm_drill_spoken),
    ASKED(KEY_LEAD_AFTER, "lead", "after", WHEN "; each time it comes"),
    [KEY_LEAD_DO] = {SM_KEY("lead", "do",
                            "what the lead does in the spotter's drill; nothing where not given"),
                     SM_WORDS(SPECIAL, "")},
    SAID(KEY_LEAD_SAYS, "lead", "says", "what the lead says with it", sm_drill_lead, says),
    [KEY_LEAD_BLIND] = {SM_KEY("lead", "blind",
                               "yes: a planted error, done without looking at the clear and the field"),
                        SM_CHOICE("no", "no yes"), SM_KEEP(sm_drill_lead, blind)},
};
static_assert(sizeof columns / sizeof columns[0] == KEY_COUNT, "a column for each key");

const char *const *sm_drill_finding_rules(size_t *count) {
    static const char *const rules[] = {"drill-section", "drill-when",    "drill-do",   "drill-action",
                                        "drill-state",   "drill-stop",    "drill-ring", "drill-seat",
                                        "drill-words",   "drill-unearned"};
    *count = sizeof rules / sizeof rules[0];
    return rules;
}

const sm_column *sm_drill_schema(size_t *count) {
    *count = KEY_COUNT;
    return columns;
}
