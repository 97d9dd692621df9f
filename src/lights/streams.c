// SPDX-License-Identifier: GPL-3.0-or-later
// E1.31 6.6.1: never faster than E1.11 refreshes (44 Hz). 6.6.2: when nothing changes any more three packets with the same levels, then
// one in 800 to 1000 ms (both second-hand). A receiver that knows the identifier from before takes packets that begin anew for late ones
// (6.7.2): so a stream begins with as many as it may at most leave out (20), and some more.
#include "lights/streams.h"

#include "slowmatch/dmx.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define LEAST_US 23000   // between two packets of a universe
#define REPEAT_US 27000  // so that a frame of the program's 25 ms goes out itself, not its forerunner again
#define CLOSING_US 25000 // six packets are out within 125 ms
#define KEEP_US 900000
enum { BEGIN_PACKETS = 25, REPEATS = 3, HOME_PACKETS = 3, END_PACKETS = 3 };

lights_stream *lights_streams_find(lights_streams *streams, int32_t universe) {
    for (size_t i = 0; i < streams->count; i++)
        if (streams->at[i].mask->universe == universe)
            return &streams->at[i];
    return NULL;
}

// The judge and the tables here say the same as VERDICT.
static bool agrees(const lights_streams *streams, const lights_verdict *verdict) {
    lights_verdict mine;
    char why[SM_LIGHTS_WHY];
    return lights_verdict_holds(verdict) &&
           lights_judge_pass(streams->judge, verdict->universe, verdict->slots, NULL, &mine, why) &&
           memcmp(mine.owned, verdict->owned, sizeof mine.owned) == 0;
}

bool lights_streams_order(lights_streams *streams, const lights_verdict *verdict, int64_t now_us,
                          char why[SM_LIGHTS_WHY]) {
    lights_stream *stream = lights_streams_find(streams, verdict->universe);
    if (!stream || !agrees(streams, verdict)) {
        snprintf(why, SM_LIGHTS_WHY,
                 "the tables here say otherwise of universe %d than those of the rehearsal",
                 verdict->universe);
        return false;
    }
    if (streams->ends || stream->dropped)
        return true;
    const bool same = stream->has && memcmp(stream->slots, verdict->slots, sizeof stream->slots) == 0;
    if (same)
        return true;
    memcpy(stream->slots, verdict->slots, sizeof stream->slots);
    const int wanted = stream->has ? 1 + REPEATS : BEGIN_PACKETS;
    stream->left = stream->left > wanted ? stream->left : wanted;
    const int64_t soonest_us = stream->has ? stream->sent_us + LEAST_US : now_us;
    stream->due_us = soonest_us > now_us ? soonest_us : now_us;
    stream->has = true;
    return true;
}

void lights_streams_end(lights_streams *streams, sm_us fade_us, int64_t now_us) {
    if (streams->ends)
        return;
    streams->ends = true;
    streams->ends_us = streams->closing_due_us = now_us;
    streams->fade_us = fade_us;
}

// SLOTS of STREAM, which the judge and the mask see once more.
static bool put_out(lights_streams *streams, lights_stream *stream, const uint8_t *slots, bool terminated,
                    char why[SM_LIGHTS_WHY]) {
    lights_verdict verdict;
    if (!lights_judge_pass(streams->judge, stream->mask->universe, slots, NULL, &verdict, why))
        return false;
    const lights_packet packet = {.verdict = &verdict,
                                  .mask = stream->mask,
                                  .address = stream->address,
                                  .sequence = stream->sequence++,
                                  .terminated = terminated};
    const lights_sent sent = lights_send(streams->wire, &packet, why);
    return sent == LIGHTS_SENT || sent == LIGHTS_NOT_NOW;
}

static bool send_due(lights_streams *streams, lights_stream *stream, int64_t now_us,
                     char why[SM_LIGHTS_WHY]) {
    if (!stream->has || stream->dropped || stream->due_us > now_us)
        return true;
    stream->sent_us = now_us;
    stream->left -= stream->left > 0;
    stream->due_us = now_us + (stream->left > 0 ? REPEAT_US : KEEP_US);
    return put_out(streams, stream, stream->slots, false, why);
}

// What STREAM shows on its way home, GONE_US after it was let go.
static void fade(const lights_stream *stream, sm_us fade_us, sm_us gone_us, uint8_t slots[SM_SACN_SLOTS]) {
    for (size_t s = 0; s < SM_SACN_SLOTS; s++)
        slots[s] = sm_dmx_fade_level(stream->slots[s], stream->mask->home[s], fade_us, gone_us);
}

static bool send_closing(lights_streams *streams, int64_t now_us, char why[SM_LIGHTS_WHY]) {
    if (streams->closing_due_us > now_us || lights_streams_are_over(streams))
        return true;
    const sm_us gone_us = now_us - streams->ends_us;
    const bool home = gone_us >= streams->fade_us;
    bool good = true;
    for (size_t i = 0; i < streams->count && good; i++) {
        lights_stream *stream = &streams->at[i];
        uint8_t slots[SM_SACN_SLOTS];
        fade(stream, streams->fade_us, gone_us, slots);
        if (stream->has && !stream->dropped)
            good = put_out(streams, stream, slots, home && streams->closing >= HOME_PACKETS, why);
    }
    streams->closing += home;
    streams->closing_due_us += CLOSING_US;
    if (streams->closing_due_us < now_us) // kept waiting: the rest at its distance from here
        streams->closing_due_us = now_us + CLOSING_US;
    return good;
}

bool lights_streams_send(lights_streams *streams, int64_t now_us, char why[SM_LIGHTS_WHY]) {
    if (streams->ends)
        return send_closing(streams, now_us, why);
    for (size_t i = 0; i < streams->count; i++)
        if (!send_due(streams, &streams->at[i], now_us, why))
            return false;
    return true;
}

int64_t lights_streams_due(const lights_streams *streams) {
    int64_t first = INT64_MAX;
    if (streams->ends)
        return lights_streams_are_over(streams) ? INT64_MAX : streams->closing_due_us;
    for (size_t i = 0; i < streams->count; i++) {
        const lights_stream *stream = &streams->at[i];
        if (stream->has && !stream->dropped && stream->due_us < first)
            first = stream->due_us;
    }
    return first;
}

bool lights_streams_are_over(const lights_streams *streams) {
    uint16_t universes[SM_LIGHTS_UNIVERSES];
    return streams->ends &&
           (streams->closing >= HOME_PACKETS + END_PACKETS || lights_streams_list(streams, universes) == 0);
}

size_t lights_streams_list(const lights_streams *streams, uint16_t out[SM_LIGHTS_UNIVERSES]) {
    size_t count = 0;
    for (size_t i = 0; i < streams->count; i++)
        if (streams->at[i].has && !streams->at[i].dropped)
            out[count++] = (uint16_t)streams->at[i].mask->universe;
    return count;
}
