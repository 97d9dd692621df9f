// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine_random.h"

#include <stdlib.h>

uint32_t engine_roll(engine_dice *dice, uint32_t below) {
    uint64_t z = dice->state += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return (uint32_t)((z ^ (z >> 31)) >> 32) % below;
}

bool engine_soaks(void) {
    return getenv("SLOWMATCH_SOAK") != NULL;
}

static const char *pick(engine_dice *dice, const char *const *from, uint32_t count) {
    return from[engine_roll(dice, count)];
}

static void put_firing(sm_text *out, engine_dice *dice) {
    static const char *const targets[] = {"A-01", "A-02 A-03", "A-04", "A-05",
                                          "rack", "B-01 A-06", "B-02", "C-01"};
    static const char *const effects[] = {"fountain", "comet", "mine", "shell"};
    sm_text_printf(out, "%s,", pick(dice, targets, 8));
    sm_text_printf(out, "%s,,%s\n", pick(dice, effects, 4), engine_roll(dice, 3) == 0 ? "1.5" : "");
}

static void put_set(sm_text *out, engine_dice *dice) {
    static const char *const lamps[] = {"L1", "L2", "lamps", "L2 L1"};
    static const char *const burners[] = {"F1", "F2", "flames", "F2 F1"};
    static const char *const both[] = {"L1 F1", "F2 L2", "F1 L2"}; // they have dim in common
    static const char *const fades[] = {"", "", "0.25", "1", "2.5", "3.333333"};
    static const char *const lasts[] = {"", "", "0.25", "0.5", "1.25", "3", "2.5"};
    uint32_t kind = engine_roll(dice, 5), level = engine_roll(dice, 256);
    if (kind < 2)
        sm_text_printf(out, "%s,%s", pick(dice, lamps, 4), kind == 0 ? "dim" : "red");
    else if (kind == 2)
        sm_text_printf(out, "%s,dim", pick(dice, both, 3));
    else
        sm_text_printf(out, "%s,%s", pick(dice, burners, 4), kind == 3 ? "permit" : "flame");
    sm_text_printf(out, "=%u", level);
    if (kind == 4 && engine_roll(dice, 2) == 0)
        sm_text_printf(out, " permit=%u", engine_roll(dice, 256));
    if (kind == 0 && engine_roll(dice, 2) == 0)
        sm_text_printf(out, " red=%u", engine_roll(dice, 256));
    sm_text_printf(out, ",%s,", pick(dice, fades, 6));
    sm_text_printf(out, "%s\n", pick(dice, lasts, 7));
}

sm_show *engine_random_show(engine_dice *dice, unsigned cues) {
    static const engine_file changes[] = {
        {"show.ini", "[show]\ntitle = Random\nlength = 25\ncountdown = 2 s\n[limits]\narm-time = 1 s\n"},
        {NULL, NULL}};
    return engine_random_show_with(dice, cues, changes);
}

sm_show *engine_random_show_with(engine_dice *dice, unsigned cues, const engine_file *changes) {
    sm_text table = {0};
    for (unsigned i = 0; i < cues; i++) {
        int quarter = (int)engine_roll(dice, 4 * 28) - 12;
        int us = quarter * 250000 + (engine_roll(dice, 8) == 0 ? (int)engine_roll(dice, 5) : 0);
        sm_text_printf(&table, "%s%d.%06d,", us < 0 ? "-" : "", abs(us) / 1000000, abs(us) % 1000000);
        if (engine_roll(dice, 4) == 0)
            put_firing(&table, dice);
        else
            put_set(&table, dice);
    }
    sm_show *show = engine_show(sm_text_get(&table), changes);
    sm_text_deinit(&table);
    return show;
}
