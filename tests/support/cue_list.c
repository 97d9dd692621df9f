// SPDX-License-Identifier: GPL-3.0-or-later
#include "cue_list.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

// ---- what is drawn --------------------------------------------------------------------

static unsigned draw(drawing *from, unsigned below) {
    from->random = from->random * 6364136223846793005u + 1442695040888963407u; // Knuth's MMIX
    return (unsigned)(from->random >> 33) % below;
}

drawing list_draw(uint64_t seed) {
    static const struct {
        double rate;
        const char *word;
    } rates[] = {{24, "24"}, {25, "25"}, {30, "30"}, {30000 / 1001.0, "29.97"}};
    static const char separators[] = ",;\t|",
                      *const encodings[] = {"UTF-8", "UTF-8", "UTF-16LE", "UTF-16BE", "CP1252"},
                      *const betweens[] = {" ", ", ", "; ", " + ", "\n"};
    drawing d = {.random = seed * 2654435761u + 88172645463325252u};
    d.notation = (notation)draw(&d, NOTATIONS);
    d.form = (form)draw(&d, FORMS);
    d.container = (container)draw(&d, CONTAINERS);
    if (d.container == CSV && d.notation == STORED)
        d.container = XLSX;
    d.is_fire = draw(&d, 3) == 0;
    d.is_split = draw(&d, 2);
    d.has_channels = draw(&d, 3) == 0;
    d.has_title = draw(&d, 2);
    d.has_sections = draw(&d, 2);
    d.has_total = draw(&d, 2);
    d.has_crew_names = draw(&d, 2);
    d.is_hour_one = draw(&d, 2);
    d.has_unknown_heading = draw(&d, 6) == 0;
    const unsigned rate = draw(&d, COUNT(rates));
    d.rate = rates[rate].rate;
    d.rate_word = rates[rate].word;
    d.separator = separators[draw(&d, 4)];
    d.encoding = encodings[draw(&d, COUNT(encodings))];
    d.has_mark = strncmp(d.encoding, "UTF", 3) == 0 && draw(&d, 2);
    d.between = betweens[draw(&d, COUNT(betweens))];
    return d;
}

static bool counts_frames(const drawing *d) {
    return d->notation == FRAMES || d->notation == S_FRAMES || d->notation == M_S_FRAMES ||
           d->notation == TIMECODE;
}

// The time as it can be written: whole frames, where it counts frames.
sm_us list_written_us(const drawing *d, sm_us us) {
    return counts_frames(d) ? llround(round((double)us / 1e6 * d->rate) / d->rate * 1e6) : us;
}

// ---- times as text ----------------------------------------------------------------------

static void cut_zeros(char *text) {
    size_t length = strlen(text);
    while (text[length - 1] == '0')
        text[--length] = '\0';
    if (text[length - 1] == '.' || text[length - 1] == ',')
        text[length - 1] = '\0';
}

static void write_time(const drawing *d, sm_us us, sheet_cell *cell) {
    char *const out = cell->text;
    const long long ms = us / 1000, s = us / 1000000;
    const long long frames = llround((double)us / 1e6 * d->rate), whole = llround(d->rate);
    cell->kind = 't';
    switch (d->notation) {
    case SECONDS:
    case SECONDS_COMMA:
        snprintf(out, SHEET_CELL_BYTES, "%lld.%03lld", s, ms % 1000);
        cell->kind = d->notation == SECONDS ? 'n' : 't';
        if (d->notation == SECONDS_COMMA)
            *strchr(out, '.') = ',';
        cut_zeros(out);
        break;
    case MILLISECONDS:
        snprintf(out, SHEET_CELL_BYTES, "%lld", ms);
        cell->kind = 'n';
        break;
    case FRAMES:
        snprintf(out, SHEET_CELL_BYTES, "%lld", frames);
        cell->kind = 'n';
        break;
    case DAYS:
        snprintf(out, SHEET_CELL_BYTES, "%.15f", (double)us / 86400e6);
        cell->kind = 'n';
        break;
    case UNITS:
        if (s >= 60)
            snprintf(out, SHEET_CELL_BYTES, "%lld min %lld.%03lld s", s / 60, s % 60, ms % 1000);
        else
            snprintf(out, SHEET_CELL_BYTES, "%lld.%03llds", s, ms % 1000);
        break;
    case M_S:
        snprintf(out, SHEET_CELL_BYTES, "%lld:%02lld.%03lld", s / 60, s % 60, ms % 1000);
        break;
    case H_M_S:
        snprintf(out, SHEET_CELL_BYTES, "%02lld:%02lld:%02lld.%03lld", s / 3600, s / 60 % 60, s % 60,
                 ms % 1000);
        break;
    case S_FRAMES:
        snprintf(out, SHEET_CELL_BYTES, "%lld:%02lld", frames / whole, frames % whole);
        break;
    case M_S_FRAMES:
        snprintf(out, SHEET_CELL_BYTES, "%lld:%02lld:%02lld", frames / whole / 60, frames / whole % 60,
                 frames % whole);
        break;
    case TIMECODE:
        snprintf(out, SHEET_CELL_BYTES, "%02d:%02lld:%02lld:%02lld", d->is_hour_one ? 1 : 0,
                 frames / whole / 60, frames / whole % 60, frames % whole);
        break;
    default:
        snprintf(out, SHEET_CELL_BYTES, "%lld:%02lld:%02lld.%06lld", s / 3600, s / 60 % 60, s % 60,
                 (long long)us % 1000000);
        cell->kind = 'd';
    }
}

sm_us list_lead_of(const sm_show *show, const sm_cue *cue) {
    return cue->kind == SM_CUE_FIRE ? show->firings[show->events[cue->first_event].target].lead_us : 0;
}

// ---- a list ------------------------------------------------------------------------------------

const char *const list_crew_names[LIST_CREW_NAMES][2] = {
    {"fountain-gold", "Gold fountain 8 s"}, {"fountain-silver", "Silver: long = 12 s"},
    {"comet-white", "White comet 30 mm"},   {"comet-red", "Comet, rouge \xC3\xA9t\xC3\xA9"},
    {"comet-green", "GREEN  comet"},        {"mine-silver", "Mine #2"},
    {"mine-gold", "Mine [gold]"},           {"spark-pot", "Funkent\xC3\xB6pfe"}};

static const char *crew_name(const list *l, const char *effect) {
    for (size_t i = 0; i < LIST_CREW_NAMES && l->d.has_crew_names; i++)
        if (strcmp(list_crew_names[i][0], effect) == 0)
            return list_crew_names[i][1];
    return effect;
}

static bool has_column(const list *l, int what) {
    const form f = l->d.form;
    switch (what) {
    case RAIL:
        return f == RAIL_AND_SLOT;
    case MODULE:
        return f == MODULE_AND_SLOT;
    case SLOT:
        return f == RAIL_AND_SLOT || f == MODULE_AND_SLOT;
    case CHANNEL:
    case LEVEL:
        return l->d.has_channels;
    default:
        return true;
    }
}

static void lay_columns(list *l) {
    static const char *const headings[COLUMNS][3] = {
        {"Time", "Start", "TC"},          {"Target", "Where", "address"}, {"Rail", "rail", "Rail name"},
        {"Module", "Box", "module no."},  {"Slot", "Pin", "Slots"},       {"Effect", "Do", "Product"},
        {"Channel", "Ch", "DMX channel"}, {"Level", "Value", "level"},    {"Fade", "fade (s)", "Fade time"},
        {"Lasts", "Duration", "lasts"},   {"ID", "Cue no.", "#"},         {"Note", "Remarks", "Comment"}};
    int order[COLUMNS];
    for (int i = 0; i < COLUMNS; i++)
        order[i] = i;
    for (int i = COLUMNS - 1; i > 0; i--) {
        const int k = (int)draw(&l->d, (unsigned)i + 1), was = order[i];
        order[i] = order[k];
        order[k] = was;
    }
    for (int i = 0; i < COLUMNS; i++) {
        l->place[order[i]] = has_column(l, order[i]) ? l->table.columns++ : SHEET_COLUMNS;
        l->headings[order[i]] = headings[order[i]][draw(&l->d, 3)];
    }
    if (l->d.has_unknown_heading)
        l->headings[TIME] = "Moment in music";
}

static void put(list *l, sheet_cell *row, int what, const char *text) {
    if (l->place[what] == SHEET_COLUMNS)
        return;
    row[l->place[what]].kind = 't';
    snprintf(row[l->place[what]].text, SHEET_CELL_BYTES, "%s", text);
}

// The target of one row: slots and names with what stands between them.
static void put_slots(list *l, sheet_cell *row, const uint32_t *slots, size_t count) {
    sm_text out = {0}, module = {0};
    for (size_t i = 0; i < count; i++) {
        const sm_rail *const rail = &l->show->rails[l->show->slot_rails[slots[i]]];
        const int number = (int)(slots[i] - rail->slot_base) + 1, of_module = rail->first + number - 1;
        sm_text_printf(&out, "%s", i > 0 ? l->d.between : "");
        if (l->d.form == RAIL_NN)
            sm_text_printf(&out, "%s-%02d", rail->name, number);
        else if (l->d.form == GLUED)
            sm_text_printf(&out, "%s%d", rail->name, number);
        else if (l->d.form == MODULE_DASH_SLOT)
            sm_text_printf(&out, "%u-%d", (unsigned)rail->module + 1, of_module);
        else if (l->d.form == THROUGH)
            sm_text_printf(&out, "%d", (int)rail->module * 24 + of_module);
        else
            sm_text_printf(&out, "%d", l->d.form == RAIL_AND_SLOT ? number : of_module);
        sm_text_clear(&module);
        sm_text_printf(&module, "%u", (unsigned)rail->module + 1);
        put(l, row, RAIL, rail->name);
        put(l, row, MODULE, sm_text_get(&module));
    }
    put(l, row, has_column(l, SLOT) ? SLOT : TARGET, sm_text_get(&out));
    sm_text_deinit(&out);
    sm_text_deinit(&module);
}

static void put_span(list *l, sheet_cell *row, int what, sm_us us) {
    char text[32];
    if (us <= 0)
        return;
    snprintf(text, sizeof text, "%.6f", (double)us / 1e6);
    cut_zeros(text);
    if (l->d.notation == SECONDS_COMMA && strchr(text, '.'))
        *strchr(text, '.') = ',';
    put(l, row, what, text);
    if (l->d.notation != SECONDS_COMMA)
        row[l->place[what]].kind = 'n';
}

static sheet_cell *begin_row(list *l, uint32_t cue_number) {
    const sm_cue *const cue = &l->show->cues[cue_number];
    char id[12];
    sheet_cell *const row = sheet_table_add(&l->table);
    write_time(&l->d, cue->time_us - (l->d.is_fire ? list_lead_of(l->show, cue) : 0), &row[l->place[TIME]]);
    put(l, row, ID, sm_cue_id(l->show, cue_number, id));
    put(l, row, NOTE,
        cue_number % 7 == 0   ? "=HYPERLINK(\"x\")"
        : cue_number % 5 == 0 ? " \xC3\xA9, \"q\";\t| "
                              : sm_show_text(l->show, cue->note));
    return row;
}

static void write_firing(list *l, uint32_t cue_number) {
    const sm_cue *const cue = &l->show->cues[cue_number];
    const uint32_t count = sm_cue_event_count(l->show, cue_number);
    uint32_t slots[64];
    assert_true(count <= COUNT(slots));
    const sm_firing *first = NULL;
    for (uint32_t i = 0; i < count; i++) {
        const sm_firing *const firing = &l->show->firings[l->show->events[cue->first_event + i].target];
        slots[i] = firing->slot;
        first = i == 0 ? firing : first;
    }
    for (uint32_t at = 0, step; at < count; at += step) {
        const uint32_t rail = l->show->slot_rails[slots[at]];
        // Beside a rail or a module stand only slots of it.
        for (step = 1; at + step < count && !l->d.is_split; step++)
            if ((l->d.form == RAIL_AND_SLOT && l->show->slot_rails[slots[at + step]] != rail) ||
                (l->d.form == MODULE_AND_SLOT &&
                 l->show->rails[l->show->slot_rails[slots[at + step]]].module != l->show->rails[rail].module))
                break;
        sheet_cell *const row = begin_row(l, cue_number);
        put_slots(l, row, slots + at, step);
        put(l, row, EFFECT, crew_name(l, l->show->effects[first->effect].name));
        if (first->lasts_us != l->show->effects[first->effect].lasts_us)
            put_span(l, row, LASTS, first->lasts_us);
    }
}

static void write_levels(list *l, uint32_t cue_number, const char *target, uint32_t event) {
    const sm_cue *const cue = &l->show->cues[cue_number];
    const sm_profile *const profile =
        &l->show->profiles[l->show->fixtures[l->show->events[event].target].profile];
    uint32_t count;
    const sm_level *const levels = sm_event_levels(l->show, event, &count);
    sm_text out = {0};
    sheet_cell *row = NULL;
    for (uint32_t i = 0; i < count; i++) {
        char level[8];
        snprintf(level, sizeof level, "%u", levels[i].level);
        sm_text_printf(&out, "%s%s%s%s", i > 0 ? ", " : "", profile->channels[levels[i].channel],
                       i % 2 == 0 ? "=" : " = ", level);
        if (i > 0 && !l->d.has_channels)
            continue;
        row = begin_row(l, cue_number);
        put(l, row, TARGET, target);
        put_span(l, row, FADE, cue->fade_us);
        put_span(l, row, LASTS, cue->lasts_us);
        put(l, row, CHANNEL, profile->channels[levels[i].channel]);
        put(l, row, LEVEL, level);
    }
    if (!l->d.has_channels)
        put(l, row, EFFECT, sm_text_get(&out));
    sm_text_deinit(&out);
}

static void write_setting(list *l, uint32_t cue_number) {
    const sm_cue *const cue = &l->show->cues[cue_number];
    sm_text names = {0};
    for (uint32_t i = 0; i < sm_cue_event_count(l->show, cue_number); i++) {
        const char *const name = l->show->fixtures[l->show->events[cue->first_event + i].target].name;
        if (l->d.is_split)
            write_levels(l, cue_number, name, cue->first_event + i);
        sm_text_printf(&names, "%s%s", i > 0 ? l->d.between : "", name);
    }
    if (!l->d.is_split)
        write_levels(l, cue_number, sm_text_get(&names), cue->first_event);
    sm_text_deinit(&names);
}

void list_write(list *l) {
    lay_columns(l);
    if (l->d.has_title) {
        snprintf(sheet_table_add(&l->table)[0].text, SHEET_CELL_BYTES, "Cue list, version %u",
                 draw(&l->d, 9));
        sheet_table_add(&l->table);
    }
    sheet_cell *const header = sheet_table_add(&l->table);
    for (int i = 0; i < COLUMNS; i++)
        put(l, header, i, l->headings[i]);
    for (uint32_t i = 0; i < l->show->cue_count; i++) {
        if (l->d.has_sections && i % 40 == 0)
            snprintf(sheet_table_add(&l->table)[draw(&l->d, 2)].text, SHEET_CELL_BYTES, "Part %u",
                     (unsigned)i / 40 + 1);
        if (l->show->cues[i].kind == SM_CUE_FIRE)
            write_firing(l, i);
        else
            write_setting(l, i);
    }
    sheet_cell *const last = l->d.has_total ? sheet_table_add(&l->table) : NULL;
    for (size_t i = 0; last && i < l->table.columns; i++)
        snprintf(last[i].text, SHEET_CELL_BYTES, "%s", i == 0 ? "Total" : i % 2 ? "43" : "");
}

char *list_bytes(const list *l, size_t *length) {
    sm_text text = {0};
    if (l->d.container == XLSX)
        return sheet_write_xlsx(&l->table, l->d.is_split, length);
    if (l->d.container == ODS)
        return sheet_write_ods(&l->table, length);
    sheet_write_csv(&l->table, l->d.separator, l->d.has_title ? "\r\n" : "\n", &text);
    char *const bytes = sheet_encode(&text, l->d.encoding, l->d.has_mark, length);
    sm_text_deinit(&text);
    return bytes;
}
