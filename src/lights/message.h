// SPDX-License-Identifier: GPL-3.0-or-later
// What the program and its sending process say to each other, whole messages over one pair of local sockets. Where the program's end
// closes, the sending process lets the lights go by itself.
#ifndef SLOWMATCH_LIGHTS_MESSAGE_H
#define SLOWMATCH_LIGHTS_MESSAGE_H

#include "lights/verdict.h"

#include "slowmatch/lights.h"

#define LIGHTS_DESCRIPTOR 3 // of the sending process

typedef enum lights_order_kind {
    LIGHTS_GO = 1, // what was asked was answered: frames may be sent from now on, for `span_us`
    LIGHTS_FRAME,  // `count` verdicts follow
    LIGHTS_DROP,   // nothing more of `universe`, neither home nor an end
    LIGHTS_END     // home over `span_us`, then the end
} lights_order_kind;

typedef struct lights_order {
    lights_order_kind kind;
    int32_t universe;
    int32_t count;
    sm_us span_us;
} lights_order;
// As it is sent: with as many verdicts as it counts, so that a moment's frames of all universes are one message.
typedef struct lights_orders {
    lights_order order;
    lights_verdict verdicts[SM_LIGHTS_UNIVERSES];
} lights_orders;

typedef enum lights_news_kind {
    LIGHTS_LISTENS = 1, // it hears the interface; `text`: what it cannot hear, "" for nothing
    LIGHTS_HEARD,       // another source, `text` by name; first heard now
    LIGHTS_LAPSED,      // it lets the lights go by itself: why
    LIGHTS_STOPPED,     // nothing is sent any more: why
    LIGHTS_LIVES        // once a second: who says nothing for longer does not send either
} lights_news_kind;

typedef struct lights_news {
    lights_news_kind kind;
    int32_t universe;
    int priority;
    char text[SM_LIGHTS_WHY];
} lights_news;

#endif
