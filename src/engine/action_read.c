// SPDX-License-Identifier: GPL-3.0-or-later
// Reads one line of the action vocabulary and resolves its names against the show.
#include "engine/proposals.h"

#include "slowmatch/inject.h"
#include "slowmatch/targets.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

typedef struct reader {
    const sm_show *show;
    sm_words words;
    sm_action *out;
    bool partly; // arguments may be left out
} reader;

// ---- names for "did you mean" ------------------------------------------------------

static const char *action_name_at(const void *context, size_t index) {
    (void)context;
    return sm_action_row_of((sm_act)index)->name;
}

static const char *rail_name_at(const void *context, size_t index) {
    const sm_show *show = context;
    return show->rails[index].name;
}

static sm_result unknown(reader *r, sm_word w, const char *what, size_t count, sm_name_at name_at,
                         const void *context) {
    char name[64];
    snprintf(name, sizeof name, "%.*s", SM_SHOWN(w));
    const char *near = sm_nearest_name(name, count, name_at, context);
    if (near)
        return sm_words_wrong(&r->words, w, "no %s '%s'; did you mean %s?", what, name, near);
    return sm_words_wrong(&r->words, w, "no %s '%s'", what, name);
}

// "clear" is what people say: one word of a name of two, as "call-clear", is near as well.
static sm_result unknown_action(reader *r, sm_word w) {
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const char *name = sm_action_row_of((sm_act)act)->name, *dash = strchr(name, '-');
        if (dash && strlen(dash + 1) == w.length && strncmp(dash + 1, w.text, w.length) == 0)
            return sm_words_wrong(&r->words, w, "no action '%s'; did you mean %s?", dash + 1, name);
    }
    return unknown(r, w, "action", SM_ACT_COUNT, action_name_at, NULL);
}

// ---- arguments ------------------------------------------------------------------------

static sm_result read_moment(reader *r, sm_word w, sm_us *out) {
    if (sm_moment_read(w.text, w.length, &r->show->settings.timecode, out) == SM_OK)
        return SM_OK;
    for (size_t i = 0; i < w.length; i++)
        if (!isalnum((unsigned char)w.text[i]) && !strchr("-_ ", w.text[i]))
            return sm_words_wrong(
                &r->words, w, "'%.*s' is no moment; write 0:20.000, 20.5, a timecode or the name of a mark",
                SM_SHOWN(w));
    *out = SM_UNSET_US;
    return SM_OK;
}

static sm_result read_speed(reader *r, sm_word w) {
    double x;
    if (sm_measure_read(SM_QUANTITY_NUMBER, w.text, w.length, &x) != SM_OK || x < -1000 || x > 1000)
        return sm_words_wrong(&r->words, w, "'%.*s' is no speed; write a number from 0.1 to 2", SM_SHOWN(w));
    r->out->speed_ppm = (int32_t)(x * 1e6 + (x < 0 ? -0.5 : 0.5));
    return SM_OK;
}

static sm_result read_rail(reader *r, sm_word w, uint32_t *out) {
    for (uint32_t i = 0; i < r->show->rail_count; i++)
        if (sm_word_is(w, r->show->rails[i].name)) {
            *out = i;
            return SM_OK;
        }
    return unknown(r, w, "rail", r->show->rail_count, rail_name_at, r->show);
}

static sm_result read_slot(reader *r, sm_word w) {
    if (sm_slot_find(r->show, w.text, w.length, &r->out->index) == SM_OK)
        return SM_OK;
    return sm_words_wrong(&r->words, w, "no slot '%.*s'; write RAIL-NN as in rails.csv", SM_SHOWN(w));
}

static sm_result read_guard(reader *r, sm_word w) {
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++)
        if (sm_word_is(w, sm_guard_text((sm_guard)guard))) {
            r->out->guard = (sm_guard)guard;
            return SM_OK;
        }
    return sm_words_wrong(&r->words, w, "no guard '%.*s'; there are key, field, clear, rails and readings",
                          SM_SHOWN(w));
}

static sm_result read_value(reader *r, sm_word w) {
    if (sm_read_value_read(w.text, w.length, &r->out->value) == SM_OK)
        return SM_OK;
    return sm_words_wrong(&r->words, w, "'%.*s' is no reading; write ohms, open or short", SM_SHOWN(w));
}

static sm_result read_target(reader *r, sm_word w) {
    char name[96];
    snprintf(name, sizeof name, "%.*s", (int)(w.length < 95 ? w.length : 95), w.text);
    sm_named named = sm_named_look(r->show, name);
    if (!sm_named_known(&named))
        return sm_words_wrong(&r->words, w, "no slot, rail, effect, fixture, group, position or zone '%.*s'",
                              SM_SHOWN(w));
    r->out->index = named.slot;
    return SM_OK;
}

static sm_result read_measured(reader *r, sm_word *w, sm_quantity quantity, const char *what) {
    // The unit may stand apart: "5 m/s". Two words are one argument where they read as one measure.
    const char *kept = r->words.at;
    sm_word second = sm_words_next(&r->words);
    if (second.length > 0) {
        size_t both = (size_t)(second.text + second.length - w->text);
        if (sm_measure_read(quantity, w->text, both, &r->out->number) == SM_OK && r->out->number >= 0) {
            w->length = both;
            return SM_OK;
        }
    }
    r->words.at = kept;
    if (sm_measure_read(quantity, w->text, w->length, &r->out->number) == SM_OK && r->out->number >= 0)
        return SM_OK;
    return sm_words_wrong(&r->words, *w,
                          "'%.*s' is no %s; write a number, with %s if it is not in the first of these",
                          SM_SHOWN(*w), what, sm_quantity_units(quantity));
}

// "90 s", "5 min", "1:30:00" or seconds; the unit may stand apart.
static sm_result read_span(reader *r, sm_word *w) {
    const sm_moment_base plain = {0};
    const char *kept = r->words.at;
    sm_word second = sm_words_next(&r->words);
    size_t both = second.length > 0 ? (size_t)(second.text + second.length - w->text) : 0;
    if (both > 0 && sm_span_read(w->text, both, SM_US_PER_S, &r->out->moment_us) == SM_OK) {
        w->length = both;
    } else {
        r->words.at = kept;
        if (sm_span_read(w->text, w->length, SM_US_PER_S, &r->out->moment_us) != SM_OK &&
            (sm_moment_read(w->text, w->length, &plain, &r->out->moment_us) != SM_OK ||
             r->out->moment_us < 0))
            return sm_words_wrong(&r->words, *w, "'%.*s' is no time; write 90 s, 5 min or 1:30:00",
                                  SM_SHOWN(*w));
    }
    return SM_OK;
}

static sm_result read_count(reader *r, sm_word w) {
    if (sm_integer_read(w.text, w.length, &r->out->count) == SM_OK && r->out->count >= 1)
        return SM_OK;
    return sm_words_wrong(&r->words, w, "'%.*s' is no count; write a whole number from 1 on", SM_SHOWN(w));
}

static sm_result read_cue(reader *r, sm_word w) {
    r->out->index = sm_cue_find(r->show, w.text, w.length);
    if (r->out->index != SM_NONE)
        return SM_OK;
    return sm_words_wrong(
        &r->words, w, "no cue '%.*s'; write an id as in cues.csv, or the cue's number in it", SM_SHOWN(w));
}

static sm_result read_answer(reader *r, sm_word w) {
    static const char *const answers[] = {"yes", "no", "na", "later"};
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++)
        if (sm_word_is(w, answers[i]))
            return SM_OK;
    return sm_words_wrong(&r->words, w, "'%.*s' is no answer; write yes, no, na or later", SM_SHOWN(w));
}

// A mark's name may hold blanks, so a moment that ends the line takes all of it.
static bool takes_rest(sm_argument argument, bool last) {
    return last && (argument == SM_ARG_MOMENT || argument == SM_ARG_WHO || argument == SM_ARG_TEXT ||
                    argument == SM_ARG_NAME || argument == SM_ARG_NOTE || argument == SM_ARG_REASON ||
                    argument == SM_ARG_EVENT || argument == SM_ARG_STEP);
}

static sm_result read_argument(reader *r, sm_argument argument, sm_word *w, bool first) {
    switch (argument) {
    case SM_ARG_MOMENT:
        return read_moment(r, *w, first ? &r->out->moment_us : &r->out->end_us);
    case SM_ARG_SPEED:
        return read_speed(r, *w);
    case SM_ARG_RAIL:
        return read_rail(r, *w, first ? &r->out->index : &r->out->second);
    case SM_ARG_SLOT:
        return read_slot(r, *w);
    case SM_ARG_GUARD:
        return read_guard(r, *w);
    case SM_ARG_VALUE:
        return read_value(r, *w);
    case SM_ARG_TARGET:
        return read_target(r, *w);
    case SM_ARG_WIND:
        return read_measured(r, w, SM_QUANTITY_SPEED, "wind speed");
    case SM_ARG_VOLUME:
        return read_measured(r, w, SM_QUANTITY_PERCENT, "volume");
    case SM_ARG_ANSWER:
        return read_answer(r, *w);
    case SM_ARG_SPAN:
        return read_span(r, w);
    case SM_ARG_COUNT:
        return read_count(r, *w);
    case SM_ARG_CUE:
        return read_cue(r, *w);
    case SM_ARG_STEP:
        return sm_propose_read(r->show, *w, r->out)
                   ? SM_OK
                   : sm_words_wrong(
                         &r->words, *w,
                         "'%.*s' is no moment and no step; write 0:24.050, +0.05 s, -1 f or beat, then "
                         "on for all cues from there on",
                         SM_SHOWN(*w));
    case SM_ARG_RERIG:
        r->out->rerig = true;
        return sm_word_is(*w, "rerig")
                   ? SM_OK
                   : sm_words_wrong(&r->words, *w, "'%.*s': only the word rerig may follow", SM_SHOWN(*w));
    default:
        return SM_OK;
    }
}

// ---- the line ----------------------------------------------------------------------------

// The first argument as the log shows it: slots always as RAIL-NN.
static sm_result keep_target(reader *r, sm_argument argument, sm_word w) {
    if (argument == SM_ARG_SLOT || (argument == SM_ARG_TARGET && r->out->index != SM_NONE)) {
        char slot[48];
        snprintf(r->out->target, sizeof r->out->target, "%s", sm_slot_format(r->show, r->out->index, slot));
        return SM_OK;
    }
    if (w.length >= sizeof r->out->target)
        return sm_words_wrong(&r->words, w, "too long: %zu bytes, at most %zu", w.length,
                              sizeof r->out->target - 1);
    memcpy(r->out->target, w.text, w.length);
    r->out->target[w.length] = '\0';
    return SM_OK;
}

static sm_result append_detail(reader *r, sm_word w) {
    size_t used = strlen(r->out->detail);
    if (used + w.length + 2 > sizeof r->out->detail)
        return sm_words_wrong(&r->words, w, "too long: at most %zu bytes", sizeof r->out->detail - 2);
    snprintf(r->out->detail + used, sizeof r->out->detail - used, "%s%.*s", used > 0 ? " " : "",
             (int)w.length, w.text);
    return SM_OK;
}

// `tick paper LOAD-A WORD WORD WORD` is short for `tick paper:LOAD-A yes WORD WORD WORD`: the words are what is asked for.
static sm_result read_sheet(reader *r) {
    sm_word name = sm_words_next(&r->words), words = sm_words_rest(&r->words);
    if (name.length == 0 || name.length > sizeof r->out->target - sizeof "paper:")
        return r->partly
                   ? SM_OK
                   : sm_words_wrong(&r->words, name, "which sheet? write tick paper LOAD-A WORD WORD WORD");
    snprintf(r->out->target, sizeof r->out->target, "paper:%.*s", (int)name.length, name.text);
    if (words.length == 0 && !r->partly)
        return sm_words_wrong(&r->words, words,
                              "have its three words read aloud: tick paper %.*s WORD WORD WORD",
                              SM_SHOWN(name));
    sm_result result = append_detail(r, (sm_word){"yes", 3});
    return result == SM_OK && words.length > 0 ? append_detail(r, words) : result;
}

// The second word of a name of two is the target: all arguments go into the detail then.
static sm_result read_arguments(reader *r, const sm_action_row *row) {
    const bool two_words = strchr(row->name, ' ') != NULL;
    for (int i = 0; i < SM_ACTION_ARGUMENTS && row->arguments[i] != SM_ARG_NONE; i++) {
        bool last = i + 1 == SM_ACTION_ARGUMENTS || row->arguments[i + 1] == SM_ARG_NONE;
        sm_word w = takes_rest(row->arguments[i], last) ? sm_words_rest(&r->words) : sm_words_next(&r->words);
        if (w.length == 0) {
            if (i < row->needed && !r->partly)
                return sm_words_wrong(&r->words, w, "'%s' needs more: write %s", row->name, row->form);
            return SM_OK;
        }
        if (row->arguments[i] == SM_ARG_ITEM && sm_word_is(w, "paper"))
            return read_sheet(r);
        sm_result result = read_argument(r, row->arguments[i], &w, i == 0);
        if (result == SM_OK)
            result = i == 0 && !two_words ? keep_target(r, row->arguments[i], w) : append_detail(r, w);
        if (result != SM_OK)
            return result;
    }
    sm_word extra = sm_words_rest(&r->words);
    if (extra.length > 0)
        return sm_words_wrong(&r->words, extra, "'%.*s' is too much: write %s", SM_SHOWN(extra), row->form);
    return SM_OK;
}

// Finds the row whose name begins the line: the two-word names ("key on", "repeat off") before the one-word ones.
static sm_result find_row(reader *r, sm_act *act) {
    sm_word first = sm_words_next(&r->words);
    if (first.length == 0)
        return sm_words_wrong(&r->words, first, "an action is missing");
    const char *after_first = r->words.at;
    sm_word second = sm_words_next(&r->words);
    for (int i = 0; i < SM_ACT_COUNT; i++) {
        const char *name = sm_action_row_of((sm_act)i)->name;
        const char *blank = strchr(name, ' ');
        if (blank && second.length > 0 && (size_t)(blank - name) == first.length &&
            memcmp(name, first.text, first.length) == 0 && sm_word_is(second, blank + 1)) {
            *act = (sm_act)i;
            snprintf(r->out->target, sizeof r->out->target, "%s", blank + 1);
            return SM_OK;
        }
    }
    r->words.at = after_first;
    for (int i = 0; i < SM_ACT_COUNT; i++)
        if (sm_word_is(first, sm_action_row_of((sm_act)i)->name)) {
            *act = (sm_act)i;
            return SM_OK;
        }
    if (sm_word_is(first, "key"))
        return sm_words_wrong(&r->words, first, "write key on or key off");
    return unknown_action(r, first);
}

static sm_result read_remote(reader *r) {
    const char *kept = r->words.at;
    sm_word first = sm_words_next(&r->words);
    if (!sm_word_is(first, "remote")) {
        r->words.at = kept;
        return SM_OK;
    }
    sm_word number = sm_words_next(&r->words);
    if (sm_integer_read(number.text, number.length, &r->out->remote) != SM_OK || r->out->remote < 1)
        return sm_words_wrong(&r->words, number, "'%.*s' is no remote's number; write remote N ACTION",
                              SM_SHOWN(number));
    return SM_OK;
}

static sm_result read_line(const sm_show *show, const char *text, size_t length, bool partly, sm_action *out,
                           char why[200], size_t *at) {
    sm_action action = {.index = SM_NONE, .second = SM_NONE, .moment_us = SM_UNSET_US, .end_us = SM_UNSET_US};
    reader r = {show, {text, text, text + length, why, at}, &action, partly};
    const size_t plain = sm_text_harmless(text, length, "\t");
    if (plain < length)
        return sm_words_wrong(&r.words, (sm_word){text + plain, 1},
                              "a control character or no UTF-8 stands here; write plain text");
    sm_result result = read_remote(&r);
    if (result == SM_OK)
        result = find_row(&r, &action.act);
    if (result == SM_OK)
        result = read_arguments(&r, sm_action_row_of(action.act));
    if (result == SM_OK)
        *out = action;
    return result;
}

sm_result sm_action_read(const sm_show *show, const char *text, size_t length, sm_action *out, char why[200],
                         size_t *at) {
    return read_line(show, text, length, false, out, why, at);
}

sm_result sm_action_read_partly(const sm_show *show, const char *text, size_t length, sm_action *out,
                                char why[200], size_t *at) {
    return read_line(show, text, length, true, out, why, at);
}

bool sm_action_matches(const sm_action *pattern, const sm_action *action) {
    if (pattern->act != action->act || (pattern->remote != 0 && pattern->remote != action->remote))
        return false;
    if (pattern->target[0] == '\0')
        return true;
    if (pattern->act == SM_ACT_EXCHANGE && pattern->second != SM_NONE && pattern->index == action->second &&
        pattern->second == action->index)
        return true; // the same two, named the other way round
    bool measured = pattern->act == SM_ACT_WIND || pattern->act == SM_ACT_VOLUME;
    bool moment = pattern->moment_us != SM_UNSET_US;
    bool target = measured                       ? pattern->number == action->number
                  : pattern->act == SM_ACT_SPEED ? pattern->speed_ppm == action->speed_ppm
                  : moment                       ? pattern->moment_us == action->moment_us
                                                 : strcmp(pattern->target, action->target) == 0;
    return target && (pattern->detail[0] == '\0' || strcmp(pattern->detail, action->detail) == 0);
}
