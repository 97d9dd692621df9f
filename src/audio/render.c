// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/render.h"

#include "audio/decoder.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MASK (SM_RING_FRAMES - 1)
#define LEAD_S 0.20
#define FADE_S 0.005
#define HOPELESS_S 0.50 // so late that the voice is set anew instead of catching up
#define RAMP_S 0.010    // volume from 0 to full
// What the card may take while a change is being made: two buffers at once are usual; stretching takes
// longer.
#define GUARD_S 0.025
#define GUARD_SLOW_S 0.060

// Tones are as loud as music at half its volume (gain is the square of the part).
#define TONE_GAIN 0.25f

static_assert(SM_DECODER_RATE_MAX / 5 + SM_DECODER_BLOCK < SM_RING_FRAMES,
              "LEAD_S, a fifth, of the highest rate fits the ring");

sm_result sm_render_init(sm_render *render, const sm_music *music, sm_us audio_start_us,
                         sm_us sound_offset_us) {
    memset(render, 0, sizeof *render);
    render->music = music;
    render->audio_start_us = audio_start_us;
    render->sound_offset_us = sound_offset_us;
    render->gain = 1;
    render->tones.gain = TONE_GAIN;
    sm_transport_init(&render->transport);
    render->frames = calloc(SM_RING_FRAMES, sizeof *render->frames);
    render->gains = calloc(SM_RING_FRAMES, sizeof *render->gains);
    render->codes = calloc(SM_RING_FRAMES, sizeof *render->codes);
    if (render->frames && render->gains && render->codes)
        return SM_OK;
    sm_render_deinit(render);
    return SM_NO_MEMORY;
}

void sm_render_deinit(sm_render *render) {
    sm_reader_deinit(&render->direct);
    sm_stretcher_deinit(&render->slow);
    free(render->frames);
    sm_ltc_deinit(&render->ltc);
    free(render->gains);
    free(render->codes);
    memset(render, 0, sizeof *render);
}

static uint64_t taken(const sm_render *render) {
    return atomic_load_explicit(&render->ring->taken, memory_order_acquire);
}

static uint64_t frames_of(const sm_render *render, double seconds) {
    return (uint64_t)(seconds * render->rate_hz);
}

// Rehearsal time whose sound a frame carries.
static int64_t frame_wall_ns(const sm_render *render, uint64_t frame) {
    int64_t rate = render->rate_hz, whole = (int64_t)frame / rate, rest = (int64_t)frame % rate;
    return render->epoch_ns + whole * 1000000000 + rest * 1000000000 / rate + render->sound_offset_us * 1000;
}

// The first frame at or after rehearsal time WALL_US; 0 for what lies before the stream.
static uint64_t wall_frame(const sm_render *render, int64_t wall_us) {
    int64_t ns = (wall_us - render->sound_offset_us) * 1000 - render->epoch_ns, second = 1000000000;
    if (ns <= 0)
        return 0;
    return (uint64_t)(ns / second * render->rate_hz + (ns % second * render->rate_hz + second - 1) / second);
}

static long double show_ns(const sm_render *render, const sm_stretch *stretch, uint64_t frame) {
    int64_t past_ns = frame_wall_ns(render, frame) - stretch->wall_us * 1000;
    return (long double)past_ns * stretch->speed_ppm / SM_SPEED_ONE + 1000.0L * (long double)stretch->show_us;
}

// The music's frame, at the card's rate, that STRETCH has at FRAME. A planned change is met by the first frame at or
// after it, so that the place there is rounded down (a thousandth of a frame allows for whole nanoseconds): music that
// begins at a planned moment begins with its first frame.
static int64_t music_place(const sm_render *render, const sm_stretch *stretch, uint64_t frame) {
    int64_t start_us = render->audio_start_us + render->music_off_us;
    long double music_ns = show_ns(render, stretch, frame) - 1000.0L * (long double)start_us;
    return (int64_t)floorl(music_ns * render->rate_hz / 1000000000 + 0.001L);
}

static const sm_stretch *stretch_at(const sm_render *render, const sm_transport *transport, uint64_t frame,
                                    uint64_t *next) {
    int found = 0;
    *next = UINT64_MAX;
    while (found + 1 < transport->count) {
        uint64_t begins = wall_frame(render, transport->at[found + 1].wall_us);
        if (begins > frame) {
            *next = begins;
            break;
        }
        found++;
    }
    return &transport->at[found];
}

static bool is_slow(const sm_stretch *stretch) {
    return stretch->playing && stretch->speed_ppm != SM_SPEED_ONE;
}

// The first frame that can still be made again before the card takes it.
static uint64_t reachable(const sm_render *render, bool slow) {
    return taken(render) + frames_of(render, slow ? GUARD_SLOW_S : GUARD_S);
}

// Sets the voice to what STRETCH plays at FRAME.
static void bind(sm_render *render, const sm_stretch *stretch, uint64_t frame) {
    int64_t place = music_place(render, stretch, frame);
    render->stretch = *stretch;
    render->bound = true;
    render->fade_from = frame;
    render->fade_new = place > 0;
    render->code_runs =
        render->ltc.encoder && stretch->playing && !stretch->preview && stretch->speed_ppm == SM_SPEED_ONE;
    if (render->code_runs)
        render->code_wait = sm_ltc_seek(&render->ltc, (int64_t)show_ns(render, stretch, frame));
    if (!stretch->playing)
        return;
    if (is_slow(stretch))
        (void)sm_stretcher_seek(&render->slow, place, stretch->speed_ppm);
    else
        (void)sm_reader_seek(&render->direct, place);
}

// The timecode of the FRAMES frames from music_end on.
static void lay_code(sm_render *render, size_t frames) {
    float code[SM_RENDER_BLOCK] = {0};
    if (render->code_runs) {
        size_t wait = render->code_wait < frames ? (size_t)render->code_wait : frames;
        render->code_wait -= wait;
        sm_ltc_read(&render->ltc, code + wait, frames - wait);
    }
    for (size_t i = 0; i < frames; i++)
        render->codes[(render->music_end + i) & MASK] = code[i];
}

// The first call at or after SHOW_US.
static size_t first_call(const sm_render *render, int64_t show_us) {
    size_t low = 0, high = render->call_count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (render->calls[middle].show.us < show_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

// Begins the tones called for within the FRAMES frames from music_end on.
static void call_tones(sm_render *render, size_t frames) {
    const sm_stretch *stretch = &render->stretch;
    if (!stretch->playing || render->call_count == 0)
        return;
    uint64_t first = render->music_end;
    long double begin_ns = show_ns(render, stretch, first), end_ns = show_ns(render, stretch, first + frames);
    for (size_t i = first_call(render, (int64_t)ceill(begin_ns / 1000)); i < render->call_count; i++) {
        long double ahead_ns = 1000.0L * (long double)render->calls[i].show.us - begin_ns;
        if (ahead_ns >= end_ns - begin_ns)
            break;
        if (stretch->preview && render->calls[i].tone != SM_TONE_TICK)
            continue;
        long double wall_ns = ahead_ns * SM_SPEED_ONE / stretch->speed_ppm;
        uint64_t frame = first + (uint64_t)(wall_ns * render->rate_hz / 1000000000);
        sm_tones_add(&render->tones, frame, render->calls[i].tone, true, taken(render), render->rate_hz);
    }
}

static void voice(sm_render *render, float (*out)[2], size_t frames) {
    if (!render->stretch.playing)
        memset(out, 0, frames * sizeof *out);
    else if (is_slow(&render->stretch))
        sm_stretcher_read(&render->slow, out, frames);
    else
        sm_reader_read(&render->direct, out, frames);
}

// Puts frames of the new music at music_end, within the fade over what was there.
static void lay(sm_render *render, const float (*fresh)[2], size_t frames) {
    uint64_t fade = frames_of(render, FADE_S);
    for (size_t i = 0; i < frames; i++) {
        uint64_t frame = render->music_end + i;
        float *place = render->frames[frame & MASK];
        if (frame - render->fade_from >= fade) {
            memcpy(place, fresh[i], sizeof fresh[i]);
            continue;
        }
        float in = (float)(frame - render->fade_from + 1) / (float)(fade + 1);
        for (int side = 0; side < 2; side++) {
            float old = frame < render->tail_end ? place[side] : 0;
            place[side] = fresh[i][side] * (render->fade_new ? in : 1) + old * (1 - in);
        }
    }
    render->music_end += frames;
}

// The old voice goes on for the length of a fade beyond a planned change, to be faded from.
static void lay_tail(sm_render *render) {
    float fresh[SM_RENDER_BLOCK][2];
    uint64_t frames = frames_of(render, FADE_S), at = render->music_end;
    for (uint64_t done = 0; done < frames; done += SM_RENDER_BLOCK) {
        size_t part = frames - done < SM_RENDER_BLOCK ? (size_t)(frames - done) : SM_RENDER_BLOCK;
        voice(render, fresh, part);
        for (size_t i = 0; i < part; i++)
            memcpy(render->frames[(at + done + i) & MASK], fresh[i], sizeof fresh[i]);
    }
    render->tail_end = at + frames;
}

// Timecode takes its channel whole; the music goes to the other.
static void mix_code(const sm_render *render, float (*out)[2], size_t frames) {
    int side = render->timecode.channel - 1;
    for (size_t i = 0; i < frames; i++) {
        out[i][!side] = (out[i][0] + out[i][1]) / 2;
        out[i][side] = render->codes[(render->mix_end + i) & MASK];
    }
}

static void mix(sm_render *render) {
    float out[SM_RENDER_BLOCK][2], step = 1 / (float)(RAMP_S * render->rate_hz);
    float gain = render->mix_end > render->first ? render->gains[(render->mix_end - 1) & MASK] : render->gain;
    while (render->mix_end < render->music_end) {
        uint64_t left = render->music_end - render->mix_end;
        size_t part = left < SM_RENDER_BLOCK ? (size_t)left : SM_RENDER_BLOCK;
        for (size_t i = 0; i < part; i++) {
            uint64_t at = (render->mix_end + i) & MASK;
            float off = render->gain - gain;
            gain = fabsf(off) <= step ? render->gain : gain + (off < 0 ? -step : step);
            render->gains[at] = gain;
            out[i][0] = render->frames[at][0] * gain;
            out[i][1] = render->frames[at][1] * gain;
        }
        sm_tones_mix(&render->tones, render->rate_hz, render->mix_end, out, part);
        if (render->has_timecode)
            mix_code(render, out, part);
        sm_ring_put(render->ring, render->mix_end, (const float(*)[2])out, part);
        render->mix_end += part;
    }
    uint64_t written = atomic_load_explicit(&render->ring->written, memory_order_relaxed);
    if (render->mix_end > written)
        sm_ring_publish(render->ring, render->mix_end);
}

// Everything from FRAME on is to be made again.
static void go_back(sm_render *render, uint64_t frame) {
    if (frame < render->music_end) {
        if (render->tail_end < render->music_end)
            render->tail_end = render->music_end;
        render->music_end = frame;
    }
    if (render->mix_end > render->music_end)
        render->mix_end = render->music_end;
    render->bound = false;
    sm_tones_forget(&render->tones, render->music_end);
}

// What is made from music stays, the mixing is done again.
static uint64_t mix_again(sm_render *render) {
    uint64_t from = reachable(render, false);
    if (from < render->mix_end)
        render->mix_end = from;
    return from;
}

static void code_begin(sm_render *render) {
    sm_ltc_deinit(&render->ltc);
    if (render->has_timecode && render->rate_hz > 0)
        (void)sm_ltc_init(&render->ltc, &render->timecode,
                          render->rate_hz); // without memory the channel is silent
}

void sm_render_begin(sm_render *render, sm_ring *ring, int rate_hz, int64_t epoch_ns) {
    sm_reader_deinit(&render->direct);
    sm_stretcher_deinit(&render->slow);
    sm_reader_init(&render->direct, render->music, rate_hz);
    sm_stretcher_init(&render->slow, render->music, rate_hz);
    render->ring = ring;
    render->rate_hz = rate_hz;
    render->epoch_ns = epoch_ns;
    render->bound = false;
    render->tones.count = 0;
    code_begin(render);
    render->first = render->music_end = render->mix_end = reachable(render, true);
    render->tail_end = 0;
}

void sm_render_move(sm_render *render, int64_t epoch_ns) {
    render->epoch_ns = epoch_ns;
    go_back(render, reachable(render, is_slow(&render->stretch)));
}

void sm_render_transport(sm_render *render, const sm_transport *transport) {
    sm_transport old = render->transport;
    render->transport = *transport;
    if (!render->ring)
        return;
    uint64_t next;
    uint64_t from = reachable(render, is_slow(stretch_at(render, transport, taken(render), &next)));
    while (from < render->music_end) {
        uint64_t next_old, next_new;
        const sm_stretch *was = stretch_at(render, &old, from, &next_old);
        const sm_stretch *is = stretch_at(render, transport, from, &next_new);
        if (!sm_stretch_equal(was, is)) {
            go_back(render, from);
            return;
        }
        from = next_old < next_new ? next_old : next_new;
    }
}

void sm_render_gain(sm_render *render, float gain) {
    if (render->gain == gain)
        return;
    render->gain = gain;
    if (render->ring)
        mix_again(render);
}

void sm_render_music_off(sm_render *render, sm_us late_us) {
    if (render->music_off_us == late_us)
        return;
    render->music_off_us = late_us;
    if (render->ring)
        go_back(render, reachable(render, is_slow(&render->stretch)));
}

void sm_render_calls(sm_render *render, const sm_audio_call *calls, size_t count) {
    render->calls = calls;
    render->call_count = count;
    if (render->ring)
        go_back(render, reachable(render, is_slow(&render->stretch)));
}

void sm_render_tone(sm_render *render, sm_tone tone) {
    if (render->ring)
        sm_tones_add(&render->tones, mix_again(render), tone, false, taken(render), render->rate_hz);
}

void sm_render_timecode(sm_render *render, const sm_audio_timecode *timecode) {
    render->has_timecode = timecode != NULL;
    if (timecode)
        render->timecode = *timecode;
    code_begin(render);
    if (render->ring)
        go_back(render, reachable(render, is_slow(&render->stretch)));
}

// Frames that the card has passed already: the voice goes on, what was there stays, and the fade begins after
// them.
static void pass_over(sm_render *render, size_t frames) {
    render->music_end += frames;
    render->fade_from = render->music_end;
    render->fade_new = true;
    if (render->mix_end < render->music_end)
        render->mix_end = render->music_end;
}

// One block, not beyond TARGET nor the next planned change.
static void fill_block(sm_render *render, uint64_t now, uint64_t target) {
    float fresh[SM_RENDER_BLOCK][2];
    uint64_t next;
    const sm_stretch *stretch = stretch_at(render, &render->transport, render->music_end, &next);
    if (!render->bound || !sm_stretch_equal(&render->stretch, stretch))
        bind(render, stretch, render->music_end);
    uint64_t left = (next < target ? next : target) - render->music_end;
    size_t part = left < SM_RENDER_BLOCK ? (size_t)left : SM_RENDER_BLOCK;
    voice(render, fresh, part);
    call_tones(render, part);
    lay_code(render, part);
    if (render->music_end + part <= now) {
        pass_over(render, part);
        return;
    }
    lay(render, (const float(*)[2])fresh, part);
    if (render->music_end == next)
        lay_tail(render);
    mix(render);
}

void sm_render_fill(sm_render *render) {
    for (;;) {
        uint64_t now = taken(render), target = now + frames_of(render, LEAD_S);
        if (render->music_end >= target)
            break;
        if (render->music_end + frames_of(render, HOPELESS_S) < now) {
            render->music_end = render->mix_end = render->first = now;
            render->bound = false;
        }
        fill_block(render, now, target);
    }
    mix(render);
}
