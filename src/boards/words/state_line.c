// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/words/state_line.h"

#include "boards/view.h"
#include "boards/words/slots_and_flames.h"
#include "boards/words/standing_conditions.h"

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

// Room for one of the line's sentences: the line is to stand also where memory has run out.
#define SENTENCE 160

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

static bool is_unreported(const sm_slot_view *slot) {
    return slot->phase == SM_SLOT_MISFIRED && !slot->reported;
}

uint32_t sm_snapshot_unreported(const sm_snapshot *snapshot) {
    uint32_t count = 0;
    for (uint32_t slot = 0; slot < snapshot->show->slot_count; slot++)
        count += is_unreported(&snapshot->slots[slot]);
    return count;
}

sm_us sm_snapshot_wait_limit(const sm_snapshot *snapshot, const char **name) {
    const sm_show_settings *settings = &snapshot->show->settings;
    if (snapshot->misfired > 0) {
        *name = "misfire-wait";
        return settings->misfire_wait_us;
    }
    *name = "reentry-wait";
    return settings->reentry_wait_us;
}

void sm_wait_describe(const sm_snapshot *snapshot, sm_text *out) {
    const char *name;
    sm_us limit = sm_snapshot_wait_limit(snapshot, &name);
    char gone[24], full[24];
    if (snapshot->state == SM_STATE_ENDED) {
        if (limit == SM_UNSET_US)
            sm_text_printf(out, "wait not begun, %s NOT SET", name);
        else
            sm_text_printf(out, "wait of %s (your setting) not begun", sm_wait_format(limit, full));
        return;
    }
    if (!snapshot->wait_runs || snapshot->wait_since.us == SM_UNSET_US)
        return;
    sm_us span = snapshot->wall.us - snapshot->wait_since.us;
    if (limit == SM_UNSET_US) {
        sm_text_printf(out, "wait %s, %s NOT SET", sm_wait_format(span, gone), name);
    } else if (span < limit) {
        sm_text_printf(out, "wait %s of %s (your setting)", sm_wait_format(span, gone),
                       sm_wait_format(limit, full));
    } else {
        sm_text_printf(out, "wait %s of %s (your setting) has run", sm_wait_format(span, gone),
                       sm_wait_format(limit, full));
    }
}

// ---- pieces ---------------------------------------------------------------------------

static void add_slot(const sm_snapshot *snapshot, uint32_t slot, sm_text *out) {
    char name[48];
    sm_text_printf(out, " %s", sm_slot_format(snapshot->show, slot, name));
}

static void add_people(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    char minute[16];
    sm_text_printf(out, " IN FIELD %u", snapshot->people_count);
    for (uint32_t i = 0; i < snapshot->people_count; i++) {
        sm_text_printf(out, "%s %s %s", i == 0 ? ":" : ",", snapshot->people[i].name,
                       sm_time_of_day_minute(day, snapshot->people[i].since, minute));
    }
}

// True when clear has been called and has lapsed since.
static bool add_lapse(const sm_snapshot *snapshot, const sm_time_of_day *day, const char *before,
                      sm_text *out) {
    if (snapshot->clear_called || snapshot->clear_lapse[0] == '\0')
        return false;
    char minute[16];
    sm_text_printf(out, "%sCLEAR LAPSED: %s %s", before, snapshot->clear_lapse,
                   sm_time_of_day_minute(day, snapshot->clear_at, minute));
    return true;
}

// Somebody may be out there: said before anything that is to come.
static void add_stop_first(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    bool people = snapshot->people_count > 0;
    if (people)
        add_people(snapshot, day, out);
    bool lapsed = add_lapse(snapshot, day, people ? ", " : " ", out);
    if (people || lapsed)
        sm_text_printf(out, ", make safe, key off;");
}

// What misfired and is live, while the show goes on.
static void add_misfired(const sm_snapshot *snapshot, sm_text *out) {
    if (snapshot->misfired == 0)
        return;
    uint32_t named = 0;
    sm_text_printf(out, ", MISFIRED");
    for (uint32_t slot = 0; slot < snapshot->show->slot_count && named < 2; slot++) {
        if (snapshot->slots[slot].phase == SM_SLOT_MISFIRED) {
            add_slot(snapshot, slot, out);
            named++;
        }
    }
    if (snapshot->misfired > named)
        sm_text_printf(out, " and %u more", snapshot->misfired - named);
    sm_text_printf(out, " LIVE");
}

static void add_repeat(const sm_snapshot *snapshot, sm_text *out) {
    char room[SENTENCE] = "";
    sm_text repeat = SM_TEXT_IN(room);
    if (sm_condition_repeat(snapshot, &repeat))
        sm_text_printf(out, ", %s", sm_text_get(&repeat));
    sm_text_deinit(&repeat);
}

// "burning 5 (flames 2)": slots, and flames that DMX makes.
static void add_burning_count(const sm_snapshot *snapshot, sm_text *out) {
    uint32_t flames = sm_flames_lit(snapshot);
    sm_text_printf(out, "burning %u", snapshot->burning_count + flames);
    if (flames > 0)
        sm_text_printf(out, " (flames %u)", flames);
}

// Flames that burn where none should: told to close, they did not.
static void add_stuck_flames(const sm_snapshot *snapshot, sm_text *out) {
    uint32_t named = 0, lit = sm_flames_lit(snapshot);
    for (uint32_t fixture = 0; fixture < snapshot->show->fixture_count && named < 2 && named < lit;
         fixture++) {
        if (sm_flame_look(snapshot, fixture).lit) {
            sm_text_printf(out, "%s %s", named++ > 0 ? "," : " FLAME BURNS ON",
                           snapshot->show->fixtures[fixture].name);
        }
    }
    if (lit > named)
        sm_text_printf(out, " and %u more", lit - named);
    sm_text_printf(out, "%s", lit > 0 ? "," : "");
}

static void add_cancelled_start(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    char minute[16];
    if (snapshot->start_cancelled[0]) {
        sm_text_printf(out, ", START BY ITSELF CANCELLED %s: %s",
                       sm_time_of_day_minute(day, snapshot->start_cancelled_at, minute),
                       snapshot->start_cancelled);
    }
}

// "A-03 12 s, B-03 14 s and 2 more": those that burn, soonest out first.
static void add_burning_names(const sm_snapshot *snapshot, sm_text *out) {
    uint32_t named = 0;
    for (uint32_t i = 0; i < snapshot->flying + snapshot->burning_count && named < 2; i++) {
        const sm_burning *burning = &snapshot->burning[i];
        if (burning->seen_at.us > snapshot->wall.us)
            continue;
        char span[24];
        sm_text_printf(out, "%s", named > 0 ? "," : "");
        add_slot(snapshot, burning->slot, out);
        sm_text_printf(out, " %s", sm_countdown_format(burning->out_at.us - snapshot->wall.us, span));
        named++;
    }
    if (snapshot->burning_count > named)
        sm_text_printf(out, " and %u more", snapshot->burning_count - named);
}

// ---- the states ---------------------------------------------------------------------------

static void add_unreported(const sm_snapshot *snapshot, sm_text *out) {
    uint32_t left = sm_snapshot_unreported(snapshot), named = 0;
    sm_text_printf(out, " NOT REPORTED");
    for (uint32_t slot = 0; slot < snapshot->show->slot_count && named < 6; slot++) {
        if (is_unreported(&snapshot->slots[slot])) {
            add_slot(snapshot, slot, out);
            named++;
        }
    }
    if (left > named)
        sm_text_printf(out, " and %u more", left - named);
}

static void add_safe(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    sm_text_printf(out, " key %s", snapshot->key ? "ON" : "OFF");
    if (snapshot->burning_count > 0) { // made safe, it burns on
        sm_text_printf(out, " BURNING");
        add_burning_names(snapshot, out);
    }
    add_stuck_flames(snapshot, out);
    if (sm_snapshot_unreported(snapshot) > 0)
        add_unreported(snapshot, out);
    char wait_room[SENTENCE] = "", speed_room[SENTENCE] = "";
    sm_text wait = SM_TEXT_IN(wait_room), speed = SM_TEXT_IN(speed_room);
    sm_wait_describe(snapshot, &wait);
    if (wait.length > 0)
        sm_text_printf(out, " %s, all stay out", sm_text_get(&wait));
    sm_text_deinit(&wait);
    sm_text_printf(out, " LIVE %u", sm_snapshot_live(snapshot));
    if (live_unplugged(snapshot) > 0)
        sm_text_printf(out, " (%u on rails out)", live_unplugged(snapshot));
    add_people(snapshot, day, out);
    if (snapshot->made_safe_at[0]) {
        char place[24];
        sm_text_printf(out, ", MADE SAFE AT %s, START WILL BEGIN AT %s", snapshot->made_safe_at,
                       sm_clock_format(place, snapshot->at.us));
    } else if (snapshot->has_show) {
        char place[24];
        sm_text_printf(out, ", START WILL BEGIN AT %s", sm_clock_format(place, snapshot->at.us));
    }
    if (sm_condition_speed(snapshot, &speed))
        sm_text_printf(out, ", %s", sm_text_get(&speed));
    sm_text_deinit(&speed);
    add_repeat(snapshot, out);
    add_cancelled_start(snapshot, day, out);
}

static void add_arming(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    char span[24], minute[16];
    sm_text_printf(out, " %s", sm_countdown_format(snapshot->arming_ends.us - snapshot->wall.us, span));
    if (snapshot->clear_called) {
        sm_text_printf(out, " clear called%s%s %s", snapshot->clear_who[0] ? " by " : "", snapshot->clear_who,
                       sm_time_of_day_minute(day, snapshot->clear_at, minute));
    } else {
        add_lapse(snapshot, day, " ", out);
    }
}

static void add_armed(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    if (add_lapse(snapshot, day, " ", out)) {
        sm_text_printf(out, ", make safe, key off");
        add_cancelled_start(snapshot, day, out);
        return;
    }
    char place[24], span[24], clock[16];
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
    sm_conditions_add(snapshot, out);
    add_cancelled_start(snapshot, day, out);
}

static void add_running(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    char span[24];
    add_stop_first(snapshot, day, out);
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
    add_misfired(snapshot, out);
    add_repeat(snapshot, out);
}

static void add_paused(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    sm_text_printf(out, " STILL ARMED");
    add_stop_first(snapshot, day, out);
    if (snapshot->burning_count > 0) {
        sm_text_printf(out, " burning");
        add_burning_names(snapshot, out);
        sm_text_printf(out, ",");
    }
    add_stuck_flames(snapshot, out);
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
    add_misfired(snapshot, out);
}

static void add_ended(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    sm_text_printf(out, " STILL ARMED");
    if (snapshot->burning_count > 0) {
        sm_text_printf(out, " burning");
        add_burning_names(snapshot, out);
        sm_text_printf(out, ",");
    }
    add_stuck_flames(snapshot, out);
    sm_text_printf(out, " misfired %u, passed over %u", snapshot->misfired, snapshot->passed);
    bool live = snapshot->misfired + snapshot->passed > 0;
    sm_text_printf(out, "%s make safe, key off%s", live ? ": LIVE," : ",",
                   snapshot->misfired > 0 ? ", report by slot" : "");
    add_lapse(snapshot, day, ", ", out);
}

typedef struct state_row {
    const char *word;
    bool armed;
    void (*add)(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out);
} state_row;

sm_state_line sm_state_line_format(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out) {
    static const state_row rows[SM_STATE_COUNT] = {
        [SM_STATE_SAFE] = {"SAFE", false, add_safe},      [SM_STATE_ARMING] = {"ARMING", false, add_arming},
        [SM_STATE_ARMED] = {"ARMED", true, add_armed},    [SM_STATE_RUNNING] = {"RUNNING", true, add_running},
        [SM_STATE_PAUSED] = {"PAUSED", true, add_paused}, [SM_STATE_ENDED] = {"ENDED", true, add_ended},
    };
    const sm_incidents *incidents = &snapshot->incidents;
    if (incidents->link_lost) { // what is known of the module is old, whatever it does
        char age[24];
        sm_text_printf(out, SM_STATE_LINE_PREFIX "LINK LOST last known %s %s ago, TREAT AS ARMED, key %s",
                       rows[incidents->link_state].word,
                       sm_age_format(snapshot->wall.us - incidents->link_at.us, age),
                       snapshot->key ? "ON" : "OFF");
        return (sm_state_line){strlen(SM_STATE_LINE_PREFIX), strlen("LINK LOST"), true};
    }
    const state_row *row = &rows[snapshot->state];
    size_t before = strlen(SM_STATE_LINE_PREFIX);
    sm_text_printf(out, SM_STATE_LINE_PREFIX "%s", row->word);
    row->add(snapshot, day, out);
    return (sm_state_line){before, strlen(row->word), row->armed};
}
