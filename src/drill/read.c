// SPDX-License-Identifier: GPL-3.0-or-later
// A drill's file over its declared schema, with findings like a show's.
#include "drill/read.h"

#include "drill/run.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const kind_names[] = {
    [SECTION_DRILL] = "drill", [SECTION_EVENT] = "event",   [SECTION_EXPECT] = "expect",
    [SECTION_NEVER] = "never", [SECTION_BEFORE] = "before", [SECTION_SPOKEN] = "spoken",
    [SECTION_LEAD] = "lead",
};
static_assert(sizeof kind_names / sizeof kind_names[0] == SECTION_COUNT, "a name for each kind of section");

static const char *kind_at(const void *context, size_t index) {
    (void)context;
    return kind_names[index];
}

// ---- sections -----------------------------------------------------------------------------------

static void refuse_section(drill_reader *reader, const sm_ini_entry *entry, const char *rule,
                           const char *format, ...) SM_PRINTF(4, 5);
static void refuse_section(drill_reader *reader, const sm_ini_entry *entry, const char *rule,
                           const char *format, ...) {
    char message[240];
    va_list args;
    va_start(args, format);
    vsnprintf(message, sizeof message, format, args);
    va_end(args);
    sm_findings_add(reader->findings, reader->file, entry->line, entry->column, SM_ERROR, rule, "%s",
                    message);
}

static bool is_name(const char *text) {
    size_t length = strlen(text);
    static const char allowed[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_";
    return length > 0 && length <= 31 && strspn(text, allowed) == length;
}

static bool is_reserved(const char *name) {
    return sm_state_named(name) != SM_STATE_COUNT || strcmp(name, "begin") == 0 ||
           strcmp(name, "action") == 0;
}

static bool judge_name(drill_reader *reader, const sm_ini_entry *entry, section_kind kind, const char *name) {
    if (kind == SECTION_DRILL) {
        if (name[0] != '\0')
            refuse_section(reader, entry, "drill-section", "[drill] has no name");
        return name[0] == '\0';
    }
    if (!is_name(name)) {
        refuse_section(reader, entry, "drill-section",
                       "[%s NAME] needs a name of letters, digits, - and _, at most 31 of them",
                       kind_names[kind]);
        return false;
    }
    if (is_reserved(name)) {
        refuse_section(reader, entry, "drill-section",
                       "\"%s\" means something else after when; choose another name", name);
        return false;
    }
    for (uint32_t i = 0; i < reader->section_count; i++)
        if (strcmp(reader->sections[i].name, name) == 0) {
            refuse_section(reader, entry, "drill-section", "the name \"%s\" is taken in line %u", name,
                           reader->sections[i].line);
            return false;
        }
    return true;
}

static void add_section(drill_reader *reader, const sm_ini_entry *entry, uint32_t counts[SECTION_COUNT]) {
    char first[64];
    snprintf(first, sizeof first, "%.*s", (int)strcspn(entry->section, " "), entry->section);
    const char *name = entry->section + strlen(first);
    name += strspn(name, " ");
    for (int kind = 0; kind < SECTION_COUNT; kind++) {
        if (strcmp(first, kind_names[kind]) != 0)
            continue;
        if (judge_name(reader, entry, (section_kind)kind, name))
            reader->sections[reader->section_count++] =
                (section){(section_kind)kind, name, entry->section, counts[kind]++, entry->line};
        return;
    }
    const char *near = sm_nearest_name(first, SECTION_COUNT, kind_at, NULL);
    refuse_section(reader, entry, "section-unknown", "there is no section [%s]%s%s%s", entry->section,
                   near ? "; did you mean [" : "", near ? near : "", near ? "]?" : "");
}

static void *make_rows(drill_reader *reader, uint32_t count, size_t size) {
    void *rows = sm_arena_alloc(reader->drill->arena, (count + 1) * size);
    reader->no_memory = reader->no_memory || !rows;
    return rows;
}

static void find_sections(drill_reader *reader) {
    uint32_t counts[SECTION_COUNT] = {0};
    reader->sections = make_rows(reader, (uint32_t)reader->ini.count, sizeof *reader->sections);
    for (size_t i = 0; i < reader->ini.count && !reader->no_memory; i++)
        if (!reader->ini.entries[i].key)
            add_section(reader, &reader->ini.entries[i], counts);
    sm_drill *d = reader->drill;
    d->events = make_rows(reader, d->event_count = counts[SECTION_EVENT], sizeof *d->events);
    d->expects = make_rows(reader, d->expect_count = counts[SECTION_EXPECT], sizeof *d->expects);
    d->nevers = make_rows(reader, d->never_count = counts[SECTION_NEVER], sizeof *d->nevers);
    d->befores = make_rows(reader, d->before_count = counts[SECTION_BEFORE], sizeof *d->befores);
    d->spokens = make_rows(reader, d->spoken_count = counts[SECTION_SPOKEN], sizeof *d->spokens);
    d->leads = make_rows(reader, d->lead_count = counts[SECTION_LEAD], sizeof *d->leads);
    if (counts[SECTION_DRILL] == 0 && !reader->no_memory)
        sm_findings_add(reader->findings, reader->file, 0, 0, SM_ERROR, "drill-section",
                        "the section [drill] is missing: it holds the title and the brief");
}

// ---- plain values ---------------------------------------------------------------------------------

static bool in_range(drill_reader *reader, const sm_column *column, const drill_value *value, double number) {
    if ((isnan(column->low) || number >= column->low) && (isnan(column->high) || number <= column->high))
        return true;
    const char *unit = column->unit ? column->unit : "";
    drill_wrong(reader, value, 0, "range", "%s is %.12g%s%s; it can be %.12g to %.12g%s%s", column->name,
                number, *unit ? " " : "", unit, column->low, column->high, *unit ? " " : "", unit);
    return false;
}

static void read_integer(drill_reader *reader, const sm_column *column, const drill_value *value,
                         void *into) {
    int32_t number;
    if (sm_integer_read(value->text, value->length, &number) != SM_OK)
        drill_wrong(reader, value, 0, "value", "\"%.40s\" is not a whole number", value->text);
    else if (in_range(reader, column, value, number))
        *(int32_t *)into = number;
}

static void read_span(drill_reader *reader, const sm_column *column, const drill_value *value, void *into) {
    sm_us span;
    sm_result result = sm_span_read(value->text, value->length, column->bare_us, &span);
    if (result == SM_INVALID)
        drill_wrong(reader, value, 0, "value", "\"%.40s\" is not a time with s, ms or min", value->text);
    else if (in_range(reader, column, value, result == SM_OK ? (double)span / 1e6 : (double)SM_US_MAX / 1e6))
        *(sm_us *)into = span;
}

// Stores the number of the word: into a bool, or an enum.
static void read_choice(drill_reader *reader, const sm_column *column, const drill_value *value, void *into) {
    unsigned number = 0;
    for (const char *word = column->choices; *word != '\0'; number++) {
        size_t length = strcspn(word, " ");
        if (length == value->length && memcmp(word, value->text, length) == 0) {
            if (column->size == sizeof(bool))
                *(bool *)into = number != 0;
            else
                *(unsigned *)into = number;
            return;
        }
        word += length + strspn(word + length, " ");
    }
    drill_wrong(reader, value, 0, "value", "\"%.40s\" is not one of these words: %s", value->text,
                column->choices);
}

static void read_plain(drill_reader *reader, const sm_column *column, const drill_value *value, void *row) {
    void *into = (char *)row + column->offset;
    switch (column->kind) {
    case SM_CELL_INTEGER:
        read_integer(reader, column, value, into);
        break;
    case SM_CELL_SPAN:
        read_span(reader, column, value, into);
        break;
    case SM_CELL_CHOICE:
        read_choice(reader, column, value, into);
        break;
    default:
        *(const char **)into = value->text;
        break;
    }
}

// ---- values with a form of their own -----------------------------------------------------------------

static void read_judged_action(drill_reader *reader, const drill_value *value, sm_action *out) {
    if (drill_read_action(reader, value, out) && drill_is_stop(out->act))
        drill_wrong(reader, value, 0, "drill-stop",
                    "no drill may take marks for a stop; pause, safe, key off and quit are always right");
}

static const char *injection_name(size_t i) {
    return sm_inject_row_of((sm_inject)i)->name;
}

static void read_injection(drill_reader *reader, const drill_value *value, sm_injection *out) {
    char why[200];
    size_t at = 0;
    sm_text known = {0};
    if (!drill_is_known(value, SM_INJECT_COUNT, injection_name))
        drill_put_known(&known, SM_INJECT_COUNT, injection_name);
    if (sm_injection_read(reader->show, value->text, value->length, out, why, &at) != SM_OK)
        drill_wrong(reader, value, at, "drill-do", "%s%s", why, sm_text_get(&known));
    sm_text_deinit(&known);
}

static void read_special(drill_reader *reader, sm_drill_key key, const drill_value *value, uint32_t row) {
    sm_drill *d = reader->drill;
    switch (key) {
    case KEY_ANSWERS:
        drill_read_names(reader, value, d);
        break;
    case KEY_ENDS:
        drill_read_when(reader, value, &d->ends);
        break;
    case KEY_EVENT_WHEN:
        drill_read_when(reader, value, &d->events[row].when);
        break;
    case KEY_EVENT_DO:
        read_injection(reader, value, &d->events[row].injection);
        break;
    case KEY_EXPECT_AFTER:
        drill_read_when(reader, value, &d->expects[row].after);
        break;
    case KEY_EXPECT_ACTION:
        drill_read_action(reader, value, &d->expects[row].action);
        break;
    case KEY_NEVER_ACTION:
        read_judged_action(reader, value, &d->nevers[row].action);
        break;
    case KEY_NEVER_WHILE:
        drill_read_states(reader, value, &d->nevers[row].states);
        break;
    case KEY_BEFORE_ACTION:
        read_judged_action(reader, value, &d->befores[row].action);
        break;
    case KEY_BEFORE_NEEDS:
        drill_read_needs(reader, value, &d->befores[row]);
        break;
    case KEY_SPOKEN_AFTER:
        drill_read_when(reader, value, &d->spokens[row].after);
        break;
    case KEY_LEAD_AFTER:
        drill_read_when(reader, value, &d->leads[row].after);
        break;
    case KEY_LEAD_DO:
        d->leads[row].acts = true;
        drill_read_whole_action(reader, value, &d->leads[row].action);
        break;
    default:
        break;
    }
}

// ---- a section -----------------------------------------------------------------------------------------

static void *row_of(const drill_reader *reader, const section *s) {
    sm_drill *d = reader->drill;
    switch (s->kind) {
    case SECTION_EVENT:
        return &d->events[s->row];
    case SECTION_EXPECT:
        return &d->expects[s->row];
    case SECTION_NEVER:
        return &d->nevers[s->row];
    case SECTION_BEFORE:
        return &d->befores[s->row];
    case SECTION_SPOKEN:
        return &d->spokens[s->row];
    case SECTION_LEAD:
        return &d->leads[s->row];
    default:
        return d;
    }
}

static void name_row(const drill_reader *reader, const section *s) {
    sm_drill *d = reader->drill;
    switch (s->kind) {
    case SECTION_EVENT:
        d->events[s->row].name = s->name;
        d->events[s->row].line = s->line;
        break;
    case SECTION_EXPECT:
        d->expects[s->row].name = s->name;
        d->expects[s->row].line = s->line;
        break;
    case SECTION_NEVER:
        d->nevers[s->row].name = s->name;
        d->nevers[s->row].line = s->line;
        d->nevers[s->row].states = (1u << SM_STATE_COUNT) - 1u;
        break;
    case SECTION_BEFORE:
        d->befores[s->row].name = s->name;
        d->befores[s->row].line = s->line;
        break;
    case SECTION_SPOKEN:
        d->spokens[s->row].name = s->name;
        d->spokens[s->row].line = s->line;
        break;
    case SECTION_LEAD:
        d->leads[s->row].name = s->name;
        d->leads[s->row].line = s->line;
        break;
    default:
        break;
    }
}

static void read_key(drill_reader *reader, const section *s, sm_drill_key key, const sm_column *column) {
    const sm_ini_entry *entry = sm_ini_find(&reader->ini, s->whole, column->name);
    bool given = entry && entry->value[0] != '\0';
    if (!given && column->required) {
        sm_findings_add(reader->findings, reader->file, entry ? entry->line : s->line, 0, SM_ERROR,
                        "value-missing", "[%s] %s is needed: %s", s->whole, column->name, column->help);
        return;
    }
    static const sm_ini_entry nowhere = {0};
    drill_value value = {given ? entry->value : column->fallback, 0, given ? entry : &nowhere};
    value.length = strlen(value.text);
    if (column->kind != SM_CELL_SPECIAL)
        read_plain(reader, column, &value, row_of(reader, s));
    else if (given)
        read_special(reader, key, &value, s->row);
}

typedef struct key_names {
    const sm_column *first;
} key_names;

static const char *key_at(const void *context, size_t index) {
    return ((const key_names *)context)->first[index].name;
}

static void judge_keys(drill_reader *reader, const section *s, const sm_column *first, size_t count) {
    for (size_t i = 0; i < reader->ini.count; i++) {
        const sm_ini_entry *entry = &reader->ini.entries[i];
        if (!entry->key || strcmp(entry->section, s->whole) != 0)
            continue;
        bool known = false;
        for (size_t k = 0; k < count && !known; k++)
            known = strcmp(first[k].name, entry->key) == 0;
        if (known)
            continue;
        const key_names names = {first};
        const char *near = sm_nearest_name(entry->key, count, key_at, &names);
        refuse_section(reader, entry, "key-unknown", "[%s] has no key \"%s\"%s%s%s", s->whole, entry->key,
                       near ? "; did you mean " : "", near ? near : "", near ? "?" : "");
    }
}

static void judge_words(drill_reader *reader, const section *s) {
    const sm_ini_entry *entry = sm_ini_find(&reader->ini, s->whole, "words");
    if (s->kind != SECTION_EXPECT || !entry || entry->value[0] == '\0')
        return;
    drill_value value = {entry->value, strlen(entry->value), entry};
    sm_act act = reader->drill->expects[s->row].action.act;
    if (act != SM_ACT_ANSWER && act != SM_ACT_NOTE)
        drill_wrong(reader, &value, 0, "drill-words", "only an answer or a note has words to judge it by");
    else if (!drill_words_are_whole(entry->value))
        drill_wrong(reader, &value, 0, "drill-words",
                    "a word is missing between two commas or strokes; write stay/out/back, K");
}

static void read_section(drill_reader *reader, const section *s) {
    size_t count, first = 0;
    const sm_column *columns = sm_drill_schema(&count);
    while (strcmp(columns[first].section, kind_names[s->kind]) != 0)
        first++;
    size_t end = first;
    while (end < count && strcmp(columns[end].section, kind_names[s->kind]) == 0)
        end++;
    judge_keys(reader, s, columns + first, end - first);
    name_row(reader, s);
    for (size_t key = first; key < end; key++)
        read_key(reader, s, (sm_drill_key)key, &columns[key]);
    judge_words(reader, s);
}

static void read_sections(drill_reader *reader) {
    for (uint32_t i = 0; i < reader->section_count; i++)
        read_section(reader, &reader->sections[i]);
}

// ---- files ----------------------------------------------------------------------------------------------

static sm_drill *create(const sm_show *show, const char *file) {
    sm_arena *arena = sm_arena_create();
    sm_drill *drill = arena ? sm_arena_alloc(arena, sizeof *drill) : NULL;
    const char *slash = strrchr(file, '/'), *base = slash ? slash + 1 : file;
    size_t length = strlen(base);
    if (length > 4 && strcmp(base + length - 4, ".ini") == 0)
        length -= 4;
    const char *name = drill ? sm_arena_text(arena, base, length) : NULL;
    if (!name) {
        sm_arena_destroy(arena);
        return NULL;
    }
    drill->arena = arena;
    drill->show = show;
    drill->name = name;
    return drill;
}

void sm_drill_destroy(sm_drill *drill) {
    if (drill)
        sm_arena_destroy(drill->arena);
}

sm_result sm_drill_read(const sm_show *show, const char *file, char *bytes, size_t length,
                        sm_findings *findings, sm_drill **out) {
    size_t errors_before = sm_findings_count_of(findings, SM_ERROR);
    sm_drill *drill = create(show, file);
    if (!drill)
        return SM_NO_MEMORY;
    drill_reader reader = {.show = show, .drill = drill, .file = file, .findings = findings};
    sm_text_clean(file, bytes, length, findings);
    sm_result result = sm_ini_read(file, bytes, length, drill->arena, findings, &reader.ini);
    if (result == SM_OK)
        find_sections(&reader);
    if (result == SM_OK && !reader.no_memory)
        read_sections(&reader);
    if (reader.no_memory || sm_findings_failed(findings))
        result = SM_NO_MEMORY;
    if (result == SM_OK && sm_findings_count_of(findings, SM_ERROR) == errors_before)
        drill_refuse_rings(&reader);
    if (result == SM_OK && sm_findings_count_of(findings, SM_ERROR) == errors_before)
        drill_refuse_absent(&reader);
    if (result == SM_OK && sm_findings_count_of(findings, SM_ERROR) > errors_before)
        result = SM_INVALID;
    if (result == SM_OK && !drill_keep_whole(drill))
        result = SM_NO_MEMORY;
    if (result == SM_OK)
        *out = drill;
    else
        sm_drill_destroy(drill);
    return result;
}
