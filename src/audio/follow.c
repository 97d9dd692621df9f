// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/follow.h"

#include "audio/mono.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SETTLE_S 0.10     // readings at the start of a stream, while its buffers fill, are off by some 25 ms
#define GATHER_S 0.15     // then so long a stretch of readings,
#define AGREE_NS 3000000  // which must agree so well,
#define GATHER_MIN 8      // and be so many
#define STRAY_NS 15000000 // a reading so far off is passed over
#define STRAYS_MAX 12     // so many together are no accident
#define SLOW_HZ 0.1
#define FAST_HZ 0.5
#define SETTLING_S 2.0
#define RATE_SLACK 0.01 // no card is further off its nominal rate

void sm_follow_init(sm_follow *follow, int rate_hz) {
    memset(follow, 0, sizeof *follow);
    follow->rate_hz = rate_hz;
    follow->nominal_ns = follow->period_ns = 1e9 / rate_hz;
    follow->skip_until = (uint64_t)(SETTLE_S * rate_hz);
}

static int compare(const void *a, const void *b) {
    int64_t left = *(const int64_t *)a, right = *(const int64_t *)b;
    return left < right ? -1 : left > right;
}

static int64_t frames_ns(const sm_follow *follow, uint64_t frames) {
    return llround((double)frames * follow->nominal_ns);
}

// Gathers; when enough readings agree, begins from their median.
static sm_follow_result gather(sm_follow *follow, uint64_t frame, int64_t sounds_ns) {
    if (frame < follow->skip_until)
        return SM_FOLLOW_WAITING;
    if (follow->count == 0)
        follow->locked_frame = frame;
    if (follow->count < SM_FOLLOW_GATHER)
        follow->offsets_ns[follow->count++] = sounds_ns - frames_ns(follow, frame - follow->locked_frame);
    if (follow->count < GATHER_MIN || (double)(frame - follow->locked_frame) < GATHER_S * follow->rate_hz)
        return SM_FOLLOW_WAITING;
    int64_t sorted[SM_FOLLOW_GATHER];
    size_t count = (size_t)follow->count;
    memcpy(sorted, follow->offsets_ns, count * sizeof *sorted);
    qsort(sorted, count, sizeof *sorted, compare);
    follow->count = 0;
    if (sorted[count * 9 / 10] - sorted[count / 10] > AGREE_NS)
        return SM_FOLLOW_WAITING; // still settling: gather afresh
    follow->sounds_ns = sorted[count / 2] + frames_ns(follow, frame - follow->locked_frame);
    follow->rest_ns = 0;
    follow->frame = follow->locked_frame = frame;
    follow->locked = true;
    follow->strays = 0;
    return SM_FOLLOW_LOCKED;
}

static void correct(sm_follow *follow, uint64_t frame, double expected_ns, double error_ns) {
    double frames = (double)(frame - follow->frame);
    double since_s = (double)(frame - follow->locked_frame) / follow->rate_hz;
    double band_hz = SLOW_HZ + (FAST_HZ - SLOW_HZ) * exp(-since_s / SETTLING_S);
    double omega = 2 * M_PI * band_hz * frames / follow->rate_hz;
    double place = M_SQRT2 * omega < 1 ? M_SQRT2 * omega : 1;
    double rest_ns = expected_ns + place * error_ns;
    follow->period_ns += omega * omega * error_ns / frames;
    double least = follow->nominal_ns * (1 - RATE_SLACK), most = follow->nominal_ns * (1 + RATE_SLACK);
    follow->period_ns = fmin(fmax(follow->period_ns, least), most);
    double whole = floor(rest_ns);
    follow->sounds_ns += (int64_t)whole;
    follow->rest_ns = rest_ns - whole;
    follow->frame = frame;
}

sm_follow_result sm_follow_feed(sm_follow *follow, uint64_t frame, int64_t sounds_ns) {
    if (!follow->locked)
        return gather(follow, frame, sounds_ns);
    if (frame <= follow->frame)
        return SM_FOLLOW_GOOD;
    double expected_ns = follow->rest_ns + (double)(frame - follow->frame) * follow->period_ns;
    double error_ns = (double)(sounds_ns - follow->sounds_ns) - expected_ns;
    if (fabs(error_ns) < STRAY_NS) {
        follow->strays = 0;
        correct(follow, frame, expected_ns, error_ns);
        return SM_FOLLOW_GOOD;
    }
    if (++follow->strays < STRAYS_MAX)
        return SM_FOLLOW_GOOD;
    follow->locked = false;
    follow->count = 0;
    follow->period_ns = follow->nominal_ns;
    follow->skip_until = frame;
    return SM_FOLLOW_BROKEN;
}

double sm_follow_frame_at(const sm_follow *follow, int64_t mono_ns) {
    return (double)follow->frame +
           ((double)(mono_ns - follow->sounds_ns) - follow->rest_ns) / follow->period_ns;
}

double sm_follow_rate(const sm_follow *follow) {
    return follow->nominal_ns / follow->period_ns;
}
