// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/board_fixtures.h"

#include <string.h>

#define SWITCHES 9
#define UNIVERSE_SLOTS 512

static bool address_fits(const sm_show *show, const sm_fixture *fixture) {
    return fixture->address >= 1 &&
           fixture->address + (int64_t)show->profiles[fixture->profile].channel_count - 1 <= UNIVERSE_SLOTS;
}

bool sm_fixture_is_wrong(const sm_view *view, uint32_t f) {
    sm_flame_view flame = sm_flame_look(view->snapshot, f);
    return view->snapshot->fixture_inhibited[f] || view->snapshot->fixture_dark[f] ||
           flame.lit != flame.told || !address_fits(view->show, &view->show->fixtures[f]);
}

void sm_fixture_format_wrong(const sm_view *view, uint32_t f, sm_text *out) {
    const char *between = "";
    if (view->snapshot->fixture_inhibited[f]) {
        sm_text_printf(out, "INHIBITED");
        between = ", ";
    }
    if (view->snapshot->fixture_dark[f]) {
        sm_text_printf(out, "%sFEED LOST", between);
        between = ", ";
    }
    if (!address_fits(view->show, &view->show->fixtures[f]))
        sm_text_printf(out, "%sADDRESS OUTSIDE 1 TO 512", between);
}

int sm_fixture_draw_flame(const sm_view *view, sm_area area, int x, int y, uint32_t f) {
    sm_flame_view flame = sm_flame_look(view->snapshot, f);
    if (!flame.is_flame)
        return 0;
    int used = sm_area_text(area, x, y, flame.enabled ? SM_LOOK_FLAME : SM_LOOK_DIM,
                            flame.enabled ? "enable OPEN " : "enable closed ");
    if (flame.lit != flame.told) {
        return used +
               sm_area_text(area, x + used, y, SM_LOOK_WARN, flame.lit ? "BURNS UNTOLD" : "TOLD, NO FLAME");
    }
    return used + sm_area_text(area, x + used, y, flame.lit ? SM_LOOK_FLAME : SM_LOOK_DIM,
                               flame.lit ? "FLAME" : "no flame");
}

// ---- the switches --------------------------------------------------------------------------------

void sm_switches_format(int32_t address, sm_text *out) {
    char switches[SWITCHES + 1];
    if (sm_dmx_switches(address, switches) != SM_OK) {
        sm_text_printf(out, "no setting of nine switches is address %d", address);
        return;
    }
    sm_text_printf(out, "switches");
    for (int i = 0; i < SWITCHES; i++)
        if (switches[i] == '1')
            sm_text_printf(out, " %d", i + 1);
    sm_text_printf(out, " on");
}

// The bank as it looks: each switch's number stands in the row to which it is pushed.
//   ON   1 . 3 4 . . . . .
//   off  . 2 . . 5 6 7 8 9
// Returns the columns it takes, 0 where there is no such setting.
static int draw_switches(sm_area area, int y, int32_t address) {
    char switches[SWITCHES + 1];
    if (sm_dmx_switches(address, switches) != SM_OK)
        return 0;
    sm_area_text(area, 0, y, SM_LOOK_TITLE, "ON");
    sm_area_text(area, 0, y + 1, SM_LOOK_DIM, "off");
    for (int i = 0; i < SWITCHES; i++) {
        bool on = switches[i] == '1';
        int x = 5 + 2 * i;
        sm_area_printf(area, x, y + (on ? 0 : 1), on ? SM_LOOK_TITLE : SM_LOOK_DIM, "%d", i + 1);
        sm_area_text(area, x, y + (on ? 1 : 0), SM_LOOK_DIM, "·");
    }
    return 5 + 2 * SWITCHES;
}

// ---- all of it --------------------------------------------------------------------------------------

static void add_name(const sm_view *view, const sm_fixture *fixture, sm_text *out) {
    const sm_show *show = view->show;
    const sm_profile *profile = &show->profiles[fixture->profile];
    sm_text_printf(out, "%s %s, universe %d address %d", fixture->name, profile->name, fixture->universe,
                   fixture->address);
    if (profile->channel_count > 1)
        sm_text_printf(out, "-%lld", fixture->address + (long long)profile->channel_count - 1);
    if (fixture->position != SM_NONE)
        sm_text_printf(out, ", at %s", show->positions[fixture->position].name);
    if (fixture->aim[0])
        sm_text_printf(out, ", aim %s", fixture->aim);
    if (fixture->feed_name[0])
        sm_text_printf(out, ", feed %s", fixture->feed_name);
}

// "permit 255 (home 0) · flame 0"
static void add_channels(const sm_view *view, const sm_fixture *fixture, sm_text *out) {
    const sm_profile *profile = &view->show->profiles[fixture->profile];
    for (uint32_t c = 0; c < profile->channel_count; c++) {
        uint8_t level = view->snapshot->levels[fixture->channel_base + c];
        sm_text_printf(out, "%s%s %u", c > 0 ? " · " : "", profile->channels[c], level);
        if (level != profile->home[c])
            sm_text_printf(out, " (home %u)", profile->home[c]);
    }
}

static void draw_text(sm_area area, int y, int rows, sm_look look, const sm_text *text) {
    sm_area_wrap_cut(sm_area_part(area, 0, y, area.columns, rows), 2, look, sm_text_get(text));
}

void sm_fixture_draw_detail(const sm_view *view, sm_area area, uint32_t f) {
    const sm_fixture *fixture = &view->show->fixtures[f];
    sm_text name = {0}, switches = {0}, channels = {0}, wrong = {0};
    add_name(view, fixture, &name);
    sm_switches_format(fixture->address, &switches);
    add_channels(view, fixture, &channels);
    sm_fixture_format_wrong(view, f, &wrong);
    if (area.rows < 5) {
        sm_text_printf(&name, ", %s", sm_text_get(&switches));
        draw_text(area, 0, area.rows > 2 ? area.rows - 1 : area.rows, SM_LOOK_PLAIN, &name);
        if (area.rows > 2)
            draw_text(area, area.rows - 1, 1, SM_LOOK_PLAIN, &channels);
    } else {
        draw_text(area, 0, 1, SM_LOOK_PLAIN, &name);
        int x = draw_switches(area, 1, fixture->address);
        x += x > 0 ? 2 : 0;
        sm_area right = sm_area_part(area, x, 1, area.columns - x, 2);
        sm_area_field(right, 0, 0, right.columns, SM_LOOK_PLAIN, sm_text_get(&switches));
        int used = sm_fixture_draw_flame(view, right, 0, 1, f);
        sm_area_field(right, used + (used > 0 ? 2 : 0), 1, right.columns, SM_LOOK_WARN, sm_text_get(&wrong));
        draw_text(area, 3, area.rows - 3, SM_LOOK_PLAIN, &channels);
    }
    sm_text_deinit(&name);
    sm_text_deinit(&switches);
    sm_text_deinit(&channels);
    sm_text_deinit(&wrong);
}
