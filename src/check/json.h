// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_CHECK_JSON_H
#define SLOWMATCH_CHECK_JSON_H

#include "slowmatch/base.h"

// "NAME": before a value, with a comma in front where *MORE; sets *MORE.
void check_json_key(sm_text *out, bool *more, const char *name);
void check_json_text(sm_text *out, bool *more, const char *name, const char *value);
// NAN and infinities are null.
void check_json_number(sm_text *out, bool *more, const char *name, double value);
void check_json_integer(sm_text *out, bool *more, const char *name, int64_t value);

#endif
