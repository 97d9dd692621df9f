// SPDX-License-Identifier: GPL-3.0-or-later
// What the show's tables say stands at a place, as questions.
#include "walk/list.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

// ---- rails --------------------------------------------------------------------------

// In the order of the slots and without times: a cue that moves asks nothing of the field.
static void describe_slots(sm_walk_maker *maker, const sm_rail *rail) {
    const sm_show *show = maker->list->show;
    for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++) {
        char name[48];
        if (show->slot_firings[slot] == SM_NONE)
            continue;
        const sm_firing *firing = &show->firings[show->slot_firings[slot]];
        sm_text_printf(&maker->detail, "%s %s", sm_slot_format(show, slot, name),
                       show->effects[firing->effect].name);
        if (firing->load != SM_LOAD_ONE)
            sm_text_printf(&maker->detail, ", %d in %s", (int)firing->igniters,
                           firing->load == SM_LOAD_SERIES ? "series" : "parallel");
        if (firing->wire_m > 0)
            sm_text_printf(&maker->detail, ", extra wire %g m %s", firing->wire_m, firing->wire.text);
        sm_text_append(&maker->detail, "\n", 1);
    }
}

static void add_slots(sm_walk_maker *maker, uint32_t index, uint32_t position) {
    const sm_show *show = maker->list->show;
    const sm_rail *rail = &show->rails[index];
    sm_text_printf(&maker->id, "slots:%s", rail->name);
    sm_text_printf(
        &maker->ask,
        "Rail %s on module %s, slots %d to %d, cable %g m %s: at every slot stands what is written here",
        rail->name, show->modules[rail->module].name, (int)rail->first, (int)(rail->first + rail->slots - 1),
        rail->cable_m, rail->cable.text);
    describe_slots(maker, rail);
    sm_walk_add(maker,
                (sm_walk_item){
                    .kind = SM_WALK_SLOTS, .position = position, .index = index, .hold = true, .least = NAN});
}

// Its hash covers each reading, so that a new one asks again.
static void add_readings(sm_walk_maker *maker, uint32_t index, uint32_t position) {
    const sm_show *show = maker->list->show;
    const sm_rail *rail = &show->rails[index];
    unsigned programmed = 0, good = 0, unread = 0;
    for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++) {
        sm_verdict verdict = maker->rig->verdicts[slot];
        char name[48], value[24];
        bool fires = show->slot_firings[slot] != SM_NONE;
        programmed += fires;
        good += fires && verdict == SM_VERDICT_GOOD;
        unread += fires && verdict == SM_VERDICT_UNREAD;
        sm_text_printf(&maker->detail, "%s %s", sm_slot_format(show, slot, name), sm_verdict_text(verdict));
        if (maker->rig->values[slot].kind == SM_READ_OHMS)
            sm_text_printf(&maker->detail, " %s", sm_read_value_format(value, maker->rig->values[slot]));
        sm_text_append(&maker->detail, "\n", 1);
    }
    sm_text_printf(&maker->id, "readings:%s", rail->name);
    sm_text_printf(
        &maker->ask,
        "Rail %s was read with everybody out and counted: %u of %u as predicted (continuity only; not "
        "proof that it fires), %u not read",
        rail->name, good, programmed, unread);
    sm_walk_add(
        maker,
        (sm_walk_item){
            .kind = SM_WALK_READINGS, .position = position, .index = index, .hold = true, .least = NAN});
}

void sm_walk_add_rails(sm_walk_maker *maker, uint32_t position) {
    const sm_show *show = maker->list->show;
    for (uint32_t i = 0; i < show->rail_count; i++)
        if (show->rails[i].position == position) {
            add_slots(maker, i, position);
            add_readings(maker, i, position);
        }
}

// ---- fixtures -------------------------------------------------------------------------

// Row of the line that FIXTURE hangs on, and its place in the chain; SM_NONE: none.
static uint32_t line_of(const sm_show *show, uint32_t fixture, uint32_t *at) {
    for (uint32_t i = 0; i < show->line_count; i++)
        for (uint32_t k = 0; k < show->lines[i].chain_count; k++)
            if (show->lines[i].chain[k] == fixture) {
                *at = k;
                return i;
            }
    return SM_NONE;
}

static void describe_cables(sm_walk_maker *maker, uint32_t index) {
    const sm_show *show = maker->list->show;
    const sm_fixture *fixture = &show->fixtures[index];
    uint32_t at = 0, row = line_of(show, index, &at);
    if (row != SM_NONE) {
        const sm_line *line = &show->lines[row];
        const char *from = at > 0                    ? show->fixtures[line->chain[at - 1]].name
                           : line->source != SM_NONE ? show->positions[line->source].name
                                                     : "its source";
        sm_text_printf(&maker->detail, "line %s, unit %u of %u, data cable from %s", line->name, at + 1,
                       line->chain_count, from);
        if (at < line->cable_count)
            sm_text_printf(&maker->detail, ", %g m", line->cables_m[at]);
        sm_text_printf(&maker->detail, "%s\n", at + 1 == line->chain_count ? ", terminator here" : "");
    }
    if (fixture->feed != SM_NONE) {
        const sm_feed *feed = &show->feeds[fixture->feed];
        sm_text_printf(&maker->detail, "mains feed %s, cord %g m %s\n", feed->name, feed->cord_m,
                       feed->cord.text);
    }
}

static void add_unit(sm_walk_maker *maker, uint32_t index, uint32_t position) {
    const sm_show *show = maker->list->show;
    const sm_fixture *fixture = &show->fixtures[index];
    const sm_profile *profile = &show->profiles[fixture->profile];
    char switches[10];
    sm_text_printf(&maker->id, "unit:%s", fixture->name);
    sm_text_printf(&maker->ask, "%s (%s) set to address %d of universe %d", fixture->name, profile->name,
                   (int)fixture->address, (int)fixture->universe);
    if (sm_dmx_switches(fixture->address, switches) == SM_OK)
        sm_text_printf(&maker->ask, ", switches 1 to 9 %s", switches);
    sm_text_printf(&maker->ask, ", read back aloud");
    if (fixture->aim[0] != '\0')
        sm_text_printf(&maker->ask, "; aimed: %s", fixture->aim);
    describe_cables(maker, index);
    sm_walk_add(maker, (sm_walk_item){.kind = SM_WALK_UNIT,
                                      .position = position,
                                      .index = index,
                                      .hold = profile->flame,
                                      .least = NAN});
}

static const sm_check_unit *flame_unit(const sm_walk_maker *maker, const char *name) {
    for (uint32_t i = 0; i < maker->summary->unit_count; i++)
        if (strcmp(maker->summary->units[i].name, name) == 0)
            return &maker->summary->units[i];
    return NULL;
}

static void add_fuel(sm_walk_maker *maker, uint32_t index, uint32_t position) {
    const sm_fixture *fixture = &maker->list->show->fixtures[index];
    const sm_check_unit *unit = flame_unit(maker, fixture->name);
    const bool gas =
        isfinite(fixture->fuel_g) || isfinite(maker->list->show->profiles[fixture->profile].burn_g_s);
    const double fitted = gas ? fixture->fuel_g : fixture->fuel_ml;
    sm_walk_item item = {.kind = SM_WALK_FUEL,
                         .position = position,
                         .index = index,
                         .hold = true,
                         .measured = true,
                         .quantity = gas ? SM_QUANTITY_GAS : SM_QUANTITY_VOLUME,
                         .least = !unit ? NAN
                                  : gas ? unit->used_g
                                        : unit->used_ml};
    sm_text_printf(&maker->id, "fuel:%s", fixture->name);
    sm_text_printf(&maker->ask, "%s: fuel fitted, amount measured and written down", fixture->name);
    if (isfinite(fitted))
        sm_text_printf(&maker->ask, "; the list says %g %s", fitted, sm_quantity_units(item.quantity));
    if (isfinite(item.least))
        sm_text_printf(&maker->ask, "; the cues burn %.0f %s", ceil(item.least),
                       sm_quantity_units(item.quantity));
    sm_walk_add(maker, item);
}

// What is tried while no fuel is in the unit, in that order. Common practice, from memory, no source; the maker's data goes first.
static const struct {
    sm_walk_kind kind;
    const char *id, *before, *after; // the name of the enable channel stands between them
} without_fuel[] = {
    {SM_WALK_POWER_OFF, "power-off", "power was off at the distribution while it was set up and cabled",
     NULL},
    {SM_WALK_LEAK, "leak", "no fuel in it yet: leak-checked as its maker says", NULL},
    {SM_WALK_HOME, "home", "no fuel in it yet: enable (", ") stands at home with nothing sent"},
    {SM_WALK_DATA_CABLE, "cable", "no fuel in it yet: data cable pulled, and enable (", ") went home"},
};

static void add_flame(sm_walk_maker *maker, uint32_t index, uint32_t position) {
    const sm_fixture *fixture = &maker->list->show->fixtures[index];
    const sm_profile *profile = &maker->list->show->profiles[fixture->profile];
    for (size_t i = 0; i < sizeof without_fuel / sizeof without_fuel[0]; i++) {
        const char *after = without_fuel[i].after;
        sm_text_printf(&maker->id, "%s:%s", without_fuel[i].id, fixture->name);
        sm_text_printf(&maker->ask, "%s: %s%s%s", fixture->name, without_fuel[i].before,
                       after ? profile->channels[profile->enable] : "", after ? after : "");
        sm_walk_add(maker, (sm_walk_item){.kind = without_fuel[i].kind,
                                          .position = position,
                                          .index = index,
                                          .hold = true,
                                          .least = NAN});
    }
}

static bool is_flame_at(const sm_show *show, uint32_t fixture, uint32_t position) {
    return show->fixtures[fixture].position == position &&
           show->profiles[show->fixtures[fixture].profile].flame;
}

void sm_walk_add_fixtures(sm_walk_maker *maker, uint32_t position) {
    const sm_show *show = maker->list->show;
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        if (show->fixtures[i].position == position)
            add_unit(maker, i, position);
        if (is_flame_at(show, i, position))
            add_flame(maker, i, position);
    }
}

void sm_walk_add_fuel(sm_walk_maker *maker, uint32_t position) {
    const sm_show *show = maker->list->show;
    for (uint32_t i = 0; i < show->fixture_count; i++)
        if (is_flame_at(show, i, position))
            add_fuel(maker, i, position);
}

// ---- distance ------------------------------------------------------------------------------

typedef struct need {
    double metres;
    const char *what, *basis, *source;
} need;

static void take_larger(need *most, need other) {
    if (isfinite(other.metres) && !(most->metres >= other.metres))
        *most = other;
}

// The largest figure for what stands at POSITION; *any: something there wants a distance.
static need largest_need(const sm_show *show, uint32_t position, bool *any) {
    need most = {.metres = NAN};
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_effect *effect = &show->effects[show->firings[i].effect];
        if (show->rails[show->slot_rails[show->firings[i].slot]].position != position)
            continue;
        sm_site_need figure = sm_site_effect_need(effect);
        *any = true;
        take_larger(&most, (need){figure.metres, effect->name, figure.basis, figure.source});
    }
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        const sm_profile *profile = &show->profiles[show->fixtures[i].profile];
        if (show->fixtures[i].position != position || !profile->flame)
            continue;
        *any = true;
        take_larger(&most, (need){profile->clear_m, show->fixtures[i].name, "the maker's least distance",
                                  "profiles.csv"});
    }
    return most;
}

void sm_walk_add_distance(sm_walk_maker *maker, uint32_t position) {
    const sm_show *show = maker->list->show;
    bool any = false;
    need most = largest_need(show, position, &any);
    if (!any)
        return;
    sm_text_printf(&maker->id, "distance:%s", show->positions[position].name);
    sm_text_printf(&maker->ask, "Distance from %s to the audience front, measured; by the list %.1f m",
                   show->positions[position].name, sm_site_audience_m(show, position));
    if (isfinite(most.metres))
        sm_text_printf(&maker->detail, "figure used %.1f m, for %s: %s; %s\n", most.metres, most.what,
                       most.basis, most.source);
    else
        sm_text_printf(&maker->detail, "no figure used\n");
    sm_text_printf(&maker->detail, "local law and the maker's data go first\n");
    sm_walk_add(maker, (sm_walk_item){.kind = SM_WALK_DISTANCE,
                                      .position = position,
                                      .index = SM_NONE,
                                      .hold = true,
                                      .measured = true,
                                      .quantity = SM_QUANTITY_LENGTH,
                                      .least = most.metres});
}
