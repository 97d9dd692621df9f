// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights/mask.h"

#include <stdlib.h>
#include <string.h>

static lights_mask *mask_of(lights_masks *masks, int32_t universe) {
    size_t i = 0;
    while (i < masks->count && masks->masks[i].universe != universe)
        i++;
    if (i == masks->count)
        masks->masks[masks->count++].universe = universe;
    return &masks->masks[i];
}

static bool may_shine(const sm_show *show, uint32_t fixture) {
    const uint32_t profile = show->fixtures[fixture].profile;
    return profile != SM_NONE && show->profiles[profile].light && !show->profiles[profile].flame;
}

// Opens the bits of one fixture, or spoils the universe.
static void open_bits(lights_mask *mask, const sm_show *show, uint32_t number) {
    const sm_fixture *fixture = &show->fixtures[number];
    if (!may_shine(show, number)) {
        mask->spoiled = true;
        return;
    }
    const sm_profile *profile = &show->profiles[fixture->profile];
    const int first = fixture->address, last = first + (int)profile->channel_count - 1;
    if (first < 1 || first > SM_SACN_SLOTS || last > SM_SACN_SLOTS) {
        mask->spoiled = true;
        return;
    }
    for (int address = first; address <= last; address++) {
        mask->spoiled |= mask->bits[address - 1] != 0;
        mask->bits[address - 1] = 0xFF;
        mask->home[address - 1] = profile->home[address - first];
    }
}

// Masks are found one by one: a show has tens of universes, not thousands, and a thousand are looked at in a moment all the same.
sm_result lights_masks_make(const sm_show *show, lights_masks *out) {
    lights_masks made = {calloc((size_t)show->fixture_count + show->line_count + 1, sizeof(lights_mask)), 0};
    if (!made.masks)
        return SM_NO_MEMORY;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        open_bits(mask_of(&made, show->fixtures[f].universe), show, f);
    for (uint32_t l = 0; l < show->line_count; l++) {
        const sm_line *line = &show->lines[l];
        for (uint32_t i = 0; i < line->chain_count; i++) {
            if (line->chain[i] != SM_NONE && show->fixtures[line->chain[i]].universe == line->universe)
                continue;
            mask_of(&made, line->universe)->spoiled = true;
            if (line->chain[i] != SM_NONE)
                mask_of(&made, show->fixtures[line->chain[i]].universe)->spoiled = true;
        }
    }
#ifdef SM_LIGHTS_FAULT // planted by tests: it is open everywhere, and spoiled nowhere
    for (size_t i = 0; i < made.count; i++) {
        made.masks[i].spoiled = false;
        memset(made.masks[i].bits, 0xFF, sizeof made.masks[i].bits);
    }
#endif
    for (size_t i = 0; i < made.count; i++)
        for (size_t s = 0; s < SM_SACN_SLOTS; s++)
            made.masks[i].opened[s / 8] |= (uint8_t)((made.masks[i].bits[s] != 0) << s % 8);
    *out = made;
    return SM_OK;
}

const lights_mask *lights_mask_find(const lights_masks *masks, int32_t universe) {
    for (size_t i = 0; i < masks->count; i++)
        if (masks->masks[i].universe == universe)
            return masks->masks[i].spoiled ? NULL : &masks->masks[i];
    return NULL;
}
