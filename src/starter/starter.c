// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/starter.h"

#include "starter/plan.h"

#include <string.h>

static void put_igniters(plan *p, sm_text *out) {
    (void)p;
    starter_head(out, "igniters.csv", "ohms tolerance all_fire",
                 "name,ohms,tolerance,lead_length,lead_gauge,no_fire,all_fire,series_fire");
    sm_text_printf(out, "match,1.6 ohm,0.3 ohm,2 m,24 AWG,0.2 A,0.5 A,1 A\n");
}

static void put_effects(plan *p, sm_text *out) {
    (void)p;
    starter_head(out, "effects.csv", "lead lasts zone calibre",
                 "name,igniter,lead,lasts,zone,calibre,fallout,note");
    sm_text_printf(out, "comet-white,match,0.2 s,2 s,aerial,30 mm,,one white star with a tail\n"
                        "fountain-gold,match,0 s,5 s,ground,,,gold sparks to about 4 m\n");
}

static void put_walk(plan *p, sm_text *out) {
    (void)p;
    starter_head(out, "walk.csv", "ask", "item,ask,expect,where,hold");
    sm_text_printf(out,
                   "briefing,\"Briefing held: jobs, hold words, who may stop the show, way out\",yes,,yes\n"
                   "fire-cover,Fire cover in place and told what must not be fought,yes,,yes\n");
}

typedef enum file_need { NEEDS_NOTHING, NEEDS_RAILS, NEEDS_UNITS, NEEDS_CLICKS } file_need;

// show.ini comes last: it tells how many events the others hold.
static const struct {
    const char *name;
    file_need need;
    void (*put)(plan *p, sm_text *out);
} files[] = {
    {"cues.csv", NEEDS_NOTHING, starter_put_cues},
    {"positions.csv", NEEDS_NOTHING, starter_put_positions},
    {"modules.csv", NEEDS_RAILS, starter_put_modules},
    {"rails.csv", NEEDS_RAILS, starter_put_rails},
    {"igniters.csv", NEEDS_RAILS, put_igniters},
    {"effects.csv", NEEDS_RAILS, put_effects},
    {"readings-first.csv", NEEDS_RAILS, starter_put_readings},
    {"profiles.csv", NEEDS_UNITS, starter_put_profiles},
    {"fixtures.csv", NEEDS_UNITS, starter_put_fixtures},
    {"groups.csv", NEEDS_UNITS, starter_put_groups},
    {"lines.csv", NEEDS_UNITS, starter_put_lines},
    {"feeds.csv", NEEDS_UNITS, starter_put_feeds},
    {"walk.csv", NEEDS_NOTHING, put_walk},
    {"drills/first-evening.ini", NEEDS_NOTHING, starter_put_drill},
    {"clicks.wav", NEEDS_CLICKS, starter_put_clicks},
    {"show.ini", NEEDS_NOTHING, starter_put_settings},
};

static bool is_needed(file_need need, const sm_starter_options *o) {
    switch (need) {
    case NEEDS_RAILS:
        return o->rails > 0;
    case NEEDS_UNITS:
        return o->lights + o->flames > 0;
    case NEEDS_CLICKS:
        return !o->music;
    case NEEDS_NOTHING:
        break;
    }
    return true;
}

sm_result sm_starter_make(const sm_starter_options *options, sm_starter_put *put, void *context) {
    plan p = plan_make(options);
    sm_text text = {0};
    sm_result result = SM_OK;
    for (size_t i = 0; result == SM_OK && i < sizeof files / sizeof files[0]; i++) {
        if (!is_needed(files[i].need, options))
            continue;
        sm_text_clear(&text);
        files[i].put(&p, &text);
        result = text.failed ? SM_NO_MEMORY : put(context, files[i].name, sm_text_get(&text), text.length);
    }
    sm_text_deinit(&text);
    return result;
}

// ---- options ---------------------------------------------------------------------------------

static bool is_printable(const char *text) {
    const size_t length = strlen(text);
    for (size_t at = 0, next; at < length; at += next) {
        next = sm_utf8_length(text + at, length - at);
        const unsigned char first = (unsigned char)text[at];
        if (next == 0 || first < ' ' || first == 0x7F ||
            (first == 0xC2 && (unsigned char)text[at + 1] < 0xA0))
            return false;
    }
    return true;
}

const char *sm_starter_problem(const sm_starter_options *o) {
    if (o->title[strspn(o->title, " ")] == '\0')
        return "a show needs a title";
    if (strlen(o->title) > SM_STARTER_TITLE_MOST)
        return "the title is too long: at most 150 bytes";
    if (!is_printable(o->title))
        return "the title must be UTF-8 without control characters";
    if (o->title[0] == ';' || strstr(o->title, " ;"))
        return "the title must not hold a semicolon behind a blank, which begins a comment in show.ini; "
               "write the "
               "semicolon right behind the word before it";
    if (o->rails > SM_STARTER_RAILS_MOST)
        return "at most 100 rails";
    if (o->slots < 1 || o->slots > SM_STARTER_SLOTS_MOST)
        return "a rail has 1 to 200 slots";
    if (o->lights > SM_STARTER_LIGHTS_MOST)
        return "at most 400 lights";
    if (o->flames > SM_STARTER_FLAMES_MOST)
        return "at most 100 flame units";
    if (o->rails + o->lights + o->flames == 0)
        return "no rail, no light, no flame unit: there is nothing to rehearse";
    if (o->length_us < SM_STARTER_LENGTH_LEAST_US || o->length_us > SM_STARTER_LENGTH_MOST_US)
        return "the length must be 20 s to one hour";
    return NULL;
}
