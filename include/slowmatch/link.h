// SPDX-License-Identifier: GPL-3.0-or-later
// A local socket between two terminals of one machine and one user: the trainee's drill listens, one instructor joins. Lines of text go
// both ways: what happens and what it is worth to the instructor, actions of the one vocabulary back. Never screens, never a network.
// Nothing in here waits; one thread at a time.
#ifndef SLOWMATCH_LINK_H
#define SLOWMATCH_LINK_H

#include "slowmatch/drill.h"

#define SM_LINK_LINE 600 // bytes of a line, its NUL included; a longer one is cut
#define SM_LINK_WHY 240
// The trainee says something at least this often; an instructor who hears nothing for four times as long has lost them.
#define SM_LINK_ALIVE_US SM_US_PER_S

// Drills that can be taken at once with a socket each, numbered from 1 on.
#define SM_LINK_DRILLS 16
// "$XDG_RUNTIME_DIR/slowmatch/drill-NUMBER.sock" into PATH. False: the variable is not set, or the path is too long for a socket.
bool sm_link_path(unsigned number, char path[108]);

// ---- the trainee's end ---------------------------------------------------------------------

typedef struct sm_link sm_link;

// Listens at the first number that no other drill has, in a folder and a socket for the user alone. A socket that nobody listens at any
// more is taken over. SM_REFUSED: all numbers are taken; SM_UNREADABLE: errno; SM_NOT_FOUND: no runtime folder; SM_NO_MEMORY. WHY has one line then.
SM_MUST_CHECK sm_result sm_link_listen(char why[SM_LINK_WHY], sm_link **out);
unsigned sm_link_number(const sm_link *link);
// Says goodbye and takes the socket away. NULL is taken.
void sm_link_close(sm_link *link);

// Lets an instructor in (and turns a second one away, once it has heard which drill this is), does what they asked for at NOW, tells them what is new of RUN. Anything that is
// no action of an instructor's is answered and changes nothing. True: something was done. SM_NO_MEMORY from the run.
SM_MUST_CHECK sm_result sm_link_serve(sm_link *link, sm_drill_run *run, sm_wall_time now, bool *did);

// ---- an instructor, from wherever --------------------------------------------------------------

typedef void sm_link_say(void *context, const char *line);

// What one was told already. {0}: nothing.
typedef struct sm_link_feed {
    uint32_t told;   // entries of the run
    char state[200]; // as told last
    bool end_told;
} sm_link_feed;

// Which drill it is, and who takes it.
void sm_link_hello(const sm_drill_run *run, char hello[SM_LINK_LINE]);
// That, and what is to come.
void sm_link_welcome(const sm_drill_run *run, sm_link_say *to, void *context);
// What is new of RUN.
void sm_link_tell_news(sm_link_feed *feed, sm_drill_run *run, sm_link_say *to, void *context);
// Does what the instructor's LINE asks for; what it cannot be is answered. *DID is set where something was done, and left as it is
// otherwise. SM_NO_MEMORY from the run.
SM_MUST_CHECK sm_result sm_link_obey(sm_link_feed *feed, sm_drill_run *run, sm_wall_time now,
                                     const char *line, sm_link_say *to, void *context, bool *did);

#define SM_LINK_NOBODY "nobody takes a drill on this machine just now"

// ---- the instructor's end ---------------------------------------------------------------------

typedef struct sm_link_guest sm_link_guest;

// The numbers of the drills that the user takes now; returns how many. No runtime folder: none.
unsigned sm_link_find(unsigned numbers[SM_LINK_DRILLS]);
// Joins drill NUMBER; the first line heard says which it is and who takes it. SM_NOT_FOUND: nobody takes it, or no runtime folder;
// SM_UNREADABLE: errno; SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_link_join(unsigned number, char why[SM_LINK_WHY], sm_link_guest **out);
void sm_link_leave(sm_link_guest *guest); // NULL is taken
int sm_link_guest_descriptor(const sm_link_guest *guest);
// Sends LINE. False: it cannot be sent.
bool sm_link_ask(sm_link_guest *guest, const char *line);
typedef enum sm_link_word {
    SM_LINK_NOTHING, // nothing more for now
    SM_LINK_SAID,    // a line for people
    SM_LINK_ALIVE,   // only a sign of life
    SM_LINK_GONE     // the trainee's program has ended
} sm_link_word;
// The next line from the trainee.
sm_link_word sm_link_hear(sm_link_guest *guest, char line[SM_LINK_LINE]);

// What an instructor may type, one a line, for help.
const char *sm_link_help(void);

#endif
