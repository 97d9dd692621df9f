// SPDX-License-Identifier: GPL-3.0-or-later
// Streaming ACN (ANSI E1.31-2018): packets as bytes. Pure: nothing here sends or receives. All functions: any thread, nothing is kept.
// Field layout, offsets and vectors as second-hand texts of the standard give them, clause numbers beside the code.
#ifndef SLOWMATCH_SACN_H
#define SLOWMATCH_SACN_H

#include "slowmatch/base.h"

#define SM_SACN_PORT 5568
#define SM_SACN_SLOTS 512
#define SM_SACN_UNIVERSE_MAX 63999
#define SM_SACN_DISCOVERY_UNIVERSE 64214
#define SM_SACN_CID_BYTES 16
#define SM_SACN_NAME_BYTES 64      // the NUL included
#define SM_SACN_DATA_BYTES 638     // of a data packet with all slots
#define SM_SACN_DISCOVERY_LIST 512 // universes on one page
#define SM_SACN_DISCOVERY_BYTES (120 + 2 * SM_SACN_DISCOVERY_LIST)

// Who sends.
typedef struct sm_sacn_source {
    uint8_t cid[SM_SACN_CID_BYTES];
    char name[SM_SACN_NAME_BYTES];
} sm_sacn_source;

// What a data packet says beside its slots.
typedef struct sm_sacn_head {
    uint16_t universe; // 1 to SM_SACN_UNIVERSE_MAX
    uint8_t priority;  // 0 to 200
    uint8_t sequence;
    bool terminated; // the stream ends: receivers shall not act on the slots
} sm_sacn_head;

// The data packet with all SLOTS, start code 0, not synchronized, no preview.
void sm_sacn_data(const sm_sacn_source *source, const sm_sacn_head *head, const uint8_t slots[SM_SACN_SLOTS],
                  uint8_t out[SM_SACN_DATA_BYTES]);
// The universe discovery packet of one page: COUNT UNIVERSES (at most SM_SACN_DISCOVERY_LIST) in rising order. Returns its bytes.
size_t sm_sacn_discovery(const sm_sacn_source *source, const uint16_t *universes, size_t count,
                         uint8_t out[SM_SACN_DISCOVERY_BYTES]);

// What another source says in a packet that came in.
typedef struct sm_sacn_heard {
    sm_sacn_source source; // its name cut at 63 bytes, what is no printable ASCII as '?'
    sm_sacn_head head;
    bool preview;
} sm_sacn_heard;
// Reads a data packet with start code 0 of any number of slots. A priority above 200, which the standard keeps back, is taken for 200. False:
// BYTES are none, not whole, or of a universe that there is not; *OUT is unchanged.
bool sm_sacn_read(const uint8_t *bytes, size_t length, sm_sacn_heard *out);

// The multicast address of UNIVERSE in host order: 239.255.(universe / 256).(universe % 256).
uint32_t sm_sacn_multicast(uint16_t universe);

#endif
