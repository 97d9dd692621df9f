// SPDX-License-Identifier: GPL-3.0-or-later
// The one table of modes. No mode refers to it.
#ifndef SLOWMATCH_CONSOLE_MODES_MODES_H
#define SLOWMATCH_CONSOLE_MODES_MODES_H

#include "console/modes/mode.h"

const sm_mode *sm_mode_of(sm_ui_mode mode);

#endif
