// SPDX-License-Identifier: GPL-3.0-or-later
// The report as JSON, one object a line (RFC 8259).
#include "check/json.h"

#include "slowmatch/check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void check_json_key(sm_text *out, bool *more, const char *name) {
    sm_text_printf(out, "%s\"%s\":", *more ? "," : "", name);
    *more = true;
}

void check_json_text(sm_text *out, bool *more, const char *name, const char *value) {
    check_json_key(out, more, name);
    if (value)
        sm_text_append_json(out, value);
    else
        sm_text_append(out, "null", 4);
}

void check_json_number(sm_text *out, bool *more, const char *name, double value) {
    char digits[40];
    check_json_key(out, more, name);
    if (!isfinite(value)) {
        sm_text_append(out, "null", 4);
        return;
    }
    snprintf(digits, sizeof digits, "%.10g", value);
    for (char *c = digits; *c != '\0'; c++)
        if (*c == ',')
            *c = '.'; // whatever decimal mark the locale has
    sm_text_append(out, digits, strlen(digits));
}

void check_json_integer(sm_text *out, bool *more, const char *name, int64_t value) {
    check_json_key(out, more, name);
    sm_text_printf(out, "%lld", (long long)value);
}

static void append_finding(sm_text *out, const sm_finding *finding, const char *reason) {
    bool more = false;
    sm_text_append(out, "{", 1);
    check_json_text(out, &more, "file", finding->file);
    check_json_number(out, &more, "line", finding->line > 0 ? finding->line : (double)NAN);
    check_json_number(out, &more, "column", finding->column > 0 ? finding->column : (double)NAN);
    check_json_text(out, &more, "severity", sm_severity_text(finding->severity));
    check_json_text(out, &more, "rule", finding->rule);
    check_json_text(out, &more, "message", finding->message);
    check_json_number(out, &more, "value", finding->value);
    check_json_number(out, &more, "limit", finding->limit);
    check_json_text(out, &more, "unit", finding->unit && finding->unit[0] != '\0' ? finding->unit : NULL);
    if (reason)
        check_json_text(out, &more, "reason", reason);
    sm_text_append(out, "}", 1);
}

static void append_shares(sm_text *out, bool *more, const char *name, const sm_check_share *shares,
                          uint32_t count) {
    check_json_key(out, more, name);
    for (uint32_t i = 0; i < count; i++) {
        bool inner = false;
        sm_text_append(out, i == 0 ? "[{" : ",{", 2);
        if (shares[i].name)
            check_json_text(out, &inner, "name", shares[i].name);
        else
            check_json_integer(out, &inner, "universe", shares[i].universe);
        check_json_integer(out, &inner, "events", shares[i].events);
        if (shares[i].slots > 0) {
            check_json_integer(out, &inner, "slots_used", shares[i].slots_used);
            check_json_integer(out, &inner, "slots", shares[i].slots);
        }
        sm_text_append(out, "}", 1);
    }
    sm_text_append(out, count == 0 ? "[]" : "]", count == 0 ? 2 : 1);
}

static void append_units(sm_text *out, bool *more, const sm_check_summary *summary) {
    check_json_key(out, more, "flames");
    sm_text_append(out, "[", 1);
    for (uint32_t i = 0; i < summary->unit_count; i++) {
        bool inner = false;
        sm_text_append(out, i == 0 ? "{" : ",{", i == 0 ? 1 : 2);
        check_json_text(out, &inner, "name", summary->units[i].name);
        check_json_number(out, &inner, "burn_s", summary->units[i].burn_s);
        check_json_number(out, &inner, "used_ml", summary->units[i].used_ml);
        check_json_number(out, &inner, "fuel_ml", summary->units[i].fuel_ml);
        check_json_number(out, &inner, "used_g", summary->units[i].used_g);
        check_json_number(out, &inner, "fuel_g", summary->units[i].fuel_g);
        sm_text_append(out, "}", 1);
    }
    sm_text_append(out, "]", 1);
}

static void append_supplies(sm_text *out, bool *more, const sm_check_summary *summary) {
    check_json_key(out, more, "feeds");
    sm_text_append(out, "[", 1);
    for (uint32_t i = 0; i < summary->supply_count; i++) {
        bool inner = false;
        sm_text_append(out, i == 0 ? "{" : ",{", i == 0 ? 1 : 2);
        check_json_text(out, &inner, "name", summary->supplies[i].name);
        check_json_number(out, &inner, "watts", summary->supplies[i].watts);
        check_json_number(out, &inner, "va", summary->supplies[i].va);
        check_json_number(out, &inner, "amps", summary->supplies[i].amps);
        check_json_number(out, &inner, "inrush_amps", summary->supplies[i].inrush_amps);
        check_json_number(out, &inner, "breaker_amps", summary->supplies[i].breaker_amps);
        sm_text_append(out, "}", 1);
    }
    sm_text_append(out, "]", 1);
}

static void append_sounds(sm_text *out, bool *more, const sm_check_summary *summary) {
    check_json_number(out, more, "propane_bar", summary->propane_bar);
    check_json_number(out, more, "sound_to_front_s", summary->sound_to_front_s);
    check_json_key(out, more, "sounds");
    sm_text_append(out, "[", 1);
    for (uint32_t i = 0; i < summary->sound_count; i++) {
        bool inner = false;
        sm_text_append(out, i == 0 ? "{" : ",{", i == 0 ? 1 : 2);
        check_json_text(out, &inner, "position", summary->sounds[i].name);
        check_json_number(out, &inner, "seconds", summary->sounds[i].seconds);
        sm_text_append(out, "}", 1);
    }
    sm_text_append(out, "]", 1);
}

static void append_stock(sm_text *out, bool *more, const sm_check_summary *summary) {
    check_json_key(out, more, "stock");
    sm_text_append(out, "[", 1);
    for (uint32_t i = 0; i < summary->stock_count; i++) {
        const sm_check_stock *row = &summary->stock[i];
        bool inner = false;
        sm_text_append(out, i == 0 ? "{" : ",{", i == 0 ? 1 : 2);
        check_json_text(out, &inner, "kind", row->kind);
        check_json_text(out, &inner, "name", row->name);
        check_json_number(out, &inner, "amount", row->amount);
        check_json_text(out, &inner, "unit", row->unit[0] != '\0' ? row->unit : NULL);
        sm_text_append(out, "}", 1);
    }
    sm_text_append(out, "]", 1);
}

static void append_totals(sm_text *out, bool *more, const sm_check_summary *summary) {
    const double second = (double)SM_US_PER_S;
    check_json_integer(out, more, "events", summary->events);
    check_json_integer(out, more, "pyro", summary->pyro);
    check_json_integer(out, more, "fixture", summary->fixture);
    check_json_number(out, more, "first_s", summary->any ? (double)summary->first_us / second : (double)NAN);
    check_json_number(out, more, "last_s", summary->any ? (double)summary->last_us / second : (double)NAN);
    check_json_number(out, more, "length_s", (double)summary->length_us / second);
    check_json_integer(out, more, "slots_used", summary->slots_used);
    check_json_integer(out, more, "slots", summary->slots);
    append_shares(out, more, "modules", summary->modules, summary->module_count);
    append_shares(out, more, "rails", summary->rails, summary->rail_count);
    append_shares(out, more, "universes", summary->universes, summary->universe_count);
    append_shares(out, more, "effects", summary->effects, summary->effect_count);
    append_units(out, more, summary);
    append_supplies(out, more, summary);
    append_sounds(out, more, summary);
    append_stock(out, more, summary);
}

void sm_check_format_json(sm_text *out, const sm_check_report *report) {
    for (size_t i = 0; i < sm_findings_count(report->findings); i++) {
        append_finding(out, sm_findings_at(report->findings, i), NULL);
        sm_text_append(out, "\n", 1);
    }
    bool more = false;
    sm_text_printf(out, "{\"summary\":{");
    check_json_integer(out, &more, "errors", (int64_t)sm_findings_count_of(report->findings, SM_ERROR));
    check_json_integer(out, &more, "warnings", (int64_t)sm_findings_count_of(report->findings, SM_WARNING));
    check_json_integer(out, &more, "notes", (int64_t)sm_findings_count_of(report->findings, SM_NOTE));
    check_json_key(out, &more, "allowed");
    sm_text_append(out, "[", 1);
    for (size_t i = 0; i < sm_findings_count(report->allowed); i++) {
        sm_text_append(out, ",", i > 0 ? 1 : 0);
        append_finding(out, sm_findings_at(report->allowed, i), report->reasons[i]);
    }
    sm_text_append(out, "]", 1);
    if (report->summary)
        append_totals(out, &more, report->summary);
    check_json_text(out, &more, "says",
                    "what rules found on paper; not a statement that the show may be fired");
    sm_text_printf(out, "}}\n");
}

void sm_check_format_rules_json(sm_text *out) {
    const sm_check_rule *rule;
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++) {
        bool more = false;
        sm_text_append(out, "{", 1);
        check_json_text(out, &more, "rule", rule->id);
        check_json_text(out, &more, "family", sm_check_family_text(rule->family));
        check_json_text(out, &more, "severity", sm_severity_text(rule->severity));
        check_json_text(out, &more, "meaning", rule->meaning);
        check_json_text(out, &more, "source", rule->source);
        check_json_text(out, &more, "explain", rule->explain);
        sm_text_append(out, "}\n", 2);
    }
}
