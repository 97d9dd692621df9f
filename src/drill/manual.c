// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch-drill(5) out of the schema, the vocabularies and the built-in rules.
#include "slowmatch/drill.h"

#include <stdio.h>

static const char head[] = ".\\\" SPDX-License-Identifier: GPL-3.0-or-later\n"
                           ".\\\" Made from the schema in src/drill; edit that, not this.\n"
                           ".TH SLOWMATCH\\-DRILL 5 \"\" slowmatch \"File formats\"\n"
                           ".SH NAME\n"
                           "slowmatch\\-drill \\- a training drill of a show: what goes wrong on purpose, "
                           "what is expected, what it earns\n"
                           ".SH DESCRIPTION\n"
                           "A drill is a file drills/NAME.ini in the show's folder. A line is [section], key "
                           "= value, or a comment that begins\n"
                           "with ; or #; a line has at most 199 bytes.\n"
                           ".B slowmatch drill SHOW\n"
                           "lists the drills,\n"
                           ".B slowmatch drill SHOW \\-\\-check FILE\n"
                           "searches for a run that earns 100, or says what stands in its way.\n"
                           ".SH EXAMPLE\n"
                           ".nf\n"
                           "[drill]\n"
                           "title = A gust\n"
                           "brief = Run the show. The limit for the aerials is 10 m/s tonight.\n"
                           "answers = K, M\n"
                           "pass = 80\n"
                           "\n"
                           "[event gust]\n"
                           "when = running + 12 s..20 s\n"
                           "do = wind 14 m/s\n"
                           "\n"
                           "[expect hold]\n"
                           "after = gust\n"
                           "action = pause\n"
                           "within = 5 s\n"
                           "marks = 60\n"
                           "say = Stop first, think second.\n"
                           "\n"
                           "[expect told]\n"
                           "after = gust + 5 s\n"
                           "action = note\n"
                           "within = 2 min\n"
                           "marks = 40\n"
                           "late = none\n"
                           "words = wind/gust, over/limit/14\n"
                           "say = Who reads it tomorrow was not there.\n"
                           "\n"
                           "[never goes-on]\n"
                           "action = resume\n"
                           "while = paused\n"
                           "marks = 60\n"
                           "say = One lull is not a forecast.\n"
                           ".fi\n"
                           ".SH SECTIONS\n"
                           "Each but [drill] has a name: letters, digits, \\- and _. Where a key says seat, "
                           "the section holds in that seat alone.\n";

static const char moments[] =
    ".SH WHEN AND AFTER\n"
    "One of these, then, where wanted, a delay in wall time,\n"
    ".B + 5 s\n"
    "or\n"
    ".BR \"+ 5 s..20 s\" ,\n"
    "drawn from the seed.\n"
    ".TP\n.B begin\nthe drill's beginning\n"
    ".TP\n.B @MOMENT\nthe first time that the running show reaches it: @0:20.000\n"
    ".TP\n.B action NAME\nan action that was done: action enter, action plug C\n"
    ".TP\n.B a state\nits first entry: safe, arming, armed, running, paused, ended\n"
    ".TP\n.B an event or an expectation\nits name: once it has come, or has been met\n";

static const char scoring[] = ".SH MARKS\n"
                              "Score = 100 times earned by all marks of expect, before and judged spoken, "
                              "floored, less the marks lost. Within its\n"
                              "time an expectation earns all; late is linear to twice the time, or none. "
                              "What was done before it was asked and still\n"
                              "stands is in time, and no drill takes marks for pause, safe, key off or quit. "
                              "An answer or a note without words\n"
                              "carries no marks, unless the instructor judges it.\n"
                              ".SH BUILT\\-IN RULES\n"
                              "Each costs once, and whoever breaks one has not passed. The last two hold in "
                              "the spotter's seat, which has no others.\n";

static void put(sm_text *out, const char *name, const char *help) {
    sm_text_printf(out, ".TP\n.B ");
    sm_manual_append(out, name);
    sm_text_append(out, "\n", 1);
    sm_manual_append(out, help);
    sm_text_append(out, "\n", 1);
}

void sm_drill_manual(sm_text *out) {
    size_t count;
    const sm_column *columns = sm_drill_schema(&count);
    sm_text_append(out, head, sizeof head - 1);
    sm_manual_columns(out, columns, count);
    sm_text_append(out, moments, sizeof moments - 1);
    sm_text_printf(out, ".SH WHAT AN EVENT CAN DO\n");
    for (int what = 0; what < SM_INJECT_COUNT; what++)
        put(out, sm_inject_row_of((sm_inject)what)->form, sm_inject_row_of((sm_inject)what)->help);
    sm_text_printf(
        out, ".SH ACTIONS\nWhat can be expected, forbidden or put in order; arguments may be left out.\n");
    for (int act = 0; act < SM_ACT_COUNT; act++)
        if (!sm_drill_is_instructors((sm_act)act))
            put(out, sm_action_row_of((sm_act)act)->form, sm_action_row_of((sm_act)act)->help);
    sm_text_append(out, scoring, sizeof scoring - 1);
    for (int rule = 0; rule < SM_RULE_COUNT; rule++) {
        const sm_drill_rule_row *row = sm_drill_rule_of((sm_drill_rule)rule);
        char cost[120];
        snprintf(cost, sizeof cost, "%s (%d)", row->title, row->cost);
        put(out, row->name, cost);
    }
    sm_text_printf(out, ".SH SEE ALSO\n.BR slowmatch (1),\n.BR slowmatch\\-show (5)\n");
}
