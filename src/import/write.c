// SPDX-License-Identifier: GPL-3.0-or-later
// What comes out: the cues, the report, the mapping file with its open answers.
#include "import/write.h"

#include "import/work.h"

#include <stdio.h>
#include <string.h>

static void append_number(sm_text *out, uint64_t value, unsigned least) {
    char digits[24];
    sm_text_append(out, digits, (size_t)(import_digits(digits, value, least) - digits));
}

// ---- cues -------------------------------------------------------------------------------

// "M:SS.mmm", or with six decimals where the three do not hold it.
static void append_moment(sm_text *out, sm_us us) {
    const sm_us whole = us < 0 ? -us : us;
    const bool is_short = us >= 0 && us % 1000 == 0;
    char clock[24];
    if (is_short && us >= 3600 * SM_US_PER_S) {
        sm_text_printf(out, "%s", sm_clock_format(clock, us));
        return;
    }
    sm_text_append(out, "-", us < 0);
    append_number(out, (uint64_t)(whole / (60 * SM_US_PER_S)), 1);
    sm_text_append(out, ":", 1);
    append_number(out, (uint64_t)(whole / SM_US_PER_S % 60), 2);
    sm_text_append(out, ".", 1);
    append_number(out, (uint64_t)(whole % SM_US_PER_S) / (is_short ? 1000 : 1), is_short ? 3 : 6);
}

void import_write_cues(const import_work *work, sm_text *out) {
    sm_text head = {0};
    sm_text_printf(&head, "# Imported by slowmatch from %s: see import-report.csv", work->file);
    sm_text_append_csv(out, sm_text_get(&head));
    sm_text_printf(out, "\ntime,target,do,fade,lasts,id,note\n");
    for (uint32_t i = 0; i < work->cue_count; i++) {
        const import_cue *const cue = &work->cues[i];
        const char *const cells[] = {cue->target, cue->effect, cue->fade, cue->lasts, cue->id, cue->note};
        append_moment(out, cue->time_us);
        for (size_t k = 0; k < sizeof cells / sizeof cells[0]; k++) {
            sm_text_append(out, ",", 1);
            sm_text_append_csv_shown(out, cells[k]);
        }
        sm_text_append(out, "\n", 1);
    }
    out->failed = out->failed || head.failed;
    sm_text_deinit(&head);
}

// ---- report ------------------------------------------------------------------------------

void import_write_report(const import_work *work, sm_text *out) {
    uint32_t columns = 0;
    for (uint32_t i = 0; i < work->sheet->count; i++)
        columns = work->sheet->rows[i].count > columns ? work->sheet->rows[i].count : columns;
    sm_text_printf(out, "line,cue,left out,how");
    for (uint32_t i = 0; i < columns; i++)
        sm_text_printf(out, ",cell %u", (unsigned)i + 1);
    for (uint32_t i = 0; i < work->sheet->count; i++) {
        const import_row *const row = &work->sheet->rows[i];
        const import_result *const result = &work->results[i];
        sm_text_append(out, "\n", 1);
        append_number(out, row->line, 1);
        sm_text_append(out, ",", 1);
        if (result->cue > 0)
            append_number(out, result->cue, 1);
        sm_text_append(out, ",", 1);
        sm_text_append_csv(out, result->why && result->cue == 0 ? result->why : "");
        sm_text_append(out, ",", 1);
        sm_text_append_csv_shown(out, result->how);
        for (uint32_t k = 0; k < columns; k++) {
            sm_text_append(out, ",", 1);
            sm_text_append_csv_shown(out,
                                     k < row->count && !row->cells[k].is_spanned ? row->cells[k].text : "");
        }
    }
    sm_text_append(out, "\n", 1);
}

// ---- the map -------------------------------------------------------------------------------

static bool is_offered(const import_work *work, const char *section) {
    for (uint32_t i = 0; i < work->offer_count; i++)
        if (strcmp(import_map_key_at(work->offers[i].key)->section, section) == 0)
            return true;
    return false;
}

static void append_section(const import_work *work, const char *section, sm_text *out) {
    const sm_ini *const ini = &work->map.ini;
    char name[IMPORT_KEY_BYTES];
    bool is_told = false;
    for (size_t i = 0; i < ini->count; i++)
        is_told = is_told || strcmp(ini->entries[i].section, section) == 0;
    if (!is_told && !is_offered(work, section))
        return;
    sm_text_printf(out, "\n[%s]\n", section);
    for (size_t i = 0; i < ini->count; i++)
        if (ini->entries[i].key && strcmp(ini->entries[i].section, section) == 0)
            sm_text_printf(out, "%s = %s\n", ini->entries[i].key, ini->entries[i].value);
    for (uint32_t i = 0; i < work->offer_count; i++) {
        const import_offer *const offer = &work->offers[i];
        const import_map_key *const key = import_map_key_at(offer->key);
        if (strcmp(key->section, section) == 0)
            sm_text_printf(out, ";%s = %s\n",
                           offer->answer.text ? import_map_key_of(offer->answer.text, name) : key->key,
                           offer->answer.value);
    }
}

void import_write_map(const import_work *work, sm_text *out) {
    sm_text_printf(
        out, "# What the columns of the table mean, for slowmatch import --map (slowmatch-import(5)).\n");
    if (work->offer_count > 0)
        sm_text_printf(out, "# Take the ; away from each line that is right.\n");
    const char *last = "";
    for (unsigned i = 0; i < IMPORT_KEYS; i++) {
        const char *const section = import_map_key_at((import_key)i)->section;
        if (strcmp(section, last) != 0)
            append_section(work, section, out);
        last = section;
    }
}

// ---- a new show ------------------------------------------------------------------------------

// What the rails hang on whose module the list does not tell.
static const char *module_of_rest(const import_work *work) {
    for (uint32_t i = 0; i < work->rail_count; i++)
        if (work->rails[i].is_module)
            return "module-of-the-rest";
    return "module-1";
}

static void append_modules(sm_text *out, const import_work *work) {
    int32_t rest = 0;
    sm_text_printf(out, "# Made up but for names that the list tells: what each module is, and where it does "
                        "not tell it which rail "
                        "hangs on which. Change it.\nname,slots\n");
    for (uint32_t i = 0; i < work->rail_count; i++)
        if (work->rails[i].is_module)
            sm_text_printf(out, "%s,%d\n", work->rails[i].name, (int)work->rails[i].slots);
        else
            rest += work->rails[i].slots;
    if (rest > 0)
        sm_text_printf(out, "%s,%d\n", module_of_rest(work), (int)rest);
}

static void append_rails(sm_text *out, const import_work *work) {
    int32_t first = 1;
    sm_text_printf(out, "# Made up but for the names; slots up to the highest that is fired. Change "
                        "it.\nname,module,first,slots\n");
    for (uint32_t i = 0; i < work->rail_count; i++) {
        const import_rail *const rail = &work->rails[i];
        sm_text_printf(out, "%s,%s,%d,%d\n", rail->name, rail->is_module ? rail->name : module_of_rest(work),
                       rail->is_module ? 1 : (int)first, (int)rail->slots);
        first += rail->is_module ? 0 : rail->slots;
    }
}

static void append_effects(sm_text *out, const import_work *work) {
    sm_text_printf(out,
                   "# lead and lasts are not in the list: the makers tell them.\nname,lead,lasts,note\n");
    for (uint32_t i = 0; i < work->effects.count; i++) {
        bool is_first = true;
        for (uint32_t k = 0; k < i; k++)
            is_first = is_first && strcmp(work->effects.items[k].name, work->effects.items[i].name) != 0;
        if (!is_first)
            continue;
        sm_text_printf(out, "%s,,,", work->effects.items[i].name);
        sm_text_append_csv_shown(out, work->effects.items[i].text);
        sm_text_append(out, "\n", 1);
    }
}

static uint32_t count_words(const char *text) {
    uint32_t count = 0;
    for (; *text != '\0'; count++) {
        text += strcspn(text, " ");
        text += strspn(text, " ");
    }
    return count;
}

// The first light with the same channels names the profile of all of them.
static const char *profile_of(const import_work *work, uint32_t light) {
    uint32_t first = 0;
    while (strcmp(work->lights[first].channels, work->lights[light].channels) != 0)
        first++;
    return work->lights[first].name;
}

static void append_lights(const import_work *work, import_new *out) {
    enum { CHANNELS = 512 }; // of a universe
    uint32_t universe = 1, address = 1;
    sm_text_printf(&out->profiles,
                   "# Made up: the channels that the list names, in its order. The makers' own tables "
                   "go first.\nname,channels\n");
    sm_text_printf(&out->fixtures,
                   "# Made up but for the names: give every light the address that is set on it.\n"
                   "name,profile,universe,address\n");
    for (uint32_t i = 0; i < work->light_count; i++) {
        const import_light *const light = &work->lights[i];
        const char *const profile = profile_of(work, i);
        const uint32_t channels = count_words(light->channels);
        if (profile == light->name)
            sm_text_printf(&out->profiles, "%s,%s\n", profile, light->channels);
        if (address + channels - 1 > CHANNELS) {
            universe++;
            address = 1;
        }
        sm_text_printf(&out->fixtures, "%s,%s,%u,%u\n", light->name, profile, (unsigned)universe,
                       (unsigned)address);
        address += channels;
    }
}

void import_write_new(const import_work *work, const char *title, import_new *out) {
    char key[IMPORT_KEY_BYTES];
    sm_text_printf(&out->settings, "[show]\ntitle = %s\n", import_map_key_of(title, key));
    append_modules(&out->modules, work);
    append_rails(&out->rails, work);
    append_effects(&out->effects, work);
    if (work->light_count > 0)
        append_lights(work, out);
}
