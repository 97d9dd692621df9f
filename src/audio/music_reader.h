// SPDX-License-Identifier: GPL-3.0-or-later
// The music at the card's rate, in order. Untouched where the file has that rate; else through libsamplerate.
#ifndef SM_AUDIO_READER_H
#define SM_AUDIO_READER_H

#include "audio/decoded_music.h"

#include <samplerate.h>

#define SM_READER_BLOCK 512

typedef struct sm_reader {
    const sm_music *music; // NULL: silence
    int rate_hz;           // the card's
    int file_hz;           // 0 while not known: silence
    int64_t place;         // next frame to read, at the card's rate
    SRC_STATE *converter;  // NULL where none is needed
    int64_t file_place;    // next frame to feed, at the file's rate
    int64_t drop;          // converted frames still to be thrown away
    size_t fed, used;      // of `block`
    float block[SM_READER_BLOCK][2];
} sm_reader;

void sm_reader_init(sm_reader *reader, const sm_music *music, int rate_hz);
void sm_reader_deinit(sm_reader *reader);
// Goes on at PLACE (frames at the card's rate; negative: before the music). False when memory runs out:
// silence.
bool sm_reader_seek(sm_reader *reader, int64_t place);
void sm_reader_read(sm_reader *reader, float (*out)[2], size_t frames);

#endif
