// SPDX-License-Identifier: GPL-3.0-or-later
// A small show's site, of which a test changes the files and walks over it.
#ifndef SLOWMATCH_TESTS_WALK_SITE_H
#define SLOWMATCH_TESTS_WALK_SITE_H

#include "slowmatch/walk.h"

typedef struct walk_site {
    char folder[64];
    sm_show *show;
    sm_walk_list *list;
    sm_arena *texts; // of answers that are read
} walk_site;

// A test with a site of its own, which its state points to: the small show (support/folder.h), loaded.
#define ON_WALK_SITE(test) cmocka_unit_test_setup_teardown(test, walk_site_open, walk_site_close)
int walk_site_open(void **state);
int walk_site_close(void **state);

// Reads the files anew, as they are now; what was asked before is gone.
void walk_site_load(walk_site *site);
// Fails the test where nothing of this name is asked.
const sm_walk_item *walk_site_item(const walk_site *site, const char *id);

#endif
