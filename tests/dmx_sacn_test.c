// SPDX-License-Identifier: GPL-3.0-or-later
// sACN packets against the fields of ANSI E1.31-2018 as second-hand texts give them (a public description with the clauses' text, a
// clause by clause compliance list, an open-source package and its tests), and against another program's dissector.
#include "support/folder.h"
#include "support/published.h"

#include "slowmatch/sacn.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const sm_sacn_source source = {
    .cid = {0x10, 0x11, 0x12, 0x13, 0x14, 0x15, 0x16, 0x17, 0x18, 0x19, 0x1A, 0x1B, 0x1C, 0x1D, 0x1E, 0x1F},
    .name = "slowmatch REHEARSAL"};

// What precedes the slots of a 638-byte packet, written out by hand from the table of the standard's fields: universe 1, priority 10,
// sequence 154.
static const char head_by_hand[] =
    "0010 0000 4153432D45312E3137000000 726E 00000004 101112131415161718191A1B1C1D1E1F " // 5.1 to 5.6
    "7258 00000002 "                                                                     // 6.1, 6.2.1
    "736C6F776D6174636820524548454152 53414C00000000000000000000000000 "                 // 6.2.2
    "00000000000000000000000000000000 00000000000000000000000000000000 "
    "0A 0000 9A 00 0001 "            // 6.2.3 to 6.2.7
    "720B 02 A1 0000 0001 0201 00 "; // 7.1 to 7.7

static size_t read_hex(const char *text, uint8_t *out) {
    size_t count = 0;
    for (const char *at = text; *at != '\0';) {
        unsigned byte;
        if (*at == ' ') {
            at++;
            continue;
        }
        assert_int_equal(sscanf(at, "%2x", &byte), 1);
        out[count++] = (uint8_t)byte;
        at += 2;
    }
    return count;
}

static void data_is_as_written_by_hand(void **state) {
    (void)state;
    uint8_t expected[SM_SACN_DATA_BYTES], slots[SM_SACN_SLOTS], packet[SM_SACN_DATA_BYTES];
    assert_int_equal(read_hex(head_by_hand, expected), 126);
    for (size_t i = 0; i < SM_SACN_SLOTS; i++)
        expected[126 + i] = slots[i] = (uint8_t)(i * 7 + 3);
    sm_sacn_data(&source, &(sm_sacn_head){.universe = 1, .priority = 10, .sequence = 154}, slots, packet);
    assert_memory_equal(packet, expected, sizeof packet);
    assert_int_equal(packet[637], slots[511]); // slot 512 is the last byte
    expected[112] = 0x40;                      // 6.2.6: bit 6 ends the stream
    sm_sacn_data(&source, &(sm_sacn_head){.universe = 1, .priority = 10, .sequence = 154, .terminated = true},
                 slots, packet);
    assert_memory_equal(packet, expected, sizeof packet);
}

// 8.1 to 8.5, from memory; the lengths by the rule of 5.4.
static void discovery_is_as_written_by_hand(void **state) {
    (void)state;
    static const uint16_t universes[] = {1, 257, 63999};
    uint8_t expected[SM_SACN_DISCOVERY_BYTES] = {0}, packet[SM_SACN_DISCOVERY_BYTES];
    read_hex(head_by_hand, expected);
    memset(expected + 108, 0, sizeof expected - 108);
    read_hex("706E 00000008", expected + 16); // 126 bytes less 16
    read_hex("7058 00000002", expected + 38); // less 38
    assert_int_equal(read_hex("00000000 700E 00000001 00 00 0001 0101 F9FF", expected + 108), 18);
    assert_int_equal(sm_sacn_discovery(&source, universes, 3, packet), 126);
    assert_memory_equal(packet, expected, 126);
}

static void addresses_are_the_tabulated_ones(void **state) {
    (void)state;
    static const struct {
        uint16_t universe;
        const char *address;
    } rows[] = {{1, "239.255.0.1"},         {255, "239.255.0.255"},    {256, "239.255.1.0"},
                {257, "239.255.1.1"},       {1000, "239.255.3.232"},   {7962, "239.255.31.26"},
                {63999, "239.255.249.255"}, {64214, "239.255.250.214"}};
    published family = {.family = "sACN addresses", .source = "E1.31-2018 9.3.1 (second-hand, recomputed)"};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        unsigned a, b, c, d;
        assert_int_equal(sscanf(rows[i].address, "%u.%u.%u.%u", &a, &b, &c, &d), 4);
        published_hold(&family, sm_sacn_multicast(rows[i].universe), a << 24 | b << 16 | c << 8 | d, 0);
    }
    published_print(&family);
}

static void what_comes_in_is_read_or_refused(void **state) {
    (void)state;
    uint8_t packet[SM_SACN_DATA_BYTES] = {0}, slots[SM_SACN_SLOTS] = {0};
    sm_sacn_heard heard = {.head = {.priority = 77}};
    sm_sacn_data(&source, &(sm_sacn_head){.universe = 7962, .priority = 200, .sequence = 3}, slots, packet);
    for (size_t length = 0; length <= 125; length++) // cut short: the start code is missing
        assert_false(sm_sacn_read(packet, length, &heard));
    assert_int_equal(heard.head.priority, 77);
    memset(packet + 44, 'x', 64); // a name without an end, and one with a control character
    packet[48] = '~';
    packet[49] = ' ';
    packet[50] = 0x1B;
    packet[112] = 0xC0;
    assert_true(sm_sacn_read(packet, sizeof packet, &heard));
    assert_int_equal(heard.head.universe, 7962);
    assert_int_equal(heard.head.priority, 200);
    assert_int_equal(heard.head.sequence, 3);
    assert_true(heard.head.terminated && heard.preview);
    assert_int_equal(strlen(heard.source.name), 63);
    assert_memory_equal(heard.source.name, "xxxx~ ?x", 8);
    assert_memory_equal(heard.source.cid, source.cid, 16);
    static const size_t changed[] = {1, 4, 21, 43, 117, 125}; // preamble, identifier, vectors, start code
    for (size_t i = 0; i < sizeof changed / sizeof *changed; i++) {
        packet[changed[i]] ^= 0x40;
        assert_false(sm_sacn_read(packet, sizeof packet, &heard));
        packet[changed[i]] ^= 0x40;
    }
}

// ---- another program's dissector -----------------------------------------------------------

static void put_little(FILE *file, uint32_t value, int bytes) {
    for (int i = 0; i < bytes; i++)
        fputc((int)(value >> 8 * i & 0xFF), file);
}

// One record of a capture: the packet in an IPv4 and a UDP header of raw IP (link type 101).
static void put_record(FILE *file, const uint8_t *packet, uint32_t length) {
    uint8_t header[28] = {0x45, 0, 0, 0, 0,   0,   0, 0, 1,    17,   0,    0,
                          10,   9, 0, 1, 239, 255, 0, 1, 0x15, 0xC0, 0x15, 0xC0};
    const uint32_t whole = length + 28, udp = length + 8;
    header[2] = (uint8_t)(whole >> 8), header[3] = (uint8_t)whole;
    header[24] = (uint8_t)(udp >> 8), header[25] = (uint8_t)udp;
    put_little(file, 0, 4), put_little(file, 0, 4), put_little(file, whole, 4), put_little(file, whole, 4);
    fwrite(header, 1, sizeof header, file);
    fwrite(packet, 1, length, file);
}

static void write_capture(const char *path) {
    uint8_t packet[SM_SACN_DATA_BYTES], slots[SM_SACN_SLOTS];
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    put_little(file, 0xA1B2C3D4, 4), put_little(file, 2, 2), put_little(file, 4, 2), put_little(file, 0, 4);
    put_little(file, 0, 4), put_little(file, 65535, 4), put_little(file, 101, 4);
    for (size_t i = 0; i < SM_SACN_SLOTS; i++)
        slots[i] = (uint8_t)i;
    sm_sacn_data(&source, &(sm_sacn_head){.universe = 1, .priority = 10, .sequence = 154}, slots, packet);
    put_record(file, packet, sizeof packet);
    sm_sacn_data(&source,
                 &(sm_sacn_head){.universe = 63999, .priority = 99, .sequence = 255, .terminated = true},
                 slots, packet);
    put_record(file, packet, sizeof packet);
    assert_int_equal(fclose(file), 0);
}

static void dissector_finds_nothing_malformed(void **state) {
    (void)state;
    char folder[64], path[256], command[700], said[2000];
    folder_make(folder);
    folder_path(path, folder, "packets.pcap");
    write_capture(path);
    // Of what tshark says on stderr only how it runs is meant; a capture that it cannot read gives no lines.
    snprintf(command, sizeof command,
             "tshark -r %s -o acn.dmx_enable:TRUE --enable-heuristic acn -T fields -e frame.protocols -e "
             "acn.dmx.universe "
             "-e acn.dmx.priority -e acn.dmx.option_s -e acn.dmx.source_name -e acn.dmx.seq_number -e "
             "acn.dmx.count "
             "-e acn.dmx.start_code -e _ws.malformed -e _ws.expert 2>/dev/null",
             path);
    FILE *pipe = popen(command, "r"); // NOLINT(cert-env33-c)
    assert_non_null(pipe);
    said[fread(said, 1, sizeof said - 1, pipe)] = '\0';
    assert_int_equal(pclose(pipe), 0);
    print_message("%s", said);
    folder_remove(folder);
    // A flag is a number to tshark 4.0, and a word to 4.4.
    assert_true(strstr(said, "\t1\t10\t0\tslowmatch REHEARSAL\t154\t") ||
                strstr(said, "\t1\t10\tFalse\tslowmatch REHEARSAL\t154\t"));
    assert_true(strstr(said, "\t63999\t99\t1\tslowmatch REHEARSAL\t255\t") ||
                strstr(said, "\t63999\t99\tTrue\tslowmatch REHEARSAL\t255\t"));
    assert_null(strstr(said, "alformed"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(data_is_as_written_by_hand),
        cmocka_unit_test(discovery_is_as_written_by_hand),
        cmocka_unit_test(addresses_are_the_tabulated_ones),
        cmocka_unit_test(what_comes_in_is_read_or_refused),
        cmocka_unit_test(dissector_finds_nothing_malformed),
    };
    return cmocka_run_group_tests_name("sACN packets", tests, NULL, NULL);
}
