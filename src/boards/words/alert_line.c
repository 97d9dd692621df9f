// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/words/alert_line.h"

#include "slowmatch/next_step.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

sm_look sm_alert_look(sm_alert_rank rank) {
    static const sm_look looks[] = {[SM_ALERT_WARNING] = SM_LOOK_BADGE_ALERT,
                                    [SM_ALERT_CAUTION] = SM_LOOK_WARN,
                                    [SM_ALERT_ADVISORY] = SM_LOOK_DIM};
    return looks[rank];
}

// The longest beginning of TEXT that fits into COLUMNS, is longer than LEAST bytes, and ends with a word, or with one of ENDS (NULL:
// with any); LEAST: there is none.
static size_t fitting(const char *text, size_t least, int columns, const char *ends) {
    size_t length = strlen(text);
    char room[512] = "";
    sm_text part = SM_TEXT_IN(room);
    for (; length > least; length--) {
        sm_text_clear(&part);
        sm_text_append(&part, text, length);
        bool ends_well =
            text[length] == '\0' || (text[length] == ' ' && (!ends || strchr(ends, text[length - 1])));
        if (ends_well && sm_text_columns(sm_text_get(&part)) <= columns)
            break;
    }
    sm_text_deinit(&part);
    return length;
}

// Appends as much of TEXT as fits into COLUMNS; at least its first ESSENTIAL bytes. What to do stands from TO_DO on and is cut behind
// whole clauses where one fits: "make safe: no" and "call; nobody" say the wrong thing.
static void put_cut(sm_text *out, const char *text, size_t essential, size_t to_do, int columns) {
    size_t length = fitting(text, to_do, columns, ".,;");
    bool clause = length > to_do;
    if (!clause)
        length = fitting(text, essential, columns, NULL);
    if (clause && text[length] != '\0')
        length--; // the comma
    sm_text_append(out, text, length);
}

sm_look sm_alert_line(const sm_view *view, int columns, sm_text *out) {
    const sm_alerts *alerts = view->alerts;
    if (alerts->count == 0)
        return SM_LOOK_PLAIN;
    const sm_alert *first = &alerts->at[0];
    const sm_alert_row *row = sm_alert_row_of(first->id);
    char more[24] = "";
    if (alerts->count > 1)
        snprintf(more, sizeof more, " +%u more", alerts->count - 1);
    char room[512] = "";
    sm_text words = SM_TEXT_IN(room);
    const char *to_do = sm_alert_to_do(first->id, view->snapshot->state, view->snapshot->key);
    sm_text_printf(&words, "%s. %c%s", first->words, toupper((unsigned char)to_do[0]), to_do + 1);
    int rank = (int)strlen(sm_alert_rank_text(row->rank)) + 1;
    sm_text_printf(out, "%s ", sm_alert_rank_text(row->rank));
    put_cut(out, words.failed ? first->words : sm_text_get(&words), first->essential,
            strlen(first->words) + 1, columns - rank - (int)strlen(more));
    sm_text_printf(out, "%s", more);
    sm_text_deinit(&words);
    return sm_alert_look(row->rank);
}

// Of a show that no drill is in.
static sm_step step_of_show(const sm_view *view) {
    sm_step_facts facts = {.swapped = {SM_NONE, SM_NONE}};
    if (view->swapped)
        memcpy(facts.swapped, view->swapped, sizeof facts.swapped);
    return sm_next_step(view->snapshot, &facts);
}

static bool tells_nothing(const sm_drill_view *drill) {
    return drill && !drill->over && drill->drill->hints != SM_HINTS_FULL;
}

sm_act sm_view_next_act(const sm_view *view) {
    const sm_drill_view *drill = view->drill;
    if (view->following || tells_nothing(drill))
        return SM_ACT_COUNT;
    return drill && !drill->over ? drill->next : step_of_show(view).act;
}

static void put_step(const sm_view *view, sm_act act, const char *words, sm_text *out) {
    char key[16];
    if (act != SM_ACT_COUNT && view->key_of && view->key_of(act, key))
        sm_text_printf(out, "[%s] ", key);
    sm_text_printf(out, "%s", words);
}

bool sm_next_step_describe(const sm_view *view, sm_text *out) {
    const sm_drill_view *drill = view->drill;
    if (tells_nothing(drill))
        return false;
    if (drill && !drill->over) { // it knows what it asks for: one step beside another would say two things
        put_step(view, drill->next, drill->hint, out);
        return true;
    }
    const sm_step step = step_of_show(view);
    put_step(view, step.act, step.words, out);
    return true;
}
