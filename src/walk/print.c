// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/walk.h"

#include <math.h>
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

void sm_walk_print(sm_text *out, const sm_walk *walk) {
    const sm_walk_list *list = walk->list;
    bool among_places = false;
    print_head(out, walk);
    for (uint32_t i = 0; i < list->count; i++) {
        const sm_walk_item *item = &list->items[i];
        if (i == 0 || item->position != list->items[i - 1].position)
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
                       sm_walk_when_format(when, name->sign.when_us), name->void_by ? ", VOID: " : "",
                       name->void_by ? name->void_by : "");
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

static void json_text(sm_text *out, const char *name, const char *value) {
    sm_text_printf(out, ", \"%s\": ", name);
    if (!value || value[0] == '\0')
        sm_text_printf(out, "null");
    else
        sm_text_append_json(out, value);
}

static void json_when(sm_text *out, const char *name, sm_unix_us when_us) {
    if (when_us == SM_UNSET_US)
        sm_text_printf(out, ", \"%s\": null", name);
    else
        sm_text_printf(out, ", \"%s\": %.6f", name, (double)when_us / 1e6);
}

static void json_item(sm_text *out, const sm_walk_list *list, const sm_walk_standing *standing, uint32_t i) {
    const sm_walk_item *item = &list->items[i];
    const sm_walk_tick *tick = &standing->tick;
    sm_text_printf(out, "{\"item\": ");
    sm_text_append_json(out, item->id);
    json_text(out, "ask", item->ask);
    json_text(out, "detail", item->detail);
    json_text(out, "expect", item->expect);
    json_text(out, "where", item->position != SM_NONE ? list->show->positions[item->position].name : NULL);
    sm_text_printf(out, ", \"hold\": %s, \"measured\": %s", item->hold ? "true" : "false",
                   item->measured ? "true" : "false");
    if (isfinite(item->least))
        sm_text_printf(out, ", \"least\": %g", item->least);
    else
        sm_text_printf(out, ", \"least\": null");
    json_text(out, "answer", sm_walk_answer_text(tick->answer));
    json_text(out, "value", tick->value);
    json_text(out, "note", tick->note);
    json_text(out, "by", tick->by);
    json_when(out, "when", tick->answer != SM_WALK_UNANSWERED ? tick->when_us : SM_UNSET_US);
    sm_text_printf(out, ", \"changed\": %s, \"open\": %s", standing->changed ? "true" : "false",
                   standing->open ? "true" : "false");
    json_text(out, "why", standing->why);
    sm_text_printf(out, "}\n");
}

static void json_names(sm_text *out, const sm_walk *walk) {
    for (size_t i = 0; i < walk->name_count; i++) {
        sm_text_printf(out, "{\"signed\": ");
        sm_text_append_json(out, walk->names[i].sign.who);
        json_when(out, "when", walk->names[i].sign.when_us);
        json_text(out, "void", walk->names[i].void_by);
        sm_text_printf(out, "}\n");
    }
}

void sm_walk_print_json(sm_text *out, const sm_walk *walk) {
    const sm_walk_list *list = walk->list;
    for (uint32_t i = 0; i < list->count; i++)
        json_item(out, list, &walk->standings[i], i);
    for (size_t i = 0; i < walk->reason_count; i++) {
        sm_text_printf(out, "{\"reason\": ");
        sm_text_append_json(out, walk->reasons[i]);
        sm_text_printf(out, "}\n");
    }
    for (size_t i = 0; i < walk->note_count; i++) {
        sm_text_printf(out, "{\"noted\": ");
        sm_text_append_json(out, walk->notes[i]);
        sm_text_printf(out, "}\n");
    }
    json_names(out, walk);
    sm_text_printf(out, "{\"show\": ");
    sm_text_append_json(out, list->show->settings.title);
    sm_text_printf(out,
                   ", \"content\": \"%s\", \"places\": %u, \"metres\": %.1f, \"nogo\": %s, \"names\": %u}\n",
                   list->content.hex, list->route_count, list->metres,
                   walk->reason_count > 0 ? "true" : "false", walk->signed_by);
}
