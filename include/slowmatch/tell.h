// SPDX-License-Identifier: GPL-3.0-or-later
// Followers: a rehearsal told to a message broker (MQTT 5), and seen on other machines from these messages alone. What is told never
// comes back: a follower acts on nothing.
#ifndef SLOWMATCH_TELL_H
#define SLOWMATCH_TELL_H

#include "slowmatch/session.h"
#include "slowmatch/time_of_day.h"

// ---- the contract ---------------------------------------------------------------------------

// The manual page slowmatch-mqtt(7), appended to OUT.
void sm_tell_manual(sm_text *out);
// A JSON schema (draft 7) of the messages of the topic numbered TOPIC, from 0; *name gets the topic's last part. False: there is none.
bool sm_tell_schema(size_t topic, const char **name, sm_text *out);

// ---- the broker -----------------------------------------------------------------------------

// Where it is, and how to be let in. Private to the part but for its address.
typedef struct sm_broker {
    char host[256];
    int port;
    bool tls;
    char user[128], password[256];
    char ca[512]; // a file of certificates that are believed
    char psk_identity[128], psk[129];
} sm_broker;

// Reads ADDRESS ("HOST", "HOST:PORT") and the ini file KEYS_PATH (NULL: none). False: PROBLEM has one line; another machine without
// TLS and a user is refused.
SM_MUST_CHECK bool sm_broker_read(const char *address, const char *keys_path, sm_broker *out,
                                  char problem[SM_SESSION_PROBLEM]);

// NAMES are seats: words of letters, digits, - and _ of at most 31 bytes, up to eight with commas between.
bool sm_seats_are_good(const char *names);

// ---- telling --------------------------------------------------------------------------------

typedef struct sm_teller sm_teller;

// Tells SESSION to BROKER from the first snapshot on, which the caller hands over as an outlet's (slowmatch/session.h): all of its
// functions are for the driver's thread, and none waits; the network is threads of its own. What goes wrong there is said by the session.
// SEATS (names with commas between; NULL: none) are granted: whoever sits there may call hold, and in a drill what their seat may.
// SM_NO_MEMORY; SM_UNREADABLE: PROBLEM has one line.
SM_MUST_CHECK sm_result sm_teller_create(const sm_broker *broker, sm_session *session, const char *seats,
                                         char problem[SM_SESSION_PROBLEM], sm_teller **out);
// The name of this run in its topics; valid as long as TELLER.
const char *sm_teller_run(const sm_teller *teller);
void sm_teller_row(sm_teller *teller, const sm_log_row *row);
void sm_teller_snapshot(sm_teller *teller, const sm_snapshot *snapshot);
void sm_teller_tell_seat(sm_teller *teller, const char *seat, sm_seat_word word, const char *text);
// Returns when it wants to be called again.
sm_wall_time sm_teller_step(sm_teller *teller, sm_wall_time now);
// Says that the rehearsal has ended and takes back what was retained; waits for the network a second at most. NULL is taken.
void sm_teller_destroy(sm_teller *teller);

// ---- following ------------------------------------------------------------------------------

typedef enum sm_follow_link {
    SM_FOLLOW_WAITING, // no show and no state have come
    SM_FOLLOW_LIVE,
    SM_FOLLOW_UNPROVEN, // beats come, but nothing shows that they are not held back on their way
    SM_FOLLOW_LOST,     // what is shown is what was known last: TREAT AS ARMED
    SM_FOLLOW_LINK_COUNT
} sm_follow_link;
// "waiting", "live", "age not proven", "link lost".
const char *sm_follow_link_text(sm_follow_link link);

// Bytes of a line from a seat, its NUL included.
#define SM_FOLLOW_LINE 200

// Whoever follows at a seat may call hold, and in a drill more.
typedef enum sm_follow_seat {
    SM_SEAT_NONE,    // only follows
    SM_SEAT_UNHEARD, // no console has answered
    SM_SEAT_UNKNOWN, // the lead granted none of that name
    SM_SEAT_REFUSED, // somebody else sits there, or sat there and was lost
    SM_SEAT_TAKEN    // by whoever follows here
} sm_follow_seat;

typedef enum sm_follow_hold {
    SM_HOLD_NONE,
    SM_HOLD_ON_ITS_WAY,
    SM_HOLD_NOT_DELIVERED, // for a second: SHOUT IT. It is tried on
    SM_HOLD_RECEIVED       // by the lead's console
} sm_follow_hold;

// A line from the seat.
typedef enum sm_follow_said {
    SM_SAID_NOTHING,
    SM_SAID_ON_ITS_WAY,
    SM_SAID_NOT_DELIVERED, // for a second; after another it is given up: say it aloud
    SM_SAID_RECEIVED
} sm_follow_said;

#define SM_FOLLOW_WORDS 120

typedef struct sm_follow_view {
    sm_follow_link link;
    bool ended;              // the console said so
    int32_t show_number;     // in its run: a reload makes another one
    const sm_show *show;     // NULL while waiting, and the next two with it
    const sm_snapshot *now;  // as of now; where the link is lost, it says so
    const sm_recent *recent; // rows since this follower began
    sm_time_of_day day;
    sm_us silent_us;          // since the latest believed beat was sent; SM_UNSET_US: there was none
    uint64_t missed, refused; // messages that never came, and that could not be taken
    bool behind;              // something is missing in the state; a whole one was asked for
    sm_follow_seat seat;
    sm_follow_hold hold;
    sm_follow_said said;
    sm_seats_view seats; // as the console tells; since is not told
    bool drill;          // one is taken: the seat may say more than hold
    const char *debrief; // of this seat; NULL: none yet
    const char *why;     // nothing comes: "nobody listens there"
    char run[32], title[120];
    char
        words[SM_FOLLOW_WORDS]; // what stands beside REHEARSAL: "FOLLOWING", "FOLLOWING, BEHIND, catching up"
} sm_follow_view;

typedef struct sm_follow_options {
    const char *run;  // NULL: the one that is told
    const char *seat; // its name; NULL: only follows
    const char *who;  // sits there; NULL: not told
    // The follower's own clock in microseconds; NULL: the machine's. For tests: clocks differ and drift.
    int64_t (*clock_us)(void);
} sm_follow_options;

typedef struct sm_follower sm_follower;

// Follows what is told at BROKER; connects by itself, again and again. The thread that made it calls the others; none waits for the
// network. SM_NO_MEMORY; SM_UNREADABLE: PROBLEM has one line.
SM_MUST_CHECK sm_result sm_follower_create(const sm_broker *broker, const sm_follow_options *options,
                                           char problem[SM_SESSION_PROBLEM], sm_follower **out);
void sm_follower_destroy(sm_follower *follower);
// Readable when something came; sm_follower_look empties it.
int sm_follower_descriptor(const sm_follower *follower);
// Takes what came, asks for what is missing, and shows it as of now. To be called at least ten times a second. Valid until the next call.
const sm_follow_view *sm_follower_look(sm_follower *follower);
// Calls hold from the seat, because of WHY ("" for nothing said). False: there is no seat.
bool sm_follower_hold(sm_follower *follower, const char *why);
// The seat that was asked for; "": none. Valid as long as FOLLOWER.
const char *sm_follower_seat(const sm_follower *follower);
// Says LINE, an action, from the seat. False: there is no seat, the line is too long, or too many wait.
bool sm_follower_say(sm_follower *follower, const char *line);
// The next thing that the seat was told, the oldest first; NULL: none. Valid until the next call.
const char *sm_follower_told(sm_follower *follower, sm_seat_word *word);
// The runs that a beat was heard of, where no run was named and there are several: so many, their names in NAMES, a blank before each.
size_t sm_follower_runs(const sm_follower *follower, char names[256]);
// The console of this run said that it ended, and another began after that: a follower that is made anew shows it, and asks for its seat
// there. Never where a run was named, or where the link was only lost: that console may still be armed.
bool sm_follower_has_next(const sm_follower *follower);
// Whoever looks wants the other run that is told, though the link was only lost.
void sm_follower_go_on(sm_follower *follower);

// Appends the names and versions of the libraries that messages go through.
void sm_tell_libraries(sm_text *out);

#endif
