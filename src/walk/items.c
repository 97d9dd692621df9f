// SPDX-License-Identifier: GPL-3.0-or-later
// The items of a show, in walking order.
#include "walk/list.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// ---- what is asked everywhere, and the user's own -----------------------------------------

// An item is one word for `tick`.
static void put_id(sm_text *out, const char *name) {
    for (; *name != '\0'; name++)
        sm_text_append(out, *name == ' ' || *name == '\t' || *name == '\n' || *name == '\r' ? "-" : name, 1);
}

static bool is_own(const sm_show *show, const char *id) {
    for (uint32_t i = 0; i < show->walk_row_count; i++)
        if (sm_check_is_site_item(&show->walk_rows[i], id))
            return true;
    return false;
}

static void add_site(sm_walk_maker *maker, bool last) {
    size_t count;
    const sm_check_site_item *rows = sm_check_site_items(&count);
    for (size_t i = 0; i < count; i++) {
        if (rows[i].last != last || !sm_check_site_item_asked(maker->list->show, &rows[i]) ||
            is_own(maker->list->show, rows[i].id))
            continue;
        sm_text_printf(&maker->id, "%s", rows[i].id);
        sm_text_printf(&maker->ask, "%s", rows[i].ask);
        sm_walk_add(maker, (sm_walk_item){.kind = SM_WALK_SITE,
                                          .position = SM_NONE,
                                          .index = SM_NONE,
                                          .hold = rows[i].hold,
                                          .least = NAN});
    }
}

static uint32_t own_position(const sm_show *show, const sm_walk_row *row) {
    return row->where[0] != '\0' ? sm_position_find(show, row->where) : SM_NONE;
}

// Rows of walk.csv at POSITION. A later row of the same item stands in place of an earlier one.
static void add_own(sm_walk_maker *maker, uint32_t position) {
    const sm_show *show = maker->list->show;
    for (uint32_t i = 0; i < show->walk_row_count; i++) {
        const sm_walk_row *row = &show->walk_rows[i];
        bool again = false;
        for (uint32_t k = i + 1; k < show->walk_row_count && !again; k++)
            again = strcmp(show->walk_rows[k].item, row->item) == 0;
        if (again || own_position(show, row) != position)
            continue;
        put_id(&maker->id, row->item);
        sm_text_printf(&maker->ask, "%s", row->ask);
        if (row->where[0] != '\0' && position == SM_NONE)
            sm_text_printf(&maker->detail, "where: %s\n", row->where);
        sm_walk_add(maker, (sm_walk_item){.kind = SM_WALK_OWN,
                                          .position = position,
                                          .index = SM_NONE,
                                          .expect = row->expect,
                                          .hold = row->hold,
                                          .least = NAN});
    }
}

// ---- the places ---------------------------------------------------------------------------------

static uint32_t first_place(const sm_show *show) {
    for (uint32_t i = 0; i < show->line_count; i++)
        if (show->lines[i].source != SM_NONE)
            return show->lines[i].source;
    return 0;
}

static bool is_walked(const sm_show *show, uint32_t position) {
    for (uint32_t i = 0; i < show->rail_count; i++)
        if (show->rails[i].position == position)
            return true;
    for (uint32_t i = 0; i < show->fixture_count; i++)
        if (show->fixtures[i].position == position)
            return true;
    for (uint32_t i = 0; i < show->walk_row_count; i++)
        if (own_position(show, &show->walk_rows[i]) == position)
            return true;
    return false;
}

static bool lay_route(sm_walk_maker *maker) {
    sm_walk_list *list = maker->list;
    const sm_show *show = list->show;
    uint32_t room = show->position_count > 0 ? show->position_count : 1;
    sm_walk_point *points = calloc(room, sizeof *points);
    uint32_t *places = calloc(room, sizeof *places);
    uint32_t *order = calloc(room, sizeof *order);
    list->route = sm_arena_alloc(list->arena, room * sizeof *list->route);
    bool made = points && places && order && list->route;
    uint32_t count = 0, first = first_place(show);
    for (uint32_t i = 0; made && i < show->position_count; i++)
        if (i == first || is_walked(show, i)) {
            points[count] = (sm_walk_point){show->positions[i].x_m, show->positions[i].y_m};
            places[count++] = i;
        }
    uint32_t start = 0;
    while (made && start < count && places[start] != first)
        start++;
    if (made && count > 0)
        sm_walk_route(points, count, start, order, &list->metres);
    for (uint32_t i = 0; made && i < count; i++)
        list->route[i] = places[order[i]];
    list->route_count = count;
    free(points);
    free(places);
    free(order);
    return made;
}

static void add_places(sm_walk_maker *maker) {
    for (uint32_t i = 0; i < maker->list->route_count; i++) {
        uint32_t position = maker->list->route[i];
        sm_walk_add_distance(maker, position);
        sm_walk_add_fixtures(maker, position);
        sm_walk_add_rails(maker, position);
        add_own(maker, position);
    }
}

// A round of its own, the same way once more: a data cable that is pulled at one place takes the units of others with it, so no unit is
// fuelled while any is still tried without.
static void add_fuel(sm_walk_maker *maker) {
    for (uint32_t i = 0; i < maker->list->route_count; i++)
        sm_walk_add_fuel(maker, maker->list->route[i]);
    sm_walk_add_fuel(maker, SM_NONE);
}

static sm_result hash_list(sm_walk_list *list) {
    sm_text all = {0};
    for (uint32_t i = 0; i < list->count; i++)
        sm_text_printf(&all, "%s\n", list->items[i].hash.hex);
    bool made = !all.failed;
    if (made)
        list->hash = sm_walk_hash_bytes(sm_text_get(&all), all.length);
    sm_text_deinit(&all);
    return made ? SM_OK : SM_NO_MEMORY;
}

// ---- the list -----------------------------------------------------------------------------------

static bool keep_verdicts(sm_walk_maker *maker) {
    sm_walk_list *list = maker->list;
    size_t bytes = list->show->slot_count * sizeof *list->verdicts;
    list->verdicts = sm_arena_alloc(list->arena, bytes > 0 ? bytes : 1);
    if (list->verdicts && bytes > 0)
        memcpy(list->verdicts, maker->rig->verdicts, bytes);
    return list->verdicts != NULL;
}

static sm_result fill(sm_walk_maker *maker, const sm_rig_set *set, sm_rig_report **rig,
                      sm_check_summary **summary) {
    const sm_show *show = maker->list->show;
    sm_result result = sm_rig_report_create(show, set, 1, rig);
    if (result == SM_OK)
        result = sm_check_summary_create(show, summary);
    if (result != SM_OK)
        return result;
    maker->rig = *rig;
    maker->summary = *summary;
    if (!keep_verdicts(maker) || !lay_route(maker))
        return SM_NO_MEMORY;
    add_site(maker, false);
    add_own(maker, SM_NONE);
    add_places(maker);
    sm_walk_add_fixtures(maker, SM_NONE);
    sm_walk_add_rails(maker, SM_NONE);
    add_fuel(maker);
    add_site(maker, true);
    return maker->no_memory ? SM_NO_MEMORY : hash_list(maker->list);
}

sm_result sm_walk_list_create(const sm_show *show, const sm_walk_hash *music, sm_walk_list **out) {
    sm_walk_list *list = calloc(1, sizeof *list);
    if (!list)
        return SM_NO_MEMORY;
    list->show = show;
    list->arena = sm_arena_create();
    sm_walk_maker maker = {.list = list};
    const sm_rig_set set = {"readings.csv", show->readings, show->reading_count};
    sm_rig_report *rig = NULL;
    sm_check_summary *summary = NULL;
    sm_result result = list->arena ? SM_OK : SM_NO_MEMORY;
    if (result == SM_OK && music)
        result = sm_walk_content(show, music, &list->content);
    if (result == SM_OK)
        result = fill(&maker, &set, &rig, &summary);
    sm_rig_report_destroy(rig);
    sm_check_summary_destroy(summary);
    sm_text_deinit(&maker.id);
    sm_text_deinit(&maker.ask);
    sm_text_deinit(&maker.detail);
    if (result == SM_OK)
        *out = list;
    else
        sm_walk_list_destroy(list);
    return result;
}

void sm_walk_list_destroy(sm_walk_list *list) {
    if (!list)
        return;
    sm_arena_destroy(list->arena);
    free(list);
}

uint32_t sm_walk_item_find(const sm_walk_list *list, const char *id) {
    for (uint32_t i = 0; i < list->count; i++)
        if (strcmp(list->items[i].id, id) == 0)
            return i;
    return SM_NONE;
}
