// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/ground/unit_words.h"

#include "slowmatch/site.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

// ---- beside the dots ------------------------------------------------------------------------------

// "7 s" for words, "7" for letters: rounded up, so that nothing is out while it still burns.
static long whole_seconds(sm_us us) {
    return us <= 0 ? 0 : (long)((us + SM_US_PER_S - 1) / SM_US_PER_S);
}

// To the nearest five: a fade would otherwise change the plan in every frame.
static int rounded_percent(int percent) {
    return percent < 3 ? percent : (percent + 2) / 5 * 5;
}

typedef struct piece {
    bool there;
    sm_look look;
    char texts[SM_DOING_LENGTHS][40];
} piece;

#define PIECES 9

static void count_piece(piece *p, uint32_t count, sm_look look, const char *word, const char *letter) {
    char number[12] = "";
    p->there = count > 0;
    p->look = look;
    if (count == 0)
        return; // most of a large site does nothing: it must not cost anything
    if (count > 1)
        snprintf(number, sizeof number, "%u", count);
    snprintf(p->texts[SM_DOING_WORDS], sizeof p->texts[0], "%s%s%s", word, number[0] ? " " : "", number);
    snprintf(p->texts[SM_DOING_LETTERS], sizeof p->texts[0], "%s%s", letter, number);
    snprintf(p->texts[SM_DOING_LETTER], sizeof p->texts[0], "%s", letter);
}

static void burning_piece(piece *p, const sm_doing *doing) {
    long left = whole_seconds(doing->out_us);
    p->there = doing->burning > 0;
    p->look = SM_LOOK_PYRO;
    if (doing->burning == 0)
        return;
    snprintf(p->texts[SM_DOING_LETTER], sizeof p->texts[0], "*");
    if (doing->burning > 1) {
        snprintf(p->texts[SM_DOING_WORDS], sizeof p->texts[0], "%u burn %ld s", doing->burning, left);
        snprintf(p->texts[SM_DOING_LETTERS], sizeof p->texts[0], "*%u %ld", doing->burning, left);
    } else {
        snprintf(p->texts[SM_DOING_WORDS], sizeof p->texts[0], "burns %ld s", left);
        snprintf(p->texts[SM_DOING_LETTERS], sizeof p->texts[0], "*%ld", left);
    }
}

static void light_piece(piece *p, int percent) {
    p->there = percent > 0;
    p->look = SM_LOOK_LIGHT;
    if (p->there) {
        snprintf(p->texts[SM_DOING_WORDS], sizeof p->texts[0], "%d%%", rounded_percent(percent));
        snprintf(p->texts[SM_DOING_LETTERS], sizeof p->texts[0], "%d%%", rounded_percent(percent));
        snprintf(p->texts[SM_DOING_LETTER], sizeof p->texts[0], "%%");
    }
}

// In the order of what a person must not miss.
static void make_pieces(const sm_doing *doing, piece pieces[PIECES]) {
    count_piece(&pieces[0], doing->fire, SM_LOOK_WARN, "FIRE", "FIRE");
    count_piece(&pieces[1], doing->tipped, SM_LOOK_WARN, "TIPPED", "TIP");
    count_piece(&pieces[2], doing->live, SM_LOOK_WARN, "STILL LIVE", "!");
    count_piece(&pieces[3], doing->lit, SM_LOOK_FLAME, "FLAME", "F");
    burning_piece(&pieces[4], doing);
    count_piece(&pieces[5], doing->flying, SM_LOOK_PYRO, "in flight", "^");
    count_piece(&pieces[6], doing->enabled > doing->lit ? doing->enabled - doing->lit : 0, SM_LOOK_FLAME,
                "open", "o");
    light_piece(&pieces[7], doing->percent);
    bool out = doing->unplugged || doing->dark;
    const char *word = doing->unplugged ? "out" : doing->dark ? "no mains" : "held";
    count_piece(&pieces[8], out || doing->held > 0, SM_LOOK_WARN, word, doing->held > 0 ? "h" : "x");
    if (!out && doing->held > 0 && doing->held < doing->holdable)
        snprintf(pieces[8].texts[SM_DOING_WORDS], sizeof pieces[8].texts[0], "%u of %u held", doing->held,
                 doing->holdable);
}

void sm_doing_describe(const sm_doing *doing, sm_doing_length length, sm_look *look, sm_text *out) {
    piece pieces[PIECES];
    make_pieces(doing, pieces);
    bool any = false;
    for (size_t i = 0; i < PIECES; i++) {
        if (!pieces[i].there || (any && length == SM_DOING_LETTER))
            continue;
        if (!any)
            *look = pieces[i].look;
        const char *between = !any ? "" : length == SM_DOING_WORDS ? ", " : " ";
        sm_text_printf(out, "%s%.*s", between, length == SM_DOING_LETTER ? 1 : 40, pieces[i].texts[length]);
        any = true;
    }
}

// ---- distances --------------------------------------------------------------------------------------

#define CAUTION "measure on site; local law, the maker's data and the licensed operator go first"

// "48.0 m", "2.0 m BEHIND it".
static void add_metres(const sm_show *show, const sm_place_on_ground *place, const char *front,
                       sm_text *out) {
    double found_m = sm_site_audience_m(show, place->position);
    if (found_m < 0)
        sm_text_printf(out, "%.1f m BEHIND the audience front", -found_m);
    else
        sm_text_printf(out, "%.1f m%s", found_m, front);
}

void sm_place_distance(const sm_show *show, const sm_place_on_ground *place, sm_text *out) {
    const sm_place_need *need = &place->need;
    add_metres(show, place, " to the audience front", out);
    if (!need->wanted)
        return;
    if (isnan(need->metres)) {
        sm_text_printf(out, "; no figure used for what burns there: give zone and calibre in effects.csv, "
                            "clear in profiles.csv");
    } else {
        bool reached = sm_need_reached(show, place->position, need);
        sm_text_printf(out, ": %s the figure used, %.1f m for %s (",
                       reached ? "not shorter than" : "SHORTER than", need->metres, need->what);
        if (!isnan(need->feet))
            sm_text_printf(out, "%.0f ft: ", ceil(need->feet - 1e-9));
        sm_text_printf(out, "%s; %s)", need->basis, need->source);
        if (need->unfigured)
            sm_text_printf(out, "; no figure for %s there", need->unfigured);
    }
    sm_text_printf(out, "; " CAUTION);
}

// The same for a list, in short.
static void add_distance(const sm_show *show, const sm_place_on_ground *place, sm_text *out) {
    const sm_place_need *need = &place->need;
    add_metres(show, place, "", out);
    if (need->wanted && isnan(need->metres)) {
        sm_text_printf(out, ", no figure used");
    } else if (need->wanted) {
        sm_text_printf(out, ", %s than %.1f m (%s)",
                       sm_need_reached(show, place->position, need) ? "not shorter" : "SHORTER", need->metres,
                       need->what);
    }
}

// ---- beside the plan --------------------------------------------------------------------------------

static int tell_text(sm_area area, int y, sm_look look, sm_text *text) {
    int rows = text->length > 0 ? sm_area_wrap(area, y, 2, look, sm_text_get(text)) : 0;
    sm_text_clear(text);
    return y + rows;
}

static int tell_preview(const sm_ground_told *told, sm_area area, int y) {
    char clock[24];
    int width = sm_area_text(area, 0, y, SM_LOOK_STATE_ARMED, " PREVIEW ");
    sm_area_printf(area, width + 1, y, SM_LOOK_PLAIN, "%s", sm_clock_format(clock, told->at.us));
    return y + 1 +
           sm_area_wrap(area, y + 1, 0, SM_LOOK_DIM,
                        "As the score has it. Nothing runs, nothing is fired or lit. Left Right: the moment "
                        "before, after; Enter leaves.");
}

static int tell_people(const sm_view *view, sm_area area, int y) {
    const sm_snapshot *now = view->snapshot;
    sm_text text = {0};
    for (uint32_t i = 0; i < now->people_count; i++) {
        char minute[16];
        sm_text_printf(&text, "%s%s %s", i == 0 ? "IN FIELD " : ", ", now->people[i].name,
                       sm_time_of_day_minute(view->time_of_day, now->people[i].since, minute));
    }
    if (now->people_count > 0)
        sm_text_printf(&text, "; where they stand is not known");
    y = tell_text(area, y, SM_LOOK_WARN, &text);
    sm_text_deinit(&text);
    return y;
}

static void add_slots(const sm_snapshot *now, const sm_rail *rail, sm_slot_phase phase, const char *before,
                      sm_text *out) {
    bool any = false;
    for (int32_t n = 0; n < rail->slots; n++) {
        uint32_t slot = rail->slot_base + (uint32_t)n;
        char name[48];
        if (now->slots[slot].phase == phase) {
            sm_text_printf(out, "%s%s", any ? " " : before, sm_slot_format(now->show, slot, name));
            any = true;
        }
    }
}

static void add_rail(const sm_snapshot *now, uint32_t index, sm_text *out) {
    const sm_rail *rail = &now->show->rails[index];
    uint32_t phases[SM_SLOT_HELD + 1] = {0}, tipped = 0;
    for (int32_t n = 0; n < rail->slots; n++) {
        const sm_slot_view *slot = &now->slots[rail->slot_base + (uint32_t)n];
        phases[slot->phase]++;
        tipped += slot->tipped;
    }
    sm_text_printf(out, "%s, %u not fired, %u spent", now->rail_plugged[index] ? "plugged" : "UNPLUGGED",
                   phases[SM_SLOT_WAITING], phases[SM_SLOT_SPENT]);
    add_slots(now, rail, SM_SLOT_MISFIRED, "; misfired, LIVE: ", out);
    add_slots(now, rail, SM_SLOT_PASSED, "; passed over, LIVE: ", out);
    add_slots(now, rail, SM_SLOT_HELD, "; held back, LIVE: ", out);
    if (tipped > 0)
        sm_text_printf(out, "; %u TIPPED", tipped);
}

static void add_fixture(const sm_ground_told *told, const sm_view *view, uint32_t index, sm_text *out) {
    const sm_show *show = view->show;
    const sm_fixture *fixture = &show->fixtures[index];
    const sm_profile *profile = &show->profiles[fixture->profile];
    const sm_doing *doing = &told->ground->doing[told->cursor];
    const uint8_t *levels = told->preview ? told->ground->levels : view->snapshot->levels;
    if (profile->flame) {
        sm_text_printf(out, "enable %s, %s; ", doing->enabled ? "OPEN" : "closed",
                       doing->lit ? "FLAME" : "no flame");
    } else {
        sm_text_printf(out, "light at %d %%; ", doing->percent);
    }
    for (uint32_t c = 0; c < profile->channel_count && c < 8; c++) {
        sm_text_printf(out, "%s%s %u", c > 0 ? " " : "", profile->channels[c],
                       levels[fixture->channel_base + c]);
    }
    sm_text_printf(out, "%s", profile->channel_count > 8 ? " …" : "");
    if (fixture->aim[0])
        sm_text_printf(out, "; aims at %s", fixture->aim);
    if (doing->held > 0)
        sm_text_printf(out, "; INHIBITED");
    if (doing->dark)
        sm_text_printf(out, "; no mains");
}

// What the air does to it: when the sound is there, and where the wind takes what falls. Told with what it is made of.
static int tell_air(const sm_view *view, const sm_unit *unit, sm_area area, int y) {
    const sm_show *show = view->show;
    const sm_position *position = &show->positions[unit->position];
    const double sound_s = sm_site_sound_s(show, position->x_m, position->y_m);
    const sm_effect *longest = NULL;
    sm_text text = {0};
    if (!isnan(sound_s))
        sm_text_printf(&text, "sound of the loudspeaker %.2f s to here, %.2f s to the audience front",
                       sound_s, sm_site_sound_to_front_s(show));
    y = tell_text(area, y, SM_LOOK_DIM, &text);
    for (uint32_t i = 0; unit->kind == SM_UNIT_RAIL && i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        if (show->slot_rails[firing->slot] == unit->index && firing->effect != SM_NONE &&
            (!longest || show->effects[firing->effect].lasts_us > longest->lasts_us))
            longest = &show->effects[firing->effect];
    }
    if (longest && view->snapshot->wind_known) {
        const double seconds = (double)longest->lasts_us / (double)SM_US_PER_S;
        sm_text_printf(
            &text,
            "drift with the wind measured, %.1f m/s: %.0f m in the %.1f s that %s is seen; what falls "
            "longer drifts further. No limit",
            view->snapshot->wind_m_s, sm_site_drift_m(view->snapshot->wind_m_s, seconds), seconds,
            longest->name);
    }
    y = tell_text(area, y, SM_LOOK_DIM, &text);
    sm_text_deinit(&text);
    return y;
}

static int tell_unit(const sm_ground_told *told, const sm_view *view, sm_area area, int y) {
    const sm_ground *ground = told->ground;
    const sm_show *show = view->show;
    const sm_unit *unit = &ground->units[told->cursor];
    const sm_doing *doing = &ground->doing[told->cursor];
    sm_text text = {0};
    sm_look look = SM_LOOK_PLAIN;
    int x = sm_area_printf(area, 0, y, SM_LOOK_TITLE, "%s %s", unit->kind == SM_UNIT_RAIL ? "rail" : "unit",
                           sm_unit_name(show, unit));
    sm_area_printf(area, x + 2, y, SM_LOOK_DIM, "%u of %u", told->cursor + 1, ground->unit_count);
    y++;
    sm_doing_describe(doing, SM_DOING_WORDS, &look, &text);
    y = tell_text(area, y, look, &text);
    if (unit->kind == SM_UNIT_FIXTURE)
        add_fixture(told, view, unit->index, &text);
    else if (!told->preview)
        add_rail(view->snapshot, unit->index, &text);
    y = tell_text(area, y, doing->live > 0 ? SM_LOOK_WARN : SM_LOOK_PLAIN, &text);
    if (unit->position == SM_NONE) {
        sm_text_printf(&text, "no position: write one of positions.csv in its column `position` of %s",
                       unit->kind == SM_UNIT_RAIL ? "rails.csv" : "fixtures.csv");
        y = tell_text(area, y, SM_LOOK_WARN, &text);
        sm_text_deinit(&text);
        return y;
    }
    const sm_position *position = &show->positions[unit->position];
    sm_text_printf(&text, "at %s, x %g m, y %g m%s%s", position->name, position->x_m, position->y_m,
                   position->note[0] ? ": " : "", position->note);
    y = tell_text(area, y, SM_LOOK_PLAIN, &text);
    const sm_place_on_ground *place = &ground->places[unit->position];
    bool fits = !place->need.wanted || sm_need_reached(show, unit->position, &place->need);
    sm_place_distance(show, place, &text);
    y = tell_text(area, y, fits ? SM_LOOK_PLAIN : SM_LOOK_WARN, &text);
    sm_text_deinit(&text);
    return tell_air(view, unit, area, y);
}

static int tell_fires(const sm_ground *ground, sm_area area, int y) {
    sm_text text = {0};
    for (uint32_t p = 0; p < ground->place_count; p++) {
        if (ground->places[p].doing.fire) {
            sm_text_printf(&text, "%s%s", text.length > 0 ? ", " : "FIRE at ",
                           ground->show->positions[p].name);
        }
    }
    y = tell_text(area, y, SM_LOOK_WARN, &text);
    sm_text_deinit(&text);
    return y;
}

// All that burns and flies, each by itself; then what shines, in one line.
static int tell_now(const sm_ground_told *told, const sm_view *view, sm_area area, int y) {
    const sm_ground *ground = told->ground;
    sm_text text = {0};
    int begin = y;
    for (uint32_t u = 0; u < ground->unit_count; u++) {
        sm_doing burns = ground->doing[u];
        sm_look look = SM_LOOK_PLAIN;
        burns.percent = 0; // lights come last
        burns.enabled = burns.lit;
        burns.unplugged = burns.dark = false;
        burns.held = 0;
        sm_text one = {0};
        sm_doing_describe(&burns, SM_DOING_WORDS, &look, &one);
        if (one.length > 0) {
            sm_text_printf(&text, "%s%s %s", text.length > 0 ? " · " : "now ",
                           sm_unit_name(view->show, &ground->units[u]), sm_text_get(&one));
        }
        sm_text_deinit(&one);
    }
    y = tell_text(area, y, SM_LOOK_PYRO, &text);
    uint32_t shining = 0;
    for (uint32_t u = 0; u < ground->unit_count; u++)
        shining += ground->doing[u].percent > 0;
    if (shining > 0)
        sm_text_printf(&text, "%u light%s on", shining, shining == 1 ? "" : "s");
    y = tell_text(area, y, SM_LOOK_LIGHT, &text);
    if (y == begin) {
        sm_text_printf(&text, "nothing burns or shines");
        y = tell_text(area, y, SM_LOOK_DIM, &text);
    }
    sm_text_deinit(&text);
    return y;
}

static int tell_unplaced(const sm_ground *ground, sm_area area, int y) {
    sm_text text = {0};
    for (uint32_t u = ground->placed; u < ground->unit_count; u++) {
        sm_text_printf(&text, "%s%s", u == ground->placed ? "NOT ON THE PLAN, no position: " : " ",
                       sm_unit_name(ground->show, &ground->units[u]));
    }
    y = tell_text(area, y, SM_LOOK_WARN, &text);
    if (ground->at_zero > 0) {
        sm_text_printf(
            &text,
            "%u place%s with units at x 0 m, y 0 m, which is also what an empty x or y counts as: see "
            "positions.csv",
            ground->at_zero, ground->at_zero == 1 ? "" : "s");
    }
    y = tell_text(area, y, SM_LOOK_WARN, &text);
    sm_text_deinit(&text);
    return y;
}

static int tell_distances(const sm_ground *ground, sm_area area, int y) {
    sm_text text = {0};
    sm_area_field(area, 0, y++, area.columns, SM_LOOK_HEADING, "metres to the front, the figure used");
    for (uint32_t p = 0; p < ground->place_count; p++) {
        const sm_place_on_ground *place = &ground->places[p];
        if (place->count == 0)
            continue;
        bool fits = !place->need.wanted || isnan(place->need.metres) ||
                    sm_need_reached(ground->show, p, &place->need);
        sm_text_printf(&text, "%s ", ground->show->positions[p].name);
        add_distance(ground->show, place, &text);
        y = tell_text(area, y, fits ? SM_LOOK_PLAIN : SM_LOOK_WARN, &text);
    }
    sm_text_printf(&text, "Computed from positions.csv: " CAUTION ".");
    y = tell_text(area, y, SM_LOOK_DIM, &text);
    sm_text_deinit(&text);
    return y;
}

int sm_ground_tell(const sm_ground_told *told, const sm_view *view, sm_area area, int y) {
    if (told->preview)
        y = tell_preview(told, area, y);
    y = tell_people(view, area, y);
    y = tell_fires(told->ground, area, y);
    y = tell_now(told, view, area, y);
    if (told->ground->unit_count > 0)
        y = tell_unit(told, view, area, y);
    y = tell_unplaced(told->ground, area, y);
    y = tell_distances(told->ground, area, y);
    return y + sm_area_wrap(area, y, 2, SM_LOOK_DIM, SM_DOING_LEGEND);
}
