// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/code_belief.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#define GAP_FRAMES 5 // so long after the beginning of the latest frame there is a gap: two frames were missed
#define PACE_SLACK 0.2     // of a frame: how far off its time a frame may end
#define SAME_RATE 0.02     // a pace this near to a rate is that rate's
#define PULL_DOWN 0.0003   // 29.97 and 30 lie 0.001 apart; a sound card's clock is far better than this
#define LONG_FRAMES 60     // of a run before these two are told apart
#define SAME_PLACE_US 80e3 // nearer than this to where it was expected is no jump
#define DAY_US (24 * 3600 * 1e6)

static const double fps_of[] = {
    [SM_TC_24] = 24, [SM_TC_25] = 25, [SM_TC_29_97] = 30000.0 / 1001, [SM_TC_30] = 30};
static_assert(sizeof fps_of / sizeof fps_of[0] == SM_TC_COUNT, "a pace for each rate");

// ---- runs ---------------------------------------------------------------------------------

static const sm_code_frame *last_of(const sm_code_run *run) {
    assert(run->count > 0);
    return &run->frames[run->count - 1];
}

static void run_add(sm_code_run *run, const sm_code_frame *frame, int64_t steps) {
    sm_code_frame added = *frame;
    added.in_turn = run->count > 0 ? last_of(run)->in_turn + steps : 0;
    if (run->count == 0) {
        run->first_ended = frame->ends;
        run->numbers = 0;
    } else if (steps == 1 && frame->seconds != last_of(run)->seconds) {
        run->numbers = last_of(run)->frame + 1;
    }
    if (run->count == SM_CODE_FIT) {
        run->count--;
        memmove(run->frames, run->frames + 1, (SM_CODE_FIT - 1) * sizeof run->frames[0]);
    }
    run->frames[run->count++] = added;
}

// Samples a frame: of the latest ones.
static double period_of(const sm_code_run *run) {
    const sm_code_frame *first = &run->frames[0], *last = last_of(run);
    return (last->ends - first->ends) / (double)(last->in_turn - first->in_turn);
}

// The number AFTER comes next to BEFORE, whatever the rate: one frame on, or the first of the next second.
static bool counts_on(const sm_code_frame *before, const sm_code_frame *after) {
    const int second = (before->hours * 60 + before->minutes) * 60 + before->seconds;
    const int next = (after->hours * 60 + after->minutes) * 60 + after->seconds;
    if (next == second)
        return after->frame == before->frame + 1;
    const bool skips = after->drop && after->seconds == 0 && after->minutes % 10 != 0;
    const int top = before->frame + 1;
    return next == (second + 1) % 86400 && after->frame == (skips ? 2 : 0) &&
           (top == 24 || top == 25 || top == 30);
}

// A second frame of a run has nothing to be held against but the widest pace that a decoder reads: what is too slow or too fast is refused
// by name, when five have come.
static bool keeps_pace(const sm_code_belief *b, const sm_code_run *run, const sm_code_frame *frame) {
    const double step = frame->ends - last_of(run)->ends;
    if (run->count == 1)
        return step > b->rate_hz / 100.0 && step < b->rate_hz / 6.0;
    return fabs(step / period_of(run) - 1) < PACE_SLACK;
}

// ---- its rate -------------------------------------------------------------------------------

static bool is_near(double pace, double fps, double slack) {
    return fabs(pace / fps - 1) <= slack;
}

static double long_pace(const sm_code_belief *b, const sm_code_run *run) {
    return (double)last_of(run)->in_turn * b->rate_hz / (last_of(run)->ends - run->first_ended);
}

// 30 numbers a second that drop none: 30 and 29.97 differ by their pace alone.
static sm_timecode_rate of_thirty(const sm_code_belief *b, const sm_code_run *run) {
    const bool is_show = b->has_show && sm_timecode_numbers(b->show.rate) == 30;
    const sm_timecode_rate before = is_show ? b->show.rate : SM_TC_30;
    if (last_of(run)->in_turn < LONG_FRAMES)
        return before;
    const double pace = long_pace(b, run);
    if (is_near(pace, fps_of[SM_TC_29_97], PULL_DOWN))
        return SM_TC_29_97;
    return is_near(pace, fps_of[SM_TC_30], PULL_DOWN) ? SM_TC_30 : before;
}

static sm_timecode_rate of_numbers(const sm_code_belief *b, const sm_code_run *run, int numbers) {
    if (numbers == 30)
        return last_of(run)->drop ? SM_TC_29_97 : of_thirty(b, run);
    return numbers == 24 ? SM_TC_24 : SM_TC_25;
}

// Whether the show's own rate may be taken for it before a second has ended.
static bool can_be_the_shows(const sm_code_belief *b, const sm_code_run *run, double pace) {
    const double fps = fps_of[b->show.rate];
    if (last_of(run)->drop != b->show.drop)
        return false;
    for (int i = 0; i < run->count; i++)
        if (run->frames[i].frame >= sm_timecode_numbers(b->show.rate))
            return false;
    if (is_near(pace, fps, SAME_RATE))
        return true;
    for (int rate = 0; rate < SM_TC_COUNT; rate++)
        if (is_near(pace, fps_of[rate], SAME_RATE))
            return false;
    return true;
}

static int nearest_numbers(double pace) {
    return pace < 24.5 ? 24 : pace < 27.4 ? 25 : 30;
}

// The numbers of a second of RUN at PACE; 0: they are not known yet.
static int numbers_of(const sm_code_belief *b, const sm_code_run *run, double pace, bool *sure) {
    *sure = true;
    if (run->numbers > 0)
        return run->numbers;
    if (last_of(run)->drop)
        return 30;
    *sure = false;
    if (!b->has_show)
        return nearest_numbers(pace);
    return can_be_the_shows(b, run, pace) ? sm_timecode_numbers(b->show.rate) : 0;
}

static bool is_speed(double pace, sm_timecode_rate rate) {
    return pace >= fps_of[rate] * SM_LISTEN_SLOWEST && pace <= fps_of[rate] * SM_LISTEN_FASTEST;
}

// ---- its place --------------------------------------------------------------------------------

// A show's own rate reads it wherever the numbers are counted alike: then a number is a moment of that show at whatever pace it comes.
static sm_moment_base base_of(const sm_code_belief *b) {
    if (!b->has_show)
        return (sm_moment_base){.rate = b->rate, .drop = b->drop};
    if (sm_timecode_numbers(b->rate) == sm_timecode_numbers(b->show.rate) && b->drop == b->show.drop)
        return b->show;
    // Numbers that drop none are seconds of the show, 29.97 or 30 alike: these two are told apart late, and the place must not move then.
    sm_moment_base base = {.rate = b->drop || b->rate != SM_TC_29_97 ? b->rate : SM_TC_30, .drop = b->drop};
    int hours, minutes, seconds, frame;
    sm_timecode_from_frames(b->show.rate, b->show.drop, b->show.start_frames, &hours, &minutes, &seconds,
                            &frame);
    frame = frame * sm_timecode_numbers(b->rate) / sm_timecode_numbers(b->show.rate);
    while (sm_timecode_to_frames(base.rate, base.drop, hours, minutes, seconds, frame, &base.start_frames) !=
           SM_OK)
        frame++; // a number that drop-frame leaves out
    return base;
}

static double place_of(const sm_moment_base *base, const sm_code_frame *f, bool wraps) {
    const int top = sm_timecode_numbers(base->rate) - 1, frame = f->frame < top ? f->frame : top;
    int64_t frames = base->start_frames;
    if (sm_timecode_to_frames(base->rate, base->drop, f->hours, f->minutes, f->seconds, frame, &frames) !=
        SM_OK)
        return 0; // no such number: has_sense let none through
    const double us = (double)(frames - base->start_frames) * 1e6 / fps_of[base->rate];
    return wraps ? us - DAY_US * floor(us / DAY_US + 0.5) : us; // within half a day of the show's beginning
}

// The straight line through RUN's frames, by least squares; each frame's place is taken from the latest one's, so that
// midnight breaks nothing.
static void fit(sm_code_belief *b, const sm_code_run *run) {
    const sm_moment_base base = base_of(b);
    const sm_code_frame *last = last_of(run);
    const double frame_us = 1e6 / fps_of[base.rate];
    double x = 0, y = 0, xx = 0, xy = 0;
    for (int i = 0; i < run->count; i++) {
        const double sample = run->frames[i].ends - last->ends;
        const double us = (double)(run->frames[i].in_turn - last->in_turn) * frame_us;
        x += sample;
        y += us;
        xx += sample * sample;
        xy += sample * us;
    }
    const double n = run->count;
    b->us_a_sample = (n * xy - x * y) / (n * xx - x * x);
    b->line_sample = last->ends;
    b->line_us =
        place_of(&base, last, b->has_show) + frame_us + (y - b->us_a_sample * x) / n; // where it ends
}

double sm_code_belief_show_us(const sm_code_belief *b, double sample) {
    return b->line_us + (sample - b->line_sample) * b->us_a_sample;
}

void sm_code_belief_number(const sm_code_belief *b, double show_us, int *hours, int *minutes, int *seconds,
                           int *frame) {
    const sm_moment_base base = base_of(b);
    const int64_t frames = base.start_frames + (int64_t)floor(show_us / 1e6 * fps_of[base.rate] + 0.001);
    sm_timecode_from_frames(base.rate, base.drop, frames, hours, minutes, seconds, frame);
}

// ---- believing ----------------------------------------------------------------------------------

void sm_code_belief_init(sm_code_belief *b, int rate_hz, const sm_moment_base *show, sm_us free_run_us) {
    memset(b, 0, sizeof *b);
    b->rate_hz = rate_hz;
    b->has_show = show != NULL;
    if (show)
        b->show = *show;
    b->free_run = (double)free_run_us * rate_hz / 1e6;
    b->state = SM_TIMECODE_WAITING;
    b->trouble = SM_TIMECODE_NO_SOUND;
}

// FRAME is the one that `now` has at that sample; *STEPS frames after the latest. Some between may have been missed.
static bool is_expected(const sm_code_belief *b, const sm_code_frame *frame, int64_t *steps) {
    const sm_code_frame *last = last_of(&b->now);
    const double frames = (frame->ends - last->ends) / period_of(&b->now);
    *steps = llround(frames);
    if (*steps < 1 || fabs(frames - (double)*steps) > PACE_SLACK || frame->drop != last->drop)
        return false;
    if (*steps == 1)
        return counts_on(last, frame);
    const sm_moment_base base = base_of(b);
    const double us = place_of(&base, frame, b->has_show) - place_of(&base, last, b->has_show);
    return llround(us * fps_of[base.rate] / 1e6) == *steps;
}

static bool has_sense(const sm_code_frame *f) {
    int64_t frames;
    return sm_timecode_to_frames(f->drop ? SM_TC_29_97 : SM_TC_30, f->drop, f->hours, f->minutes, f->seconds,
                                 f->frame, &frames) == SM_OK;
}

// Takes over what RUN's rate is. False: it is not known, or its speed is refused.
static bool judge(sm_code_belief *b, const sm_code_run *run) {
    bool sure;
    const double pace = b->rate_hz / period_of(run);
    const int numbers = numbers_of(b, run, pace, &sure);
    if (numbers == 0) {
        b->trouble = SM_TIMECODE_NO_RATE;
        return false;
    }
    const sm_timecode_rate rate = of_numbers(b, run, numbers);
    if (!is_speed(pace, rate)) {
        b->trouble = SM_TIMECODE_SPEED;
        return false;
    }
    b->rate = rate;
    b->drop = last_of(run)->drop;
    b->sure = sure;
    return true;
}

// `next` becomes what is believed, if its rate is known.
static void believe(sm_code_belief *b) {
    const bool followed = b->now.count > 0;
    const double expected_us = followed ? sm_code_belief_show_us(b, last_of(&b->next)->ends) : 0;
    if (!judge(b, &b->next))
        return;
    b->now = b->next;
    b->next.count = 0;
    fit(b, &b->now);
    if (followed && fabs(b->line_us - expected_us) > SAME_PLACE_US) {
        b->jumps++;
        b->jumped_from.us = llround(expected_us);
        b->jumped_to.us = llround(b->line_us);
    }
    b->state = SM_TIMECODE_LOCKED;
    b->trouble = SM_TIMECODE_FINE;
}

static bool goes_on(sm_code_belief *b, const sm_code_frame *frame) {
    int64_t steps;
    if (b->now.count == 0 || !is_expected(b, frame, &steps))
        return false;
    sm_code_run longer = b->now;
    run_add(&longer, frame, steps);
    if (!judge(b, &longer))
        return false;
    b->now = longer;
    b->next.count = 0;
    fit(b, &b->now);
    b->state = SM_TIMECODE_LOCKED;
    b->trouble = SM_TIMECODE_FINE;
    return true;
}

void sm_code_belief_take(sm_code_belief *b, const sm_code_frame *frame) {
    b->read++;
    if (has_sense(frame) && goes_on(b, frame))
        return;
    b->strays += b->now.count > 0;
    if (!has_sense(frame))
        return;
    const bool fits = b->next.count > 0 && frame->drop == last_of(&b->next)->drop &&
                      counts_on(last_of(&b->next), frame) && keeps_pace(b, &b->next, frame);
    if (!fits)
        b->next.count = 0;
    run_add(&b->next, frame, 1);
    if (b->now.count == 0 && b->next.count < SM_CODE_ENOUGH)
        b->trouble = SM_TIMECODE_NOISE;
    if (b->next.count >= SM_CODE_ENOUGH)
        believe(b);
}

void sm_code_belief_pass(sm_code_belief *b, double sample) {
    if (b->now.count == 0)
        return;
    const double since = sample - last_of(&b->now)->ends, period = period_of(&b->now);
    if (since > b->free_run) {
        b->state = SM_TIMECODE_LOST;
        b->now.count = b->next.count = 0;
    } else if (since > GAP_FRAMES * period) {
        b->state = SM_TIMECODE_FREE_RUNNING;
    }
}
