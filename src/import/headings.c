// SPDX-License-Identifier: GPL-3.0-or-later
// What the columns hold, by their headings. Of a time no heading tells whether it is of what is seen or of what is fired, since crews mean
// either by "time"; but for those that say so in these very words. Words are common ones of crews' lists; from memory, no source.
#include "import/work.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

typedef struct heading {
    const char *words; // commas between
    import_role role;
} heading;

static const heading headings[] = {
    {"seen,seen at,time seen,is seen", IMPORT_SEEN},
    {"fired,fired at,time fired,is fired", IMPORT_FIRE},
    {"time,cue time,start,start time,timecode,time code,tc,when,effect time,show time,music time,fire "
     "time,firing "
     "time,ignition,zeit,zeitpunkt,startzeit,temps,tiempo,hora,tempo",
     IMPORT_A_TIME},
    {"target,targets,address,addresses,where,rail slot,ziel,adresse", IMPORT_TARGET},
    {"effect,effects,effect name,do,product,product "
     "name,item,description,what,effekt,produkt,artikel,effet,efecto",
     IMPORT_EFFECT},
    {"module,modules,module no,module number,box,field unit,modul", IMPORT_MODULE},
    {"slot,slots,pin,pins,slot no,slot number", IMPORT_SLOT},
    {"rail,rails,rail name,strip", IMPORT_RAIL},
    {"channel,channels,ch,dmx channel,kanal", IMPORT_CHANNEL},
    {"level,levels,value,dmx value,wert", IMPORT_LEVEL},
    {"fade,fade time,fade in", IMPORT_FADE},
    {"lasts,duration,length,burn time,burns,time it burns,burning time,dauer,brenndauer,duree", IMPORT_LASTS},
    {"id,cue id,cue,cue no,cue number,no,nr,number,#", IMPORT_ID},
    {"note,notes,comment,comments,remark,remarks,notiz,bemerkung", IMPORT_NOTE},
    {"qty,quantity,count,pieces,pcs,amount,anzahl,menge,stück", IMPORT_A_COUNT},
};

// The heading in small letters without what stands in brackets, marks as blanks, blanks folded.
static void simplify(const char *heading_text, char out[64]) {
    size_t length = 0;
    for (const char *at = heading_text; *at != '\0' && length < 62; at++) {
        if (*at == '(' || *at == '[')
            break;
        const bool is_mark = strchr(" \t\n\r._-/:", *at) != NULL;
        if (is_mark && (length == 0 || out[length - 1] == ' '))
            continue;
        out[length++] = is_mark ? ' ' : (char)tolower((unsigned char)*at);
    }
    while (length > 0 && out[length - 1] == ' ')
        length--;
    out[length] = '\0';
}

static import_role role_of(const char *heading_text) {
    char simple[64];
    simplify(heading_text, simple);
    for (size_t i = 0; i < sizeof headings / sizeof headings[0] && simple[0] != '\0'; i++) {
        const size_t length = strlen(simple);
        for (const char *at = headings[i].words; at; at = strchr(at, ',') ? strchr(at, ',') + 1 : NULL)
            if (strncmp(at, simple, length) == 0 && (at[length] == ',' || at[length] == '\0'))
                return headings[i].role;
    }
    return IMPORT_NO_ROLE;
}

import_format import_heading_format(const char *heading_text) {
    static const struct {
        const char *word;
        import_format format;
    } units[] = {{"s", IMPORT_SECONDS},
                 {"sec", IMPORT_SECONDS},
                 {"seconds", IMPORT_SECONDS},
                 {"ms", IMPORT_MILLISECONDS},
                 {"milliseconds", IMPORT_MILLISECONDS},
                 {"frames", IMPORT_FRAMES},
                 {"days", IMPORT_DAYS}};
    const char *const open = strpbrk(heading_text, "([");
    char word[16];
    if (!open || sscanf(open + 1, "%15[a-zA-Z]", word) != 1)
        return IMPORT_FORMATS;
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcasecmp(units[i].word, word) == 0)
            return units[i].format;
    return IMPORT_FORMATS;
}

// ---- the header -----------------------------------------------------------------------

static import_role told_role(const import_work *work, const char *heading_text) {
    char word[24];
    const char *const value =
        heading_text[0] != '\0' ? import_map_value(&work->map, IMPORT_KEY_COLUMN, heading_text) : NULL;
    for (unsigned i = 0; value && i < IMPORT_ROLES; i++)
        if (strcmp(import_word(IMPORT_KEY_COLUMN, i, word), value) == 0)
            return (import_role)i;
    return IMPORT_NO_ROLE;
}

static unsigned count_headings(import_work *work, const import_row *row) {
    unsigned known = 0;
    for (uint32_t i = 0; i < row->count; i++) {
        const char *const text = import_text_at(work, row, i);
        known += told_role(work, text) != IMPORT_NO_ROLE || role_of(text) != IMPORT_NO_ROLE;
    }
    return known;
}

bool import_sheet_has_header(import_work *work, const import_sheet *sheet) {
    bool found = false;
    for (uint32_t i = 0; i < sheet->count && !found; i++)
        found = count_headings(work, &sheet->rows[i]) >= 2;
    return found;
}

static bool ask_header(import_work *work) {
    import_answer answers[3];
    char lines[3][16];
    size_t count = 0;
    for (uint32_t i = 0; i < work->sheet->count && count < 3; i++) {
        uint32_t filled = 0;
        for (uint32_t k = 0; k < work->sheet->rows[i].count; k++)
            filled += import_text_at(work, &work->sheet->rows[i], k)[0] != '\0';
        if (filled < 3)
            continue;
        snprintf(lines[count], sizeof lines[0], "%u", (unsigned)work->sheet->rows[i].line);
        answers[count] = (import_answer){.value = lines[count]};
        count++;
    }
    if (count == 0)
        import_tell(
            work, SM_ERROR, 0, UINT32_MAX, "import-empty",
            "no row has three cells; a cue list has at least a time, a target and an effect in each row");
    else
        import_ask(work, work->sheet->rows[0].line, UINT32_MAX, IMPORT_KEY_HEADER_ROW, answers, count,
                   "no row has two headings that are known, such as \"time\", \"slot\", \"effect\"; which "
                   "row names the columns?");
    return false;
}

static bool find_header(import_work *work) {
    for (uint32_t i = 0; i < work->sheet->count; i++) {
        const import_row *const row = &work->sheet->rows[i];
        const bool is_told = work->map.header_row > 0;
        if (is_told ? row->line != (uint32_t)work->map.header_row : count_headings(work, row) < 2)
            continue;
        work->header = i;
        if (!is_told)
            import_tell(work, SM_NOTE, row->line, UINT32_MAX, "import-guess",
                        "taken for the row that names the columns, by its headings");
        return true;
    }
    if (work->map.header_row > 0)
        import_tell(work, SM_ERROR, (uint32_t)work->map.header_row, UINT32_MAX, "import-map",
                    "header-row: there is no such row");
    return work->map.header_row > 0 ? false : ask_header(work);
}

// ---- columns ----------------------------------------------------------------------------

static bool has_role(const import_work *work, import_role role) {
    return work->columns[role] != UINT32_MAX;
}

// Whether TEXT can be read as a time in any way.
static bool is_any_time(const char *text) {
    for (unsigned format = 0; format < IMPORT_FORMATS; format++) {
        sm_us us;
        bool has_comma = false;
        if (import_time_read((import_format)format, SM_TC_30, text, &us, &has_comma))
            return true;
    }
    return false;
}

// At least half of the rows with three cells or more below the header have one here, and most of these can be ROLE.
static bool cells_fit(import_work *work, uint32_t column, import_role role) {
    uint32_t rows = 0, filled = 0, fitting = 0;
    for (uint32_t i = work->header + 1; i < work->sheet->count; i++) {
        const import_row *const row = &work->sheet->rows[i];
        uint32_t cells = 0;
        for (uint32_t k = 0; k < row->count && cells < 3; k++)
            cells += import_text_at(work, row, k)[0] != '\0';
        const char *const text = import_text_at(work, row, column);
        rows += cells == 3;
        filled += cells == 3 && text[0] != '\0';
        fitting += cells == 3 && text[0] != '\0' && (role != IMPORT_SEEN || is_any_time(text));
    }
    return 2 * filled >= rows && 4 * fitting >= 3 * filled && filled > 0;
}

enum { WHICH_MAX = 24 };

// Columns that nobody knows come before those that are known as something else that may be meant by the way.
static bool may_be(import_work *work, uint32_t column, import_role role, bool is_unknown) {
    const import_role is = work->roles[column];
    const char *const text = import_text_at(work, &work->sheet->rows[work->header], column);
    char key[IMPORT_KEY_BYTES];
    const bool is_open =
        is_unknown ? is == IMPORT_NO_ROLE : is == IMPORT_ID || is == IMPORT_NOTE || is == IMPORT_CHANNEL;
    return is_open && import_map_key_of(text, key)[0] != '\0' && told_role(work, text) == IMPORT_NO_ROLE &&
           cells_fit(work, column, role);
}

// Alternatives: the columns that may yet be ROLE by what stands in them; of a time, whether it is seen or fired then.
static void ask_which(import_work *work, import_role role, const char *what) {
    import_answer answers[WHICH_MAX];
    char words[2][24];
    size_t count = 0;
    const import_row *const header = &work->sheet->rows[work->header];
    import_word(IMPORT_KEY_COLUMN, role, words[0]);
    import_word(IMPORT_KEY_COLUMN, IMPORT_FIRE, words[1]);
    for (int known = 0; known < 2 && count == 0; known++)
        for (uint32_t i = 0; i < header->count && count + 2 <= WHICH_MAX; i++) {
            const char *const text = import_text_at(work, header, i);
            if (!may_be(work, i, role, known == 0))
                continue;
            work->is_offered[i] = true;
            answers[count++] = (import_answer){.text = text, .value = words[0]};
            if (role == IMPORT_SEEN)
                answers[count++] = (import_answer){.text = text, .value = words[1]};
        }
    if (count == 0)
        import_tell(work, SM_ERROR, header->line, UINT32_MAX, "import-question",
                    "no column reads as %s; is this the row that names the columns ([file] header-row)?",
                    what);
    else
        import_ask(work, header->line, UINT32_MAX, IMPORT_KEY_COLUMN, answers, count,
                   "which column holds %s?", what);
}

// What is told of each column that is not taken over, or is taken by words that say which time it is.
static void tell_columns(import_work *work) {
    const import_row *const header = &work->sheet->rows[work->header];
    char word[24], key[IMPORT_KEY_BYTES];
    for (uint32_t i = 0; i < header->count; i++) {
        const char *const text = import_text_at(work, header, i);
        const bool is_time = work->roles[i] == IMPORT_SEEN || work->roles[i] == IMPORT_FIRE;
        if (is_time && told_role(work, text) == IMPORT_NO_ROLE)
            import_tell(work, SM_NOTE, header->line, i, "import-guess",
                        "\"%s\" is taken for the time at which it is %s, by its own words", text,
                        work->roles[i] == IMPORT_SEEN ? "seen" : "fired");
        if (work->roles[i] == IMPORT_NO_ROLE && text[0] != '\0' && !work->is_offered[i])
            import_tell(work, SM_NOTE, header->line, i, "import-guess",
                        "column \"%s\" is not taken over; [columns] %s = %s would keep it as a note", text,
                        import_map_key_of(text, key), import_word(IMPORT_KEY_COLUMN, IMPORT_NOTE, word));
    }
}

static void assign(import_work *work, const import_row *header, uint32_t column) {
    const char *const text = import_text_at(work, header, column);
    const import_role told = told_role(work, text);
    import_role role = told != IMPORT_NO_ROLE ? told : role_of(text);
    // With no level beside it a channel may as well be one of a field unit.
    if (role < IMPORT_IGNORE || role == IMPORT_A_TIME || role == IMPORT_A_COUNT) {
        if (!has_role(work, role)) {
            work->columns[role] = column;
        } else if (role == IMPORT_NOTE || role == IMPORT_ID || role == IMPORT_A_COUNT) {
            role = IMPORT_NO_ROLE;
        } else {
            char word[24];
            const import_answer answers[] = {{text, "ignore"},
                                             {import_text_at(work, header, work->columns[role]), "ignore"}};
            import_ask(work, header->line, column, IMPORT_KEY_COLUMN, answers, 2,
                       "\"%s\" and \"%s\" both read as %s; which does not count?", answers[1].text, text,
                       role == IMPORT_A_TIME ? "the time" : import_word(IMPORT_KEY_COLUMN, role, word));
        }
    }
    work->roles[column] = role;
}

// What stands under "channel" may be of a DMX fixture or of a field unit.
static void judge_channel(import_work *work) {
    const import_row *const header = &work->sheet->rows[work->header];
    const uint32_t column = work->columns[IMPORT_CHANNEL];
    if (column == UINT32_MAX || has_role(work, IMPORT_LEVEL))
        return;
    const char *const text = import_text_at(work, header, column);
    const import_answer answers[] = {{text, "slot"}, {text, "ignore"}};
    if (told_role(work, text) == IMPORT_NO_ROLE)
        import_ask(work, header->line, column, IMPORT_KEY_COLUMN, answers, 2,
                   "\"%s\" without levels beside it: are they slots?", text);
}

static bool judge_time(import_work *work) {
    const import_row *const header = &work->sheet->rows[work->header];
    const uint32_t column = work->columns[IMPORT_A_TIME];
    work->is_fire = has_role(work, IMPORT_FIRE) && !has_role(work, IMPORT_SEEN);
    if (has_role(work, IMPORT_FIRE) || has_role(work, IMPORT_SEEN))
        return true;
    if (column == UINT32_MAX) {
        ask_which(work, IMPORT_SEEN, "the time");
        return false;
    }
    const unsigned told = work->map.chosen[IMPORT_KEY_IS];
    work->is_fire = told == 1;
    work->columns[work->is_fire ? IMPORT_FIRE : IMPORT_SEEN] = column;
    const import_answer answers[] = {{NULL, "seen"}, {NULL, "fire"}};
    if (told > 1)
        import_ask(work, header->line, column, IMPORT_KEY_IS, answers, 2,
                   "is \"%s\" when it is seen or when it is fired?", import_text_at(work, header, column));
    return true;
}

bool import_headings_read(import_work *work) {
    for (size_t i = 0; i < IMPORT_NO_ROLE; i++)
        work->columns[i] = UINT32_MAX;
    if (!find_header(work))
        return false;
    const import_row *const header = &work->sheet->rows[work->header];
    for (uint32_t i = 0; i < IMPORT_COLUMNS_MAX; i++)
        work->roles[i] = IMPORT_NO_ROLE;
    for (uint32_t i = 0; i < header->count; i++)
        assign(work, header, i);
    judge_channel(work);
    bool is_whole = judge_time(work);
    if (!has_role(work, IMPORT_TARGET) && !has_role(work, IMPORT_SLOT) && !has_role(work, IMPORT_RAIL)) {
        ask_which(work, has_role(work, IMPORT_MODULE) ? IMPORT_SLOT : IMPORT_TARGET,
                  "what is fired or set: slots, fixtures, groups");
        is_whole = false;
    }
    if (!has_role(work, IMPORT_EFFECT) && !has_role(work, IMPORT_LEVEL)) {
        ask_which(work, IMPORT_EFFECT, "what it does: effects, or channel=level pairs");
        is_whole = false;
    }
    tell_columns(work);
    return is_whole;
}

// ---- rows that are no cues ------------------------------------------------------------------

static bool is_total(const char *text) {
    static const char *const words[] = {"total", "sum", "subtotal", "summe", "gesamt", "count", "end of"};
    for (size_t i = 0; isalpha((unsigned char)text[0]) && i < sizeof words / sizeof words[0]; i++)
        if (strncasecmp(text, words[i], strlen(words[i])) == 0 &&
            !isalpha((unsigned char)text[strlen(words[i])]))
            return true;
    return false;
}

static bool is_header_again(import_work *work, const import_row *row) {
    const import_row *const header = &work->sheet->rows[work->header];
    for (uint32_t i = 0; i < header->count; i++)
        if (strcmp(import_text_at(work, header, i), import_text_at(work, row, i)) != 0)
            return false;
    return true;
}

const char *import_row_is_no_cue(import_work *work, uint32_t at) {
    const import_row *const row = &work->sheet->rows[at];
    if (at <= work->header)
        return at < work->header ? "before the header" : "the header";
    const char *first = "";
    for (uint32_t i = 0; i < row->count && first[0] == '\0'; i++)
        first = import_text_at(work, row, i);
    if (first[0] == '\0')
        return "blank";
    if (is_total(first))
        return "a total";
    if (is_header_again(work, row))
        return "the header again";
    static const import_role targets[] = {IMPORT_TARGET, IMPORT_SLOT, IMPORT_RAIL},
                             does[] = {IMPORT_EFFECT, IMPORT_LEVEL}, times[] = {IMPORT_SEEN, IMPORT_FIRE};
    bool has_target = false, has_effect = false, has_time = false;
    for (size_t i = 0; i < 3; i++)
        has_target = has_target || import_text_of(work, row, targets[i])[0] != '\0';
    for (size_t i = 0; i < 2; i++)
        has_effect = has_effect || import_text_of(work, row, does[i])[0] != '\0';
    for (size_t i = 0; i < 2; i++)
        has_time = has_time || import_text_of(work, row, times[i])[0] != '\0';
    if (has_target && has_effect && has_time)
        return "";
    return has_time && has_target     ? "no effect"
           : has_time && has_effect   ? "no target"
           : has_target && has_effect ? "no time"
                                      : "a title or section";
}
