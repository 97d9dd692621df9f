// SPDX-License-Identifier: GPL-3.0-or-later
// Puts one item into the list, with its hash.
#include "walk/list.h"

#include <string.h>

// Fields are told apart by their lengths, so that no two items share a text by chance.
static void hash_field(sm_text *out, const char *field) {
    sm_text_printf(out, "%zu:%s\n", strlen(field), field);
}

static bool hash_item(sm_walk_item *item) {
    sm_text all = {0};
    hash_field(&all, item->id);
    hash_field(&all, item->ask);
    hash_field(&all, item->detail);
    hash_field(&all, item->expect);
    sm_text_printf(&all, "%d %d %.6f\n", item->hold, item->measured, item->least);
    if (!all.failed)
        item->hash = sm_walk_hash_bytes(all.bytes, all.length);
    bool made = !all.failed;
    sm_text_deinit(&all);
    return made;
}

static const char *keep(sm_walk_maker *maker, sm_text *text) {
    char *kept = sm_arena_text(maker->list->arena, sm_text_get(text), text->length);
    maker->no_memory = maker->no_memory || text->failed || !kept;
    sm_text_clear(text);
    return kept;
}

void sm_walk_add(sm_walk_maker *maker, sm_walk_item item) {
    sm_walk_list *list = maker->list;
    item.id = keep(maker, &maker->id);
    item.ask = keep(maker, &maker->ask);
    item.detail = keep(maker, &maker->detail);
    item.expect = item.expect ? item.expect : "yes";
    if (maker->no_memory)
        return;
    if (list->count == maker->capacity) {
        uint32_t capacity = maker->capacity > 0 ? maker->capacity * 2 : 64;
        sm_walk_item *grown = sm_arena_resize(list->arena, list->items, capacity * sizeof *grown);
        if (!grown) {
            maker->no_memory = true;
            return;
        }
        list->items = grown;
        maker->capacity = capacity;
    }
    list->items[list->count++] = item;
    maker->no_memory = !hash_item(&list->items[list->count - 1]);
}
