// SPDX-License-Identifier: GPL-3.0-or-later
#include "walk_site.h"

#include "folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

void walk_site_load(walk_site *site) {
    sm_walk_list_destroy(site->list);
    sm_show_destroy(site->show);
    site->show = folder_load(site->folder);
    site->list = NULL;
    assert_int_equal(sm_walk_list_create(site->show, &(sm_walk_hash){""}, &site->list), SM_OK);
}

int walk_site_open(void **state) {
    static walk_site site;
    site = (walk_site){.texts = sm_arena_create()};
    assert_non_null(site.texts);
    folder_make(site.folder);
    folder_small_show(site.folder);
    walk_site_load(&site);
    *state = &site;
    return 0;
}

int walk_site_close(void **state) {
    walk_site *site = *state;
    sm_walk_list_destroy(site->list);
    sm_show_destroy(site->show);
    sm_arena_destroy(site->texts);
    folder_remove(site->folder);
    return 0;
}

const sm_walk_item *walk_site_item(const walk_site *site, const char *id) {
    const uint32_t item = sm_walk_item_find(site->list, id);
    if (item == SM_NONE)
        fail_msg("no item %s", id);
    return &site->list->items[item];
}
