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

// Columns of the first LENGTH bytes of TEXT.
static int columns_of(const char *text, size_t length) {
    char room[512] = "";
    sm_text part = SM_TEXT_IN(room);
    sm_text_append(&part, text, length);
    int columns = sm_text_columns(sm_text_get(&part));
    sm_text_deinit(&part);
    return columns;
}

// Where the clause that begins at FROM ends: before a comma, a semicolon or a colon, or with TEXT.
static size_t clause_end(const char *text, size_t from) {
    size_t at = from + strcspn(text + from, ",;:");
    while (text[at] != '\0' && text[at + 1] != ' ')
        at += 1 + strcspn(text + at + 1, ",;:");
    return at;
}

// What must be read of what to do: the stops that it begins with, and what goes on behind a comma.
static size_t least_to_do(const char *to_do) {
    static const char *const stops[] = {"make safe", "key off"};
    size_t from = 0;
    for (;;) {
        size_t end = clause_end(to_do, from);
        bool stop = false;
        for (size_t i = 0; i < sizeof stops / sizeof stops[0]; i++)
            stop |= end - from == strlen(stops[i]) && strncmp(to_do + from, stops[i], end - from) == 0;
        if (!stop || to_do[end] != ',')
            return end;
        from = end + 2;
    }
}

// The most of TO_DO that fits into COLUMNS and ends with a clause, at most MOST bytes; 0: not even its first.
static size_t clauses_within(const char *to_do, size_t most, int columns) {
    size_t fits = 0;
    for (size_t end = clause_end(to_do, 0); end <= most && columns_of(to_do, end) <= columns;) {
        fits = end;
        if (to_do[end] == '\0')
            break;
        end = clause_end(to_do, end + 2);
    }
    return fits;
}

// The most of WORDS that fits into COLUMNS and ends with a word; at least the first ESSENTIAL bytes.
static size_t words_within(const char *words, size_t essential, int columns) {
    size_t length = strlen(words);
    while (length > essential &&
           !((words[length] == '\0' || words[length] == ' ') && columns_of(words, length) <= columns))
        length--;
    return length;
}

#define BETWEEN 2 // ". ", behind the words, and " …" where they are cut

// Appends WORDS and TO_DO so that they fit into COLUMNS, at least the first LEAST bytes of what is to do where they do. What to do goes before a list of names: "make safe: no" and "call; nobody" say
// the wrong thing, so half a clause is never there. The first ESSENTIAL bytes of WORDS are there in any case.
static void put_cut(sm_text *out, const char *words, size_t essential, const char *to_do, size_t least,
                    int columns) {
    size_t shown = strlen(words);
    size_t done = clauses_within(to_do, strlen(to_do), columns - columns_of(words, shown) - BETWEEN);
    if (done < least || columns_of(words, shown) > columns) { // the words are cut
        done = clauses_within(to_do, least, columns - columns_of(words, essential) - 2 * BETWEEN);
        const int behind = (done > 0 ? columns_of(to_do, done) + BETWEEN : 0) + BETWEEN;
        shown = words_within(words, essential, columns - behind);
    }
    const bool cut = words[shown] != '\0';
    while (shown > essential && strchr(",;:", words[shown - 1]))
        shown--;
    sm_text_append(out, words, shown);
    if (done > 0) {
        sm_text_printf(out, "%s%c", cut ? " \u2026 " : ". ", toupper((unsigned char)to_do[0]));
        sm_text_append(out, to_do + 1, done - 1);
    } else if (cut && columns_of(words, shown) + BETWEEN <= columns) {
        sm_text_printf(out, " \u2026");
    }
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
    const char *to_do = sm_alert_to_do(first->id, view->snapshot->state, view->snapshot->key);
    int rank = (int)strlen(sm_alert_rank_text(row->rank)) + 1;
    sm_text_printf(out, "%s ", sm_alert_rank_text(row->rank));
    const size_t least = row->rank < SM_ALERT_ADVISORY ? least_to_do(to_do) : 0; // an advisory has time
    put_cut(out, first->words, first->essential, to_do, least, columns - rank - (int)strlen(more));
    sm_text_printf(out, "%s", more);
    return sm_alert_look(row->rank);
}

// Of a show that no drill is in.
static sm_step step_of_show(const sm_view *view) {
    sm_step_facts facts = {.swapped = {SM_NONE, SM_NONE}};
    if (view->swapped)
        memcpy(facts.swapped, view->swapped, sizeof facts.swapped);
    return sm_next_step(view->snapshot, &facts);
}

static bool tells_nothing(const sm_view *view) {
    const sm_drill_view *drill = view->drill;
    return view->told_drills || (drill && !drill->over && drill->drill->hints != SM_HINTS_FULL);
}

sm_act sm_view_next_act(const sm_view *view) {
    const sm_drill_view *drill = view->drill;
    if (view->following || tells_nothing(view))
        return SM_ACT_COUNT;
    return drill && !drill->over ? drill->next : step_of_show(view).act;
}

bool sm_view_next_target(const sm_view *view, sm_act act, sm_text *out) {
    const sm_show *show = view->show;
    char name[48];
    if (view->following || (view->drill && !view->drill->over))
        return false;
    const sm_step step = step_of_show(view);
    if (step.act != act || step.index == SM_NONE)
        return false;
    if (act == SM_ACT_REPORT || act == SM_ACT_REPAIR)
        sm_text_printf(out, "%s", sm_slot_format(show, step.index, name));
    else
        sm_text_printf(out, "%s", show->rails[step.index].name);
    if (act == SM_ACT_EXCHANGE)
        sm_text_printf(out, " %s", show->rails[step.second].name);
    return true;
}

static void put_step(const sm_view *view, sm_act act, const char *words, sm_text *out) {
    char key[16];
    if (act != SM_ACT_COUNT && view->key_of && view->key_of(act, key))
        sm_text_printf(out, "[%s] ", key);
    sm_text_printf(out, "%s", words);
}

bool sm_next_step_describe(const sm_view *view, sm_text *out) {
    const sm_drill_view *drill = view->drill;
    if (tells_nothing(view))
        return false;
    if (drill && !drill->over) { // it knows what it asks for: one step beside another would say two things
        put_step(view, drill->next, drill->hint, out);
        return true;
    }
    const sm_step step = step_of_show(view);
    put_step(view, step.act, step.words, out);
    return true;
}
