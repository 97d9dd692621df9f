// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_WALK_NAMES_H
#define SLOWMATCH_WALK_NAMES_H

#include <stdbool.h>

// The same person, however it was typed: case and blanks round a name do not count. UTF-8.
bool sm_walk_name_same(const char *a, const char *b);

#endif
