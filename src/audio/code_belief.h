// SPDX-License-Identifier: GPL-3.0-or-later
// What is believed of a timecode that is read: pure, from frames with the samples at which they ended (libltc knows the end well, the
// beginning of the first frame after a gap only to some milliseconds).
//
// A decoder in noise gives frames that were never sent. So nothing is believed before five frames in a row count on by one at an even
// pace; and once something is, a frame that fits neither the count nor the pace is passed over, until five others in a row tell of
// another place: a jump. Terms: a *run* is frames that follow each other; `now` is the run that is believed, `next` one that may become
// it. The *line* is show time over samples, the straight line that fits the latest frames best: so the place is known at any sample,
// also after the latest frame that was read.
//
// How many numbers a second has is seen where it ends (24 after 23, or 25 after 24, is 00). Until then the show's own rate is taken where
// the pace is its, or no other's; else its end is waited for: 25 read as 24 jumps each second.
#ifndef SM_AUDIO_CODE_BELIEF_H
#define SM_AUDIO_CODE_BELIEF_H

#include "slowmatch/listen.h"

#define SM_CODE_FIT 12   // frames of the line
#define SM_CODE_ENOUGH 5 // frames in a row before they are believed

typedef struct sm_code_frame {
    int hours, minutes, seconds, frame;
    bool drop;
    double ends;     // sample at which its last bit ended
    int64_t in_turn; // frames since the beginning of its run, those that were missed too
} sm_code_frame;

typedef struct sm_code_run {
    sm_code_frame frames[SM_CODE_FIT]; // the latest, oldest first
    int count;
    double first_ended; // of in_turn 0
    int numbers;        // of a second, as its end has shown; 0: none was seen
} sm_code_run;

typedef struct sm_code_belief {
    int rate_hz;
    bool has_show;
    sm_moment_base show;
    double free_run; // samples
    sm_timecode_state state;
    sm_code_run now, next;
    sm_timecode_rate rate; // of `now`
    bool drop, sure;       // sure: the numbers of a second were seen, not taken from the show
    double line_sample, line_us, us_a_sample;
    sm_timecode_trouble trouble;
    uint64_t read, strays, jumps;
    sm_show_time jumped_from, jumped_to;
} sm_code_belief;

// SHOW NULL: no show to hold it against; the place then counts from 00:00:00:00.
void sm_code_belief_init(sm_code_belief *belief, int rate_hz, const sm_moment_base *show, sm_us free_run_us);
// A frame as decoded; its in_turn is ignored.
void sm_code_belief_take(sm_code_belief *belief, const sm_code_frame *frame);
// Sound was heard up to SAMPLE.
void sm_code_belief_pass(sm_code_belief *belief, double sample);
// Show time at SAMPLE, by the line. Only with something believed (locked or free-running).
double sm_code_belief_show_us(const sm_code_belief *belief, double sample);
// The number that is sent at show time SHOW_US. As above.
void sm_code_belief_number(const sm_code_belief *belief, double show_us, int *hours, int *minutes,
                           int *seconds, int *frame);

#endif
