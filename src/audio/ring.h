// SPDX-License-Identifier: GPL-3.0-or-later
// A lock-free ring of stereo frames between one writer and one reader in two processes.
//
// Places are device frames: the number of frames that the reader has handed to the card since its stream
// began, sound or silence. Frame N lies at N modulo the size and is for the card's frame N and no other, so
// that a frame written too late is passed over, not played late. A frame is one 64-bit word: the writer may
// write a place again, as long as the reader has not come to it, and the reader sees the old frame or the new
// one, never half of each.
//
// Writer: 0 <= written - taken <= SM_RING_FRAMES. Reader: takes at its own pace, unwritten frames are
// silence.
#ifndef SM_AUDIO_RING_H
#define SM_AUDIO_RING_H

#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>

#define SM_RING_FRAMES 65536u

typedef struct sm_ring {
    _Alignas(64) _Atomic uint64_t taken;   // the reader's: frames given to the card
    _Atomic uint64_t starved;              // the reader's: of these, silence because none was written in time
    _Alignas(64) _Atomic uint64_t written; // the writer's: frames below this number may be played
    _Alignas(64) _Atomic uint64_t frames[SM_RING_FRAMES];
} sm_ring;

// Writes FRAMES frames at place AT; does not make them playable.
void sm_ring_put(sm_ring *ring, uint64_t at, const float (*frames)[2], size_t count);
// All frames below WRITTEN are playable.
void sm_ring_publish(sm_ring *ring, uint64_t written);
// The reader's next COUNT frames, as COUNT times CHANNELS samples: 2 channels or more begin with left and
// right, 1 is their mean. No lock, no allocation, no system call. Returns the first frame's number.
uint64_t sm_ring_take(sm_ring *ring, float *out, size_t count, int channels);
// Of a ring that an input fills: the reader's next frames of SIDE (0 left, 1 right), at most ROOM; returns how many. *AT is the first
// one's number. A reader that comes too late finds that older ones are gone.
size_t sm_ring_hear(sm_ring *ring, int side, float *out, size_t room, uint64_t *at);

#endif
