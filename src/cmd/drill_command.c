// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch drill SHOW [DRILL]: the course, or one drill taken.
#include "cmd/cmd.h"
#include "cmd/headless.h"

#include "slowmatch/console.h"
#include "slowmatch/drill.h"
#include "slowmatch/json.h"
#include "slowmatch/logbook.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

typedef struct drill_call {
    headless_call shared;
    const char *crew, *seed, *seat, *check;
    bool json, instructor;
    sm_drill_seat as; // SEAT, lead where it is not given
} drill_call;

// A drill of SHOW, its findings printed. NULL: a message was printed.
static sm_drill *open_drill(const sm_show *show, const char *name) {
    sm_findings *findings = sm_findings_create();
    sm_drill *drill = NULL;
    sm_result result = findings ? sm_drill_load(show, name, findings, &drill) : SM_NO_MEMORY;
    if (findings)
        cmd_print_findings(STDERR_FILENO, show->folder, findings);
    if (result == SM_UNREADABLE)
        cmd_complain("%s/drills/%s.ini: %s; slowmatch drill %s lists the drills", show->folder, name,
                     strchr(name, '/') ? "a drill is named without a folder" : sm_file_why(errno),
                     show->folder);
    else if (result == SM_NO_MEMORY)
        cmd_complain("memory ran out");
    sm_findings_destroy(findings);
    return drill;
}

// ---- the course -----------------------------------------------------------------------------

// A drill in one seat. The first that was never passed is the next one to take.
typedef struct course_row {
    sm_drill *drill;
    bool asked; // whose results are shown was said
    sm_logbook_best best[SM_SEAT_COUNT];
    bool next[SM_SEAT_COUNT];
} course_row;

#define LIST_COLUMNS 80

// TEXT in lines of at most LIST_COLUMNS, broken between words, each after INDENT blanks.
static void print_wrapped(const char *text, int indent) {
    int x = 0;
    for (const char *word = text; *word != '\0';) {
        int bytes = (int)strcspn(word, " ");
        int width = (int)sm_utf8_count(word, (size_t)bytes);
        bool breaks = x > 0 && x + 1 + width > LIST_COLUMNS;
        bool begins = x == 0 || breaks;
        cmd_say("%s%*s%.*s", breaks ? "\n" : "", begins ? indent : 1, "", bytes, word);
        x = (begins ? indent : x + 1) + width;
        word += bytes;
        word += strspn(word, " ");
    }
    if (x > 0)
        cmd_say("\n");
}

static void print_seat(const course_row *row, sm_drill_seat seat) {
    const sm_logbook_best *best = &row->best[seat];
    cmd_say("    as %s", sm_drill_seat_text(seat));
    if (best->taken > 0)
        cmd_say(": best of %lld: %d%s", (long long)best->taken, best->best,
                best->passed ? ", mark reached" : "");
    else if (row->asked)
        cmd_say(": not taken yet");
    cmd_say("%s\n", row->next[seat] ? "   <- next" : "");
}

static void print_for_people(const course_row *row) {
    const sm_drill *drill = row->drill;
    cmd_say("%-24s %s\n", drill->name, drill->title);
    for (uint32_t i = 0; i < drill->brief_count; i++)
        print_wrapped(drill->briefs[i], 4);
    cmd_say("    the drill's mark: %d, hints: %s\n", drill->pass, sm_drill_hints_text(drill->hints));
    for (int seat = 0; seat < SM_SEAT_COUNT; seat++)
        if (sm_drill_has_seat(drill, (sm_drill_seat)seat))
            print_seat(row, (sm_drill_seat)seat);
}

static void print_json(const course_row *row, sm_drill_seat seat) {
    sm_drill *drill = row->drill;
    sm_text text = {0}, brief = {0};
    for (uint32_t i = 0; i < SM_DRILL_BRIEFS && drill->told[seat][i] && drill->told[seat][i][0] != '\0'; i++)
        sm_text_printf(&brief, "%s%s", i > 0 ? " " : "", drill->told[seat][i]);
    sm_json json = sm_json_line_open(&text);
    sm_json_text(&json, "drill", drill->name);
    sm_json_text(&json, "seat", sm_drill_seat_text(seat));
    sm_json_text(&json, "title", drill->title);
    sm_json_text(&json, "brief", sm_text_get(&brief));
    sm_json_integer(&json, "pass", drill->pass);
    sm_json_text(&json, "hints", sm_drill_hints_text(drill->hints));
    sm_json_integer(&json, "taken", row->best[seat].taken);
    sm_json_fixed(&json, "best", 0, row->best[seat].taken > 0 ? row->best[seat].best : (double)NAN);
    sm_json_bool(&json, "reached", row->best[seat].passed);
    sm_json_bool(&json, "next", row->next[seat]);
    sm_json_line_close(&json);
    cmd_put(stdout, sm_text_get(&text), text.length);
    sm_text_deinit(&brief);
    sm_text_deinit(&text);
}

static void print_row(const course_row *row, bool json) {
    if (!json)
        print_for_people(row);
    for (int seat = 0; json && seat < SM_SEAT_COUNT; seat++)
        if (sm_drill_has_seat(row->drill, (sm_drill_seat)seat))
            print_json(row, (sm_drill_seat)seat);
}

// The logbook to look for results in; NULL where nobody is named or none is there yet.
static sm_logbook *open_results(const drill_call *call) {
    const char *given = call->shared.run.logbook_path;
    char *path = call->crew ? cmd_logbook_path(given) : NULL;
    bool there = path && (given || access(path, F_OK) == 0);
    free(path);
    return there ? cmd_logbook_open(given, false) : NULL;
}

static void look_up(sm_logbook *results, const drill_call *call, const sm_show *show, course_row *row) {
    row->asked = call->crew != NULL;
    for (int seat = 0; results && seat < SM_SEAT_COUNT; seat++)
        if (sm_logbook_best_of(results, show->settings.title, call->crew, row->drill->name,
                               sm_drill_seat_text((sm_drill_seat)seat), &row->best[seat]) != SM_OK)
            cmd_complain("%s", sm_logbook_problem(results));
}

// The next to take: drill by drill, as lead and then as spotter; with --seat in that seat alone.
static void find_next(const drill_call *call, course_row *row, bool *said) {
    for (int seat = 0; row->asked && seat < SM_SEAT_COUNT; seat++) {
        bool wanted = !call->seat || call->as == (sm_drill_seat)seat;
        row->next[seat] =
            wanted && !*said && !row->best[seat].passed && sm_drill_has_seat(row->drill, (sm_drill_seat)seat);
        *said = *said || row->next[seat];
    }
}

static int list_drills(const drill_call *call, const sm_show *show, const char *const *names, size_t count) {
    int status = CMD_GOOD;
    bool next_said = false;
    sm_logbook *results = open_results(call);
    for (size_t i = 0; i < count; i++) {
        sm_drill *drill = open_drill(show, names[i]);
        course_row row = {.drill = drill};
        if (!drill) {
            status = CMD_UNUSABLE;
            continue;
        }
        look_up(results, call, show, &row);
        find_next(call, &row, &next_said);
        print_row(&row, call->json);
        sm_drill_destroy(drill);
    }
    sm_logbook_close(results);
    return status;
}

static int list_course(const drill_call *call, const sm_show *show) {
    bool json = call->json;
    sm_arena *arena = sm_arena_create();
    const char *const *names = NULL;
    size_t count = 0;
    sm_result result = arena ? sm_drill_names(show, arena, &names, &count) : SM_NO_MEMORY;
    int status = CMD_GOOD;
    if (result != SM_OK) {
        cmd_complain("%s/drills: %s", show->folder,
                     result == SM_UNREADABLE ? sm_file_why(errno) : sm_result_text(result));
        status = CMD_UNUSABLE;
    } else if (count == 0 && !json) {
        cmd_say("%s has no drills; a drill is a file drills/NAME.ini\n", show->folder);
    }
    if (result == SM_OK)
        status = list_drills(call, show, names, count);
    if (count > 0 && !json) {
        cmd_say("\n");
        if (!call->crew)
            print_wrapped("With --crew NAME: the best results of NAME, and which to take next.", 0);
        print_wrapped(sm_drill_caution(), 0);
    }
    sm_arena_destroy(arena);
    return status;
}

// The drill that GIVEN means: a file's whole name, else what follows its number ("first-arming"), or that number ("1"). Copied into NAME.
static void find_drill(const sm_show *show, const char *given, char name[128]) {
    sm_arena *arena = sm_arena_create();
    const char *const *names = NULL;
    size_t count = 0;
    snprintf(name, 128, "%s", given);
    if (arena && sm_drill_names(show, arena, &names, &count) == SM_OK)
        for (size_t i = count; i-- > 0;) {
            if (strcmp(names[i], given) == 0) {
                snprintf(name, 128, "%s", given);
                break;
            }
            size_t digits = strspn(names[i], "0123456789");
            bool by_rest = digits > 0 && names[i][digits] == '-' && strcmp(names[i] + digits + 1, given) == 0;
            bool by_number =
                digits > 0 && strspn(given, "0123456789") == strlen(given) && atoi(given) == atoi(names[i]);
            if (by_rest || by_number)
                snprintf(name, 128, "%s", names[i]);
        }
    sm_arena_destroy(arena);
}

// ---- one drill --------------------------------------------------------------------------------

static bool read_seed(const char *text, uint64_t *out) {
    char *end = NULL;
    errno = 0;
    unsigned long long number = strtoull(text, &end, 10);
    if (text[0] < '0' || text[0] > '9' || *end != '\0' || errno != 0) {
        cmd_complain("--seed %s is no whole number from 0 on", text);
        return false;
    }
    *out = number;
    return true;
}

// The drill's own, so that a course is the same for all; an assessment on the clock draws a new one, so that nobody learns its moments by
// heart. The debrief says which it was.
static bool choose_seed(const drill_call *call, const sm_drill *drill, uint64_t *out) {
    if (call->seed)
        return read_seed(call->seed, out);
    *out = (uint64_t)drill->seed;
    struct timespec now;
    if (drill->hints == SM_HINTS_NONE && !call->shared.run.fast && clock_gettime(CLOCK_REALTIME, &now) == 0)
        *out = ((uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec) % 1000000000u;
    return true;
}

static bool take_seat(const drill_call *call, sm_drill *drill) {
    bool crew = call->shared.run.seats && call->as == SM_SEAT_LEAD;
    sm_result result = crew ? sm_drill_sit_crew(drill) : sm_drill_sit(drill, call->as);
    if (result == SM_NOT_FOUND)
        cmd_complain("drill %s says nothing of the %s's seat; take it without --seat", drill->name,
                     sm_drill_seat_text(call->as));
    else if (result != SM_OK)
        cmd_complain("memory ran out");
    return result == SM_OK;
}

// The questions that were not put on the console: the debrief asks before it shows. Nobody is asked in a real emergency.
static void ask_what_is_left(const sm_debrief *debrief) {
    char answer[512];
    bool any = false;
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS && !debrief->broken_off; i++) {
        if ((debrief->asked & 1u << i) != 0)
            continue;
        if (!any)
            cmd_say("Before the debrief shows anything (Enter goes on; what you type here is not kept):\n");
        any = true;
        cmd_say("\n%s\n> ", sm_drill_question(i));
        fflush(stdout);
        if (!fgets(answer, sizeof answer, stdin))
            break;
    }
    if (any)
        cmd_say("\n");
}

// On the console; then, on the plain terminal, the questions come before what there is to read.
static int take_on_console(const drill_call *call, bool lines, const headless_drill *taken) {
    sm_drill_taken drill = {.drill = taken->drill, .seed = taken->seed, .crew = taken->crew};
    int status = headless_run_console(&call->shared.run, lines, &drill);
    if (status == CMD_GOOD && drill.taken) {
        sm_text text = {0};
        ask_what_is_left(drill.debrief);
        sm_debrief_text(drill.debrief, cmd_columns(), &text);
        cmd_put(stdout, sm_text_get(&text), text.length);
        sm_text_deinit(&text);
        status = drill.passed ? CMD_GOOD : CMD_FINDINGS;
    }
    sm_debrief_destroy(drill.debrief);
    sm_text_deinit(&drill.json);
    return status;
}

static int take(drill_call *call, const char *name) {
    headless_options *run = &call->shared.run;
    char found[128];
    find_drill(run->show, name, found);
    sm_drill *drill = open_drill(run->show, found);
    headless_drill taken = {.drill = drill, .crew = call->crew, .json = call->json};
    int status = CMD_UNUSABLE;
    headless_how how = drill ? headless_choose(&call->shared) : HEADLESS_REFUSED;
    if (how != HEADLESS_REFUSED && take_seat(call, drill) && choose_seed(call, drill, &taken.seed)) {
        run->drill = &taken;
        // Either takes the show over.
        status =
            how == HEADLESS_LOG ? headless_run(run) : take_on_console(call, how == HEADLESS_LINES, &taken);
        run->show = NULL;
        run->drill = NULL;
    }
    sm_drill_destroy(drill);
    return status;
}

// ---- checking ---------------------------------------------------------------------------------

// A file of any name, else a drill of the show.
static sm_drill *open_given(const sm_show *show, const char *given) {
    if (!strchr(given, '/') && !strstr(given, ".ini")) {
        char name[128];
        find_drill(show, given, name);
        return open_drill(show, name);
    }
    sm_findings *findings = sm_findings_create();
    sm_drill *drill = NULL;
    char *bytes = NULL;
    size_t length = 0;
    const sm_result result = findings ? sm_file_read(given, &bytes, &length) : SM_NO_MEMORY;
    if (result != SM_OK)
        cmd_complain("%s: %s", given, result == SM_UNREADABLE ? sm_file_why(errno) : sm_result_text(result));
    else if (sm_drill_read(show, given, bytes, length, findings, &drill) == SM_NO_MEMORY)
        cmd_failed(given, SM_NO_MEMORY);
    if (findings)
        cmd_print_findings(STDERR_FILENO, "", findings);
    free(bytes);
    sm_findings_destroy(findings);
    return drill;
}

static int check_seat(sm_drill *drill, sm_drill_seat seat, const char *file) {
    sm_findings *findings = sm_findings_create();
    sm_text script = {0};
    int best = 0;
    sm_result result = findings ? sm_drill_sit(drill, seat) : SM_NO_MEMORY;
    if (result == SM_OK)
        result = sm_drill_check(drill, file, findings, &best, &script);
    if (result != SM_OK)
        cmd_complain("%s", sm_result_text(result));
    else if (best >= 100)
        cmd_say("# %s as %s: a run with 100\n%s", drill->name, sm_drill_seat_text(seat),
                sm_text_get(&script));
    else
        cmd_say("# %s as %s: no run with 100 was found; the best, with %d\n%s", drill->name,
                sm_drill_seat_text(seat), best, sm_text_get(&script));
    fflush(stdout);
    if (findings)
        cmd_print_findings(STDERR_FILENO, "", findings);
    sm_findings_destroy(findings);
    sm_text_deinit(&script);
    return result != SM_OK ? CMD_UNUSABLE : best >= 100 ? CMD_GOOD : CMD_FINDINGS;
}

static int check_drill(const drill_call *call, const sm_show *show) {
    sm_drill *drill = open_given(show, call->check);
    int status = drill ? CMD_GOOD : CMD_UNUSABLE;
    for (int seat = 0; drill && seat < SM_SEAT_COUNT; seat++) {
        bool wanted = !call->seat || call->as == (sm_drill_seat)seat;
        if (!wanted || !sm_drill_has_seat(drill, (sm_drill_seat)seat))
            continue;
        int checked = check_seat(drill, (sm_drill_seat)seat, call->check);
        status = checked > status ? checked : status;
    }
    sm_drill_destroy(drill);
    return status;
}

int cmd_drill(const cmd_command *self, int argc, char **argv) {
    drill_call call = {0};
    enum { OWN_OPTIONS = 10 };
    cmd_option options[HEADLESS_OPTIONS + OWN_OPTIONS] = {
        {"crew", "NAME", "who takes it", NULL, &call.crew},
        {"seat", "SEAT", "lead (who has the key) or spotter (who watches, calls clear and holds); lead", NULL,
         &call.seat},
        {"seed", "N", "what the moments of its events are drawn from, in place of the drill's own", NULL,
         &call.seed},
        {"instructor", NULL, "join a drill that is being taken on this machine", &call.instructor, NULL},
        {"check", "FILE",
         "search for a run of a drill, or of a drill's file, that earns 100; else what stands in its way",
         NULL, &call.check},
        {"json", NULL, "the result as one JSON object a mark, then the score", &call.json, NULL},
        {"timecode-in", NULL, "not in a drill, which has a clock of its own", NULL, NULL},
        {"lights", NULL, "not in a drill, which never sends", NULL, NULL},
        {"lights-to", NULL, "not in a drill, which never sends", NULL, NULL},
        {"lights-priority", NULL, "not in a drill, which never sends", NULL, NULL},
    };
    const char *words[2];
    int count;
    headless_option_rows(&call.shared, options + OWN_OPTIONS);
    int status =
        cmd_options_read(self, options, sizeof options / sizeof options[0], argc, argv, 1, 2, words, &count);
    if (status >= 0)
        return status;
    if (!headless_call_read(&call.shared, words[0]))
        return CMD_UNUSABLE;
    if (call.json && count > 1 && !call.shared.headless && !call.shared.run.script_path) {
        cmd_complain(
            "--json has no console; write --headless too (the built-in sequence acts), or --script FILE");
        return CMD_UNUSABLE;
    }
    if (call.seat && !sm_drill_seat_named(call.seat, &call.as)) {
        cmd_complain("--seat %s: there are lead and spotter", call.seat);
        return CMD_UNUSABLE;
    }
    if (call.as == SM_SEAT_SPOTTER && call.shared.run.seats) {
        cmd_complain(
            "--seats is for the lead's drill; leave out --seat, and sit as spotter elsewhere: slowmatch "
            "follow BROKER --seat spotter");
        return CMD_UNUSABLE;
    }
    if (call.instructor)
        return cmd_instruct();
    call.shared.run.show = cmd_show_open(words[0], call.shared.run.readings_file);
    if (!call.shared.run.show)
        return CMD_UNUSABLE;
    if (call.check)
        status = check_drill(&call, call.shared.run.show);
    else
        status = count == 1 ? list_course(&call, call.shared.run.show) : take(&call, words[1]);
    sm_show_destroy(call.shared.run.show);
    return status;
}
