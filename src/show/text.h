// SPDX-License-Identifier: GPL-3.0-or-later
// What every text file must be before it is read any further.
#ifndef SM_SHOW_TEXT_H
#define SM_SHOW_TEXT_H

#include "slowmatch/base.h"

// Reports (rule text), once a line, what is no UTF-8 or a control character, and puts '?' in its place so
// that reading can go on. Tabs and line ends pass. Returns true when there was nothing to report.
bool sm_text_clean(const char *file, char *bytes, size_t length, sm_findings *findings);

// Bytes of a byte order mark at the beginning, 0 or 3.
size_t sm_text_bom(const char *bytes, size_t length);

#endif
