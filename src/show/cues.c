// SPDX-License-Identifier: GPL-3.0-or-later
// cues.csv. A show may have a million rows, so a row goes straight into the arrays of the show, without
// memory of its own; a cue with an error adds nothing to them.
#include "show/load.h"

#include <stdio.h>
#include <string.h>

enum { KNOWN_TEXTS = 16384 }; // a power of two

// ---- texts -----------------------------------------------------------

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

uint32_t sm_cues_intern_ordinal(sm_loader *loader, uint32_t ordinal) {
    char text[12];
    return sm_cues_intern(loader, text, (size_t)snprintf(text, sizeof text, "%u", (unsigned)ordinal));
}

static bool start(sm_loader *loader) {
    sm_cue_reader *const cues = loader->cues;
    const size_t profiles = loader->show->profile_count * sizeof(uint32_t);
    if (cues->is_ready)
        return true;
    cues->known_texts = sm_arena_alloc(loader->scratch, KNOWN_TEXTS * sizeof *cues->known_texts);
    cues->profile_marks = sm_arena_alloc(loader->scratch, profiles);
    cues->profile_runs = sm_arena_alloc(loader->scratch, profiles);
    cues->is_ready =
        cues->known_texts && cues->profile_marks && cues->profile_runs && sm_levels_start(loader);
    if (!cues->is_ready)
        loader->no_memory = true;
    return cues->is_ready;
}

void sm_cues_restart(sm_cue_reader *cues) {
    cues->consumed = 0;
    cues->ordinal = 0;
    cues->has_left_out = cues->is_out_of_order = false;
    cues->pool_length = 0;
    cues->last_target_length = 0;
    cues->last_due_us = INT64_MIN;
    if (!cues->is_ready)
        return;
    memset(cues->known_texts, 0, KNOWN_TEXTS * sizeof *cues->known_texts);
    sm_levels_restart(cues);
}

// ---- the cells of a cue ---------------------------------------------------------

// A record's cells by column, length 0 where empty or not there.
typedef struct row {
    const sm_table_record *from;
    sm_loader *loader;
    sm_show *show;
    const char *texts[SM_CUES_COLUMNS];
    size_t lengths[SM_CUES_COLUMNS];
    sm_cue_cells times;
} row;

static void take_cells(row *to) {
    const sm_csv_record *const record = to->from->record;
    for (size_t i = 0; i < SM_CUES_COLUMNS; i++) {
        const uint8_t at = to->from->cell_of[i];
        to->texts[i] = "";
        to->lengths[i] = 0;
        if (at == SM_CSV_CELLS_MAX || sm_csv_is_blank(record, at))
            continue;
        const char *const text = record->bytes + record->cells[at].at;
        const size_t length = record->cells[at].length;
        const size_t guard = sm_cues_columns[i].kind == SM_CELL_TEXT ? sm_csv_guard(text, length) : 0;
        to->texts[i] = text + guard;
        to->lengths[i] = length - guard;
    }
}

static bool refuse_missing(const row *from, sm_cues_column which) {
    const sm_spot spot = sm_table_spot(from->from, which);
    sm_load_error(from->loader, &spot, "value-missing", "%s is needed: %s", sm_cues_columns[which].name,
                  sm_cues_columns[which].help);
    return false;
}

// Up to seven bytes as a number that no other text has.
static uint64_t text_number(const char *text, size_t length) {
    uint64_t number = 1;
    for (size_t i = 0; i < length; i++)
        number = number << 8 | (unsigned char)text[i];
    return number;
}

// A span of the column WHICH. A show has few different ones, so short cells that were good are remembered.
static bool read_span(row *from, sm_cues_column which, sm_us *into) {
    const sm_spot spot = sm_table_spot(from->from, which);
    const char *const text = from->texts[which];
    const size_t length = from->lengths[which];
    if (length == 0)
        return true;
    if (length >= sizeof(uint64_t))
        return sm_cell_read(from->loader, &spot, &sm_cues_columns[which], text, length, &from->times);
    const uint64_t number = text_number(text, length);
    const uint64_t hash = number * UINT64_C(0x9E3779B97F4A7C15) >> (64 - SM_KNOWN_SPAN_BITS);
    sm_known_span *const known = &from->loader->cues->known_spans[which == SM_CUES_FADE][hash];
    if (known->number == number) {
        *into = known->us;
        return true;
    }
    if (!sm_cell_read(from->loader, &spot, &sm_cues_columns[which], text, length, &from->times))
        return false;
    *known = (sm_known_span){.number = number, .us = *into};
    return true;
}

static bool read_moment(row *from) {
    const sm_spot spot = sm_table_spot(from->from, SM_CUES_TIME);
    if (from->lengths[SM_CUES_TIME] == 0)
        return refuse_missing(from, SM_CUES_TIME);
    return sm_cell_read(from->loader, &spot, &sm_cues_columns[SM_CUES_TIME], from->texts[SM_CUES_TIME],
                        from->lengths[SM_CUES_TIME], &from->times);
}

static bool read_times(row *from) {
    from->times = (sm_cue_cells){.lasts_us = SM_UNSET_US};
    const bool is_time_good = read_moment(from);
    const bool is_fade_good = read_span(from, SM_CUES_FADE, &from->times.fade_us);
    const bool is_last_good = read_span(from, SM_CUES_LASTS, &from->times.lasts_us);
    return is_time_good && is_fade_good && is_last_good;
}

static bool is_mixed(const row *from, const sm_targets *targets) {
    for (uint32_t i = 1; i < targets->count; i++) {
        if (targets->items[i].kind == targets->items[0].kind)
            continue;
        const sm_spot spot = sm_table_spot(from->from, SM_CUES_TARGET);
        sm_load_error(from->loader, &spot, "target-mixed", "slots and fixtures in one cue; make it two rows");
        return true;
    }
    return false;
}

// Reads the target cell into the loader's targets. Rows often name what the row before named.
static bool read_targets(const row *from) {
    sm_loader *const loader = from->loader;
    sm_cue_reader *const cues = loader->cues;
    const char *const text = from->texts[SM_CUES_TARGET];
    const size_t length = from->lengths[SM_CUES_TARGET];
    if (length == cues->last_target_length && memcmp(text, cues->last_target, length) == 0)
        return true;
    const sm_spot spot = sm_table_spot(from->from, SM_CUES_TARGET);
    const sm_target_rules rules = {
        .unknown = "target-unknown",
        .repeated = "target-repeated",
        .wants_slots = !memchr(from->texts[SM_CUES_DO], '=', from->lengths[SM_CUES_DO]),
        .is_cue = true,
    };
    loader->targets.count = 0;
    cues->last_target_length = 0;
    if (!sm_targets_read(loader, &spot, &rules, text, length, &loader->targets) ||
        loader->targets.count == 0 || is_mixed(from, &loader->targets))
        return false;
    if (length <= sizeof cues->last_target) {
        memcpy(cues->last_target, text, length);
        cues->last_target_length = length;
    }
    return true;
}

// A cell that has no meaning for what the cue does.
static bool is_in_place(const row *from, sm_cues_column which, bool is_given, const char *whose) {
    if (!is_given)
        return true;
    const sm_spot spot = sm_table_spot(from->from, which);
    sm_load_error(from->loader, &spot, "value", "%s is for %s; leave it empty here",
                  sm_cues_columns[which].name, whose);
    return false;
}

// ---- what becomes of it -----------------------------------------------------------

// The row of the next cue, filled where it will stand and not counted yet; NULL (and no_memory) when memory runs out.
static sm_cue *next_cue(const row *from) {
    sm_loader *const loader = from->loader;
    sm_show *const show = from->show;
    if (!sm_cues_reserve(loader, &show->cues, show->cue_count, 1, sizeof *show->cues, &loader->cues->cues))
        return NULL;
    return &show->cues[show->cue_count];
}

// Fills in what every CUE has, and counts it.
static bool add_cue(const row *from, sm_cue *cue) {
    sm_loader *const loader = from->loader;
    if (from->lengths[SM_CUES_ID] == 0 && loader->cues->has_left_out)
        cue->id = sm_cues_intern_ordinal(loader, loader->cues->ordinal);
    else
        cue->id = sm_cues_intern(loader, from->texts[SM_CUES_ID], from->lengths[SM_CUES_ID]);
    cue->note = sm_cues_intern(loader, from->texts[SM_CUES_NOTE], from->lengths[SM_CUES_NOTE]);
    cue->line = from->from->record->line;
    from->show->cue_count++;
    return !loader->no_memory;
}

// Keeps up with the order of events and with the end of the last one.
static void add_event(const row *from, sm_event event, sm_us due_us, sm_us end_us) {
    sm_cue_reader *const cues = from->loader->cues;
    struct sm_show_index *const index = from->loader->index;
    from->show->events[from->show->event_count++] = event;
    if (due_us < cues->last_due_us)
        cues->is_out_of_order = true;
    cues->last_due_us = due_us;
    if (end_us > index->events_end_us)
        index->events_end_us = end_us;
}

static bool reserve_events(const row *from) {
    const sm_spot spot = sm_table_spot(from->from, SM_CUES_TARGET);
    uint32_t total = from->show->event_count;
    if (!sm_load_within(from->loader, &spot, SM_LIMIT_EVENTS, &total, from->loader->targets.count))
        return false;
    return sm_cues_reserve(from->loader, &from->show->events, from->show->event_count,
                           from->loader->targets.count, sizeof *from->show->events,
                           &from->loader->cues->events);
}

static uint32_t profile_of(const row *from, uint32_t target) {
    return from->show->fixtures[from->loader->targets.items[target].index].profile;
}

// Levels for each profile among the targets; false after an error.
static bool read_levels(const row *from, sm_cue *cue) {
    sm_loader *const loader = from->loader;
    sm_cue_reader *const cues = loader->cues;
    const sm_spot spot = sm_table_spot(from->from, SM_CUES_DO);
    const uint32_t first = profile_of(from, 0);
    bool is_good = true;
    sm_levels_begin(cues);
    cues->profile_mark++;
    for (uint32_t i = 0; i < loader->targets.count; i++) {
        const uint32_t profile = profile_of(from, i);
        if (cues->profile_marks[profile] == cues->profile_mark)
            continue;
        cues->profile_marks[profile] = cues->profile_mark;
        cues->profile_runs[profile] = sm_levels_read(loader, &spot, from->texts[SM_CUES_DO],
                                                     from->lengths[SM_CUES_DO], profile, &cue->level_count);
        is_good = is_good && cues->profile_runs[profile] != SM_NONE;
        cue->mixed = cue->mixed || profile != first;
    }
    cue->levels = cues->profile_runs[first];
    return is_good;
}

// A mixed cue keeps where the levels of each event begin.
static bool add_runs(const row *from, sm_cue *cue) {
    sm_loader *const loader = from->loader;
    sm_show *const show = from->show;
    if (!cue->mixed)
        return true;
    if (!sm_cues_reserve(loader, &show->level_runs, show->level_run_count, loader->targets.count,
                         sizeof *show->level_runs, &loader->cues->runs))
        return false;
    cue->levels = show->level_run_count;
    for (uint32_t i = 0; i < loader->targets.count; i++)
        show->level_runs[show->level_run_count++] = loader->cues->profile_runs[profile_of(from, i)];
    return true;
}

static bool add_set(const row *from, bool is_good) {
    sm_show *const show = from->show;
    const sm_cue_cells *const times = &from->times;
    const sm_targets *const targets = &from->loader->targets;
    sm_cue *const cue = next_cue(from);
    if (!cue)
        return false;
    *cue = (sm_cue){
        .time_us = times->time_us,
        .fade_us = (uint32_t)times->fade_us,
        .lasts_us = times->lasts_us != SM_UNSET_US ? (uint32_t)times->lasts_us : 0,
        .first_event = show->event_count,
        .kind = SM_CUE_SET,
    };
    is_good = read_levels(from, cue) && is_good;
    is_good = is_in_place(from, SM_CUES_IGNITERS, from->lengths[SM_CUES_IGNITERS] > 0, "slots") && is_good;
    is_good = is_in_place(from, SM_CUES_WIRE, from->lengths[SM_CUES_WIRE] > 0, "slots") && is_good;
    is_good = is_in_place(from, SM_CUES_AIM, from->lengths[SM_CUES_AIM] > 0, "slots") && is_good;
    if (!is_good || !add_runs(from, cue) || !reserve_events(from) || !add_cue(from, cue))
        return false;
    const sm_us end_us = cue->time_us + (cue->fade_us > cue->lasts_us ? cue->fade_us : cue->lasts_us);
    for (uint32_t i = 0; i < targets->count; i++) {
        const sm_event event = {.cue = show->cue_count - 1, .target = targets->items[i].index};
        add_event(from, event, cue->time_us, end_us);
    }
    return true;
}

static void add_firing(const row *from, const sm_firing_cells *what, uint32_t aim, uint32_t slot) {
    sm_show *const show = from->show;
    const sm_us time_us = from->times.time_us;
    const sm_us lead_us = show->effects[what->effect].lead_us;
    const sm_event event = {.cue = show->cue_count - 1, .target = show->firing_count};
    show->firings[show->firing_count++] = (sm_firing){
        .event = show->event_count,
        .slot = slot,
        .effect = what->effect,
        .aim = aim,
        .fire_us = time_us - lead_us,
        .lead_us = lead_us,
        .lasts_us = what->lasts_us,
        .load = what->load,
        .igniters = what->igniters,
        .wire_m = what->wire_m,
        .wire = what->wire,
    };
    add_event(from, event, time_us - lead_us, time_us + what->lasts_us);
}

static bool add_fire(const row *from, bool is_good) {
    sm_loader *const loader = from->loader;
    sm_show *const show = from->show;
    sm_firing_cells what = {0};
    sm_cue *const cue = next_cue(from);
    if (!cue)
        return false;
    *cue = (sm_cue){.time_us = from->times.time_us, .first_event = show->event_count, .kind = SM_CUE_FIRE};
    is_good = sm_firing_read(from->from, from->times.lasts_us, &what) && is_good;
    is_good = is_in_place(from, SM_CUES_FADE, from->times.fade_us != 0, "fixtures") && is_good;
    if (!is_good || !reserve_events(from) ||
        !sm_cues_reserve(loader, &show->firings, show->firing_count, loader->targets.count,
                         sizeof *show->firings, &loader->cues->firings) ||
        !add_cue(from, cue))
        return false;
    const uint32_t aim = sm_cues_intern(loader, from->texts[SM_CUES_AIM], from->lengths[SM_CUES_AIM]);
    for (uint32_t i = 0; i < loader->targets.count; i++)
        add_firing(from, &what, aim, loader->targets.items[i].index);
    return true;
}

// What is wrong with the cells of a firing does not hang on its target: said also where that is unknown.
static void tell_firing_cells(const row *from) {
    sm_firing_cells unused = {0};
    if (!memchr(from->texts[SM_CUES_DO], '=', from->lengths[SM_CUES_DO]))
        (void)sm_firing_read(from->from, from->times.lasts_us, &unused);
}

static bool read_row(row *from) {
    bool is_good = read_times(from);
    if (from->lengths[SM_CUES_TARGET] == 0)
        is_good = refuse_missing(from, SM_CUES_TARGET);
    if (from->lengths[SM_CUES_DO] == 0)
        is_good = refuse_missing(from, SM_CUES_DO);
    if (from->lengths[SM_CUES_TARGET] == 0 || from->lengths[SM_CUES_DO] == 0)
        return false;
    if (!read_targets(from)) {
        tell_firing_cells(from);
        return false;
    }
    return from->loader->targets.items[0].kind == SM_TARGET_SLOT ? add_fire(from, is_good)
                                                                 : add_set(from, is_good);
}

bool sm_cue_record(const sm_table_record *from) {
    sm_cue_reader *const cues = from->loader->cues;
    row each; // whole once its cells and times are read
    each.from = from;
    each.loader = from->loader;
    each.show = from->loader->show;
    cues->consumed = from->record->raw_end - cues->begin;
    cues->ordinal++;
    if (!start(from->loader))
        return false;
    take_cells(&each);
    const bool is_kept = read_row(&each);
    cues->has_left_out = cues->has_left_out || !is_kept;
    return is_kept;
}
