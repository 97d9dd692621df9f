// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/terminal_ground.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// Relative luminance (W3C, WCAG 2.1) up to which the dark palette, and from which the light one has a contrast of 4.5 in each of its
// inks; held by screen_theme_test.
#define DARK_MOST 0.026
#define LIGHT_LEAST 0.78

static double linear(double c) {
    return c <= 0.03928 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static sm_ground ground_of(const double rgb[3]) {
    double luminance = 0.2126 * linear(rgb[0]) + 0.7152 * linear(rgb[1]) + 0.0722 * linear(rgb[2]);
    return luminance <= DARK_MOST     ? SM_GROUND_DARK
           : luminance >= LIGHT_LEAST ? SM_GROUND_LIGHT
                                      : SM_GROUND_UNKNOWN;
}

// Only what is black or white on every terminal: the others are as people set them.
sm_ground sm_ground_of_variable(const char *value) {
    const char *last = value ? strrchr(value, ';') : NULL;
    if (!last)
        return SM_GROUND_UNKNOWN;
    return strcmp(last, ";0") == 0    ? SM_GROUND_DARK
           : strcmp(last, ";15") == 0 ? SM_GROUND_LIGHT
                                      : SM_GROUND_UNKNOWN;
}

// "rgb:RR/GG/BB" with one to four hexadecimal digits each: X11's form (XParseColor; from memory).
sm_ground sm_ground_of_answer(const char *answer) {
    static const char head[] = "11;rgb:";
    double rgb[3];
    if (strncmp(answer, head, strlen(head)) != 0)
        return SM_GROUND_UNKNOWN;
    const char *at = answer + strlen(head);
    for (int i = 0; i < 3; i++) {
        size_t digits = strspn(at, "0123456789abcdefABCDEF");
        if (digits < 1 || digits > 4 || at[digits] != (i < 2 ? '/' : '\0'))
            return SM_GROUND_UNKNOWN;
        rgb[i] = (double)strtoul(at, NULL, 16) / (double)((1u << 4 * digits) - 1);
        at += digits + 1;
    }
    return ground_of(rgb);
}

sm_palette sm_palette_on(sm_palette chosen, sm_ground ground) {
    if (chosen != SM_PALETTE_PLAIN || ground == SM_GROUND_UNKNOWN)
        return chosen;
    return ground == SM_GROUND_DARK ? SM_PALETTE_DARK : SM_PALETTE_LIGHT;
}
