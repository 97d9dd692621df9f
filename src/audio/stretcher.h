// SPDX-License-Identifier: GPL-3.0-or-later
// Music slower or faster at true pitch (Rubber Band in its real-time mode, the finer engine, which keeps the
// place of the music better below full speed).
//
// A stretcher smears what begins suddenly over its window, the more the slower: at a tenth a click is heard 30 to 90 ms too early. So
// the music slower than full speed is cut at its attacks: the stretched voice goes up to each, the attack itself is played as it is,
// at its place, and the stretched voice takes over behind it, slower by as much as the attack was too quick. What lies between is
// stretched as the library does it.
#ifndef SM_AUDIO_STRETCHER_H
#define SM_AUDIO_STRETCHER_H

#include "audio/attacks.h"
#include "audio/music_reader.h"

#include <rubberband/rubberband-c.h>

#define SM_STRETCHER_KEPT 65536   // frames of music at hand, a power of two: 0.34 s at 192 kHz
#define SM_STRETCHER_LEAD_MAX 512 // frames, more than 2 ms at 192 kHz

typedef struct sm_stretcher {
    sm_reader reader;
    RubberBandState band; // NULL when there is none: silence
    int32_t speed_ppm;
    size_t drop; // output frames still to be thrown away
    int64_t fed; // next frame of music for the band

    float (*kept)[2];    // SM_STRETCHER_KEPT frames of music before `reader.place`, by place
    sm_attacks attacks;  // has heard all that was read
    int64_t attack;      // the next one, as a place; SM_STRETCHER_NONE
    int64_t origin;      // the place at which output frame 0 stands
    int64_t written;     // output frames
    int64_t even_at;     // output frame from which on the music is at its place again and goes at its speed
    size_t into, whole;  // frames of the attack that sounds: gone by, in all; whole 0: none sounds
    size_t lead, fade;   // of an attack: before it, and to the stretched voice
    int64_t attack_from; // the place of its first frame
    float before[SM_STRETCHER_LEAD_MAX][2]; // what the stretched voice would have gone on with over `lead`
} sm_stretcher;

#define SM_STRETCHER_NONE INT64_MAX

void sm_stretcher_init(sm_stretcher *stretcher, const sm_music *music, int rate_hz);
void sm_stretcher_deinit(sm_stretcher *stretcher);
// Goes on at PLACE (card frames of music) at SPEED_PPM. False when memory runs out: silence.
bool sm_stretcher_seek(sm_stretcher *stretcher, int64_t place, int32_t speed_ppm);
void sm_stretcher_read(sm_stretcher *stretcher, float (*out)[2], size_t frames);

#endif
