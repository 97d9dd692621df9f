// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights/frame.h"

#include "slowmatch/wire.h"

#include <stdlib.h>
#include <string.h>

struct lights_frame {
    const sm_show *show;
    size_t count;
    int32_t universes[SM_LIGHTS_UNIVERSES];
    uint32_t *fixtures[SM_LIGHTS_UNIVERSES]; // of each, in the table's order
    uint32_t fixture_counts[SM_LIGHTS_UNIVERSES];
};

static sm_result take_universe(lights_frame *frame, const sm_wire_universe *universe) {
    const sm_show *show = frame->show;
    if (frame->count == SM_LIGHTS_UNIVERSES)
        return SM_OUT_OF_RANGE;
    uint32_t *fixtures = calloc((size_t)universe->lights + 1, sizeof *fixtures), count = 0;
    if (!fixtures)
        return SM_NO_MEMORY;
    for (uint32_t f = 0; f < show->fixture_count && count < universe->lights; f++)
        if (show->fixtures[f].universe == universe->number)
            fixtures[count++] = f;
    frame->universes[frame->count] = universe->number;
    frame->fixtures[frame->count] = fixtures;
    frame->fixture_counts[frame->count++] = count;
    return SM_OK;
}

sm_result lights_frame_create(const sm_show *show, const sm_lights_options *options, lights_frame **out) {
    sm_wire_universe *universes = NULL;
    size_t count = 0;
    uint32_t address;
    lights_frame *frame = calloc(1, sizeof *frame);
    sm_result result = frame ? sm_wire_survey(show, &universes, &count) : SM_NO_MEMORY;
    if (frame)
        frame->show = show;
    for (size_t i = 0; i < count && result == SM_OK; i++)
        if (universes[i].why == SM_WIRE_LIGHTS_ALONE &&
            sm_lights_to_of(options, universes[i].number, &address))
            result = take_universe(frame, &universes[i]);
    free(universes);
    if (result != SM_OK) {
        lights_frame_destroy(frame);
        return result;
    }
    *out = frame;
    return SM_OK;
}

void lights_frame_destroy(lights_frame *frame) {
    for (size_t i = 0; frame && i < frame->count; i++)
        free(frame->fixtures[i]);
    free(frame);
}

size_t lights_frame_count(const lights_frame *frame) {
    return frame->count;
}

int32_t lights_frame_universe(const lights_frame *frame, size_t index) {
    return frame->universes[index];
}

void lights_frame_fill(const lights_frame *frame, size_t index, const uint8_t *levels,
                       uint8_t slots[SM_SACN_SLOTS]) {
    const sm_show *show = frame->show;
    memset(slots, 0, SM_SACN_SLOTS);
    for (uint32_t i = 0; i < frame->fixture_counts[index]; i++) {
        const sm_fixture *fixture = &show->fixtures[frame->fixtures[index][i]];
        memcpy(slots + fixture->address - 1, levels + fixture->channel_base,
               show->profiles[fixture->profile].channel_count);
    }
#ifdef SM_LIGHTS_FAULT // planted by tests: the last slot, which is no light's
    slots[SM_SACN_SLOTS - 1] = 200;
#endif
}
