// SPDX-License-Identifier: GPL-3.0-or-later
// cues.csv. A show may have a million rows, so a row goes straight into the arrays of the show, without
// memory of its own; a cue with an error adds nothing to them.
#include "show/load.h"

#include <stdio.h>
#include <string.h>

enum { KNOWN_TEXTS = 65536 }; // a power of two

// ---- room and texts -----------------------------------------------------------

// At most twice what is used, so that a file whose rows grow longer does not leave much unused.
static size_t foresee(const sm_cue_reader *cues, size_t used, size_t wanted) {
    enum { FIRST_ROOM = 512 };
    if (used < FIRST_ROOM)
        return wanted < FIRST_ROOM ? FIRST_ROOM : wanted;
    const double share = (double)cues->consumed / (double)cues->file_length;
    size_t foreseen = share > 0 ? (size_t)((double)wanted / share * 1.01) + 64 : 2 * wanted;
    if (foreseen > 2 * wanted)
        foreseen = 2 * wanted;
    const size_t least = wanted + wanted / 32;
    return foreseen > least ? foreseen : least;
}

bool sm_cues_reserve(sm_loader *loader, void *rows, uint32_t used, uint32_t count, size_t row_size,
                     sm_room *room) {
    const size_t wanted = (size_t)used + count;
    if (wanted <= room->capacity)
        return true;
    const size_t capacity = foresee(loader->cues, used, wanted);
    void **const place = rows;
    void *const grown =
        capacity < UINT32_MAX ? sm_arena_resize(loader->show->arena, *place, capacity * row_size) : NULL;
    if (grown == NULL) {
        loader->no_memory = true;
        return false;
    }
    *place = grown;
    room->capacity = (uint32_t)capacity;
    return true;
}

uint32_t sm_cues_intern(sm_loader *loader, const char *text, size_t length) {
    sm_cue_reader *const cues = loader->cues;
    sm_show *const show = loader->show;
    if (length == 0)
        return 0;
    uint32_t *const known = &cues->known_texts[sm_hash(text, length) & (KNOWN_TEXTS - 1)];
    if (*known != 0 && *known + length < cues->pool_length && show->text_pool[*known + length] == '\0' &&
        memcmp(show->text_pool + *known, text, length) == 0)
        return *known;
    const uint32_t begin = cues->pool_length > 0 ? cues->pool_length : 1; // offset 0 is the empty text
    if (length > UINT32_MAX / 2 ||
        !sm_cues_reserve(loader, &show->text_pool, begin, (uint32_t)length + 1, 1, &cues->pool))
        return 0;
    show->text_pool[0] = '\0';
    memcpy(show->text_pool + begin, text, length);
    show->text_pool[begin + length] = '\0';
    cues->pool_length = begin + (uint32_t)length + 1;
    *known = begin;
    return begin;
}

static bool start(sm_loader *loader) {
    sm_cue_reader *const cues = loader->cues;
    const size_t profiles = loader->show->profile_count * sizeof(uint32_t);
    if (cues->is_ready)
        return true;
    cues->known_texts = sm_arena_alloc(loader->scratch, KNOWN_TEXTS * sizeof *cues->known_texts);
    cues->profile_marks = sm_arena_alloc(loader->scratch, profiles);
    cues->profile_runs = sm_arena_alloc(loader->scratch, profiles);
    cues->is_ready = cues->known_texts != NULL && cues->profile_marks != NULL && cues->profile_runs != NULL &&
                     sm_levels_start(loader);
    if (!cues->is_ready)
        loader->no_memory = true;
    return cues->is_ready;
}

// ---- the cells of a cue ---------------------------------------------------------

static bool read_time_cell(const sm_table_record *from, sm_cues_column which, sm_cue_cells *out) {
    const sm_column *const column = &sm_cues_columns[which];
    bool is_given;
    size_t length;
    const char *const text = sm_table_cell(from, which, &length, &is_given);
    const sm_spot spot = sm_table_spot(from, which);
    if (is_given)
        return sm_cell_read(from->loader, &spot, column, text, length, out);
    if (column->required)
        sm_load_error(from->loader, &spot, "value-missing", "%s is needed: %s", column->name, column->help);
    return !column->required;
}

static bool has_cell(const sm_table_record *from, sm_cues_column which) {
    bool is_given;
    size_t length;
    sm_table_cell(from, which, &length, &is_given);
    if (is_given)
        return true;
    const sm_spot spot = sm_table_spot(from, which);
    sm_load_error(from->loader, &spot, "value-missing", "%s is needed: %s", sm_cues_columns[which].name,
                  sm_cues_columns[which].help);
    return false;
}

static bool is_mixed(const sm_table_record *from, const sm_targets *targets) {
    for (uint32_t i = 1; i < targets->count; i++) {
        if (targets->items[i].kind == targets->items[0].kind)
            continue;
        const sm_spot spot = sm_table_spot(from, SM_CUES_TARGET);
        sm_load_error(from->loader, &spot, "target-mixed", "slots and fixtures in one cue; make it two rows");
        return true;
    }
    return false;
}

// Reads the target cell into the loader's targets.
static bool read_targets(const sm_table_record *from) {
    sm_loader *const loader = from->loader;
    size_t length, do_length;
    const char *const text = sm_table_cell(from, SM_CUES_TARGET, &length, NULL);
    const char *const what = sm_table_cell(from, SM_CUES_DO, &do_length, NULL);
    const sm_spot spot = sm_table_spot(from, SM_CUES_TARGET);
    const sm_target_rules rules = {
        .unknown = "target-unknown",
        .repeated = "target-repeated",
        .wants_slots = memchr(what, '=', do_length) == NULL,
        .is_cue = true,
    };
    loader->targets.count = 0;
    return sm_targets_read(loader, &spot, &rules, text, length, &loader->targets) &&
           loader->targets.count > 0 && !is_mixed(from, &loader->targets);
}

// A cell that has no meaning for what the cue does.
static bool is_out_of_place(const sm_table_record *from, sm_cues_column which, bool is_given,
                            const char *whose) {
    if (!is_given)
        return false;
    const sm_spot spot = sm_table_spot(from, which);
    sm_load_error(from->loader, &spot, "value", "%s is for %s; leave it empty here",
                  sm_cues_columns[which].name, whose);
    return true;
}

// ---- what becomes of it -----------------------------------------------------------

static bool add_cue(sm_loader *loader, const sm_table_record *from, sm_cue cue) {
    sm_show *const show = loader->show;
    size_t id_length, note_length;
    char ordinal[12];
    const char *id = sm_table_cell(from, SM_CUES_ID, &id_length, NULL);
    const char *const note = sm_table_cell(from, SM_CUES_NOTE, &note_length, NULL);
    if (id_length == 0 && loader->cues->has_left_out) {
        id_length = (size_t)snprintf(ordinal, sizeof ordinal, "%u", (unsigned)loader->cues->ordinal);
        id = ordinal;
    }
    cue.id = sm_cues_intern(loader, id, id_length);
    cue.note = sm_cues_intern(loader, note, note_length);
    cue.line = from->record->line;
    if (!sm_cues_reserve(loader, &show->cues, show->cue_count, 1, sizeof cue, &loader->cues->cues))
        return false;
    show->cues[show->cue_count++] = cue;
    return true;
}

static bool reserve_events(sm_loader *loader) {
    return sm_cues_reserve(loader, &loader->show->events, loader->show->event_count, loader->targets.count,
                           sizeof *loader->show->events, &loader->cues->events);
}

// Levels of each target's profile; false after an error. *is_mixed tells whether they are not all the same.
static bool read_levels(const sm_table_record *from, sm_cue *cue) {
    sm_loader *const loader = from->loader;
    sm_cue_reader *const cues = loader->cues;
    sm_show *const show = loader->show;
    size_t length;
    const char *const text = sm_table_cell(from, SM_CUES_DO, &length, NULL);
    const sm_spot spot = sm_table_spot(from, SM_CUES_DO);
    const uint32_t first = show->fixtures[loader->targets.items[0].index].profile;
    bool is_good = true;
    sm_levels_begin(cues);
    cues->profile_mark++;
    for (uint32_t i = 0; i < loader->targets.count; i++) {
        const uint32_t profile = show->fixtures[loader->targets.items[i].index].profile;
        if (cues->profile_marks[profile] == cues->profile_mark)
            continue;
        cues->profile_marks[profile] = cues->profile_mark;
        cues->profile_runs[profile] = sm_levels_read(loader, &spot, text, length, profile, &cue->level_count);
        is_good = is_good && cues->profile_runs[profile] != SM_NONE;
        cue->mixed = cue->mixed || profile != first;
    }
    cue->levels = cues->profile_runs[first];
    return is_good;
}

// A mixed cue keeps where the levels of each event begin.
static bool add_runs(sm_loader *loader, sm_cue *cue) {
    sm_show *const show = loader->show;
    if (!cue->mixed)
        return true;
    if (!sm_cues_reserve(loader, &show->level_runs, show->level_run_count, loader->targets.count,
                         sizeof *show->level_runs, &loader->cues->runs))
        return false;
    cue->levels = show->level_run_count;
    for (uint32_t i = 0; i < loader->targets.count; i++) {
        const uint32_t profile = show->fixtures[loader->targets.items[i].index].profile;
        show->level_runs[show->level_run_count++] = loader->cues->profile_runs[profile];
    }
    return true;
}

static bool add_set(const sm_table_record *from, const sm_cue_cells *cells, bool is_good) {
    sm_loader *const loader = from->loader;
    sm_show *const show = loader->show;
    size_t length;
    bool has_igniters, has_wire;
    sm_table_cell(from, SM_CUES_IGNITERS, &length, &has_igniters);
    sm_table_cell(from, SM_CUES_WIRE, &length, &has_wire);
    sm_cue cue = {
        .time_us = cells->time_us,
        .fade_us = (uint32_t)cells->fade_us,
        .lasts_us = cells->lasts_us != SM_UNSET_US ? (uint32_t)cells->lasts_us : 0,
        .first_event = show->event_count,
        .kind = SM_CUE_SET,
    };
    is_good = read_levels(from, &cue) && is_good;
    is_good = !is_out_of_place(from, SM_CUES_IGNITERS, has_igniters, "slots") && is_good;
    is_good = !is_out_of_place(from, SM_CUES_WIRE, has_wire, "slots") && is_good;
    if (!is_good || !add_runs(loader, &cue) || !reserve_events(loader) || !add_cue(loader, from, cue))
        return false;
    for (uint32_t i = 0; i < loader->targets.count; i++)
        show->events[show->event_count++] =
            (sm_event){.cue = show->cue_count - 1, .target = loader->targets.items[i].index};
    return true;
}

static void add_firing(sm_show *show, const sm_cue_cells *cells, const sm_firing_cells *what, uint32_t slot) {
    const sm_us lead_us = show->effects[what->effect].lead_us;
    show->firings[show->firing_count] = (sm_firing){
        .event = show->event_count,
        .slot = slot,
        .effect = what->effect,
        .fire_us = cells->time_us - lead_us,
        .lead_us = lead_us,
        .lasts_us = what->lasts_us,
        .load = what->load,
        .igniters = what->igniters,
        .wire_m = what->wire_m,
        .wire = what->wire,
    };
    if (show->slot_firings[slot] == SM_NONE)
        show->slot_firings[slot] = show->firing_count;
    show->events[show->event_count++] = (sm_event){.cue = show->cue_count - 1, .target = show->firing_count};
    show->firing_count++;
}

static bool add_fire(const sm_table_record *from, const sm_cue_cells *cells, bool is_good) {
    sm_loader *const loader = from->loader;
    sm_show *const show = loader->show;
    sm_firing_cells what = {0};
    const sm_cue cue = {.time_us = cells->time_us, .first_event = show->event_count, .kind = SM_CUE_FIRE};
    is_good = sm_firing_read(from, cells->lasts_us, &what) && is_good;
    is_good = !is_out_of_place(from, SM_CUES_FADE, cells->fade_us != 0, "fixtures") && is_good;
    if (!is_good || !reserve_events(loader) ||
        !sm_cues_reserve(loader, &show->firings, show->firing_count, loader->targets.count,
                         sizeof *show->firings, &loader->cues->firings) ||
        !add_cue(loader, from, cue))
        return false;
    for (uint32_t i = 0; i < loader->targets.count; i++)
        add_firing(show, cells, &what, loader->targets.items[i].index);
    return true;
}

bool sm_cue_record(const sm_table_record *from) {
    sm_loader *const loader = from->loader;
    sm_cue_reader *const cues = loader->cues;
    sm_cue_cells cells = {.lasts_us = SM_UNSET_US};
    cues->consumed = from->record->raw_end;
    cues->ordinal++;
    if (!start(loader))
        return false;
    bool is_good = read_time_cell(from, SM_CUES_TIME, &cells);
    is_good = read_time_cell(from, SM_CUES_FADE, &cells) && is_good;
    is_good = read_time_cell(from, SM_CUES_LASTS, &cells) && is_good;
    const bool has_target = has_cell(from, SM_CUES_TARGET), has_do = has_cell(from, SM_CUES_DO);
    bool is_kept = false;
    if (has_target && has_do && read_targets(from))
        is_kept = loader->targets.items[0].kind == SM_TARGET_SLOT ? add_fire(from, &cells, is_good)
                                                                  : add_set(from, &cells, is_good);
    cues->has_left_out = cues->has_left_out || !is_kept;
    return is_kept;
}
