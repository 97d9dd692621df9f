// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef LINK_TO_COME_H
#define LINK_TO_COME_H

#include "slowmatch/drill.h"

// Appends for the instructor, a line each, what RUN has still to come and what has come: events, what is asked for, what is to be said
// aloud; then what is next for the trainee.
void link_put_to_come(const sm_drill_run *run, sm_text *out);

#endif
