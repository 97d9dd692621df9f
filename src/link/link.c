// SPDX-License-Identifier: GPL-3.0-or-later
// The trainee's end.
#include "link/pipe.h"
#include "link/to_come.h"

#include "slowmatch/files.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

struct sm_link {
    int listener;
    unsigned number;
    char path[108];
    link_pipe instructor;
    uint32_t told;   // entries of the run
    sm_us said_us;   // wall of the latest line sent
    char state[200]; // as told last
    bool end_told;
};

// ---- listening ----------------------------------------------------------------------------------

// "DIR/slowmatch" into FOLDER. False: no runtime folder, or too long.
static bool find_folder(char folder[96]) {
    const char *runtime = getenv("XDG_RUNTIME_DIR");
    if (!runtime || runtime[0] != '/')
        return false;
    int length = snprintf(folder, 96, "%s/slowmatch", runtime);
    return length > 0 && length < 96;
}

bool sm_link_path(unsigned number, char path[108]) {
    char folder[96];
    int length = find_folder(folder) ? snprintf(path, 108, "%s/drill-%u.sock", folder, number) : 0;
    return length > 0 && length < 108;
}

// The folder is there, ours, and nobody else's to look into.
static bool make_folder(void) {
    char folder[96];
    return find_folder(folder) && sm_folder_make(folder, 0700) == SM_OK && sm_folder_is_own(folder, 077);
}

// Somebody answers at ADDRESS.
static bool is_taken(const struct sockaddr_un *address) {
    int probe = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    bool taken = probe >= 0 && (connect(probe, (const struct sockaddr *)address, sizeof *address) == 0 ||
                                errno == EAGAIN); // that many wait for it

    if (probe >= 0)
        close(probe);
    return taken;
}

// SM_REFUSED: somebody listens there. A socket that is there and at which nobody answers is of a program that has died.
static sm_result listen_at(const char *path, char why[SM_LINK_WHY], int *out) {
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    memcpy(address.sun_path, path, strlen(path) + 1);
    if (is_taken(&address))
        return SM_REFUSED;
    int descriptor = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (descriptor >= 0)
        unlink(path);
    mode_t before = umask(0177);
    bool fine = descriptor >= 0 && bind(descriptor, (const struct sockaddr *)&address, sizeof address) == 0;
    umask(before);
    fine = fine && chmod(path, 0600) == 0 && listen(descriptor, SM_LINK_DRILLS) == 0;
    if (fine) {
        *out = descriptor;
        return SM_OK;
    }
    int error = errno;
    if (descriptor >= 0)
        close(descriptor);
    errno = error;
    snprintf(why, SM_LINK_WHY, "%s: %s: no instructor can join", path, strerror(error));
    return SM_UNREADABLE;
}

static sm_result listen_somewhere(sm_link *link, char why[SM_LINK_WHY]) {
    sm_result result = SM_REFUSED;
    while (result == SM_REFUSED && link->number < SM_LINK_DRILLS && sm_link_path(++link->number, link->path))
        result = listen_at(link->path, why, &link->listener);
    if (result == SM_REFUSED)
        snprintf(why, SM_LINK_WHY,
                 "%d other drills are being taken on this machine: no instructor can join this one",
                 SM_LINK_DRILLS);
    return result;
}

unsigned sm_link_number(const sm_link *link) {
    return link->number;
}

sm_result sm_link_listen(char why[SM_LINK_WHY], sm_link **out) {
    char path[108];
    if (!sm_link_path(1, path)) {
        snprintf(why, SM_LINK_WHY, "XDG_RUNTIME_DIR is not set: no instructor can join");
        return SM_NOT_FOUND;
    }
    if (!make_folder()) {
        snprintf(why, SM_LINK_WHY, "%s: its folder must be the user's alone: %s", path, strerror(errno));
        return SM_UNREADABLE;
    }
    sm_link *link = calloc(1, sizeof *link);
    if (!link) {
        snprintf(why, SM_LINK_WHY, "memory ran out");
        return SM_NO_MEMORY;
    }
    sm_result result = listen_somewhere(link, why);
    if (result != SM_OK) {
        free(link);
        return result;
    }
    link->instructor.descriptor = -1;
    *out = link;
    return SM_OK;
}

void sm_link_close(sm_link *link) {
    if (!link)
        return;
    if (link->instructor.descriptor >= 0)
        (void)link_pipe_put(&link->instructor, "the trainee's program has ended");
    link_pipe_close(&link->instructor);
    close(link->listener);
    unlink(link->path);
    free(link);
}

// ---- telling --------------------------------------------------------------------------------------

// An instructor who cannot be told is gone.
static void say(sm_link *link, sm_wall_time now, const char *format, ...) SM_PRINTF(3, 4);
static void say(sm_link *link, sm_wall_time now, const char *format, ...) {
    sm_text line = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&line, format, args);
    va_end(args);
    if (link->instructor.descriptor >= 0 && !link_pipe_put(&link->instructor, sm_text_get(&line)))
        link_pipe_close(&link->instructor);
    link->said_us = now.us;
    sm_text_deinit(&line);
}

static void put_hello(const sm_drill_run *run, char hello[SM_LINK_LINE]) {
    const sm_drill *drill = sm_drill_of(run);
    snprintf(hello, SM_LINK_LINE,
             "REHEARSAL drill \"%.200s\" as %s%s%.100s, seed %llu. NO DRILL ends it at once; help says what "
             "you can do.",
             drill->title, sm_drill_seat_text(drill->seat),
             sm_drill_crew(run)[0] != '\0' ? ", taken by " : "", sm_drill_crew(run),
             (unsigned long long)sm_drill_seed(run));
}

static void say_to_come(sm_link *link, const sm_drill_run *run, sm_wall_time now) {
    sm_text lines = {0};
    link_put_to_come(run, &lines);
    for (char *line = lines.bytes, *end; line && (end = strchr(line, '\n')); line = end + 1) {
        *end = '\0';
        say(link, now, "%s", line);
    }
    sm_text_deinit(&lines);
}

static void say_state(sm_link *link, sm_drill_run *run, sm_wall_time now) {
    sm_facts facts = sm_rehearsal_facts(sm_drill_rehearsal(run));
    char text[200];
    snprintf(text, sizeof text, "REHEARSAL %s, key %s, %s, %u in the field, %u misfired%s%s",
             sm_state_text(facts.state), facts.key ? "ON" : "OFF",
             facts.clear_called ? "clear called" : "clear not called", facts.people, facts.misfired,
             facts.link_lost ? ", LINK LOST" : "", sm_drill_is_held(run) ? ", DRILL HELD" : "");
    if (strcmp(text, link->state) == 0)
        return;
    memcpy(link->state, text, sizeof text);
    say(link, now, "%s", text);
}

static void say_news(sm_link *link, sm_drill_run *run, sm_wall_time now) {
    for (; link->told < sm_drill_entry_count(run) && link->instructor.descriptor >= 0; link->told++) {
        sm_drill_entry entry = sm_drill_entry_at(run, link->told);
        char clock[24];
        say(link, now, "%s %s: %s %s%s%s", sm_clock_format(clock, entry.at.us), sm_source_text(entry.source),
            sm_log_word(entry.kind), entry.target, entry.detail[0] != '\0' ? " " : "", entry.detail);
    }
    say_state(link, run, now);
    if (sm_drill_is_over(run) && !link->end_told) {
        link->end_told = true;
        say(link, now,
            sm_drill_was_broken_off(run) ? "the drill was broken off, without a score"
                                         : "the drill is over: %d of 100",
            sm_drill_score(run));
    }
    if (now.us - link->said_us >= SM_LINK_ALIVE_US)
        say(link, now, "%s", "");
}

// ---- doing ------------------------------------------------------------------------------------------

static const struct {
    sm_act act;
    const char *line;
} permitted[] = {
    {SM_ACT_TRIGGER, "trigger EVENT    make an event of the drill happen now"},
    {SM_ACT_INJECT, "inject DO        make anything happen now that a drill can: inject wind 14 m/s"},
    {SM_ACT_CALL, "call WHO TEXT    speak as a person of the crew"},
    {SM_ACT_JUDGE, "judge MARK yes|no REASON  judge a mark; what was computed is kept beside it"},
    {SM_ACT_TICK, "tick NAME yes|no what was to be said aloud was said and read back, or not"},
    {SM_ACT_PASS_TIME, "pass-time        let a wait run out (passed in practice)"},
    {SM_ACT_HOLD_DRILL, "hold-drill       hold the drill: its clock stands, the show is paused"},
    {SM_ACT_GO_DRILL, "go-drill         go on; the trainee resumes the show"},
    {SM_ACT_REMARK, "remark TEXT      add a remark to the debrief"},
};

const char *sm_link_help(void) {
    return "trigger EVENT, inject DO, call WHO TEXT, judge MARK yes|no REASON, tick NAME yes|no, pass-time, "
           "hold-drill, go-drill, remark TEXT; state lists what is to come and what is next; leave; NO DRILL "
           "for a real emergency";
}

static bool is_permitted(sm_act act) {
    for (size_t i = 0; i < sizeof permitted / sizeof permitted[0]; i++)
        if (permitted[i].act == act)
            return true;
    return false;
}

static sm_result obey(sm_link *link, sm_drill_run *run, sm_wall_time now, const char *line, bool *did) {
    sm_action action;
    char why[200];
    size_t at = 0;
    if (strcmp(line, "NO DRILL") == 0) {
        *did = true;
        return sm_drill_no_drill(run, now);
    }
    if (strcmp(line, "help") == 0) {
        for (size_t i = 0; i < sizeof permitted / sizeof permitted[0]; i++)
            say(link, now, "%s", permitted[i].line);
        say(link, now, "state            what there is to come, and what is next for the trainee");
        say(link, now, "leave            go; the drill goes on alone");
        say(link, now, "NO DRILL         a real emergency: it ends at once");
        return SM_OK;
    }
    if (strcmp(line, "state") == 0) {
        link->state[0] = '\0';
        say_to_come(link, run, now);
        return SM_OK;
    }
    if (sm_action_read(sm_drill_of(run)->show, line, strlen(line), &action, why, &at) != SM_OK) {
        say(link, now, "not understood: %s", why);
        return SM_OK;
    }
    if (!is_permitted(action.act) || action.remote != 0) {
        say(link, now, "not yours to do: %s", sm_link_help());
        return SM_OK;
    }
    sm_result result = sm_drill_act(run, &action, SM_SOURCE_INSTRUCTOR, now);
    if (result == SM_REFUSED)
        say(link, now, "refused: %s", sm_rehearsal_refusal(sm_drill_rehearsal(run)));
    *did = *did || result == SM_OK;
    return result == SM_REFUSED ? SM_OK : result;
}

// The same user only; one at a time.
static void let_in(sm_link *link, const sm_drill_run *run, sm_wall_time now) {
    int descriptor = accept4(link->listener, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
    if (descriptor < 0)
        return;
    struct ucred peer;
    socklen_t length = sizeof peer;
    bool ours = getsockopt(descriptor, SOL_SOCKET, SO_PEERCRED, &peer, &length) == 0 && peer.uid == geteuid();
    char hello[SM_LINK_LINE];
    put_hello(run, hello);
    if (!ours || link->instructor.descriptor >= 0) {
        sm_text turned_away = {0};
        sm_text_printf(&turned_away, "%s\nrefused: an instructor is there already\n", hello);
        if (ours)
            (void)!send(descriptor, sm_text_get(&turned_away), turned_away.length,
                        MSG_NOSIGNAL | MSG_DONTWAIT);
        sm_text_deinit(&turned_away);
        close(descriptor);
        return;
    }
    link_pipe_open(&link->instructor, descriptor);
    link->told = 0;
    link->state[0] = '\0';
    link->end_told = false;
    say(link, now, "%s", hello);
    say_to_come(link, run, now);
}

sm_result sm_link_serve(sm_link *link, sm_drill_run *run, sm_wall_time now, bool *did) {
    char line[SM_LINK_LINE];
    let_in(link, run, now);
    *did = false;
    if (link->instructor.descriptor < 0)
        return SM_OK;
    for (int taken = 0; taken < 64; taken++) { // a flood of lines does not hold the rehearsal
        link_got got = link_pipe_get(&link->instructor, line);
        if (got == LINK_GOT_END)
            link_pipe_close(&link->instructor);
        if (got != LINK_GOT_LINE)
            break;
        sm_result result = line[0] != '\0' ? obey(link, run, now, line, did) : SM_OK;
        if (result != SM_OK)
            return result;
    }
    say_news(link, run, now);
    if (link->instructor.descriptor >= 0 && !link_pipe_flush(&link->instructor))
        link_pipe_close(&link->instructor);
    return SM_OK;
}
