// SPDX-License-Identifier: GPL-3.0-or-later
// A line cut into words, and what is wrong with one of them: for actions and injections.
#ifndef ENGINE_WORDS_READ_H
#define ENGINE_WORDS_READ_H

#include "slowmatch/base.h"

// A part of the line; the line owns its bytes.
typedef struct sm_word {
    const char *text;
    size_t length; // 0: there is none
} sm_word;

typedef struct sm_words {
    const char *begin, *at, *end; // of the line; AT is where the next word is looked for
    char *why;                    // room for 200
    size_t *fault;                // where in the line
} sm_words;

// Words stand between blanks and tabs. The rest of the line goes without blanks at its ends.
sm_word sm_words_next(sm_words *words);
sm_word sm_words_rest(sm_words *words);
bool sm_word_is(sm_word word, const char *text);
// SM_INVALID; why and where.
sm_result sm_words_wrong(const sm_words *words, sm_word word, const char *format, ...) SM_PRINTF(3, 4);

// A word as a pair of arguments for "%.*s", cut so that a message stays one line.
#define SM_SHOWN(word) sm_word_shown_length(word), (word).text
int sm_word_shown_length(sm_word word);

#endif
