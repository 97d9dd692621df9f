// SPDX-License-Identifier: GPL-3.0-or-later
// CALLS: every cue in the order in which it is seen, for whoever calls them by number.
#include "paper/sheets.h"

#include <stdlib.h>

// A number and its answer take this long; no source. Light that follows closer runs by itself, and is told as one row.
#define CALLED_APART_US (2 * SM_US_PER_S)
enum { RUN_LEAST = 3 };

typedef struct call {
    sm_us time_us;
    uint32_t cue;
} call;

static int call_compare(const void *left, const void *right) {
    const call *a = left, *b = right;
    if (a->time_us != b->time_us)
        return a->time_us < b->time_us ? -1 : 1;
    return a->cue < b->cue ? -1 : a->cue > b->cue;
}

// "A-01 B-01 fountain-gold".
static void say_firings(const sm_show *show, uint32_t cue, sm_text *out) {
    const sm_cue *row = &show->cues[cue];
    const uint32_t count = sm_cue_event_count(show, cue);
    for (uint32_t i = 0; i < count; i++) {
        char slot[48];
        const sm_firing *firing = &show->firings[show->events[row->first_event + i].target];
        sm_text_printf(out, "%s ", sm_slot_format(show, firing->slot, slot));
        if (i + 1 == count)
            sm_text_printf(out, "%s", show->effects[firing->effect].name);
    }
}

// True where the COUNT events from FIRST on are of fixtures that follow one another in the table.
static bool is_run(const sm_show *show, uint32_t first, uint32_t count) {
    for (uint32_t i = 1; i < count; i++)
        if (show->events[first + i].target != show->events[first + i - 1].target + 1)
            return false;
    return count > 2;
}

// "par-1 to par-8 (8 units): dimmer=89 blue=255".
static void say_levels(const sm_show *show, uint32_t cue, sm_text *out) {
    const uint32_t first = show->cues[cue].first_event, count = sm_cue_event_count(show, cue);
    if (count == 0)
        return;
    if (is_run(show, first, count))
        sm_text_printf(out, "%s to %s (%u units)", show->fixtures[show->events[first].target].name,
                       show->fixtures[show->events[first + count - 1].target].name, count);
    else
        for (uint32_t i = 0; i < count; i++)
            sm_text_printf(out, "%s%s", i > 0 ? " " : "",
                           show->fixtures[show->events[first + i].target].name);
    sm_text_printf(out, ": ");
    sm_event_format_levels(show, first, out);
}

static bool is_flame(const sm_show *show, uint32_t cue) {
    const sm_event *event = &show->events[show->cues[cue].first_event];
    return sm_cue_event_count(show, cue) > 0 && show->profiles[show->fixtures[event->target].profile].flame;
}

static bool is_light(const sm_show *show, uint32_t cue) {
    return show->cues[cue].kind == SM_CUE_SET && !is_flame(show, cue);
}

// How many of the COUNT cues from CALLS on are of light alone and too close to one another to be called.
static uint32_t run_of_light(const sm_show *show, const call *calls, uint32_t count) {
    uint32_t run = 0;
    while (run < count && is_light(show, calls[run].cue) &&
           (run == 0 || calls[run].time_us - calls[run - 1].time_us < CALLED_APART_US))
        run++;
    return run >= RUN_LEAST ? run : 0;
}

static void put_run(paper_kit *kit, const sm_show *show, const call *calls, uint32_t count) {
    char id[12], clock[24];
    const call *last = &calls[count - 1];
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, sm_cue_id(show, calls->cue, id));
    paper_put(kit, PAPER_TEXT, "to %s", sm_cue_id(show, last->cue, id));
    paper_text_cell(kit, PAPER_TEXT, "%s", sm_clock_format(clock, calls->time_us));
    paper_put(kit, PAPER_TEXT, "to %s", sm_clock_format(clock, last->time_us));
    paper_text_cell(kit, PAPER_TEXT, "%u cues of light alone, too close to call", count);
    paper_text_cell(kit, PAPER_TEXT, "%s", sm_show_text(show, show->cues[calls->cue].note));
    paper_row_end(kit);
}

static void put_call(paper_kit *kit, const sm_show *show, uint32_t cue) {
    const sm_cue *row = &show->cues[cue];
    const bool fires = row->kind == SM_CUE_FIRE;
    const paper_type type = is_light(show, cue) ? PAPER_TEXT : PAPER_STRONG;
    char id[12], clock[24];
    sm_text what = {0};
    if (fires)
        say_firings(show, cue, &what);
    else
        say_levels(show, cue, &what);
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, sm_cue_id(show, cue, id));
    paper_text_cell(kit, type, "%s", sm_clock_format(clock, row->time_us));
    paper_text_cell(kit, type, "%s", sm_text_get(&what));
    paper_text_cell(kit, PAPER_TEXT, "%s", sm_show_text(show, row->note));
    paper_row_end(kit);
    kit->failed = kit->failed || what.failed;
    paper_text_done(kit, &what);
}

void paper_make_calls(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {
        {"cue", 84, false}, {"seen at", 88, false}, {"what", 346, false}, {"note", 200, false}};
    const sm_show *show = facts->show;
    (void)index;
    paper_subject(kit, "every cue, in the order seen");
    paper_paragraph(
        kit, PAPER_TEXT,
        "Called by number, a few seconds ahead. Bold: something is fired, or a flame unit is told.");
    call *calls = malloc(((size_t)show->cue_count + 1) * sizeof *calls);
    if (!calls) {
        kit->failed = true;
        return;
    }
    for (uint32_t i = 0; i < show->cue_count; i++)
        calls[i] = (call){show->cues[i].time_us, i};
    qsort(calls, show->cue_count, sizeof *calls, call_compare);
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 27);
    for (uint32_t i = 0; i < show->cue_count;) {
        const uint32_t run = run_of_light(show, &calls[i], show->cue_count - i);
        if (run > 0)
            put_run(kit, show, &calls[i], run);
        else
            put_call(kit, show, calls[i].cue);
        i += run > 0 ? run : 1;
    }
    paper_table_end(kit);
    free(calls);
}
