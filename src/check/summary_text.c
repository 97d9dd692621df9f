// SPDX-License-Identifier: GPL-3.0-or-later
// The summary and the list of rules for people.
#include "check/rule.h"

#include <math.h>
#include <string.h>

static void append_shares(sm_text *out, const char *head, const sm_check_share *shares, uint32_t count,
                          bool only_used) {
    for (uint32_t i = 0; i < count; i++) {
        const sm_check_share *share = &shares[i];
        if (only_used && share->events == 0)
            continue;
        sm_text_printf(out, "  %-10s", head);
        if (share->name)
            sm_text_printf(out, "%-16s %u firing%s", share->name, share->events,
                           share->events == 1 ? "" : "s");
        else
            sm_text_printf(out, "%-16d %u fixture event%s", share->universe, share->events,
                           share->events == 1 ? "" : "s");
        if (share->slots > 0)
            sm_text_printf(out, ", %u of %u slots used", share->slots_used, share->slots);
        sm_text_append(out, "\n", 1);
    }
}

static void append_units(sm_text *out, const sm_check_summary *summary) {
    for (uint32_t i = 0; i < summary->unit_count; i++) {
        const sm_check_unit *unit = &summary->units[i];
        sm_text_printf(out, "  %-10s%-16s burns %.2f s", "flame", unit->name, unit->burn_s);
        if (!isnan(unit->used_ml))
            sm_text_printf(out, ", %.1f ml", unit->used_ml);
        if (!isnan(unit->fuel_ml))
            sm_text_printf(out, " of %.1f ml", unit->fuel_ml);
        if (!isnan(unit->used_g))
            sm_text_printf(out, ", %.1f g", unit->used_g);
        if (!isnan(unit->fuel_g))
            sm_text_printf(out, " of %.1f g", unit->fuel_g);
        sm_text_append(out, "\n", 1);
    }
}

static void append_supplies(sm_text *out, const sm_check_summary *summary) {
    for (uint32_t i = 0; i < summary->supply_count; i++) {
        const sm_check_supply *supply = &summary->supplies[i];
        sm_text_printf(out, "  %-10s%-16s ", "feed", supply->name);
        if (isnan(supply->amps))
            sm_text_printf(out, "in a loop");
        else
            sm_text_printf(out, "%.2f A (%.0f W)", supply->amps, supply->watts);
        if (!isnan(supply->breaker_amps))
            sm_text_printf(out, ", breaker %.4g A", supply->breaker_amps);
        sm_text_append(out, "\n", 1);
    }
}

// A cue is heard at the speaker, seen at once everywhere, heard late further away: nothing is shifted by itself.
static void append_sounds(sm_text *out, const sm_check_summary *summary) {
    if (isnan(summary->sound_to_front_s))
        return;
    sm_text_printf(out, "  %-10s%-16s heard %.3f s after the loudspeaker\n", "sound", "audience front",
                   summary->sound_to_front_s);
    for (uint32_t i = 0; i < summary->sound_count; i++)
        sm_text_printf(out, "  %-10s%-16s heard %.3f s after the loudspeaker\n", "sound",
                       summary->sounds[i].name, summary->sounds[i].seconds);
}

void sm_check_format_summary(sm_text *out, const sm_check_summary *summary) {
    char first[24], last[24], length[24];
    sm_text_printf(out, "summary\n  %-10s%u (pyro %u, fixture %u)\n", "events", summary->events,
                   summary->pyro, summary->fixture);
    if (summary->any)
        sm_text_printf(out, "  %-10sfirst at %s, last at %s, length %s\n", "time",
                       sm_clock_format(first, summary->first_us), sm_clock_format(last, summary->last_us),
                       sm_clock_format(length, summary->length_us));
    sm_text_printf(out, "  %-10s%u of %u used\n", "slots", summary->slots_used, summary->slots);
    append_shares(out, "module", summary->modules, summary->module_count, false);
    append_shares(out, "rail", summary->rails, summary->rail_count, false);
    append_shares(out, "universe", summary->universes, summary->universe_count, false);
    append_shares(out, "effect", summary->effects, summary->effect_count, true);
    append_units(out, summary);
    if (!isnan(summary->propane_bar))
        sm_text_printf(
            out, "  %-10s%-16s %.1f bar absolute over propane at the show's air; less where it is drawn\n",
            "gas", "cylinders", summary->propane_bar);
    append_supplies(out, summary);
    append_sounds(out, summary);
}

// TEXT in lines of at most WIDTH, each after INDENT.
static void append_wrapped(sm_text *out, const char *text, const char *indent, size_t width) {
    while (*text != '\0') {
        size_t length = strlen(text);
        if (length > width) {
            length = width;
            while (length > 1 && text[length] != ' ')
                length--;
        }
        sm_text_printf(out, "%s%.*s\n", indent, (int)length, text);
        text += length;
        while (*text == ' ')
            text++;
    }
}

void sm_check_format_rules(sm_text *out) {
    const sm_check_rule *rule;
    for (int family = 0; family < SM_CHECK_FAMILY_COUNT; family++) {
        sm_text_printf(out, "%s%s\n", family > 0 ? "\n" : "", sm_check_family_text((sm_check_family)family));
        for (size_t i = 0; (rule = sm_check_rule_at(i)); i++)
            if ((int)rule->family == family)
                sm_text_printf(out, "  %-20s %-8s %s\n  %-20s %-8s source: %s\n", rule->id,
                               sm_severity_text(rule->severity), rule->meaning, "", "", rule->source);
    }
}

void sm_check_format_rule(sm_text *out, const sm_check_rule *rule) {
    sm_text_printf(out, "%s (%s, %s)\n\n", rule->id, sm_severity_text(rule->severity),
                   sm_check_family_text(rule->family));
    append_wrapped(out, rule->meaning, "  ", 76);
    sm_text_append(out, "\n", 1);
    append_wrapped(out, rule->explain, "  ", 76);
    sm_text_printf(out, "\n  source\n");
    append_wrapped(out, rule->source, "    ", 74);
    sm_text needs = {0};
    sm_check_rule_needs(rule, &needs);
    if (!rule->run)
        sm_text_printf(out, "\n  judged while the show is read\n");
    else
        sm_text_printf(out, "\n  needs: %s\n", sm_text_get(&needs));
    out->failed = out->failed || needs.failed;
    sm_text_deinit(&needs);
    if (rule->severity == SM_WARNING)
        append_wrapped(out, "a warning passes, and is listed as allowed, with a comment above its row:", "  ",
                       76);
    if (rule->severity == SM_WARNING)
        sm_text_printf(out, "    # allow %s: reason\n", rule->id);
}
