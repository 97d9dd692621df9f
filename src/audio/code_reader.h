// SPDX-License-Identifier: GPL-3.0-or-later
// A timecode reader: samples of one channel in, what is believed of them out. Pure; one thread's.
#ifndef SM_AUDIO_CODE_READER_H
#define SM_AUDIO_CODE_READER_H

#include "audio/code_belief.h"
#include "audio/code_sound.h"

#include <ltc.h>

typedef struct sm_code_reader {
    LTCDecoder *decoder;
    sm_code_sound sound;
    sm_code_belief belief;
    uint64_t samples; // heard so far
    double read_at;   // sample at which the latest frame was read, of whatever kind; below 0: none was
} sm_code_reader;

// SHOW and FREE_RUN_US as of sm_code_belief_init. False when memory runs out.
bool sm_code_reader_init(sm_code_reader *reader, int rate_hz, const sm_moment_base *show, sm_us free_run_us);
void sm_code_reader_deinit(sm_code_reader *reader);
// The next COUNT samples, of which the first is number AT (over all that came before).
void sm_code_reader_take(sm_code_reader *reader, uint64_t at, const float *samples, size_t count);

#endif
