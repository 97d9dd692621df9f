// SPDX-License-Identifier: GPL-3.0-or-later
// Words that cannot be taken for one another over a bad radio: each differs from every other by at least four edits, and from the
// spelling alphabet and the words of the trade by at least three (paper_words_test). No two begin with the same four letters.
#include "paper/sheets.h"

#include <assert.h>
#include <ctype.h>
#include <stdio.h>
#include <string.h>

static const char *const words[] = {
    "armchair",   "astronaut", "avocado",   "bagpipe",    "ballerina", "bathtub",   "bicycle",  "biscuit",
    "blanket",    "cabbage",   "cardigan",  "cathedral",  "chimney",   "chocolate", "cinnamon", "compass",
    "crocodile",  "cucumber",  "daffodil",  "dolphin",    "elephant",  "envelope",  "eyebrow",  "flamingo",
    "gooseberry", "hedgehog",  "jellyfish", "jigsaw",     "kettle",    "library",   "lollipop", "mandolin",
    "marmalade",  "mosquito",  "moustache", "mushroom",   "necklace",  "notebook",  "octopus",  "omelette",
    "orchestra",  "pelican",   "penguin",   "peppermint", "quicksand", "raincoat",  "rhubarb",  "rucksack",
    "sandcastle", "saxophone", "scarecrow", "snowflake",  "squirrel",  "sunflower", "teapot",   "telescope",
    "toothbrush", "tortoise",  "trumpet",   "typewriter", "umbrella",  "vineyard",  "walrus",   "wardrobe",
};
static_assert(sizeof words / sizeof words[0] == SM_PAPER_WORD_COUNT, "six bits a word");

const char *sm_paper_word(size_t index) {
    return words[index];
}

// The first 18 bits of the SHA-256.
void paper_words_of(const char *html, size_t length, char out[SM_PAPER_WORDS_SIZE]) {
    const sm_walk_hash hash = sm_walk_hash_bytes(html, length);
    unsigned bits = 0;
    sscanf(hash.hex, "%5x", &bits);
    bits >>= 2;
    snprintf(out, SM_PAPER_WORDS_SIZE, "%s %s %s", words[bits >> 12 & 63], words[bits >> 6 & 63],
             words[bits & 63]);
}

static const char *after_blanks(const char *text) {
    while (isspace((unsigned char)*text))
        text++;
    return text;
}

bool sm_paper_words_equal(const char *a, const char *b) {
    a = after_blanks(a);
    b = after_blanks(b);
    while (*a != '\0' && *b != '\0') {
        const char *next_a = after_blanks(a), *next_b = after_blanks(b);
        if ((next_a == a) != (next_b == b) ||
            tolower((unsigned char)*next_a) != tolower((unsigned char)*next_b))
            break;
        a = next_a + (*next_a != '\0');
        b = next_b + (*next_b != '\0');
    }
    return *after_blanks(a) == '\0' && *after_blanks(b) == '\0';
}
