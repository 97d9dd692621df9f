// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/show.h"

const sm_show_rule *sm_show_rules(size_t *count) {
    static const sm_show_rule rules[] = {
        {"channel-repeated", "one cell tells a channel two levels"},
        {"channel-unknown", "a profile has no channel of that name"},
        {"column-missing", "the header lacks a column that is required, or there is no header"},
        {"column-repeated", "the header names a column twice"},
        {"column-unknown", "the table has no column of that name"},
        {"csv", "the quotes or line ends of a CSV file are wrong"},
        {"effect-unknown", "effects.csv has no effect of that name"},
        {"feed-missing", "a feed is plugged to one that feeds.csv has not"},
        {"field-count", "a record has more or fewer fields than the header"},
        {"file-missing", "a file that is needed, or that another points at, is not in the folder"},
        {"file-unreadable", "a file is there and cannot be read"},
        {"fixture-unknown", "fixtures.csv has no fixture of that name"},
        {"hazard-home", "a flame unit's home level lies within the range of enable or fire"},
        {"hazard-incomplete", "a flame unit without enable or fire, or these without hazard flame"},
        {"hazard-wired", "a profile that makes flame is to be driven on a wire"},
        {"igniter-unknown", "igniters.csv has no igniter of that name"},
        {"ini", "a line of show.ini is neither a section, nor key = value, nor a comment, or is there twice"},
        {"key-unknown", "the section has no key of that name"},
        {"level-range", "a level outside 0 to 255, or 0% to 100%"},
        {"member-repeated", "a group or a chain names something twice"},
        {"member-unknown", "a group names what is no slot, fixture, or group above it"},
        {"module-unknown", "modules.csv has no module of that name"},
        {"name-clash", "a name is taken, or reads as a slot of a rail"},
        {"position-unknown", "positions.csv has no position of that name"},
        {"profile-unknown", "profiles.csv has no profile of that name"},
        {"rail-unknown", "rails.csv has no rail of that name"},
        {"range", "a number outside its range"},
        {"section-unknown", "show.ini has no section of that name"},
        {"slot-unknown", "the rail has no such slot, or there is no such rail"},
        {"target-mixed", "slots and fixtures in one target cell"},
        {"target-repeated", "a target cell names something twice"},
        {"target-unknown", "no slot, fixture or group of that name"},
        {"text", "bytes that are no UTF-8, or control characters"},
        {"value", "a cell is not of its column's form"},
        {"value-missing", "a cell or key that is required is empty"},
    };
    *count = sizeof rules / sizeof rules[0];
    return rules;
}
