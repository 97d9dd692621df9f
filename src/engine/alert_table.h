// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_ENGINE_ALERT_TABLE_H
#define SLOWMATCH_ENGINE_ALERT_TABLE_H

#include "slowmatch/alerts.h"

// An alert's row: sm_alert_row.stands.
typedef bool sm_alert_stands(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                             uint32_t *essential);

// alert_warnings.c: stop or keep out now.
sm_alert_stands sm_alert_people, sm_alert_fire, sm_alert_flame, sm_alert_link, sm_alert_age,
    sm_alert_fired_alone, sm_alert_tipped, sm_alert_storm, sm_alert_key_on, sm_alert_too_early,
    sm_alert_wind_running, sm_alert_clear_lapsed, sm_alert_no_answer, sm_alert_hold, sm_alert_unheard;
// alert_cautions.c: know now, act next; be aware.
sm_alert_stands sm_alert_wind, sm_alert_wind_high, sm_alert_misfired, sm_alert_wait, sm_alert_burning,
    sm_alert_swapped, sm_alert_stray, sm_alert_permit_open, sm_alert_silent, sm_alert_timecode,
    sm_alert_timecode_rate, sm_alert_free_running, sm_alert_timecode_waits, sm_alert_held_back,
    sm_alert_waived, sm_alert_readings_old, sm_alert_speed, sm_alert_repeat, sm_alert_show_changed,
    sm_alert_not_kept, sm_alert_offset, sm_alert_lights;

// Ends what is never cut: OUT so far. For the words' writers.
static inline void sm_alert_essential(const sm_text *out, uint32_t *essential) {
    *essential = (uint32_t)out->length;
}
// "K 21:14" or, with no time of day, "K".
void sm_alert_put_when(const sm_alert_facts *facts, sm_wall_time at, sm_text *out);
// "WIND 9.4 m/s OVER 8.0: A-05, B-02 fly" where the wind is over the limit that is set.
bool sm_alert_put_wind(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                       uint32_t *essential);
// Armed or on the way there: a firing can follow without another hand at the key.
bool sm_alert_is_hot(const sm_snapshot *now);

#endif
