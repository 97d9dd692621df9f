// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/complete.h"

#include "console/tell.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

typedef struct finder {
    const sm_view *view;
    const char *word; // what is typed of it
    size_t length;
    sm_completion *out;
} finder;

static void put(const finder *f, const char *name) {
    sm_candidates_put(&f->out->words, f->word, f->length, name);
}

// ---- actions -----------------------------------------------------------------------------------

// An action of the instructor's is offered to nobody who takes a drill.
static bool has(const sm_view *view, sm_act act) {
    if (view->following)
        return sm_ui_seat_may(view, act);
    return (!sm_action_row_of(act)->drill_only || view->drill) &&
           !(view->drill && sm_drill_is_instructors(act));
}

static bool allowed(const sm_view *view, sm_act act) {
    return has(view, act) && (sm_action_row_of(act)->states & 1u << view->snapshot->state);
}

bool sm_not_now(const sm_view *view, sm_act act, sm_text *out) {
    const sm_action_row *row = sm_action_row_of(act);
    if (!has(view, act)) {
        sm_text_printf(out, view->drill ? "%s: that is the instructor's" : "%s: only in a drill", row->name);
        return true;
    }
    if (allowed(view, act))
        return false;
    sm_text_printf(out, "%s: not while %s; allowed in:", row->name, sm_state_text(view->snapshot->state));
    for (int state = 0; state < SM_STATE_COUNT; state++)
        if (row->states & 1u << state)
            sm_text_printf(out, " %s", sm_state_text((sm_state)state));
    return true;
}

// Names that begin with the LENGTH bytes of LINE; given from START on, where the word to complete begins.
static void put_actions(finder *f, const char *line, size_t length, size_t start) {
    for (int pass = 0; pass < 2; pass++) {
        for (int act = 0; act < SM_ACT_COUNT; act++) {
            const char *name = sm_action_row_of((sm_act)act)->name;
            if (has(f->view, (sm_act)act) && allowed(f->view, (sm_act)act) == (pass == 0) &&
                strncmp(name, line, length) == 0)
                put(f, name + start);
        }
    }
}

// The action that LINE names and goes on after; *rest is where its arguments begin.
static sm_act named_action(const char *line, size_t length, size_t *rest) {
    sm_act found = SM_ACT_COUNT;
    size_t longest = 0;
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const char *name = sm_action_row_of((sm_act)act)->name;
        size_t n = strlen(name);
        if (n > longest && length >= n && strncmp(line, name, n) == 0 && (length == n || line[n] == ' ')) {
            found = (sm_act)act;
            longest = n;
        }
    }
    *rest = longest;
    return found;
}

// ---- arguments ------------------------------------------------------------------------------------

static void put_slots(const finder *f, bool unreported) {
    const sm_show *show = f->view->show;
    char name[48];
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        const sm_slot_view *seen = &f->view->snapshot->slots[slot];
        if (!unreported || (seen->phase == SM_SLOT_MISFIRED && !seen->reported))
            put(f, sm_slot_format(show, slot, name));
    }
}

static void put_rails(const finder *f, sm_act act) {
    for (uint32_t rail = 0; rail < f->view->show->rail_count; rail++) {
        bool plugged = f->view->snapshot->rail_plugged[rail];
        if (!(act == SM_ACT_PLUG && plugged) && !(act == SM_ACT_UNPLUG && !plugged))
            put(f, f->view->show->rails[rail].name);
    }
}

static void put_targets(const finder *f) {
    const sm_show *show = f->view->show;
    for (int zone = SM_ZONE_NONE + 1; zone < SM_ZONE_COUNT; zone++)
        put(f, sm_zone_text((sm_zone)zone));
    put_rails(f, SM_ACT_COUNT);
    for (uint32_t i = 0; i < show->effect_count; i++)
        put(f, show->effects[i].name);
    for (uint32_t i = 0; i < show->group_count; i++)
        put(f, show->groups[i].name);
    for (uint32_t i = 0; i < show->position_count; i++)
        put(f, show->positions[i].name);
    for (uint32_t i = 0; i < show->fixture_count; i++)
        put(f, show->fixtures[i].name);
    put_slots(f, false);
}

static void put_items(const finder *f) {
    const sm_walk *walk = f->view->walk;
    for (size_t i = 0; walk && i < walk->list->count; i++)
        put(f, walk->list->items[i].id);
}

static void put_words(const finder *f, const char *const *words) {
    for (; *words; words++)
        put(f, *words);
}

static void put_people(const finder *f, sm_act act) {
    const sm_snapshot *now = f->view->snapshot;
    const sm_drill *drill = f->view->drill ? f->view->drill->drill : NULL;
    for (uint32_t i = 0; act == SM_ACT_LEAVE && i < now->people_count; i++)
        put(f, now->people[i].name);
    if (act == SM_ACT_LIFT && now->hold_count > 0)
        put(f, now->hold_who);
    for (uint32_t i = 0; act == SM_ACT_ASK && drill && i < drill->answer_count; i++)
        put(f, drill->answers[i]);
}

static void put_argument(const finder *f, sm_act act, sm_argument argument) {
    static const char *const answers[] = {"yes", "no", "na", "later", NULL};
    static const char *const readings[] = {"open", "short", NULL};
    static const char *const rerig[] = {"rerig", NULL};
    switch (argument) {
    case SM_ARG_SLOT:
        put_slots(f, act == SM_ACT_REPORT);
        break;
    case SM_ARG_RAIL:
        put_rails(f, act);
        break;
    case SM_ARG_TARGET:
        if (act != SM_ACT_ALLOW)
            put_targets(f);
        break;
    case SM_ARG_WHO:
        put_people(f, act);
        break;
    case SM_ARG_ITEM:
        put_items(f);
        break;
    case SM_ARG_MOMENT:
        for (uint32_t i = 0; i < f->view->snapshot->mark_count; i++)
            put(f, f->view->snapshot->marks[i].name);
        break;
    case SM_ARG_GUARD:
        for (int guard = 0; guard < SM_GUARD_COUNT; guard++)
            put(f, sm_guard_text((sm_guard)guard));
        break;
    case SM_ARG_ANSWER:
        put_words(f, answers);
        break;
    case SM_ARG_VALUE:
        put_words(f, readings);
        break;
    case SM_ARG_RERIG:
        put_words(f, rerig);
        break;
    default: // numbers and free text
        break;
    }
}

// Names of people and events may have blanks: they are completed as a whole.
static bool is_whole(sm_argument argument) {
    return argument == SM_ARG_WHO;
}

static void put_arguments(finder *f, const char *line, size_t length, size_t rest) {
    const sm_action_row *row = sm_action_row_of(f->out->act);
    size_t at = rest;
    for (int i = 0; i < SM_ACTION_ARGUMENTS && row->arguments[i] != SM_ARG_NONE; i++) {
        while (at < length && line[at] == ' ')
            at++;
        size_t end = at;
        while (end < length && (line[end] != ' ' || is_whole(row->arguments[i])))
            end++;
        if (end == length) {
            f->out->words.start = at;
            f->out->more = i + 1 < SM_ACTION_ARGUMENTS && row->arguments[i + 1] != SM_ARG_NONE;
            f->word = line + at;
            f->length = length - at;
            put_argument(f, f->out->act, row->arguments[i]);
            return;
        }
        at = end;
    }
}

// "remote 2 " in front of an action.
static size_t after_remote(const char *line, size_t length) {
    size_t at = strlen("remote ");
    if (length < at || strncmp(line, "remote ", at) != 0)
        return 0;
    while (at < length && isdigit((unsigned char)line[at]))
        at++;
    return at < length && line[at] == ' ' ? at + 1 : 0;
}

void sm_complete(const sm_view *view, const char *line, size_t length, sm_completion *out) {
    *out = (sm_completion){.act = SM_ACT_COUNT};
    size_t skipped = after_remote(line, length), rest = 0, word = length;
    line += skipped;
    length -= skipped;
    word = length;
    while (word > 0 && line[word - 1] != ' ')
        word--;
    finder f = {view, line + word, length - word, out};
    out->words.start = word;
    put_actions(&f, line, length, word);
    out->act = named_action(line, length, &rest);
    if (out->act != SM_ACT_COUNT) {
        out->more = sm_action_row_of(out->act)->arguments[0] != SM_ARG_NONE;
        if (rest < length)
            put_arguments(&f, line, length, rest);
    }
    out->words.start += skipped;
}
