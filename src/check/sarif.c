// SPDX-License-Identifier: GPL-3.0-or-later
// The report as SARIF 2.1.0 (OASIS Standard, 27 March 2020): one log, one run. Columns count code points, as findings do.
#include "slowmatch/check.h"
#include "slowmatch/json.h"

#include <string.h>

#define SCHEMA "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"

static void append_message(sm_json *json, const char *name, const char *text) {
    sm_json_open(json, name, '{');
    sm_json_text(json, "text", text);
    sm_json_close(json, '}');
}

static void append_rule(sm_json *json, const sm_check_rule *rule) {
    sm_text help = {0};
    sm_text_printf(&help, "%s Source: %s.", rule->explain, rule->source);
    sm_json_open(json, NULL, '{');
    sm_json_text(json, "id", rule->id);
    append_message(json, "shortDescription", rule->meaning);
    append_message(json, "help", sm_text_get(&help));
    sm_json_open(json, "defaultConfiguration", '{');
    sm_json_text(json, "level", sm_severity_text(rule->severity));
    sm_json_close(json, '}');
    sm_json_close(json, '}');
    json->out->failed = json->out->failed || help.failed;
    sm_text_deinit(&help);
}

// A file's name as a relative reference (RFC 3986): everything but unreserved characters and '/' is escaped.
static void append_uri(sm_json *json, const char *file) {
    static const char plain[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~/";
    sm_text uri = {0};
    for (; *file != '\0'; file++)
        if (strchr(plain, *file))
            sm_text_append(&uri, file, 1);
        else
            sm_text_printf(&uri, "%%%02X", (unsigned)(unsigned char)*file);
    sm_json_text(json, "uri", sm_text_get(&uri));
    json->out->failed = json->out->failed || uri.failed;
    sm_text_deinit(&uri);
}

static void append_location(sm_json *json, const sm_finding *finding) {
    sm_json_open(json, "locations", '[');
    sm_json_open(json, NULL, '{');
    sm_json_open(json, "physicalLocation", '{');
    sm_json_open(json, "artifactLocation", '{');
    append_uri(json, finding->file);
    sm_json_text(json, "uriBaseId", "SHOW");
    sm_json_close(json, '}');
    if (finding->line > 0) {
        sm_json_open(json, "region", '{');
        sm_json_integer(json, "startLine", finding->line);
        if (finding->column > 0)
            sm_json_integer(json, "startColumn", finding->column);
        sm_json_close(json, '}');
    }
    sm_json_close(json, '}');
    sm_json_close(json, '}');
    sm_json_close(json, ']');
}

static int64_t rule_index(const char *id) {
    const sm_check_rule *rule;
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++)
        if (strcmp(rule->id, id) == 0)
            return (int64_t)i;
    return -1;
}

static void append_result(sm_json *json, const sm_finding *finding, const char *reason) {
    const int64_t index = rule_index(finding->rule);
    sm_json_open(json, NULL, '{');
    sm_json_text(json, "ruleId", finding->rule);
    if (index >= 0)
        sm_json_integer(json, "ruleIndex", index);
    sm_json_text(json, "level", sm_severity_text(finding->severity));
    append_message(json, "message", finding->message);
    append_location(json, finding);
    if (reason) {
        sm_json_open(json, "suppressions", '[');
        sm_json_open(json, NULL, '{');
        sm_json_text(json, "kind", "inSource");
        sm_json_text(json, "justification", reason);
        sm_json_close(json, '}');
        sm_json_close(json, ']');
    }
    sm_json_open(json, "properties", '{');
    sm_json_number(json, "value", finding->value);
    sm_json_number(json, "limit", finding->limit);
    sm_json_text(json, "unit", finding->unit && finding->unit[0] != '\0' ? finding->unit : NULL);
    sm_json_close(json, '}');
    sm_json_close(json, '}');
}

void sm_check_format_sarif(sm_text *out, const sm_check_report *report, const char *version) {
    sm_json json = {.out = out, .tight = true};
    const sm_check_rule *rule;
    sm_json_open(&json, NULL, '{');
    sm_json_text(&json, "$schema", SCHEMA);
    sm_json_text(&json, "version", "2.1.0");
    sm_json_open(&json, "runs", '[');
    sm_json_open(&json, NULL, '{');
    sm_json_open(&json, "tool", '{');
    sm_json_open(&json, "driver", '{');
    sm_json_text(&json, "name", "slowmatch");
    sm_json_text(&json, "version", version);
    sm_json_open(&json, "rules", '[');
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++) {
        json.new_line = true;
        append_rule(&json, rule);
    }
    sm_json_close(&json, ']');
    sm_json_close(&json, '}');
    sm_json_close(&json, '}');
    sm_json_text(&json, "columnKind", "unicodeCodePoints");
    sm_json_open(&json, "results", '[');
    for (size_t i = 0; i < sm_findings_count(report->findings); i++) {
        json.new_line = true;
        append_result(&json, sm_findings_at(report->findings, i), NULL);
    }
    for (size_t i = 0; i < sm_findings_count(report->allowed); i++) {
        json.new_line = true;
        append_result(&json, sm_findings_at(report->allowed, i), report->reasons[i]);
    }
    sm_json_close(&json, ']');
    sm_json_close(&json, '}');
    sm_json_close(&json, ']');
    sm_json_close(&json, '}');
    sm_text_append(out, "\n", 1);
}
