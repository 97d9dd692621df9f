// SPDX-License-Identifier: GPL-3.0-or-later
// A long cues.csv read in parts, several at once, to the same show and the same findings as from its first byte to its last.
//
// The file is counted through once, so that line numbers and, by its quotes, likely ends of records are known where it is cut. Each
// part is read by a loader of its own that stops at the first thing that is no good row; these loaders, and the memory that they
// have touched, serve one part after the other. Then the parts are joined in their order: one
// that began where the one before has really ended, and that holds nothing but good rows, is taken over; what is left is read
// once more, in its place, by the loader of the whole show, which alone tells findings.
#include "show/load.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

enum {
    PART_BYTES = 1024 * 1024,
    PARTS_MIN = 4,          // with less of them threads gain little
    PARTS_AT_ONCE = 8,      // then they are joined: what is read is not twice in memory
    LOOK_BYTES = 64 * 1024, // read at a time to count, and in all to find where to cut
    ROW_BYTES_MIN = 8,      // "0,a,b=1" and its end: what has more lines than that holds is no list of cues
    PARTS_MAX = 1024,
};

typedef struct part {
    uint64_t begin, end;      // bytes of the file; the last record that begins before `end` is read whole
    uint32_t line, line_ends; // lines before it, lines in it
    size_t quotes;
    sm_cue *cues; // its room within the cues of the whole
    uint32_t cues_max;
    // What has become of it:
    bool is_good;
    uint64_t reached; // where it really ends
    uint32_t last_line;
} part;

// What reads one part at a time, and holds what it has read until that is joined. Fresh memory costs more than anything done with it,
// so it is used again for the next.
typedef struct lane {
    bool is_ready;
    sm_show show; // the small tables of the whole, and the part; its arena is the lane's own
    struct sm_show_index index;
    sm_cue_reader cues;
    sm_loader loader;
    sm_lines lines;
} lane;

typedef struct parts {
    sm_table_reader *whole;
    const sm_lines *lines; // of the whole file
    uint64_t begin;        // of the first record behind the header
    uint32_t line;         // lines before it
    part *items;
    size_t count;
    size_t first; // of those that are read now
    lane *lanes;  // PARTS_AT_ONCE
} parts;

// ---- where to cut ----------------------------------------------------------------

// As many bytes as there are from AT on, at most SIZE; 0 at the end and where they cannot be read, which who reads them later tells.
static size_t read_at(const sm_lines *lines, uint64_t at, char *into, size_t size) {
    ssize_t got;
    do
        got = pread(lines->descriptor, into, size, (off_t)at);
    while (got < 0 && errno == EINTR);
    return got > 0 ? (size_t)got : 0;
}

// In blocks of fixed size that a byte can count, so that compilers make vectors of them.
static void count_bytes(part *p, const char *bytes, size_t length) {
    enum { BLOCK = 128 };
    size_t at = 0;
    for (; length - at >= BLOCK; at += BLOCK) {
        unsigned char line_ends = 0, quotes = 0;
        for (size_t i = 0; i < BLOCK; i++) {
            line_ends = (unsigned char)(line_ends + (bytes[at + i] == '\n'));
            quotes = (unsigned char)(quotes + (bytes[at + i] == '"'));
        }
        p->line_ends += line_ends;
        p->quotes += quotes;
    }
    for (; at < length; at++) {
        p->line_ends += bytes[at] == '\n';
        p->quotes += bytes[at] == '"';
    }
}

static void count_part(void *context, size_t index) {
    const parts *const all = context;
    part *const p = &all->items[index];
    char bytes[LOOK_BYTES];
    for (uint64_t at = p->begin; at < p->end;) {
        const uint64_t left = p->end - at;
        const size_t got = read_at(all->lines, at, bytes, left < sizeof bytes ? (size_t)left : sizeof bytes);
        if (got == 0)
            return;
        count_bytes(p, bytes, got);
        at += got;
    }
}

// Moves the beginning of P behind the first line end that is not in quotes; false where there is none nearby.
static bool cut(const parts *all, part *p, bool in_quotes) {
    char bytes[LOOK_BYTES];
    const size_t got = read_at(all->lines, p->begin, bytes, sizeof bytes);
    for (size_t i = 0; i < got; i++) {
        if (bytes[i] == '"')
            in_quotes = !in_quotes;
        if (bytes[i] != '\n')
            continue;
        p->line++;
        if (in_quotes)
            continue;
        p->begin += i + 1;
        return p->begin < p->end;
    }
    return false;
}

// Drops the parts that have no beginning of their own, and tells each where it begins and ends. Returns how many lines there are.
static uint64_t cut_all(parts *all) {
    size_t quotes = 0, kept = 0;
    uint64_t lines = all->line;
    for (size_t i = 0; i < all->count; i++) {
        part each = all->items[i];
        each.line = (uint32_t)lines;
        const bool has_begin = i == 0 || cut(all, &each, quotes % 2 != 0);
        quotes += each.quotes;
        lines += each.line_ends;
        if (!has_begin)
            continue;
        if (kept > 0)
            all->items[kept - 1].end = each.begin;
        all->items[kept++] = each;
    }
    all->count = kept;
    all->items[kept - 1].end = UINT64_MAX;
    return lines - all->line;
}

// Room for the cues of every part, lent to each at the number of its first line. False: the file is none to be read in parts.
static bool share_out(parts *all, uint64_t lines) {
    sm_loader *const loader = all->whole->loader;
    sm_cue_reader *const cues = loader->cues;
    if (lines + 1 > cues->file_size / ROW_BYTES_MIN || lines >= UINT32_MAX / 2)
        return false;
    sm_cue *const room = sm_arena_resize(loader->show->arena, NULL, (lines + 1) * sizeof *room);
    if (!room)
        return false;
    loader->show->cues = room;
    cues->cues.capacity = (uint32_t)lines + 1;
    for (size_t i = 0; i < all->count; i++) {
        part *const p = &all->items[i];
        const uint32_t next = i + 1 < all->count ? all->items[i + 1].line : all->line + (uint32_t)lines + 1;
        p->cues = room + (p->line - all->line);
        p->cues_max = next - p->line;
    }
    return true;
}

static bool plan(parts *all, size_t part_bytes) {
    const sm_loader *const loader = all->whole->loader;
    const uint64_t size = loader->cues->file_size, bytes = size - all->begin;
    all->count = bytes / part_bytes < PARTS_MAX ? (size_t)(bytes / part_bytes) : PARTS_MAX;
    all->items = sm_arena_alloc(loader->scratch, all->count * sizeof *all->items);
    all->lanes = sm_arena_alloc(loader->scratch, PARTS_AT_ONCE * sizeof *all->lanes);
    if (!all->items || !all->lanes)
        return false;
    for (size_t i = 0; i < all->count; i++) {
        all->items[i].begin = all->begin + bytes * i / all->count;
        all->items[i].end = all->begin + bytes * (i + 1) / all->count;
    }
    loader->options->together(count_part, all, all->count);
    return share_out(all, cut_all(all));
}

// ---- one part ----------------------------------------------------------------------

// What L has, once and for all parts. False when memory runs out.
static bool start_lane(const sm_loader *whole, lane *l) {
    sm_show *const show = &l->show;
    sm_loader *const loader = &l->loader;
    *show = *whole->show;
    *loader = *whole;
    show->arena = sm_arena_create();
    show->cues = NULL;
    show->events = NULL;
    show->firings = NULL;
    show->levels = NULL;
    show->level_runs = NULL;
    show->text_pool = NULL;
    loader->show = show;
    loader->index = &l->index;
    loader->cues = &l->cues;
    loader->scratch = sm_arena_create();
    loader->targets = (sm_targets){0};
    loader->mark = 0;
    if (!show->arena || !loader->scratch)
        return false;
    loader->slot_marks = sm_arena_alloc(loader->scratch, show->slot_count * sizeof *loader->slot_marks);
    loader->fixture_marks =
        sm_arena_alloc(loader->scratch, show->fixture_count * sizeof *loader->fixture_marks);
    l->is_ready = loader->slot_marks && loader->fixture_marks;
    return l->is_ready;
}

static void end_lane(lane *l) {
    sm_arena_destroy(l->show.arena);
    sm_arena_destroy(l->loader.scratch);
}

// Makes L, which may have read another part, ready for P. False when memory runs out.
static bool start_part(const parts *all, lane *l, const part *p) {
    const sm_loader *const whole = all->whole->loader;
    const uint64_t size = whole->cues->file_size;
    sm_show *const show = &l->show;
    if (!l->is_ready && !start_lane(whole, l))
        return false;
    show->cues = p->cues;
    show->allows = NULL;
    show->cue_count = show->event_count = show->firing_count = show->level_count = show->level_run_count =
        show->allow_count = 0;
    l->index = *whole->index;
    l->loader.allow_capacity = 0;
    l->loader.no_memory = false;
    l->loader.findings = sm_findings_create();
    sm_cues_restart(&l->cues);
    l->cues.cues = (sm_room){.capacity = p->cues_max, .is_fixed = true};
    l->cues.begin = p->begin;
    l->cues.file_size = (p->end < size ? p->end : size) - p->begin;
    sm_lines_part(&l->lines, all->lines, l->loader.scratch, p->begin, p->line);
    l->lines.stop_at = p->end;
    return l->loader.findings != NULL;
}

static void read_part(void *context, size_t index) {
    const parts *const all = context;
    part *const p = &all->items[all->first + index];
    lane *const l = &all->lanes[index];
    sm_table_reader reader = *all->whole;
    reader.loader = &l->loader;
    reader.is_strict = true;
    reader.allows_waiting = 0;
    if (!start_part(all, l, p))
        return;
    p->is_good = sm_table_records(&reader, &l->lines) == SM_OK && sm_table_is_strictly_good(&reader);
    p->reached = sm_lines_place(&l->lines);
    p->last_line = l->lines.line;
    sm_findings_destroy(l->loader.findings);
    (void)sm_progress_count(l->loader.options->progress, l->cues.file_size);
}

// ---- joining ------------------------------------------------------------------------

// What the numbers of a part begin with in the whole.
typedef struct base {
    uint32_t cues, events, firings, levels, runs, pool;
} base;

static uint32_t shift_text(uint32_t offset, const base *by) {
    return offset > 0 ? offset - 1 + by->pool : 0;
}

static void join_cues(sm_loader *loader, const lane *l, const base *by) {
    sm_show *const show = loader->show;
    memmove(show->cues + by->cues, l->show.cues, l->show.cue_count * sizeof *show->cues);
    for (uint32_t i = 0; i < l->show.cue_count; i++) {
        sm_cue *const cue = &show->cues[by->cues + i];
        cue->first_event += by->events;
        cue->levels += cue->mixed ? by->runs : by->levels;
        cue->id = shift_text(cue->id, by);
        cue->note = shift_text(cue->note, by);
    }
    show->cue_count += l->show.cue_count;
}

static void join_events(sm_loader *loader, const lane *l, const base *by) {
    sm_show *const show = loader->show;
    for (uint32_t i = 0; i < l->show.event_count; i++) {
        sm_event event = l->show.events[i];
        event.cue += by->cues;
        event.target += show->cues[event.cue].kind == SM_CUE_FIRE ? by->firings : 0;
        show->events[by->events + i] = event;
    }
    for (uint32_t i = 0; i < l->show.firing_count; i++) {
        sm_firing firing = l->show.firings[i];
        firing.event += by->events;
        firing.aim = shift_text(firing.aim, by);
        show->firings[by->firings + i] = firing;
    }
    show->event_count += l->show.event_count;
    show->firing_count += l->show.firing_count;
}

static void join_levels(sm_loader *loader, const lane *l, const base *by) {
    sm_show *const show = loader->show;
    for (uint32_t i = 0; i < l->show.level_count; i++)
        show->levels[by->levels + i] = l->show.levels[i];
    for (uint32_t i = 0; i < l->show.level_run_count; i++)
        show->level_runs[by->runs + i] = l->show.level_runs[i] + by->levels;
    show->level_count += l->show.level_count;
    show->level_run_count += l->show.level_run_count;
    if (l->cues.pool_length < 2)
        return;
    memcpy(show->text_pool + by->pool, l->show.text_pool + 1, l->cues.pool_length - 1);
    loader->cues->pool_length = by->pool + l->cues.pool_length - 1;
}

// Once a cue was left out the ordinals of those behind it are kept as texts.
static void name_cues(sm_loader *loader, uint32_t first) {
    sm_show *const show = loader->show;
    for (uint32_t i = first; i < show->cue_count && !loader->no_memory; i++)
        if (show->cues[i].id == 0)
            show->cues[i].id = sm_cues_intern_ordinal(loader, loader->cues->ordinal + 1 + i - first);
}

static bool reserve_all(sm_loader *loader, const lane *l, const base *by) {
    sm_show *const show = loader->show;
    sm_cue_reader *const cues = loader->cues;
    const uint32_t pool_bytes = l->cues.pool_length + 1;
    return sm_cues_reserve(loader, &show->events, by->events, l->show.event_count, sizeof *show->events,
                           &cues->events) &&
           sm_cues_reserve(loader, &show->firings, by->firings, l->show.firing_count, sizeof *show->firings,
                           &cues->firings) &&
           sm_cues_reserve(loader, &show->levels, by->levels, l->show.level_count, sizeof *show->levels,
                           &cues->levels) &&
           sm_cues_reserve(loader, &show->level_runs, by->runs, l->show.level_run_count,
                           sizeof *show->level_runs, &cues->runs) &&
           sm_cues_reserve(loader, &show->text_pool, by->pool, pool_bytes, 1, &cues->pool);
}

// What is kept up from event to event.
static void join_times(sm_loader *loader, const lane *l, const base *by) {
    sm_cue_reader *const cues = loader->cues;
    if (l->show.event_count > 0) {
        if (sm_event_due_us(loader->show, by->events) < cues->last_due_us)
            cues->is_out_of_order = true;
        cues->last_due_us = l->cues.last_due_us;
    }
    cues->is_out_of_order = cues->is_out_of_order || l->cues.is_out_of_order;
    if (l->index.events_end_us > loader->index->events_end_us)
        loader->index->events_end_us = l->index.events_end_us;
}

// False (and no_memory) when memory runs out.
static bool join(parts *all, const part *p, const lane *l) {
    sm_loader *const loader = all->whole->loader;
    sm_show *const show = loader->show;
    sm_cue_reader *const cues = loader->cues;
    const base by = {
        .cues = show->cue_count,
        .events = show->event_count,
        .firings = show->firing_count,
        .levels = show->level_count,
        .runs = show->level_run_count,
        .pool = cues->pool_length > 0 ? cues->pool_length : 1, // offset 0 is the empty text
    };
    cues->consumed = p->reached;
    if (!reserve_all(loader, l, &by))
        return false;
    if (l->show.cue_count > 0)
        sm_table_settle_allows(all->whole, l->show.cues[0].line);
    join_levels(loader, l, &by);
    join_cues(loader, l, &by);
    join_events(loader, l, &by);
    join_times(loader, l, &by);
    if (cues->has_left_out)
        name_cues(loader, by.cues);
    cues->ordinal += l->cues.ordinal;
    return !loader->no_memory;
}

// P begins at PLACE, and its rows are good there too.
static bool is_fit(const parts *all, const part *p, const lane *l, uint64_t place) {
    sm_loader *const loader = all->whole->loader;
    const sm_show *const show = loader->show;
    return p->is_good && p->begin == place && show->cue_count <= (uint32_t)(p->cues - show->cues) &&
           sm_load_is_within(SM_LIMIT_EVENTS, show->event_count, l->show.event_count);
}

// Reads in its place what no part is good for: from *place up to END.
static sm_result read_between(const parts *all, uint64_t end, uint64_t *place, uint32_t *line) {
    sm_lines lines = {0};
    sm_lines_part(&lines, all->lines, all->whole->loader->scratch, *place, *line);
    lines.stop_at = end;
    const sm_result result = sm_table_records(all->whole, &lines);
    *place = sm_lines_place(&lines);
    *line = lines.line;
    return result;
}

// Takes part INDEX of those read now over, or reads what it holds in its place. False where there is no more to read behind it, and when that fails.
static bool take_part(parts *all, size_t index, uint64_t *place, uint32_t *line, sm_result *result) {
    const part *const p = &all->items[all->first + index];
    const lane *const l = &all->lanes[index];
    if (is_fit(all, p, l, *place)) {
        *result = join(all, p, l) ? SM_OK : SM_NO_MEMORY;
        *place = p->reached;
        *line = p->last_line;
    } else if (*place < p->end) {
        *result = read_between(all, p->end, place, line);
    }
    return *result == SM_OK && *place >= p->end;
}

static sm_result read_parts(parts *all) {
    uint64_t place = all->begin;
    uint32_t line = all->line;
    sm_result result = SM_OK;
    bool goes_on = true;
    for (size_t count; goes_on && all->first < all->count; all->first += count) {
        count = all->count - all->first < PARTS_AT_ONCE ? all->count - all->first : PARTS_AT_ONCE;
        all->whole->loader->options->together(read_part, all, count);
        for (size_t i = 0; i < count && goes_on; i++)
            goes_on = take_part(all, i, &place, &line, &result);
    }
    for (size_t i = 0; i < PARTS_AT_ONCE; i++)
        end_lane(&all->lanes[i]);
    return result;
}

sm_result sm_cues_read(sm_table_reader *reader, sm_lines *lines) {
    sm_loader *const loader = reader->loader;
    const sm_show_load_options *const options = loader->options;
    const size_t part_bytes = options->part_bytes > 0 ? options->part_bytes : PART_BYTES;
    loader->cues->file_size = lines->size;
    loader->cues->last_due_us = INT64_MIN;
    sm_progress_expect(options->progress, lines->size);
    if (!options->together || lines->size / PARTS_MIN < part_bytes) {
        lines->progress = options->progress;
        return sm_table_records(reader, lines);
    }
    reader->stops_after_header = true;
    sm_result result = sm_table_records(reader, lines);
    reader->stops_after_header = false;
    if (result != SM_OK || !reader->has_header)
        return result;
    parts all = {.whole = reader, .lines = lines, .begin = sm_lines_place(lines), .line = lines->line};
    if (!reader->is_usable || !plan(&all, part_bytes))
        return sm_table_records(reader, lines);
    return read_parts(&all);
}
