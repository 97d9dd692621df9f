// SPDX-License-Identifier: GPL-3.0-or-later
// Writes cues.csv of the demo show from the tempo and form of its music (score.h), the same bytes every time.
// Build and run:  cc -std=c11 -O2 cues.c -o cues && ./cues > cues.csv
#include "score.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#define COUNT(table) (sizeof(table) / sizeof((table)[0]))
#define MOST_ROWS 512

struct row {
    int beat;
    int offset_ms; // from the beat: enables open ahead of it and close after it
    const char *target;
    const char *what;
    int fade_ms, lasts_ms;
    const char *igniters, *wire, *note;
};

struct list {
    struct row rows[MOST_ROWS];
    size_t count;
};

static void list_add(struct list *list, struct row row) {
    if (list->count == MOST_ROWS) {
        fprintf(stderr, "cues: more than %d rows\n", MOST_ROWS);
        exit(1);
    }
    list->rows[list->count++] = row;
}

struct place {
    enum score_part part;
    int bar, beat;
};

static int place_beat(struct place place) {
    return score_beat(place.part, place.bar, place.beat);
}

struct shot {
    struct place at;
    const char *slots, *effect, *igniters, *wire, *note;
};

static const struct shot shots[] = {
    {{SCORE_INTRO, 2, 0},
     "A-01 B-01",
     "fountain-gold",
     "",
     "",
     "fountains left and right with the first bell"},
    {{SCORE_INTRO, 4, 0}, "A-02", "comet-white", "", "", "one lantern goes up left"},
    {{SCORE_INTRO, 5, 0}, "B-02", "comet-white", "", "", "and its answer right"},
    {{SCORE_INTRO, 6, 0},
     "A-03 B-03",
     "fountain-silver",
     "",
     "",
     "silver on both sides until the beat comes in"},
    {{SCORE_INTRO, 7, 0}, "C-01", "mine-silver", "", "", "the barge wakes"},
    {{SCORE_BUILD, 0, 0}, "A-04", "comet-red", "", "", "beat in, left"},
    {{SCORE_BUILD, 1, 0}, "B-04", "comet-red", "", "", "right"},
    {{SCORE_BUILD, 2, 0}, "C-02", "comet-green", "", "", "from the barge"},
    {{SCORE_BUILD, 3, 0}, "A-05", "comet-white", "", "", "left, the arpeggio is next"},
    {{SCORE_BUILD, 4, 0}, "B-05", "comet-white", "", "", "right, on the arpeggio"},
    {{SCORE_BUILD, 5, 0}, "A-06", "comet-green", "", "", "left"},
    {{SCORE_BUILD, 5, 2}, "B-06", "comet-green", "", "", "right, two beats later"},
    {{SCORE_BUILD, 6, 0}, "C-03", "mine-silver", "", "", "roll begins"},
    {{SCORE_BUILD, 7, 0}, "D-01", "spark-pot", "", "", "steps: one"},
    {{SCORE_BUILD, 7, 1}, "D-02", "spark-pot", "", "", "two"},
    {{SCORE_BUILD, 7, 2}, "D-03", "spark-pot", "", "", "three, and the chorus falls"},
    {{SCORE_CHORUS, 0, 0}, "A-07 B-07", "fountain-silver", "", "", "fountains left and right on the chorus"},
    {{SCORE_CHORUS, 0, 0}, "C-04", "mine-gold", "", "", "mine at the stern with them"},
    {{SCORE_CHORUS, 0, 0},
     "C-05",
     "mine-gold",
     "",
     "12 m 22 AWG",
     "mine at the bow with them, on its own run"},
    {{SCORE_CHORUS, 1, 0}, "D-04", "spark-pot", "2s", "", "two pots in series on the answer"},
    {{SCORE_CHORUS, 2, 0}, "A-08 B-08", "comet-red", "", "", "comets cross"},
    {{SCORE_CHORUS, 3, 0}, "D-05", "spark-pot", "", "", "one pot on the answer"},
    {{SCORE_CHORUS, 4, 0}, "C-06", "mine-gold", "", "", "second half"},
    {{SCORE_CHORUS, 5, 0}, "A-09", "comet-green", "", "", "left"},
    {{SCORE_CHORUS, 6, 0}, "B-10", "comet-green", "", "", "right, the slot before it is spare"},
    {{SCORE_BREAKDOWN, 1, 0}, "C-08", "fountain-silver", "", "", "alone on the water"},
    {{SCORE_BREAKDOWN, 5, 0}, "D-07", "spark-pot", "2p", "", "two pots in parallel, soft"},
    {{SCORE_RISE, 0, 0}, "D-08", "spark-pot", "", "", "roll: one"},
    {{SCORE_RISE, 2, 0}, "D-09", "spark-pot", "", "", "two"},
    {{SCORE_RISE, 3, 0}, "D-10", "spark-pot", "", "", "three"},
    {{SCORE_FINALE, 0, 0}, "A-10 B-11", "fountain-gold", "", "", "finale, gold left and right"},
    {{SCORE_FINALE, 0, 0}, "C-09", "mine-silver", "", "", "with them from the barge"},
    {{SCORE_FINALE, 2, 0}, "C-10", "comet-white", "2p", "", "a pair fanned from the barge"},
    {{SCORE_FINALE, 4, 0}, "C-11", "mine-gold", "", "", "last eight bars are half gone"},
    {{SCORE_FINALE, 6, 0}, "D-11", "spark-pot", "", "", "last pot"},
    {{SCORE_CLOSE, 0, 0}, "A-11 B-12", "comet-white", "", "", "last chord, left and right"},
    {{SCORE_CLOSE, 0, 0}, "C-12", "mine-silver", "", "", "last chord, the barge"},
};

struct look {
    struct place at;
    const char *target, *levels;
    int fade_ms, lasts_ms;
    const char *note;
};

static const struct look looks[] = {
    {{SCORE_INTRO, 0, 0}, "pars", "dimmer=35% blue=255", 3500, 0, "harbour blue comes up"},
    {{SCORE_INTRO, 6, 0}, "pars", "green=90", 3500, 0, "sea green before the beat"},
    {{SCORE_BUILD, 0, 0}, "pars", "dimmer=60% red=150 green=0", 7500, 0, "violet, rising"},
    {{SCORE_CHORUS, 0, 0},
     "pars",
     "dimmer=100% red=255 green=110 blue=0",
     0,
     0,
     "amber at once on the chorus"},
    {{SCORE_CHORUS, 4, 0}, "pars", "red=255 green=0 blue=140", 0, 0, "magenta, second half"},
    {{SCORE_BREAKDOWN, 0, 0},
     "pars",
     "dimmer=25% red=0 blue=255",
     3500,
     0,
     "down to blue, the water is heard"},
    {{SCORE_RISE, 0, 0}, "pars", "dimmer=90% red=200", 7500, 0, "violet rises with the roll"},
    {{SCORE_FINALE, 0, 0}, "pars", "dimmer=100% red=255 green=160 blue=30", 0, 0, "gold at once, finale"},
    {{SCORE_CLOSE, 0, 0}, "pars", "white=255", 0, 1500, "white on the last chord"},
    {{SCORE_CLOSE, 1, 0}, "pars", "dimmer=0", 1500, 0, "out with the chord"},
};

// A chase sends one glint of white after another, in step with the bells or the drums.
struct chase {
    struct place from;
    int steps, beats_a_step;
    const char *const *targets;
    int targets_count;
    const char *levels;
    int lasts_ms;
    const char *note;
};

static const char *const outward[] = {"par-1", "par-2", "par-3", "par-4", "par-5", "par-6", "par-7", "par-8"};
static const char *const back[] = {"par-8", "par-7", "par-6", "par-5", "par-4", "par-3", "par-2", "par-1"};
static const char *const pairs[] = {"pair-1", "pair-2", "pair-3", "pair-4"};
static const char *const sides[] = {"left", "right"};
static const char *const turns[] = {"odds", "evens"};

static const struct chase chases[] = {
    {{SCORE_INTRO, 2, 0}, 8, 1, outward, 8, "white=120", 400, "chase out, a lamp a bell"},
    {{SCORE_INTRO, 4, 0}, 8, 1, back, 8, "white=120", 400, "chase back, a lamp a bell"},
    {{SCORE_INTRO, 6, 0}, 4, 2, turns, 2, "white=90", 400, "odds and evens with the heartbeat"},
    {{SCORE_BUILD, 0, 0}, 16, 1, pairs, 4, "white=150", 350, "pairs close in, a pair a beat"},
    {{SCORE_BUILD, 4, 0}, 6, 2, sides, 2, "white=180", 350, "sides in turn on the arpeggio"},
    {{SCORE_BUILD, 7, 0}, 4, 1, turns, 2, "white=255", 200, "odds and evens under the roll"},
    {{SCORE_CHORUS, 0, 0}, 8, 4, turns, 2, "white=220", 300, "odds and evens, a bar each"},
    {{SCORE_BREAKDOWN, 0, 0}, 8, 2, outward, 8, "white=80", 800, "slow chase out with the bells"},
    {{SCORE_BREAKDOWN, 4, 0}, 8, 2, back, 8, "white=80", 800, "slow chase back"},
    {{SCORE_RISE, 0, 0}, 8, 2, pairs, 4, "white=180", 350, "pairs under the roll"},
    {{SCORE_FINALE, 0, 0}, 8, 4, sides, 2, "white=255", 300, "sides in turn, a bar each"},
};

// A passage of flame: the permit opens half a second ahead of its first beat and closes after its last flame.
struct passage {
    struct place from, close;
    const char *note;
};

static const struct passage passages[] = {
    {{SCORE_INTRO, 4, 0}, {SCORE_BUILD, 6, 2}, "permit for intro and build"},
    {{SCORE_CHORUS, 0, 0}, {SCORE_CHORUS, 7, 0}, "permit for the chorus"},
    {{SCORE_FINALE, 0, 0}, {SCORE_CLOSE, 1, 2}, "permit for the finale"},
};

static const struct look flames[] = {
    {{SCORE_INTRO, 4, 0}, "jets-out", "flame=255", 0, 400, "first flames, outer"},
    {{SCORE_INTRO, 5, 0}, "jets-in", "flame=255", 0, 400, "inner"},
    {{SCORE_INTRO, 6, 0}, "jets-out", "flame=255", 0, 400, "outer"},
    {{SCORE_INTRO, 7, 0}, "jets-in", "flame=255", 0, 400, "inner"},
    {{SCORE_BUILD, 0, 0}, "jets", "flame=255", 0, 400, "all four as the beat comes in"},
    {{SCORE_BUILD, 2, 0}, "jets-out", "flame=255", 0, 400, "outer"},
    {{SCORE_BUILD, 3, 0}, "jets-in", "flame=255", 0, 400, "inner"},
    {{SCORE_BUILD, 4, 0}, "jets", "flame=255", 0, 400, "all four on the arpeggio"},
    {{SCORE_BUILD, 6, 0}, "jets-in", "flame=255", 0, 800, "inner, long, as the roll begins"},
    {{SCORE_CLOSE, 0, 0}, "jets", "flame=255", 0, 1500, "all four, long, on the last chord"},
};

static void add_shots(struct list *list) {
    for (size_t i = 0; i < COUNT(shots); i++) {
        const struct shot *s = &shots[i];
        list_add(list, (struct row){.beat = place_beat(s->at),
                                    .target = s->slots,
                                    .what = s->effect,
                                    .igniters = s->igniters,
                                    .wire = s->wire,
                                    .note = s->note});
    }
}

static void add_looks(struct list *list, const struct look *table, size_t count) {
    for (size_t i = 0; i < count; i++) {
        const struct look *l = &table[i];
        list_add(list, (struct row){.beat = place_beat(l->at),
                                    .target = l->target,
                                    .what = l->levels,
                                    .fade_ms = l->fade_ms,
                                    .lasts_ms = l->lasts_ms,
                                    .note = l->note});
    }
}

static void add_chases(struct list *list) {
    for (size_t i = 0; i < COUNT(chases); i++) {
        const struct chase *c = &chases[i];
        for (int step = 0; step < c->steps; step++) {
            list_add(list, (struct row){.beat = place_beat(c->from) + step * c->beats_a_step,
                                        .target = c->targets[step % c->targets_count],
                                        .what = c->levels,
                                        .lasts_ms = c->lasts_ms,
                                        .note = step == 0 ? c->note : ""});
        }
    }
}

static void add_passages(struct list *list) {
    for (size_t i = 0; i < COUNT(passages); i++) {
        const struct passage *p = &passages[i];
        list_add(list, (struct row){.beat = place_beat(p->from),
                                    .offset_ms = -500,
                                    .target = "jets",
                                    .what = "permit=255",
                                    .note = p->note});
        list_add(list, (struct row){.beat = place_beat(p->close),
                                    .target = "jets",
                                    .what = "permit=0",
                                    .note = "permit shut"});
    }
}

// Flames on the stabs of the music, until `last` (excluded).
static void add_hit_flames(struct list *list, enum score_part part, int last) {
    static const char *const who[] = {
        [SCORE_HIT_ALL] = "jets", [SCORE_HIT_OUTER] = "jets-out", [SCORE_HIT_INNER] = "jets-in"};
    static const char *const note[] = {[SCORE_HIT_ALL] = "all four on the stab",
                                       [SCORE_HIT_OUTER] = "outer answer",
                                       [SCORE_HIT_INNER] = "inner answer"};
    for (int start = score_beat(part, 0, 0); start < last; start += SCORE_HIT_BEATS) {
        for (size_t h = 0; h < COUNT(score_hits) && start + score_hits[h].beat < last; h++) {
            enum score_hit_who group = score_hits[h].who;
            list_add(list, (struct row){.beat = start + score_hits[h].beat,
                                        .target = who[group],
                                        .what = "flame=255",
                                        .lasts_ms = 400,
                                        .note = note[group]});
        }
    }
}

static int64_t row_us(const struct row *row) {
    return row->beat * SCORE_BEAT_US + row->offset_ms * INT64_C(1000);
}

// By time: rows of one moment keep the order in which they were added.
static void list_sort(struct list *list) {
    for (size_t i = 1; i < list->count; i++) {
        struct row row = list->rows[i];
        size_t at = i;
        for (; at > 0 && row_us(&list->rows[at - 1]) > row_us(&row); at--)
            list->rows[at] = list->rows[at - 1];
        list->rows[at] = row;
    }
}

static void print_cell(const char *text) {
    int quoted = 0;
    for (const char *c = text; *c != '\0'; c++)
        quoted |= *c == ',';
    printf(quoted ? ",\"%s\"" : ",%s", text);
}

static void print_ms(int ms) {
    if (ms == 0)
        printf(",");
    else
        printf(",%g", ms / 1000.0);
}

static void print_row(const struct row *row, int id) {
    int64_t ms = row_us(row) / 1000;
    printf("%" PRId64 ":%02" PRId64 ".%03" PRId64, ms / 60000, ms / 1000 % 60, ms % 1000);
    print_cell(row->target);
    print_cell(row->what);
    print_ms(row->fade_ms);
    print_ms(row->lasts_ms);
    print_cell(row->igniters ? row->igniters : "");
    print_cell(row->wire ? row->wire : "");
    printf(",%d", id);
    print_cell(row->note);
    printf("\n");
}

// The first figure of an id is the part of the music, from 1; the others count within it.
static void list_print(const struct list *list) {
    static const char *const title[] = {"intro", "build", "chorus", "breakdown", "rise", "finale", "close"};
    printf("# SPDX-License-Identifier: GPL-3.0-or-later\n");
    printf("# Written by cues.c from the tempo map in score.h. Change it there or here; not in both.\n");
    printf("time,target,do,fade,lasts,igniters,wire,id,note\n");
    int part = -1, within = 0;
    for (size_t i = 0; i < list->count; i++) {
        const struct row *row = &list->rows[i];
        while (part + 1 < SCORE_END &&
               row_us(row) >= score_beat((enum score_part)(part + 1), 0, 0) * SCORE_BEAT_US) {
            part++;
            within = 0;
        }
        if (within == 0)
            printf("# %s\n", title[part]);
        within++;
        print_row(row, (part + 1) * 100 + within);
    }
}

int main(void) {
    static struct list list;
    add_shots(&list);
    add_passages(&list);
    add_looks(&list, flames, COUNT(flames));
    add_hit_flames(&list, SCORE_CHORUS, score_beat(SCORE_CHORUS, 7, 0));
    add_hit_flames(&list, SCORE_FINALE, score_beat(SCORE_CLOSE, 0, 0));
    add_looks(&list, looks, COUNT(looks));
    add_chases(&list);
    list_sort(&list);
    list_print(&list);
    return 0;
}
