// SPDX-License-Identifier: GPL-3.0-or-later
// The schema, as the steps that made it. A step that was released is never changed; what is new is a new step.
#include "logbook/store.h"

static const char rehearsals[] =
    "CREATE TABLE file(hash TEXT PRIMARY KEY, size INTEGER NOT NULL, bytes BLOB NOT NULL);"
    "CREATE TABLE load(id INTEGER PRIMARY KEY, hash TEXT NOT NULL UNIQUE, title TEXT NOT NULL, content TEXT "
    "NOT NULL, length_us INTEGER NOT NULL);"
    "CREATE TABLE member(load INTEGER NOT NULL REFERENCES load(id) ON DELETE CASCADE, name TEXT NOT NULL, "
    "file TEXT NOT NULL, PRIMARY KEY(load, name)) WITHOUT ROWID;" // the music's hash is of no kept file
    "CREATE TABLE rehearsal(id INTEGER PRIMARY KEY AUTOINCREMENT, token TEXT NOT NULL UNIQUE, load INTEGER "
    "NOT "
    "NULL REFERENCES load(id), began_us INTEGER NOT NULL, ended_us INTEGER, mode TEXT NOT NULL, flags TEXT "
    "NOT "
    "NULL, state TEXT NOT NULL DEFAULT 'safe', rows INTEGER NOT NULL DEFAULT 0, fired INTEGER NOT NULL "
    "DEFAULT "
    "0, misfired INTEGER NOT NULL DEFAULT 0, passed INTEGER NOT NULL DEFAULT 0, late_us INTEGER NOT NULL "
    "DEFAULT 0, wall_us INTEGER NOT NULL DEFAULT 0);"
    "CREATE TABLE row(rehearsal INTEGER NOT NULL REFERENCES rehearsal(id) ON DELETE CASCADE, n INTEGER NOT "
    "NULL, wall_us INTEGER NOT NULL, show_us INTEGER, source TEXT NOT NULL, what TEXT NOT NULL, cue TEXT NOT "
    "NULL, target TEXT NOT NULL, detail TEXT NOT NULL, late_us INTEGER NOT NULL, PRIMARY KEY(rehearsal, n)) "
    "WITHOUT ROWID;"
    "CREATE TRIGGER row_counts AFTER INSERT ON row BEGIN UPDATE rehearsal SET rows = rows + 1, fired = fired "
    "+ "
    "(NEW.what = 'fire'), misfired = misfired + (NEW.what = 'misfire'), passed = passed + (NEW.what = "
    "'passed'), late_us = max(late_us, NEW.late_us), wall_us = max(wall_us, NEW.wall_us), state = CASE "
    "NEW.what WHEN 'state' THEN NEW.target ELSE state END WHERE id = NEW.rehearsal; END;"
    "CREATE TABLE input(rehearsal INTEGER NOT NULL REFERENCES rehearsal(id) ON DELETE CASCADE, n INTEGER NOT "
    "NULL, kind TEXT NOT NULL, at_us INTEGER NOT NULL, source TEXT NOT NULL, line TEXT NOT NULL, detail TEXT "
    "NOT NULL, load INTEGER REFERENCES load(id), PRIMARY KEY(rehearsal, n)) WITHOUT ROWID;"
    "CREATE TABLE reading(id INTEGER PRIMARY KEY, title TEXT NOT NULL, slot TEXT NOT NULL, value TEXT NOT "
    "NULL, ohms REAL, taken TEXT NOT NULL, taken_us INTEGER, person TEXT NOT NULL, origin TEXT NOT NULL, "
    "UNIQUE(title, slot, value, taken, person, origin));";

static const char walks[] =
    "CREATE TABLE walk_tick(id INTEGER PRIMARY KEY, token TEXT NOT NULL, n INTEGER NOT NULL, title TEXT NOT "
    "NULL, item TEXT NOT NULL, answer TEXT NOT NULL, value TEXT NOT NULL, note TEXT NOT NULL, person TEXT "
    "NOT "
    "NULL, given_us INTEGER, hash TEXT NOT NULL, UNIQUE(token, n));"
    "CREATE TABLE walk_sign(id INTEGER PRIMARY KEY, token TEXT NOT NULL, n INTEGER NOT NULL, title TEXT NOT "
    "NULL, who TEXT NOT NULL, signed_us INTEGER NOT NULL, content TEXT NOT NULL, items TEXT NOT NULL, "
    "UNIQUE(token, n));"
    "CREATE TABLE walk_change(id INTEGER PRIMARY KEY, token TEXT NOT NULL, n INTEGER NOT NULL, title TEXT "
    "NOT "
    "NULL, what TEXT NOT NULL, happened_us INTEGER NOT NULL, UNIQUE(token, n));"
    "CREATE INDEX walk_tick_title ON walk_tick(title);"
    "CREATE INDEX walk_sign_title ON walk_sign(title);"
    "CREATE INDEX walk_change_title ON walk_change(title);";

static const char crew[] =
    "CREATE TABLE drill(id INTEGER PRIMARY KEY, token TEXT NOT NULL UNIQUE, person TEXT NOT NULL, drill TEXT "
    "NOT NULL, title TEXT NOT NULL, taken_us INTEGER NOT NULL, score INTEGER NOT NULL, passed INTEGER NOT "
    "NULL, with_hints INTEGER NOT NULL, marks TEXT NOT NULL);"
    "CREATE INDEX drill_person ON drill(person, drill);"
    "CREATE INDEX rehearsal_began ON rehearsal(began_us);";

// What was taken before there were seats was taken as lead.
static const char seats[] = "ALTER TABLE drill ADD COLUMN seat TEXT NOT NULL DEFAULT 'lead';";

static const char debriefs[] =
    "CREATE TABLE debrief(rehearsal INTEGER PRIMARY KEY REFERENCES rehearsal(id) ON DELETE CASCADE, head "
    "TEXT NOT NULL, tail TEXT NOT NULL, broken_off INTEGER NOT NULL);"
    "CREATE TABLE drill_step(rehearsal INTEGER NOT NULL REFERENCES rehearsal(id) ON DELETE CASCADE, n "
    "INTEGER NOT NULL, at_us INTEGER NOT NULL, kind TEXT NOT NULL, name TEXT NOT NULL, words TEXT NOT NULL, "
    "within_us INTEGER, took_us INTEGER, state TEXT NOT NULL, key INTEGER NOT NULL, PRIMARY KEY(rehearsal, "
    "n)) WITHOUT ROWID;";

// An answer that was taken back stays so, whatever order its rows come in from other files. From here on the bytes of a file are kept
// as they are; earlier programs deflated them (see legacy.h).
static const char taken_back[] =
    "CREATE TABLE walk_untick(token TEXT NOT NULL, n INTEGER NOT NULL, PRIMARY KEY(token, n)) WITHOUT ROWID;"
    "CREATE TRIGGER walk_untick_takes_back AFTER INSERT ON walk_untick BEGIN DELETE FROM walk_tick WHERE "
    "token = "
    "NEW.token AND n = NEW.n; END;"
    "CREATE TRIGGER walk_tick_was_taken_back BEFORE INSERT ON walk_tick WHEN EXISTS (SELECT 1 FROM "
    "walk_untick u "
    "WHERE u.token = NEW.token AND u.n = NEW.n) BEGIN SELECT RAISE(IGNORE); END;";

// A drill from its first moment on: what was judged is kept as it falls, so that whoever quits or is cut off has an attempt. Marks and
// score only grow by rows, the last of each counts: so files can be merged in any order. Known by the rehearsal's token alone, they stay
// when that is pruned.
static const char attempts[] =
    "CREATE TABLE attempt(token TEXT PRIMARY KEY, title TEXT NOT NULL, person TEXT NOT NULL, drill TEXT NOT "
    "NULL, "
    "seat TEXT NOT NULL, began_us INTEGER NOT NULL, pass INTEGER NOT NULL, again_days INTEGER NOT NULL);"
    "CREATE TABLE attempt_mark(token TEXT NOT NULL, n INTEGER NOT NULL, kind TEXT NOT NULL, name TEXT NOT "
    "NULL, "
    "marks INTEGER NOT NULL, got INTEGER NOT NULL, computed INTEGER NOT NULL, decided INTEGER NOT NULL, "
    "took_us "
    "INTEGER, within_us INTEGER, reason TEXT, PRIMARY KEY(token, n)) WITHOUT ROWID;"
    "CREATE TABLE attempt_score(token TEXT NOT NULL, n INTEGER NOT NULL, how TEXT NOT NULL, score INTEGER "
    "NOT NULL, "
    "passed INTEGER NOT NULL, with_hints INTEGER NOT NULL, PRIMARY KEY(token, n)) WITHOUT ROWID;";

// A name below a walk that was once said to be void stays so, whatever is put back afterwards, in every rehearsal of the show.
static const char voids[] = "CREATE TABLE walk_void(title TEXT NOT NULL, who TEXT NOT NULL, signed_us "
                            "INTEGER NOT NULL, why TEXT NOT NULL, "
                            "PRIMARY KEY(title, who, signed_us)) WITHOUT ROWID;";

// Of an attempt: a hash of the drill's file, for two files may have one name; "script" where no person took it.
static const char by_whom[] = "ALTER TABLE attempt ADD COLUMN file TEXT NOT NULL DEFAULT '';"
                              "ALTER TABLE attempt ADD COLUMN taken_by TEXT NOT NULL DEFAULT '';";

const char *const sm_store_steps[] = {rehearsals, walks,    crew,  seats,  debriefs,
                                      taken_back, attempts, voids, by_whom};

size_t sm_store_version(void) {
    return sizeof sm_store_steps / sizeof sm_store_steps[0];
}
