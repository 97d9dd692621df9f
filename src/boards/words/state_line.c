// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/words/state_line.h"

#include "boards/view.h"
#include "boards/words/slots_and_flames.h"

#include "slowmatch/conditions.h"

#include <assert.h>
#include <string.h>

// ---- asking the snapshot -----------------------------------------------------------

sm_us sm_snapshot_until_event(const sm_snapshot *snapshot, uint32_t event) {
    sm_us due_us = sm_event_due_us(snapshot->show, event), show_us = due_us - snapshot->at.us;
    // The next firing lies behind: it comes when the repeat has begun again.
    if (event == snapshot->next_firing && snapshot->repeat_on && due_us < snapshot->at.us)
        show_us = snapshot->repeat_to.us - snapshot->at.us + due_us - snapshot->repeat_from.us;
    if (snapshot->speed_ppm <= 0)
        return show_us;
    // Spans of the show are at most 2 SM_US_MAX; in millionths they would not fit.
    return (sm_us)((double)show_us * 1e6 / (double)snapshot->speed_ppm);
}

const char *sm_snapshot_count(const sm_snapshot *snapshot, char buffer[24]) {
    sm_us count = snapshot->show->settings.countdown_us;
    count = snapshot->speed_ppm > 0 ? (sm_us)((double)count * 1e6 / (double)snapshot->speed_ppm) : count;
    return count % SM_US_PER_S == 0 ? sm_age_format(count, buffer) : sm_countdown_format(count, buffer);
}

static bool is_live(sm_slot_phase phase) {
    return phase == SM_SLOT_WAITING || sm_slot_is_left_live(phase);
}

uint32_t sm_snapshot_live(const sm_snapshot *snapshot) {
    uint32_t count = 0;
    for (uint32_t slot = 0; slot < snapshot->show->slot_count; slot++)
        count += is_live(snapshot->slots[slot].phase);
    return count;
}

// Of the live slots, those whose rail is out at the module: an unplugged igniter is live all the same.
static uint32_t live_unplugged(const sm_snapshot *snapshot) {
    uint32_t count = 0;
    for (uint32_t slot = 0; slot < snapshot->show->slot_count; slot++) {
        count +=
            is_live(snapshot->slots[slot].phase) && !snapshot->rail_plugged[snapshot->show->slot_rails[slot]];
    }
    return count;
}

uint32_t sm_snapshot_unreported(const sm_snapshot *snapshot) {
    uint32_t count = 0;
    for (uint32_t slot = 0; slot < snapshot->show->slot_count; slot++)
        count += snapshot->slots[slot].phase == SM_SLOT_MISFIRED && !snapshot->slots[slot].reported;
    return count;
}

// ---- pieces ---------------------------------------------------------------------------

static void add_slot(const sm_snapshot *snapshot, uint32_t slot, sm_text *out) {
    char name[48];
    sm_text_printf(out, " %s", sm_slot_format(snapshot->show, slot, name));
}

static void add_people(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    char minute[16];
    if (snapshot->people_count == 0)
        return;
    sm_text_printf(out, " IN FIELD %u", snapshot->people_count);
    for (uint32_t i = 0; i < snapshot->people_count; i++) {
        sm_text_printf(out, "%s %s %s", i == 0 ? ":" : ",", snapshot->people[i].name,
                       sm_time_of_day_minute(day, snapshot->people[i].since, minute));
    }
}

// While not safe the names stand in the alert's row.
static void add_people_count(const sm_snapshot *snapshot, sm_text *out) {
    if (snapshot->people_count > 0)
        sm_text_printf(out, " IN FIELD %u", snapshot->people_count);
}

// Why start or resume would be refused. False: it would not.
static bool add_refused(const sm_snapshot *snapshot, sm_act act, const char *what, sm_text *out) {
    sm_text why = {0};
    bool refused = sm_snapshot_refuses_briefly(snapshot, act, &why);
    if (refused)
        sm_text_printf(out, " %s WOULD BE REFUSED%s%s", what, why.length > 0 ? ": " : "", sm_text_get(&why));
    sm_text_deinit(&why);
    return refused;
}

// "burning 5 (flames 2)": slots, and flames that DMX makes.
static void add_burning_count(const sm_snapshot *snapshot, sm_text *out) {
    uint32_t flames = sm_flames_lit(snapshot);
    sm_text_printf(out, "burning %u", snapshot->burning_count + flames);
    if (flames > 0)
        sm_text_printf(out, " (flames %u)", flames);
}

static void add_cancelled_start(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    char minute[16];
    if (snapshot->start_cancelled[0]) {
        sm_text_printf(out, ", START BY ITSELF CANCELLED %s: %s",
                       sm_time_of_day_minute(day, snapshot->start_cancelled_at, minute),
                       snapshot->start_cancelled);
    }
}

// What is heard while the show stands.
static void add_preview(const sm_snapshot *snapshot, sm_text *out) {
    const sm_preview *preview = &snapshot->preview;
    char id[12], tick[24], place[24];
    if (!preview->on)
        return;
    sm_text_printf(out, " HEARING cue %.40s at %s, now %s, nothing fires;",
                   sm_cue_id(snapshot->show, preview->cue, id), sm_clock_format(tick, preview->tick.us),
                   sm_clock_format(place, sm_preview_place(preview, snapshot->wall).us));
}

// ---- the states ---------------------------------------------------------------------------

static void add_safe(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    add_preview(snapshot, out);
    sm_text_printf(out, " key %s", snapshot->key ? "ON" : "OFF");
    add_people(snapshot, day, out);
    sm_text_printf(out, " LIVE %u", sm_snapshot_live(snapshot));
    if (live_unplugged(snapshot) > 0)
        sm_text_printf(out, " (%u on rails out)", live_unplugged(snapshot));
    if (snapshot->made_safe_at[0])
        sm_text_printf(out, ", MADE SAFE AT %s", snapshot->made_safe_at);
    if (snapshot->made_safe_at[0] || snapshot->has_show) {
        char place[24];
        sm_text_printf(out, ", START %s AT %s", snapshot->made_safe_at[0] ? "BEGINS" : "WILL BEGIN",
                       sm_clock_format(place, snapshot->at.us));
    }
    add_cancelled_start(snapshot, day, out);
}

static void add_arming(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    char span[24], minute[16];
    sm_text_printf(out, " %s", sm_countdown_format(snapshot->arming_ends.us - snapshot->wall.us, span));
    add_people_count(snapshot, out);
    if (snapshot->clear_called) {
        sm_text_printf(out, " clear called%s%s %s", snapshot->clear_who[0] ? " by " : "", snapshot->clear_who,
                       sm_time_of_day_minute(day, snapshot->clear_at, minute));
    }
}

static void add_armed(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    char place[24], span[24], clock[16];
    add_people_count(snapshot, out);
    add_cancelled_start(snapshot, day, out);
    if (add_refused(snapshot, SM_ACT_START, "START", out))
        return;
    if (snapshot->starts_at.us != SM_UNSET_US) {
        sm_text_printf(out, " STARTS BY ITSELF AT %s,",
                       sm_time_of_day_second(day, snapshot->starts_at, clock));
        sm_text_printf(out, " in %s, BEGINS AT %s",
                       sm_wait_format(snapshot->starts_at.us - snapshot->wall.us, span),
                       sm_clock_format(place, snapshot->place.us));
    } else {
        sm_text_printf(out, " START BEGINS AT %s", sm_clock_format(place, snapshot->place.us));
    }
    sm_text_printf(out, " after %s", sm_snapshot_count(snapshot, span));
}

static void add_running(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    (void)day;
    char span[24];
    add_people_count(snapshot, out);
    if (snapshot->counting_down) {
        sm_us left = snapshot->place.us - snapshot->at.us;
        left = snapshot->speed_ppm > 0 ? (sm_us)((double)left * 1e6 / (double)snapshot->speed_ppm) : left;
        sm_text_printf(out, " COUNT %s,", sm_countdown_format(left, span));
    }
    if (snapshot->next_firing != SM_NONE) {
        const sm_event *event = &snapshot->show->events[snapshot->next_firing];
        sm_text_printf(out, " next");
        add_slot(snapshot, snapshot->show->firings[event->target].slot, out);
        sm_text_printf(out, " in %s",
                       sm_countdown_format(sm_snapshot_until_event(snapshot, snapshot->next_firing), span));
    } else {
        sm_text_printf(out, " no firing to come");
    }
    sm_text_printf(out, ", in flight %u, ", snapshot->flying);
    add_burning_count(snapshot, out);
}

static void add_paused(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    (void)day;
    sm_text_printf(out, " STILL ARMED");
    add_people_count(snapshot, out);
    if (add_refused(snapshot, SM_ACT_RESUME, "RESUME", out))
        return;
    if (snapshot->next_firing != SM_NONE) {
        char span[24];
        const sm_event *event = &snapshot->show->events[snapshot->next_firing];
        sm_text_printf(out, " RESUME FIRES");
        add_slot(snapshot, snapshot->show->firings[event->target].slot, out);
        sm_text_printf(out, " %s after the count",
                       sm_countdown_format(sm_snapshot_until_event(snapshot, snapshot->next_firing), span));
    } else {
        sm_text_printf(out, " RESUME FIRES nothing more");
    }
}

static void add_ended(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    (void)day;
    sm_text_printf(out, " STILL ARMED");
    add_people_count(snapshot, out);
    sm_text_printf(out, " misfired %u, passed over %u", snapshot->misfired, snapshot->passed);
    bool live = snapshot->misfired + snapshot->passed > 0;
    sm_text_printf(out, "%s make safe, key off%s", live ? ": LIVE," : ",",
                   snapshot->misfired > 0 ? ", report by slot" : "");
}

typedef struct state_row {
    const char *word;
    bool armed;
    void (*add)(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out);
} state_row;

// Why it is not read is told as far as its first comma: the rest is an alert's, and the guards'.
static void add_timecode(const sm_snapshot *snapshot, sm_text *out) {
    const sm_timecode_in *timecode = &snapshot->timecode;
    if (timecode->state == SM_TIMECODE_OFF)
        return;
    sm_text_printf(out, ", timecode %s", sm_timecode_state_text(timecode->state));
    const char *outside = sm_timecode_outside(timecode, snapshot->show, snapshot->wall);
    if (outside)
        sm_text_printf(out, " %s", outside);
    else if (timecode->why[0])
        sm_text_printf(out, ": %.*s", (int)strcspn(timecode->why, ",:"), timecode->why);
}

// LOST: what became of the link, where it is lost.
static sm_state_line format(const sm_snapshot *snapshot, const sm_time_of_day *day, const char *following,
                            const char *lost, sm_text *out) {
    static const state_row rows[] = {
        [SM_STATE_SAFE] = {"SAFE", false, add_safe},      [SM_STATE_ARMING] = {"ARMING", false, add_arming},
        [SM_STATE_ARMED] = {"ARMED", true, add_armed},    [SM_STATE_RUNNING] = {"RUNNING", true, add_running},
        [SM_STATE_PAUSED] = {"PAUSED", true, add_paused}, [SM_STATE_ENDED] = {"ENDED", true, add_ended},
    };
    static_assert(sizeof rows / sizeof rows[0] == SM_STATE_COUNT, "a row for each state");
    const sm_incidents *incidents = &snapshot->incidents;
    sm_text_printf(out, SM_STATE_LINE_PREFIX "%s%s%s", following, following[0] ? " " : "",
                   snapshot->preview.on ? SM_STATE_LINE_PREVIEW : "");
    const size_t before = out->length;
    if (incidents->link_lost) { // what is known of the module is old, whatever it does
        char age[24] = "nobody knows since when";
        bool dated = incidents->link_at.us != SM_UNSET_US;
        if (dated)
            sm_age_format(snapshot->wall.us - incidents->link_at.us, age);
        sm_text_printf(out, "%s TREAT AS ARMED, key %s, last known %s %s%s", lost,
                       snapshot->key ? "ON" : "OFF", rows[incidents->link_state].word, age,
                       dated ? " ago" : "");
        return (sm_state_line){before, strlen(lost), true};
    }
    const state_row *row = &rows[snapshot->state];
    sm_text_printf(out, "%s", row->word);
    row->add(snapshot, day, out);
    add_timecode(snapshot, out);
    return (sm_state_line){before, strlen(row->word), row->armed};
}

sm_state_line sm_state_line_format(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    return format(snapshot, day, "", "LINK LOST", out);
}

sm_state_line sm_state_line_look(const sm_view *view, sm_text *out) {
    return format(view->snapshot, view->time_of_day, view->following ? view->following : "",
                  view->told_ended ? "ENDED BY THE LEAD," : "LINK LOST", out);
}
