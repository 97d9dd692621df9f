// SPDX-License-Identifier: GPL-3.0-or-later
// What is asked on every site. Common practice of small crews, from memory, no source; the local code, the maker's data and
// the licensed operator go first, and no list is complete for a site. A row of walk.csv with the same item stands in its place.
#include "check/rule.h"

#include <string.h>

#define HOLD true
#define ASK false
#define FIRST false
#define LAST true
#define ANY SM_CHECK_ITEM_NEEDS_NOTHING
#define PYRO SM_CHECK_ITEM_NEEDS_PYRO
#define FLAME SM_CHECK_ITEM_NEEDS_FLAME

static const sm_check_site_item rows[] = {
    {"briefing", "Briefing held: jobs, hold words, who may stop (anyone), way out", HOLD, FIRST, ANY},
    {"roles", "Lead, deputy and spotter named; the spotter is not the one with the key", HOLD, FIRST, ANY},
    {"crew-fit", "Everyone rested, sober, in protective clothing", HOLD, FIRST, ANY},
    {"told", "Authorities and venue told as required", HOLD, FIRST, ANY},
    {"names-in", "Names of everyone who goes in written down; the same list counts them out", HOLD, FIRST,
     ANY},
    {"key-place", "Key switch and stop stand outside the danger area; every key is numbered and counted",
     HOLD, FIRST, ANY},
    {"remotes-found", "Every hand-held remote found; one in use, heard and paired, its battery good", HOLD,
     FIRST, PYRO},
    {"link-cut", "Link cut with all rails unplugged: the module did what the file says", HOLD, FIRST, PYRO},
    {"counts-match", "Title, counts and version on the module are those of this show", HOLD, FIRST, ANY},
    {"stop-tried", "The stop tried with rails unplugged and no fuel", HOLD, FIRST, ANY},
    {"nothing-overhead", "Nothing overhead in any path: lines, trees, roofs", HOLD, FIRST, ANY},
    {"no-flame", "No open flame or smoking near product", HOLD, FIRST, ANY},
    {"radios-apart", "Radios and phones kept at the distance that the igniter's maker gives", HOLD, FIRST,
     PYRO},
    {"tubes-braced", "Racks and tubes braced and pointing away from people", HOLD, FIRST, PYRO},
    {"product-watched", "Product counted, covered, attended", HOLD, FIRST, PYRO},
    {"valves-tried", "Flame units: each valve and the stop tried without fuel", HOLD, FIRST, FLAME},
    {"shunts-off", "After the fixture test each shunt removed by name, leads dressed and braced", HOLD, LAST,
     PYRO},
    {"fallout-wind", "Fallout and smoke with the wind as it is now: nobody and nothing below", HOLD, LAST,
     PYRO},
    {"fire-cover", "Fire cover in place and told what must not be fought", HOLD, LAST, ANY},
    {"way-in", "Way in for ambulance and fire service open, meeting point named", HOLD, LAST, ANY},
    {"sides-watched", "All sides guarded, back as well as front", HOLD, LAST, ANY},
    {"spotter-view", "The spotter sees every position, the audience line and both sides", HOLD, LAST, ANY},
    {"stop-signal", "Horn or lamp tried for when the radio fails", HOLD, LAST, ANY},
    {"storm-watch", "Who watches the weather is named; no thunder or storm warning now", HOLD, LAST, ANY},
    {"first-in", "Who goes in first, who watches, which wait: written down", HOLD, LAST, PYRO},
    {"announcement", "Announcement ready for a stop or a delay", ASK, LAST, ANY},
    {"notices", "Warnings for flashing light, noise and smoke are up", ASK, LAST, ANY},
    {"hot-parts", "Means to mark hot parts laid out", ASK, LAST, ANY},
    {"misfire-kit", "What is needed at a misfire stands ready outside the danger area", ASK, LAST, PYRO},
    {"search", "Search by light tonight and again at first light: who is named", HOLD, LAST, PYRO},
};

const sm_check_site_item *sm_check_site_items(size_t *count) {
    *count = sizeof rows / sizeof rows[0];
    return rows;
}

bool sm_check_site_item_asked(const sm_show *show, const sm_check_site_item *item) {
    if (item->needs == SM_CHECK_ITEM_NEEDS_PYRO)
        return show->firing_count > 0;
    for (uint32_t i = 0; item->needs == SM_CHECK_ITEM_NEEDS_FLAME && i < show->fixture_count; i++) {
        const uint32_t profile = show->fixtures[i].profile;
        if (profile != SM_NONE && show->profiles[profile].flame)
            return true;
    }
    return item->needs == SM_CHECK_ITEM_NEEDS_NOTHING;
}

bool sm_check_is_site_item(const sm_walk_row *row, const char *id) {
    const char *item = row->item;
    for (; *item != '\0' && *id != '\0'; item++, id++)
        if (*item != *id && !(*id == '-' && strchr(" \t\n\r", *item)))
            return false;
    return *item == *id;
}

// A later row of the same item stands in place of an earlier one.
static bool stands(const sm_show *show, uint32_t row) {
    for (uint32_t later = row + 1; later < show->walk_row_count; later++)
        if (strcmp(show->walk_rows[later].item, show->walk_rows[row].item) == 0)
            return false;
    return true;
}

sm_result check_holds_off(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t r = 0; r < show->walk_row_count; r++) {
        const sm_walk_row *row = &show->walk_rows[r];
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
            if (rows[i].hold && !row->hold && sm_check_is_site_item(row, rows[i].id) && stands(show, r) &&
                sm_check_site_item_asked(show, &rows[i]))
                check_put(check, "hold-off", (check_place){"walk.csv", row->line, "hold"}, check_no_figures(),
                          "%s is a hold on every site (%s), and this row turns it off; write yes under hold",
                          rows[i].id, rows[i].ask);
    }
    return SM_OK;
}
