// SPDX-License-Identifier: GPL-3.0-or-later
// The rules that the reading of the files applies. Listed, so that --rules and --explain know every id that a finding
// carries; judged where the files are read.
#include "check/rule.h"

#define FORMAT "the format, slowmatch-show(5)"
#define AT_LOAD(id_, family_, meaning_, explain_)                                                            \
    {                                                                                                        \
        .id = id_, .family = family_, .severity = SM_ERROR, .meaning = meaning_, .source = FORMAT,           \
        .explain = explain_                                                                                  \
    }
#define NO_SUCH_NAME "Names are compared exactly, letter case included. The message says what comes nearest."

const sm_check_rule check_loader_rules[] = {
    // ---- files
    AT_LOAD("file-missing", SM_CHECK_FILES, "a table that is needed is not in the folder",
            "show.ini and cues.csv are always needed, and every table that another one points to."),
    AT_LOAD("file-unreadable", SM_CHECK_FILES, "a file of the show cannot be read",
            "The message says why: often its permissions."),
    AT_LOAD("text", SM_CHECK_FILES, "a file is not UTF-8 text",
            "Save it as UTF-8; a byte order mark is accepted."),
    {.id = "csv",
     .family = SM_CHECK_FILES,
     .severity = SM_ERROR,
     .meaning = "a record breaks the rules of CSV",
     .source = "RFC 4180 (read)",
     .explain =
         "A field with a comma, a quote or a line break stands in quotes, and a quote within is doubled."},
    AT_LOAD("ini", SM_CHECK_FILES, "a line of show.ini is no [section], no key = value and no comment",
            "No continuation lines, no comments behind a value, `=` and not `:`, at most 199 bytes a line."),
    AT_LOAD("section-unknown", SM_CHECK_FILES, "show.ini has a section that the format does not know",
            NO_SUCH_NAME),
    AT_LOAD("key-unknown", SM_CHECK_FILES, "show.ini has a key that its section does not know", NO_SUCH_NAME),
    AT_LOAD("column-unknown", SM_CHECK_FILES, "a table has a column that the format does not know",
            NO_SUCH_NAME),
    AT_LOAD("column-repeated", SM_CHECK_FILES, "a table has a column twice", "Keep one."),
    AT_LOAD("column-missing", SM_CHECK_FILES, "a table lacks a column that it needs",
            "Add it to the header and fill it in."),
    AT_LOAD("field-count", SM_CHECK_FILES, "a record has more or fewer fields than the header",
            "Often a comma within a text that does not stand in quotes."),
    AT_LOAD("value", SM_CHECK_FILES, "a cell does not hold what its column asks for",
            "The message says what the column takes; units may be written with or without a space."),
    AT_LOAD("value-missing", SM_CHECK_FILES, "a cell that must be filled is empty",
            "The message says what belongs there."),
    AT_LOAD("range", SM_CHECK_FILES, "a figure lies outside what its column allows",
            "The bounds are wide: a figure outside is mostly a wrong unit or a slipped decimal mark."),
    AT_LOAD("name-clash", SM_CHECK_FILES, "two rows have one name, or a name reads as a slot of a rail",
            "Names differ within a table; a fixture or group must not be called like a slot (A-05)."),
    // ---- drills
    AT_LOAD("drill-section", SM_CHECK_FILES, "a drill's section has no name, a bad one, or one that is taken",
            "[drill] has none; [event NAME], [expect NAME] and the others have one each, and no state's."),
    AT_LOAD("drill-when", SM_CHECK_FILES, "a drill waits for something that cannot be",
            "begin, @MOMENT, action NAME, a state, an event or an expectation; then + 5 s or + 5 s..20 s."),
    AT_LOAD("drill-do", SM_CHECK_FILES, "a drill lets something happen that cannot, or to what there is not",
            NO_SUCH_NAME),
    AT_LOAD("drill-action", SM_CHECK_FILES, "a drill names an action that there is not, or its argument",
            NO_SUCH_NAME),
    AT_LOAD("drill-state", SM_CHECK_FILES, "a drill names a state that there is not",
            "safe, arming, armed, running, paused and ended."),
    AT_LOAD("drill-stop", SM_CHECK_FILES, "a drill would take marks for a stop",
            "Pause, safe, key off and quit are always right, also when they were not needed."),
    AT_LOAD("drill-ring", SM_CHECK_FILES, "parts of a drill wait for each other in a ring",
            "None of them can come first."),
    AT_LOAD("drill-seat", SM_CHECK_FILES, "a part of a drill waits for what is only in the other seat",
            "seat = lead, spotter or both: what is waited for must be there in every seat in which it is "
            "waited for."),
    AT_LOAD("drill-words", SM_CHECK_FILES, "what has to be said in a drill is not written as it must be",
            "Groups between commas, of each group one alternative between /; only of an answer or a note."),
    AT_LOAD("drill-unearned", SM_CHECK_FILES, "no run of a drill earns all of its marks, or none was found",
            "What is expected must be allowed in the seat, break no rule, and wait for nothing that waits "
            "for it; "
            "told by drill --check, which plays the drill."),
    // ---- names that do not resolve
    AT_LOAD("module-unknown", SM_CHECK_SLOTS, "a rail names a module that there is not", NO_SUCH_NAME),
    AT_LOAD("rail-unknown", SM_CHECK_SLOTS, "a reading names a rail that there is not", NO_SUCH_NAME),
    AT_LOAD("slot-unknown", SM_CHECK_SLOTS, "a slot is not on its rail, or there is no such rail",
            "A slot is written RAIL-NN, from 1 to the rail's slots."),
    AT_LOAD("effect-unknown", SM_CHECK_SLOTS, "a cue fires an effect that there is not", NO_SUCH_NAME),
    AT_LOAD("target-unknown", SM_CHECK_SLOTS, "a cue's target is no slot, fixture or group", NO_SUCH_NAME),
    AT_LOAD("target-mixed", SM_CHECK_SLOTS, "one cue has slots and fixtures in its target",
            "Make it two rows."),
    AT_LOAD("target-repeated", SM_CHECK_SLOTS, "one cue names a target twice",
            "Name it once; a group counts as its members."),
    AT_LOAD("member-unknown", SM_CHECK_SLOTS, "a group's member is no slot, fixture or group above it",
            NO_SUCH_NAME),
    AT_LOAD("member-repeated", SM_CHECK_SLOTS, "a group or a line names a member twice", "Name it once."),
    AT_LOAD("igniter-unknown", SM_CHECK_FIRING_LINE, "an effect names an igniter that there is not",
            NO_SUCH_NAME),
    AT_LOAD("profile-unknown", SM_CHECK_DMX, "a fixture names a profile that there is not", NO_SUCH_NAME),
    AT_LOAD("fixture-unknown", SM_CHECK_DMX, "a line names a fixture that there is not", NO_SUCH_NAME),
    AT_LOAD("channel-unknown", SM_CHECK_DMX, "a channel is not in the fixture's profile", NO_SUCH_NAME),
    AT_LOAD("channel-repeated", SM_CHECK_DMX, "one cell tells a channel two levels", "Keep one."),
    AT_LOAD("level-range", SM_CHECK_DMX, "a level is not within 0 to 255, or 0 % to 100 %",
            "A level is one byte; a per cent rounds half up (50 % is 128)."),
    AT_LOAD("hazard-wired", SM_CHECK_FLAME, "a profile that makes flame is marked `wire` light",
            "What makes flame is never driven on a wire. Set wire to never."),
    AT_LOAD("hazard-incomplete", SM_CHECK_FLAME, "a profile that makes flame lacks enable or fire",
            "Both are needed: what makes flame must be known, and what permits it."),
    AT_LOAD(
        "hazard-home", SM_CHECK_FLAME, "a flame profile's home levels lie within enable or fire",
        "At home it must neither be permitted nor make flame: home is where it goes when anything stops."),
};
const size_t check_loader_rule_count = sizeof check_loader_rules / sizeof *check_loader_rules;
