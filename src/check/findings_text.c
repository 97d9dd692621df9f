// SPDX-License-Identifier: GPL-3.0-or-later
// The report for people.
#include "check/rule.h"
#include "check/source.h"

#include <assert.h>
#include <math.h>
#include <string.h>

// Characters of a line that are shown; a longer one is cut round its cell.
enum { SHOWN_CHARACTERS = 100, SHOWN_BEFORE = 30 };

#define COLOUR_OFF "\033[0m"
#define COLOUR_HEAD "\033[1m"

static const char *colour_of(sm_severity severity) {
    static const char *const colours[] = {"\033[1;31m", "\033[1;33m", "\033[1;36m"};
    static_assert(sizeof colours / sizeof colours[0] == SM_SEVERITY_COUNT, "a colour for each severity");
    return colours[severity];
}

static void append_coloured(sm_text *out, const char *colour, const char *text) {
    if (colour)
        sm_text_printf(out, "%s%s" COLOUR_OFF, colour, text);
    else
        sm_text_append(out, text, strlen(text));
}

// LENGTH bytes, with what is not harmless put as a blank or '?', so that columns stay.
static void append_shown(sm_text *out, const char *bytes, size_t length) {
    for (size_t at = 0, step; at < length; at += step) {
        step = sm_utf8_length(bytes + at, length - at);
        step = step > 0 ? step : 1;
        if (sm_utf8_harmless(bytes + at, length - at) > 0)
            sm_text_append(out, bytes + at, step);
        else
            sm_text_append(out, bytes[at] == '\t' ? " " : "?", 1);
    }
}

// The line of the file with a mark under the cell.
static void append_source(sm_text *out, check_source *source, const sm_finding *finding, bool ini,
                          const char *colour) {
    const check_piece line = check_source_line(source, finding->line);
    if (finding->line == 0 || line.length == 0)
        return;
    const check_piece cell = check_line_cell(line, finding->column, ini);
    size_t first = finding->column > SHOWN_CHARACTERS - SHOWN_BEFORE ? finding->column - SHOWN_BEFORE : 0;
    const size_t begin = check_piece_bytes(line, first);
    const size_t length =
        check_piece_bytes((check_piece){line.bytes + begin, line.length - begin}, SHOWN_CHARACTERS);
    sm_text_printf(out, "%6u | %s", finding->line, first > 0 ? "..." : "");
    append_shown(out, line.bytes + begin, length);
    sm_text_printf(out, "%s\n", begin + length < line.length ? "..." : "");
    if (finding->column == 0 || finding->column > sm_utf8_count(line.bytes, line.length) + 1)
        return;
    sm_text_printf(out, "       | %*s", (int)(finding->column - 1 - first + (first > 0 ? 3 : 0)), "");
    size_t marks = cell.length > 0 ? sm_utf8_count(cell.bytes, cell.length) : 1;
    const size_t room = SHOWN_CHARACTERS - (finding->column - 1 - first);
    marks = marks > room ? room : marks;
    if (colour)
        sm_text_append(out, colour, strlen(colour));
    for (size_t i = 0; i < marks; i++)
        sm_text_append(out, "^", 1);
    sm_text_printf(out, "%s\n", colour ? COLOUR_OFF : "");
}

static void append_finding(sm_text *out, const sm_check_report *report, const sm_finding *finding,
                           bool colour) {
    sm_text line = {0};
    sm_finding_format(&line, report->folder, finding);
    const char *word = sm_severity_text(finding->severity);
    const char *text = sm_text_get(&line);
    const char *found = strstr(text, word);
    if (!colour || !found) {
        sm_text_printf(out, "%s\n", text);
    } else {
        sm_text_append(out, text, (size_t)(found - text));
        append_coloured(out, colour_of(finding->severity), word);
        sm_text_printf(out, "%s\n", found + strlen(word));
    }
    sm_text_deinit(&line);
}

static void append_counts(sm_text *out, const size_t counts[SM_SEVERITY_COUNT]) {
    bool any = false;
    for (int s = 0; s < SM_SEVERITY_COUNT; s++) {
        if (counts[s] == 0)
            continue;
        sm_text_printf(out, "%s%zu %s%s", any ? ", " : "", counts[s], sm_severity_text((sm_severity)s),
                       counts[s] == 1 ? "" : "s");
        any = true;
    }
}

static void append_file_head(sm_text *out, const sm_findings *findings, size_t first, size_t end,
                             bool colour) {
    size_t counts[SM_SEVERITY_COUNT] = {0};
    for (size_t i = first; i < end; i++)
        counts[sm_findings_at(findings, i)->severity]++;
    const char *file = sm_findings_at(findings, first)->file;
    sm_text shown = {0};
    sm_text_append_shown(&shown, file, strlen(file), "");
    append_coloured(out, colour ? COLOUR_HEAD : NULL, sm_text_get(&shown));
    sm_text_deinit(&shown);
    sm_text_append(out, ": ", 2);
    append_counts(out, counts);
    sm_text_append(out, "\n", 1);
}

// Where the findings of the file of FIRST end.
static size_t end_of_file(const sm_findings *findings, size_t first) {
    size_t end = first;
    while (end < sm_findings_count(findings) &&
           strcmp(sm_findings_at(findings, end)->file, sm_findings_at(findings, first)->file) == 0)
        end++;
    return end;
}

static void append_files(sm_text *out, const sm_check_report *report, bool colour) {
    const sm_findings *findings = report->findings;
    for (size_t first = 0, end; first < sm_findings_count(findings); first = end) {
        const char *file = sm_findings_at(findings, first)->file;
        check_source source;
        end = end_of_file(findings, first);
        if (check_source_init(&source, report->folder, file) != SM_OK)
            out->failed = true;
        append_file_head(out, findings, first, end, colour);
        for (size_t i = first; i < end; i++) {
            const sm_finding *finding = sm_findings_at(findings, i);
            append_finding(out, report, finding, colour);
            append_source(out, &source, finding, strcmp(file, "show.ini") == 0,
                          colour ? colour_of(finding->severity) : NULL);
        }
        sm_text_append(out, "\n", 1);
        check_source_deinit(&source);
    }
}

static void append_allowed(sm_text *out, const sm_check_report *report) {
    const size_t count = sm_findings_count(report->allowed);
    if (count == 0)
        return;
    sm_text_printf(out, "allowed: %zu warning%s\n", count, count == 1 ? "" : "s");
    for (size_t i = 0; i < count; i++) {
        sm_text line = {0};
        sm_finding_format(&line, report->folder, sm_findings_at(report->allowed, i));
        sm_text_printf(out, "%s\n       | ", sm_text_get(&line));
        const char *reason = report->reasons[i][0] != '\0' ? report->reasons[i] : "(no reason given)";
        append_shown(out, reason, strlen(reason));
        sm_text_append(out, "\n", 1);
        sm_text_deinit(&line);
    }
    sm_text_append(out, "\n", 1);
}

static void append_verdict(sm_text *out, const sm_check_report *report) {
    size_t counts[SM_SEVERITY_COUNT];
    for (int s = 0; s < SM_SEVERITY_COUNT; s++)
        counts[s] = sm_findings_count_of(report->findings, (sm_severity)s);
    if (sm_findings_count(report->findings) == 0)
        sm_text_printf(out, "no rule found anything%s",
                       sm_findings_count(report->allowed) > 0 ? " beyond what is allowed above" : "");
    else
        append_counts(out, counts);
    sm_text_printf(
        out, "; not a statement that the show may be fired: local law, the maker's data and the licensed "
             "operator go first\n");
}

void sm_check_format_text(sm_text *out, const sm_check_report *report, bool colour) {
    append_files(out, report, colour);
    append_allowed(out, report);
    if (report->summary) {
        sm_check_format_summary(out, report->summary);
        sm_text_append(out, "\n", 1);
    }
    append_verdict(out, report);
}
