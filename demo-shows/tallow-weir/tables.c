// SPDX-License-Identifier: GPL-3.0-or-later
// Writes the long tables of the large demo show from the tempo and form of its music (score.h), the same bytes every time:
// cues, rails, positions, fixtures, groups, lines, and a first measuring of every slot with faults planted in it.
// Build and run:  cc -std=c11 -O2 tables.c -o tables && ./tables FOLDER
#include "score.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(table) (sizeof(table) / sizeof((table)[0]))

enum {
    ROWS = 4,        // of rails across the water, one module each
    RAILS_A_ROW = 6, // from left to right
    RAILS = ROWS * RAILS_A_ROW,
    SLOTS = 128,
    SPARE_EVERY = 42, // slots 42, 84 and 126 of every rail stay empty
    USED = SLOTS - SLOTS / SPARE_EVERY,
    BANKS = 3, // of lamp poles
    POLES = 12,
    LAMPS_A_POLE = 4,
    LAMPS_A_UNIVERSE = POLES / 2 * LAMPS_A_POLE,
    LAMP_ADDRESSES = 8, // six channels and two to spare
    JETS = 24,
    JETS_A_UNIVERSE = 12,
    FIRST_JET_UNIVERSE = 2 * BANKS + 1
};

static const struct {
    const char *name, *module, *place;
    int y_m, cable_m;
} rows[ROWS] = {{"near", "mill", "sluice", 60, 40},
                {"mid", "weir", "crest", 75, 50},
                {"far", "island", "spit", 115, 35},
                {"back", "meadow", "willow", 150, 45}};

static const struct {
    const char *name;
    int y_m;
} banks[BANKS] = {{"bank", 8}, {"weir", 45}, {"isle", 90}};

// ---- what goes up ------------------------------------------------------------------------------------------------

enum pattern { OUTWARD, BACK, PAIRS, ALL, ODDS, EVENS };

// From a bar of a part on, every EVERY beats, for BARS bars: PATTERN over the rails of a row, with EFFECTS in turn.
struct pass {
    enum score_part part;
    int row, bar, bars, every;
    enum pattern pattern;
    const char *effects[3];
};

// The last part stands first: what it needs is set aside before the others take their slots.
static const struct pass passes[] = {
    {SCORE_CLOSE, 0, 0, 1, 4, ALL, {"fountain-gold"}},
    {SCORE_CLOSE, 1, 0, 1, 4, ALL, {"mine-gold"}},
    {SCORE_CLOSE, 2, 0, 1, 4, ALL, {"shell-white"}},
    {SCORE_CLOSE, 3, 0, 1, 4, ALL, {"willow-gold"}},
    {SCORE_FINALE, 0, 0, 68, 16, ALL, {"fountain-silver", "fountain-gold"}},
    {SCORE_FINALE, 1, 0, 70, 2, OUTWARD, {"comet-white", "comet-red", "comet-green"}},
    {SCORE_FINALE, 2, 0, 70, 8, ODDS, {"shell-red", "shell-white"}},
    {SCORE_FINALE, 2, 1, 69, 8, EVENS, {"shell-green", "shell-white"}},
    {SCORE_FINALE, 3, 0, 70, 8, ALL, {"willow-gold", "willow-silver"}},
    {SCORE_DUSK, 0, 4, 36, 8, PAIRS, {"fountain-gold", "fountain-silver"}},
    {SCORE_WHEEL, 0, 0, 60, 1, OUTWARD, {"spark-pot"}},
    {SCORE_WHEEL, 1, 8, 52, 4, PAIRS, {"comet-white"}},
    {SCORE_WHEEL, 2, 20, 40, 8, BACK, {"shell-white"}},
    {SCORE_WEIR, 1, 0, 80, 2, BACK, {"mine-silver", "comet-red"}},
    {SCORE_WEIR, 2, 0, 80, 8, PAIRS, {"shell-red", "shell-green"}},
    {SCORE_WEIR, 3, 0, 80, 4, OUTWARD, {"willow-silver"}},
    {SCORE_LANTERNS, 0, 0, 60, 20, ALL, {"fountain-gold", "fountain-silver"}},
    {SCORE_LANTERNS, 1, 2, 56, 16, PAIRS, {"comet-white"}},
    {SCORE_FLOODGATE, 0, 0, 90, 2, BACK, {"spark-pot"}},
    {SCORE_FLOODGATE, 1, 0, 90, 12, ALL, {"mine-gold", "mine-silver"}},
    {SCORE_FLOODGATE, 2, 0, 90, 2, OUTWARD, {"shell-red", "shell-white", "shell-green"}},
    {SCORE_FLOODGATE, 3, 0, 90, 4, PAIRS, {"willow-gold"}},
    {SCORE_MILL_SONG, 0, 0, 60, 8, PAIRS, {"fountain-silver"}},
    {SCORE_MILL_SONG, 2, 8, 48, 16, PAIRS, {"shell-white"}},
    {SCORE_STORM, 0, 0, 90, 8, PAIRS, {"spark-pot"}},
    {SCORE_STORM, 1, 0, 90, 4, PAIRS, {"comet-green", "comet-red"}},
    {SCORE_STORM, 2, 0, 90, 2, BACK, {"shell-white", "shell-red"}},
    {SCORE_STORM, 3, 0, 90, 4, PAIRS, {"willow-silver", "willow-gold"}},
    {SCORE_STILL_WATER, 0, 0, 40, 16, PAIRS, {"fountain-gold"}},
    {SCORE_STILL_WATER, 3, 4, 32, 8, OUTWARD, {"willow-gold"}},
};

struct cue {
    int beat;
    int offset_ms;  // enables open ahead of their beat and close after it
    int order;      // among those of one moment: as they were added
    int row;        // of rails; -1: no firing
    unsigned rails; // of the row, a bit each
    const char *target, *what;
    int fade_ms, lasts_ms;
    const char *note;
};

enum { MOST_CUES = 8192 };
static struct cue cues[MOST_CUES];
static int cue_count;

static void add(struct cue cue) {
    if (cue_count == MOST_CUES) {
        fprintf(stderr, "tables: more than %d cues\n", MOST_CUES);
        exit(1);
    }
    cue.order = cue_count;
    cues[cue_count++] = cue;
}

static unsigned rails_of(enum pattern pattern, int step) {
    const int at = step % RAILS_A_ROW, half = step % (RAILS_A_ROW / 2);
    switch (pattern) {
    case OUTWARD:
        return 1u << at;
    case BACK:
        return 1u << (RAILS_A_ROW - 1 - at);
    case PAIRS:
        return 1u << half | 1u << (RAILS_A_ROW - 1 - half);
    case ALL:
        return (1u << RAILS_A_ROW) - 1;
    case ODDS:
        return 1 | 4 | 16;
    case EVENS:
        return 2 | 8 | 32;
    }
    return 0;
}

static bool take_slots(int row, unsigned rails) {
    static int taken[RAILS];
    for (int r = 0; r < RAILS_A_ROW; r++)
        if ((rails >> r & 1) && taken[row * RAILS_A_ROW + r] == USED)
            return false;
    for (int r = 0; r < RAILS_A_ROW; r++)
        taken[row * RAILS_A_ROW + r] += (int)(rails >> r & 1);
    return true;
}

static void add_passes(void) {
    for (size_t p = 0; p < COUNT(passes); p++) {
        const struct pass *pass = &passes[p];
        int effects = 0;
        while (effects < (int)COUNT(pass->effects) && pass->effects[effects])
            effects++;
        const int from = score_beat(pass->part, pass->bar, 0),
                  steps = pass->bars * SCORE_BEATS_PER_BAR / pass->every;
        for (int step = 0; step < steps; step++) {
            const unsigned rails = rails_of(pass->pattern, step);
            if (take_slots(pass->row, rails))
                add((struct cue){.beat = from + step * pass->every,
                                 .row = pass->row,
                                 .rails = rails,
                                 .what = pass->effects[step / RAILS_A_ROW % effects],
                                 .note = step == 0 ? rows[pass->row].name : ""});
        }
    }
}

// ---- light and flame ---------------------------------------------------------------------------------------------

static const struct {
    enum score_part part;
    const char *levels;
    int fade_ms;
    const char *note;
} looks[] = {
    {SCORE_DUSK, "dimmer=30% blue=200", 7500, "the river at dusk"},
    {SCORE_WHEEL, "dimmer=50% green=90 blue=160", 3500, "the wheel begins to turn"},
    {SCORE_WEIR, "dimmer=80% red=0 green=40 blue=255", 0, "white water"},
    {SCORE_LANTERNS, "dimmer=40% red=255 green=120 blue=0", 7500, "lanterns, amber"},
    {SCORE_FLOODGATE, "dimmer=100% red=120 green=0 blue=255", 0, "the gate opens"},
    {SCORE_MILL_SONG, "dimmer=35% red=160 green=90 blue=20", 7500, "the mill alone"},
    {SCORE_STORM, "dimmer=90% red=60 green=60 blue=255", 0, "storm"},
    {SCORE_STILL_WATER, "dimmer=25% red=0 green=60 blue=180", 7500, "still water"},
    {SCORE_FINALE, "dimmer=100% red=255 green=160 blue=30", 0, "finale, gold at once"},
    {SCORE_CLOSE, "dimmer=0", 7500, "out with the last chord"},
};

// The cues keep pointers to these names.
static const char *pole_group(int bank, int pole) {
    static char names[BANKS][POLES][16];
    snprintf(names[bank][pole], sizeof names[bank][pole], "%s-%02d", banks[bank].name, pole + 1);
    return names[bank][pole];
}

static const char *half_group(int bank, int is_even) {
    static char names[BANKS][2][16];
    snprintf(names[bank][is_even], sizeof names[bank][is_even], "%s-%s", banks[bank].name,
             is_even ? "evens" : "odds");
    return names[bank][is_even];
}

// Quiet: a pole a beat, there and back. Loud: the odd and the even poles of a bank in turn, three beats against the bar of four.
static void add_chases(void) {
    for (enum score_part part = SCORE_DUSK; part < SCORE_CLOSE; part++) {
        const int beats = score_bars(part) * SCORE_BEATS_PER_BAR, from = score_beat(part, 0, 0);
        const int every = score_is_loud[part] ? 3 : 1;
        for (int beat = 0, step = 0; beat < beats; beat += every, step++) {
            const int bank = step / (score_is_loud[part] ? 4 : POLES) % BANKS, there = step % (2 * POLES),
                      pole = there < POLES ? there : 2 * POLES - 1 - there;
            add((struct cue){.beat = from + beat,
                             .row = -1,
                             .target =
                                 score_is_loud[part] ? half_group(bank, step % 2) : pole_group(bank, pole),
                             .what = score_is_loud[part] ? "white=220" : "white=110",
                             .lasts_ms = score_is_loud[part] ? 400 : 450,
                             .note = step == 0 ? "chase" : ""});
        }
    }
}

static void add_looks(void) {
    for (size_t i = 0; i < COUNT(looks); i++)
        add((struct cue){.beat = score_beat(looks[i].part, 0, 0),
                         .row = -1,
                         .target = "lamps",
                         .what = looks[i].levels,
                         .fade_ms = looks[i].fade_ms,
                         .note = looks[i].note});
}

// In the floodgate, the storm and the finale, every four bars: all, the odd ones, the even ones. The permit is open from half
// a second ahead of the first flame of a part until after its last.
static void add_flames(void) {
    static const enum score_part parts[] = {SCORE_FLOODGATE, SCORE_STORM, SCORE_FINALE};
    static const struct {
        int beat;
        const char *target;
    } figure[] = {{0, "jets"}, {8, "jets-odd"}, {12, "jets-even"}};
    for (size_t p = 0; p < COUNT(parts); p++) {
        const int from = score_beat(parts[p], 0, 0), bars = score_bars(parts[p]) / 4 * 4;
        add((struct cue){.beat = from,
                         .offset_ms = -500,
                         .row = -1,
                         .target = "jets",
                         .what = "permit=255",
                         .note = "permit"});
        for (int beat = 0; beat < bars * SCORE_BEATS_PER_BAR; beat += 16)
            for (size_t f = 0; f < COUNT(figure); f++)
                add((struct cue){.beat = from + beat + figure[f].beat,
                                 .row = -1,
                                 .target = figure[f].target,
                                 .what = "flame=255",
                                 .lasts_ms = 400,
                                 .note = ""});
        add((struct cue){.beat = from + bars * SCORE_BEATS_PER_BAR - 2,
                         .row = -1,
                         .target = "jets",
                         .what = "permit=0",
                         .note = "permit shut"});
    }
}

static int64_t cue_ms(const struct cue *cue) {
    return cue->beat * (SCORE_BEAT_US / 1000) + cue->offset_ms;
}

static int compare_cues(const void *a, const void *b) {
    const struct cue *one = a, *two = b;
    const int64_t apart = cue_ms(one) - cue_ms(two);
    return apart != 0 ? (apart > 0 ? 1 : -1) : one->order - two->order;
}

// ---- writing -----------------------------------------------------------------------------------------------------

static const char *folder;

static FILE *open_table(const char *name, const char *header) {
    char path[1024];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    if (!file) {
        perror(path);
        exit(1);
    }
    fprintf(file,
            "# SPDX-License-Identifier: GPL-3.0-or-later\n# Written by tables.c. Change it there or here; "
            "not in both.\n%s\n",
            header);
    return file;
}

static void close_table(FILE *file) {
    if (fclose(file) != 0) {
        perror("tables");
        exit(1);
    }
}

// Slots of a rail are used in the order of the show; this counts on and passes over the spares.
static int last_slot[RAILS];

static int next_slot(int rail) {
    last_slot[rail]++;
    if (last_slot[rail] % SPARE_EVERY == 0)
        last_slot[rail]++;
    return last_slot[rail];
}

static void print_targets(FILE *file, const struct cue *cue) {
    const char *between = "";
    if (cue->row < 0)
        fprintf(file, "%s", cue->target);
    for (int r = 0; cue->row >= 0 && r < RAILS_A_ROW; r++)
        if (cue->rails >> r & 1) {
            const int rail = cue->row * RAILS_A_ROW + r;
            fprintf(file, "%s%c-%02d", between, 'A' + rail, next_slot(rail));
            between = " ";
        }
}

static void print_seconds(FILE *file, int ms) {
    if (ms > 0)
        fprintf(file, ",%g", ms / 1000.0);
    else
        fprintf(file, ",");
}

// The thousands of an id are the part of the music, from 1.
static void write_cues(void) {
    FILE *file = open_table("cues.csv", "time,target,do,fade,lasts,id,note");
    int part = -1, within = 0;
    for (int i = 0; i < cue_count; i++) {
        const struct cue *cue = &cues[i];
        const int64_t ms = cue_ms(cue);
        while (part + 1 < SCORE_END && cue->beat >= score_beat((enum score_part)(part + 1), 0, 0)) {
            part++;
            within = 0;
        }
        fprintf(file, "%" PRId64 ":%02" PRId64 ".%03" PRId64 ",", ms / 60000, ms / 1000 % 60, ms % 1000);
        print_targets(file, cue);
        fprintf(file, strchr(cue->what, ',') ? ",\"%s\"" : ",%s", cue->what);
        print_seconds(file, cue->fade_ms);
        print_seconds(file, cue->lasts_ms);
        fprintf(file, strchr(cue->note, ',') ? ",%d,\"%s\"\n" : ",%d,%s\n", (part + 1) * 1000 + ++within,
                cue->note);
    }
    close_table(file);
}

static int rail_x_m(int r) {
    return -50 + 20 * r;
}

static void write_rails(void) {
    FILE *file = open_table("rails.csv", "name,module,first,slots,cable_length,cable_gauge,position");
    for (int rail = 0; rail < RAILS; rail++) {
        const int row = rail / RAILS_A_ROW, r = rail % RAILS_A_ROW;
        fprintf(file, "%c,%s,%d,%d,%d m,20 AWG,%s-%d\n", 'A' + rail, rows[row].module, r * SLOTS + 1, SLOTS,
                rows[row].cable_m, rows[row].place, r + 1);
    }
    close_table(file);
}

static int pole_x_m(int pole) {
    return -110 + 20 * pole;
}

static int jet_x_m(int jet) {
    return -115 + 10 * jet;
}

static void write_positions(void) {
    FILE *file = open_table("positions.csv", "name,x,y,holds,note");
    for (int row = 0; row < ROWS; row++)
        for (int r = 0; r < RAILS_A_ROW; r++)
            fprintf(file, "%s-%d,%d m,%d m,,%s row\n", rows[row].place, r + 1, rail_x_m(r), rows[row].y_m,
                    rows[row].name);
    for (int bank = 0; bank < BANKS; bank++)
        for (int pole = 0; pole < POLES; pole++)
            fprintf(file, "%s-pole-%d,%d m,%d m,,pole with %d lamps\n", banks[bank].name, pole + 1,
                    pole_x_m(pole), banks[bank].y_m, LAMPS_A_POLE);
    for (int jet = 0; jet < JETS; jet++)
        fprintf(file, "wall-%02d,%d m,25 m,,top of the mill wall\n", jet + 1, jet_x_m(jet));
    fprintf(file, "mill-yard,-130 m,35 m,,behind the mill: dimmers and modules left\n"
                  "lodge,130 m,35 m,,the keeper's lodge: dimmers and modules right\n"
                  "meadow-road,-170 m,60 m,vehicles,carts and cars of the crew\n");
    close_table(file);
}

static void lamp_name(char out[16], int bank, int pole, int lamp) {
    const int universe = 2 * bank + pole / (POLES / 2) + 1;
    snprintf(out, 16, "par-%d%02d", universe, pole % (POLES / 2) * LAMPS_A_POLE + lamp + 1);
}

static void write_fixtures(void) {
    FILE *file = open_table("fixtures.csv", "name,profile,universe,address,position,feed,fuel,aim");
    char name[16];
    for (int bank = 0; bank < BANKS; bank++)
        for (int pole = 0; pole < POLES; pole++)
            for (int lamp = 0; lamp < LAMPS_A_POLE; lamp++) {
                const int universe = 2 * bank + pole / (POLES / 2) + 1;
                lamp_name(name, bank, pole, lamp);
                fprintf(file, "%s,par,%d,%d,%s-pole-%d,feed-%d,,%s\n", name, universe,
                        1 + (pole % (POLES / 2) * LAMPS_A_POLE + lamp) * LAMP_ADDRESSES, banks[bank].name,
                        pole + 1, universe, lamp % 2 ? "the trees" : "the water");
            }
    for (int jet = 0; jet < JETS; jet++)
        fprintf(file, "jet-%02d,jet,%d,%d,wall-%02d,feed-%d,1200 ml,straight up\n", jet + 1,
                FIRST_JET_UNIVERSE + jet / JETS_A_UNIVERSE, 1 + jet % JETS_A_UNIVERSE * 10, jet + 1,
                FIRST_JET_UNIVERSE + jet / JETS_A_UNIVERSE);
    close_table(file);
}

// The lamps of BANK (-1: of all) on poles from FROM, every STEPth.
static void print_lamps(FILE *file, int only, int from, int step, int to) {
    const char *between = "";
    char name[16];
    for (int bank = 0; bank < BANKS; bank++)
        for (int pole = from; (only < 0 || bank == only) && pole < to; pole += step)
            for (int lamp = 0; lamp < LAMPS_A_POLE; lamp++) {
                lamp_name(name, bank, pole, lamp);
                fprintf(file, "%s%s", between, name);
                between = " ";
            }
    fprintf(file, "\n");
}

static void print_jets(FILE *file, int from, int step, int to) {
    for (int jet = from; jet < to; jet += step)
        fprintf(file, "%sjet-%02d", jet > from ? " " : "", jet + 1);
}

static void write_groups(void) {
    FILE *file = open_table("groups.csv", "name,members");
    fprintf(file, "lamps,");
    print_lamps(file, -1, 0, 1, POLES);
    for (int bank = 0; bank < BANKS; bank++) {
        for (int even = 0; even < 2; even++) {
            fprintf(file, "%s,", half_group(bank, even));
            print_lamps(file, bank, even, 2, POLES);
        }
        for (int pole = 0; pole < POLES; pole++) {
            fprintf(file, "%s,", pole_group(bank, pole));
            print_lamps(file, bank, pole, 1, pole + 1);
        }
    }
    fprintf(file, "jets,");
    print_jets(file, 0, 1, JETS);
    fprintf(file, "\njets-odd,");
    print_jets(file, 0, 2, JETS);
    fprintf(file, "\njets-even,");
    print_jets(file, 1, 2, JETS);
    fprintf(file, "\n");
    close_table(file);
}

// A line begins at the yard or the lodge and runs from the pole that is nearest to it inward.
static void write_lines(void) {
    static const int first_cable_m[BANKS] = {36, 28, 64};
    FILE *file = open_table("lines.csv", "name,universe,source,chain,cables,slack");
    char name[16];
    for (int bank = 0; bank < BANKS; bank++)
        for (int half = 0; half < 2; half++) {
            fprintf(file, "line-%d,%d,%s,", 2 * bank + half + 1, 2 * bank + half + 1,
                    half ? "lodge" : "mill-yard");
            for (int k = 0; k < LAMPS_A_UNIVERSE; k++) {
                const int pole = half ? POLES - 1 - k / LAMPS_A_POLE : k / LAMPS_A_POLE;
                lamp_name(name, bank, pole, k % LAMPS_A_POLE);
                fprintf(file, "%s%s", k > 0 ? " " : "", name);
            }
            fprintf(file, ",%dm", first_cable_m[bank]);
            for (int k = 1; k < LAMPS_A_UNIVERSE; k++)
                fprintf(file, " %dm", k % LAMPS_A_POLE == 0 ? 22 : 3);
            fprintf(file, ",1 m\n");
        }
    for (int half = 0; half < 2; half++) {
        fprintf(file, "line-%d,%d,%s,", FIRST_JET_UNIVERSE + half, FIRST_JET_UNIVERSE + half,
                half ? "lodge" : "mill-yard");
        for (int k = 0; k < JETS_A_UNIVERSE; k++)
            fprintf(file, "%sjet-%02d", k > 0 ? " " : "", half ? JETS - k : k + 1);
        fprintf(file, ",22m");
        for (int k = 1; k < JETS_A_UNIVERSE; k++)
            fprintf(file, " 12m");
        fprintf(file, ",1 m\n");
    }
    close_table(file);
}

// As a meter might show them: what the cable and an igniter come to, a few hundredths this way or that, and four faults.
static void write_readings(void) {
    static const struct {
        char rail;
        int slot;
        const char *reads;
    } faults[] = {{'C', 17, "open"}, {'J', 101, "short"}, {'Q', 42, "4.9"}, {'V', 63, "open"}};
    FILE *file = open_table("readings-first.csv", "rail,slot,reading,when,by");
    uint32_t noise = 7;
    for (int rail = 0; rail < RAILS; rail++)
        for (int slot = 1; slot <= SLOTS; slot++) {
            char reads[16] = "";
            noise = noise * 1664525u + 1013904223u;
            if (slot % SPARE_EVERY == 0 || slot > last_slot[rail])
                snprintf(reads, sizeof reads, "open");
            else // 20 AWG is 33.3 mohm a metre (ASTM B258), there and back; 24 AWG leads; the bridge
                snprintf(reads, sizeof reads, "%.2f",
                         2 * 0.0333 * rows[rail / RAILS_A_ROW].cable_m + 0.34 + 1.6 +
                             ((double)(noise >> 16 & 31) - 15.5) / 200);
            for (size_t f = 0; f < COUNT(faults); f++)
                if (faults[f].rail == 'A' + rail && faults[f].slot == slot)
                    snprintf(reads, sizeof reads, "%s", faults[f].reads);
            fprintf(file, "%c,%d,%s,2026-06-20T%02d:%02d:%02d,%s\n", 'A' + rail, slot, reads, 15 + rail / 12,
                    rail % 12 * 5 + slot / 30, slot * 2 % 60, rail % 2 ? "M" : "K");
        }
    close_table(file);
}

int main(int argc, char **argv) {
    if (argc != 2) {
        fprintf(stderr, "usage: tables FOLDER\n");
        return 2;
    }
    folder = argv[1];
    add_passes();
    add_flames();
    add_looks();
    add_chases();
    qsort(cues, (size_t)cue_count, sizeof cues[0], compare_cues);
    write_cues();
    write_rails();
    write_positions();
    write_fixtures();
    write_groups();
    write_lines();
    write_readings();
    return 0;
}
