// SPDX-License-Identifier: GPL-3.0-or-later
// What a row fires or sets, however the table writes it, as cues.csv does: slots, fixtures and groups by name.
#include "import/work.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct address {
    import_work *work;
    const import_row *row;
    uint32_t column; // for findings
    sm_text out;     // names with a blank between
    uint32_t slots;
    bool is_bad;
} address;

static bool fail(address *a, const char *text, const char *what) {
    import_tell(a->work, SM_ERROR, a->row->line, a->column, "import-address", "\"%s\" %s", text, what);
    a->is_bad = true;
    return false;
}

static bool add(address *a, const char *name, bool is_slot) {
    sm_text_append(&a->out, " ", a->out.length > 0);
    sm_text_append(&a->out, name, strlen(name));
    a->slots += is_slot;
    return true;
}

// ---- rails and modules -------------------------------------------------------------------

static bool add_new_slot(address *a, const char *rail, int32_t number, bool is_module) {
    import_work *const work = a->work;
    void *rails = work->rails;
    char name[48];
    uint32_t at = 0;
    while (at < work->rail_count && strcmp(work->rails[at].name, rail) != 0)
        at++;
    if (at == work->rail_count) {
        const bool has_room = import_reserve(work, &rails, at, &work->rail_capacity, sizeof *work->rails);
        work->rails = rails;
        if (!has_room)
            return false;
        work->rails[work->rail_count++] =
            (import_rail){.name = import_keep(work, rail), .is_module = is_module};
    }
    if (number > work->rails[at].slots)
        work->rails[at].slots = number;
    const size_t length = strnlen(rail, 31);
    memcpy(name, rail, length);
    name[length] = '-';
    import_digits(name + length + 1, (uint64_t)number, 2);
    return add(a, name, true);
}

// Slot NUMBER of a rail, of the show or of one that is made.
static bool add_rail_slot(address *a, const char *rail, int32_t number, const char *as_written) {
    const sm_show *const show = a->work->show;
    char name[48];
    if (number < 1 || number > 9999)
        return fail(a, as_written, "is not the number of a slot");
    if (!show)
        return add_new_slot(a, rail, number, false);
    const uint32_t row = sm_rail_find(show, rail);
    if (row == SM_NONE)
        return fail(a, rail, "is no rail of the show");
    if (number > show->rails[row].slots)
        return fail(a, as_written, "is more slots than the rail has");
    return add(a, sm_slot_format(show, show->rails[row].slot_base + (uint32_t)number - 1, name), true);
}

static void ask_through(address *a, const char *text, int32_t slots) {
    const import_answer answers[] = {{NULL, "through-numbered"}};
    if (a->work->map.chosen[IMPORT_KEY_FORM] == IMPORT_THROUGH)
        fail(a, text, "is no slot of its module");
    else if (!a->work->is_form_asked)
        import_ask(a->work, a->row->line, a->column, IMPORT_KEY_FORM, answers, 1,
                   "slot \"%s\" of a module that has %d: are slots numbered through all modules?", text,
                   (int)slots);
    a->work->is_form_asked = a->is_bad = true;
}

static bool add_module_slot(address *a, const char *module_text, int32_t number, const char *as_written) {
    const sm_show *const show = a->work->show;
    const char *const module = import_module_read(a->work, module_text, a->row->line);
    char name[48];
    a->is_bad = a->is_bad || !module;
    if (!module)
        return false;
    if (number < 1 || number > 9999)
        return fail(a, as_written, "is not the number of a slot");
    if (!show)
        return add_new_slot(a, module, number, true);
    for (uint32_t i = 0; i < show->rail_count; i++) {
        const sm_rail *const rail = &show->rails[i];
        if (strcmp(show->modules[rail->module].name, module) == 0 && number >= rail->first &&
            number < rail->first + rail->slots)
            return add(a, sm_slot_format(show, rail->slot_base + (uint32_t)(number - rail->first), name),
                       true);
    }
    for (uint32_t i = 0; i < show->module_count; i++)
        if (strcmp(show->modules[i].name, module) == 0 && number > show->modules[i].slots) {
            ask_through(a, as_written, show->modules[i].slots);
            return false;
        }
    return fail(a, as_written, "is a slot of its module that no rail takes");
}

static void ask_slots_per_module(address *a, const char *text) {
    import_work *const work = a->work;
    import_answer answers[8];
    char numbers[8][16];
    size_t count = 0;
    a->is_bad = true;
    if (work->is_form_asked)
        return;
    for (uint32_t i = 0; work->show && i < work->show->module_count && count < 8; i++) {
        snprintf(numbers[count], sizeof numbers[0], "%d", (int)work->show->modules[i].slots);
        if (count == 0 || strcmp(numbers[count], numbers[count - 1]) != 0) {
            answers[count] = (import_answer){.value = numbers[count]};
            count++;
        }
    }
    if (count == 0)
        answers[count++] = (import_answer){.value = "24"};
    import_ask(work, a->row->line, a->column, IMPORT_KEY_SLOTS_PER_MODULE, answers, count,
               "\"%s\" is numbered through all modules: how many slots has each?", text);
    work->is_form_asked = true;
}

// A slot numbered through all modules. MODULE_TEXT, where not "", must agree.
static bool add_through(address *a, int32_t number, const char *as_written) {
    const int32_t each = a->work->map.slots_per_module;
    char module[16];
    if (each == 0) {
        ask_slots_per_module(a, as_written);
        return false;
    }
    if (number < 1)
        return fail(a, as_written, "is not the number of a slot");
    snprintf(module, sizeof module, "%d", (int)((number - 1) / each) + 1);
    return add_module_slot(a, module, (number - 1) % each + 1, as_written);
}

// ---- a list of slots beside their rail or module -----------------------------------------------

static bool add_number(address *a, const char *rail, const char *module, int32_t number,
                       const char *as_written) {
    if (a->work->map.chosen[IMPORT_KEY_FORM] == IMPORT_THROUGH && rail[0] == '\0')
        return add_through(a, number, as_written);
    return rail[0] != '\0' ? add_rail_slot(a, rail, number, as_written)
                           : add_module_slot(a, module, number, as_written);
}

// "3", "3-5": false where WORD is neither.
static bool read_span(const char *word, int32_t *first, int32_t *last) {
    char *end;
    const long from = strtol(word, &end, 10);
    if (!isdigit((unsigned char)word[0]) || from > 99999)
        return false;
    *first = *last = (int32_t)from;
    const size_t mark = strspn(end, "-.");
    if (*end == '\0' || mark == 0 || mark > 2 || !isdigit((unsigned char)end[mark]))
        return *end == '\0';
    const long to = strtol(end + mark, &end, 10);
    *last = to > 99999 ? 0 : (int32_t)to;
    return *end == '\0';
}

static bool add_beside(address *a, const char *rail, const char *module, const char *word) {
    int32_t first, last;
    if (!read_span(word, &first, &last))
        return fail(a, word,
                    a->column < a->row->count && a->row->cells[a->column].is == IMPORT_DATE
                        ? "is a date, which a spreadsheet made of what was typed; make the column text there "
                          "and write the slots again"
                        : "is not the number of a slot");
    if (last < first || last - first > 999)
        return fail(a, word, "is no range of slots");
    if (last > first && !a->work->is_range_told)
        import_tell(a->work, SM_NOTE, a->row->line, a->column, "import-guess",
                    "\"%s\" beside a rail or module is read as slots %d to %d", word, (int)first, (int)last);
    a->work->is_range_told = a->work->is_range_told || last > first;
    for (int32_t number = first; number <= last && !a->is_bad; number++)
        add_number(a, rail, module, number, word);
    return !a->is_bad;
}

// ---- words that stand alone ----------------------------------------------------------------

static bool is_known(const import_work *work, const char *word, bool *is_slot) {
    uint32_t slot;
    *is_slot = work->show && sm_slot_find(work->show, word, strlen(word), &slot) == SM_OK;
    return *is_slot || (work->show && (sm_fixture_find(work->show, word) != SM_NONE ||
                                       sm_group_find(work->show, word) != SM_NONE));
}

static bool add_known(address *a, const char *word, bool is_slot) {
    uint32_t slot;
    char name[48];
    if (is_slot && sm_slot_find(a->work->show, word, strlen(word), &slot) == SM_OK)
        return add(a, sm_slot_format(a->work->show, slot, name), true);
    return add(a, word, false);
}

// "A-05" of a new show, or "A5", "A/5" where that is a rail's name and a number.
static bool add_glued(address *a, const char *word) {
    char rail[32];
    size_t digits = strlen(word);
    while (digits > 0 && isdigit((unsigned char)word[digits - 1]))
        digits--;
    size_t length = digits;
    if (length > 0 && strchr("-_/.:#", word[length - 1]))
        length--;
    if (length == 0 || length > 31 || word[digits] == '\0')
        return false;
    snprintf(rail, sizeof rail, "%.*s", (int)length, word);
    if (a->work->show && sm_rail_find(a->work->show, rail) == SM_NONE)
        return false;
    if (!a->work->show &&
        rail[strspn(rail, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_")] != '\0')
        return false;
    if ((length == digits || word[length] != '-') && !a->work->is_glue_told) {
        import_tell(a->work, SM_NOTE, a->row->line, a->column, "import-guess",
                    "\"%s\" is read as slot %s of rail %s", word, word + digits, rail);
        a->work->is_glue_told = true;
    }
    add_rail_slot(a, rail, (int32_t)strtol(word + digits, NULL, 10), word);
    return true;
}

// The columns that nobody knows and that may name the rail or module: they hold a name or a number in this row.
static size_t columns_beside(const address *a, import_answer answers[8]) {
    import_work *const work = a->work;
    const import_row *const header = &work->sheet->rows[work->header];
    size_t count = 0;
    for (uint32_t i = 0; i < header->count && count + 2 <= 8; i++) {
        const char *const heading = import_text_at(work, header, i), *const text =
                                                                         import_text_at(work, a->row, i);
        if (work->roles[i] != IMPORT_NO_ROLE || heading[0] == '\0' || text[0] == '\0' || strlen(text) > 31 ||
            strpbrk(text, " .,;:+"))
            continue;
        answers[count++] = (import_answer){heading, "rail"};
        answers[count++] = (import_answer){heading, "module"};
    }
    return count;
}

static void ask_form(address *a, const char *word, bool is_pair) {
    const import_answer pair[] = {{NULL, "module-slot"}, {NULL, "range"}},
                        number[] = {{NULL, "through-numbered"}};
    import_answer beside[8];
    const size_t columns = is_pair ? 0 : columns_beside(a, beside);
    a->is_bad = true;
    if (a->work->is_form_asked)
        return;
    if (columns > 0) {
        import_ask(
            a->work, a->row->line, a->column, IMPORT_KEY_COLUMN, beside, columns,
            "\"%s\" is a number without a rail or module; where slots are not numbered through all modules "
            "([address] form = through-numbered), which column tells its rail or module?",
            word);
        import_offer_add(a->work, IMPORT_KEY_FORM, number[0]);
    } else if (is_pair)
        import_ask(
            a->work, a->row->line, a->column, IMPORT_KEY_FORM, pair, 2,
            "\"%s\" can be a module and its slot, or slots from one to another, numbered through all modules",
            word);
    else
        import_ask(a->work, a->row->line, a->column, IMPORT_KEY_FORM, number, 1,
                   "\"%s\" is a number without a rail or module: are slots numbered through all modules?",
                   word);
    a->work->is_form_asked = true;
}

// Digits, or digits, a mark and digits.
static bool add_numeric(address *a, const char *word) {
    const unsigned form = a->work->map.chosen[IMPORT_KEY_FORM];
    const size_t digits = strspn(word, "0123456789"), marks = strspn(word + digits, "-/.:");
    const bool is_pair = digits > 0 && marks > 0 && isdigit((unsigned char)word[digits + marks]);
    int32_t first, last;
    char module[16];
    if (digits == 0 || digits > 9 ||
        (word[digits] != '\0' &&
         (!is_pair || word[digits + marks + strspn(word + digits + marks, "0123456789")] != '\0')))
        return false;
    if (is_pair && form == IMPORT_MODULE_SLOT) {
        snprintf(module, sizeof module, "%.*s", (int)digits, word);
        return add_module_slot(a, module, (int32_t)strtol(word + digits + marks, NULL, 10), word) || true;
    }
    if ((is_pair && form != IMPORT_RANGE && form != IMPORT_THROUGH) ||
        (!is_pair && form != IMPORT_THROUGH && form != IMPORT_RANGE)) {
        ask_form(a, word, is_pair);
        return true;
    }
    if (!read_span(word, &first, &last) || last < first || last - first > 999)
        return fail(a, word, "is no range of slots") || true;
    for (int32_t at = first; at <= last && !a->is_bad; at++)
        add_through(a, at, word);
    return true;
}

static void add_word(address *a, const char *word) {
    bool is_slot;
    if (is_known(a->work, word, &is_slot))
        add_known(a, word, is_slot);
    else if (!add_numeric(a, word) && !add_glued(a, word))
        fail(a, word,
             a->work->show ? "is no slot, fixture or group of the show" : "is no slot, such as A-05");
}

// Words lie between blanks, commas, semicolons, '+', '&' and line ends; a rail's name and a number are one.
static void add_words(address *a, const char *text, const char *rail, const char *module) {
    static const char between[] = " ,;+&\n\r\t";
    char word[128];
    const bool is_beside = rail[0] != '\0' || module[0] != '\0';
    for (text += strspn(text, between); *text != '\0' && !a->is_bad; text += strspn(text, between)) {
        size_t length = strcspn(text, between);
        const char *const next = text + length + strspn(text + length, " ");
        if (length >= 64) {
            fail(a, text, "is too long for a name");
            return;
        }
        memcpy(word, text, length);
        word[length] = '\0';
        const size_t digits = strspn(next, "0123456789");
        if (!is_beside && digits > 0 && digits < 6 && strchr(" ,;+&\n\r\t", next[digits]) &&
            next > text + length && a->work->show && sm_rail_find(a->work->show, word) != SM_NONE) {
            snprintf(word + length, sizeof word - length, "-%.*s", (int)digits, next);
            length = (size_t)(next - text) + digits;
        }
        if (is_beside)
            add_beside(a, rail, module, word);
        else
            add_word(a, word);
        text += length;
    }
}

const char *import_address_read(import_work *work, const import_row *row, uint32_t *slots) {
    const char *const target = import_text_of(work, row, IMPORT_TARGET), *const slot = import_text_of(
                                                                             work, row, IMPORT_SLOT);
    const char *const rail = import_text_of(work, row, IMPORT_RAIL), *const module = import_text_of(
                                                                         work, row, IMPORT_MODULE);
    const bool has_slot = slot[0] != '\0';
    char room[128] = "";
    address a = {.work = work,
                 .row = row,
                 .column = work->columns[has_slot ? IMPORT_SLOT : IMPORT_TARGET],
                 .out = SM_TEXT_IN(room)};
    if (has_slot)
        add_words(&a, slot, rail, module);
    else if (target[0] != '\0')
        add_words(&a, target, "", "");
    else
        fail(&a, rail, "stands without a slot");
    work->no_memory = work->no_memory || a.out.failed;
    if (!a.is_bad && a.out.length == 0)
        fail(&a, has_slot ? slot : target, "names nothing");
    const char *const kept = a.is_bad ? NULL : import_keep(work, sm_text_get(&a.out));
    *slots = a.slots;
    sm_text_deinit(&a.out);
    return kept;
}
