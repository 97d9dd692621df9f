// SPDX-License-Identifier: GPL-3.0-or-later
// Whether what was said has to do with the matter: `words = stay/out/back, K`. Of each group between commas one must be there; of a
// group that begins with ! (`!yes/go`) none may: who says everything has said nothing. Case does not count. A word of four letters and more is found as the beginning of a longer one ("watch" in "watching"); a shorter one only whole.
// A slot of the show is found however a crew says it: A-05, A5, Alfa zero five.
#include "drill/words.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

typedef struct span {
    const char *text;
    size_t length;
} span;

// The next piece of REST up to a BREAKS character, without blanks round it; false at its end.
static bool next_piece(span *rest, char breaks, span *out) {
    if (!rest->text)
        return false;
    const char *stop = memchr(rest->text, breaks, rest->length);
    size_t length = stop ? (size_t)(stop - rest->text) : rest->length;
    *out = (span){rest->text, length};
    *rest = stop ? (span){stop + 1, rest->length - length - 1} : (span){0};
    while (out->length > 0 && out->text[0] == ' ')
        *out = (span){out->text + 1, out->length - 1};
    while (out->length > 0 && out->text[out->length - 1] == ' ')
        out->length--;
    return true;
}

static bool is_word(char c) {
    return isalnum((unsigned char)c) || (unsigned char)c >= 0x80;
}

static bool next_word(span *rest, span *out) {
    while (rest->length > 0 && !is_word(rest->text[0]))
        *rest = (span){rest->text + 1, rest->length - 1};
    size_t length = 0;
    while (length < rest->length && is_word(rest->text[length]))
        length++;
    *out = (span){rest->text, length};
    *rest = (span){rest->text + length, rest->length - length};
    return length > 0;
}

#define LONG_ENOUGH 4

static bool word_fits(span wanted, span said) {
    bool long_enough =
        said.length == wanted.length || (said.length > wanted.length && wanted.length >= LONG_ENOUGH);
    return long_enough && strncasecmp(wanted.text, said.text, wanted.length) == 0;
}

// The words of WANTED, one after the other, stand at the beginning of SAID.
static bool begins_with(span said, span wanted) {
    span want, word;
    while (next_word(&wanted, &want))
        if (!next_word(&said, &word) || !word_fits(want, word))
            return false;
    return true;
}

static bool is_said(span said, span wanted) {
    span first, word;
    bool any = next_word(&wanted, &first);
    while (any && next_word(&said, &word))
        if (word_fits(first, word) && begins_with(said, wanted))
            return true;
    return false;
}

// ---- slots --------------------------------------------------------------------------------------

// From the international radiotelephony alphabet (ITU Radio Regulations, Appendix 14), from memory.
static const char *const letters[] = {
    "alfa",    "bravo", "charlie", "delta",  "echo",     "foxtrot", "golf",   "hotel",  "india",
    "juliett", "kilo",  "lima",    "mike",   "november", "oscar",   "papa",   "quebec", "romeo",
    "sierra",  "tango", "uniform", "victor", "whiskey",  "xray",    "yankee", "zulu"};
static const char *const digits[] = {"zero", "one", "two",   "three", "four",
                                     "five", "six", "seven", "eight", "nine"};

static void spell(const char *text, sm_text *out) {
    for (; *text != '\0'; text++)
        if (isalpha((unsigned char)*text))
            sm_text_printf(out, "%s ", letters[tolower((unsigned char)*text) - 'a']);
        else if (isdigit((unsigned char)*text))
            sm_text_printf(out, "%s ", digits[*text - '0']);
}

static bool slot_is_said(const sm_show *show, span said, span wanted) {
    uint32_t slot;
    char name[48], close[48];
    if (!show || sm_slot_find(show, wanted.text, wanted.length, &slot) != SM_OK)
        return false;
    sm_slot_format(show, slot, name);
    const char *number = strrchr(name, '-') + 1;
    int rail = (int)(number - name - 1);
    snprintf(close, sizeof close, "%.*s%s", rail, name, number);
    sm_text spelled = {0};
    spell(name, &spelled);
    bool found = is_said(said, (span){name, strlen(name)}) || is_said(said, (span){close, strlen(close)}) ||
                 is_said(said, (span){sm_text_get(&spelled), spelled.length});
    if (number[0] == '0') { // "A-5", "A5", "alfa five"
        snprintf(close, sizeof close, "%.*s %s", rail, name, number + 1);
        found = found || is_said(said, (span){close, strlen(close)});
        snprintf(close, sizeof close, "%.*s%s", rail, name, number + 1);
        found = found || is_said(said, (span){close, strlen(close)});
        sm_text_deinit(&spelled);
        spelled = (sm_text){0};
        spell(close, &spelled);
        found = found || is_said(said, (span){sm_text_get(&spelled), spelled.length});
    }
    sm_text_deinit(&spelled);
    return found;
}

// ---- groups -------------------------------------------------------------------------------------

static bool is_not(span group) {
    return group.length > 0 && group.text[0] == '!';
}

static span after_not(span group) {
    return is_not(group) ? (span){group.text + 1, group.length - 1} : group;
}

static bool group_is_said(const sm_show *show, span group, span said) {
    span alternative;
    while (next_piece(&group, '/', &alternative))
        if (is_said(said, alternative) || slot_is_said(show, said, alternative))
            return true;
    return false;
}

bool sm_words_said(const sm_show *show, const char *words, const char *text) {
    span groups = {words, strlen(words)}, group;
    const span said = {text, strlen(text)};
    while (words[0] != '\0' && next_piece(&groups, ',', &group))
        if (group_is_said(show, after_not(group), said) == is_not(group))
            return false;
    return true;
}

bool drill_words_are_whole(const char *words) {
    span groups = {words, strlen(words)}, group, alternative, word;
    while (next_piece(&groups, ',', &group))
        while (next_piece(&group, '/', &alternative)) {
            span rest = alternative;
            if (!next_word(&rest, &word))
                return false;
        }
    return true;
}
