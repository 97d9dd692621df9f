// SPDX-License-Identifier: GPL-3.0-or-later
// Packets of ANSI E1.31-2018. Every multi-byte field is big-endian (4.1). Clauses beside the fields; second-hand, see the header.
#include "slowmatch/sacn.h"

#include <assert.h>
#include <string.h>

// Offsets of the root, framing and DMP layers (5, 6, 7) and of the discovery layer (8).
enum {
    ROOT_LENGTH = 16,
    ROOT_VECTOR = 18,
    CID = 22,
    FRAMING_LENGTH = 38,
    FRAMING_VECTOR = 40,
    NAME = 44,
    PRIORITY = 108,
    SEQUENCE = 111,
    OPTIONS = 112,
    UNIVERSE = 113,
    DMP_LENGTH = 115,
    DMP_VECTOR = 117,
    DMP_TYPE = 118,
    INCREMENT = 121,
    COUNT = 123,
    START_CODE = 125,
    SLOTS = 126,
    LIST_LENGTH = 112,
    LIST_VECTOR = 114,
    LIST = 120
};
enum { ROOT_DATA = 4, ROOT_EXTENDED = 8, FRAMING_DATA = 2, FRAMING_DISCOVERY = 2, LIST_UNIVERSES = 1 };
enum { PRIORITY_MAX = 200 };                                  // 6.2.3
enum { SET_PROPERTY = 2, ADDRESS_TYPE = 0xA1 };               // 7.2, 7.3
enum { OPTION_PREVIEW = 1 << 7, OPTION_TERMINATED = 1 << 6 }; // 6.2.6

// Preamble 0x0010, post-amble 0, "ASC-E1.17" (5.1 to 5.3).
static const uint8_t preamble[ROOT_LENGTH] = {0x00, 0x10, 0x00, 0x00, 'A', 'S', 'C',
                                              '-',  'E',  '1',  '.',  '1', '7'};

static void put_16(uint8_t *at, size_t value) {
    at[0] = (uint8_t)(value >> 8);
    at[1] = (uint8_t)value;
}

static void put_32(uint8_t *at, uint32_t value) {
    put_16(at, value >> 16);
    put_16(at + 2, value & 0xFFFF);
}

static uint16_t get_16(const uint8_t *at) {
    return (uint16_t)(at[0] << 8 | at[1]);
}

// Flags 0x7 and how many bytes there are from AT to the packet's end (5.4, 6.1, 7.1).
static void put_length(uint8_t *packet, size_t at, size_t total) {
    put_16(packet + at, 0x7000 | (total - at));
}

static void put_layers(const sm_sacn_source *source, uint32_t root, uint32_t framing, uint8_t *out,
                       size_t total) {
    memset(out, 0, total);
    memcpy(out, preamble, sizeof preamble);
    put_length(out, ROOT_LENGTH, total);
    put_32(out + ROOT_VECTOR, root);
    memcpy(out + CID, source->cid, sizeof source->cid);
    put_length(out, FRAMING_LENGTH, total);
    put_32(out + FRAMING_VECTOR, framing);
    assert(memchr(source->name, '\0', sizeof source->name));
    memcpy(out + NAME, source->name, strlen(source->name));
}

void sm_sacn_data(const sm_sacn_source *source, const sm_sacn_head *head, const uint8_t slots[SM_SACN_SLOTS],
                  uint8_t out[SM_SACN_DATA_BYTES]) {
    assert(head->universe >= 1 && head->universe <= SM_SACN_UNIVERSE_MAX && head->priority <= 200);
    put_layers(source, ROOT_DATA, FRAMING_DATA, out, SM_SACN_DATA_BYTES);
    out[PRIORITY] = head->priority;
    out[SEQUENCE] = head->sequence;
    out[OPTIONS] = head->terminated ? OPTION_TERMINATED : 0;
    put_16(out + UNIVERSE, head->universe);
    put_length(out, DMP_LENGTH, SM_SACN_DATA_BYTES);
    out[DMP_VECTOR] = SET_PROPERTY;
    out[DMP_TYPE] = ADDRESS_TYPE;
    put_16(out + INCREMENT, 1);
    put_16(out + COUNT, SM_SACN_SLOTS + 1);
    memcpy(out + SLOTS, slots, SM_SACN_SLOTS);
}

size_t sm_sacn_discovery(const sm_sacn_source *source, const uint16_t *universes, size_t count,
                         uint8_t out[SM_SACN_DISCOVERY_BYTES]) {
    assert(count <= SM_SACN_DISCOVERY_LIST);
    const size_t total = LIST + 2 * count;
    put_layers(source, ROOT_EXTENDED, FRAMING_DISCOVERY, out, total);
    put_length(out, LIST_LENGTH, total);
    put_32(out + LIST_VECTOR, LIST_UNIVERSES); // then page 0, the last page 0 (8.3, 8.4)
    for (size_t i = 0; i < count; i++)
        put_16(out + LIST + 2 * i, universes[i]);
    return total;
}

static bool is_data(const uint8_t *bytes, size_t length) {
    static const uint8_t root[] = {0, 0, 0, ROOT_DATA}, framing[] = {0, 0, 0, FRAMING_DATA};
    return length > START_CODE && memcmp(bytes, preamble, sizeof preamble) == 0 &&
           memcmp(bytes + ROOT_VECTOR, root, sizeof root) == 0 &&
           memcmp(bytes + FRAMING_VECTOR, framing, sizeof framing) == 0 &&
           bytes[DMP_VECTOR] == SET_PROPERTY && bytes[START_CODE] == 0;
}

static void copy_name(const uint8_t *from, char out[SM_SACN_NAME_BYTES]) {
    size_t length = 0;
    while (length + 1 < SM_SACN_NAME_BYTES && from[length] != 0) {
        const uint8_t byte = from[length];
        out[length++] = (char)(byte >= ' ' && byte <= '~' ? byte : '?');
    }
    out[length] = '\0';
}

bool sm_sacn_read(const uint8_t *bytes, size_t length, sm_sacn_heard *out) {
    if (!is_data(bytes, length))
        return false;
    const uint16_t universe = get_16(bytes + UNIVERSE);
    if (universe == 0 || universe > SM_SACN_UNIVERSE_MAX)
        return false;
    memcpy(out->source.cid, bytes + CID, sizeof out->source.cid);
    copy_name(bytes + NAME, out->source.name);
    out->head = (sm_sacn_head){.universe = universe,
                               .priority = bytes[PRIORITY] < PRIORITY_MAX ? bytes[PRIORITY] : PRIORITY_MAX,
                               .sequence = bytes[SEQUENCE],
                               .terminated = (bytes[OPTIONS] & OPTION_TERMINATED) != 0};
    out->preview = (bytes[OPTIONS] & OPTION_PREVIEW) != 0;
    return true;
}

uint32_t sm_sacn_multicast(uint16_t universe) {
    return UINT32_C(0xEFFF0000) | universe; // 9.3.1
}
