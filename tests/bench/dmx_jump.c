// SPDX-License-Identifier: GPL-3.0-or-later
// What a thousand times longer show costs: building the timeline a step, and asking for a channel's state at a moment.
#include "slowmatch/dmx.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { SHORT = 1000, LONG = 1000000, ASKED = 1000000, BUILT = LONG };

typedef struct cost {
    double build_s, jump_s; // of one step, of one question
} cost;

static double now_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

// A show of COUNT cues, one a millisecond, that tell one channel.
static sm_show *make_show(uint32_t count) {
    static const char *names[] = {"dim"};
    static uint8_t home[] = {0};
    static sm_profile profile = {.channels = names, .home = home, .channel_count = 1};
    static sm_fixture fixture = {0};
    static sm_level level = {.channel = 0, .level = 200};
    sm_show *show = calloc(1, sizeof *show);
    sm_cue *cues = calloc(count, sizeof *cues);
    sm_event *events = calloc(count, sizeof *events);
    uint32_t *order = calloc(count, sizeof *order);
    if (!show || !cues || !events || !order)
        exit(2);
    for (uint32_t i = 0; i < count; i++) {
        cues[i] = (sm_cue){.time_us = (sm_us)i * 1000, .fade_us = 500, .level_count = 1, .kind = SM_CUE_SET};
        cues[i].first_event = i;
        events[i].cue = i;
        order[i] = i;
    }
    *show = (sm_show){.profiles = &profile,
                      .profile_count = 1,
                      .fixtures = &fixture,
                      .fixture_count = 1,
                      .cues = cues,
                      .cue_count = count,
                      .events = events,
                      .event_count = count,
                      .levels = &level,
                      .level_count = 1,
                      .order = order,
                      .channel_count = 1};
    return show;
}

static cost measure(uint32_t count) {
    sm_show *show = make_show(count);
    sm_dmx_timeline *timeline = NULL;
    double began_s = now_s();
    for (uint32_t i = 0; i < BUILT / count; i++) {
        sm_dmx_timeline_destroy(timeline);
        if (sm_dmx_timeline_create(show, &timeline) != SM_OK)
            exit(2);
    }
    double built_s = now_s();
    uint32_t place = 1;
    unsigned sum = 0;
    for (uint32_t i = 0; i < ASKED; i++) {
        place = place * 1664525U + 1013904223U;
        sm_show_time at = {(sm_us)(place % count) * 1000 + 250};
        sm_dmx_channel channel = sm_dmx_channel_at(timeline, 0, at, true);
        sum += sm_dmx_channel_level(&channel, at);
    }
    double asked_s = now_s();
    if (sum == 0) // every level asked for is above 0
        exit(2);
    sm_dmx_timeline_destroy(timeline);
    free(show->cues);
    free(show->events);
    free(show->order);
    free(show);
    return (cost){(built_s - began_s) / BUILT, (asked_s - built_s) / ASKED};
}

int main(void) {
    cost of_short = measure(SHORT), of_long = measure(LONG);
    printf("timeline of %d steps against %d, cost a step: x %.2f\n", LONG, SHORT,
           of_long.build_s / of_short.build_s);
    printf("a channel's state at a moment, the same two: x %.2f\n", of_long.jump_s / of_short.jump_s);
    return 0;
}
