// SPDX-License-Identifier: GPL-3.0-or-later
// The tables of a new show.
#ifndef SM_IMPORT_WRITE_H
#define SM_IMPORT_WRITE_H

#include "import/work.h"

typedef struct import_new {
    sm_text settings, modules, rails, effects, profiles, fixtures; // the last two empty without lights
} import_new;

void import_write_new(const import_work *work, const char *title, import_new *out);

#endif
