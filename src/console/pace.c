// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/pace.h"

// What moves by itself is redrawn some 21 times a second. More would take as much of a core as a player of music does.
#define MOVE_US (SM_US_PER_S / 22)
// What a person did is drawn sooner than that.
#define KEY_US (SM_US_PER_S / 100)
// A terminal of 80x24 is sent at most so many bytes a second, a larger one more by its size. Where there would be more, what
// moves is redrawn less often, down to a fourth. The bytes are estimated, some 15 % too low.
#define BYTES_A_SECOND 2600
#define LONGEST_STEP 4
// While nothing moves, ages and waits are looked at so often.
#define IDLE_US (SM_US_PER_S / 4)

void sm_pace_fit(sm_pace *pace, int columns, int rows) {
    pace->larger = columns * rows > 80 * 24 ? columns * rows / (80.0 * 24) : 1;
}

void sm_pace_begin(sm_pace *pace, int64_t now_us) {
    pace->before_us = pace->drawn_us;
    pace->drawn_us = now_us;
    pace->redraws_us[pace->redraws++ % SM_REDRAWS_A_SECOND] = now_us;
}

// What goes out in a second is forgotten at the same rate, so that one whole repaint does not hold up the next seconds.
void sm_pace_count(sm_pace *pace, size_t bytes) {
    double passed_s = (double)(pace->drawn_us - pace->before_us) / SM_US_PER_S;
    double most = LONGEST_STEP * BYTES_A_SECOND * pace->larger;
    double counted = pace->bytes_a_second * (passed_s < 1 ? 1 - passed_s : 0) + (double)bytes;
    pace->bytes_a_second = counted < most ? counted : most;
}

// Between two redraws of what moves.
static int64_t step_us(const sm_pace *pace) {
    double over = pace->bytes_a_second / (BYTES_A_SECOND * pace->larger);
    double longer = over > 1 ? over * over : 1;
    return (int64_t)(MOVE_US * (longer < LONGEST_STEP ? longer : LONGEST_STEP));
}

int64_t sm_pace_due_us(const sm_pace *pace, sm_pace_kind kind) {
    if (kind == SM_PACE_IDLE)
        return pace->drawn_us + IDLE_US;
    int64_t soon = pace->drawn_us + (kind == SM_PACE_KEYED ? KEY_US : step_us(pace));
    int64_t allowed = pace->redraws < SM_REDRAWS_A_SECOND
                          ? soon
                          : pace->redraws_us[pace->redraws % SM_REDRAWS_A_SECOND] + SM_US_PER_S;
    return soon > allowed ? soon : allowed;
}
