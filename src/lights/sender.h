// SPDX-License-Identifier: GPL-3.0-or-later
// The program's hold on its sending process. One thread's. None of it waits.
#ifndef SLOWMATCH_LIGHTS_SENDER_H
#define SLOWMATCH_LIGHTS_SENDER_H

#include "lights/message.h"

#include <sys/types.h>

#define LIGHTS_DYING 4
typedef struct lights_sender {
    pid_t pid;                 // 0: none
    int descriptor;            // valid with a pid
    pid_t dying[LIGHTS_DYING]; // forgotten, not ended yet; 0: free place
} lights_sender;

// Starts one over the show in FOLDER: it listens. False: WHY.
bool lights_sender_start(lights_sender *sender, const char *folder, const sm_lights_options *options,
                         char why[SM_LIGHTS_WHY]);
// False: it did not take the order (it does not keep up, or it is gone).
bool lights_sender_order(lights_sender *sender, const lights_order *order);
// The same with the COUNT verdicts that ORDERS has.
bool lights_sender_frames(lights_sender *sender, lights_orders *orders, size_t count);
typedef enum lights_sender_said { LIGHTS_NOTHING_NEW, LIGHTS_NEWS, LIGHTS_GONE } lights_sender_said;
lights_sender_said lights_sender_hear(lights_sender *sender, lights_news *out);
// Forgets it. It ends by itself: at once where it only listened, after it has let the lights go where it sent.
void lights_sender_let_go(lights_sender *sender);
// Collects those that were forgotten and have ended.
void lights_sender_reap(lights_sender *sender);

#endif
