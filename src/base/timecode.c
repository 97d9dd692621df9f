// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode numbers, SMPTE ST 12-1. Drop-frame skips the numbers 00 and 01 at the beginning of every minute
// but each tenth; no picture is dropped, only numbers are.
#include "slowmatch/base.h"

#include <assert.h>

enum {
    SECONDS_PER_DAY = 86400,
    DROP_FRAMES_PER_MINUTE = 1798,       // 1800 numbers less two
    DROP_FRAMES_PER_TEN_MINUTES = 17982, // ten minutes less nine times two
    DROP_FRAMES_PER_DAY = 2589408,       // 144 times that
};

typedef struct rate {
    const char *text;
    int numbers;          // frame numbers in a second
    int64_t us_numerator; // microseconds in a frame, as a fraction
    int64_t us_denominator;
} rate;

// 29.97 stands for 30000/1001 frames a second.
static const rate rates[] = {
    [SM_TC_24] = {"24", 24, 125000, 3},
    [SM_TC_25] = {"25", 25, 40000, 1},
    [SM_TC_29_97] = {"29.97", 30, 100100, 3},
    [SM_TC_30] = {"30", 30, 100000, 3},
};
static_assert(sizeof rates / sizeof rates[0] == SM_TC_COUNT, "a row for each rate");

const char *sm_timecode_state_text(sm_timecode_state state) {
    static const char *const texts[] = {[SM_TIMECODE_OFF] = "off",
                                        [SM_TIMECODE_WAITING] = "WAITING",
                                        [SM_TIMECODE_LOCKED] = "LOCKED",
                                        [SM_TIMECODE_FREE_RUNNING] = "FREE-RUNNING",
                                        [SM_TIMECODE_LOST] = "LOST"};
    static_assert(sizeof texts / sizeof texts[0] == SM_TIMECODE_STATE_COUNT, "a word for each");
    return texts[state];
}

const char *sm_timecode_rate_text(sm_timecode_rate rate_id) {
    return rates[rate_id].text;
}

int sm_timecode_numbers(sm_timecode_rate rate_id) {
    return rates[rate_id].numbers;
}

sm_result sm_timecode_to_frames(sm_timecode_rate rate_id, bool drop, int hours, int minutes, int seconds,
                                int frames, int64_t *out) {
    const int numbers = rates[rate_id].numbers;
    if (hours < 0 || hours > 23 || minutes < 0 || minutes > 59 || seconds < 0 || seconds > 59 || frames < 0 ||
        frames >= numbers)
        return SM_INVALID;
    if (drop && rate_id != SM_TC_29_97)
        return SM_INVALID;
    const int64_t all_minutes = (int64_t)hours * 60 + minutes;
    int64_t count = (all_minutes * 60 + seconds) * numbers + frames;
    if (drop) {
        if (seconds == 0 && frames < 2 && minutes % 10 != 0)
            return SM_INVALID;
        count -= 2 * (all_minutes - all_minutes / 10);
    }
    *out = count;
    return SM_OK;
}

// The number that a drop-frame count would have if no numbers were skipped.
static int64_t with_dropped(int64_t frames) {
    const int64_t tens = frames / DROP_FRAMES_PER_TEN_MINUTES;
    const int64_t rest = frames % DROP_FRAMES_PER_TEN_MINUTES;
    const int64_t minutes = rest < 2 ? 0 : (rest - 2) / DROP_FRAMES_PER_MINUTE;
    return frames + 18 * tens + 2 * minutes;
}

void sm_timecode_from_frames(sm_timecode_rate rate_id, bool drop, int64_t frames, int *hours, int *minutes,
                             int *seconds, int *frame) {
    const int numbers = rates[rate_id].numbers;
    const bool drops = drop && rate_id == SM_TC_29_97;
    const int64_t day = drops ? DROP_FRAMES_PER_DAY : (int64_t)SECONDS_PER_DAY * numbers;
    int64_t count = frames % day;
    if (count < 0)
        count += day;
    if (drops)
        count = with_dropped(count);
    *frame = (int)(count % numbers);
    count /= numbers;
    *seconds = (int)(count % 60);
    *minutes = (int)(count / 60 % 60);
    *hours = (int)(count / 3600);
}

sm_us sm_timecode_frames_us(sm_timecode_rate rate_id, int64_t frames) {
    const rate *const at = &rates[rate_id];
    const int64_t frames_max = SM_US_MAX / at->us_numerator * at->us_denominator;
    if (frames > frames_max)
        return SM_US_MAX;
    if (frames < -frames_max)
        return -SM_US_MAX;
    const int64_t scaled = frames * at->us_numerator;
    // The denominator is odd, so there are no ties.
    const int64_t half = at->us_denominator / 2;
    return (scaled + (scaled < 0 ? -half : half)) / at->us_denominator;
}

int64_t sm_timecode_nearest_frame(sm_timecode_rate rate_id, sm_us us) {
    const rate *const at = &rates[rate_id];
    const int64_t scaled = us * at->us_denominator, half = at->us_numerator / 2;
    const int64_t up = scaled + half, whole = up / at->us_numerator;
    return up % at->us_numerator < 0 ? whole - 1 : whole;
}
