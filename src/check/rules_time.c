// SPDX-License-Identifier: GPL-3.0-or-later
// Time, the audio, and the totals that were expected.
#include "check/rule.h"

#include <math.h>
#include <string.h>

static void judge_cue(sm_check *check, uint32_t number, sm_us before_us) {
    const sm_show *show = check->show;
    const sm_cue *cue = &show->cues[number];
    const sm_us first_us = -show->settings.countdown_us;
    if (cue->time_us > show->length_us)
        check_put(check, "past-end", check_at_cue(check, number, "time"),
                  (check_figures){FIGURE_MOMENT, (double)cue->time_us, (double)show->length_us, NULL},
                  "the cue is at %s, %s after the show's end at %s", MOMENT(cue->time_us),
                  SPAN(cue->time_us - show->length_us), MOMENT(show->length_us));
    if (cue->kind == SM_CUE_SET && cue->time_us < first_us)
        check_put(check, "before-start", check_at_cue(check, number, "time"),
                  (check_figures){FIGURE_MOMENT, (double)cue->time_us, (double)first_us, NULL},
                  "set at %s, before the countdown begins at %s", MOMENT(cue->time_us), MOMENT(first_us));
    if (cue->time_us < before_us)
        check_put(check, "out-of-order", check_at_cue(check, number, "time"),
                  (check_figures){FIGURE_MOMENT, (double)cue->time_us, (double)before_us, NULL},
                  "at %s, earlier than the cue above it at %s", MOMENT(cue->time_us), MOMENT(before_us));
}

static void judge_firing(sm_check *check, const sm_firing *firing) {
    const sm_us first_us = -check->show->settings.countdown_us;
    if (firing->fire_us >= first_us)
        return;
    char slot[48];
    check_put(check, "before-start", check_at_event(check, firing->event, "time"),
              (check_figures){FIGURE_MOMENT, (double)firing->fire_us, (double)first_us, NULL},
              "%s must fire at %s (lead %s), before the countdown begins at %s",
              sm_slot_format(check->show, firing->slot, slot), MOMENT(firing->fire_us), SPAN(firing->lead_us),
              MOMENT(first_us));
}

sm_result check_time(sm_check *check) {
    const sm_show *show = check->show;
    sm_us before_us = INT64_MIN;
    for (uint32_t i = 0; i < show->cue_count; i++) {
        judge_cue(check, i, before_us);
        before_us = show->cues[i].time_us;
    }
    for (uint32_t i = 0; i < show->firing_count; i++)
        judge_firing(check, &show->firings[i]);
    return SM_OK;
}

sm_result check_audio(sm_check *check) {
    const sm_show *show = check->show;
    const check_place place = {"show.ini", 0, "show.audio"};
    const char *audio = show->settings.audio;
    if (!audio || audio[0] == '\0')
        return SM_OK;
    if (!check->options.audio_exists) {
        const char *why = check->options.audio_error;
        check_put(check, "audio-missing", place, check_no_figures(), "\"%s\": %s", audio,
                  why && why[0] != '\0' ? why : "no such file in the show's folder");
        return SM_OK;
    }
    if (check->options.audio_error && check->options.audio_error[0] != '\0')
        check_put(check, "audio-damaged", place, check_no_figures(), "\"%s\": %s", audio,
                  check->options.audio_error);
    const sm_us end_us = check->options.audio_end_us;
    if (end_us == SM_UNSET_US || show->event_count == 0)
        return SM_OK;
    sm_us last_us = INT64_MIN;
    for (uint32_t i = 0; i < show->cue_count; i++)
        last_us = show->cues[i].time_us > last_us ? show->cues[i].time_us : last_us;
    if (end_us < last_us)
        check_put(check, "audio-short", place,
                  (check_figures){FIGURE_MOMENT, (double)end_us, (double)last_us, NULL},
                  "the audio ends at %s, %s before the last event at %s", MOMENT(end_us),
                  SPAN(last_us - end_us), MOMENT(last_us));
    return SM_OK;
}

static void expect_count(sm_check *check, const char *key, const char *what, int32_t expected,
                         uint32_t found) {
    if (expected < 0 || (uint32_t)expected == found)
        return;
    check_put(check, "expect-differs", (check_place){"show.ini", 0, key},
              (check_figures){FIGURE_PLAIN, found, expected, ""}, "the files hold %u %s, expected are %d",
              found, what, expected);
}

sm_result check_expect(sm_check *check) {
    const sm_show *show = check->show;
    const sm_show_settings *set = &show->settings;
    if (show->cues_left_out) // the totals are not those of the files
        return SM_OK;
    expect_count(check, "expect.events", "events", set->expect_events, show->event_count);
    expect_count(check, "expect.pyro", "pyro events", set->expect_pyro, show->firing_count);
    expect_count(check, "expect.fixture", "fixture events", set->expect_fixture,
                 show->event_count - show->firing_count);
    const bool length_holds =
        !check_is_incomplete(check, "show.ini") && !check_is_incomplete(check, "effects.csv");
    if (length_holds && set->expect_length_us != SM_UNSET_US && set->expect_length_us != show->length_us)
        check_put(
            check, "expect-differs", (check_place){"show.ini", 0, "expect.length"},
            (check_figures){FIGURE_MOMENT, (double)show->length_us, (double)set->expect_length_us, NULL},
            "the show is %s long, expected is %s", MOMENT(show->length_us), MOMENT(set->expect_length_us));
    return SM_OK;
}

sm_result check_waits(sm_check *check) {
    const sm_show_settings *set = &check->show->settings;
    if (set->reentry_wait_us == SM_UNSET_US || set->misfire_wait_us == SM_UNSET_US ||
        set->misfire_wait_us >= set->reentry_wait_us)
        return SM_OK;
    check_put(check, "misfire-wait-short", (check_place){"show.ini", 0, "limits.misfire-wait"},
              (check_figures){FIGURE_SPAN, (double)set->misfire_wait_us, (double)set->reentry_wait_us, NULL},
              "misfire-wait is %.4g min, shorter than reentry-wait, %.4g min: with a misfire not reported "
              "the longer "
              "of the two holds",
              (double)set->misfire_wait_us / (60.0 * (double)SM_US_PER_S),
              (double)set->reentry_wait_us / (60.0 * (double)SM_US_PER_S));
    return SM_OK;
}

sm_result check_lead(sm_check *check) {
    const sm_show *show = check->show;
    uint8_t *seen = sm_arena_alloc(check->arena, show->effect_count + 1);
    if (!seen)
        return SM_NO_MEMORY;
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const uint32_t number = show->firings[i].effect;
        if (number == SM_NONE || seen[number] != 0)
            continue;
        seen[number] = 1;
        const sm_effect *effect = &show->effects[number];
        if (effect->zone == SM_ZONE_AERIAL && !effect->lead_known)
            check_put(
                check, "lead-unknown", (check_place){"effects.csv", effect->line, "lead"}, check_no_figures(),
                "%s is an aerial without a lead: it is fired at the cue's time and seen late", effect->name);
    }
    return SM_OK;
}
