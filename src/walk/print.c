// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/json.h"
#include "slowmatch/walk.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define RULE "------------------------------------------------------------------------\n"

// ---- the list on paper ------------------------------------------------------------------

static void print_head(sm_text *out, const sm_walk *walk) {
    const sm_walk_list *list = walk->list;
    sm_text_printf(out, "REHEARSAL  walk of %s\n", list->show->settings.title);
    sm_text_printf(out, "content %.12s, %u items, %u places, %.0f m on foot\n", list->content.hex,
                   list->count, list->route_count, list->metres);
    sm_text_printf(out,
                   "A list for people on site. It gives no permission and no assurance: local law, the "
                   "maker's data and the\nlicensed operator go first. No list is complete for a site.\n");
}

static void print_indented(sm_text *out, const char *text) {
    while (*text != '\0') {
        size_t length = strcspn(text, "\n");
        sm_text_printf(out, "        %.*s\n", (int)length, text);
        text += length + (text[length] == '\n');
    }
}

static void print_place(sm_text *out, const sm_walk_list *list, uint32_t i, bool among_places) {
    const sm_show *show = list->show;
    uint32_t position = list->items[i].position;
    if (list->items[i].kind == SM_WALK_FUEL) { // the second round
        sm_text_printf(out, "\n" RULE "Fuel, once all is tried without it: %s\n",
                       position == SM_NONE ? "no place" : show->positions[position].name);
        return;
    }
    if (position == SM_NONE) {
        sm_text_printf(out, "\n" RULE "%s\n", among_places ? "After the places" : "Before the places");
        return;
    }
    uint32_t stop = 0;
    while (stop < list->route_count && list->route[stop] != position)
        stop++;
    const sm_position *place = &show->positions[position];
    sm_text_printf(out, "\n" RULE "Place %u of %u: %s (x %g m, y %g m)", stop + 1, list->route_count,
                   place->name, place->x_m, place->y_m);
    if (stop > 0)
        sm_text_printf(out, ", %.0f m from %s", sm_site_between_m(show, list->route[stop - 1], position),
                       show->positions[list->route[stop - 1]].name);
    sm_text_printf(out, "\n");
    if (place->note[0] != '\0')
        sm_text_printf(out, "        %s\n", place->note);
}

static void print_answer(sm_text *out, const sm_walk_standing *standing) {
    const sm_walk_tick *tick = &standing->tick;
    char when[24];
    sm_text_printf(out, "        answered %s", sm_walk_answer_text(tick->answer));
    if (tick->value[0] != '\0')
        sm_text_printf(out, " %s", tick->value);
    if (tick->by[0] != '\0')
        sm_text_printf(out, " by %s", tick->by);
    if (tick->when_us != SM_UNSET_US)
        sm_text_printf(out, " at %s", sm_walk_when_format(when, tick->when_us));
    if (tick->note[0] != '\0')
        sm_text_printf(out, ": %s", tick->note);
    sm_text_printf(out, "%s%s\n", standing->open ? "; open: " : "", standing->open ? standing->why : "");
}

static void print_item(sm_text *out, const sm_walk_item *item, const sm_walk_standing *standing) {
    sm_text_printf(out, "[ ] %s%s\n        %s\n", item->id, item->hold ? "  HOLD" : "", item->ask);
    print_indented(out, item->detail);
    if (strcmp(item->expect, "yes") != 0)
        sm_text_printf(out, "        expected: %s\n", item->expect);
    if (standing->tick.answer != SM_WALK_UNANSWERED)
        print_answer(out, standing);
    sm_text_printf(out, "        yes / no / na / later%s    by ________\n",
                   item->measured ? "    measured __________" : "");
}

static bool is_headed(const sm_walk_item *item, const sm_walk_item *before) {
    return item->position != before->position ||
           (item->kind == SM_WALK_FUEL) != (before->kind == SM_WALK_FUEL);
}

void sm_walk_print(sm_text *out, const sm_walk *walk) {
    const sm_walk_list *list = walk->list;
    bool among_places = false;
    print_head(out, walk);
    for (uint32_t i = 0; i < list->count; i++) {
        const sm_walk_item *item = &list->items[i];
        if (i == 0 || is_headed(item, &list->items[i - 1]))
            print_place(out, list, i, among_places);
        among_places = among_places || item->position != SM_NONE;
        print_item(out, item, &walk->standings[i]);
    }
    sm_text_printf(out, "\n" RULE);
    sm_walk_print_state(out, walk);
    sm_text_printf(out,
                   "\nName ______________________ time ________   Name ______________________ time ________\n"
                   "Two different people. A name is a record, not a permission.\n");
}

// ---- how it stands ------------------------------------------------------------------------

static void print_names(sm_text *out, const sm_walk *walk) {
    for (size_t i = 0; i < walk->name_count; i++) {
        char when[24];
        const sm_walk_name *name = &walk->names[i];
        sm_text_printf(out, "signed by %s at %s%s%s\n", name->sign.who,
                       sm_walk_when_format(when, name->sign.when_us),
                       name->void_by ? ", VOID: "
                       : name->waits ? ", WAITS: "
                                     : "",
                       name->void_by ? name->void_by
                       : name->waits ? "the music is still being read"
                                     : "");
    }
    sm_text_printf(out, "%u of %d names stand\n", walk->signed_by, SM_WALK_NAMES_NEEDED);
}

void sm_walk_print_state(sm_text *out, const sm_walk *walk) {
    if (walk->reason_count > 0)
        sm_text_printf(out, "REHEARSAL  NO-GO, %zu reason%s:\n", walk->reason_count,
                       walk->reason_count == 1 ? "" : "s");
    else
        sm_text_printf(out, "REHEARSAL  " SM_WALK_NOTHING_OPEN "\n");
    for (size_t i = 0; i < walk->reason_count; i++)
        sm_text_printf(out, "%4zu. %s\n", i + 1, walk->reasons[i]);
    print_names(out, walk);
    for (size_t i = 0; i < walk->note_count; i++)
        sm_text_printf(out, "noted: %s\n", walk->notes[i]);
}

// ---- JSON --------------------------------------------------------------------------------

static const char *or_null(const char *text) {
    return text && text[0] != '\0' ? text : NULL;
}

static void put_item(sm_json *json, const sm_walk_list *list, const sm_walk_standing *standing, uint32_t i) {
    const sm_walk_item *item = &list->items[i];
    const sm_walk_tick *tick = &standing->tick;
    char least[32];
    snprintf(least, sizeof least, "%g", item->least);
    sm_json_text(json, "item", item->id);
    sm_json_text(json, "ask", or_null(item->ask));
    sm_json_text(json, "detail", or_null(item->detail));
    sm_json_text(json, "expect", or_null(item->expect));
    sm_json_text(json, "where",
                 item->position != SM_NONE ? or_null(list->show->positions[item->position].name) : NULL);
    sm_json_bool(json, "hold", item->hold);
    sm_json_bool(json, "measured", item->measured);
    sm_json_plain(json, "least", isfinite(item->least) ? least : NULL);
    sm_json_text(json, "answer", or_null(sm_walk_answer_text(tick->answer)));
    sm_json_text(json, "value", or_null(tick->value));
    sm_json_text(json, "note", or_null(tick->note));
    sm_json_text(json, "by", or_null(tick->by));
    sm_json_seconds(json, "when", tick->answer != SM_WALK_UNANSWERED ? tick->when_us : SM_UNSET_US);
    sm_json_bool(json, "changed", standing->changed);
    sm_json_bool(json, "open", standing->open);
    sm_json_text(json, "why", or_null(standing->why));
}

static void put_texts(sm_text *out, const char *name, const char **texts, size_t count) {
    for (size_t i = 0; i < count; i++) {
        sm_json json = sm_json_line_open(out);
        sm_json_text(&json, name, texts[i]);
        sm_json_line_close(&json);
    }
}

void sm_walk_print_json(sm_text *out, const sm_walk *walk) {
    const sm_walk_list *list = walk->list;
    for (uint32_t i = 0; i < list->count; i++) {
        sm_json json = sm_json_line_open(out);
        put_item(&json, list, &walk->standings[i], i);
        sm_json_line_close(&json);
    }
    put_texts(out, "reason", walk->reasons, walk->reason_count);
    put_texts(out, "noted", walk->notes, walk->note_count);
    for (size_t i = 0; i < walk->name_count; i++) {
        sm_json json = sm_json_line_open(out);
        sm_json_text(&json, "signed", walk->names[i].sign.who);
        sm_json_seconds(&json, "when", walk->names[i].sign.when_us);
        sm_json_text(&json, "void", or_null(walk->names[i].void_by));
        sm_json_line_close(&json);
    }
    sm_json json = sm_json_line_open(out);
    sm_json_text(&json, "show", list->show->settings.title);
    sm_json_text(&json, "content", list->content.hex);
    sm_json_integer(&json, "places", list->route_count);
    sm_json_fixed(&json, "metres", 1, list->metres);
    sm_json_bool(&json, "nogo", walk->reason_count > 0);
    sm_json_integer(&json, "names", walk->signed_by);
    sm_json_line_close(&json);
}
