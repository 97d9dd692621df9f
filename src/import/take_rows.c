// SPDX-License-Identifier: GPL-3.0-or-later
// Rows into cues: each is taken whole, left out with its reason, or told.
#include "import/work.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct reading {
    import_work *work;
    const import_row *row;
    import_cue cue;
    sm_text how;
    uint32_t slots;
    const char *left_out; // static
    bool is_bad;
} reading;

static bool refuse(reading *r, import_role role, const char *rule, const char *text, const char *what) {
    import_tell(r->work, SM_ERROR, r->row->line, r->work->columns[role], rule, "\"%s\" %s", text, what);
    r->is_bad = true;
    return false;
}

static void leave_out(reading *r, const char *why) {
    import_tell(r->work, SM_WARNING, r->row->line, UINT32_MAX, "import-left-out", "left out: %s", why);
    r->left_out = why;
}

static void put(sm_text *out, const char *text) {
    sm_text_append(out, text, strlen(text));
}

static void note(reading *r, const char *what) {
    if (r->how.length > 0)
        put(&r->how, "; ");
    put(&r->how, what);
}

// ---- time -----------------------------------------------------------------------------

static bool read_time(reading *r, import_role role, sm_us *out) {
    import_work *const work = r->work;
    const char *const text = import_text_of(work, r->row, role);
    if (!import_time_read(work->format, work->rate, text, out, &work->is_comma))
        return refuse(r, role, "import-time", text, "is no time as the others are");
    *out += work->offset_us;
    return true;
}

static void note_time(reading *r, const char *text) {
    char word[24];
    note(r, "time from \"");
    put(&r->how, text);
    put(&r->how, "\" as ");
    put(&r->how, import_word(IMPORT_KEY_FORMAT, r->work->format, word));
    put(&r->how, " ");
    put(&r->how, r->work->time_known);
    if (r->work->offset_us != 0)
        put(&r->how, " with offset");
    if (r->work->is_fire)
        put(&r->how, ", fired then");
}

static const sm_effect *effect_of(const reading *r) {
    const uint32_t row = r->work->show && r->slots > 0 && r->cue.effect
                             ? sm_effect_find(r->work->show, r->cue.effect)
                             : SM_NONE;
    return row != SM_NONE ? &r->work->show->effects[row] : NULL;
}

// A firing is seen by its effect's lead later.
static void add_lead(reading *r) {
    const sm_effect *const effect = effect_of(r);
    if (!r->work->is_fire || r->slots == 0)
        return;
    if (!effect || !effect->lead_known) {
        leave_out(r, "a time of firing, and the lead of its effect is not known");
        return;
    }
    r->cue.time_us += effect->lead_us;
    sm_text_printf(&r->how, ", lead %.6g s", (double)effect->lead_us / 1e6);
}

// Where both are told they must agree, within a frame where they count frames.
static void compare_times(reading *r) {
    const import_work *const work = r->work;
    const sm_effect *const effect = effect_of(r);
    sm_us fire;
    const bool has_both =
        work->columns[IMPORT_SEEN] != UINT32_MAX && work->columns[IMPORT_FIRE] != UINT32_MAX;
    if (!has_both || !effect || import_text_of(r->work, r->row, IMPORT_FIRE)[0] == '\0' ||
        !read_time(r, IMPORT_FIRE, &fire))
        return;
    const sm_us off = r->cue.time_us - effect->lead_us - fire;
    if (off > 42000 || off < -42000)
        import_tell(r->work, SM_WARNING, r->row->line, work->columns[IMPORT_FIRE], "import-suspicious",
                    "fired %.3f s before it is seen, and the lead of %s is %.3f s",
                    (double)(r->cue.time_us - fire) / 1e6, effect->name, (double)effect->lead_us / 1e6);
}

static void read_times(reading *r) {
    import_work *const work = r->work;
    const import_role role = work->is_fire ? IMPORT_FIRE : IMPORT_SEEN;
    if (import_text_of(work, r->row, role)[0] == '\0') {
        leave_out(r, "no time");
        return;
    }
    if (!read_time(r, role, &r->cue.time_us))
        return;
    note_time(r, import_text_of(work, r->row, role));
    add_lead(r);
    if (!work->is_fire && !r->left_out)
        compare_times(r);
    if (work->show && work->show->length_us > 0 && r->cue.time_us > work->show->length_us && !r->left_out)
        import_tell(work, SM_WARNING, r->row->line, work->columns[role], "import-suspicious",
                    "behind the end of the show");
}

// ---- what it does ------------------------------------------------------------------------

// "dimmer = 35%, blue=255" as cues.csv has it.
static const char *levels_of(reading *r, const char *text) {
    sm_text out = {0};
    for (const char *at = text; *at != '\0'; at++) {
        const bool is_between = strchr(" ,;\n\t", *at) != NULL;
        const bool is_glued = out.length == 0 || strchr(" =", out.bytes[out.length - 1]);
        const bool is_before = is_between && at[strspn(at, " ,;\n\t")] == '=';
        if (!is_between)
            sm_text_append(&out, at, 1);
        else if (!is_glued && !is_before)
            sm_text_append(&out, " ", 1);
    }
    const char *const kept = import_keep(r->work, sm_text_get(&out));
    r->work->no_memory = r->work->no_memory || out.failed;
    sm_text_deinit(&out);
    return kept;
}

static void read_level(reading *r, const char *level) {
    const char *const channel = import_text_of(r->work, r->row, IMPORT_CHANNEL);
    sm_text pair = {0};
    sm_text_printf(&pair, "%s=%s", channel, level);
    if (channel[0] == '\0' || strpbrk(channel, " ="))
        refuse(r, IMPORT_CHANNEL, "import-effect", channel, "is no channel for the level beside it");
    else if (r->slots > 0)
        refuse(r, IMPORT_LEVEL, "import-effect", level, "is a level, and a slot has none");
    r->cue.effect = levels_of(r, sm_text_get(&pair));
    note(r, "level");
    sm_text_deinit(&pair);
}

static void read_effect(reading *r) {
    const char *const level = import_text_of(r->work, r->row, IMPORT_LEVEL), *const text = import_text_of(
                                                                                 r->work, r->row,
                                                                                 IMPORT_EFFECT);
    const bool is_levels = r->slots == 0;
    if (level[0] != '\0') {
        read_level(r, level);
    } else if (is_levels && !strchr(text, '=')) {
        refuse(r, IMPORT_EFFECT, "import-effect", text, "is no channel=level, and the row names no slot");
    } else if (is_levels) {
        r->cue.effect = levels_of(r, text);
        note(r, "levels as written");
    } else {
        r->cue.effect = import_effect_read(r->work, text, r->row->line);
        r->is_bad = r->is_bad || !r->cue.effect;
        note(r, r->cue.effect && strcmp(r->cue.effect, text) == 0          ? "effect by its name"
                : import_map_value(&r->work->map, IMPORT_KEY_EFFECT, text) ? "effect by the map"
                                                                           : "effect by its letters");
    }
}

static void ask_effect(const reading *r) {
    const char *const text = import_text_of(r->work, r->row, IMPORT_EFFECT);
    if (text[0] != '\0' && !strchr(text, '='))
        (void)import_effect_read(r->work, text, r->row->line);
}

// A length of time, as cues.csv has it.
static const char *read_span(reading *r, import_role role) {
    const char *const text = import_text_of(r->work, r->row, role);
    char mended[64] = "";
    sm_us us;
    bool has_comma = false;
    if (text[0] == '\0' || strcmp(text, "0") == 0 || strcmp(text, "-") == 0)
        return "";
    if (role == IMPORT_FADE && r->slots > 0) {
        import_tell(r->work, SM_WARNING, r->row->line, r->work->columns[role], "import-left-out",
                    "a fade is for fixtures; left out");
        return "";
    }
    memcpy(mended, text, strnlen(text, sizeof mended - 1));
    char *const comma = strchr(mended, ',');
    if (comma)
        *comma = '.';
    if (sm_span_read(mended, strlen(mended), SM_US_PER_S, &us) != SM_OK &&
        !import_time_read(IMPORT_H_M_S, SM_TC_25, text, &us, &has_comma) &&
        !import_time_read(IMPORT_UNITS, SM_TC_25, text, &us, &has_comma)) {
        refuse(r, role, "import-time", text, "is no length of time, such as 3.5 or 3.5 s");
        return "";
    }
    char *const point = import_digits(mended, (uint64_t)(us / SM_US_PER_S), 1);
    *point = '.';
    import_digits(point + 1, (uint64_t)(us % SM_US_PER_S), 6);
    for (size_t length = strlen(mended); mended[length - 1] == '0' || mended[length - 1] == '.'; length--) {
        const bool is_point = mended[length - 1] == '.';
        mended[length - 1] = '\0';
        if (is_point)
            break;
    }
    return import_keep(r->work, mended);
}

static void compare_count(reading *r) {
    const char *const text = import_text_of(r->work, r->row, IMPORT_A_COUNT);
    const long count = strtol(text, NULL, 10);
    if (isdigit((unsigned char)text[0]) && r->slots > 0 && count != (long)r->slots)
        import_tell(r->work, SM_WARNING, r->row->line, r->work->columns[IMPORT_A_COUNT], "import-suspicious",
                    "%ld by the count, and %u slot%s named", count, (unsigned)r->slots,
                    r->slots == 1 ? " is" : "s are");
}

// ---- a row --------------------------------------------------------------------------------

static void keep_cue(reading *r, uint32_t at) {
    import_work *const work = r->work;
    void *cues = work->cues;
    const bool has_room =
        import_reserve(work, &cues, work->cue_count, &work->cue_capacity, sizeof *work->cues);
    work->cues = cues;
    if (!has_room)
        return;
    r->cue.row = at;
    work->cues[work->cue_count++] = r->cue;
    work->results[at].cue = work->cue_count;
}

// Nothing but channel=level pairs.
static bool is_levels(reading *r, const char *text) {
    const char *at = strchr(text, '=') ? levels_of(r, text) : "=";
    while (*at != '\0') {
        const size_t channel = strcspn(at, " =");
        const char *const value = at + channel + 1;
        if (channel == 0 || at[channel] != '=')
            return false;
        const size_t length = strcspn(value, " ");
        if (length == 0 || value[strspn(value, "0123456789%")] != value[length])
            return false;
        at = value + length + strspn(value + length, " ");
    }
    return text[0] != '\0';
}

// Of a new show, whose lights the list tells: by name, or as a kind and a number beside it.
static void read_light(reading *r) {
    const char *const target = import_text_of(r->work, r->row, IMPORT_TARGET),
                      *const rail = import_text_of(r->work, r->row, IMPORT_RAIL),
                      *const slot = import_text_of(r->work, r->row, IMPORT_SLOT);
    sm_text name = {0};
    read_effect(r);
    if (r->is_bad)
        return;
    if (target[0] != '\0')
        sm_text_printf(&name, "%s", target);
    else
        sm_text_printf(&name, "%s%s%s", rail, rail[0] != '\0' && slot[0] != '\0' ? "-" : "", slot);
    r->cue.target = import_lights_read(r->work, sm_text_get(&name), r->cue.effect, r->row->line);
    if (r->cue.target && r->cue.target[0] == '\0')
        leave_out(r, "a light that the map leaves out");
    r->work->no_memory = r->work->no_memory || name.failed;
    sm_text_deinit(&name);
}

static void read_row(import_work *work, uint32_t at) {
    char room[256] = "";
    reading r = {.work = work, .row = &work->sheet->rows[at], .how = SM_TEXT_IN(room)};
    const bool is_light = !work->show && (import_text_of(work, r.row, IMPORT_LEVEL)[0] != '\0' ||
                                          is_levels(&r, import_text_of(work, r.row, IMPORT_EFFECT)));
    if (is_light)
        read_light(&r);
    else
        r.cue.target = import_address_read(work, r.row, &r.slots);
    r.is_bad = r.is_bad || (!r.left_out && !r.cue.target);
    if (!r.is_bad && !r.left_out && !is_light)
        read_effect(&r);
    else if (r.is_bad && !is_light && work->is_form_asked) // what else is open is asked in the same round
        ask_effect(&r);
    if (!r.is_bad && !r.left_out && work->has_times)
        read_times(&r);
    if (!r.is_bad && !r.left_out) {
        r.cue.fade = read_span(&r, IMPORT_FADE);
        r.cue.lasts = read_span(&r, IMPORT_LASTS);
        r.cue.id = import_text_of(work, r.row, IMPORT_ID);
        r.cue.note = import_text_of(work, r.row, IMPORT_NOTE);
        compare_count(&r);
    }
    work->no_memory = work->no_memory || r.how.failed;
    work->results[at].why = r.is_bad ? "told as an error" : r.left_out;
    work->results[at].how = import_keep(work, sm_text_get(&r.how));
    if (!r.is_bad && !r.left_out)
        keep_cue(&r, at);
    sm_text_deinit(&r.how);
}

// A list of nothing but whole seconds was rounded by somebody, or by a spreadsheet that showed no more.
static void judge_seconds(import_work *work) {
    for (uint32_t i = 0; i < work->cue_count; i++)
        if ((work->cues[i].time_us - work->offset_us) % SM_US_PER_S != 0)
            return;
    if (work->cue_count > 4 && !work->is_fire)
        import_tell(work, SM_WARNING, work->sheet->rows[work->header].line, work->columns[IMPORT_SEEN],
                    "import-suspicious", "every time is a whole second; were decimals lost on the way?");
}

void import_rows_read(import_work *work) {
    sm_progress_expect_more(work->progress, work->sheet->count);
    for (uint32_t i = 0; i < work->sheet->count && !work->no_memory; i++) {
        const char *const why = import_row_is_no_cue(work, i);
        (void)sm_progress_count(work->progress, 1);
        work->results[i] = (import_result){.why = why, .how = ""};
        if (why[0] == '\0')
            read_row(work, i);
        else if (strncmp(why, "no ", 3) == 0)
            import_tell(work, SM_WARNING, work->sheet->rows[i].line, UINT32_MAX, "import-left-out",
                        "left out: %s", why);
    }
    if (work->is_comma)
        import_tell(work, SM_NOTE, work->sheet->rows[work->header].line, UINT32_MAX, "import-guess",
                    "commas in times are taken for points");
    if (work->has_times)
        judge_seconds(work);
    import_meanings_ask(work);
    import_lights_ask(work);
}
