// SPDX-License-Identifier: GPL-3.0-or-later
// Lights on a wire, from the typed statement to the far end of a cable: what is sent, when, and what never is. Read by another program's
// dissector and by a receiver that nobody here wrote (OLA). Rules of E1.31-2018 second-hand, by clause.
#include "support/lights_net.h"
#include "support/lights_random.h"
#include "support/show_folder.h"

#include "slowmatch/clock.h"
#include "slowmatch/engine.h"
#include "slowmatch/sacn.h"

#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

static const int universe_1[] = {1, 0};

// Another program's dissector has nothing to find fault with.
static void hold_no_fault_is_found(const lights_net *net) {
    char command[300];
    snprintf(command, sizeof command,
             "! tshark -r %s/wire.pcapng -o acn.dmx_enable:TRUE --enable-heuristic acn -Y '_ws.malformed || "
             "_ws.expert.severity == error' 2>/dev/null | grep .",
             net->folder);
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c)
}

// Nothing but the two lights of universe 1; every byte that is none of theirs is 0.
static void hold_what_is_sent(const lights_net *net, const lights_net_packet *packets, size_t count) {
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(packets[i].universe, 1);
        assert_string_equal(packets[i].to, "10.9.0.2");
        assert_int_equal(packets[i].ttl, 1);
        assert_int_equal(packets[i].priority, 10);
        if (i > 0)
            assert_int_equal(packets[i].sequence, (packets[i - 1].sequence + 1) % 256); // 6.2.5
        for (size_t s = 0; s < 512; s++)
            assert_true(packets[i].slots[s] == 0 || s <= 2 || s >= 509);
    }
    static const char *const elsewhere[] = {"away", "lo"};
    for (size_t i = 0; i < 2; i++) {
        size_t there, others;
        free(lights_net_packets(net, elsewhere[i], &there, &others));
        assert_int_equal(there + others, 0);
    }
}

// 6.6.1: not above 44 Hz, over ten packets. 6.6.2: kept alive each 800 to 1000 ms. A busy machine may hold any single packet back between
// its moment and the wire, and what comes after it is then nearer or farther: so most must keep to it here, and all in the bench.
static void hold_the_rate(const lights_net_packet *packets, size_t count) {
    size_t kept = 0, in_time = 0, quick = 0, fast = 0;
    double longest = 0;
    for (size_t i = 10; i < count; i++)
        fast += packets[i].at_s - packets[i - 10].at_s < 10 * 0.0227;
    for (size_t i = 1; i < count; i++) {
        const double gap = packets[i].at_s - packets[i - 1].at_s;
        kept += gap > 0.5;
        in_time += gap > 0.8 && gap < 1.0;
        longest = gap > longest ? gap : longest;
        quick += i < 25 && gap < 0.1;
    }
    print_message("%zu packets, %zu kept alive, the longest gap %.0f ms\n", count, kept, longest * 1000);
    assert_true(fast * 4 <= count);
    assert_true(kept >= 2 && in_time >= 1);
    assert_true(quick >= 13); // 25 at full rate to begin with
}

// The levels of universe 1 as OLA puts them out: "dmx": [200, 102, ...].
static void hold_what_ola_puts_out(const lights_net *net, const int *expected, size_t count) {
    char *said = NULL;
    for (int i = 0; i < 100; i++) { // the receiver takes its time
        free(said);
        said = lights_net_at_node(
            net, "perl -MIO::Socket::INET -e '$s = IO::Socket::INET->new(PeerAddr => "
                 "\"127.0.0.1:9090\") or die; print $s \"GET /get_dmx?u=1 HTTP/1.0\\r\\n\\r\\n\"; "
                 "print <$s>'");
        const char *list = strstr(said, "\"dmx\": [");
        bool same = list != NULL;
        char *at = list ? strchr(said, '[') + 1 : said;
        for (size_t s = 0; same && s < count; s++) {
            same = strtol(at, &at, 10) == expected[s];
            at += *at == ',';
        }
        if (same) {
            free(said);
            return;
        }
        lights_net_nap(0.2);
    }
    fail_msg("OLA puts out: %s", said);
}

// Rows of lights are kept, and a replay is told them again.
static void hold_the_replay(const lights_net *net) {
    char command[5000];
    snprintf(command, sizeof command, "XDG_DATA_HOME=%s %s logbook replay 1 | grep -q 'none differs'",
             net->folder, net->exe);
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c)
}

// From FROM to home, which is 5: it never goes back, nor in one step, nor sooner than the show's FADE_S less what a packet may be late.
static void hold_the_fade(const lights_net_packet *packets, size_t count, int from, double fade_s) {
    const double late_s = 0.3;
    size_t i = count, steps = 0, home = 0;
    while (i > 0 && packets[i - 1].slots[0] != from)
        i--;
    assert_true(i > 0 && i < count);
    const size_t first = i;
    for (; i < count; i++) {
        assert_true(packets[i].slots[0] <= packets[i - 1].slots[0]);
        steps += packets[i].slots[0] < packets[i - 1].slots[0];
        home = home == 0 && packets[i].slots[0] == 5 ? i : home;
    }
    assert_true(steps >= 2 && home > first);
    const double took_s = packets[home].at_s - packets[first].at_s;
    print_message("home within %.2f s of %.2f s, in %zu steps\n", took_s, fade_s, steps);
    assert_true(took_s > fade_s - late_s && took_s < fade_s + 5);
}

// Universe discovery (4.3, 8; second-hand): to universe 64214's address, an extended root (5) and framing (6) layer, then the list of
// page 0 of 0, which has universe 1 alone.
static void hold_discovery(const lights_net *net) {
    static const struct {
        size_t at;
        const char *hex;
    } parts[] = {{0, "00100000"
                     "4153432d45312e3137000000" // ASC-E1.17
                     "706a00000008"},
                 {38, "705400000002"},
                 {112, "700a00000001"
                       "0000"
                       "0001"}};
    char command[400], *said;
    snprintf(command, sizeof command,
             "tshark -r %s/wire.pcapng -Y 'ip.dst == 239.255.250.214 && udp.dstport == 5568' -T fields -e "
             "udp.payload 2>/dev/null",
             net->folder);
    said = lights_net_command(command);
    said[strcspn(said, "\n")] = '\0';
    assert_int_equal(strlen(said), 2 * 122);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        assert_memory_equal(said + 2 * parts[i].at, parts[i].hex, strlen(parts[i].hex));
    free(said);
}

static void from_the_statement_to_the_lamp(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", true);
    assert_int_equal(lights_net_sockets(&net), 0); // off at every start
    lights_net_type(&net, "lights answer 1 J");
    lights_net_wait(&net, "nothing is asked");
    lights_net_type(&net, "lights on");
    lights_net_wait(&net, "universe 2 NEVER SENT: jet-1 (jet) is a flame unit");
    lights_net_wait(&net, "universe 3 NEVER SENT: haze (hazer) is not marked");
    lights_net_wait(&net, "line of universe 1: fuel shut");
    lights_net_wait_sockets(&net, 1); // the listener, while the question stands
    lights_net_type(&net, "lights off");
    lights_net_wait(&net, "nothing was sent");
    lights_net_wait_sockets(&net, 0);
    lights_net_light(&net, universe_1);
    lights_net_run(&net);
    lights_net_nap(2.5);
    int expected[512] = {200, 102, 0};
    expected[509] = 5, expected[511] = 255;
    hold_what_ola_puts_out(&net, expected, 512);
    lights_net_wait_sockets(&net, 3); // the listener, the way to the node, the way to whoever discovers
    lights_net_type(&net, "safe");    // holds the lights
    lights_net_wait(&net, "state safe");
    lights_net_nap(2.2);
    hold_what_ola_puts_out(&net, expected, 512);
    lights_net_type(&net, "lights off");
    lights_net_wait(&net, "no longer");
    lights_net_wait_sockets(&net, 0);
    lights_net_end(&net);
    hold_the_replay(&net);
    size_t count, others;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    hold_no_fault_is_found(&net);
    hold_what_is_sent(&net, packets, count);
    hold_the_rate(packets, count);
    hold_the_fade(packets, count, 200, 0.5); // `lights off`
    lights_net_hold_end(packets, count);
    assert_true(lights_net_is_home(&packets[0]));
    assert_true(others >= 1); // this dissector takes it for plain UDP
    hold_discovery(&net);
    free(packets);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

static void the_end_of_the_show_lets_them_go(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    show_folder_put(
        &folder, "show.ini",
        "[show]\ntitle = Wire\nlength = 2\ncountdown = 0\n[limits]\narm-time = 0.1\n[lights]\nfade = 2 s\n");
    show_folder_put(&folder, "cues.csv", "time,target,do,fade\n0.5,par-1,dim=205,\n0.6,A-01,comet,\n");
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    lights_net_run(&net);
    lights_net_wait(&net, "lights off end of the show");
    lights_net_wait(&net, "no longer: ADVISORY LIGHTS");
    lights_net_wait_sockets(&net, 0);
    lights_net_end(&net);
    size_t count, others;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    lights_net_hold_end(packets, count);
    hold_the_fade(packets, count, 205, 2);
    free(packets);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// ---- the levels of a random show ---------------------------------------------------------------------------

enum { LAST_MS = 6000 };

// What the engine has for each channel at each millisecond of the show: LAST_MS + 2 times show->channel_count.
static uint8_t *levels_by_engine(const sm_show *show) {
    static const char *const lines[] = {"key on", "call-clear J", "arm", "start"};
    const sm_rehearsal_options options = {.no_alerts = true, .readings_not_judged = true};
    uint8_t *levels = malloc((size_t)(LAST_MS + 2) * show->channel_count);
    sm_rehearsal *rehearsal;
    sm_wall_time now = {0};
    assert_non_null(levels);
    assert_int_equal(sm_rehearsal_create(show, &options, &rehearsal), SM_OK);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++, now.us += SM_US_PER_S) {
        sm_action action;
        char why[200];
        size_t at;
        assert_int_equal(sm_action_read(show, lines[i], strlen(lines[i]), &action, why, &at), SM_OK);
        assert_int_equal(sm_rehearsal_act(rehearsal, &action, SM_SOURCE_CONSOLE, now), SM_OK);
    }
    now.us -= SM_US_PER_S; // of the start
    for (int ms = 0; ms <= LAST_MS + 1; ms++) {
        const sm_wall_time at = {now.us + ms * 1000};
        assert_int_equal(sm_rehearsal_run(rehearsal, at), SM_OK);
        sm_rehearsal_levels(rehearsal, at, levels + (size_t)ms * show->channel_count);
    }
    sm_rehearsal_destroy(rehearsal);
    return levels;
}

// PACKET has the engine's levels of a moment within millisecond MS.
static bool is_of_moment(const lights_net_packet *packet, const sm_show *show, const uint8_t *levels,
                         int ms) {
    const uint8_t *from = levels + (size_t)ms * show->channel_count, *to = from + show->channel_count;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        for (uint32_t c = 0;
             fixture->universe == packet->universe && c < show->profiles[fixture->profile].channel_count;
             c++) {
            const uint8_t level = packet->slots[fixture->address - 1 + (int)c],
                          a = from[fixture->channel_base + c], b = to[fixture->channel_base + c];
            if (level < (a < b ? a : b) || level > (a < b ? b : a))
                return false;
        }
    }
    return true;
}

// Each packet has what the engine has at a moment of the show, and none comes before the one that was sent before it.
static void random_levels_arrive_as_the_engine_has_them(void **state) {
    (void)state;
    const show_folder folder = show_folder_make_small();
    lights_random truth;
    lights_net net;
    int universes[LIGHTS_RANDOM_UNIVERSES + 1], sent = 0, reached[LIGHTS_RANDOM_UNIVERSES + 1] = {0};
    lights_random_put(&folder, 6, true, &truth);
    for (int u = 1; u <= LIGHTS_RANDOM_UNIVERSES; u++)
        if (truth.may[u])
            universes[sent++] = u;
    universes[sent] = 0;
    assert_true(sent >= 2);
    sm_show *show = show_folder_load(&folder, SM_OK);
    uint8_t *levels = levels_by_engine(show);
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universes);
    lights_net_run(&net);
    lights_net_nap(4.5);
    const double killed_s = lights_net_now_s();
    lights_net_kill(&net);
    size_t count, others, held = 0, moving = 0;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    for (size_t i = 0; i < count && packets[i].at_s < killed_s; i++) {
        int ms = reached[packets[i].universe];
        while (ms <= LAST_MS && !is_of_moment(&packets[i], show, levels, ms))
            ms++;
        if (ms > LAST_MS)
            fail_msg("packet %zu of universe %d has no levels of any moment from %d ms on", i,
                     packets[i].universe, reached[packets[i].universe]);
        moving += ms > reached[packets[i].universe];
        reached[packets[i].universe] = ms;
        held++;
    }
    print_message("%zu packets of %d universes, %zu of them further on than the one before\n", held, sent,
                  moving);
    assert_true(held > 50 && moving > 20);
    free(packets);
    free(levels);
    sm_show_destroy(show);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// Only in a soak: it takes the shortest time that can be set, a minute.
static void the_statement_lapses_in_time(void **state) {
    (void)state;
    const char *soak = getenv("SLOWMATCH_SOAK");
    if (!soak || !*soak)
        skip();
    const show_folder folder = lights_net_show();
    lights_net net;
    show_folder_put(&folder, "show.ini", "[show]\ntitle = Wire\nlength = 300\n[lights]\nstatement = 1 min\n");
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    const double on_s = lights_net_now_s();
    lights_net_nap(40);
    lights_net_wait(&net, "LIGHTS LAPSED: the statement's time is over");
    assert_true(fabs(lights_net_now_s() - on_s - 60) < 2);
    lights_net_wait_sockets(&net, 0);
    lights_net_end(&net);
    size_t count, others;
    free(lights_net_packets(&net, "wire", &count, &others));
    assert_true(others >= 6 && others <= 8); // universe discovery, each 10 s (4.3)
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// Each of the three pieces alone is stopped by the others before anything is sent.
static void stop_a_planted_fault(const char *program) {
    const show_folder folder = lights_net_show();
    lights_net net;
    size_t count, others;
    show_folder_put(
        &folder, "fixtures.csv",
        "name,profile,universe,address\npar-1,par,1,1\npar-2,par,1,400\njet-1,jet,2,1\npar-3,par,3,1\n"
        "haze,hazer,3,9\n");
    lights_net_start(&net, program, folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    lights_net_wait(&net, "LIGHTS STOPPED: ");
    lights_net_wait_sockets(&net, 0);
    lights_net_end(&net);
    free(lights_net_packets(&net, "wire", &count, &others));
    assert_int_equal(count, 0);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

static void a_fault_in_the_frame_stops_all_output(void **state) {
    (void)state;
    stop_a_planted_fault("slowmatch-fault-frame");
}

static void a_fault_in_the_judge_stops_all_output(void **state) {
    (void)state;
    stop_a_planted_fault("slowmatch-fault-judge");
}

static void a_fault_in_the_mask_stops_all_output(void **state) {
    (void)state;
    stop_a_planted_fault("slowmatch-fault-mask");
}

ON_A_WIRE(from_the_statement_to_the_lamp)
ON_A_WIRE(the_end_of_the_show_lets_them_go)
ON_A_WIRE(random_levels_arrive_as_the_engine_has_them)
ON_A_WIRE(the_statement_lapses_in_time)
ON_A_WIRE(a_fault_in_the_frame_stops_all_output)
ON_A_WIRE(a_fault_in_the_judge_stops_all_output)
ON_A_WIRE(a_fault_in_the_mask_stops_all_output)

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(from_the_statement_to_the_lamp_on_a_wire),
        cmocka_unit_test(the_end_of_the_show_lets_them_go_on_a_wire),
        cmocka_unit_test(random_levels_arrive_as_the_engine_has_them_on_a_wire),
        cmocka_unit_test(the_statement_lapses_in_time_on_a_wire),
        cmocka_unit_test(a_fault_in_the_frame_stops_all_output_on_a_wire),
        cmocka_unit_test(a_fault_in_the_judge_stops_all_output_on_a_wire),
        cmocka_unit_test(a_fault_in_the_mask_stops_all_output_on_a_wire),
    };
    signal(SIGPIPE, SIG_IGN);
    return lights_net_run_at_once("lights on a wire", tests, sizeof tests / sizeof tests[0], argv);
}
