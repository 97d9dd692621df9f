// SPDX-License-Identifier: GPL-3.0-or-later
// Attempts at drills: what was judged, kept as it falls.
#ifndef SLOWMATCH_LOGBOOK_ATTEMPTS_H
#define SLOWMATCH_LOGBOOK_ATTEMPTS_H

#include "logbook/entry.h"
#include "logbook/query.h"

#include "slowmatch/logbook.h"

// How an attempt stands: what its last row of scores says.
#define SM_ATTEMPT_SO_FAR "so far" // it runs, or was cut off
#define SM_ATTEMPT_OVER "over"
#define SM_ATTEMPT_LEFT "left" // before its end
#define SM_ATTEMPT_BY_SCRIPT "script"
#define SM_ATTEMPT_NO_DRILL "no drill"
// Told of one that may be running, in place of what was judged so far: whoever takes it would read that.
#define SM_ATTEMPT_RUNNING "running"

// What of an attempt has become entries. Begins with zeros.
typedef struct sm_attempt {
    struct sm_attempt_mark *marks; // as put last
    size_t count;
    int64_t mark_rows, score_rows;
    uint32_t seen; // entries of the run, when last looked
    char file[16]; // the beginning of a hash of the drill's file, "": not known
    bool scripted; // no person takes it: it reaches no mark
    const char *how;
    int score;
    bool passed, with_hints;
} sm_attempt;

// Appends what has changed of RUN since the last call; the first begins the attempt, with all that the drill asks for. Where memory runs
// out OUT has failed.
void sm_attempt_put(sm_attempt *attempt, const char *token, const char *title, sm_unix_us now_us,
                    const sm_drill_run *run, sm_text *out);
void sm_attempt_deinit(sm_attempt *attempt);

// A table `attempts` for a question: every attempt as it stands, also those of which only the score was kept.
#define SM_ATTEMPTS                                                                                          \
    "WITH kept AS (SELECT a.token, a.title, trim(a.person) AS person, a.drill, a.seat, a.began_us, "         \
    "a.again_days, a.file, a.taken_by, coalesce(s.score, 0) AS score, coalesce(s.passed, 0) AS passed, "     \
    "coalesce(s.with_hints, "                                                                                \
    "0) AS with_hints, coalesce(s.how, '" SM_ATTEMPT_SO_FAR                                                  \
    "') AS how FROM attempt a LEFT JOIN attempt_score s ON s.token = a.token AND s.n = (SELECT max(n) FROM " \
    "attempt_score WHERE token = a.token)), runs AS (SELECT token FROM kept JOIN rehearsal USING (token) "   \
    "WHERE how = '" SM_ATTEMPT_SO_FAR "' AND ended_us IS NULL AND " SM_QUERY_IN_USE                          \
    "), attempts AS (SELECT * FROM kept WHERE token NOT IN runs UNION ALL SELECT token, title, person, "     \
    "drill, seat, began_us, again_days, file, taken_by, NULL, NULL, NULL, '" SM_ATTEMPT_RUNNING              \
    "' FROM kept WHERE token IN runs UNION ALL SELECT token, title, trim(person), drill, seat, "             \
    "taken_us, " SM_DRILL_AGAIN ", '', '', score, passed, with_hints, '" SM_ATTEMPT_OVER                     \
    "' FROM drill d WHERE NOT EXISTS (SELECT 1 FROM attempt WHERE token = d.token)) "
// One that counts for its person: it has a score, and no script took it.
#define SM_ATTEMPT_COUNTS "how NOT IN ('" SM_ATTEMPT_NO_DRILL "', '" SM_ATTEMPT_RUNNING "') AND taken_by = ''"
// Of the marks of one name in an attempt the last row counts.
#define SM_ATTEMPT_LAST_MARK(mark)                                                                           \
    mark ".n = (SELECT max(n) FROM attempt_mark l WHERE l.token = " mark ".token AND l.kind = " mark         \
         ".kind AND l.name = " mark ".name)"

#endif
