// SPDX-License-Identifier: GPL-3.0-or-later
// What the rows of the smaller tables need beyond their schema.
#include "show/load.h"

#include <stdlib.h>
#include <string.h>

// ---- igniters and effects -----------------------------------------------------

// Effects that name no igniter use row 0: where the folder has none, one of the schema's defaults, without a
// name.
void sm_igniters_finish(sm_loader *loader) {
    size_t count;
    const sm_table_schema *const schema = &sm_show_schema(&count)[SM_SCHEMA_IGNITERS];
    sm_show *const show = loader->show;
    if (show->igniter_count > 0)
        return;
    show->igniters = sm_arena_alloc(show->arena, sizeof *show->igniters);
    if (!show->igniters) {
        loader->no_memory = true;
        return;
    }
    for (size_t i = 0; i < schema->column_count; i++)
        sm_cell_default(loader, &schema->columns[i], show->igniters);
    show->igniter_count = 1;
}

bool sm_effect_row(const sm_table_record *from, void *row) {
    (void)from;
    sm_effect *const effect = row;
    if (effect->igniter == SM_NONE)
        effect->igniter = 0;
    effect->lead_known = effect->lead_us != SM_UNSET_US;
    if (!effect->lead_known)
        effect->lead_us = 0;
    return true;
}

// ---- rails --------------------------------------------------------------------

bool sm_rail_row(const sm_table_record *from, void *row) {
    const sm_rail *const rail = row;
    size_t length;
    sm_spot spot;
    sm_table_cell_named(from, "slots", &length, NULL, &spot);
    return rail->slots < 1 || sm_load_within(from->loader, &spot, SM_LIMIT_SLOTS, &from->loader->slot_total,
                                             (uint32_t)rail->slots);
}

void sm_rails_finish(sm_loader *loader) {
    sm_show *const show = loader->show;
    for (uint32_t i = 0; i < show->rail_count; i++) {
        show->rails[i].slot_base = show->slot_count;
        show->slot_count += (uint32_t)show->rails[i].slots;
    }
    const size_t bytes = show->slot_count * sizeof *show->slot_rails;
    show->slot_rails = sm_arena_alloc(show->arena, bytes);
    show->slot_firings = sm_arena_alloc(show->arena, bytes);
    loader->slot_marks = sm_arena_alloc(loader->scratch, bytes);
    if (!show->slot_rails || !show->slot_firings || !loader->slot_marks) {
        loader->no_memory = true;
        return;
    }
    memset(show->slot_firings, 0xFF, bytes); // SM_NONE
    for (uint32_t i = 0; i < show->rail_count; i++)
        for (uint32_t slot = 0; slot < (uint32_t)show->rails[i].slots; slot++)
            show->slot_rails[show->rails[i].slot_base + slot] = i;
}

// ---- feeds --------------------------------------------------------------------

// `from` may name a feed further down, so it is kept as written until all are read.
bool sm_feed_row(const sm_table_record *from, void *row) {
    sm_loader *const loader = from->loader;
    sm_feed *const feed = row;
    size_t length;
    bool is_given;
    sm_spot spot;
    const char *const name = sm_table_cell_named(from, "from", &length, &is_given, &spot);
    feed->from = SM_NONE;
    if (!is_given)
        return true;
    sm_feed_from *const grown =
        sm_arena_grow(loader->scratch, loader->feed_froms, loader->feed_from_count, sizeof *grown);
    if (!grown) {
        loader->no_memory = true;
        return false;
    }
    loader->feed_froms = grown;
    const char *const kept = sm_arena_text(loader->scratch, name, length);
    if (!kept)
        loader->no_memory = true;
    else
        loader->feed_froms[loader->feed_from_count++] =
            (sm_feed_from){.from = kept,
                           .feed = feed->name,
                           .line = spot.line,
                           .column = sm_csv_column(spot.record, spot.cell)};
    return kept != NULL;
}

void sm_feeds_finish(sm_loader *loader) {
    for (uint32_t i = 0; i < loader->feed_from_count; i++) {
        const sm_feed_from *const each = &loader->feed_froms[i];
        const sm_spot spot = {.file = "feeds.csv", .line = each->line, .column = each->column};
        const uint32_t from =
            sm_load_refer(loader, &spot, SM_SCHEMA_FEEDS, "feed-missing", each->from, strlen(each->from));
        const sm_name_entry *const feed =
            sm_names_find(&loader->index->names[SM_SCHEMA_FEEDS], each->feed, strlen(each->feed));
        if (feed && feed->value != SM_NONE)
            loader->show->feeds[feed->value].from = from;
    }
}

// ---- fixtures -----------------------------------------------------------------

bool sm_fixture_row(const sm_table_record *from, void *row) {
    sm_loader *const loader = from->loader;
    sm_fixture *const fixture = row;
    const sm_name_entry *const feed =
        sm_names_find(&loader->index->names[SM_SCHEMA_FEEDS], fixture->feed_name, strlen(fixture->feed_name));
    fixture->feed = feed ? feed->value : SM_NONE;
    sm_rows_split_fuel(from, "fuel", "g", &fixture->fuel_ml, &fixture->fuel_g);
    return !sm_rows_reads_as_slot(from, fixture->name);
}

void sm_fixtures_finish(sm_loader *loader) {
    sm_show *const show = loader->show;
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        show->fixtures[i].channel_base = show->channel_count;
        show->channel_count += show->profiles[show->fixtures[i].profile].channel_count;
    }
    loader->fixture_marks =
        sm_arena_alloc(loader->scratch, show->fixture_count * sizeof *loader->fixture_marks);
    if (!loader->fixture_marks)
        loader->no_memory = true;
}

// ---- readings -----------------------------------------------------------------

// Digits and the marks that ISO 8601 dates and times are made of; whether the day exists is nobody's concern
// here.
static bool is_iso_8601(const char *text, size_t length) {
    size_t digits = 0;
    for (size_t i = 0; i < length; i++)
        if (text[i] >= '0' && text[i] <= '9')
            digits++;
        else if (!memchr("-:.+TZ ", text[i], 7))
            return false;
    return digits >= 4;
}

static bool read_value(const sm_table_record *from, sm_read_value *out) {
    size_t length;
    sm_spot spot;
    bool is_given;
    char shown[SM_CLIP_BYTES];
    const char *const text = sm_table_cell_named(from, "reading", &length, &is_given, &spot);
    if (!is_given)
        return false;
    if (sm_read_value_read(text, length, out) == SM_OK)
        return true;
    sm_load_error(from->loader, &spot, "value", "\"%s\" is not a reading: ohms, open or short",
                  sm_load_clip(shown, text, length));
    return false;
}

static bool read_when(const sm_table_record *from, const char **out) {
    size_t length;
    sm_spot spot;
    bool is_given;
    char shown[SM_CLIP_BYTES];
    const char *const text = sm_table_cell_named(from, "when", &length, &is_given, &spot);
    *out = sm_load_keep(from->loader, text, length);
    if (!is_given || is_iso_8601(text, length))
        return true;
    sm_load_error(from->loader, &spot, "value", "\"%s\" is not a date and time such as 2026-07-04T20:15",
                  sm_load_clip(shown, text, length));
    return false;
}

static bool read_slot(const sm_table_record *from, uint32_t *out) {
    sm_loader *const loader = from->loader;
    size_t rail_length, slot_length;
    sm_spot rail_spot, slot_spot;
    bool has_rail, has_slot;
    char shown[SM_CLIP_BYTES];
    int32_t number = 0;
    const char *const rail = sm_table_cell_named(from, "rail", &rail_length, &has_rail, &rail_spot);
    const char *const slot = sm_table_cell_named(from, "slot", &slot_length, &has_slot, &slot_spot);
    const uint32_t row =
        has_rail ? sm_load_refer(loader, &rail_spot, SM_SCHEMA_RAILS, "rail-unknown", rail, rail_length)
                 : SM_NONE;
    if (has_slot && sm_integer_read(slot, slot_length, &number) != SM_OK) {
        sm_load_error(loader, &slot_spot, "value", "\"%s\" is not the number of a slot",
                      sm_load_clip(shown, slot, slot_length));
        return false;
    }
    if (row == SM_NONE || !has_slot)
        return false;
    const sm_rail *const found = &loader->show->rails[row];
    *out = found->slot_base + (uint32_t)number - 1;
    if (number >= 1 && number <= found->slots)
        return true;
    sm_load_error(loader, &slot_spot, "slot-unknown", "rail %s has no slot %d; its slots are 1 to %d",
                  found->name, (int)number, (int)found->slots);
    return false;
}

bool sm_reading_row(const sm_table_record *from, void *row) {
    sm_reading *const reading = row;
    const bool has_value = read_value(from, &reading->value);
    const bool has_when = read_when(from, &reading->when);
    return read_slot(from, &reading->slot) && has_value && has_when;
}
