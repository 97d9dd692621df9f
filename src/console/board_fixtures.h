// SPDX-License-Identifier: GPL-3.0-or-later
// What is said about one fixture.
#ifndef SLOWMATCH_CONSOLE_BOARD_FIXTURES_H
#define SLOWMATCH_CONSOLE_BOARD_FIXTURES_H

#include "console/view.h"

// Something about FIXTURE wants looking after: inhibited, without its feed, a flame that does not do as told, an address
// whose channels do not all lie within the universe.
bool sm_fixture_is_wrong(const sm_view *view, uint32_t fixture);
// "INHIBITED, FEED LOST", appended to OUT; nothing where there is nothing.
void sm_fixture_format_wrong(const sm_view *view, uint32_t fixture, sm_text *out);
// What a flame does, in words; nothing for a light. Returns the columns it takes.
int sm_fixture_draw_flame(const sm_view *view, sm_area area, int x, int y, uint32_t fixture);
// "switches 1 3 4 on" for an ADDRESS, or why there is no such setting, appended to OUT.
void sm_switches_format(int32_t address, sm_text *out);
// Everything about FIXTURE in the rows of AREA.
void sm_fixture_draw_detail(const sm_view *view, sm_area area, uint32_t fixture);

#endif
