// SPDX-License-Identifier: GPL-3.0-or-later
// Reads one injection and resolves its names against the show.
#include "engine/words_read.h"

#include "slowmatch/inject.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

typedef enum part {
    PART_NONE,
    PART_SLOT,  // one that a cue fires
    PART_SPARE, // one that no cue fires
    PART_RAIL,
    PART_MODULE,
    PART_FLAME, // a fixture with hazard flame
    PART_FEED,
    PART_POSITION,
    PART_LATE, // a time
    PART_OFF,  // a time, may be negative
    PART_WIND,
    PART_REMOTE,
    PART_WHO, // one word
    PART_TEXT // the rest
} part;

typedef struct form {
    sm_inject_row row;
    part parts[2];
} form;

static const form forms[] = {
    [SM_INJECT_OPEN] = {{"open", "open SLOT", "the slot's line is open"}, {PART_SLOT}},
    [SM_INJECT_SHORT] = {{"short", "short SLOT", "the slot's line is shorted"}, {PART_SLOT}},
    [SM_INJECT_STRAY] = {{"stray", "stray SLOT", "something hangs on a slot that no cue fires"},
                         {PART_SPARE}},
    [SM_INJECT_MENDED] = {{"mended", "mended SLOT", "the slot is as rigged again; nobody has read it"},
                          {PART_SLOT}},
    [SM_INJECT_UNPLUG] = {{"unplug", "unplug RAIL", "the rail comes unplugged"}, {PART_RAIL}},
    [SM_INJECT_MISFIRE] = {{"misfire", "misfire SLOT", "the slot reads well and will not go"}, {PART_SLOT}},
    [SM_INJECT_LATE] = {{"late", "late SLOT TIME", "the slot shows nothing when due and goes TIME later"},
                        {PART_SLOT, PART_LATE}},
    [SM_INJECT_FIRES_ALONE] = {{"fires-alone", "fires-alone SLOT", "the slot goes now, by itself"},
                               {PART_SLOT}},
    [SM_INJECT_TIP] = {{"tip", "tip SLOT", "what stands at the slot tips over"}, {PART_SLOT}},
    [SM_INJECT_REFUSE_ARM] = {{"refuse-arm", "refuse-arm MODULE", "the module refuses to arm"},
                              {PART_MODULE}},
    [SM_INJECT_MODULE_READY] = {{"module-ready", "module-ready MODULE", "it refuses no longer"},
                                {PART_MODULE}},
    [SM_INJECT_FLAME_STUCK] = {{"flame-stuck", "flame-stuck FIXTURE", "the flame unit does not close"},
                               {PART_FLAME}},
    [SM_INJECT_FLAME_OUT] = {{"flame-out", "flame-out FIXTURE", "the flame unit does not light"},
                             {PART_FLAME}},
    [SM_INJECT_FEED_LOST] = {{"feed-lost", "feed-lost FEED", "the feed is dead, and what hangs on it"},
                             {PART_FEED}},
    [SM_INJECT_WIND] = {{"wind", "wind SPEED", "the wind meter shows SPEED"}, {PART_WIND}},
    [SM_INJECT_STORM] = {{"storm", "storm", "thunder"}, {0}},
    [SM_INJECT_FIRE] = {{"fire", "fire POSITION", "an unwanted fire"}, {PART_POSITION}},
    [SM_INJECT_PERSON_IN] = {{"person in-field", "person in-field", "a person is seen in the field"}, {0}},
    [SM_INJECT_PERSON_OUT] = {{"person out", "person out", "that person is out again"}, {0}},
    [SM_INJECT_CALL] = {{"call", "call WHO TEXT", "a person of the crew speaks"}, {PART_WHO, PART_TEXT}},
    [SM_INJECT_NO_ANSWER] = {{"no-answer", "no-answer WHO", "a person was called and does not answer"},
                             {PART_WHO}},
    [SM_INJECT_FALSE_CLEAR] = {{"false-clear", "false-clear WHO", "a person says clear who has not checked"},
                               {PART_WHO}},
    [SM_INJECT_LINK_LOST] = {{"link lost", "link lost", "the link to the modules is lost"}, {0}},
    [SM_INJECT_LINK_BACK] = {{"link back", "link back", "the link is back"}, {0}},
    [SM_INJECT_REMOTE_UNPAIRED] = {{"remote-unpaired", "remote-unpaired N", "a remote not paired is heard"},
                                   {PART_REMOTE}},
    [SM_INJECT_REMOTE_WEAK] = {{"remote-weak", "remote-weak N", "a remote's battery is low"}, {PART_REMOTE}},
    [SM_INJECT_REMOTE_GOOD] = {{"remote-good", "remote-good N", "the remote is found and its battery good"},
                               {PART_REMOTE}},
    [SM_INJECT_SOUND_LOST] = {{"sound lost", "sound lost", "the music stops"}, {0}},
    [SM_INJECT_SOUND_BACK] = {{"sound back", "sound back", "the music is back"}, {0}},
    [SM_INJECT_MUSIC_OFF] = {{"music-off", "music-off TIME", "the music is TIME off the cues"}, {PART_OFF}},
};
static_assert(sizeof forms / sizeof forms[0] == SM_INJECT_COUNT, "a form for each injection");

const sm_inject_row *sm_inject_row_of(sm_inject what) {
    assert((unsigned)what < SM_INJECT_COUNT);
    return &forms[what].row;
}

typedef struct reader {
    const sm_show *show;
    sm_words words;
    sm_injection *out;
} reader;

// ---- names --------------------------------------------------------------------------------------

static const char *module_at(const void *show, size_t i) {
    return ((const sm_show *)show)->modules[i].name;
}
static const char *rail_at(const void *show, size_t i) {
    return ((const sm_show *)show)->rails[i].name;
}
static const char *fixture_at(const void *show, size_t i) {
    return ((const sm_show *)show)->fixtures[i].name;
}
static const char *feed_at(const void *show, size_t i) {
    return ((const sm_show *)show)->feeds[i].name;
}
static const char *position_at(const void *show, size_t i) {
    return ((const sm_show *)show)->positions[i].name;
}

static sm_result find(reader *r, sm_word w, const char *what, size_t count, sm_name_at name_at) {
    char name[64];
    snprintf(name, sizeof name, "%.*s", SM_SHOWN(w));
    for (size_t i = 0; i < count; i++)
        if (sm_word_is(w, name_at(r->show, i))) {
            r->out->index = (uint32_t)i;
            return SM_OK;
        }
    const char *near = sm_nearest_name(name, count, name_at, r->show);
    if (near)
        return sm_words_wrong(&r->words, w, "no %s '%s'; did you mean %s?", what, name, near);
    return sm_words_wrong(&r->words, w, "no %s '%s' in the show", what, name);
}

static sm_result read_slot(reader *r, sm_word w, bool fired) {
    if (sm_slot_find(r->show, w.text, w.length, &r->out->index) != SM_OK)
        return sm_words_wrong(&r->words, w, "no slot '%.*s'; write RAIL-NN as in rails.csv", SM_SHOWN(w));
    if ((r->show->slot_firings[r->out->index] != SM_NONE) == fired)
        return SM_OK;
    return sm_words_wrong(&r->words, w,
                          fired ? "no cue fires %.*s; name a slot that one fires"
                                : "a cue fires %.*s; name a spare slot",
                          SM_SHOWN(w));
}

static sm_result read_flame(reader *r, sm_word w) {
    sm_result result = find(r, w, "fixture", r->show->fixture_count, fixture_at);
    if (result != SM_OK || r->show->profiles[r->show->fixtures[r->out->index].profile].flame)
        return result;
    return sm_words_wrong(&r->words, w, "%.*s is no flame unit", SM_SHOWN(w));
}

static sm_result read_remote(reader *r, sm_word w) {
    if (sm_integer_read(w.text, w.length, &r->out->remote) == SM_OK && r->out->remote >= 1 &&
        r->out->remote <= 99)
        return SM_OK;
    return sm_words_wrong(&r->words, w, "'%.*s' is no remote's number; write 1 to 99", SM_SHOWN(w));
}

static sm_result read_late(reader *r, sm_word w) {
    if (sm_span_read(w.text, w.length, SM_US_PER_S, &r->out->us) == SM_OK && r->out->us >= 1000 &&
        r->out->us <= 60 * SM_US_PER_S)
        return SM_OK;
    return sm_words_wrong(&r->words, w, "'%.*s' is no time from 1 ms to 60 s", SM_SHOWN(w));
}

static sm_result read_off(reader *r, sm_word w) {
    bool negative = w.length > 0 && w.text[0] == '-';
    if (sm_span_read(w.text + negative, w.length - negative, SM_US_PER_S, &r->out->us) != SM_OK ||
        r->out->us > 600 * SM_US_PER_S)
        return sm_words_wrong(&r->words, w, "'%.*s' is no time of at most 10 min", SM_SHOWN(w));
    if (negative)
        r->out->us = -r->out->us;
    return SM_OK;
}

static sm_result read_wind(reader *r, sm_word w) {
    if (sm_measure_read(SM_QUANTITY_SPEED, w.text, w.length, &r->out->wind_m_s) == SM_OK &&
        r->out->wind_m_s >= 0 && r->out->wind_m_s <= 100)
        return SM_OK;
    return sm_words_wrong(&r->words, w, "'%.*s' is no wind speed; write a number with %s", SM_SHOWN(w),
                          sm_quantity_units(SM_QUANTITY_SPEED));
}

static sm_result keep(reader *r, sm_word w, char *into, size_t room) {
    if (w.length >= room)
        return sm_words_wrong(&r->words, w, "too long: at most %zu bytes", room - 1);
    memcpy(into, w.text, w.length);
    into[w.length] = '\0';
    return SM_OK;
}

static sm_result read_part(reader *r, part p, sm_word w) {
    switch (p) {
    case PART_SLOT:
        return read_slot(r, w, true);
    case PART_SPARE:
        return read_slot(r, w, false);
    case PART_RAIL:
        return find(r, w, "rail", r->show->rail_count, rail_at);
    case PART_MODULE:
        return find(r, w, "module", r->show->module_count, module_at);
    case PART_FLAME:
        return read_flame(r, w);
    case PART_FEED:
        return find(r, w, "feed", r->show->feed_count, feed_at);
    case PART_POSITION:
        return find(r, w, "position", r->show->position_count, position_at);
    case PART_LATE:
        return read_late(r, w);
    case PART_OFF:
        return read_off(r, w);
    case PART_WIND:
        return read_wind(r, w);
    case PART_REMOTE:
        return read_remote(r, w);
    case PART_WHO:
        return keep(r, w, r->out->who, sizeof r->out->who);
    default:
        return keep(r, w, r->out->text, sizeof r->out->text);
    }
}

// ---- the line -------------------------------------------------------------------------------------

static const char *name_at(const void *context, size_t i) {
    (void)context;
    return forms[i].row.name;
}

// The form whose name begins the line; one of two words before one of one word is not needed: no name begins another.
static sm_result find_form(reader *r, const form **found) {
    sm_word first = sm_words_next(&r->words);
    const char *after_first = r->words.at;
    sm_word second = sm_words_next(&r->words);
    size_t both = (size_t)(second.text + second.length - first.text);
    for (size_t i = 0; i < SM_INJECT_COUNT; i++) {
        const char *name = forms[i].row.name;
        bool two = strchr(name, ' ') != NULL;
        size_t length = two ? both : first.length;
        if (strlen(name) != length || memcmp(name, first.text, length) != 0)
            continue;
        r->words.at = two ? second.text + second.length : after_first;
        r->out->what = (sm_inject)i;
        *found = &forms[i];
        return SM_OK;
    }
    char shown[64];
    snprintf(shown, sizeof shown, "%.*s", SM_SHOWN(first));
    const char *near = sm_nearest_name(shown, SM_INJECT_COUNT, name_at, NULL);
    if (first.length == 0)
        return sm_words_wrong(&r->words, first, "what happens is missing");
    return near ? sm_words_wrong(&r->words, first, "nothing that can happen is called '%s'; did you mean %s?",
                                 shown, near)
                : sm_words_wrong(&r->words, first, "nothing that can happen is called '%s'", shown);
}

static sm_result read_parts(reader *r, const form *f) {
    for (int i = 0; i < 2 && f->parts[i] != PART_NONE; i++) {
        bool last = i == 1 || f->parts[i + 1] == PART_NONE;
        sm_word w =
            last ? sm_words_rest(&r->words)
                 : sm_words_next(&r->words); // a measure may have a blank before its unit, a name has none
        if (w.length == 0)
            return sm_words_wrong(&r->words, w, "'%s' needs more: write %s", f->row.name, f->row.form);
        sm_result result = read_part(r, f->parts[i], w);
        if (result != SM_OK)
            return result;
    }
    sm_word extra = sm_words_rest(&r->words);
    if (extra.length > 0)
        return sm_words_wrong(&r->words, extra, "'%.*s' is too much: write %s", SM_SHOWN(extra), f->row.form);
    return SM_OK;
}

sm_result sm_injection_read(const sm_show *show, const char *text, size_t length, sm_injection *out,
                            char why[200], size_t *at) {
    sm_injection injection = {.index = SM_NONE};
    reader r = {show, {text, text, text + length, why, at}, &injection};
    const form *f = NULL;
    sm_result result = find_form(&r, &f);
    if (result == SM_OK)
        result = read_parts(&r, f);
    if (result == SM_OK && injection.what != SM_INJECT_CALL)
        result = keep(&r, (sm_word){text, length}, injection.text, sizeof injection.text);
    if (result == SM_OK)
        *out = injection;
    return result;
}
