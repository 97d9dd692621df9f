// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/words_read.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

sm_word sm_words_next(sm_words *words) {
    while (words->at < words->end && is_blank(*words->at))
        words->at++;
    sm_word word = {words->at, 0};
    while (words->at < words->end && !is_blank(*words->at))
        words->at++;
    word.length = (size_t)(words->at - word.text);
    return word;
}

sm_word sm_words_rest(sm_words *words) {
    while (words->at < words->end && is_blank(*words->at))
        words->at++;
    sm_word word = {words->at, (size_t)(words->end - words->at)};
    while (word.length > 0 && is_blank(word.text[word.length - 1]))
        word.length--;
    words->at = words->end;
    return word;
}

bool sm_word_is(sm_word word, const char *text) {
    return strlen(text) == word.length && memcmp(word.text, text, word.length) == 0;
}

int sm_word_shown_length(sm_word word) {
    return word.length > 40 ? 40 : (int)word.length;
}

sm_result sm_words_wrong(const sm_words *words, sm_word word, const char *format, ...) {
    va_list args;
    va_start(args, format);
    vsnprintf(words->why, 200, format, args);
    va_end(args);
    *words->fault = (size_t)(word.text - words->begin);
    return SM_INVALID;
}
