// SPDX-License-Identifier: GPL-3.0-or-later
// Fills the ring: for each frame of the card, the music of its rehearsal time, then volume and tones.
//
// Terms. A frame's rehearsal time is epoch + frame / rate (+ the sound offset): fixed while a stream keeps
// its place.
//   taken <= ... <= mix_end <= music_end
// taken: the card's frames so far. music_end: frames below it have music, kept in a private buffer as large
// as the ring. mix_end: frames below it are in the ring too. The music is ahead of the card by a fifth of a
// second, and so would be late by that at each change; so a change goes back: the frames that the card will
// not take within the next moments are made again, faded over a few milliseconds from what was there. A
// change of volume goes back too, but to the mixing only. Invariant: music at speed 1 and the file's rate is
// copied, never computed with, except within a fade.
#ifndef SM_AUDIO_RENDER_H
#define SM_AUDIO_RENDER_H

#include "audio/ltc.h"
#include "audio/music_reader.h"
#include "audio/ring.h"
#include "audio/stretcher.h"
#include "audio/tones.h"
#include "audio/transport.h"

#define SM_RENDER_BLOCK 512

typedef struct sm_render {
    const sm_music *music;
    sm_us audio_start_us, sound_offset_us;
    sm_us music_off_us;
    int rate_hz;
    int64_t epoch_ns;
    sm_ring *ring;
    sm_transport transport;
    float gain; // aimed at
    uint64_t first, music_end, mix_end;
    uint64_t
        tail_end; // frames from music_end up to here still hold the music as it was before the last change
    uint64_t fade_from; // the last change
    bool fade_new;      // fades in as well: the music does not begin there
    bool bound;         // the voice is set to `stretch`
    sm_stretch stretch;
    sm_reader direct;
    sm_stretcher slow;
    float (*frames)[2]; // the music, SM_RING_FRAMES of them
    float *gains;
    sm_tones tones;
    const sm_audio_call *calls; // not owned
    size_t call_count;
    sm_ltc ltc;
    bool has_timecode;
    sm_audio_timecode timecode;
    bool code_runs;     // the voice's stretch has timecode,
    uint64_t code_wait; // after so many frames
    float *codes;       // the timecode, SM_RING_FRAMES
} sm_render;

// SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_render_init(sm_render *render, const sm_music *music, sm_us audio_start_us,
                                       sm_us sound_offset_us);
void sm_render_deinit(sm_render *render);

// A new stream: its rate, the ring it plays from, and the rehearsal time of its frame 0.
void sm_render_begin(sm_render *render, sm_ring *ring, int rate_hz, int64_t epoch_ns);
// The same stream has lost its place: frames have other rehearsal times from now on.
void sm_render_move(sm_render *render, int64_t epoch_ns);
// Takes over a changed transport, a changed volume.
void sm_render_transport(sm_render *render, const sm_transport *transport);
void sm_render_gain(sm_render *render, float gain);
// The music is so much later than the transport says.
void sm_render_music_off(sm_render *render, sm_us late_us);
// The tones at moments of the show; the caller keeps CALLS until the next call.
void sm_render_calls(sm_render *render, const sm_audio_call *calls, size_t count);
// One tone as soon as can be; the tones' gain.
void sm_render_tone(sm_render *render, sm_tone tone);
// NULL: no timecode.
void sm_render_timecode(sm_render *render, const sm_audio_timecode *timecode);
// Makes and mixes what is missing up to the lead ahead of the card.
void sm_render_fill(sm_render *render);

#endif
