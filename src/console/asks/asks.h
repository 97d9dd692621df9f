// SPDX-License-Identifier: GPL-3.0-or-later
// What lines of text are asked for. Each asks, and does what was typed.
#ifndef SLOWMATCH_CONSOLE_ASKS_ASKS_H
#define SLOWMATCH_CONSOLE_ASKS_ASKS_H

#include "console/ui.h"

// Any action; the line begins with INITIAL.
void sm_ask_command(sm_ui *ui, const char *initial);
// The arguments of ACT.
void sm_ask_arguments(sm_ui *ui, sm_act act);
// A line that is the chosen board's own.
void sm_ask_for_board(sm_ui *ui, const char *label);
// A file of readings.
void sm_ask_readings(sm_ui *ui);
// A start at a clock time; where one is set it is taken back instead.
void sm_ask_start_at(sm_ui *ui);
// What call tones are for.
void sm_ask_calls(sm_ui *ui);
// A tick at each cue, or none: no line is asked for.
void sm_toggle_ticks(sm_ui *ui);
// The question about lights on a wire: begun; and an answer to the one that stands.
void sm_begin_lights(sm_ui *ui);
void sm_ask_lights(sm_ui *ui);
// A sound device, out of a list.
void sm_ask_device(sm_ui *ui);

#endif
