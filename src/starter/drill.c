// SPDX-License-Identifier: GPL-3.0-or-later
// The drill of a new show, its keys explained by the schema where each comes first.
#include "slowmatch/drill.h"

#include "starter/plan.h"

#include <string.h>

// Common practice of small crews, no source. A drill that names no slot, so that it fits any show.
static const char drill[] =
    "; SPDX-License-Identifier: GPL-3.0-or-later\n"
    "; A drill to begin with: slowmatch drill SHOW first-evening. Every [event] makes something happen, "
    "every [expect] asks for\n"
    "; something within a time. Change first: who answers, in answers and in the events. Seconds and marks "
    "are judgement.\n"
    "; Can it be earned? slowmatch drill SHOW --check first-evening. All keys: man 5 slowmatch-drill.\n"
    "\n"
    "[drill]\n"
    "title = First evening\n"
    "brief = You are the lead: you have the key. K and M are in the field; the rails are plugged.\n"
    "brief-2 = Wait until both have answered, then clear, key on, arm, start. Told that it is enough: safe, "
    "key off.\n"
    "answers = K, M\n"
    "pass = 80\n"
    "seed = 1\n"
    "hints = full\n"
    "\n"
    "[event k-answers]\n"
    "when = begin + 3 s\n"
    "do = call K Out, and outside.\n"
    "\n"
    "[event m-answers]\n"
    "when = begin + 8 s\n"
    "do = call M Here, outside.\n"
    "\n"
    "[expect clear]\n"
    "after = m-answers\n"
    "action = call-clear\n"
    "within = 3 min\n"
    "marks = 20\n"
    "late = none\n"
    "hint = Everyone has answered: call clear with your name.\n"
    "say = Clear is an answer from every person. Silence is not an answer.\n"
    "\n"
    "[before order]\n"
    "action = arm\n"
    "needs = call-clear, key on\n"
    "marks = 20\n"
    "say = Clear, key, arm. If you are interrupted, start the order again.\n"
    "\n"
    "[event enough]\n"
    "when = running + 10 s\n"
    "do = call K That is enough for tonight, thank you.\n"
    "\n"
    "[expect finish]\n"
    "after = enough\n"
    "action = safe\n"
    "within = 30 s\n"
    "marks = 20\n"
    "hint = That is enough for tonight: make safe.\n"
    "say = You may make safe at any moment without giving a reason.\n"
    "\n"
    "[expect key-out]\n"
    "after = enough\n"
    "action = key off\n"
    "within = 45 s\n"
    "marks = 20\n"
    "hint = Turn the key off, take it out, say where it is.\n"
    "say = Safe with the key in is half way.\n";

#define COMMENT_COLUMNS 120

static void put_comment(sm_text *out, const char *key, const char *help) {
    sm_text_printf(out, "; %s:", key);
    size_t x = strlen(key) + 3;
    for (const char *word = help; *word != '\0';) {
        const size_t length = strcspn(word, " ");
        if (x + 1 + length > COMMENT_COLUMNS) {
            sm_text_printf(out, "\n;  ");
            x = 3;
        }
        sm_text_printf(out, " %.*s", (int)length, word);
        x += 1 + length;
        word += length + strspn(word + length, " ");
    }
    sm_text_append(out, "\n", 1);
}

// The column of the key in LINE, in a section that begins with SECTION; COUNT where there is none.
static size_t column_of(const sm_column *columns, size_t count, const char *section, const char *line) {
    size_t i = 0;
    const size_t length = strcspn(line, " =\n");
    while (i < count && (strncmp(section, columns[i].section, strlen(columns[i].section)) != 0 ||
                         strncmp(line, columns[i].name, length) != 0 || columns[i].name[length] != '\0'))
        i++;
    return i;
}

void starter_put_drill(plan *p, sm_text *out) {
    (void)p;
    size_t count;
    const sm_column *columns = sm_drill_schema(&count);
    const char *section = "";
    bool told[64] = {false};
    for (const char *line = drill, *end; *line != '\0'; line = end + 1) {
        end = strchr(line, '\n');
        section = line[0] == '[' ? line + 1 : section;
        const size_t column = strchr(";[\n", line[0]) ? count : column_of(columns, count, section, line);
        if (column < count && column < sizeof told / sizeof told[0] && !told[column]) {
            told[column] = true;
            put_comment(out, columns[column].name, columns[column].help);
        }
        sm_text_append(out, line, (size_t)(end - line) + 1);
    }
}
