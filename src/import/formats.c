// SPDX-License-Identifier: GPL-3.0-or-later
// How the times of a table are written. Each way in which all of them can be read is a candidate. What the cells themselves, the
// heading or the show's length leave but one of is taken and reported; where two are left, or frames have no rate, it is asked.
#include "import/work.h"

#include <ctype.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>

typedef struct survey {
    uint32_t cells, read[IMPORT_FORMATS]; // by format: how many cells can be read so
    sm_us least[IMPORT_FORMATS], most[IMPORT_FORMATS];
    bool is_rate_good[SM_TC_COUNT]; // for every cell, should they count frames
    bool has_fraction, is_long;     // decimals other than 0; more than six characters
    const char *samples[3];
    uint32_t line, column; // of the first
} survey;

static const import_role time_roles[] = {IMPORT_SEEN, IMPORT_FIRE};

static bool counts_frames(import_format format) {
    return format == IMPORT_FRAMES || format == IMPORT_S_FRAMES || format == IMPORT_M_S_FRAMES ||
           format == IMPORT_H_M_S_FRAMES;
}

static void look_at(const import_work *work, const char *text, survey *in) {
    const unsigned rate = work->map.chosen[IMPORT_KEY_RATE];
    import_readings found;
    // Drop-frame is read at its own rate, else the widest tells whether it can be frames at all.
    import_time_read_all(rate < SM_TC_COUNT  ? (sm_timecode_rate)rate
                         : strchr(text, ';') ? SM_TC_29_97
                                             : SM_TC_30,
                         text, &found);
    for (unsigned i = 0; i < IMPORT_FORMATS; i++) {
        const sm_us us = found.us[i];
        if (!found.is_read[i])
            continue;
        in->least[i] = in->read[i] == 0 || us < in->least[i] ? us : in->least[i];
        in->most[i] = in->read[i] == 0 || us > in->most[i] ? us : in->most[i];
        in->read[i]++;
    }
    for (unsigned i = 0; i < SM_TC_COUNT; i++)
        in->is_rate_good[i] = in->is_rate_good[i] && found.is_frames[i];
    if (found.is_read[IMPORT_SECONDS])
        in->has_fraction = in->has_fraction || found.us[IMPORT_SECONDS] % SM_US_PER_S != 0;
    in->is_long = in->is_long || strlen(text) > 6;
}

static void take_survey(import_work *work, survey *in) {
    *in = (survey){.is_rate_good = {true, true, true, true}};
    for (uint32_t i = work->header + 1; i < work->sheet->count; i++) {
        const import_row *const row = &work->sheet->rows[i];
        if (import_row_is_no_cue(work, i)[0] != '\0')
            continue;
        for (size_t k = 0; k < 2; k++) {
            const char *const text = import_text_of(work, row, time_roles[k]);
            if (!isdigit((unsigned char)text[0]) && text[0] != '-')
                continue;
            if (in->cells < 3)
                in->samples[in->cells] = text;
            if (in->cells++ == 0) {
                in->line = row->line;
                in->column = work->columns[time_roles[k]];
            }
            look_at(work, text, in);
        }
    }
}

// Formats in which as many cells can be read as in any.
static unsigned find_candidates(const survey *from, bool is_candidate[IMPORT_FORMATS]) {
    uint32_t best = 0;
    unsigned count = 0;
    for (size_t i = 0; i < IMPORT_FORMATS; i++)
        best = from->read[i] > best ? from->read[i] : best;
    for (size_t i = 0; i < IMPORT_FORMATS; i++)
        is_candidate[i] = best > 0 && from->read[i] == best;
    if (is_candidate[IMPORT_M_S])
        is_candidate[IMPORT_H_M_S] = false; // the same reading
    if (from->has_fraction)
        is_candidate[IMPORT_MILLISECONDS] = false;
    if (from->most[IMPORT_SECONDS] >= SM_US_PER_S || !from->is_long)
        is_candidate[IMPORT_DAYS] = false;
    for (size_t i = 0; i < IMPORT_FORMATS; i++)
        count += is_candidate[i];
    return count;
}

static void put_samples(const survey *from, char out[160]) {
    snprintf(out, 160, "\"%.40s\"%s%.40s%s%s%.40s%s", from->samples[0], from->samples[1] ? ", \"" : "",
             from->samples[1] ? from->samples[1] : "", from->samples[1] ? "\"" : "",
             from->samples[2] ? ", \"" : "", from->samples[2] ? from->samples[2] : "",
             from->samples[2] ? "\"" : "");
}

// Drops candidates by which the last time lies behind the show's end. Returns how many are left.
static unsigned drop_by_length(const import_work *work, const survey *from,
                               bool is_candidate[IMPORT_FORMATS]) {
    const sm_us end = work->show ? work->show->length_us : 0;
    bool fits[IMPORT_FORMATS];
    unsigned left = 0;
    for (size_t i = 0; i < IMPORT_FORMATS; i++) {
        fits[i] = is_candidate[i] && (i == IMPORT_H_M_S_FRAMES || from->most[i] <= end + SM_US_PER_S);
        left += fits[i];
    }
    for (size_t i = 0; i < IMPORT_FORMATS && left > 0 && end > 0; i++)
        is_candidate[i] = fits[i];
    unsigned count = 0;
    for (size_t i = 0; i < IMPORT_FORMATS; i++)
        count += is_candidate[i];
    return count;
}

static void ask_format(import_work *work, const survey *from, const bool is_candidate[IMPORT_FORMATS]) {
    import_answer answers[IMPORT_FORMATS];
    char words[IMPORT_FORMATS][24], samples[160];
    size_t count = 0;
    for (unsigned i = 0; i < IMPORT_FORMATS; i++)
        if (is_candidate[i])
            answers[count++] = (import_answer){.value = import_word(IMPORT_KEY_FORMAT, i, words[i])};
    put_samples(from, samples);
    import_ask(work, from->line, from->column, IMPORT_KEY_FORMAT, answers, count,
               "%s can be read as times in more than one way", samples);
}

static bool choose(import_work *work, const survey *from) {
    bool is_candidate[IMPORT_FORMATS];
    char word[24];
    const unsigned told = work->map.chosen[IMPORT_KEY_FORMAT];
    unsigned count = find_candidates(from, is_candidate);
    const import_format hint =
        import_heading_format(import_text_at(work, &work->sheet->rows[work->header], from->column));
    work->time_known = "by the cells";
    if (told < IMPORT_FORMATS) {
        work->format = (import_format)told;
        work->time_known = "by the map";
        return true;
    }
    if (hint < IMPORT_FORMATS && is_candidate[hint]) {
        for (unsigned i = 0; i < IMPORT_FORMATS; i++)
            is_candidate[i] = i == hint;
        work->time_known = "by the heading";
        count = 1;
    }
    if (count > 1) {
        count = drop_by_length(work, from, is_candidate);
        work->time_known = "by the show's length";
    }
    if (count == 0)
        import_tell(work, SM_ERROR, from->line, from->column, "import-time",
                    "\"%s\" is no time in any way that is known", from->samples[0]);
    if (count > 1)
        ask_format(work, from, is_candidate);
    if (count != 1)
        return false;
    for (unsigned i = 0; i < IMPORT_FORMATS; i++)
        if (is_candidate[i])
            work->format = (import_format)i;
    import_tell(work, SM_NOTE, from->line, from->column, "import-guess", "times are read as %s, %s",
                import_word(IMPORT_KEY_FORMAT, work->format, word), work->time_known);
    return true;
}

static bool choose_rate(import_work *work, const survey *from) {
    const unsigned told = work->map.chosen[IMPORT_KEY_RATE];
    import_answer answers[SM_TC_COUNT];
    char words[SM_TC_COUNT][24], samples[160];
    size_t count = 0;
    work->rate = told < SM_TC_COUNT ? (sm_timecode_rate)told : SM_TC_25;
    if (told < SM_TC_COUNT || !counts_frames(work->format))
        return true;
    for (unsigned i = 0; i < SM_TC_COUNT; i++)
        if (from->is_rate_good[i])
            answers[count++] = (import_answer){.value = import_word(IMPORT_KEY_RATE, i, words[i])};
    put_samples(from, samples);
    import_ask(work, from->line, from->column, IMPORT_KEY_RATE, answers, count,
               "%s count frames: how many make a second?", samples);
    return false;
}

// Where the show's timecode begins, as the table counts: an hour is not as long at every rate.
static sm_us start_us(const import_work *work, const sm_moment_base *base) {
    int hours, minutes, seconds, frame;
    int64_t frames;
    sm_timecode_from_frames(base->rate, base->drop, base->start_frames, &hours, &minutes, &seconds, &frame);
    if (frame != 0 || sm_timecode_to_frames(work->rate, false, hours, minutes, seconds, 0, &frames) != SM_OK)
        return 0;
    return sm_timecode_frames_us(work->rate, frames);
}

// Timecode of an hour or more may begin where the show does.
static bool choose_offset(import_work *work, const survey *from) {
    char offset[32];
    int64_t hours = 0;
    work->offset_us = work->map.offset_us != SM_UNSET_US ? work->map.offset_us : 0;
    if (work->map.offset_us != SM_UNSET_US || work->format != IMPORT_H_M_S_FRAMES ||
        from->least[IMPORT_H_M_S_FRAMES] < 3590 * SM_US_PER_S ||
        (work->show && work->show->length_us >= from->most[IMPORT_H_M_S_FRAMES]))
        return true;
    const sm_moment_base *const base = work->show ? &work->show->settings.timecode : NULL;
    const sm_us start = base ? start_us(work, base) : 0;
    if (base && start > 0 && from->least[IMPORT_H_M_S_FRAMES] >= start - 10 * SM_US_PER_S) {
        work->offset_us = -start;
        import_tell(work, SM_NOTE, from->line, from->column, "import-guess",
                    "times are taken as timecode from the show's timecode-start on, by its length");
        return true;
    }
    const import_answer answers[] = {{NULL, offset}, {NULL, "0 s"}};
    if (sm_timecode_to_frames(
            work->rate, false,
            (int)((from->least[IMPORT_H_M_S_FRAMES] + 10 * SM_US_PER_S) / 3600 / SM_US_PER_S) % 24, 0, 0, 0,
            &hours) != SM_OK)
        return true;
    const sm_us us = sm_timecode_frames_us(work->rate, hours);
    snprintf(offset, sizeof offset, "-%lld.%03d s", (long long)(us / SM_US_PER_S),
             (int)(us % SM_US_PER_S / 1000));
    import_ask(work, from->line, from->column, IMPORT_KEY_OFFSET, answers, 2,
               "\"%s\" is the first time: where does the show begin?", from->samples[0]);
    return false;
}

bool import_formats_read(import_work *work) {
    survey found;
    take_survey(work, &found);
    if (found.cells == 0) {
        import_tell(work, SM_ERROR, work->sheet->rows[work->header].line, UINT32_MAX, "import-empty",
                    "no row below the header has a time, a target and an effect");
        return false;
    }
    return choose(work, &found) && choose_rate(work, &found) && choose_offset(work, &found);
}
