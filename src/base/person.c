// SPDX-License-Identifier: GPL-3.0-or-later
// People's names as they are typed on a phone in the dark.
#include "slowmatch/base.h"

#include <locale.h>
#include <string.h>
#include <wchar.h>
#include <wctype.h>

// The next character of *TEXT in lower case; where it is none, its first byte, out of reach of any character.
static wint_t next_folded(const char **text) {
    mbstate_t state = {0};
    wchar_t c;
    size_t bytes = mbrtowc(&c, *text, strlen(*text), &state);
    if (bytes == 0 || bytes > strlen(*text))
        return 0x110000u + (unsigned char)*(*text)++;
    *text += bytes;
    return towlower((wint_t)c);
}

static const char *skip_blanks(const char *text) {
    return text + strspn(text, " \t\r\n");
}

static bool same_folded(const char *a, const char *b) {
    for (a = skip_blanks(a), b = skip_blanks(b); *a != '\0' && *b != '\0';) {
        if (next_folded(&a) != next_folded(&b))
            return false;
        const char *rest_a = skip_blanks(a), *rest_b = skip_blanks(b);
        if (*rest_a == '\0' || *rest_b == '\0' || (rest_a > a && rest_b > b)) {
            a = rest_a;
            b = rest_b;
        }
    }
    return *a == '\0' && *b == '\0';
}

static bool is_ascii(const char *text) {
    while (*text != '\0' && (unsigned char)*text < 0x80)
        text++;
    return *text == '\0';
}

bool sm_person_same(const char *a, const char *b) {
    if (is_ascii(a) && is_ascii(b)) // in any locale
        return same_folded(a, b);
    locale_t utf8 = newlocale(LC_CTYPE_MASK, "C.UTF-8", (locale_t)0);
    locale_t before = utf8 ? uselocale(utf8) : (locale_t)0;
    bool same = same_folded(a, b);
    if (utf8) {
        uselocale(before);
        freelocale(utf8);
    }
    return same;
}
