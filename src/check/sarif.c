// SPDX-License-Identifier: GPL-3.0-or-later
// The report as SARIF 2.1.0 (OASIS Standard, 27 March 2020): one log, one run. Columns count code points, as findings do.
#include "check/json.h"

#include "slowmatch/check.h"

#include <math.h>
#include <string.h>

#define SCHEMA "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"

static void append_message(sm_text *out, bool *more, const char *name, const char *text) {
    bool inner = false;
    check_json_key(out, more, name);
    sm_text_append(out, "{", 1);
    check_json_text(out, &inner, "text", text);
    sm_text_append(out, "}", 1);
}

static void append_rule(sm_text *out, const sm_check_rule *rule) {
    bool more = false;
    sm_text help = {0};
    sm_text_printf(&help, "%s Source: %s.", rule->explain, rule->source);
    sm_text_append(out, "{", 1);
    check_json_text(out, &more, "id", rule->id);
    append_message(out, &more, "shortDescription", rule->meaning);
    append_message(out, &more, "help", sm_text_get(&help));
    check_json_key(out, &more, "defaultConfiguration");
    sm_text_printf(out, "{\"level\":\"%s\"}", sm_severity_text(rule->severity));
    sm_text_append(out, "}", 1);
    out->failed = out->failed || help.failed;
    sm_text_deinit(&help);
}

// A file's name as a relative reference (RFC 3986): everything but unreserved characters and '/' is escaped.
static void append_uri(sm_text *out, const char *file) {
    static const char plain[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~/";
    sm_text_append(out, "\"", 1);
    for (; *file != '\0'; file++)
        if (strchr(plain, *file))
            sm_text_append(out, file, 1);
        else
            sm_text_printf(out, "%%%02X", (unsigned)(unsigned char)*file);
    sm_text_append(out, "\"", 1);
}

static void append_location(sm_text *out, const sm_finding *finding) {
    sm_text_printf(out, "[{\"physicalLocation\":{\"artifactLocation\":{\"uri\":");
    append_uri(out, finding->file);
    sm_text_printf(out, ",\"uriBaseId\":\"SHOW\"}");
    if (finding->line > 0)
        sm_text_printf(out, ",\"region\":{\"startLine\":%u", finding->line);
    if (finding->line > 0 && finding->column > 0)
        sm_text_printf(out, ",\"startColumn\":%u", finding->column);
    sm_text_printf(out, finding->line > 0 ? "}}}]" : "}}]");
}

static int64_t rule_index(const char *id) {
    const sm_check_rule *rule;
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++)
        if (strcmp(rule->id, id) == 0)
            return (int64_t)i;
    return -1;
}

static void append_result(sm_text *out, const sm_finding *finding, const char *reason) {
    bool more = false, inner = false;
    sm_text_append(out, "{", 1);
    check_json_text(out, &more, "ruleId", finding->rule);
    const int64_t index = rule_index(finding->rule);
    if (index >= 0)
        check_json_integer(out, &more, "ruleIndex", index);
    check_json_text(out, &more, "level", sm_severity_text(finding->severity));
    append_message(out, &more, "message", finding->message);
    check_json_key(out, &more, "locations");
    append_location(out, finding);
    if (reason) {
        check_json_key(out, &more, "suppressions");
        sm_text_printf(out, "[{\"kind\":\"inSource\",\"justification\":");
        sm_text_append_json(out, reason);
        sm_text_printf(out, "}]");
    }
    check_json_key(out, &more, "properties");
    sm_text_append(out, "{", 1);
    check_json_number(out, &inner, "value", finding->value);
    check_json_number(out, &inner, "limit", finding->limit);
    check_json_text(out, &inner, "unit", finding->unit && finding->unit[0] != '\0' ? finding->unit : NULL);
    sm_text_printf(out, "}}");
}

void sm_check_format_sarif(sm_text *out, const sm_check_report *report, const char *version) {
    const sm_check_rule *rule;
    sm_text_printf(
        out,
        "{\"$schema\":\"%s\",\"version\":\"2.1.0\",\"runs\":[{\"tool\":{\"driver\":{\"name\":\"slowmatch\"",
        SCHEMA);
    sm_text_printf(out, ",\"version\":");
    sm_text_append_json(out, version);
    sm_text_printf(out, ",\"rules\":[");
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++) {
        sm_text_printf(out, "%s\n", i > 0 ? "," : "");
        append_rule(out, rule);
    }
    sm_text_printf(out, "]}},\"columnKind\":\"unicodeCodePoints\",\"results\":[");
    const size_t count = sm_findings_count(report->findings);
    for (size_t i = 0; i < count; i++) {
        sm_text_printf(out, "%s\n", i > 0 ? "," : "");
        append_result(out, sm_findings_at(report->findings, i), NULL);
    }
    for (size_t i = 0; i < sm_findings_count(report->allowed); i++) {
        sm_text_printf(out, "%s\n", count + i > 0 ? "," : "");
        append_result(out, sm_findings_at(report->allowed, i), report->reasons[i]);
    }
    sm_text_printf(out, "]}]}\n");
}
