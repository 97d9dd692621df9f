// SPDX-License-Identifier: GPL-3.0-or-later
// What every text file must be before it is read any further.
#ifndef SM_SHOW_TEXT_H
#define SM_SHOW_TEXT_H

#include "slowmatch/base.h"

// Nothing but printable ASCII, tabs and line ends.
bool sm_text_is_plain(const char *bytes, size_t length);

// Reports (rule text) what in the LINE at BYTES is no UTF-8 or a control character, once, and puts '?' in its place so
// that reading can go on. Tabs and line ends pass.
void sm_text_clean_line(const char *file, uint32_t line, char *bytes, size_t length, sm_findings *findings);

// Bytes of a byte order mark at the beginning, 0 or 3.
size_t sm_text_bom(const char *bytes, size_t length);

#endif
