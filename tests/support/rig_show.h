// SPDX-License-Identifier: GPL-3.0-or-later
// Shows made by hand for tests of the firing line, without files: one module, rails in a row, one effect an
// igniter.
#ifndef SLOWMATCH_TESTS_RIG_SHOW_H
#define SLOWMATCH_TESTS_RIG_SHOW_H

#include "slowmatch/show.h"

#define RIG_SHOW_RAILS 64
#define RIG_SHOW_SLOTS 32

// Defaults of the format's page: igniter 1.6 +/- 0.3 ohm with 2 m of 24 AWG, 15 V through 0.5 ohm, meter 2 %
// + 0.2 ohm, air 15 C, copper 0 to 40 C; cables of no length. Rails are named A, B ... Z, AA, AB ... Fails
// the test when memory runs out. The caller destroys it with rig_show_destroy.
sm_show *rig_show_create(uint32_t rails, uint32_t slots);
void rig_show_destroy(sm_show *show);

// Cable of RAIL: LENGTH_M of AWG copper.
void rig_show_cable(sm_show *show, uint32_t rail, double length_m, int awg);
// Programs slot NUMBER (from 1) of RAIL to fire at FIRE_US; returns the firing's row. One igniter:
// SM_LOAD_ONE, 1.
uint32_t rig_show_fire(sm_show *show, uint32_t rail, uint32_t number, sm_us fire_us, sm_load_kind load,
                       int igniters);
// Show-wide number of slot NUMBER (from 1) of RAIL.
uint32_t rig_show_slot(const sm_show *show, uint32_t rail, uint32_t number);
sm_gauge rig_show_awg(int awg);

// Fails the test unless VALUE lies within EPSILON of EXPECTED.
#define assert_near(value, expected, epsilon) rig_assert_near(value, expected, epsilon, __FILE__, __LINE__)
void rig_assert_near(double value, double expected, double epsilon, const char *file, int line);

#endif
