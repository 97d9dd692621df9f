// SPDX-License-Identifier: GPL-3.0-or-later
// Names of targets: slots, fixtures, groups; and the rows of groups.csv and lines.csv, which list them.
#include "show/load.h"
#include "show/spreadsheet.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

typedef struct list {
    sm_loader *loader;
    const sm_spot *spot;
    const sm_target_rules *rules;
    sm_targets *out;
} list;

static void format_target(const sm_loader *loader, sm_target target, char buffer[48]) {
    if (target.kind == SM_TARGET_SLOT)
        sm_slot_format(loader->show, target.index, buffer);
    else
        strncpy(buffer, loader->show->fixtures[target.index].name, 47)[47] = '\0';
}

static bool add_target(const list *to, sm_target target) {
    sm_loader *const loader = to->loader;
    uint32_t *const marks = target.kind == SM_TARGET_SLOT ? loader->slot_marks : loader->fixture_marks;
    if (marks[target.index] == loader->mark) {
        char shown[48];
        format_target(loader, target, shown);
        sm_load_error(loader, to->spot, to->rules->repeated,
                      "%s is named twice here (a group counts as its members)", shown);
        return false;
    }
    marks[target.index] = loader->mark;
    sm_targets *const out = to->out;
    sm_target *const grown = sm_arena_grow(loader->scratch, out->items, out->count, sizeof *grown);
    if (!grown) {
        loader->no_memory = true;
        return false;
    }
    out->items = grown;
    out->items[out->count++] = target;
    return true;
}

static bool add_slot(const list *to, const char *word, size_t length, const sm_name_entry *rail,
                     int32_t number) {
    char shown[SM_CLIP_BYTES];
    if (rail->value == SM_NONE)
        return false;
    const sm_rail *const found = &to->loader->show->rails[rail->value];
    if (number >= 1 && number <= found->slots)
        return add_target(
            to, (sm_target){.kind = SM_TARGET_SLOT, .index = found->slot_base + (uint32_t)number - 1});
    sm_load_error(to->loader, to->spot, to->rules->is_cue ? "slot-unknown" : to->rules->unknown,
                  "there is no slot %s; the slots of rail %s are 1 to %d", sm_load_clip(shown, word, length),
                  found->name, (int)found->slots);
    return false;
}

static bool is_rail_like(const char *rail, const char *word, size_t length) {
    return strlen(rail) < length && strncasecmp(rail, word, strlen(rail)) == 0;
}

// "; did you mean A-04?" where WORD is a rail's name and a number that are written otherwise: "A4", "a-04", "A/4".
static const char *slot_hint(sm_loader *loader, char buffer[SM_HINT_BYTES], const char *word, size_t length) {
    const sm_show *const show = loader->show;
    buffer[0] = '\0';
    for (uint32_t i = 0; i < show->rail_count; i++) {
        const char *const rail = show->rails[i].name;
        size_t at = is_rail_like(rail, word, length) ? strlen(rail) : length;
        at += at < length && strchr("-_/.:#", word[at]);
        int32_t number;
        char shown[48];
        if (at >= length || sm_integer_read(word + at, length - at, &number) != SM_OK || number < 1 ||
            number > show->rails[i].slots)
            continue;
        sm_slot_format(show, show->rails[i].slot_base + (uint32_t)number - 1, shown);
        snprintf(buffer, SM_HINT_BYTES, "; did you mean %s?", shown);
    }
    return buffer;
}

// A word that a spreadsheet made of a slot's name. Returns true where it is one, and told.
static bool refuse_date(const list *to, const char *word, size_t length) {
    if (!sm_spreadsheet_is_date(word, length))
        return false;
    sm_load_error_same(to->loader, to->spot, to->rules->unknown, "date",
                       "\"%.*s\" looks like a date that a spreadsheet made of a slot's name; make the column "
                       "text there, and "
                       "write RAIL-NN again",
                       (int)length, word);
    return true;
}

// A word of a slot's form whose rail is not there.
static bool refuse_rail(const list *to, const char *word, size_t length, size_t rail_length) {
    sm_loader *const loader = to->loader;
    char shown[SM_CLIP_BYTES], hint[SM_HINT_BYTES], rail[SM_CLIP_BYTES];
    const sm_names *const rails = &loader->index->names[SM_SCHEMA_RAILS];
    if (sm_load_tell_missing(loader, to->spot, SM_SCHEMA_RAILS) ||
        loader->tables[SM_SCHEMA_RAILS].is_incomplete || refuse_date(to, word, length))
        return false;
    if (*slot_hint(loader, hint, word, length) == '\0')
        sm_load_hint(loader, hint, word, rail_length, &rails, 1);
    sm_load_error(loader, to->spot, "slot-unknown", "there is no slot %s: no rail is called \"%s\"%s",
                  sm_load_clip(shown, word, length), sm_load_clip(rail, word, rail_length), hint);
    return false;
}

static bool refuse_word(const list *to, const char *word, size_t length) {
    sm_loader *const loader = to->loader;
    if (sm_names_find(&loader->index->names[SM_SCHEMA_RAILS], word, length)) {
        sm_load_error(loader, to->spot, to->rules->unknown,
                      "%.*s is a whole rail; name its slots, such as %.*s-01", (int)length, word, (int)length,
                      word);
        return false;
    }
    char shown[SM_CLIP_BYTES], hint[SM_HINT_BYTES];
    const sm_names *const lists[] = {&loader->index->names[SM_SCHEMA_FIXTURES],
                                     &loader->index->names[SM_SCHEMA_GROUPS]};
    if (to->rules->is_cue && !to->rules->wants_slots &&
        sm_load_tell_missing(loader, to->spot, SM_SCHEMA_FIXTURES))
        return false;
    if (loader->tables[SM_SCHEMA_FIXTURES].is_incomplete || loader->tables[SM_SCHEMA_GROUPS].is_incomplete ||
        loader->tables[SM_SCHEMA_RAILS].is_incomplete || refuse_date(to, word, length))
        return false;
    if (*slot_hint(loader, hint, word, length) == '\0')
        sm_load_hint(loader, hint, word, length, lists, 2);
    sm_load_error(loader, to->spot, to->rules->unknown, "no slot, fixture or group is called \"%s\"%s",
                  sm_load_clip(shown, word, length), hint);
    return false;
}

static bool add_group(const list *to, uint32_t row) {
    if (row == SM_NONE)
        return false;
    const sm_group *const group = &to->loader->show->groups[row];
    for (uint32_t i = 0; i < group->member_count; i++)
        if (!add_target(to, group->members[i]))
            return false;
    return true;
}

static bool add_word(const list *to, const char *word, size_t length) {
    const struct sm_show_index *const index = to->loader->index;
    const sm_name_entry *entry = sm_names_find(&index->names[SM_SCHEMA_FIXTURES], word, length);
    if (entry)
        return entry->value != SM_NONE &&
               add_target(to, (sm_target){.kind = SM_TARGET_FIXTURE, .index = entry->value});
    entry = sm_names_find(&index->names[SM_SCHEMA_GROUPS], word, length);
    if (entry)
        return add_group(to, entry->value);
    size_t rail_length;
    int32_t number;
    if (!sm_target_split(word, length, &rail_length, &number))
        return refuse_word(to, word, length);
    const sm_name_entry *const rail = sm_names_find(&index->names[SM_SCHEMA_RAILS], word, rail_length);
    if (rail)
        return add_slot(to, word, length, rail, number);
    return to->rules->wants_slots ? refuse_rail(to, word, length, rail_length)
                                  : refuse_word(to, word, length);
}

bool sm_targets_read(sm_loader *loader, const sm_spot *spot, const sm_target_rules *rules, const char *text,
                     size_t length, sm_targets *out) {
    const list to = {.loader = loader, .spot = spot, .rules = rules, .out = out};
    size_t at = 0, word_length;
    bool is_good = true;
    loader->mark++;
    for (const char *word; (word = sm_load_next_word(text, length, &at, &word_length));)
        is_good = add_word(&to, word, word_length) && is_good;
    return is_good;
}

// A fixture or group is told apart from a slot by its name alone.
bool sm_rows_reads_as_slot(const sm_table_record *from, const char *name) {
    size_t rail_length;
    int32_t number;
    if (!sm_target_split(name, strlen(name), &rail_length, &number) ||
        !sm_names_find(&from->loader->index->names[SM_SCHEMA_RAILS], name, rail_length))
        return false;
    const sm_spot spot = sm_table_spot(from, 0);
    sm_load_error(from->loader, &spot, "name-clash",
                  "\"%s\" reads as slot %d of rail %.*s; give it another name", name, (int)number,
                  (int)rail_length, name);
    return true;
}

bool sm_group_row(const sm_table_record *from, void *row) {
    static const sm_target_rules rules = {.unknown = "member-unknown", .repeated = "member-repeated"};
    sm_loader *const loader = from->loader;
    sm_group *const group = row;
    size_t length;
    sm_spot spot;
    bool is_given;
    sm_targets *const found = &loader->targets;
    const char *const members = sm_table_cell_named(from, "members", &length, &is_given, &spot);
    found->count = 0;
    bool is_good = is_given && sm_targets_read(loader, &spot, &rules, members, length, found);
    const sm_spot name_spot = sm_table_spot(from, 0);
    if (sm_names_find(&loader->index->names[SM_SCHEMA_FIXTURES], group->name, strlen(group->name))) {
        sm_load_error(loader, &name_spot, "name-clash",
                      "\"%s\" is a fixture already; give the group another name", group->name);
        is_good = false;
    }
    if (sm_rows_reads_as_slot(from, group->name) || !is_good)
        return false;
    if (!sm_load_within(loader, &spot, SM_LIMIT_MEMBERS, &loader->member_total, found->count))
        return false;
    sm_target *const kept = sm_arena_alloc(loader->show->arena, found->count * sizeof *kept);
    if (!kept) {
        loader->no_memory = true;
        return false;
    }
    memcpy(kept, found->items, found->count * sizeof *kept);
    group->members = kept;
    group->member_count = found->count;
    return true;
}

// ---- lines.csv ------------------------------------------------------------------

static bool read_chain(const sm_table_record *from, sm_line *line, uint32_t room) {
    sm_loader *const loader = from->loader;
    size_t length, at = 0, word_length;
    sm_spot spot;
    bool is_good = true;
    const char *const text = sm_table_cell_named(from, "chain", &length, NULL, &spot);
    uint32_t *const chain = sm_arena_alloc(loader->show->arena, room * sizeof *chain);
    if (!chain) {
        loader->no_memory = true;
        return false;
    }
    loader->mark++;
    for (const char *word; (word = sm_load_next_word(text, length, &at, &word_length));) {
        const uint32_t fixture =
            sm_load_refer(loader, &spot, SM_SCHEMA_FIXTURES, "fixture-unknown", word, word_length);
        if (fixture == SM_NONE) {
            is_good = false;
        } else if (loader->fixture_marks[fixture] == loader->mark) {
            sm_load_error(loader, &spot, "member-repeated", "%.*s is in this chain twice", (int)word_length,
                          word);
            is_good = false;
        } else {
            loader->fixture_marks[fixture] = loader->mark;
            chain[line->chain_count++] = fixture;
        }
    }
    line->chain = chain;
    return is_good;
}

// A length with its unit glued on.
static bool read_cable(sm_loader *loader, const sm_spot *spot, const sm_column *column, const char *word,
                       size_t length, double *out) {
    char shown[SM_CLIP_BYTES];
    const bool has_unit = length > 0 && (word[length - 1] < '0' || word[length - 1] > '9');
    if (has_unit && sm_measure_read(SM_QUANTITY_LENGTH, word, length, out) == SM_OK)
        return sm_cell_in_range(loader, spot, column, *out);
    sm_load_error(loader, spot, "value", "\"%s\" is not a length with its unit glued on, such as 5m or 15ft",
                  sm_load_clip(shown, word, length));
    return false;
}

static bool read_cables(const sm_table_record *from, sm_line *line, uint32_t room) {
    sm_loader *const loader = from->loader;
    size_t length, at = 0, word_length, count;
    sm_spot spot;
    const char *const text = sm_table_cell_named(from, "cables", &length, NULL, &spot);
    const sm_column *column = sm_show_schema(&count)[SM_SCHEMA_LINES].columns;
    while (strcmp(column->name, "cables") != 0)
        column++;
    double *const cables = sm_arena_alloc(loader->show->arena, room * sizeof *cables);
    if (!cables) {
        loader->no_memory = true;
        return false;
    }
    for (const char *word; (word = sm_load_next_word(text, length, &at, &word_length));) {
        if (!read_cable(loader, &spot, column, word, word_length, &cables[line->cable_count]))
            return false;
        line->cable_count++;
    }
    line->cables_m = cables;
    return true;
}

static uint32_t count_words(const sm_table_record *from, const char *column) {
    size_t length, at = 0, word_length;
    sm_spot spot;
    uint32_t count = 0;
    const char *const text = sm_table_cell_named(from, column, &length, NULL, &spot);
    while (sm_load_next_word(text, length, &at, &word_length))
        count++;
    return count;
}

bool sm_line_row(const sm_table_record *from, void *row) {
    sm_line *const line = row;
    const uint32_t fixtures = count_words(from, "chain"), cables = count_words(from, "cables");
    const bool is_chain_good = read_chain(from, line, fixtures);
    const bool are_cables_good = read_cables(from, line, cables);
    if (are_cables_good && cables > fixtures) {
        size_t length;
        sm_spot spot;
        sm_table_cell_named(from, "cables", &length, NULL, &spot);
        sm_load_error_figures(from->loader, &spot, "value", cables, fixtures, "",
                              "%u cables in a chain of %u; there is one to each fixture", (unsigned)cables,
                              (unsigned)fixtures);
        return false;
    }
    return is_chain_good && are_cables_good;
}
