// SPDX-License-Identifier: GPL-3.0-or-later
// What texts of the table stand for: effects and modules. Only a name of the show, or an answer of the map, tells.
#include "import/work.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

enum { MEANINGS_MAX = 1000 };

static bool is_name(const char *text) {
    const size_t length = strlen(text);
    return length > 0 && length <= 31 &&
           strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") == length;
}

// The entry of TEXT, made where there is none; *is_new tells. NULL: memory ran out.
static import_meaning *enter(import_work *work, import_meanings *to, const char *text, uint32_t line,
                             bool *is_new) {
    void *items = to->items;
    char key[IMPORT_KEY_BYTES], other[IMPORT_KEY_BYTES];
    *is_new = false;
    for (uint32_t i = 0; i < to->count; i++)
        if (strcmp(to->items[i].text, text) == 0) {
            to->items[i].count++;
            return &to->items[i];
        }
    import_map_key_of(text, key);
    for (uint32_t i = 0; i < to->count; i++)
        if (strcasecmp(import_map_key_of(to->items[i].text, other), key) == 0)
            import_tell(
                work, SM_ERROR, line, UINT32_MAX, "import-text",
                "\"%s\" and \"%s\" (line %u) would be one key of the map; write them alike, or less alike",
                text, to->items[i].text, (unsigned)to->items[i].first_line);
    if (to->count == MEANINGS_MAX) {
        if (!work->is_full_told)
            import_tell(work, SM_ERROR, line, UINT32_MAX, "import-text",
                        "more than %d different effects or modules; is this the right column?", MEANINGS_MAX);
        work->is_full_told = true;
        return NULL;
    }
    const bool has_room = import_reserve(work, &items, to->count, &to->capacity, sizeof *to->items);
    to->items = items;
    if (!has_room)
        return NULL;
    *is_new = true;
    to->items[to->count] = (import_meaning){.text = import_keep(work, text), .first_line = line, .count = 1};
    return &to->items[to->count++];
}

static const char *module_named(const import_work *work, const char *text) {
    for (uint32_t i = 0; work->show && i < work->show->module_count; i++)
        if (strcmp(work->show->modules[i].name, text) == 0)
            return work->show->modules[i].name;
    return !work->show && is_name(text) ? text : NULL;
}

static const char *effect_named(const import_work *work, const char *text) {
    const uint32_t row = work->show ? sm_effect_find(work->show, text) : SM_NONE;
    if (row != SM_NONE)
        return work->show->effects[row].name;
    return !work->show && is_name(text) ? text : NULL;
}

// What stands for the letter at TEXT in a name, and its bytes; NULL: nothing.
static const char *plain_letters(const char *text, size_t *length) {
    static const char *const letters[][2] = {{"ä", "ae"}, {"ö", "oe"}, {"ü", "ue"}, {"ß", "ss"}, {"Ä", "ae"},
                                             {"Ö", "oe"}, {"Ü", "ue"}, {"é", "e"},  {"è", "e"},  {"ê", "e"},
                                             {"à", "a"},  {"á", "a"},  {"í", "i"},  {"ó", "o"},  {"ú", "u"},
                                             {"ñ", "n"},  {"ç", "c"},  {"å", "a"},  {"ø", "o"},  {"æ", "ae"}};
    for (size_t i = 0; i < sizeof letters / sizeof letters[0]; i++) {
        *length = strlen(letters[i][0]);
        if (strncmp(text, letters[i][0], *length) == 0)
            return letters[i][1];
    }
    *length = 1;
    return NULL;
}

// A name made of a text, for a new show. False: it was cut, or a letter of it has no place in a name.
static bool make_name(const char *text, char out[32]) {
    size_t length = 0, step;
    bool is_whole = true;
    for (; *text != '\0' && length < 30; text += step) {
        const char *const letters = plain_letters(text, &step);
        const char c = *text >= 'A' && *text <= 'Z' ? (char)(*text - 'A' + 'a') : *text;
        if (letters)
            length += (size_t)snprintf(out + length, 3, "%s", letters);
        else if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9'))
            out[length++] = c;
        else if (length > 0 && out[length - 1] != '-')
            out[length++] = '-';
        is_whole = is_whole && (letters || (unsigned char)c < 0x80);
    }
    is_whole = is_whole && *text == '\0';
    while (length > 0 && out[length - 1] == '-')
        length--;
    out[length] = '\0';
    return is_whole && length > 0;
}

// The one effect of the show that is TEXT but for capitals, blanks and marks; NULL: there is none, or more.
static const char *effect_spelled(const import_work *work, const char *text) {
    const char *found = NULL;
    char wanted[32], made[32];
    (void)make_name(text, wanted);
    for (uint32_t i = 0; i < work->show->effect_count; i++) {
        (void)make_name(work->show->effects[i].name, made);
        if (strcmp(wanted, made) != 0)
            continue;
        if (found)
            return NULL;
        found = work->show->effects[i].name;
    }
    return found;
}

// In a new show there is nothing that a text could mean but itself: it gets a name of its own letters, where no other text has that.
static const char *name_made(const import_work *work, const import_meanings *in, import_key key,
                             const char *text) {
    char made[32], name[48];
    if (!make_name(text, made))
        return NULL;
    const bool is_number = key == IMPORT_KEY_MODULE && made[strspn(made, "0123456789")] == '\0';
    const int length = snprintf(name, sizeof name, "%s%s", is_number ? "module-" : "", made);
    for (uint32_t i = 0; i < in->count; i++)
        if (in->items[i].name && strcmp(in->items[i].name, name) == 0)
            return NULL;
    return length <= 31 ? sm_arena_text(work->arena, name, (size_t)length) : NULL;
}

static const char *guess_name(import_work *work, const import_meanings *in, import_key key, const char *text,
                              uint32_t line) {
    const char *name = NULL;
    if (!work->show)
        name = name_made(work, in, key, text);
    else if (key == IMPORT_KEY_EFFECT)
        name = effect_spelled(work, text);
    if (name)
        import_tell(work, SM_NOTE, line, UINT32_MAX, "import-guess",
                    work->show ? "\"%s\" is read as the effect %s, which differs in capitals or marks alone"
                               : "\"%s\" is called %s in the new show, by its own letters",
                    text, name);
    return name;
}

typedef const char *(*named)(const import_work *work, const char *text);

static const char *meaning_of(import_work *work, import_meanings *in, import_key key, named find,
                              const char *text, uint32_t line) {
    bool is_new;
    import_meaning *const entry = enter(work, in, text, line, &is_new);
    if (!entry || !is_new)
        return entry ? entry->name : NULL;
    const char *const told = import_map_value(&work->map, key, text);
    const char *const name = find(work, told ? told : text);
    entry->name = name ? import_keep(work, name) : NULL;
    if (told && !name)
        import_tell(work, SM_ERROR, line, UINT32_MAX, "import-map",
                    "the map says that \"%s\" is \"%s\", and %s", text, told,
                    work->show ? "the show has none of that name"
                               : "that is no name: letters, digits, - and _, at most 31");
    // A number may be the name of one module and the place of another.
    if (!told && name && key == IMPORT_KEY_MODULE && text[strspn(text, "0123456789")] == '\0')
        entry->name = NULL;
    if (!told && !entry->name)
        entry->name = guess_name(work, in, key, text, line);
    return entry->name;
}

const char *import_effect_read(import_work *work, const char *text, uint32_t line) {
    return meaning_of(work, &work->effects, IMPORT_KEY_EFFECT, effect_named, text, line);
}

const char *import_module_read(import_work *work, const char *text, uint32_t line) {
    return meaning_of(work, &work->modules, IMPORT_KEY_MODULE, module_named, text, line);
}

// ---- asking ------------------------------------------------------------------------------

static const char *effect_at(const void *context, size_t index) {
    return ((const sm_show *)context)->effects[index].name;
}

// How many words of three letters or more of NAME are in TEXT.
static unsigned shared_words(const char *text, const char *name) {
    unsigned count = 0;
    for (const char *word = name; *word != '\0';) {
        const size_t length = strcspn(word, "-_ ");
        const char *at = text;
        while (length >= 3 && *at != '\0' && strncasecmp(at, word, length) != 0)
            at++;
        count += length >= 3 && *at != '\0';
        word += length + strspn(word + length, "-_ ");
    }
    return count;
}

enum { ANSWERS_MAX = 16, WORDS_MAX = 8 };

// All effects where they are few, else those that share a word with the text; those that share most come first.
static size_t offer_effects(const sm_show *show, const char *text, import_answer answers[ANSWERS_MAX]) {
    const unsigned least = show->effect_count <= ANSWERS_MAX ? 0 : 1;
    size_t count = 0;
    for (unsigned shared = WORDS_MAX + 1; shared-- > least;)
        for (uint32_t i = 0; i < show->effect_count && count < ANSWERS_MAX; i++)
            if (shared_words(text, show->effects[i].name) == shared)
                answers[count++] = (import_answer){text, show->effects[i].name};
    const char *const nearest = sm_nearest_name(text, show->effect_count, effect_at, show);
    if (count == 0 && nearest)
        answers[count++] = (import_answer){text, nearest};
    return count;
}

static void ask(import_work *work, import_key key, const import_meaning *about) {
    import_answer answers[ANSWERS_MAX];
    char made[32];
    size_t count = 0;
    const bool is_effect = key == IMPORT_KEY_EFFECT;
    (void)make_name(about->text, made);
    if (!work->show) {
        char name[40];
        snprintf(name, sizeof name, "%s%s",
                 is_effect || made[strspn(made, "0123456789")] != '\0' ? "" : "module-", made);
        answers[count++] = (import_answer){about->text, import_keep(work, made[0] != '\0' ? name : "name")};
    } else if (is_effect) {
        count = offer_effects(work->show, about->text, answers);
    } else {
        for (uint32_t i = 0; i < work->show->module_count && count < ANSWERS_MAX; i++)
            answers[count++] = (import_answer){about->text, work->show->modules[i].name};
    }
    if (count == 0)
        answers[count++] =
            (import_answer){about->text, is_effect ? "an effect of effects.csv" : "a module of modules.csv"};
    import_ask(work, about->first_line, UINT32_MAX, key, answers, count, "which %s is \"%s\" (%u row%s)?",
               is_effect ? "effect" : "module", about->text, (unsigned)about->count,
               about->count == 1 ? "" : "s");
}

void import_meanings_ask(import_work *work) {
    for (uint32_t i = 0; i < work->modules.count; i++)
        if (!work->modules.items[i].name &&
            !import_map_value(&work->map, IMPORT_KEY_MODULE, work->modules.items[i].text))
            ask(work, IMPORT_KEY_MODULE, &work->modules.items[i]);
    for (uint32_t i = 0; i < work->effects.count; i++)
        if (!work->effects.items[i].name &&
            !import_map_value(&work->map, IMPORT_KEY_EFFECT, work->effects.items[i].text))
            ask(work, IMPORT_KEY_EFFECT, &work->effects.items[i]);
}
