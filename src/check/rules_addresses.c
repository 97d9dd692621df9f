// SPDX-License-Identifier: GPL-3.0-or-later
// DMX addresses: within 1 to 512 with all channels, and no two fixtures on one.
#include "check/rule.h"

#include <math.h>
#include <stdlib.h>

enum { LAST_ADDRESS = 512 };

// A fixture's place in the order of universes, then of the table.
typedef struct patched {
    int32_t universe;
    uint32_t fixture;
} patched;

static int compare_patched(const void *left, const void *right) {
    const patched *a = left, *b = right;
    if (a->universe != b->universe)
        return a->universe < b->universe ? -1 : 1;
    return a->fixture < b->fixture ? -1 : a->fixture > b->fixture;
}

static int64_t last_address(const sm_show *show, const sm_fixture *fixture) {
    return (int64_t)fixture->address + show->profiles[fixture->profile].channel_count - 1;
}

static void judge_range(sm_check *check, const sm_fixture *fixture) {
    const int64_t last = last_address(check->show, fixture);
    if (fixture->address >= 1 && last <= LAST_ADDRESS)
        return;
    check_put(check, "address-range", (check_place){"fixtures.csv", fixture->line, "address"},
              (check_figures){FIGURE_PLAIN, fixture->address < 1 ? fixture->address : (double)last,
                              fixture->address < 1 ? 1 : LAST_ADDRESS, ""},
              "%s takes addresses %d to %lld of universe %d; 1 to 512 are there", fixture->name,
              fixture->address, (long long)last, fixture->universe);
}

// OWNERS[a] is one more than the fixture that has address a of this universe; 0: none yet.
static void judge_overlap(sm_check *check, uint32_t number, uint32_t owners[LAST_ADDRESS + 1]) {
    const sm_show *show = check->show;
    const sm_fixture *fixture = &show->fixtures[number];
    const int64_t last = last_address(show, fixture);
    bool told = false;
    for (int64_t a = fixture->address < 1 ? 1 : fixture->address; a <= last && a <= LAST_ADDRESS; a++) {
        if (owners[a] == 0) {
            owners[a] = number + 1;
        } else if (!told) {
            const sm_fixture *other = &show->fixtures[owners[a] - 1];
            check_put(check, "address-overlap", (check_place){"fixtures.csv", fixture->line, "address"},
                      (check_figures){FIGURE_PLAIN, (double)a, (double)NAN, "address"},
                      "%s and %s (line %u) share address %lld of universe %d", fixture->name, other->name,
                      other->line, (long long)a, fixture->universe);
            told = true;
        }
    }
}

sm_result check_addresses(sm_check *check) {
    const sm_show *show = check->show;
    patched *order = sm_arena_alloc(check->arena, ((size_t)show->fixture_count + 1) * sizeof *order);
    if (!order)
        return SM_NO_MEMORY;
    size_t count = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        if (show->fixtures[f].profile != SM_NONE)
            order[count++] = (patched){show->fixtures[f].universe, f};
    qsort(order, count, sizeof *order, compare_patched);
    uint32_t owners[LAST_ADDRESS + 1];
    for (size_t i = 0; i < count; i++) {
        if (i == 0 || order[i].universe != order[i - 1].universe)
            for (size_t a = 0; a <= LAST_ADDRESS; a++)
                owners[a] = 0;
        judge_range(check, &show->fixtures[order[i].fixture]);
        judge_overlap(check, order[i].fixture, owners);
    }
    return SM_OK;
}
