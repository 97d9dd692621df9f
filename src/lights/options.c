// SPDX-License-Identifier: GPL-3.0-or-later
// Destinations as they are typed for this run.
#include "slowmatch/lights.h"

#include <arpa/inet.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool read_number(const char *text, int32_t low, int32_t high, int32_t *out) {
    char *end;
    const long value = strtol(text, &end, 10);
    if (end == text || *end != '\0' || value < low || value > high)
        return false;
    *out = (int32_t)value;
    return true;
}

// One address of one machine: a broadcast or a group is none.
static bool read_address(const char *text, uint32_t *out) {
    struct in_addr address;
    if (strcmp(text, "multicast") == 0) {
        *out = 0;
        return true;
    }
    if (inet_pton(AF_INET, text, &address) != 1)
        return false;
    *out = ntohl(address.s_addr);
    return *out >> 24 != 0 && *out >> 24 < 224;
}

// "3=10.9.0.4", "multicast".
static bool read_one(char *text, sm_lights_to *out) {
    char *equals = strchr(text, '=');
    *out = (sm_lights_to){0};
    if (equals) {
        *equals = '\0';
        if (!read_number(text, 1, SM_SACN_UNIVERSE_MAX, &out->universe))
            return false;
    }
    return read_address(equals ? equals + 1 : text, &out->address);
}

static bool is_twice(const sm_lights_options *options, int32_t universe) {
    for (size_t i = 0; i < options->to_count; i++)
        if (options->to[i].universe == universe)
            return true;
    return false;
}

static sm_result read_list(const char *to, sm_lights_options *options, char why[SM_LIGHTS_WHY]) {
    char *copy = strdup(to), *rest = copy;
    sm_result result = copy ? SM_OK : SM_NO_MEMORY;
    for (char *word; result == SM_OK && (word = strtok_r(rest, ",", &rest));) {
        sm_lights_to *one = &options->to[options->to_count];
        char shown[64];
        snprintf(shown, sizeof shown, "%s", word);
        if (options->to_count == SM_LIGHTS_UNIVERSES || !read_one(word, one) ||
            is_twice(options, one->universe)) {
            snprintf(why, SM_LIGHTS_WHY,
                     "%s is no destination, or one too many; write 10.9.0.2, 3=10.9.0.4 or multicast", shown);
            result = SM_INVALID;
        } else {
            options->to_count++;
        }
    }
    free(copy);
    return result;
}

sm_result sm_lights_options_read(const char *interface, const char *to, const char *priority,
                                 sm_lights_options *out, char why[SM_LIGHTS_WHY]) {
    sm_lights_options options = {.priority = SM_LIGHTS_PRIORITY};
    int32_t number = SM_LIGHTS_PRIORITY;
    const size_t length = strlen(interface);
    if (length == 0 || length >= sizeof options.interface) {
        snprintf(why, SM_LIGHTS_WHY, "%.40s is no network interface; `ip link` lists them", interface);
        return SM_INVALID;
    }
    memcpy(options.interface, interface, length);
    if (priority && !read_number(priority, 1, SM_LIGHTS_PRIORITY_MAX, &number)) {
        snprintf(why, SM_LIGHTS_WHY, "priority %.40s is outside 1 to %d: a desk's is 100, and goes first",
                 priority, SM_LIGHTS_PRIORITY_MAX);
        return SM_INVALID;
    }
    options.priority = number;
    const sm_result result = read_list(to, &options, why);
    if (result == SM_OK)
        *out = options;
    return result;
}

bool sm_lights_to_of(const sm_lights_options *options, int32_t universe, uint32_t *address) {
    const sm_lights_to *found = NULL;
    for (size_t i = 0; i < options->to_count; i++)
        if (options->to[i].universe == universe || (options->to[i].universe == 0 && !found))
            found = &options->to[i];
    if (!found)
        return false;
    *address = found->address;
    return true;
}

char *sm_lights_to_format(char buffer[40], uint32_t address, int32_t universe) {
    const uint32_t shown = address ? address : sm_sacn_multicast((uint16_t)universe);
    snprintf(buffer, 40, "%u.%u.%u.%u%s", shown >> 24, shown >> 16 & 255, shown >> 8 & 255, shown & 255,
             address ? "" : " (multicast)");
    return buffer;
}
