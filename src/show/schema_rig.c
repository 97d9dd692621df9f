// SPDX-License-Identifier: GPL-3.0-or-later
// The columns of the tables of what is fired, and where it stands.
#include "show/schema.h"

const sm_column sm_modules_columns[] = {
    SM_NAME_COLUMN(sm_module, "the module's name"),
    {SM_COLUMN("slots", "how many slots it can fire"), .required = true, SM_NUMBER(INTEGER, "", 1, 10000),
     SM_KEEP(sm_module, slots)},
    {SM_COLUMN("volts", "firing voltage"), SM_MEASURE(VOLTAGE, "V", "18 V", 0.1, 1000),
     SM_KEEP(sm_module, volts)},
    {SM_COLUMN("volts_low", "firing voltage with the battery at its lowest"),
     SM_MEASURE(VOLTAGE, "V", "15 V", 0.1, 1000), SM_KEEP(sm_module, volts_low)},
    {SM_COLUMN("source_ohms", "inner resistance of the firing source"),
     SM_MEASURE(RESISTANCE, "ohm", "0.5 ohm", 0, 1000), SM_KEEP(sm_module, source_ohms)},
    {SM_COLUMN("pulse", "length of the firing pulse"), SM_SPAN(SM_MILLISECONDS, "40 ms", 0.001, 60),
     SM_KEEP(sm_module, pulse_us)},
    {SM_COLUMN("gap", "least time between two firings that are not at one instant"),
     SM_SPAN(SM_MILLISECONDS, "10 ms", 0, 60), SM_KEEP(sm_module, gap_us)},
    {SM_COLUMN("at_once", "most firings in one pulse"), SM_NUMBER(INTEGER, "8", 1, 10000),
     SM_KEEP(sm_module, at_once)},
    {SM_COLUMN("test_current", "current of the continuity test"),
     SM_MEASURE(TEST_CURRENT, "mA", "10 mA", 0.001, 10000), SM_KEEP(sm_module, test_current_amps)},
    {SM_COLUMN("capacitance", "of a capacitor unit: what it fires from; none: a steady source"),
     SM_MEASURE(CAPACITANCE, "uF", "", 0.001, 10000000), SM_KEEP(sm_module, capacitance_f)},
    {SM_COLUMN("charge_ohms", "of a capacitor unit: resistance through which it is charged again"),
     SM_MEASURE(RESISTANCE, "ohm", "", 0.001, 10000000), SM_KEEP(sm_module, charge_ohms)},
    {SM_COLUMN("link", "what it does when the link to its remote is lost"), SM_CHOICE("hold", "hold go-on"),
     SM_KEEP(sm_module, goes_on)},
    SM_POSITION_COLUMN(sm_module, position, "position", "where it stands"),
};
SM_COLUMNS_ARE(sm_modules_columns, SM_MODULES_COLUMNS);

const sm_column sm_positions_columns[] = {
    SM_NAME_COLUMN(sm_position, "the position's name"),
    {SM_COLUMN("x", "along the audience front"), SM_MEASURE(LENGTH, "m", "0 m", -100000, 100000),
     SM_KEEP(sm_position, x_m)},
    {SM_COLUMN("y", "away from the audience"), SM_MEASURE(LENGTH, "m", "0 m", -100000, 100000),
     SM_KEEP(sm_position, y_m)},
    {SM_COLUMN("holds",
               "what stands there that distances are kept to, on every side; hospital: and the like"),
     SM_CHOICE("nothing", "nothing people vehicles combustible hospital"), SM_KEEP(sm_position, holds)},
    SM_NOTE_COLUMN(sm_position),
};
SM_COLUMNS_ARE(sm_positions_columns, SM_POSITIONS_COLUMNS);

const sm_column sm_rails_columns[] = {
    SM_NAME_COLUMN(sm_rail, "the rail's name; its slots are NAME-01, NAME-02 ..."),
    {SM_COLUMN("module", "the module it is plugged to"), .required = true,
     SM_REFERENCE("modules.csv", "module-unknown"), SM_KEEP(sm_rail, module)},
    {SM_COLUMN("first", "first module slot it takes"), .required = true, SM_NUMBER(INTEGER, "", 1, 10000),
     SM_KEEP(sm_rail, first)},
    {SM_COLUMN("slots", "how many slots it has"), .required = true, SM_NUMBER(INTEGER, "", 1, 1000),
     SM_KEEP(sm_rail, slots)},
    {SM_COLUMN("cable_length", "length of its cable; each slot has a conductor pair of its own in the cable"),
     SM_MEASURE(LENGTH, "m", "0 m", 0, 10000), SM_KEEP(sm_rail, cable_m)},
    {SM_COLUMN("cable_gauge", "conductors of its cable"), SM_WORDS(GAUGE, "22 AWG"), SM_KEEP(sm_rail, cable)},
    SM_POSITION_COLUMN(sm_rail, position, "position", "where it stands"),
    {SM_COLUMN("joints", "joints and terminals in the way of each slot, each up to 20 mohm"),
     SM_NUMBER(INTEGER, "2", 0, 1000), SM_KEEP(sm_rail, joints)},
};
SM_COLUMNS_ARE(sm_rails_columns, SM_RAILS_COLUMNS);

const sm_column sm_igniters_columns[] = {
    SM_NAME_COLUMN(sm_igniter, "the igniter's name"),
    {SM_COLUMN("ohms", "resistance of the bridge, without leads"),
     SM_MEASURE(RESISTANCE, "ohm", "1.6 ohm", 0.01, 1000), SM_KEEP(sm_igniter, ohms)},
    {SM_COLUMN("tolerance", "by how much it may differ, either way"),
     SM_MEASURE(RESISTANCE, "ohm", "0.3 ohm", 0, 1000), SM_KEEP(sm_igniter, tolerance_ohms)},
    {SM_COLUMN("lead_length", "length of its leads"), SM_MEASURE(LENGTH, "m", "2 m", 0, 1000),
     SM_KEEP(sm_igniter, lead_m)},
    {SM_COLUMN("lead_gauge", "conductors of its leads"), SM_WORDS(GAUGE, "24 AWG"),
     SM_KEEP(sm_igniter, lead)},
    {SM_COLUMN("no_fire", "current at which none fires"), SM_MEASURE(CURRENT, "A", "0.2 A", 0.001, 1000),
     SM_KEEP(sm_igniter, no_fire_amps)},
    {SM_COLUMN("all_fire", "current at which each fires"), SM_MEASURE(CURRENT, "A", "0.5 A", 0.001, 1000),
     SM_KEEP(sm_igniter, all_fire_amps)},
    {SM_COLUMN("series_fire", "current at which each fires in a series"),
     SM_MEASURE(CURRENT, "A", "1.0 A", 0.001, 1000), SM_KEEP(sm_igniter, series_fire_amps)},
    {SM_COLUMN("impulse",
               "firing impulse at which each fires; none: not known, all_fire held for 20 ms is taken"),
     SM_MEASURE(IMPULSE, "mJ/ohm", "", 0.001, 100000), SM_KEEP(sm_igniter, impulse)},
};
SM_COLUMNS_ARE(sm_igniters_columns, SM_IGNITERS_COLUMNS);

const sm_column sm_effects_columns[] = {
    SM_NAME_COLUMN(sm_effect, "the effect's name"),
    {SM_COLUMN("igniter", "its igniter; none: the first of igniters.csv, or that table's defaults"),
     SM_REFERENCE("igniters.csv", "igniter-unknown"), SM_KEEP(sm_effect, igniter)},
    {SM_COLUMN("lead", "time from firing to the moment it is seen; none: unknown, acts as 0 s"),
     SM_SPAN(SM_SECONDS, "", 0, 600), SM_KEEP(sm_effect, lead_us)},
    {SM_COLUMN("lasts", "how long it is seen"), SM_SPAN(SM_SECONDS, "0 s", 0, 3600),
     SM_KEEP(sm_effect, lasts_us)},
    {SM_COLUMN("zone", "the rule by which its distance is judged"),
     SM_CHOICE("none", "none ground aerial near"), SM_KEEP(sm_effect, zone)},
    {SM_COLUMN("kind", "wheels with large drivers and concussion mortars have distances of their own"),
     SM_CHOICE("other", "other wheel concussion"), SM_KEEP(sm_effect, kind)},
    {SM_COLUMN("calibre", "inner diameter of the tube"), SM_MEASURE(CALIBRE, "mm", "", 0, 2000),
     SM_KEEP(sm_effect, calibre_mm)},
    {SM_COLUMN("fallout", "radius within which it falls"), SM_MEASURE(LENGTH, "m", "", 0, 10000),
     SM_KEEP(sm_effect, fallout_m)},
    {SM_COLUMN("aim", "angle and direction, for the paper that is carried to the rail"), SM_WORDS(TEXT, ""),
     SM_KEEP(sm_effect, aim)},
    SM_NOTE_COLUMN(sm_effect),
};
SM_COLUMNS_ARE(sm_effects_columns, SM_EFFECTS_COLUMNS);

const sm_column sm_readings_columns[] = {
    {SM_COLUMN("rail", "the rail"), .required = true, SM_REFERENCE("rails.csv", "rail-unknown")},
    {SM_COLUMN("slot", "the slot's number on its rail"), .required = true, SM_WORDS(INTEGER, "")},
    {SM_COLUMN("reading", "ohms, open or short; the last row of a slot wins"), .required = true,
     SM_WORDS(SPECIAL, ""), .unit = "ohm"},
    {SM_COLUMN("when", "when it was taken (ISO 8601)"), SM_WORDS(SPECIAL, ""), SM_KEEP(sm_reading, when)},
    {SM_COLUMN("by", "who took it"), SM_WORDS(TEXT, ""), SM_KEEP(sm_reading, by)},
};
SM_COLUMNS_ARE(sm_readings_columns, SM_READINGS_COLUMNS);
