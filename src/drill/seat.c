// SPDX-License-Identifier: GPL-3.0-or-later
// Seats: of all that a file says, what holds for one of them.
#include "drill/read.h"

#include <assert.h>
#include <string.h>

// What the file says of all seats; a drill's own arrays are picked out of it.
typedef struct sm_drill_whole {
    sm_drill all;
    bool spotter; // it says anything of that seat
} sm_drill_whole;

static const char *const names[] = {[SM_SEAT_LEAD] = "lead", [SM_SEAT_SPOTTER] = "spotter"};
static_assert(sizeof names / sizeof names[0] == SM_SEAT_COUNT, "a name for each seat");

const char *sm_drill_seat_text(sm_drill_seat seat) {
    assert((unsigned)seat < SM_SEAT_COUNT);
    return names[seat];
}

bool sm_drill_seat_named(const char *name, sm_drill_seat *out) {
    for (int seat = 0; seat < SM_SEAT_COUNT; seat++)
        if (strcmp(name, names[seat]) == 0) {
            *out = (sm_drill_seat)seat;
            return true;
        }
    return false;
}

// ---- picking --------------------------------------------------------------------------------------

typedef struct picker {
    sm_arena *arena;
    sm_drill_seat seat;
    const bool *crews; // of the rows being picked: the spotter's that hold in a crew; NULL: none
    bool no_memory;
} picker;

// The rows of ROWS that hold in the seat, in a new array; *count how many; MAP (may be NULL) their new rows by their old ones.
static void *pick(picker *p, const void *rows, uint32_t all, size_t size, size_t seat_at, uint32_t *map,
                  uint32_t *count) {
    char *picked = sm_arena_alloc(p->arena, (all + 1u) * size);
    *count = 0;
    p->no_memory = p->no_memory || !picked;
    for (uint32_t i = 0; i < all && picked; i++) {
        const char *row = (const char *)rows + i * size;
        sm_drill_for held;
        memcpy(&held, row + seat_at, sizeof held);
        bool holds = held == SM_FOR_BOTH || (unsigned)held == (unsigned)p->seat || (p->crews && p->crews[i]);
        if (map)
            map[i] = holds ? *count : SM_NONE;
        if (holds)
            memcpy(picked + (*count)++ * size, row, size);
    }
    return picked;
}

#define PICK(field, count_field, type, map)                                                                  \
    out->field =                                                                                             \
        pick(p, all->field, all->count_field, sizeof(type), offsetof(type, seat), map, &out->count_field)

// What it waits for is not in this seat: it never comes.
static void follow(sm_drill_when *when, const uint32_t *events, const uint32_t *expects) {
    if (when->on != SM_ON_EVENT && when->on != SM_ON_EXPECT)
        return;
    when->index = when->on == SM_ON_EVENT ? events[when->index] : expects[when->index];
    if (when->index == SM_NONE)
        when->on = SM_ON_NOTHING;
}

// Which rows of the spotter's hold in a crew, by what each waits for.
typedef struct crew_rows {
    bool *expects, *spokens, *nevers;
} crew_rows;

static bool comes_in_crew(const sm_drill *all, const bool *expects, const sm_drill_when *when) {
    if (when->on == SM_ON_EVENT)
        return all->events[when->index].seat != SM_FOR_SPOTTER;
    if (when->on == SM_ON_EXPECT)
        return all->expects[when->index].seat != SM_FOR_SPOTTER || expects[when->index];
    return true;
}

// False: no memory.
static bool find_crew_rows(sm_arena *arena, const sm_drill *all, crew_rows *out) {
    out->expects = sm_arena_alloc(arena, all->expect_count + 1u);
    out->spokens = sm_arena_alloc(arena, all->spoken_count + 1u);
    out->nevers = sm_arena_alloc(arena, all->never_count + 1u);
    if (!out->expects || !out->spokens || !out->nevers)
        return false;
    memset(out->expects, 0, all->expect_count);
    memset(out->nevers, 1, all->never_count);
    for (bool any = true; any;) {
        any = false;
        for (uint32_t i = 0; i < all->expect_count; i++) {
            bool comes = comes_in_crew(all, out->expects, &all->expects[i].after);
            any = any || (comes && !out->expects[i]);
            out->expects[i] = comes;
        }
    }
    for (uint32_t i = 0; i < all->spoken_count; i++)
        out->spokens[i] = comes_in_crew(all, out->expects, &all->spokens[i].after);
    return true;
}

static void pick_all(picker *p, const sm_drill *all, const crew_rows *crew, uint32_t *events,
                     uint32_t *expects, sm_drill *out) {
    PICK(events, event_count, sm_drill_event, events);
    PICK(befores, before_count, sm_drill_before, NULL);
    p->crews = crew->expects;
    PICK(expects, expect_count, sm_drill_expect, expects);
    p->crews = crew->nevers;
    PICK(nevers, never_count, sm_drill_never, NULL);
    p->crews = crew->spokens;
    PICK(spokens, spoken_count, sm_drill_spoken, NULL);
    out->lead_count = p->seat == SM_SEAT_SPOTTER ? all->lead_count : 0;
    out->leads = sm_arena_alloc(p->arena, (all->lead_count + 1u) * sizeof *out->leads);
    p->no_memory = p->no_memory || !out->leads;
    if (p->no_memory)
        return;
    memcpy(out->leads, all->leads, out->lead_count * sizeof *out->leads);
    out->ends = all->ends;
    follow(&out->ends, events, expects);
    for (uint32_t i = 0; i < out->event_count; i++)
        follow(&out->events[i].when, events, expects);
    for (uint32_t i = 0; i < out->expect_count; i++)
        follow(&out->expects[i].after, events, expects);
    for (uint32_t i = 0; i < out->spoken_count; i++)
        follow(&out->spokens[i].after, events, expects);
    for (uint32_t i = 0; i < out->lead_count; i++)
        follow(&out->leads[i].after, events, expects);
}

bool sm_drill_has_seat(const sm_drill *drill, sm_drill_seat seat) {
    return seat == SM_SEAT_LEAD || drill->whole->spotter;
}

static sm_result sit(sm_drill *drill, sm_drill_seat seat, const crew_rows *crew) {
    const sm_drill *all = &drill->whole->all;
    picker p = {.arena = drill->arena, .seat = seat};
    uint32_t *events = sm_arena_alloc(p.arena, (all->event_count + 1u) * sizeof *events);
    uint32_t *expects = sm_arena_alloc(p.arena, (all->expect_count + 1u) * sizeof *expects);
    if (!events || !expects)
        return SM_NO_MEMORY;
    sm_drill taken = *drill;
    pick_all(&p, all, crew, events, expects, &taken);
    if (p.no_memory)
        return SM_NO_MEMORY;
    taken.seat = seat;
    *drill = taken;
    drill->briefs = drill->told[seat];
    drill->brief_count = 0;
    while (drill->brief_count < SM_DRILL_BRIEFS && drill->briefs[drill->brief_count] &&
           drill->briefs[drill->brief_count][0] != '\0')
        drill->brief_count++;
    return SM_OK;
}

sm_result sm_drill_sit(sm_drill *drill, sm_drill_seat seat) {
    return sm_drill_has_seat(drill, seat) ? sit(drill, seat, &(crew_rows){0}) : SM_NOT_FOUND;
}

sm_result sm_drill_sit_crew(sm_drill *drill) {
    crew_rows crew;
    return find_crew_rows(drill->arena, &drill->whole->all, &crew) ? sit(drill, SM_SEAT_LEAD, &crew)
                                                                   : SM_NO_MEMORY;
}

// ---- the whole --------------------------------------------------------------------------------------

static bool says_anything(const sm_drill *d) {
    bool says = d->lead_count > 0 || d->told[SM_SEAT_SPOTTER][0][0] != '\0';
    for (uint32_t i = 0; i < d->expect_count; i++)
        says = says || d->expects[i].seat != SM_FOR_LEAD;
    for (uint32_t i = 0; i < d->never_count; i++)
        says = says || d->nevers[i].seat != SM_FOR_LEAD;
    for (uint32_t i = 0; i < d->spoken_count; i++)
        says = says || d->spokens[i].seat != SM_FOR_LEAD;
    for (uint32_t i = 0; i < d->before_count; i++)
        says = says || d->befores[i].seat != SM_FOR_LEAD;
    return says;
}

bool drill_keep_whole(sm_drill *drill) {
    sm_drill_whole *whole = sm_arena_alloc(drill->arena, sizeof *whole);
    if (!whole)
        return false;
    whole->all = *drill;
    whole->spotter = says_anything(drill);
    drill->whole = whole;
    return sm_drill_sit(drill, SM_SEAT_LEAD) == SM_OK;
}
