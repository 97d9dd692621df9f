// SPDX-License-Identifier: GPL-3.0-or-later
// A report: what loading and the rules found, joined; what allow comments let pass, apart.
#include "check/rule.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// ---- allow comments -------------------------------------------------------------------

typedef struct permit {
    const sm_allow *allow;
    bool used;
} permit;

typedef struct permits {
    permit *rows; // by file, row, rule
    size_t count;
} permits;

static int compare_keys(const char *file_a, uint32_t line_a, const char *rule_a, const char *file_b,
                        uint32_t line_b, const char *rule_b) {
    int order = strcmp(file_a, file_b);
    if (order == 0)
        order = line_a < line_b ? -1 : line_a > line_b;
    return order != 0 ? order : strcmp(rule_a, rule_b);
}

static int compare_permits(const void *left, const void *right) {
    const sm_allow *a = ((const permit *)left)->allow, *b = ((const permit *)right)->allow;
    const int order = compare_keys(a->file, a->row_line, a->rule, b->file, b->row_line, b->rule);
    return order != 0 ? order : a->line < b->line ? -1 : a->line > b->line;
}

static bool make_permits(const sm_show *show, sm_arena *arena, permits *out) {
    *out = (permits){0};
    if (!show)
        return true;
    out->rows = sm_arena_alloc(arena, ((size_t)show->allow_count + 1) * sizeof *out->rows);
    if (!out->rows)
        return false;
    for (uint32_t i = 0; i < show->allow_count; i++)
        out->rows[out->count++] = (permit){.allow = &show->allows[i]};
    qsort(out->rows, out->count, sizeof *out->rows, compare_permits);
    return true;
}

// The first permit for FINDING, NULL where there is none. All of them count as used.
static const sm_allow *use_permit(const permits *all, const sm_finding *finding) {
    size_t low = 0, high = all->count;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const sm_allow *allow = all->rows[middle].allow;
        if (compare_keys(allow->file, allow->row_line, allow->rule, finding->file, finding->line,
                         finding->rule) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    const sm_allow *found = NULL;
    for (; low < all->count; low++) {
        const sm_allow *allow = all->rows[low].allow;
        if (compare_keys(allow->file, allow->row_line, allow->rule, finding->file, finding->line,
                         finding->rule) != 0)
            break;
        all->rows[low].used = true;
        found = found ? found : allow;
    }
    return found;
}

static void put_unused(const permits *all, sm_findings *findings) {
    for (size_t i = 0; i < all->count; i++) {
        const sm_allow *allow = all->rows[i].allow;
        if (all->rows[i].used)
            continue;
        const sm_check_rule *rule = sm_check_rule_find(allow->rule);
        if (!rule)
            sm_findings_add(findings, allow->file, allow->line, 1, SM_NOTE, "allow-unused",
                            "there is no rule \"%s\"", allow->rule);
        else
            sm_findings_add(findings, allow->file, allow->line, 1, SM_NOTE, "allow-unused",
                            "no warning of %s stands at the row below; this comment lets nothing pass%s",
                            allow->rule, rule->severity == SM_ERROR ? ", and errors cannot be allowed" : "");
    }
}

// ---- joining ----------------------------------------------------------------------------

static bool same_place(const sm_finding *a, const sm_finding *b) {
    return a->line == b->line && a->column == b->column && strcmp(a->file, b->file) == 0 &&
           strcmp(a->rule, b->rule) == 0;
}

static int compare_places(const sm_finding *a, const sm_finding *b) {
    int order = strcmp(a->file, b->file);
    if (order == 0)
        order = a->line < b->line ? -1 : a->line > b->line;
    return order != 0 ? order : a->column < b->column ? -1 : a->column > b->column;
}

// Puts into BOTH the findings of LOADED and OWN (sorted), less those of OWN that loading told at the same place: a name
// that does not resolve is also a name that is not there.
static void join(const sm_findings *loaded, const sm_findings *own, sm_findings *both) {
    const size_t loaded_count = sm_findings_count(loaded);
    size_t from = 0;
    for (size_t i = 0; i < loaded_count; i++)
        sm_findings_put(both, sm_findings_at(loaded, i));
    for (size_t i = 0; i < sm_findings_count(own); i++) {
        const sm_finding *finding = sm_findings_at(own, i);
        while (from < loaded_count && compare_places(sm_findings_at(loaded, from), finding) < 0)
            from++;
        bool told = false;
        for (size_t l = from; l < loaded_count && compare_places(sm_findings_at(loaded, l), finding) == 0;
             l++)
            told = told || same_place(sm_findings_at(loaded, l), finding);
        if (!told)
            sm_findings_put(both, finding);
    }
}

// Everything found, sorted, into BOTH.
static sm_result find_all(const sm_show *show, const sm_findings *loaded, const sm_check_options *options,
                          sm_findings *both) {
    sm_findings *sorted = sm_findings_create();
    sm_findings *own = sm_findings_create();
    sm_check_options known = options ? *options : (sm_check_options){.audio_end_us = SM_UNSET_US};
    known.loaded = loaded;
    sm_result result = sorted && own ? SM_OK : SM_NO_MEMORY;
    if (result == SM_OK && show)
        result = sm_check_run(show, &known, own);
    if (result == SM_OK) {
        for (size_t i = 0; loaded && i < sm_findings_count(loaded); i++)
            sm_findings_put(sorted, sm_findings_at(loaded, i));
        sm_findings_sort(sorted);
        sm_findings_sort(own);
        join(sorted, own, both);
        result = sm_findings_failed(sorted) || sm_findings_failed(both) ? SM_NO_MEMORY : SM_OK;
    }
    sm_findings_destroy(sorted);
    sm_findings_destroy(own);
    return result;
}

// Parts ALL (sorted) into what stands and what is allowed.
static sm_result part(sm_check_report *report, sm_findings *all) {
    permits permitted;
    const size_t count = sm_findings_count(all);
    report->reasons = sm_arena_alloc(report->arena, (count + 1) * sizeof *report->reasons);
    if (!report->reasons || !make_permits(report->show, report->arena, &permitted))
        return SM_NO_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const sm_finding *finding = sm_findings_at(all, i);
        const sm_allow *allow = finding->severity == SM_WARNING ? use_permit(&permitted, finding) : NULL;
        if (allow)
            report->reasons[sm_findings_count(report->allowed)] = allow->reason;
        sm_findings_put(allow ? report->allowed : report->findings, finding);
    }
    put_unused(&permitted, report->findings);
    sm_findings_sort(report->findings);
    return sm_findings_failed(report->findings) || sm_findings_failed(report->allowed) ? SM_NO_MEMORY : SM_OK;
}

sm_result sm_check_report_create(const sm_show *show, const char *folder, const sm_findings *loaded,
                                 const sm_check_options *options, sm_check_report **out) {
    sm_check_report *report = calloc(1, sizeof *report);
    sm_findings *all = sm_findings_create();
    sm_result result = SM_NO_MEMORY;
    if (report) {
        *report = (sm_check_report){.folder = folder,
                                    .show = show,
                                    .arena = sm_arena_create(),
                                    .findings = sm_findings_create(),
                                    .allowed = sm_findings_create()};
        if (all && report->arena && report->findings && report->allowed)
            result = find_all(show, loaded, options, all);
    }
    if (result == SM_OK) {
        sm_findings_sort(all);
        result = part(report, all);
    }
    if (result == SM_OK && show)
        result = sm_check_summary_create(show, &report->summary);
    sm_findings_destroy(all);
    if (result != SM_OK) {
        sm_check_report_destroy(report);
        return result;
    }
    *out = report;
    return SM_OK;
}

void sm_check_report_destroy(sm_check_report *report) {
    if (!report)
        return;
    sm_findings_destroy(report->findings);
    sm_findings_destroy(report->allowed);
    sm_check_summary_destroy(report->summary);
    sm_arena_destroy(report->arena);
    free(report);
}

uint32_t sm_check_finding_cue(const sm_show *show, const sm_finding *finding) {
    if (strcmp(finding->file, "cues.csv") != 0 || finding->line == 0)
        return SM_NONE;
    uint32_t low = 0, high = show->cue_count;
    while (low < high) {
        const uint32_t middle = low + (high - low) / 2;
        if (show->cues[middle].line < finding->line)
            low = middle + 1;
        else
            high = middle;
    }
    return low < show->cue_count && show->cues[low].line == finding->line ? low : SM_NONE;
}
