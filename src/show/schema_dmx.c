// SPDX-License-Identifier: GPL-3.0-or-later
// The columns of the tables of DMX devices and of the mains that feeds them.
#include "show/schema.h"

const sm_column sm_profiles_columns[] = {
    SM_NAME_COLUMN(sm_profile, "the profile's name"),
    {SM_COLUMN("channels", "names of its channels in order, with a space between; at most 256"),
     .required = true, SM_NUMBER(NAMES, "", 1, 256)},
    {SM_COLUMN("home", "the level of each channel at rest, with a space between; none: all 0"),
     SM_WORDS(SPECIAL, "")},
    {SM_COLUMN("hazard", "whether it makes flame; then enable and fire are needed"),
     SM_CHOICE("none", "none flame"), SM_KEEP(sm_profile, flame)},
    {SM_COLUMN("enable",
               "of a flame unit: the channel that permits flame, and in which range: permit 128-255"),
     SM_WORDS(SPECIAL, "")},
    {SM_COLUMN("fire", "of a flame unit: the channel that makes flame, and in which range: flame 1-255"),
     SM_WORDS(SPECIAL, "")},
    {SM_COLUMN("longest", "longest flame that the maker allows"), SM_SPAN(SM_SECONDS, "", 0, 3600),
     SM_KEEP(sm_profile, longest_us)},
    {SM_COLUMN("recover", "time it needs between two flames"), SM_SPAN(SM_SECONDS, "", 0, 3600),
     SM_KEEP(sm_profile, recover_us)},
    {SM_COLUMN("burn", "fuel that it burns; of a gas in g/s: what is drawn is mass"),
     SM_MEASURE(FLOW, "ml/s", "", 0, 100000), SM_KEEP(sm_profile, burn_ml_s)},
    {SM_COLUMN("watts", "mains power that it takes"), SM_MEASURE(POWER, "W", "", 0, 1000000),
     SM_KEEP(sm_profile, watts)},
    {SM_COLUMN("va", "apparent power that it takes: watts over its power factor; none: watts"),
     SM_MEASURE(APPARENT, "VA", "", 0, 1000000), SM_KEEP(sm_profile, va)},
    {SM_COLUMN("inrush", "current that it takes for a moment when it is switched on"),
     SM_MEASURE(CURRENT, "A", "", 0, 10000), SM_KEEP(sm_profile, inrush_amps)},
    {SM_COLUMN("clear", "the maker's least distance to people"), SM_MEASURE(LENGTH, "m", "", 0, 10000),
     SM_KEEP(sm_profile, clear_m)},
    {SM_COLUMN(
         "wire",
         "whether --lights may ever drive it: only a lamp that makes neither flame nor sparks is a light"),
     SM_CHOICE("never", "never light"), SM_KEEP(sm_profile, light)},
};
SM_COLUMNS_ARE(sm_profiles_columns, SM_PROFILES_COLUMNS);

const sm_column sm_feeds_columns[] = {
    SM_NAME_COLUMN(sm_feed, "the feed's name"),
    {SM_COLUMN("from", "the feed that it is plugged to; none: the supply"), SM_WORDS(SPECIAL, "")},
    {SM_COLUMN("volts", "its voltage"), SM_MEASURE(VOLTAGE, "V", "230 V", 1, 1000), SM_KEEP(sm_feed, volts)},
    {SM_COLUMN("breaker", "rating of its breaker"), SM_MEASURE(CURRENT, "A", "", 0.1, 10000),
     SM_KEEP(sm_feed, breaker_amps)},
    {SM_COLUMN("cord_length", "length of its cord"), SM_MEASURE(LENGTH, "m", "0 m", 0, 10000),
     SM_KEEP(sm_feed, cord_m)},
    {SM_COLUMN("cord_gauge", "conductors of its cord"), SM_WORDS(GAUGE, "1.5 mm2"), SM_KEEP(sm_feed, cord)},
    {SM_COLUMN("supply",
               "of a feed from the supply: the public network, or a private one such as a generator"),
     SM_CHOICE("public", "public private"), SM_KEEP(sm_feed, is_private)},
};
SM_COLUMNS_ARE(sm_feeds_columns, SM_FEEDS_COLUMNS);

const sm_column sm_fixtures_columns[] = {
    SM_NAME_COLUMN(sm_fixture, "the fixture's name"),
    {SM_COLUMN("profile", "its profile"), .required = true, SM_REFERENCE("profiles.csv", "profile-unknown"),
     SM_KEEP(sm_fixture, profile)},
    {SM_COLUMN("universe", "its DMX universe"), SM_NUMBER(INTEGER, "1", 1, 63999),
     SM_KEEP(sm_fixture, universe)},
    {SM_COLUMN("address", "its DMX address, from 1"), .required = true, SM_WORDS(INTEGER, ""),
     SM_KEEP(sm_fixture, address)},
    SM_POSITION_COLUMN(sm_fixture, position, "position", "where it stands"),
    {SM_COLUMN("feed", "the feed that it is plugged to"), SM_WORDS(NAME, ""), SM_KEEP(sm_fixture, feed_name)},
    {SM_COLUMN("fuel", "fuel that it holds; of a gas the contents of its cylinder in g"),
     SM_MEASURE(FUEL, "ml", "", 0, 1000000), SM_KEEP(sm_fixture, fuel_ml)},
    {SM_COLUMN("aim", "where it points"), SM_WORDS(TEXT, ""), SM_KEEP(sm_fixture, aim)},
};
SM_COLUMNS_ARE(sm_fixtures_columns, SM_FIXTURES_COLUMNS);

const sm_column sm_groups_columns[] = {
    SM_NAME_COLUMN(sm_group, "the group's name"),
    {SM_COLUMN("members", "slots, fixtures, or groups defined above, with a space between"), .required = true,
     SM_WORDS(SPECIAL, "")},
};
SM_COLUMNS_ARE(sm_groups_columns, SM_GROUPS_COLUMNS);

const sm_column sm_lines_columns[] = {
    SM_NAME_COLUMN(sm_line, "the DMX line's name"),
    {SM_COLUMN("universe", "the DMX universe that it carries"), .required = true,
     SM_NUMBER(INTEGER, "", 1, 63999), SM_KEEP(sm_line, universe)},
    SM_POSITION_COLUMN(sm_line, source, "source", "position of the sending end"),
    {SM_COLUMN("chain", "its fixtures in order, with a space between"), .required = true,
     SM_WORDS(SPECIAL, "")},
    {SM_COLUMN("cables", "lengths of its cables in order from the source, with a space between, each with "
                         "its unit: 5m 5m 15ft"),
     SM_NUMBER(SPECIAL, "", 0, 10000), .unit = "m"},
    {SM_COLUMN("slack", "what a cable needs beyond the distance on the ground"),
     SM_MEASURE(LENGTH, "m", "1 m", 0, 1000), SM_KEEP(sm_line, slack_m)},
};
SM_COLUMNS_ARE(sm_lines_columns, SM_LINES_COLUMNS);
