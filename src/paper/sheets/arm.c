// SPDX-License-Identifier: GPL-3.0-or-later
// ARM: who says what, and what is read back. Common practice of small crews, from memory, no source; the local code, the maker's
// data and the licensed operator go first.
#include "paper/sheets.h"

#include <math.h>

typedef struct step {
    const char *who, *says, *back;
} step;

static const step steps[] = {
    {"lead", "\"Everybody out. I read the names.\" One by one, from NAMES.",
     "Each answers by name. Silence is not an answer."},
    {"lead", "\"Spotter: field, audience line, both sides, sky?\"",
     "\"Nobody in by the list, ____ out. Audience line held. Sides watched. No thunder.\""},
    {"lead", "\"Clear is called.\" Whoever goes in ends it: from step 1 again.",
     "Every station: \"Clear, left.\" \"Clear, right.\" \"Clear, rear.\""},
    {"lead", "Shows the one remote in the hand: number ____, heard, paired, battery ____ .",
     "Audio, lights: \"One remote. The others are in the box.\""},
    {"lead", "\"Wind?\"", "Spotter: \"Wind ____ .\" Measured now."},
    {"lead", "Reads the module: slots open, short, low, high, unsure; what is held back.",
     "Deputy repeats it: \"____ read, ____ not as predicted, ____ held back.\""},
    {"lead", "\"Key in. Key on. State is ...\" Reads it from the module.", "Deputy repeats the state word."},
    {"lead", "\"Arming.\" Waits out the tone.", "Spotter, looking at the field: \"Nobody in.\""},
    {"lead", "\"Armed.\"", "Every station: \"Armed, understood.\""},
    {"lead", "\"Starting.\" Counts down aloud, eyes on the field.",
     "Anyone may say \"Hold, hold, hold\" at any time."},
};

static void put_settings(paper_kit *kit, const sm_show_settings *settings) {
    paper_paragraph(kit, PAPER_TEXT, "Tone: %g s. Countdown: %g s.", (double)settings->arm_time_us / 1e6,
                    (double)settings->countdown_us / 1e6);
    if (isfinite(settings->wind_limit_m_s))
        paper_paragraph(kit, PAPER_STRONG,
                        "Wind limit, your setting: %.1f m/s. Over it: no aerials, not fewer.",
                        settings->wind_limit_m_s);
    else
        paper_paragraph(kit, PAPER_STRONG,
                        "Wind limit NOT SET: write the operator's figure here ________ . Over it: no "
                        "aerials, not fewer.");
}

void paper_make_arm(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {{"step", 44, true},
                                           {"who", 60, false},
                                           {"says or does", 270, false},
                                           {"read back", 288, false},
                                           {"done", 56, true}};
    (void)index;
    paper_subject(kit, "who says what, what is read back");
    put_settings(kit, &facts->show->settings);
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 58);
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        paper_row_begin(kit);
        paper_text_cell(kit, PAPER_NAME, "%zu", i + 1);
        paper_text_cell(kit, PAPER_TEXT, "%s", steps[i].who);
        paper_text_cell(kit, PAPER_STRONG, "%s", steps[i].says);
        paper_text_cell(kit, PAPER_TEXT, "%s", steps[i].back);
        paper_boxes(kit, 1);
        paper_row_end(kit);
    }
    paper_table_end(kit);
    paper_paragraph(kit, PAPER_STRONG, "Interrupted at any step: make safe, key off, from step 1 again.");
    paper_paragraph(
        kit, PAPER_TEXT,
        "An order is read back and answered with \"correct\". A slot is called letter by letter, digit by "
        "digit: \"Alfa zero five\".");
}
