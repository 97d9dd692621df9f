// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef DRILL_SCHEMA_H
#define DRILL_SCHEMA_H

#include "slowmatch/drill.h"

// Row numbers of sm_drill_columns that the reader treats by themselves. ORDER of the rows of schema.c.
typedef enum sm_drill_key {
    KEY_TITLE,
    KEY_BRIEF,
    KEY_BRIEF_LAST = KEY_BRIEF + SM_DRILL_BRIEFS - 1,
    KEY_PASS,
    KEY_SEED,
    KEY_HINTS,
    KEY_ENDS,
    KEY_EVENT_WHEN,
    KEY_EVENT_DO,
    KEY_EXPECT_AFTER,
    KEY_EXPECT_ACTION,
    KEY_EXPECT_WITHIN,
    KEY_EXPECT_MARKS,
    KEY_EXPECT_LATE,
    KEY_EXPECT_HINT,
    KEY_EXPECT_SAY,
    KEY_NEVER_ACTION,
    KEY_NEVER_WHILE,
    KEY_NEVER_MARKS,
    KEY_NEVER_SAY,
    KEY_BEFORE_ACTION,
    KEY_BEFORE_NEEDS,
    KEY_BEFORE_MARKS,
    KEY_BEFORE_SAY,
    KEY_SPOKEN_AFTER,
    KEY_SPOKEN_WORDS,
    KEY_SPOKEN_MARKS,
    KEY_SPOKEN_SAY,
    KEY_COUNT
} sm_drill_key;

#endif
