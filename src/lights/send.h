// SPDX-License-Identifier: GPL-3.0-or-later
// The sending process's sockets, and the one function that sends. All of them are bound to the interface that the user named; where
// anything of that fails there is no socket.
#ifndef SLOWMATCH_LIGHTS_SEND_H
#define SLOWMATCH_LIGHTS_SEND_H

#include "lights/mask.h"
#include "lights/verdict.h"

#include "slowmatch/lights.h"

// A socket that leads to ADDRESS alone: the system finds the way there once, not with each packet.
typedef struct lights_road {
    uint32_t address;
    int sender;
} lights_road;

typedef struct lights_wire {
    sm_lights_options options;
    sm_sacn_source source;
    int listener;                               // -1: none
    bool opened;                                // something may be sent
    lights_road roads[SM_LIGHTS_UNIVERSES + 1]; // each opened with its first packet; one is for discovery
    size_t road_count;
    int index;                 // of the interface
    uint32_t address, netmask; // of it, in host order
    bool loopback, multicasts;
} lights_wire;

// Looks at the interface: up, with an address, with a carrier. False: WHY. Opens nothing that stays.
bool lights_wire_look(lights_wire *wire, char why[SM_LIGHTS_WHY]);
// The interface is as it was looked at.
bool lights_wire_stands(const lights_wire *wire, char why[SM_LIGHTS_WHY]);
// Opens the listener, for packets to this machine and for the groups of COUNT UNIVERSES. *LESS: how many groups it could not join, of
// more than the system allows. False: WHY.
bool lights_wire_listen(lights_wire *wire, const int32_t *universes, size_t count, size_t *less,
                        char why[SM_LIGHTS_WHY]);
// The next packet that came in; false: none waits.
bool lights_wire_hear(const lights_wire *wire, sm_sacn_heard *out);
// From here on something may be sent. False: WHY, no socket can be had.
bool lights_wire_open(lights_wire *wire, char why[SM_LIGHTS_WHY]);
void lights_wire_close(lights_wire *wire);

typedef struct lights_packet {
    const lights_verdict *verdict; // the judge's
    const lights_mask *mask;       // of the same universe
    uint32_t address;              // 0: by multicast
    uint8_t sequence;
    bool terminated;
} lights_packet;

typedef enum lights_sent {
    LIGHTS_SENT,
    LIGHTS_NOT_NOW, // the system has no room: as if it were lost on the way
    LIGHTS_FAILED,  // WHY: the wire
    LIGHTS_FAULT    // WHY: judge and mask differ, or the verdict does not hold
} lights_sent;

// Sends what the verdict lets pass and the mask leaves, where both are the same.
lights_sent lights_send(lights_wire *wire, const lights_packet *packet, char why[SM_LIGHTS_WHY]);
// Says which universes are sent; it carries no levels.
lights_sent lights_send_discovery(lights_wire *wire, const uint16_t *universes, size_t count,
                                  char why[SM_LIGHTS_WHY]);

#endif
