// SPDX-License-Identifier: GPL-3.0-or-later
// What the files of readers.h share: what each reader is given, and the functions that its one table (readers.c) names.
#ifndef SLOWMATCH_TESTS_READERS_OWN_H
#define SLOWMATCH_TESTS_READERS_OWN_H

#include "slowmatch/drill.h"

#define READERS_SHOW "demo-shows/first-light"

// Of readers_begin.
const sm_show *readers_show(void);
const sm_drill *readers_drill(void);
// The caller frees it: some readers put '?' for what is harmful in place.
char *readers_copy(const char *bytes, size_t length);

#define READER(name)                                                                                         \
    void readers_take_##name(const char *file, const char *bytes, size_t length);                            \
    bool readers_seed_##name(const char *file, size_t i, sm_text *out)
// Lists of other programs (readers_lists.c); what is taken from an archive is taken as a list is.
READER(list);
READER(map);
READER(xlsx);
READER(ods);
bool readers_seed_archive(const char *file, size_t i, sm_text *out);
// What comes in by wire (readers_wire.c).
READER(messages);
READER(sacn);
READER(ltc);
READER(instructor);
#undef READER

#endif
