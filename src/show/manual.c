// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch-show(5) out of the schema.
#include "show/schema.h"

#include <assert.h>
#include <math.h>
#include <string.h>

// Appends TEXT as roff prints it: "-" is a minus sign, a line may not begin with a control character.
void sm_manual_append(sm_text *out, const char *text) {
    if (text[0] == '.' || text[0] == '\'')
        sm_text_append(out, "\\&", 2);
    for (; *text != '\0'; text++)
        if (*text == '-')
            sm_text_append(out, "\\-", 2);
        else if (*text == '\\')
            sm_text_append(out, "\\e", 2);
        else
            sm_text_append(out, text, 1);
}

static void append_line(sm_text *out, const char *before, const char *text) {
    sm_text_printf(out, "%s", before);
    sm_manual_append(out, text);
    sm_text_append(out, "\n", 1);
}

static void append_kind(sm_text *out, const sm_column *column) {
    static const char *const kinds[] = {
        [SM_CELL_NAME] = "a name",         [SM_CELL_REFERENCE] = "a name in",
        [SM_CELL_NAMES] = "names",         [SM_CELL_TEXT] = "text",
        [SM_CELL_CHOICE] = "one of:",      [SM_CELL_INTEGER] = "a whole number",
        [SM_CELL_INTEGERS] = "numbers",    [SM_CELL_MEASURE] = "a number",
        [SM_CELL_SPAN] = "a time",         [SM_CELL_MOMENT] = "a moment",
        [SM_CELL_TIMECODE] = "a timecode", [SM_CELL_GAUGE] = "a wire",
        [SM_CELL_SPECIAL] = "see above",
    };
    static_assert(sizeof kinds / sizeof kinds[0] == SM_CELL_KIND_COUNT, "words for each kind");
    sm_text details = {0};
    if (column->kind != SM_CELL_SPECIAL)
        sm_text_printf(&details, "%s", kinds[column->kind]);
    if (column->kind == SM_CELL_REFERENCE)
        sm_text_printf(&details, " %s", column->refers);
    if (column->kind == SM_CELL_CHOICE)
        sm_text_printf(&details, " %s", column->choices);
    if (column->kind == SM_CELL_MEASURE)
        sm_text_printf(&details, " with %s", sm_quantity_units(column->quantity));
    if (column->kind == SM_CELL_SPAN)
        sm_text_printf(&details, " with s, ms or min");
    if ((column->kind == SM_CELL_MEASURE || column->kind == SM_CELL_SPAN) && column->unit)
        sm_text_printf(&details, ", a bare number in %s", column->unit);
    if (!isnan(column->low)) {
        const bool is_time = column->kind == SM_CELL_SPAN || column->kind == SM_CELL_MOMENT;
        const char *const unit = is_time ? "s" : column->unit ? column->unit : "";
        sm_text_printf(&details, "%s%.12g to %.12g%s%s", details.length > 0 ? "; " : "", column->low,
                       column->high, unit[0] != '\0' ? " " : "", unit);
    }
    if (column->fallback[0] != '\0')
        sm_text_printf(&details, "%sdefault %s", details.length > 0 ? "; " : "", column->fallback);
    if (details.length > 0)
        append_line(out, ".br\n", sm_text_get(&details));
    out->failed = out->failed || details.failed;
    sm_text_deinit(&details);
}

static void append_column(sm_text *out, const sm_column *column) {
    sm_text_printf(out, ".TP\n.B ");
    sm_manual_append(out, column->name);
    sm_text_printf(out, "%s\n", column->required ? " (required)" : "");
    append_line(out, "", column->help);
    append_kind(out, column);
}

void sm_manual_columns(sm_text *out, const sm_column *columns, size_t count) {
    const char *section = NULL;
    for (size_t i = 0; i < count; i++) {
        const sm_column *const column = &columns[i];
        if (column->section && (!section || strcmp(section, column->section) != 0))
            sm_text_printf(out, ".SS [%s]\n", column->section);
        section = column->section;
        append_column(out, column);
    }
}

static void append_table(sm_text *out, const sm_table_schema *table) {
    append_line(out, ".SH ", table->file);
    sm_text help = {0};
    sm_text_printf(&help, "%s.%s", table->help, table->needed ? " Needed." : "");
    append_line(out, "", sm_text_get(&help));
    out->failed = out->failed || help.failed;
    sm_text_deinit(&help);
    sm_manual_columns(out, table->columns, table->column_count);
}

static const char head[] =
    ".\\\" SPDX-License-Identifier: GPL-3.0-or-later\n"
    ".\\\" Made from the schema in src/show; edit that, not this.\n"
    ".TH SLOWMATCH\\-SHOW 5 \"\" slowmatch \"File formats\"\n"
    ".SH NAME\n"
    "slowmatch\\-show \\- the folder of tables that slowmatch reads as a show\n"
    ".SH DESCRIPTION\n"
    "A show is a folder.\n"
    ".BR show.ini ,\n"
    ".B rails.csv\n"
    "(if anything is fired) and\n"
    ".B cues.csv\n"
    "are needed; every other table may be left out and is then empty, unless another table points at it.\n"
    "slowmatch simulates; nothing in these files reaches an igniter.\n"
    ".SS Text\n"
    "UTF\\-8; a byte order mark, CRLF and bare LF are accepted, control characters are not.\n"
    "The tables follow RFC 4180 with these deviations: bare LF ends a record; blanks round a field are "
    "dropped unless\n"
    "they stand within its quotes; a record whose first field begins with # is a comment (which follows the "
    "quoting\n"
    "rules like any record); blank lines, records whose cells are all blank, and blank columns at the end "
    "are passed over.\n"
    "The first record is the header; columns stand in any order. An empty cell takes the column's default.\n"
    "An apostrophe that keeps a free text from being run as a formula by a spreadsheet is no part of the "
    "text.\n"
    ".PP\n"
    "In\n"
    ".B show.ini\n"
    "a line is [section], key = value, or a comment that begins with ; or #. There are no comments behind a "
    "value and\n"
    "no continuation lines. A line has at most 199 bytes; a section or key stands once.\n"
    ".PP\n"
    "A comment\n"
    ".B # allow RULE: reason\n"
    "before a row lets a warning of that rule at the row pass.\n"
    ".SS Names\n"
    "ASCII letters, digits, \\- and _, at most 31, compared exactly.\n"
    "A slot is written RAIL\\-NN: what follows the last \\- is the slot, and A\\-5 reads as A\\-05.\n"
    "A fixture or group whose name reads as a slot of a rail is an error.\n"
    ".SS Measures\n"
    "A number and its unit, with or without a space: m, ft, mm, in; V; A, mA; ohm, kohm; uF, mF, F; mJ/ohm; "
    "W; VA; Hz; ml, g; ml/s, g/s; m/s, "
    "km/h, mph,\n"
    "kn; C, F; s, ms, min; %. A bare number takes the unit of its column.\n"
    "A wire is a number with AWG (also 1/0 to 4/0) or mm2, of copper; ccs21, ccs30 or ccs40 behind it means "
    "copper\\-clad\n"
    "steel of that percentage of copper's conductance, x1.61 any other factor of its resistance.\n"
    ".SS Moments\n"
    "S.mmm, M:SS.mmm or H:MM:SS.mmm, with none to six decimals, also negative; or timecode HH:MM:SS:FF "
    "(HH:MM:SS;FF\n"
    "drop\\-frame, only at 29.97), read against timecode\\-start. Kept in whole microseconds; frames round "
    "to the nearest.\n"
    ".SS Levels\n"
    "0 to 255, or a whole number with %, rounded half up: 50% is 128.\n";

static const char tail[] = ".SH EVENTS\n"
                           "A cue is an event for each of its slots (one firing) and for each of its "
                           "fixtures (one change). A group stands for\n"
                           "its members in order.\n"
                           "The module fires at the cue's time less the effect's lead.\n"
                           "A fade starts from the level that the channel has at that moment and runs in a "
                           "straight line. A later cue on the\n"
                           "same channel ends a fade under way and cancels the return home still pending for "
                           "that channel. Returning home is at\n"
                           "once.\n"
                           "Without a length the show ends at the later of the audio's end and the end of "
                           "the last event: the cue's time plus\n"
                           "lasts, or fade where that is longer.\n";

static void append_rules(sm_text *out) {
    size_t count;
    const sm_show_rule *const rules = sm_show_rules(&count);
    sm_text_printf(
        out, ".SH ERRORS\nWhat is wrong is told for all files at once, as file:line:column: error: what is "
             "wrong [rule]. The line is that of\nthe record's beginning, the column counts characters.\n");
    for (size_t i = 0; i < count; i++) {
        sm_text_printf(out, ".TP\n.B ");
        append_line(out, "", rules[i].id);
        append_line(out, "", rules[i].help);
    }
}

void sm_show_manual(sm_text *out) {
    size_t count;
    const sm_table_schema *const tables = sm_show_schema(&count);
    sm_text_append(out, head, sizeof head - 1);
    for (size_t i = 0; i < count; i++)
        append_table(out, &tables[i]);
    sm_text_append(out, tail, sizeof tail - 1);
    append_rules(out);
    sm_text_printf(out, ".SH SEE ALSO\n.BR slowmatch (1)\n");
}
