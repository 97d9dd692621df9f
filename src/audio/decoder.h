// SPDX-License-Identifier: GPL-3.0-or-later
// One pass over a sound file as stereo float frames.
#ifndef SM_AUDIO_DECODER_H
#define SM_AUDIO_DECODER_H

#include "slowmatch/base.h"

#define SM_DECODER_CHANNELS_MAX 8
// Rates of files that are played, and of devices: the lead that is kept ahead of the card has to fit the ring.
#define SM_DECODER_RATE_MIN 8000
#define SM_DECODER_RATE_MAX 192000
#define SM_DECODER_BLOCK 4096 // most frames a read

// libsndfile's numbers for MPEG audio, as its header has them from version 1.1.0 on: before that it reads no MP3, and a file
// never has them, but its header has no names for them either.
enum {
    SM_SNDFILE_MPEG = 0x230000,
    SM_SNDFILE_MPEG_LAYER_I = 0x80,
    SM_SNDFILE_MPEG_LAYER_II = 0x81,
    SM_SNDFILE_MPEG_LAYER_III = 0x82
};

typedef struct sm_decoder sm_decoder;

typedef struct sm_decoder_facts {
    int rate_hz, channels;
    int64_t said_frames;  // by the header, 0 if it does not say; not to be trusted
    bool header_is_exact; // a header of this format counts frames exactly (a lossless format)
    char format[64];
} sm_decoder_facts;

// Opens PATH. NULL on failure: then PROBLEM (SIZE bytes) holds one line that says why. The caller closes.
sm_decoder *sm_decoder_open(const char *path, sm_decoder_facts *facts, char *problem, size_t size);
void sm_decoder_close(sm_decoder *decoder);

// Up to FRAMES (at most SM_DECODER_BLOCK) stereo frames into OUT; returns how many, 0 at the end.
size_t sm_decoder_read(sm_decoder *decoder, float (*out)[2], size_t frames);

// True if frame number FRAME can be reached and read: the data of a lossless file are all there. Moves the
// place.
bool sm_decoder_reaches(sm_decoder *decoder, int64_t frame);

// Once sm_decoder_read has returned 0 after DECODED frames: "" or what was wrong, into PROBLEM.
void sm_decoder_verdict(const sm_decoder *decoder, int64_t decoded, char *problem, size_t size);

// Nearest microseconds of FRAMES at RATE.
sm_us sm_frames_us(int64_t frames, int rate_hz);

#endif
