// SPDX-License-Identifier: GPL-3.0-or-later
// The universes that the sending process sends, and when each sends next. Knows no clock: moments are handed in, microseconds.
#ifndef SLOWMATCH_LIGHTS_STREAMS_H
#define SLOWMATCH_LIGHTS_STREAMS_H

#include "lights/judge.h"
#include "lights/send.h"

typedef struct lights_stream {
    const lights_mask *mask;
    uint32_t address;             // 0: by multicast
    bool has;                     // frames were ordered,
    bool dropped;                 // and nothing more of it is ever sent
    uint8_t slots[SM_SACN_SLOTS]; // as ordered last
    uint8_t sequence;
    int left; // packets at full rate still to come
    int64_t due_us, sent_us;
} lights_stream;

typedef struct lights_streams {
    lights_stream at[SM_LIGHTS_UNIVERSES];
    size_t count;
    const lights_judge *judge;
    lights_wire *wire;
    bool ends; // letting go, since
    int64_t ends_us;
    sm_us fade_us;
    int closing; // packets of home and of the end that each stream has sent
    int64_t closing_due_us;
} lights_streams;

lights_stream *lights_streams_find(lights_streams *streams, int32_t universe); // NULL: none
// What the program orders: a verdict of its judge, which must agree with the judge and the mask here. False: WHY; everything must stop.
bool lights_streams_order(lights_streams *streams, const lights_verdict *verdict, int64_t now_us,
                          char why[SM_LIGHTS_WHY]);
// Lets go from NOW on: home over FADE_US, three packets of home, three that end the stream.
void lights_streams_end(lights_streams *streams, sm_us fade_us, int64_t now_us);
// Sends what is due. False: WHY; everything must stop.
bool lights_streams_send(lights_streams *streams, int64_t now_us, char why[SM_LIGHTS_WHY]);
// When something is due next; INT64_MAX: nothing.
int64_t lights_streams_due(const lights_streams *streams);
// Everything was let go.
bool lights_streams_are_over(const lights_streams *streams);
// The universes that are being sent into OUT; how many.
size_t lights_streams_list(const lights_streams *streams, uint16_t out[SM_LIGHTS_UNIVERSES]);

#endif
