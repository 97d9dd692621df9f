// SPDX-License-Identifier: GPL-3.0-or-later
// The palettes against published arithmetic. Sources:
//   contrast: W3C, Web Content Accessibility Guidelines 2.1, "relative luminance" and "contrast ratio", success criterion 1.4.3
//     (second-hand: several public copies of the two formulas agree);
//   colour vision: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, A Physiologically-based Model for Simulation of Color Vision
//     Deficiency (2009), the three matrices of severity 1 (second-hand: an open-source package's table), on linear RGB;
//   sRGB to CIELAB: IEC 61966-2-1 and CIE 1976 with white D65 (from memory; checked below against red's published L*a*b*);
//   xterm's 256 colours: levels 0, 95, 135, 175, 215, 255 and greys 8 + 10 n (from memory);
//   xterm's first 16: its default resources (from memory).
#include "boards/view.h"
#include "boards/words/slots_and_flames.h"
#include "boards/words/state_line.h"
#include "screen/terminal_ground.h"
#include "support/published.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define LEAST_CONTRAST 4.5
// The least CIE 1976 distance between looks that stand for different things, to eyes of each kind. 2.3 is a just noticeable difference
// (Mahy and others 1994; from memory); four of them are asked for.
#define LEAST_DISTANCE 9.2

// ---- the arithmetic --------------------------------------------------------------------------

static double linear(int eighth_bits) {
    double c = eighth_bits / 255.0;
    return c <= 0.03928 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static void to_linear(int rgb, double out[3]) {
    for (int i = 0; i < 3; i++)
        out[i] = linear(rgb >> (16 - 8 * i) & 0xFF);
}

static double luminance(int rgb) {
    double c[3];
    to_linear(rgb, c);
    return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
}

static double contrast(int a, int b) {
    double first = luminance(a), second = luminance(b);
    double light = first > second ? first : second, dark = first > second ? second : first;
    return (light + 0.05) / (dark + 0.05);
}

static void to_lab(const double c[3], double lab[3]) {
    static const double xyz[3][3] = {{0.4124564, 0.3575761, 0.1804375},
                                     {0.2126729, 0.7151522, 0.0721750},
                                     {0.0193339, 0.1191920, 0.9503041}};
    static const double white[3] = {0.95047, 1, 1.08883};
    double f[3];
    for (int i = 0; i < 3; i++) {
        double t = (xyz[i][0] * c[0] + xyz[i][1] * c[1] + xyz[i][2] * c[2]) / white[i];
        f[i] = t > 216.0 / 24389 ? cbrt(t) : (24389.0 / 27 * t + 16) / 116;
    }
    lab[0] = 116 * f[1] - 16;
    lab[1] = 500 * (f[0] - f[1]);
    lab[2] = 200 * (f[1] - f[2]);
}

static const double machado[][3][3] = {
    {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, // all cones
    {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
    {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
    {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
};
static const char *const eyes[] = {"all cones", "no red cones", "no green cones", "no blue cones"};

static void seen(int rgb, size_t eye, double lab[3]) {
    double c[3], seen_c[3];
    to_linear(rgb, c);
    for (int i = 0; i < 3; i++) {
        const double *row = machado[eye][i];
        double sum = row[0] * c[0] + row[1] * c[1] + row[2] * c[2];
        seen_c[i] = sum < 0 ? 0 : sum > 1 ? 1 : sum;
    }
    to_lab(seen_c, lab);
}

static double distance(int a, int b, size_t eye) {
    double first[3], second[3];
    seen(a, eye, first);
    seen(b, eye, second);
    return sqrt(pow(first[0] - second[0], 2) + pow(first[1] - second[1], 2) + pow(first[2] - second[2], 2));
}

static int rgb_of_256(int colour) {
    static const int levels[] = {0, 95, 135, 175, 215, 255};
    assert_in_range(colour, 16, 255);
    if (colour >= 232) {
        int grey = 8 + 10 * (colour - 232);
        return grey << 16 | grey << 8 | grey;
    }
    int cube = colour - 16;
    return levels[cube / 36] << 16 | levels[cube / 6 % 6] << 8 | levels[cube % 6];
}

static int rgb_of_16(int colour) {
    static const int colours[] = {0x000000, 0xCD0000, 0x00CD00, 0xCDCD00, 0x0000EE, 0xCD00CD,
                                  0x00CDCD, 0xE5E5E5, 0x7F7F7F, 0xFF0000, 0x00FF00, 0xFFFF00,
                                  0x5C5CFF, 0xFF00FF, 0x00FFFF, 0xFFFFFF};
    assert_in_range(colour, 0, 15);
    return colours[colour];
}

// The arithmetic itself, against figures that others published.
static void the_arithmetic_is_the_published_one(void **state) {
    (void)state;
    published contrasts = {.family = "contrast",
                           .source = "WCAG 2.1 and public contrast tables (second-hand)"};
    published_hold(&contrasts, contrast(0x000000, 0xFFFFFF), 21,
                   1e-9); // WCAG 2.1: from 1 to 21 (second-hand)
    published_hold(&contrasts, contrast(0x777777, 0x777777), 1, 1e-9);
    // The lightest grey that passes on white, and the next that fails: 4.54 and 4.48 in public contrast tables (second-hand).
    published_hold(&contrasts, contrast(0x767676, 0xFFFFFF), 4.54, 0.0011);
    published_hold(&contrasts, contrast(0x777777, 0xFFFFFF), 4.48, 0.0011);
    published_print(&contrasts);
    // sRGB red in CIELAB, D65: 53.24, 80.09, 67.20 (second-hand: printed in public colour converters).
    double lab[3];
    seen(0xFF0000, 0, lab);
    assert_true(fabs(lab[0] - 53.24) < 0.02 && fabs(lab[1] - 80.09) < 0.02 && fabs(lab[2] - 67.20) < 0.02);
    // Every matrix leaves grey as it is, as its authors made it: each row sums to 1.
    for (size_t eye = 0; eye < 4; eye++) {
        for (int i = 0; i < 3; i++) {
            const double *row = machado[eye][i];
            assert_true(fabs(row[0] + row[1] + row[2] - 1) < 2e-6);
        }
        // and red and green of one lightness come together for eyes without red or green cones, not for others
        double apart = distance(0xB04040, 0x308030, eye);
        assert_true((eye == 1 || eye == 2) == (apart < 40));
    }
}

// ---- contrast -----------------------------------------------------------------------------------

// What the palette lies on: its own paper, or the terminals that it is for. Ink: the terminal's own is taken for xterm's.
typedef struct ground {
    sm_palette palette;
    int paper, own_ink;
} ground;

static const ground grounds[] = {
    {SM_PALETTE_PLAIN, 0x000000, 0xE5E5E5}, {SM_PALETTE_PLAIN, 0xFFFFFF, 0x000000},
    {SM_PALETTE_DARK, 0x000000, 0xE5E5E5},  {SM_PALETTE_DARK, 0x1E1E1E, 0xD4D4D4},
    {SM_PALETTE_LIGHT, 0xFFFFFF, 0x000000}, {SM_PALETTE_LIGHT, 0xEEEEEE, 0x333333},
    {SM_PALETTE_COLOUR_BLIND, 0, -1},       {SM_PALETTE_NIGHT, 0, -1},
};

static int depths[] = {0x1000000, 256, 16};

static int colour_at(const sm_ink *ink, int depth, int own) {
    int colour = depth == 16 ? ink->of16 : depth == 256 ? ink->of256 : ink->rgb;
    if (colour == SM_OWN_INK) {
        assert_int_not_equal(own, -1); // only where the paper is the terminal's own as well
        return own;
    }
    return depth == 16 ? rgb_of_16(colour) : depth == 256 ? rgb_of_256(colour) : colour;
}

static void every_text_can_be_read(void **state) {
    (void)state;
    double least = 99;
    for (size_t i = 0; i < sizeof grounds / sizeof grounds[0]; i++) {
        const ground *on = &grounds[i];
        for (size_t d = 0; d < 3; d++) {
            int paper = colour_at(&sm_palette_row_of(on->palette)->paper, depths[d], on->paper);
            assert_int_equal(paper, on->paper);
            for (int look = 0; look < SM_LOOK_COUNT; look++) {
                const sm_ink *ink = sm_theme_ink(on->palette, (sm_look)look);
                double ratio = contrast(colour_at(ink, depths[d], on->own_ink), paper);
                if (!sm_theme_is_shape((sm_look)look) && ratio < LEAST_CONTRAST) {
                    fail_msg("palette %s, look %d, %d colours: %.2f", sm_palette_row_of(on->palette)->name,
                             look, depths[d], ratio);
                }
                least = !sm_theme_is_shape((sm_look)look) && ratio < least ? ratio : least;
            }
        }
    }
    assert_true(least < 21); // something was measured
    printf("    the least contrast of a text is %.2f\n", least);
}

// What plain becomes on a paper of any grey, as the terminal says it: every ink of its own that it uses can be read there.
static void plain_can_be_read_on_any_paper(void **state) {
    (void)state;
    unsigned used[SM_PALETTE_COUNT] = {0};
    for (int grey = 0; grey < 256; grey++) {
        char answer[32];
        snprintf(answer, sizeof answer, "11;rgb:%02x/%02x/%02x", (unsigned)grey, (unsigned)grey,
                 (unsigned)grey);
        sm_palette palette = sm_palette_on(SM_PALETTE_PLAIN, sm_ground_of_answer(answer));
        used[palette]++;
        for (int look = 0; look < SM_LOOK_COUNT; look++) {
            const sm_ink *ink = sm_theme_ink(palette, (sm_look)look);
            if (ink->rgb == SM_OWN_INK || sm_theme_is_shape((sm_look)look))
                continue;
            double rich = contrast(ink->rgb, grey * 0x10101),
                   of256 = contrast(rgb_of_256(ink->of256), grey * 0x10101);
            if (rich < LEAST_CONTRAST || of256 < LEAST_CONTRAST)
                fail_msg("grey %d, palette %s, look %d: %.2f, %.2f", grey, sm_palette_row_of(palette)->name,
                         look, rich, of256);
        }
    }
    assert_true(used[SM_PALETTE_DARK] > 30 && used[SM_PALETTE_LIGHT] > 20 && used[SM_PALETTE_PLAIN] > 20);
    assert_int_equal(used[SM_PALETTE_DARK] + used[SM_PALETTE_LIGHT] + used[SM_PALETTE_PLAIN], 256);
}

static void what_a_terminal_says_of_its_paper(void **state) {
    (void)state;
    assert_int_equal(sm_ground_of_variable(NULL), SM_GROUND_UNKNOWN);
    assert_int_equal(sm_ground_of_variable(""), SM_GROUND_UNKNOWN);
    assert_int_equal(sm_ground_of_variable("15;0"), SM_GROUND_DARK);
    assert_int_equal(sm_ground_of_variable("0;15"), SM_GROUND_LIGHT);
    assert_int_equal(sm_ground_of_variable("15;default;0"), SM_GROUND_DARK);
    assert_int_equal(sm_ground_of_variable("12;8"), SM_GROUND_UNKNOWN);
    static const struct {
        const char *answer;
        sm_ground ground;
    } answers[] = {
        {"11;rgb:0/0/0", SM_GROUND_DARK},         {"11;rgb:ffff/ffff/ffff", SM_GROUND_LIGHT},
        {"11;rgb:FF/FF/FF", SM_GROUND_LIGHT},     {"11;rgb:0000/0000/8000", SM_GROUND_DARK},
        {"11;rgb:fff/ff/f", SM_GROUND_LIGHT},     {"11;rgb:ffff/ffff", SM_GROUND_UNKNOWN},
        {"11;rgb:ffff/ffff/", SM_GROUND_UNKNOWN}, {"10;rgb:ffff/ffff/ffff", SM_GROUND_UNKNOWN},
        {"11;rgb:fffff/0/0", SM_GROUND_UNKNOWN},  {"11;#ffffff", SM_GROUND_UNKNOWN},
        {"11;rgb:ff/ff/ffx", SM_GROUND_UNKNOWN},  {"", SM_GROUND_UNKNOWN},
    };
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++)
        if (sm_ground_of_answer(answers[i].answer) != answers[i].ground)
            fail_msg("%s", answers[i].answer);
    for (int palette = SM_PALETTE_DARK; palette < SM_PALETTE_COUNT; palette++) // what was chosen stays chosen
        assert_int_equal(sm_palette_on((sm_palette)palette, SM_GROUND_LIGHT), palette);
}

// Eight-colour terminals show bold ones bright; beside a dark colour on a light ground that would spoil the contrast.
static void no_bold_spoils_a_light_ground(void **state) {
    (void)state;
    for (int look = 0; look < SM_LOOK_COUNT; look++) {
        const sm_ink *ink = sm_theme_ink(SM_PALETTE_LIGHT, (sm_look)look);
        assert_true(ink->of16 == SM_OWN_INK || !(ink->attributes & SM_BOLD));
        assert_true(ink->of16 < 8);
    }
}

static void the_night_is_red_and_dark(void **state) {
    (void)state;
    for (int look = 0; look < SM_LOOK_COUNT; look++) {
        const sm_ink *ink = sm_theme_ink(SM_PALETTE_NIGHT, (sm_look)look);
        bool text = !sm_theme_is_shape((sm_look)look);
        assert_true(!text || ink->rgb == 0xFF0000 || ink->rgb == 0xD75F00);
        assert_true(text || (ink->rgb & 0xFFFF) == 0); // a darker red
        assert_true(text || luminance(ink->rgb) < luminance(0xFF0000));
        // Few lit cells: the state's word alone is reversed.
        bool is_state = look == SM_LOOK_STATE || look == SM_LOOK_STATE_ARMED;
        assert_int_equal((ink->attributes & SM_REVERSE) != 0, is_state);
    }
}

// ---- told apart --------------------------------------------------------------------------------------

static void eyes_that_see_fewer_colours_tell_them_apart(void **state) {
    (void)state;
    static const sm_look apart[] = {SM_LOOK_NOW,  SM_LOOK_WARN,  SM_LOOK_FLAME,
                                    SM_LOOK_PYRO, SM_LOOK_LIGHT, SM_LOOK_PLAIN};
    double least = 999;
    for (size_t d = 0; d < 2; d++) {
        for (size_t eye = 0; eye < 4; eye++) {
            for (size_t i = 0; i < 6; i++) {
                for (size_t j = 0; j < i; j++) {
                    int a = colour_at(sm_theme_ink(SM_PALETTE_COLOUR_BLIND, apart[i]), depths[d], -1);
                    int b = colour_at(sm_theme_ink(SM_PALETTE_COLOUR_BLIND, apart[j]), depths[d], -1);
                    double found = distance(a, b, eye);
                    if (found < LEAST_DISTANCE)
                        fail_msg("looks %d and %d, %s: %.1f", apart[i], apart[j], eyes[eye], found);
                    least = found < least ? found : least;
                }
            }
        }
    }
    printf("    the least distance is %.1f\n", least);
}

// ---- and without colours ------------------------------------------------------------------------------

// The state is a word of its own in each state, the same look or not; so is what became of a slot.
static void words_say_it_without_colours(void **state) {
    (void)state;
    for (int i = SM_SLOT_SPARE; i <= SM_SLOT_HELD; i++)
        for (int j = SM_SLOT_SPARE; j < i; j++)
            assert_string_not_equal(sm_slot_phase_word((sm_slot_phase)i),
                                    sm_slot_phase_word((sm_slot_phase)j));
    for (int i = SM_STATE_SAFE; i <= SM_STATE_ENDED; i++)
        for (int j = SM_STATE_SAFE; j < i; j++)
            assert_string_not_equal(sm_state_text((sm_state)i), sm_state_text((sm_state)j));
}

// With no colours the looks that a person must not miss still stand out by attributes.
static void attributes_say_it_without_colours(void **state) {
    (void)state;
    static const sm_look marked[] = {SM_LOOK_STATE,    SM_LOOK_STATE_ARMED, SM_LOOK_WARN, SM_LOOK_NOW,
                                     SM_LOOK_SELECTED, SM_LOOK_STOP,        SM_LOOK_KEY};
    for (size_t i = 0; i < sizeof marked / sizeof marked[0]; i++) {
        uint8_t plain = sm_theme_plain_attributes(marked[i]);
        assert_int_not_equal(plain & (SM_BOLD | SM_UNDERLINE | SM_REVERSE), 0);
        for (int palette = 0; palette < SM_PALETTE_COUNT; palette++) {
            const sm_ink *ink = sm_theme_ink((sm_palette)palette, marked[i]);
            assert_int_not_equal(ink->attributes & (SM_BOLD | SM_UNDERLINE | SM_REVERSE), 0);
            bool is_state = marked[i] == SM_LOOK_STATE || marked[i] == SM_LOOK_STATE_ARMED;
            assert_true(!is_state || (ink->attributes & SM_REVERSE));
        }
    }
    assert_int_not_equal(sm_theme_plain_attributes(SM_LOOK_WARN), sm_theme_plain_attributes(SM_LOOK_NOW));
}

static void palettes_have_names(void **state) {
    (void)state;
    for (int i = 0; i < SM_PALETTE_COUNT; i++)
        assert_int_equal(sm_palette_named(sm_palette_row_of((sm_palette)i)->name), i);
    assert_int_equal(sm_palette_named("mauve"), SM_PALETTE_COUNT);
    assert_int_equal(sm_palette_named(""), SM_PALETTE_COUNT);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_arithmetic_is_the_published_one),
        cmocka_unit_test(every_text_can_be_read),
        cmocka_unit_test(plain_can_be_read_on_any_paper),
        cmocka_unit_test(what_a_terminal_says_of_its_paper),
        cmocka_unit_test(no_bold_spoils_a_light_ground),
        cmocka_unit_test(the_night_is_red_and_dark),
        cmocka_unit_test(eyes_that_see_fewer_colours_tell_them_apart),
        cmocka_unit_test(words_say_it_without_colours),
        cmocka_unit_test(attributes_say_it_without_colours),
        cmocka_unit_test(palettes_have_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
