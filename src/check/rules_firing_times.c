// SPDX-License-Identifier: GPL-3.0-or-later
// What a module can do in a short time: the gap between two firings, and how many within one pulse. All by fire time.
//
// The firings of a module are taken in order of time (table order where equal). A firing clashes with an earlier row of
// the table when one stands less than a gap away, before or after, though not at the same instant; so for each firing
// the least row number within the gap on either side is needed: a sliding least over a queue of rising row numbers, once
// forwards and once backwards. Firings are numbered in table order, so a firing's number serves as its row.
#include "check/rule.h"

#include <stdlib.h>
#include <string.h>

typedef struct shot {
    sm_us fire_us;
    uint32_t module, firing;
} shot;

static int compare_shots(const void *left, const void *right) {
    const shot *a = left, *b = right;
    if (a->module != b->module)
        return a->module < b->module ? -1 : 1;
    if (a->fire_us != b->fire_us)
        return a->fire_us < b->fire_us ? -1 : 1;
    return a->firing < b->firing ? -1 : a->firing > b->firing;
}

static sm_us apart_us(const shot *a, const shot *b) {
    return a->fire_us < b->fire_us ? b->fire_us - a->fire_us : a->fire_us - b->fire_us;
}

// For each of COUNT shots, walked from FIRST in steps of STEP (1 or -1), the least firing among those walked before that
// stand less than GAP_US away and not at the same instant: LEAST keeps the lesser of it and what it holds. QUEUE has
// room for COUNT.
static void sweep_least(const shot *first, size_t count, int step, sm_us gap_us, uint32_t *least,
                        const shot **queue) {
    size_t head = 0, tail = 0, entered = 0;
    for (size_t i = 0; i < count; i++) {
        const shot *here = first + (ptrdiff_t)i * step;
        for (; apart_us(first + (ptrdiff_t)entered * step, here) > 0; entered++) {
            const shot *enters = first + (ptrdiff_t)entered * step;
            while (tail > head && queue[tail - 1]->firing >= enters->firing)
                tail--;
            queue[tail++] = enters;
        }
        while (head < tail && apart_us(queue[head], here) >= gap_us)
            head++;
        if (head < tail && queue[head]->firing < least[here->firing])
            least[here->firing] = queue[head]->firing;
    }
}

static void put_gap(sm_check *check, const sm_module *module, uint32_t later, uint32_t earlier) {
    const sm_show *show = check->show;
    const sm_firing *a = &show->firings[later], *b = &show->firings[earlier];
    const sm_us between_us = a->fire_us > b->fire_us ? a->fire_us - b->fire_us : b->fire_us - a->fire_us;
    char slot[48], other[48];
    check_put(check, "gap-short", check_at_event(check, a->event, "time"),
              (check_figures){FIGURE_SPAN, (double)between_us, (double)module->gap_us, NULL},
              "%s fires %s %s %s (line %u); module %s needs %s between two firings, or the same instant",
              sm_slot_format(show, a->slot, slot), SPAN(between_us),
              a->fire_us > b->fire_us ? "after" : "before", sm_slot_format(show, b->slot, other),
              show->cues[show->events[b->event].cue].line, module->name, SPAN(module->gap_us));
}

static void judge_gaps(sm_check *check, const shot *shots, size_t count, uint32_t *least,
                       const shot **queue) {
    const sm_module *module = &check->show->modules[shots->module];
    sweep_least(shots, count, 1, module->gap_us, least, queue);
    sweep_least(shots + count - 1, count, -1, module->gap_us, least, queue);
    for (size_t i = 0; i < count; i++)
        if (least[shots[i].firing] < shots[i].firing)
            put_gap(check, module, shots[i].firing, least[shots[i].firing]);
}

static void put_crowd(sm_check *check, const sm_module *module, const shot *first, const shot *last) {
    const double most = (double)(last - first) + 1.0;
    const shot *row = first;
    for (const shot *s = first; s <= last; s++)
        if (s->firing > row->firing)
            row = s;
    check_put(check, "too-many-at-once",
              check_at_event(check, check->show->firings[row->firing].event, "time"),
              (check_figures){FIGURE_PLAIN, most, module->at_once, "firings"},
              "module %s fires %.0f slots within one pulse of %s from %s on; at most %d at once",
              module->name, most, SPAN(module->pulse_us), MOMENT(first->fire_us), module->at_once);
}

// One finding a crowd: neighbouring windows over the limit that share a firing are one, told by its fullest window.
static void judge_crowds(sm_check *check, const shot *shots, size_t count) {
    const sm_module *module = &check->show->modules[shots->module];
    const shot *from = shots;
    const shot *most_from = NULL, *most_to = NULL;
    const shot *crowd_end = NULL;
    for (const shot *to = shots; to < shots + count; to++) {
        while (to->fire_us - from->fire_us >= module->pulse_us && from < to)
            from++;
        if (to - from + 1 <= module->at_once)
            continue;
        if (crowd_end && from > crowd_end) {
            put_crowd(check, module, most_from, most_to);
            most_from = NULL;
        }
        if (!most_from || to - from > most_to - most_from) {
            most_from = from;
            most_to = to;
        }
        crowd_end = to;
    }
    if (most_from)
        put_crowd(check, module, most_from, most_to);
}

static size_t collect_shots(const sm_show *show, shot *shots) {
    size_t count = 0;
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const uint32_t module = show->rails[show->slot_rails[show->firings[i].slot]].module;
        if (module != SM_NONE)
            shots[count++] = (shot){show->firings[i].fire_us, module, i};
    }
    qsort(shots, count, sizeof *shots, compare_shots);
    return count;
}

sm_result check_firing_times(sm_check *check) {
    const size_t size = (size_t)check->show->firing_count + 1;
    shot *shots = sm_arena_alloc(check->arena, size * sizeof *shots);
    uint32_t *least = sm_arena_alloc(check->arena, size * sizeof *least);
    const shot **queue = sm_arena_alloc(check->arena, size * sizeof *queue);
    if (!shots || !least || !queue)
        return SM_NO_MEMORY;
    memset(least, 0xFF, size * sizeof *least);
    const size_t count = collect_shots(check->show, shots);
    for (size_t first = 0, end = 0; first < count; first = end) {
        while (end < count && shots[end].module == shots[first].module)
            end++;
        judge_gaps(check, shots + first, end - first, least, queue);
        judge_crowds(check, shots + first, end - first);
    }
    return SM_OK;
}
