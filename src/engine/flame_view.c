// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/dmx.h"
#include "slowmatch/engine.h"

sm_flame_view sm_flame_look(const sm_snapshot *snapshot, uint32_t fixture) {
    const sm_fixture *row = &snapshot->show->fixtures[fixture];
    const sm_profile *profile = &snapshot->show->profiles[row->profile];
    if (!profile->flame)
        return (sm_flame_view){0};
    uint8_t enable = snapshot->levels[row->channel_base + profile->enable];
    uint8_t fire = snapshot->levels[row->channel_base + profile->fire];
    bool enabled = sm_dmx_in_range(profile->enable_range, enable);
    bool told = enabled && sm_dmx_in_range(profile->fire_range, fire);
    bool lit = told && !snapshot->fixture_dark[fixture];     // without its feed its valve is closed
    if (snapshot->flame_faults[fixture] != SM_FLAME_AS_TOLD) // a drill: it does not do what it is told
        lit = snapshot->flame_faults[fixture] == SM_FLAME_STUCK;
    return (sm_flame_view){.is_flame = true, .enabled = enabled, .told = told, .lit = lit, .level = fire};
}

uint32_t sm_flames_lit(const sm_snapshot *now) {
    uint32_t lit = 0;
    for (uint32_t fixture = 0; fixture < now->show->fixture_count; fixture++)
        lit += sm_flame_look(now, fixture).lit;
    return lit;
}
