// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch-import(5) out of the declared keys.
#include "import/map.h"

#include "slowmatch/import.h"

#include <string.h>

// TEXT as roff prints it: "-" is a minus sign.
static void append_roff(sm_text *out, const char *text) {
    for (; *text != '\0'; text++)
        if (*text == '-')
            sm_text_append(out, "\\-", 2);
        else
            sm_text_append(out, text, 1);
}

static void append_key(sm_text *out, const import_map_key *key) {
    sm_text_printf(out, ".TP\n.B ");
    append_roff(out, key->key);
    sm_text_printf(out, "\n");
    append_roff(out, key->help);
    sm_text_printf(out, "\n.br\n%s", key->words ? "one of: " : "");
    append_roff(out, key->words ? key->words : key->form);
    sm_text_printf(out, "\n");
}

static const char head[] = ".\\\" SPDX-License-Identifier: GPL-3.0-or-later\n"
                           ".\\\" Made from the keys in src/import/map.c; edit that, not this.\n"
                           ".TH SLOWMATCH\\-IMPORT 5 \"\" slowmatch \"File formats\"\n"
                           ".SH NAME\n"
                           "slowmatch\\-import \\- what the columns of a cue list mean to slowmatch import\n"
                           ".SH DESCRIPTION\n"
                           ".B slowmatch import\n"
                           "reads a cue list: CSV between commas, semicolons, tabs or bars in any encoding, "
                           ".xlsx or .ods. Of spreadsheets it takes what the\n"
                           "cells hold and not what they show. It finds out what it can and reports it; what "
                           "can be read in two ways it asks: each question is\n"
                           "an error that shows the cells and ends with the lines that would answer it. "
                           "These lines are a mapping file, given with\n"
                           ".BR \\-\\-map .\n"
                           "The command prints the whole of it, with each open answer behind a semicolon:\n"
                           ".PP\n"
                           ".nf\n"
                           "slowmatch import list.xlsx show > map.ini\n"
                           "slowmatch import list.xlsx show \\-\\-map map.ini\n"
                           ".fi\n"
                           ".PP\n"
                           "It is an INI file as show.ini is (slowmatch\\-show(5)). A key in capitals stands "
                           "for a text of the table, with one blank in place of\n"
                           "blanks and of the marks = : ; # [ ] and double quotes, cut to 49 bytes; capitals "
                           "and small letters are alike.\n"
                           ".PP\n"
                           "Never guessed: whether a time is when something is seen or when it is fired; "
                           "frames a second; times of three parts, unless the\n"
                           "show's length leaves one reading; whether 1\\-32 is a module and its slot or a "
                           "range; slots numbered through all modules; which module\n"
                           "or effect a text means. Reported as suspicious: nothing but whole seconds; a "
                           "count that is not the number of slots named; a fire\n"
                           "time that is not the time it is seen less the lead.\n"
                           ".PP\n"
                           "A cell that is merged with those below it goes for each of their rows, but for a "
                           "cue's name and a count.\n";

static const char tail[] =
    ".SH FILES\n"
    ".TP\n.B cues\\-imported.csv\nthe cues, beside the cues.csv of a show that is there; never in its place\n"
    ".TP\n.B import\\-report.csv\n"
    "every row of the table: its line, the cue that it became (by number), or why it was left out, how each "
    "value was known, and its\n"
    "cells as they stand\n"
    ".PP\n"
    "Text that a spreadsheet would run as a formula has an apostrophe in front in both.\n"
    ".SH LIMITS\n"
    "64 MB a file, 256 MB unpacked, 200,000 rows, 256 columns, 32 KB of text a cell, XML 64 deep.\n"
    ".SH SEE ALSO\n"
    ".BR slowmatch (1),\n"
    ".BR slowmatch\\-show (5)\n";

void sm_import_manual(sm_text *out) {
    const char *section = "";
    sm_text_append(out, head, sizeof head - 1);
    for (unsigned i = 0; i < IMPORT_KEYS; i++) {
        const import_map_key *const key = import_map_key_at((import_key)i);
        if (strcmp(section, key->section) != 0)
            sm_text_printf(out, ".SH [%s]\n", key->section);
        section = key->section;
        append_key(out, key);
    }
    sm_text_append(out, tail, sizeof tail - 1);
}
