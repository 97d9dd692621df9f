// SPDX-License-Identifier: GPL-3.0-or-later
// The words that sheets of paper are told apart by, over a bad radio and on a bad copy.
#include "slowmatch/paper.h"

#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

// Edits (a letter put in, left out or exchanged) that lead from A to B: Levenshtein 1966.
static int edits(const char *a, const char *b) {
    int row[32];
    const int width = (int)strlen(b);
    for (int j = 0; j <= width; j++)
        row[j] = j;
    for (int i = 1; a[i - 1] != '\0'; i++) {
        int corner = row[0];
        row[0] = i;
        for (int j = 1; j <= width; j++) {
            const int exchanged =
                corner + (tolower((unsigned char)a[i - 1]) != tolower((unsigned char)b[j - 1]));
            const int left_out = row[j] + 1, put_in = row[j - 1] + 1;
            corner = row[j];
            row[j] = exchanged < left_out ? exchanged : left_out;
            row[j] = row[j] < put_in ? row[j] : put_in;
        }
    }
    return row[width];
}

// The spelling alphabet of ICAO Annex 10 volume II, figure 5-1 (from memory), with the spellings that others use.
static const char *const alphabet[] = {
    "Alfa",    "Alpha",  "Bravo",   "Charlie", "Delta",   "Echo",     "Foxtrot", "Golf",   "Hotel",  "India",
    "Juliett", "Juliet", "Kilo",    "Lima",    "Mike",    "November", "Oscar",   "Papa",   "Quebec", "Romeo",
    "Sierra",  "Tango",  "Uniform", "Victor",  "Whiskey", "Whisky",   "Xray",    "Yankee", "Zulu",
};

// Words said on the field: states, orders, things, numbers, sheets (common practice, no source).
static const char *const trade[] = {
    "fire",        "hold",      "clear",     "safe",    "arming",   "armed",      "running",   "paused",
    "ended",       "key",       "start",     "resume",  "stop",     "ready",      "go",        "live",
    "spare",       "slot",      "rail",      "cue",     "module",   "igniter",    "shunt",     "product",
    "misfire",     "fired",     "passed",    "open",    "short",    "low",        "high",      "stray",
    "unplug",      "plug",      "left",      "right",   "rear",     "front",      "lead",      "spotter",
    "crew",        "field",     "wait",      "wind",    "storm",    "thunder",    "flame",     "fuel",
    "valve",       "light",     "lamp",      "music",   "fountain", "comet",      "mine",      "shell",
    "wheel",       "candle",    "mortar",    "rack",    "tube",     "cable",      "feed",      "breaker",
    "terminator",  "address",   "switch",    "battery", "remote",   "understood", "correct",   "negative",
    "affirmative", "emergency", "rehearsal", "drill",   "medic",    "police",     "ambulance", "water",
    "help",        "list",      "load",      "ohms",    "line",     "feeds",      "stock",     "time",
    "calls",       "arm",       "card",      "names",   "walk",     "after",      "paper",     "sheet",
    "words",       "zero",      "one",       "two",     "three",    "four",       "five",      "six",
    "seven",       "eight",     "nine",      "ten",     "eleven",   "twelve",     "hundred",   "red",
    "green",       "blue",      "white",     "yellow",  "orange",   "black",      "silver",    "gold",
    "purple",      "north",     "south",     "east",    "west",
};

#define EACH(item, array) (size_t item = 0; item < sizeof(array) / sizeof(array)[0]; item++)

static void words_cannot_be_taken_for_one_another(void **state) {
    (void)state;
    int least = 99, least_other = 99;
    for (size_t i = 0; i < SM_PAPER_WORD_COUNT; i++) {
        const char *word = sm_paper_word(i);
        for (size_t j = 0; j < i; j++) {
            const int apart = edits(word, sm_paper_word(j));
            least = apart < least ? apart : least;
            assert_true(strcmp(sm_paper_word(j), word) < 0);
            assert_true(strncmp(sm_paper_word(j), word, 4) != 0);
        }
        for
            EACH(k, alphabet)
        least_other = edits(word, alphabet[k]) < least_other ? edits(word, alphabet[k]) : least_other;
        for
            EACH(k, trade)
        least_other = edits(word, trade[k]) < least_other ? edits(word, trade[k]) : least_other;
        for (const char *at = word; *at != '\0'; at++)
            assert_true(*at >= 'a' && *at <= 'z');
        assert_true(3 * (strlen(word) + 1) <= SM_PAPER_WORDS_SIZE);
    }
    print_message("words: %d edits apart at least, %d from the alphabet and the trade's\n", least,
                  least_other);
    assert_true(least >= 4);
    assert_true(least_other >= 3);
}

static void words_are_compared_as_they_are_heard(void **state) {
    (void)state;
    assert_true(sm_paper_words_equal("teapot walrus kettle", "  Teapot  WALRUS kettle "));
    assert_false(sm_paper_words_equal("teapot walrus kettle", "teapot walrus"));
    assert_false(sm_paper_words_equal("teapot walrus", "teapot walrus kettle"));
    assert_false(sm_paper_words_equal("teapot walrus kettle", "teapotwalrus kettle"));
    assert_false(sm_paper_words_equal("teapot walrus kettle", "walrus teapot kettle"));
    assert_false(sm_paper_words_equal("teapot walrus kettle", ""));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(words_cannot_be_taken_for_one_another),
        cmocka_unit_test(words_are_compared_as_they_are_heard),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
