// SPDX-License-Identifier: GPL-3.0-or-later
// A watcher of a rehearsal: it knows the show, what was asked, and the rows of the log, keeps a picture of its own, and holds the engine
// to what the product promises. Each promise is a row of one table, with its reason.
#ifndef SLOWMATCH_TESTS_ENGINE_WATCH_H
#define SLOWMATCH_TESTS_ENGINE_WATCH_H

#include "slowmatch/dmx.h"
#include "slowmatch/inject.h"

#define WATCH_SLOTS 16
#define WATCH_FIXTURES 8
#define WATCH_CHANNELS 64
#define WATCH_OUTS 2048
#define WATCH_NAMES 8

typedef enum watch_promise {
    WATCH_FIRES_RUNNING,
    WATCH_FIRES_IN_TURN,
    WATCH_FIRES_AT_ITS_MOMENT,
    WATCH_FIRES_ONCE,
    WATCH_LATE_ONLY_HUNG,
    WATCH_HELD_BACK,
    WATCH_COUNTS_DOWN,
    WATCH_NO_START,
    WATCH_STARTS_BY_ITSELF,
    WATCH_STATES_IN_ORDER,
    WATCH_ARMING_TAKES_ITS_TIME,
    WATCH_HOLD_STOPS,
    WATCH_KEY,
    WATCH_SAFE_IN_ONE_STEP,
    WATCH_GOES_ON_WHEN_MET,
    WATCH_LINK_LOST,
    WATCH_UNPAIRED,
    WATCH_REFUSED_CHANGES_NOTHING,
    WATCH_SAYS_WHY,
    WATCH_ONE_ROW,
    WATCH_FLAME_HOME,
    WATCH_FLAME_NAMED,
    WATCH_LEVELS_AS_PLAYED,
    WATCH_BURNS_TO_ITS_END,
    WATCH_MISFIRES_STAND,
    WATCH_WAIT,
    WATCH_CLOCK,
    WATCH_JUMP,
    WATCH_NOTHING_OVERDUE,
    WATCH_ROWS_IN_ORDER,
    WATCH_CLEAR_LAPSES,
    WATCH_SNAPSHOT_AGREES,
    WATCH_CAUTIONED,
    WATCH_PROMISES
} watch_promise;
typedef struct watch_promise_row {
    const char *name, *why;
} watch_promise_row;
const watch_promise_row *watch_promise_of(watch_promise promise);

typedef struct watch {
    const sm_show *show;
    const sm_dmx_timeline *timeline;
    uint64_t seed, judged[WATCH_PROMISES];
    uint64_t step, rows, fired, refused;

    sm_wall_time last, state_at;
    sm_state state;
    bool key, clear, link_lost;
    char people[WATCH_NAMES][32], holds[WATCH_NAMES][32];
    unsigned people_count, hold_count;
    bool spent[WATCH_SLOTS], misfired[WATCH_SLOTS], reported[WATCH_SLOTS], mended[WATCH_SLOTS];
    bool held[WATCH_SLOTS], fixture_held[WATCH_FIXTURES]; // by names in INHIBITS
    bool disturbed[WATCH_FIXTURES];                       // held or let go since the channels were made anew
    bool fire_named[WATCH_FIXTURES], flames_wait; // since a start or resume the fire waits for its next cue
    bool flames_closed; // since the channels were made anew: their fades begin at home
    const char *inhibits[WATCH_NAMES];
    unsigned inhibit_count;
    struct {
        sm_us at_us;
        uint32_t slot;
    } outs[WATCH_OUTS]; // still to come
    unsigned out_count;
    sm_us wait_since_us, starts_at_us;
    bool start_set;
    uint32_t cursor; // place in show->order of the next event
    sm_us place_us, floor_us;
    sm_us
        passed_us; // a seek passed over the firings before it: they come without a row, where the count runs through them
    sm_us repeat_from_us, repeat_to_us;
    bool repeat_rerigs, repeat_on;
    int32_t speed_ppm;
    sm_us jump_us; // where the action under way goes to
    bool jumped;   // since the step began
    bool anew;     // all channels stand as nobody has played anything

    const sm_action *acting; // NULL: none is
    const sm_injection *injecting;
    bool act_logged;
} watch;

// Of a rehearsal of SHOW that is about to begin; both outlive it.
void watch_begin(watch *w, const sm_show *show, const sm_dmx_timeline *timeline, uint64_t seed);
// A row of the log.
void watch_row(watch *w, const sm_log_row *row);
// Counts that PROMISE was looked at, and fails the test where it does not hold.
void watch_judge(watch *w, watch_promise promise, bool holds, const char *what);
#define WATCH(w, promise, condition) watch_judge((w), WATCH_##promise, (condition), #condition)
// Between two steps, everything up to NOW done. SNAPSHOT may be NULL.
void watch_look(watch *w, const sm_rehearsal *rehearsal, sm_wall_time now, const sm_snapshot *snapshot);
// After ACTION gave RESULT, the facts before and behind it.
void watch_acted(watch *w, const sm_rehearsal *rehearsal, const sm_action *action, sm_source source,
                 sm_result result, const sm_facts facts[2]);
// The event at the cursor is a firing that was passed over.
bool watch_passes_over(const watch *w);
sm_us watch_at_us(const sm_rehearsal *rehearsal, sm_wall_time now); // show time
// The first place in show->order whose event is due at or after AT_US.
uint32_t watch_first_due(const sm_show *show, sm_us at_us);

#endif
