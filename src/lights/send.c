// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights/send.h"

#include "lights/judge.h"

#include <arpa/inet.h>
#include <errno.h>
#include <net/if.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <unistd.h>

static bool fail(char why[SM_LIGHTS_WHY], const lights_wire *wire, const char *what, int error) {
    snprintf(why, SM_LIGHTS_WHY, "interface %s: %s%s%s", wire->options.interface, what, error ? ": " : "",
             error ? strerror(error) : "");
    return false;
}

// ---- the interface -------------------------------------------------------------------------

static bool ask(int probe, const lights_wire *wire, unsigned long what, struct ifreq *out) {
    memset(out, 0, sizeof *out);
    memcpy(out->ifr_name, wire->options.interface, sizeof wire->options.interface);
    return ioctl(probe, what, out) == 0;
}

static uint32_t address_in(const struct sockaddr *address) {
    struct sockaddr_in in;
    memcpy(&in, address, sizeof in);
    return ntohl(in.sin_addr.s_addr);
}

// The system answers questions about interfaces through any socket, such as PROBE.
static bool look_through(int probe, lights_wire *wire, char why[SM_LIGHTS_WHY]) {
    struct ifreq asked;
    bool good =
        ask(probe, wire, SIOCGIFINDEX, &asked) || fail(why, wire, "there is none; `ip link` lists them", 0);
    if (good)
        wire->index = asked.ifr_ifindex;
    good = good && (ask(probe, wire, SIOCGIFFLAGS, &asked) || fail(why, wire, "not known", errno));
    if (good && (asked.ifr_flags & (IFF_UP | IFF_RUNNING)) != (IFF_UP | IFF_RUNNING))
        good = fail(why, wire, "it is down, or has no carrier", 0);
    if (good) {
        wire->loopback = (asked.ifr_flags & IFF_LOOPBACK) != 0;
        wire->multicasts = (asked.ifr_flags & IFF_MULTICAST) != 0;
    }
    good = good && (ask(probe, wire, SIOCGIFADDR, &asked) || fail(why, wire, "it has no IPv4 address", 0));
    if (good)
        wire->address = address_in(&asked.ifr_addr);
    good = good && (ask(probe, wire, SIOCGIFNETMASK, &asked) || fail(why, wire, "not known", errno));
    if (good)
        wire->netmask = address_in(&asked.ifr_netmask);
    return good;
}

// Before there is a listener: a stream socket, never connected.
static bool look(lights_wire *wire, char why[SM_LIGHTS_WHY]) {
    if (wire->listener >= 0)
        return look_through(wire->listener, wire, why);
    const int probe = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (probe < 0)
        return fail(why, wire, "no socket", errno);
    const bool good = look_through(probe, wire, why);
    close(probe);
    return good;
}

bool lights_wire_look(lights_wire *wire, char why[SM_LIGHTS_WHY]) {
    if (!look(wire, why))
        return false;
    for (size_t i = 0; i < wire->options.to_count; i++) {
        const uint32_t to = wire->options.to[i].address;
        char shown[40];
        const bool on_link = ((to ^ wire->address) & wire->netmask) == 0;
        const bool is_host =
            wire->loopback || (to != wire->address && to != (wire->address | ~wire->netmask));
        if (to == 0 && !wire->multicasts)
            return fail(why, wire, "it takes no multicast", 0);
        if (to != 0 && (!on_link || !is_host)) {
            snprintf(why, SM_LIGHTS_WHY, "interface %s: %s is no other machine on its own network",
                     wire->options.interface, sm_lights_to_format(shown, to, 0));
            return false;
        }
    }
    return true;
}

bool sm_lights_options_fit(const sm_lights_options *options, char why[SM_LIGHTS_WHY]) {
    lights_wire wire = {.options = *options, .listener = -1};
    why[0] = '\0';
    // One that is there and has no address is down, or not set up yet.
    return lights_wire_look(&wire, why) || (wire.index != 0 && wire.address == 0);
}

bool lights_wire_stands(const lights_wire *wire, char why[SM_LIGHTS_WHY]) {
    lights_wire now = *wire;
    if (!look(&now, why))
        return false;
    return (now.index == wire->index && now.address == wire->address && now.netmask == wire->netmask) ||
           fail(why, wire, "it has another address", 0);
}

// ---- sockets ---------------------------------------------------------------------------------

// Bound to the interface before anything else: it neither hears nor reaches another.
static int open_socket(const lights_wire *wire, uint32_t address, uint16_t port) {
    const int yes = 1;
    const int opened = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (opened < 0)
        return -1;
    const struct sockaddr_in at = {
        .sin_family = AF_INET, .sin_port = htons(port), .sin_addr = {htonl(address)}};
    if (setsockopt(opened, SOL_SOCKET, SO_BINDTODEVICE, wire->options.interface,
                   (socklen_t)strlen(wire->options.interface) + 1) == 0 &&
        (port == 0 || setsockopt(opened, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) == 0) &&
        bind(opened, (const struct sockaddr *)&at, sizeof at) == 0)
        return opened;
    const int error = errno;
    close(opened);
    errno = error;
    return -1;
}

bool lights_wire_listen(lights_wire *wire, const int32_t *universes, size_t count, size_t *less,
                        char why[SM_LIGHTS_WHY]) {
    *less = 0;
    wire->listener = open_socket(wire, INADDR_ANY, SM_SACN_PORT);
    if (wire->listener < 0)
        return fail(why, wire, "other sources cannot be listened for", errno);
    for (size_t i = 0; i < count && wire->multicasts; i++) {
        const struct ip_mreqn group = {.imr_multiaddr = {htonl(sm_sacn_multicast((uint16_t)universes[i]))},
                                       .imr_ifindex = wire->index};
        if (setsockopt(wire->listener, IPPROTO_IP, IP_ADD_MEMBERSHIP, &group, sizeof group) == 0)
            continue;
        if (errno != ENOBUFS)
            return fail(why, wire, "other sources cannot be listened for", errno);
        ++*less;
    }
    return true;
}

bool lights_wire_hear(const lights_wire *wire, sm_sacn_heard *out) {
    uint8_t packet[SM_SACN_DATA_BYTES + 1];
    for (ssize_t length; (length = recv(wire->listener, packet, sizeof packet, 0)) >= 0;)
        if (sm_sacn_read(packet, (size_t)length, out))
            return true;
    return false;
}

static bool set(int opened, int option, int value) {
    return setsockopt(opened, IPPROTO_IP, option, &value, sizeof value) == 0;
}

// -1: none could be kept to the interface and to ADDRESS; errno says why.
static int open_road(const lights_wire *wire, uint32_t address) {
    const struct ip_mreqn through = {.imr_address = {htonl(wire->address)}, .imr_ifindex = wire->index};
    const struct sockaddr_in to = {
        .sin_family = AF_INET, .sin_port = htons(SM_SACN_PORT), .sin_addr = {htonl(address)}};
    const int only_here = 1, sender = open_socket(wire, wire->address, 0);
    if (sender < 0)
        return -1;
    if (set(sender, IP_TTL, 1) && set(sender, IP_MULTICAST_TTL, 1) &&
        set(sender, IP_MULTICAST_LOOP, wire->loopback) &&
        setsockopt(sender, SOL_SOCKET, SO_DONTROUTE, &only_here, sizeof only_here) == 0 &&
        setsockopt(sender, IPPROTO_IP, IP_MULTICAST_IF, &through, sizeof through) == 0 &&
        connect(sender, (const struct sockaddr *)&to, sizeof to) == 0)
        return sender;
    const int error = errno;
    close(sender);
    errno = error;
    return -1;
}

// NULL: there is none, and none can be had; errno says why.
static const lights_road *road_to(lights_wire *wire, uint32_t address) {
    for (size_t i = 0; i < wire->road_count; i++)
        if (wire->roads[i].address == address)
            return &wire->roads[i];
    errno = EMFILE;
    const bool room = wire->road_count < sizeof wire->roads / sizeof wire->roads[0];
    const int sender = room ? open_road(wire, address) : -1;
    if (sender < 0)
        return NULL;
    wire->roads[wire->road_count] = (lights_road){address, sender};
    return &wire->roads[wire->road_count++];
}

bool lights_wire_open(lights_wire *wire, char why[SM_LIGHTS_WHY]) {
    const int trial = open_socket(wire, wire->address, 0);
    if (trial < 0)
        return fail(why, wire, "the socket cannot be kept to it", errno);
    close(trial);
    wire->opened = true;
    return true;
}

void lights_wire_close(lights_wire *wire) {
    if (wire->listener >= 0)
        close(wire->listener);
    for (size_t i = 0; i < wire->road_count; i++)
        close(wire->roads[i].sender);
    wire->listener = -1;
    wire->road_count = 0;
    wire->opened = false;
}

// ---- sending ---------------------------------------------------------------------------------

static bool has_no_room(int error) {
    return error == EAGAIN || error == ENOBUFS || error == EINTR;
}

// The only `sendto` of the program. Its callers below are the two that make packets.
static lights_sent put_out(lights_wire *wire, const uint8_t *packet, size_t length, uint32_t address,
                           char why[SM_LIGHTS_WHY]) {
    if (!wire->opened) {
        fail(why, wire, "no socket", 0);
        return LIGHTS_FAILED;
    }
    const lights_road *road = road_to(wire, address);
    ssize_t sent = -1;
    // What came back of an earlier packet is told once, in place of sending (ip(7), udp(7)): the second try is this packet's own.
    for (int attempt = 0; road && sent < 0 && attempt < 2; attempt++) {
        sent = sendto(road->sender, packet, length, MSG_NOSIGNAL, NULL, 0);
        if (sent < 0 && has_no_room(errno))
            break;
    }
    if (sent == (ssize_t)length)
        return LIGHTS_SENT;
    // Nobody listens at that port: as if it were lost on the way.
    if (road && sent < 0 && (has_no_room(errno) || errno == ECONNREFUSED))
        return LIGHTS_NOT_NOW;
    fail(why, wire, "sending failed", sent < 0 ? errno : 0);
    return LIGHTS_FAILED;
}

// The slots that verdict and mask both let pass. False: they differ.
static bool mask_slots(const lights_verdict *verdict, const lights_mask *mask, uint8_t out[SM_SACN_SLOTS]) {
    for (size_t s = 0; s < SM_SACN_SLOTS; s++)
        out[s] = verdict->slots[s] & mask->bits[s];
    return memcmp(out, verdict->slots, SM_SACN_SLOTS) == 0 &&
           memcmp(verdict->owned, mask->opened, sizeof mask->opened) == 0;
}

lights_sent lights_send(lights_wire *wire, const lights_packet *packet, char why[SM_LIGHTS_WHY]) {
    const lights_verdict *verdict = packet->verdict;
    uint8_t slots[SM_SACN_SLOTS], bytes[SM_SACN_DATA_BYTES];
    if (!lights_verdict_holds(verdict) || !packet->mask || packet->mask->spoiled ||
        packet->mask->universe != verdict->universe || !mask_slots(verdict, packet->mask, slots)) {
        snprintf(why, SM_LIGHTS_WHY, "the judge and the mask differ over universe %d", verdict->universe);
        return LIGHTS_FAULT;
    }
    const sm_sacn_head head = {.universe = (uint16_t)verdict->universe,
                               .priority = (uint8_t)wire->options.priority,
                               .sequence = packet->sequence,
                               .terminated = packet->terminated};
    sm_sacn_data(&wire->source, &head, slots, bytes);
    return put_out(wire, bytes, sizeof bytes,
                   packet->address ? packet->address : sm_sacn_multicast(head.universe), why);
}

lights_sent lights_send_discovery(lights_wire *wire, const uint16_t *universes, size_t count,
                                  char why[SM_LIGHTS_WHY]) {
    uint8_t bytes[SM_SACN_DISCOVERY_BYTES];
    const size_t length = sm_sacn_discovery(&wire->source, universes, count, bytes);
    return wire->multicasts ? put_out(wire, bytes, length, sm_sacn_multicast(SM_SACN_DISCOVERY_UNIVERSE), why)
                            : LIGHTS_SENT;
}
