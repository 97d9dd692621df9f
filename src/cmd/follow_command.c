// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch follow BROKER [RUN]: a rehearsal that is told elsewhere, on this machine's screen or as lines.
#include "cmd/cmd.h"

#include "slowmatch/alerts.h"
#include "slowmatch/clock.h"
#include "slowmatch/console.h"
#include "slowmatch/json.h"
#include "slowmatch/rig_explainer.h"
#include "slowmatch/tell.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define LOOK_MS 100
// After it, several runs and none named is a question back.
#define CHOOSE_US (2 * SM_US_PER_S)
// Four beats a second: whoever tells is heard within it.
#define LISTEN_US (3 * SM_US_PER_S / 5)
// No exit status: the console has ended, and another began.
#define FOLLOWS_NEXT (-1)

// ---- lines ------------------------------------------------------------------------------------

static volatile sig_atomic_t stop_signal; // set by the handler alone

static void on_signal(int number) {
    stop_signal = number;
}

// What a line is put out for when it has changed.
typedef struct told {
    sm_follow_link link;
    sm_follow_seat seat;
    sm_follow_hold hold;
    sm_follow_said said;
    bool ended, behind, key;
    sm_wall_time call_at;
    const char *why; // nothing comes
    sm_state state;
    uint64_t missed, refused, rows;
    char alert[SM_ALERT_WORDS];
} told;

typedef struct lines {
    told last;
    bool any;
    sm_alerts alerts;
    sm_rig_explainer rig;
    sm_text out;
    char typed[4 * SM_FOLLOW_LINE]; // that has not ended yet
    size_t typed_length;
} lines;

static void put_alert(lines *l, const sm_follow_view *view, told *out) {
    (void)sm_rig_explainer_look(&l->rig, view->now);
    const sm_alert_facts facts = {.day = &view->day,
                                  .told_ended = view->ended,
                                  .sounds = true,
                                  .offset_measured = true,
                                  .swapped = l->rig.swapped};
    sm_alerts_look(&l->alerts, view->now, &facts, NULL, NULL);
    if (l->alerts.count > 0)
        snprintf(out->alert, sizeof out->alert, "%s", sm_alert_row_of(l->alerts.at[0].id)->name);
}

static void put_state(lines *l, const sm_follow_view *view, const told *now) {
    sm_json json = sm_json_line_open(&l->out);
    sm_json_text(&json, "run", view->run);
    sm_json_text(&json, "link", sm_follow_link_text(now->link));
    sm_json_bool(&json, "treat_as_armed", now->link != SM_FOLLOW_LIVE);
    if (view->now) {
        sm_json_text(&json, "rehearsal", sm_state_text(now->state));
        sm_json_bool(&json, "key", now->key);
        sm_json_seconds(&json, "wall", view->now->wall.us);
        sm_json_seconds(&json, "show", view->now->at.us);
    }
    sm_json_seconds(&json, "silent", view->silent_us);
    if (now->link == SM_FOLLOW_WAITING)
        sm_json_text(&json, "why", now->why);
    if (now->seat != SM_SEAT_NONE) {
        static const char *const got[] = {"none", "on its way", "not delivered", "received"};
        static const char *const seats[] = {[SM_SEAT_UNHEARD] = "asked for",
                                            [SM_SEAT_UNKNOWN] = "not granted",
                                            [SM_SEAT_REFUSED] = "another's",
                                            [SM_SEAT_TAKEN] = "yours"};
        sm_json_bool(&json, "seated", now->seat == SM_SEAT_TAKEN);
        sm_json_text(&json, "seat", seats[now->seat]);
        sm_json_text(&json, "hold", got[now->hold]);
        sm_json_text(&json, "said", got[now->said]);
    }
    if (view->now && now->call_at.us != SM_UNSET_US) {
        sm_json_text(&json, "call_who", view->now->incidents.call_who);
        sm_json_text(&json, "call", view->now->incidents.call_text);
    }
    sm_json_bool(&json, "ended", now->ended);
    sm_json_bool(&json, "behind", now->behind);
    sm_json_integer(&json, "missed", (int64_t)now->missed);
    sm_json_integer(&json, "refused", (int64_t)now->refused);
    sm_json_text(&json, "alert", now->alert[0] ? now->alert : NULL);
    sm_json_line_close(&json);
}

static void put_row(lines *l, const sm_recent_row *row) {
    sm_json json = sm_json_line_open(&l->out);
    sm_json_seconds(&json, "wall", row->wall.us);
    sm_json_seconds(&json, "show", row->has_show ? row->show.us : SM_UNSET_US);
    sm_json_text(&json, "source", sm_source_text(row->source));
    if (row->seat[0])
        sm_json_text(&json, "seat", row->seat);
    sm_json_text(&json, "what", sm_log_word(row->kind));
    sm_json_text(&json, "cue", row->cue);
    sm_json_text(&json, "target", row->target);
    sm_json_text(&json, "detail", row->detail);
    sm_json_line_close(&json);
}

static bool is_same(const told *a, const told *b) {
    return a->link == b->link && a->ended == b->ended && a->behind == b->behind && a->key == b->key &&
           a->seat == b->seat && a->hold == b->hold && a->said == b->said &&
           (a->link != SM_FOLLOW_WAITING || a->why == b->why) && a->call_at.us == b->call_at.us &&
           a->state == b->state && a->missed == b->missed && a->refused == b->refused &&
           strcmp(a->alert, b->alert) == 0;
}

// What the seat alone was told.
static void put_told(lines *l, sm_follower *follower) {
    static const char *const words[] = {
        [SM_SEAT_ANSWERED] = "answer", [SM_SEAT_PROMPTED] = "prompt", [SM_SEAT_DEBRIEFED] = "debrief"};
    sm_seat_word word;
    for (const char *text = sm_follower_told(follower, &word); text;
         text = sm_follower_told(follower, &word)) {
        sm_json json = sm_json_line_open(&l->out);
        sm_json_text(&json, "told", words[word]);
        sm_json_text(&json, "text", text);
        sm_json_line_close(&json);
    }
}

// False: standard output takes no more.
static bool put_lines(lines *l, sm_follower *follower, const sm_follow_view *view) {
    told now = {.link = view->link,
                .seat = view->seat,
                .hold = view->hold,
                .said = view->said,
                .why = view->why,
                .call_at = {view->now ? view->now->incidents.call_at.us : SM_UNSET_US},
                .ended = view->ended,
                .behind = view->behind,
                .missed = view->missed,
                .refused = view->refused,
                .rows = view->recent->count};
    if (view->now) {
        now.state = view->now->state;
        now.key = view->now->key;
        put_alert(l, view, &now);
    }
    sm_text_clear(&l->out);
    for (uint64_t age = now.rows - l->last.rows; age > 0; age--)
        if (sm_recent_at(view->recent, age - 1))
            put_row(l, sm_recent_at(view->recent, age - 1));
    if (!l->any || !is_same(&l->last, &now))
        put_state(l, view, &now);
    put_told(l, follower);
    bool written = !l->out.failed && (l->out.length == 0 ||
                                      (cmd_put(stdout, l->out.bytes, l->out.length) && fflush(stdout) == 0));
    l->last = now;
    l->any = true;
    return written;
}

// Several are told, and none was named: which there are. False: one at most.
static bool has_to_choose(const sm_follower *follower, const char *run, int64_t begun_us) {
    char names[256];
    if (run || sm_monotonic_us() - begun_us > CHOOSE_US || sm_follower_runs(follower, names) < 2)
        return false;
    cmd_complain("several rehearsals are told there; name one:%s", names);
    return true;
}

// A line as a script or a person types it: "hold WHY", or an action of the seat's.
static void take_line(sm_follower *follower, const char *line) {
    bool holds = strncmp(line, "hold", 4) == 0 && (line[4] == ' ' || line[4] == '\0');
    if (holds)
        sm_follower_hold(follower, line + 4 + strspn(line + 4, " "));
    else if (line[0] && !sm_follower_say(follower, line))
        cmd_complain("not said: %s", line);
}

// False: nothing more can come.
static bool take_typed(lines *l, sm_follower *follower) {
    ssize_t length = read(STDIN_FILENO, l->typed + l->typed_length, sizeof l->typed - 1 - l->typed_length);
    if (length <= 0)
        return false;
    l->typed_length += (size_t)length;
    l->typed[l->typed_length] = '\0';
    char *at = l->typed;
    for (char *end = strchr(at, '\n'); end; end = strchr(at, '\n')) {
        *end = '\0';
        take_line(follower, at);
        at = end + 1;
    }
    l->typed_length = strlen(at);
    memmove(l->typed, at, l->typed_length + 1);
    if (l->typed_length == sizeof l->typed - 1)
        l->typed_length = 0; // that is no line
    return true;
}

static int loop(sm_follower *follower, const sm_follow_options *options, lines *l) {
    const char *run = options->run;
    int typed = options->seat ? STDIN_FILENO : -1;
    const int64_t begun_us = sm_monotonic_us();
    while (stop_signal == 0) {
        struct pollfd waited[] = {{sm_follower_descriptor(follower), POLLIN, 0}, {typed, POLLIN, 0}};
        poll(waited, 2, LOOK_MS);
        if (waited[1].revents && !take_typed(l, follower))
            typed = -1; // no more comes
        if (!put_lines(l, follower, sm_follower_look(follower))) {
            cmd_complain("the lines could not be written: %s", strerror(errno));
            return CMD_UNUSABLE;
        }
        if (has_to_choose(follower, run, begun_us))
            return CMD_UNUSABLE;
        if (sm_follower_has_next(follower))
            return FOLLOWS_NEXT;
    }
    return CMD_GOOD;
}

static void catch_signals(void) {
    const struct sigaction action = {.sa_handler = on_signal};
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGHUP, &action, NULL);
}

static int follow_lines(const sm_broker *broker, const sm_follow_options *options,
                        char problem[SM_SESSION_PROBLEM]) {
    lines *l = calloc(1, sizeof *l);
    sm_follower *follower = NULL;
    sm_result result = l ? sm_follower_create(broker, options, problem, &follower) : SM_NO_MEMORY;
    if (result == SM_NO_MEMORY)
        snprintf(problem, SM_SESSION_PROBLEM, "memory ran out");
    catch_signals();
    signal(SIGPIPE, SIG_IGN);
    int status = follower ? loop(follower, options, l) : CMD_UNUSABLE;
    sm_follower_destroy(follower);
    if (l) {
        sm_text_deinit(&l->out);
        sm_rig_explainer_deinit(&l->rig);
    }
    free(l);
    return status;
}

// Which runs are told there, heard for a moment from the first on; why nothing comes is said when it changes. Returns how many; 0: a
// signal came, only what was known last is there, or PROBLEM says why.
static size_t listen(const sm_broker *broker, char names[256], char problem[SM_SESSION_PROBLEM]) {
    sm_follower *follower;
    const char *why = NULL;
    size_t runs = 0;
    int64_t heard_us = 0;
    if (sm_follower_create(broker, &(sm_follow_options){0}, problem, &follower) != SM_OK)
        return 0;
    while (stop_signal == 0 && (!runs || sm_monotonic_us() - heard_us < LISTEN_US)) {
        struct pollfd waited = {sm_follower_descriptor(follower), POLLIN, 0};
        poll(&waited, 1, LOOK_MS);
        const sm_follow_view *view = sm_follower_look(follower);
        if (view->now && !runs && view->link == SM_FOLLOW_LOST)
            break;
        if (!runs && view->why != why)
            cmd_complain("waiting for a rehearsal at %s:%d: %s; Ctrl-C ends", broker->host, broker->port,
                         view->why);
        why = view->why;
        heard_us = runs ? heard_us : sm_monotonic_us();
        runs = sm_follower_runs(follower, names);
    }
    sm_follower_destroy(follower);
    return runs;
}

// Several are told there: the one that is chosen, in RUN. False: none is.
static bool ask_which(const char *names, char run[32]) {
    char typed[64], sought[40], all[260];
    cmd_complain("several rehearsals are told there; type the one to follow, and Enter:%s", names);
    if (!isatty(STDIN_FILENO) || !fgets(typed, sizeof typed, stdin) || sscanf(typed, "%31s", run) != 1)
        return false;
    snprintf(sought, sizeof sought, " %s ", run);
    snprintf(all, sizeof all, "%s ", names);
    return strstr(all, sought) != NULL;
}

static int follow_on_screen(const sm_broker *broker, const sm_follow_options *options,
                            char problem[SM_SESSION_PROBLEM]) {
    char names[256] = "", run[32] = "";
    sm_follow_options chosen = *options;
    catch_signals();
    if (options->run)
        cmd_complain("waiting for a rehearsal at %s:%d; Ctrl-C ends", broker->host, broker->port);
    size_t runs = options->run ? 1 : listen(broker, names, problem);
    if (stop_signal != 0 || problem[0])
        return CMD_UNUSABLE;
    if (runs > 1 && !ask_which(names, run)) {
        snprintf(problem, SM_SESSION_PROBLEM, "name one of the rehearsals that are told there:%.200s", names);
        return CMD_UNUSABLE;
    }
    chosen.run = run[0] ? run : options->run;
    return sm_console_follow(broker, &chosen, problem);
}

// ---- the command ------------------------------------------------------------------------------

int cmd_follow(const cmd_command *self, int argc, char **argv) {
    bool json = false;
    const char *keys = NULL, *seat = NULL, *who = NULL, *words[2] = {NULL, NULL};
    const cmd_option options[] = {
        {"json", NULL, "lines in place of the screen: one a change, one a row of the log", &json, NULL},
        {"broker-keys", "FILE", "how the broker lets us in: user, password, certificates or PSK", NULL,
         &keys},
        {"seat", "NAME",
         "sit at the seat that the lead granted by that name: calls hold, and in a drill what is that seat's",
         NULL, &seat},
        {"name", "WHO", "who sits there", NULL, &who},
    };
    int count;
    int status =
        cmd_options_read(self, options, sizeof options / sizeof options[0], argc, argv, 1, 2, words, &count);
    if (status >= 0)
        return status;
    char problem[SM_SESSION_PROBLEM] = "";
    sm_broker broker;
    const sm_follow_options follow = {.run = count > 1 ? words[1] : NULL, .seat = seat, .who = who};
    const char *missing = json ? NULL : sm_console_missing();
    if (missing) {
        cmd_complain("no console: %s; --json has lines", missing);
        return CMD_UNUSABLE;
    }
    if (seat && (!sm_seats_are_good(seat) || strchr(seat, ','))) {
        cmd_complain("--seat %s is no name of a seat; write a word of letters and digits", seat);
        return CMD_UNUSABLE;
    }
    if (!sm_broker_read(words[0], keys, &broker, problem))
        status = CMD_UNUSABLE;
    else
        do
            status =
                json ? follow_lines(&broker, &follow, problem) : follow_on_screen(&broker, &follow, problem);
        while (status == FOLLOWS_NEXT);
    if (problem[0])
        cmd_complain("%s", problem);
    return status;
}
