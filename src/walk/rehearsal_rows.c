// SPDX-License-Identifier: GPL-3.0-or-later
// What rows of a rehearsal's log mean to a walk.
#include "slowmatch/walk.h"

#include <string.h>

typedef struct meaning {
    sm_act act;                 // of the row
    const char *before, *after; // its words: what stands before and after the row's target
    bool named;                 // the target stands between them
} meaning;

static const meaning changes[] = {
    {SM_ACT_READ, "new reading of ", "", true},
    {SM_ACT_MEASURE, "measured anew", "", false},
    {SM_ACT_ENTER, "", " went in", true},
    {SM_ACT_PLUG, "rail ", " plugged", true},
    {SM_ACT_UNPLUG, "rail ", " unplugged", true},
    {SM_ACT_REPAIR, "", SM_WALK_REPAIRED, true},
    {SM_ACT_EXCHANGE, "rail ", " plugged elsewhere", true},
};

static bool is_over(const char *speed, double limit_m_s) {
    double wind_m_s;
    return sm_measure_read(SM_QUANTITY_SPEED, speed, strlen(speed), &wind_m_s) == SM_OK &&
           wind_m_s > limit_m_s;
}

// The words of the change that the row is; nothing where it is none.
static void describe(sm_log_kind kind, const char *target, double wind_limit_m_s, sm_text *out) {
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++)
        if (sm_log_is_act(kind, changes[i].act))
            sm_text_printf(out, "%s%s%s", changes[i].before, changes[i].named ? target : "",
                           changes[i].after);
    if (sm_log_is_act(kind, SM_ACT_WIND) && is_over(target, wind_limit_m_s))
        sm_text_printf(out, "wind %s, over the limit", target);
}

static sm_result read_tick(const sm_walk_list *list, const char *target, const char *detail,
                           sm_unix_us when_us, sm_arena *arena, sm_walk_said *out) {
    uint32_t item = sm_walk_item_find(list, target);
    sm_walk_said said = {.kind = SM_WALK_SAID_TICK};
    if (item == SM_NONE)
        return SM_OK;
    sm_result result = sm_walk_tick_read(&list->items[item], detail, arena, &said.tick);
    if (result != SM_OK)
        return result == SM_INVALID ? SM_OK : result;
    said.tick.when_us = when_us;
    *out = said;
    return SM_OK;
}

sm_result sm_walk_row_read(const sm_walk_list *list, double wind_limit_m_s, sm_log_kind kind,
                           const char *target, const char *detail, sm_unix_us when_us, sm_arena *arena,
                           sm_walk_said *out) {
    *out = (sm_walk_said){.kind = SM_WALK_SAID_NOTHING};
    if (sm_log_is_act(kind, SM_ACT_TICK))
        return read_tick(list, target, detail, when_us, arena, out);
    if (sm_log_is_act(kind, SM_ACT_UNDO)) {
        out->kind = strcmp(detail, "tick") == 0 ? SM_WALK_SAID_UNTICK : SM_WALK_SAID_NOTHING;
        return SM_OK;
    }
    sm_text words = {0};
    bool is_sign = sm_log_is_act(kind, SM_ACT_SIGN);
    if (is_sign)
        sm_text_printf(&words, "%s", target);
    else
        describe(kind, target, wind_limit_m_s, &words);
    const char *kept = words.length > 0 ? sm_arena_text(arena, words.bytes, words.length) : NULL;
    bool no_memory = words.failed || (words.length > 0 && !kept);
    if (kept && is_sign)
        *out = (sm_walk_said){.kind = SM_WALK_SAID_SIGN,
                              .sign = {kept, when_us, list->content, list->hash, NULL}};
    else if (kept)
        *out = (sm_walk_said){.kind = SM_WALK_SAID_CHANGE, .change = {kept, when_us}};
    sm_text_deinit(&words);
    return no_memory ? SM_NO_MEMORY : SM_OK;
}
