// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/attacks.h"

#include <math.h>
#include <string.h>

#define STEP_S 0.0005
#define DEAD_S 0.06
// The change from frame to frame stands for what is high and sudden; a drum has it, a held tone has little.
#define STANDS_OUT 3.0F // times the steepest change of the steps before: 9.5 dB
#define LEAST 0.004F    // of full scale; below it is noise

void sm_attacks_begin(sm_attacks *attacks, int64_t place, int rate_hz) {
    memset(attacks, 0, sizeof *attacks);
    attacks->place = place;
    attacks->step_frames = (size_t)lround(rate_hz * STEP_S);
    attacks->dead_frames = (int32_t)lround(rate_hz * DEAD_S);
    attacks->deaf_until = place + (int64_t)(attacks->step_frames * SM_ATTACK_STEPS);
}

static void end_step(sm_attacks *attacks) {
    attacks->steps[attacks->next] = attacks->most;
    attacks->next = (attacks->next + 1) % SM_ATTACK_STEPS;
    attacks->most = 0;
    attacks->in_step = 0;
    attacks->loudest = 0;
    for (size_t i = 0; i < SM_ATTACK_STEPS; i++)
        attacks->loudest = fmaxf(attacks->loudest, attacks->steps[i]);
}

bool sm_attacks_take(sm_attacks *attacks, const float frame[2]) {
    const float change = fmaxf(fabsf(frame[0] - attacks->before[0]), fabsf(frame[1] - attacks->before[1]));
    const bool begins = attacks->place >= attacks->deaf_until && change > LEAST &&
                        change > STANDS_OUT * fmaxf(attacks->loudest, attacks->most);
    attacks->before[0] = frame[0];
    attacks->before[1] = frame[1];
    attacks->most = fmaxf(attacks->most, change);
    if (++attacks->in_step == attacks->step_frames)
        end_step(attacks);
    if (begins)
        attacks->deaf_until = attacks->place + attacks->dead_frames;
    attacks->place++;
    return begins;
}
