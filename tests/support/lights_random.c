// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights_random.h"

#include <stdio.h>
#include <string.h>

typedef struct dice {
    uint64_t state;
} dice;

// splitmix64 (public domain, Vigna).
static uint32_t roll(dice *d, uint32_t below) {
    uint64_t z = d->state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return (uint32_t)((z ^ z >> 31) % below);
}

// Which of them are lights is said here, beside the tables: the marks of some are wrong.
static const struct {
    const char *name, *row;
    bool light;
    uint32_t channels;
} profiles[] = {
    {"par", "par,dim red green,,,,light", true, 3},
    {"bar", "bar,a b c d e f g h,,,,light", true, 8},
    {"wash", "wash,warm cold charm alarm,,,,light", true, 4},
    {"dim", "dim,level,,,,", false, 1},
    {"hazer", "hazer,fan haze,,,,never", false, 2},
    {"jet", "jet,permit flame,flame,permit 128-255,flame 1-255,never", false, 2},
    {"forgot", "forgot,permit flame,,,,never", false, 2},
    {"wrong", "wrong,permit flame,,,,light", false, 2},
    {"hidden", "hidden,level pilot-valves,,,,light", false, 2},
    {"armed", "armed,ARM level,,,,light", false, 2},
    {"joined", "joined,mainvalve level,,,,light", false, 2},
    {"fire-box", "fire-box,a b,,,,light", false, 2},
};
enum { PROFILES = sizeof profiles / sizeof profiles[0] };

typedef struct patch {
    uint32_t profile;
    int universe, address;
} patch;

static void put_profiles(const show_folder *folder) {
    sm_text text = {0};
    sm_text_printf(&text, "name,channels,hazard,enable,fire,wire\n");
    for (size_t i = 0; i < PROFILES; i++)
        sm_text_printf(&text, "%s\n", profiles[i].row);
    show_folder_put(folder, "profiles.csv", sm_text_get(&text));
    sm_text_deinit(&text);
}

// Two in three are lights; addresses leave room between most of them.
static patch draw(dice *d, uint32_t number) {
    patch p = {.profile = roll(d, 12) > 0 ? roll(d, 3) : roll(d, PROFILES),
               .universe = 1 + (int)roll(d, LIGHTS_RANDOM_UNIVERSES)};
    p.address = roll(d, 60) == 0 ? (int)roll(d, 530) - 4 : 1 + (int)(number * 20 + roll(d, 12));
    if (roll(d, 40) == 0)
        p.address = 1 + (int)roll(d, 500);
    return p;
}

static void judge(const patch *p, lights_random *out) {
    bool *may = &out->may[p->universe];
    const int last = p->address + (int)profiles[p->profile].channels - 1;
    *may = *may && profiles[p->profile].light && p->address >= 1 && last <= 512;
    for (int a = p->address; *may && a <= last; a++) {
        *may = !out->owned[p->universe][a];
        out->owned[p->universe][a] = true;
    }
}

// A few fixtures stand on lines, mostly of their own universe.
static void put_lines(const show_folder *folder, dice *d, const patch *all, uint32_t count,
                      lights_random *out) {
    sm_text text = {0};
    sm_text_printf(&text, "name,universe,chain\n");
    for (uint32_t i = 0; i < count; i++) {
        if (roll(d, 3) > 0)
            continue;
        const int universe = roll(d, 15) > 0 ? all[i].universe : 1 + (int)roll(d, LIGHTS_RANDOM_UNIVERSES);
        const bool flame = roll(d, 25) == 0;
        sm_text_printf(&text, "%sl%u,%d,f%u\n", flame ? "jet-" : "", i, universe, i);
        if (universe != all[i].universe || flame)
            out->may[universe] = out->may[all[i].universe] = false;
    }
    show_folder_put(folder, "lines.csv", sm_text_get(&text));
    sm_text_deinit(&text);
}

static void put_cues(const show_folder *folder, dice *d, const patch *all, uint32_t count) {
    sm_text text = {0};
    sm_text_printf(&text, "time,target,do,fade\n0.1,A-01,comet,\n");
    for (uint32_t i = 0; i < 2 * count; i++) {
        const uint32_t f = roll(d, count);
        static const char *const first[PROFILES] = {"dim",    "a",      "warm",  "level", "fan",   "flame",
                                                    "permit", "permit", "level", "level", "level", "a"};
        sm_text_printf(&text, "%u.%u,f%u,%s=%u,%u.%u\n", roll(d, 4), roll(d, 10), f, first[all[f].profile],
                       roll(d, 256), roll(d, 2), roll(d, 10));
    }
    show_folder_put(folder, "cues.csv", sm_text_get(&text));
    sm_text_deinit(&text);
}

void lights_random_put(const show_folder *folder, uint64_t seed, bool cues, lights_random *out) {
    dice d = {seed};
    patch all[LIGHTS_RANDOM_FIXTURES];
    const uint32_t count = 1 + roll(&d, LIGHTS_RANDOM_FIXTURES);
    bool patched[LIGHTS_RANDOM_UNIVERSES + 1] = {false};
    sm_text text = {0};
    memset(out, 0, sizeof *out);
    for (int u = 1; u <= LIGHTS_RANDOM_UNIVERSES; u++)
        out->may[u] = true;
    sm_text_printf(&text, "name,profile,universe,address\n");
    for (uint32_t i = 0; i < count; i++) {
        all[i] = draw(&d, i);
        judge(&all[i], out);
        patched[all[i].universe] = true;
        sm_text_printf(&text, "f%u,%s,%d,%d\n", i, profiles[all[i].profile].name, all[i].universe,
                       all[i].address);
    }
    for (int u = 1; u <= LIGHTS_RANDOM_UNIVERSES; u++)
        out->may[u] = out->may[u] && patched[u];
    put_profiles(folder);
    show_folder_put(folder, "fixtures.csv", sm_text_get(&text));
    sm_text_deinit(&text);
    show_folder_put(folder, "groups.csv", NULL);
    show_folder_put(folder, "readings.csv", NULL);
    put_lines(folder, &d, all, count, out);
    if (cues) {
        put_cues(folder, &d, all, count);
        show_folder_put(folder, "show.ini",
                        "[show]\ntitle = Random\nlength = 6\ncountdown = 0\n[limits]\narm-time = "
                        "0.1\n[lights]\nfade = 0.3 s\n");
    } else {
        show_folder_put(folder, "cues.csv", "time,target,do\n1,A-01,comet\n");
    }
}
