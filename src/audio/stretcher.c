// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/stretcher.h"

#include <string.h>

#define FEED_FRAMES 512

// Rubber Band before 3.0 (Ubuntu 22.04 has 2.0) has only its faster engine, and one name for what it keeps back: half a
// window, which is the pad ahead of the first frame and the delay behind it.
#if RUBBERBAND_API_MAJOR_VERSION > 2 || RUBBERBAND_API_MINOR_VERSION >= 7
#define ENGINE RubberBandOptionEngineFiner
#define START_PAD rubberband_get_preferred_start_pad
#define START_DELAY rubberband_get_start_delay
#else
#define ENGINE 0
#define START_PAD rubberband_get_latency
#define START_DELAY rubberband_get_latency
#endif

void sm_stretcher_init(sm_stretcher *stretcher, const sm_music *music, int rate_hz) {
    memset(stretcher, 0, sizeof *stretcher);
    sm_reader_init(&stretcher->reader, music, rate_hz);
}

void sm_stretcher_deinit(sm_stretcher *stretcher) {
    if (stretcher->band)
        rubberband_delete(stretcher->band);
    stretcher->band = NULL;
    sm_reader_deinit(&stretcher->reader);
}

static void feed(sm_stretcher *stretcher, size_t frames) {
    float pairs[FEED_FRAMES][2], left[FEED_FRAMES], right[FEED_FRAMES];
    sm_reader_read(&stretcher->reader, pairs, frames);
    for (size_t i = 0; i < frames; i++) {
        left[i] = pairs[i][0];
        right[i] = pairs[i][1];
    }
    const float *sides[2] = {left, right};
    rubberband_process(stretcher->band, sides, (unsigned)frames, 0);
}

bool sm_stretcher_seek(sm_stretcher *stretcher, int64_t place, int32_t speed_ppm) {
    double ratio = (double)SM_SPEED_ONE / speed_ppm;
    if (stretcher->band) {
        rubberband_reset(stretcher->band);
        rubberband_set_time_ratio(stretcher->band, ratio);
    } else {
        rubberband_set_default_debug_level(0);
        stretcher->band =
            rubberband_new((unsigned)stretcher->reader.rate_hz, 2,
                           RubberBandOptionProcessRealTime | ENGINE | RubberBandOptionThreadingNever |
                               RubberBandOptionChannelsTogether,
                           ratio, 1.0);
        if (!stretcher->band)
            return false;
        rubberband_set_max_process_size(stretcher->band, FEED_FRAMES);
    }
    stretcher->speed_ppm = speed_ppm;
    // The pad that the stretcher wants ahead of the first frame is the music before it rather than silence.
    int64_t pad = (int64_t)START_PAD(stretcher->band);
    stretcher->drop = (size_t)START_DELAY(stretcher->band);
    if (!sm_reader_seek(&stretcher->reader, place - pad))
        return false;
    for (size_t left = (size_t)pad; left > 0;) {
        size_t take = left < FEED_FRAMES ? left : FEED_FRAMES;
        feed(stretcher, take);
        left -= take;
    }
    return true;
}

static size_t retrieve(sm_stretcher *stretcher, float (*out)[2], size_t frames) {
    float left[FEED_FRAMES], right[FEED_FRAMES];
    float *const sides[2] = {left, right};
    int available = rubberband_available(stretcher->band);
    size_t most = frames < FEED_FRAMES ? frames : FEED_FRAMES;
    if (available > 0 && (size_t)available < most)
        most = (size_t)available;
    size_t got = available > 0 ? rubberband_retrieve(stretcher->band, sides, (unsigned)most) : 0;
    for (size_t i = 0; out && i < got; i++) {
        out[i][0] = left[i];
        out[i][1] = right[i];
    }
    return got;
}

void sm_stretcher_read(sm_stretcher *stretcher, float (*out)[2], size_t frames) {
    if (!stretcher->band) {
        memset(out, 0, frames * sizeof *out);
        return;
    }
    while (frames > 0) {
        bool waste = stretcher->drop > 0;
        size_t want = waste ? stretcher->drop : frames;
        size_t got = retrieve(stretcher, waste ? NULL : out, want);
        if (got == 0)
            feed(stretcher, FEED_FRAMES);
        else if (waste)
            stretcher->drop -= got;
        else {
            out += got;
            frames -= got;
        }
    }
}
