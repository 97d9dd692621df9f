// SPDX-License-Identifier: GPL-3.0-or-later
// Levels, address switches and frame times: the figures of DMX512-A that need no show.
#include "slowmatch/dmx.h"

#include <assert.h>
#include <math.h>

// ANSI E1.11: a slot is a start bit, 8 data bits and 2 stop bits at 250 kbit/s. Break, mark after break and
// break-to-break are the least that a transmitter may send.
enum { SLOT_US = 44, BREAK_US = 92, MARK_AFTER_BREAK_US = 12, BREAK_TO_BREAK_US = 1204 };

enum { SWITCHES = 9, SLOTS = 512 };

uint8_t sm_dmx_fade_level(uint8_t from, uint8_t to, sm_us fade_us, sm_us at_us) {
    assert(fade_us >= 0);
    if (at_us < 0)
        return from;
    if (at_us >= fade_us)
        return to;
    // (from + (to - from) at / fade) + 1/2, over the common divisor 2 fade; never negative on the way.
    int64_t line = (int64_t)from * fade_us + ((int64_t)to - from) * at_us;
    return (uint8_t)((2 * line + fade_us) / (2 * fade_us));
}

sm_us sm_dmx_frame_us(int highest_slot) {
    // The start code goes before slot 1, as a slot of its own.
    sm_us frame_us = BREAK_US + MARK_AFTER_BREAK_US + (sm_us)SLOT_US * ((sm_us)highest_slot + 1);
    return frame_us > BREAK_TO_BREAK_US ? frame_us : BREAK_TO_BREAK_US;
}

sm_us sm_dmx_period_us(double refresh_hz) {
    const sm_us told_us = llround((double)SM_US_PER_S / refresh_hz), least_us = sm_dmx_frame_us(SLOTS);
    return told_us > least_us ? told_us : least_us;
}

sm_result sm_dmx_switches(int address, char buffer[10]) {
    if (address < 1 || address >= 1 << SWITCHES)
        return SM_OUT_OF_RANGE;
    for (int i = 0; i < SWITCHES; i++)
        buffer[i] = (address >> i & 1) != 0 ? '1' : '0';
    buffer[SWITCHES] = '\0';
    return SM_OK;
}
