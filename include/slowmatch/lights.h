// SPDX-License-Identifier: GPL-3.0-or-later
// Lights on a wire, by sACN. A flame unit must not be reachable by any fault of the program, of the tables or of a habit: home levels
// protect nobody where another source sends, only not sending does. So a universe that holds anything but lights is never sent, and
// what is sent passes three pieces that were written apart from each other: the frame copies named channels of lights into zeros, the
// judge recomputes from the tables who owns each slot, the mask of the sending process (made from the tables that it read by itself)
// leaves nothing else. A difference between them stops all output. Sockets are in the sending process alone, a child of the program.
#ifndef SLOWMATCH_LIGHTS_H
#define SLOWMATCH_LIGHTS_H

#include "slowmatch/sacn.h"
#include "slowmatch/session.h"

#define SM_LIGHTS_PRIORITY 10 // below a desk's 100
#define SM_LIGHTS_PRIORITY_MAX 99
#define SM_LIGHTS_UNIVERSES 64 // sent at once, at most
#define SM_LIGHTS_WHY 200

// Where a universe goes.
typedef struct sm_lights_to {
    int32_t universe; // 0: all that no other names
    uint32_t address; // IPv4 in host order; 0: by multicast
} sm_lights_to;

// Typed for this run, never kept.
typedef struct sm_lights_options {
    char interface[16]; // its name
    sm_lights_to to[SM_LIGHTS_UNIVERSES];
    size_t to_count;
    int priority; // 1 to SM_LIGHTS_PRIORITY_MAX
} sm_lights_options;

// Reads TO, destinations with a comma between: "10.9.0.2", "multicast", "3=10.9.0.4"; and PRIORITY (NULL: SM_LIGHTS_PRIORITY).
// SM_INVALID: WHY gets one sentence, *OUT is unchanged.
SM_MUST_CHECK sm_result sm_lights_options_read(const char *interface, const char *to, const char *priority,
                                               sm_lights_options *out, char why[SM_LIGHTS_WHY]);
// Where UNIVERSE goes; false: nowhere, no destination is for it.
bool sm_lights_to_of(const sm_lights_options *options, int32_t universe, uint32_t *address);
// "10.9.0.2", "239.255.0.1 (multicast)". Returns BUFFER.
char *sm_lights_to_format(char buffer[40], uint32_t address, int32_t universe);

// What would go where by OPTIONS (NULL: no destination), what not and why, in lines appended to OUT; EACH: and a line a fixture.
// Opens nothing. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_lights_plan(const sm_show *show, const sm_lights_options *options, bool each,
                                       sm_text *out);
// The interface is there, and each address can be one on its network. False: WHY says what is not. True and WHY is not "": nothing can
// be sent as it is now, which may change. Opens nothing that stays.
bool sm_lights_options_fit(const sm_lights_options *options, char why[SM_LIGHTS_WHY]);

// First argument by which the program is the sending process; and its main.
#define SM_LIGHTS_PROCESS_ARGUMENT "--lights-process"
int sm_lights_process_main(int argc, char **argv);

// The outlet, for a session on a real clock that is no drill. OPTIONS are copied.
typedef struct sm_lights sm_lights;
SM_MUST_CHECK sm_result sm_lights_create(sm_session *session, const sm_lights_options *options,
                                         sm_lights **out);
void sm_lights_row(sm_lights *lights, const sm_log_row *row);
void sm_lights_snapshot(sm_lights *lights, const sm_snapshot *snapshot);
sm_wall_time sm_lights_step(sm_lights *lights, sm_wall_time now);
// Lets the lights go: the sending process fades them home by itself and ends. Waits for nothing. NULL is taken.
void sm_lights_destroy(sm_lights *lights);

#endif
