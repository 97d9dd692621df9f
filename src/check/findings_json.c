// SPDX-License-Identifier: GPL-3.0-or-later
// The report as JSON, one object a line (RFC 8259).
#include "slowmatch/check.h"
#include "slowmatch/json.h"

#include <math.h>

static void append_finding(sm_json *json, const char *name, const sm_finding *finding, const char *reason) {
    sm_json_open(json, name, '{');
    sm_json_text(json, "file", finding->file);
    sm_json_number(json, "line", finding->line > 0 ? finding->line : (double)NAN);
    sm_json_number(json, "column", finding->column > 0 ? finding->column : (double)NAN);
    sm_json_text(json, "severity", sm_severity_text(finding->severity));
    sm_json_text(json, "rule", finding->rule);
    sm_json_text(json, "message", finding->message);
    sm_json_number(json, "value", finding->value);
    sm_json_number(json, "limit", finding->limit);
    sm_json_text(json, "unit", finding->unit && finding->unit[0] != '\0' ? finding->unit : NULL);
    if (reason)
        sm_json_text(json, "reason", reason);
    sm_json_close(json, '}');
}

void sm_check_finding_json(sm_json *json, const char *name, const sm_finding *finding) {
    append_finding(json, name, finding, NULL);
}

static void append_shares(sm_json *json, const char *name, const sm_check_share *shares, uint32_t count) {
    sm_json_open(json, name, '[');
    for (uint32_t i = 0; i < count; i++) {
        sm_json_open(json, NULL, '{');
        if (shares[i].name)
            sm_json_text(json, "name", shares[i].name);
        else
            sm_json_integer(json, "universe", shares[i].universe);
        sm_json_integer(json, "events", shares[i].events);
        if (shares[i].slots > 0) {
            sm_json_integer(json, "slots_used", shares[i].slots_used);
            sm_json_integer(json, "slots", shares[i].slots);
        }
        sm_json_close(json, '}');
    }
    sm_json_close(json, ']');
}

static void append_units(sm_json *json, const sm_check_summary *summary) {
    sm_json_open(json, "flames", '[');
    for (uint32_t i = 0; i < summary->unit_count; i++) {
        sm_json_open(json, NULL, '{');
        sm_json_text(json, "name", summary->units[i].name);
        sm_json_number(json, "burn_s", summary->units[i].burn_s);
        sm_json_number(json, "used_ml", summary->units[i].used_ml);
        sm_json_number(json, "fuel_ml", summary->units[i].fuel_ml);
        sm_json_number(json, "used_g", summary->units[i].used_g);
        sm_json_number(json, "fuel_g", summary->units[i].fuel_g);
        sm_json_close(json, '}');
    }
    sm_json_close(json, ']');
}

static void append_supplies(sm_json *json, const sm_check_summary *summary) {
    sm_json_open(json, "feeds", '[');
    for (uint32_t i = 0; i < summary->supply_count; i++) {
        sm_json_open(json, NULL, '{');
        sm_json_text(json, "name", summary->supplies[i].name);
        sm_json_number(json, "watts", summary->supplies[i].watts);
        sm_json_number(json, "va", summary->supplies[i].va);
        sm_json_number(json, "amps", summary->supplies[i].amps);
        sm_json_number(json, "inrush_amps", summary->supplies[i].inrush_amps);
        sm_json_number(json, "breaker_amps", summary->supplies[i].breaker_amps);
        sm_json_close(json, '}');
    }
    sm_json_close(json, ']');
}

static void append_sounds(sm_json *json, const sm_check_summary *summary) {
    sm_json_number(json, "propane_bar", summary->propane_bar);
    sm_json_number(json, "sound_to_front_s", summary->sound_to_front_s);
    sm_json_open(json, "sounds", '[');
    for (uint32_t i = 0; i < summary->sound_count; i++) {
        sm_json_open(json, NULL, '{');
        sm_json_text(json, "position", summary->sounds[i].name);
        sm_json_number(json, "seconds", summary->sounds[i].seconds);
        sm_json_close(json, '}');
    }
    sm_json_close(json, ']');
}

static void append_stock(sm_json *json, const sm_check_summary *summary) {
    sm_json_open(json, "stock", '[');
    for (uint32_t i = 0; i < summary->stock_count; i++) {
        const sm_check_stock *row = &summary->stock[i];
        sm_json_open(json, NULL, '{');
        sm_json_text(json, "kind", row->kind);
        sm_json_text(json, "name", row->name);
        sm_json_number(json, "amount", row->amount);
        sm_json_text(json, "unit", row->unit[0] != '\0' ? row->unit : NULL);
        sm_json_close(json, '}');
    }
    sm_json_close(json, ']');
}

static void append_totals(sm_json *json, const sm_check_summary *summary) {
    const double second = (double)SM_US_PER_S;
    sm_json_integer(json, "events", summary->events);
    sm_json_integer(json, "pyro", summary->pyro);
    sm_json_integer(json, "fixture", summary->fixture);
    sm_json_number(json, "first_s", summary->any ? (double)summary->first_us / second : (double)NAN);
    sm_json_number(json, "last_s", summary->any ? (double)summary->last_us / second : (double)NAN);
    sm_json_number(json, "length_s", (double)summary->length_us / second);
    sm_json_integer(json, "slots_used", summary->slots_used);
    sm_json_integer(json, "slots", summary->slots);
    append_shares(json, "modules", summary->modules, summary->module_count);
    append_shares(json, "rails", summary->rails, summary->rail_count);
    append_shares(json, "universes", summary->universes, summary->universe_count);
    append_shares(json, "effects", summary->effects, summary->effect_count);
    append_units(json, summary);
    append_supplies(json, summary);
    append_sounds(json, summary);
    append_stock(json, summary);
}

void sm_check_format_json(sm_text *out, const sm_check_report *report) {
    for (size_t i = 0; i < sm_findings_count(report->findings); i++) {
        append_finding(&(sm_json){.out = out, .tight = true}, NULL, sm_findings_at(report->findings, i),
                       NULL);
        sm_text_append(out, "\n", 1);
    }
    sm_json json = {.out = out, .tight = true};
    sm_json_open(&json, NULL, '{');
    sm_json_open(&json, "summary", '{');
    sm_json_integer(&json, "errors", (int64_t)sm_findings_count_of(report->findings, SM_ERROR));
    sm_json_integer(&json, "warnings", (int64_t)sm_findings_count_of(report->findings, SM_WARNING));
    sm_json_integer(&json, "notes", (int64_t)sm_findings_count_of(report->findings, SM_NOTE));
    sm_json_open(&json, "allowed", '[');
    for (size_t i = 0; i < sm_findings_count(report->allowed); i++)
        append_finding(&json, NULL, sm_findings_at(report->allowed, i), report->reasons[i]);
    sm_json_close(&json, ']');
    if (report->summary)
        append_totals(&json, report->summary);
    sm_json_text(&json, "says", "what rules found on paper; not a statement that the show may be fired");
    sm_json_close(&json, '}');
    sm_json_close(&json, '}');
    sm_text_append(out, "\n", 1);
}

void sm_check_format_rules_json(sm_text *out) {
    const sm_check_rule *rule;
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++) {
        sm_json json = {.out = out, .tight = true};
        sm_json_open(&json, NULL, '{');
        sm_json_text(&json, "rule", rule->id);
        sm_json_text(&json, "family", sm_check_family_text(rule->family));
        sm_json_text(&json, "severity", sm_severity_text(rule->severity));
        sm_json_text(&json, "meaning", rule->meaning);
        sm_json_text(&json, "source", rule->source);
        sm_json_text(&json, "explain", rule->explain);
        sm_json_close(&json, '}');
        sm_text_append(out, "\n", 1);
    }
}
