// SPDX-License-Identifier: GPL-3.0-or-later
// A crew drill: the lead's console, a spotter and a person of the crew, each a process of its own, through a real broker (mosquitto). Each
// scene is a process; all run at once. Every line waits for what must come before it, so a slow machine only makes it longer. The marks
// are those of the drill's file, worked out by hand.
#include "support/broker_scene.h"
#include "support/short_show.h"
#include "tell/broker.h"

#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include <cmocka.h>

static const char drill_file[] =
    "[drill]\ntitle = Three of us\nbrief = You are the lead.\nspotter-brief = You are the spotter.\n"
    "answers = K, M\nhints = asked\nends = s-told + 0.2 s\n"
    "[event k-answers]\nwhen = begin + 0.1 s\ndo = call K Off the barge, outside.\nseat = both\n"
    "[event m-answers]\nwhen = begin + 0.2 s\ndo = call M Steps here, outside.\nseat = both\n"
    "[expect clear]\nafter = m-answers\naction = call-clear\nwithin = 10 min\nmarks = 20\nlate = none\n"
    "[before order]\naction = arm\nneeds = call-clear, key on\nmarks = 20\n"
    "[event gone-in]\nwhen = armed + 0.1 s\ndo = person in-field\nseat = both\n"
    "[expect stop]\nafter = gone-in\naction = safe\nwithin = 10 min\nmarks = 20\n"
    "[expect key-out]\nafter = gone-in\naction = key off\nwithin = 10 min\nmarks = 20\n"
    "[expect s-stop]\nafter = gone-in\naction = safe\nwithin = 10 min\nmarks = 20\nseat = spotter\n"
    "[expect s-told]\nafter = gone-in\naction = answer\nwithin = 10 min\nmarks = 20\nlate = none\n"
    "words = child, outside\nseat = spotter\n";
static const char runs_file[] =
    "[drill]\ntitle = It runs\nbrief = You are the lead.\nhints = asked\nanswers = K\n"
    "[expect go]\nafter = begin\naction = start\nwithin = 10 min\nmarks = 20\n";

// ---- a process ------------------------------------------------------------------------------------

typedef struct process {
    pid_t pid;
    int in;
    char path[128];
    size_t seen; // of what it wrote
} process;

typedef struct crew {
    scene s;
    short_show show;
    char broker[40], program[256], book[160];
    process lead, spotter, k;
} crew;

static process start(const crew *c, const char *log, const char *const argv[]) {
    process p = {0};
    int in[2];
    snprintf(p.path, sizeof p.path, "%s/%s", c->s.folder, log);
    must(pipe2(in, O_CLOEXEC) == 0);
    p.pid = fork();
    must(p.pid >= 0);
    if (p.pid == 0) {
        prctl(PR_SET_PDEATHSIG, SIGKILL);
        int fd = open(p.path, O_CREAT | O_WRONLY | O_APPEND, 0600);
        dup2(in[0], 0);
        dup2(fd, 1);
        dup2(fd, 2);
        setenv("XDG_RUNTIME_DIR", c->s.folder, 1);
        setenv("XDG_CONFIG_HOME", c->s.folder, 1);
        execvp(argv[0], (char *const *)(uintptr_t)argv);
        _exit(127);
    }
    close(in[0]);
    p.in = in[1];
    return p;
}

static void say(process *p, const char *line) {
    char text[256];
    int length = snprintf(text, sizeof text, "%s\n", line);
    must(write(p->in, text, (size_t)length) == length);
}

// After what was seen before.
static bool comes_within(process *p, const char *words, int span_ms) {
    for (int i = 0; i < span_ms / 20; i++) {
        char *text, *at = NULL;
        size_t length;
        if (sm_file_read(p->path, &text, &length) == SM_OK) {
            at = length > p->seen ? strstr(text + p->seen, words) : NULL;
            p->seen = at ? (size_t)(at - text) + strlen(words) : p->seen;
            free(text);
        }
        if (at)
            return true;
        poll(NULL, 0, 20);
    }
    return false;
}

static bool comes(process *p, const char *words) {
    return comes_within(p, words, 30000);
}

// Says LINE from a seat until WORDS come at WHERE: on a slow machine a line may come too late, and is not done then.
static void say_until(process *from, const char *line, process *where, const char *words) {
    bool came = false;
    for (int i = 0; i < 10 && !came; i++) {
        say(from, line);
        came = comes_within(where, words, 4000);
    }
    if (!came)
        fprintf(stderr, "%s: %s never came\n", line, words);
    must(came);
}

#define expect(p, words)                                                                                     \
    do {                                                                                                     \
        if (!comes(&(p), words)) {                                                                           \
            fprintf(stderr, "%s:%d: %s never came at %s\n", __FILE__, __LINE__, words, (p).path);            \
            _exit(1);                                                                                        \
        }                                                                                                    \
    } while (0)

static bool has_said(const process *p, const char *words) {
    char *text;
    size_t length;
    must(sm_file_read(p->path, &text, &length) == SM_OK);
    bool has = strstr(text, words) != NULL;
    free(text);
    return has;
}

static int ends(process *p) {
    int status = 0;
    close(p->in);
    must(waitpid(p->pid, &status, 0) == p->pid);
    p->pid = 0;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

// ---- a crew ---------------------------------------------------------------------------------------

static process follow(const crew *c, const char *log, const char *seat, const char *name) {
    return start(
        c, log,
        (const char *[]){c->program, "follow", c->broker, "--json", "--seat", seat, "--name", name, NULL});
}

static void begin(crew *c, const char *drill) {
    const char *build = getenv("SLOWMATCH_BUILD");
    *c = (crew){0};
    scene_begin(&c->s);
    short_show_make(&c->show, "1 s");
    mkdir(short_show_path(&c->show, "drills"), 0700);
    short_show_write(&c->show, "drills/crew.ini", drill_file);
    short_show_write(&c->show, "drills/runs.ini", runs_file);
    short_show_write(&c->show, "show.ini",
                     "[show]\ntitle = Long Evening\nlength = 10:00\ncountdown = 100 ms\n"
                     "[limits]\narm-time = 100 ms\nreentry-wait = 5 min\nmisfire-wait = 30 min\n");
    snprintf(c->program, sizeof c->program, "%s/slowmatch", build ? build : "build");
    snprintf(c->broker, sizeof c->broker, "127.0.0.1:%d", c->s.port);
    snprintf(c->book, sizeof c->book, "%s/book.sqlite", c->s.folder);
    scene_start_broker(&c->s);
    c->lead = start(c, "lead",
                    (const char *[]){c->program, "drill", c->show.folder, drill, "--lines", "--silent",
                                     "--crew", "Jo", "--tell", c->broker, "--seats", "spotter,K,instructor",
                                     "--logbook", c->book, NULL});
    expect(c->lead, "told to the broker");
    c->spotter = follow(c, "spotter", "spotter", "Kim");
    c->k = follow(c, "k", "K", "Kay");
    expect(c->spotter, "\"seat\": \"yours\"");
    expect(c->k, "\"seat\": \"yours\"");
    expect(c->lead, "within earshot?");
}

static void end(crew *c) {
    process *all[] = {&c->lead, &c->spotter, &c->k};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        if (all[i]->pid > 0)
            scene_stop(&all[i]->pid, SIGTERM);
    char command[200];
    snprintf(command, sizeof command, "rm -rf %s", c->show.folder);
    must(system(command) == 0);
    scene_end(&c->s);
}

// The lead's yes to what was asked.
static void do_it(crew *c, const char *line) {
    say(&c->lead, line);
    expect(c->lead, "Enter does it");
    say(&c->lead, "");
}

// The questions of the debrief are left, and the console too.
static void leave(crew *c) {
    expect(c->lead, "answer 1 of 4");
    say(&c->lead, ".");
    do_it(c, "quit");
}

static void k_answers(crew *c) {
    say_until(&c->k, "answer I am outside", &c->spotter, "\"call\": \"I am outside\"");
}

static void clear_and_arm(crew *c) {
    say_until(&c->spotter, "call-clear Kim", &c->lead, "call-clear Kim");
    say(&c->lead, "key on");
    expect(c->lead, "key ON");
    do_it(c, "arm");
}

// ---- the scenes -----------------------------------------------------------------------------------

static void perfect(crew *c) {
    begin(c, "crew");
    say(&c->lead, "n");
    expect(c->k, "say it in your words");
    k_answers(c);
    expect(c->spotter, "\"call\": \"Steps here, outside.\"");
    clear_and_arm(c);
    expect(c->spotter, "\"alert\": \"people\"");
    say(&c->spotter, "safe");
    expect(c->k, "\"seat\": \"spotter\", \"what\": \"safe\"");
    say(&c->lead, "key off");
    expect(c->spotter, "\"target\": \"off\"");
    say_until(&c->spotter, "answer a child, outside now", &c->spotter, "\"told\": \"debrief\"");
    expect(c->spotter, "taken by Kim as spotter");
    expect(c->spotter, "Score 100 of 100");
    expect(c->k, "it has no score");
    leave(c);
    must(ends(&c->lead) == 0);
    expect(c->lead, "as the crew (lead Jo, ");
    expect(c->lead, "By part: lead 100 of 100, spotter 100 of 100");
    expect(c->lead, "Score 100 of 100");
    process book = start(
        c, "book", (const char *[]){c->program, "logbook", "crew", "--logbook", c->book, "--json", NULL});
    must(ends(&book) == 0);
    // The lead's lines come through a pipe, which counts as a script: it is nobody's result.
    expect(book, "\"person\": \"Kay\"");
    must(has_said(&book, "\"Kim\"") && has_said(&book, "\"seat\": \"spotter\""));
}

// K sits there and has not answered: whoever calls clear over that has failed, and so has the crew.
static void silence(crew *c) {
    begin(c, "crew");
    say(&c->lead, "n");
    expect(c->k, "say it in your words");
    say_until(&c->spotter, "call-clear Kim", &c->lead, "call-clear Kim");
    do_it(c, "quit"); // ends the drill
    expect(c->spotter, "\"told\": \"debrief\"");
    expect(c->spotter, "What could have killed somebody");
    expect(c->spotter, "Score 0 of 100");
    leave(c);
    must(ends(&c->lead) == 1);
    expect(c->lead, "a built-in rule was broken");
}

static void hold_and_a_frozen_broker(crew *c) {
    begin(c, "runs");
    say(&c->lead, "n");
    expect(c->spotter, "\"what\": \"go-drill\"");
    k_answers(c);
    clear_and_arm(c);
    expect(c->lead, "REHEARSAL ARMED");
    say_until(&c->spotter, "start", &c->spotter, "start refused: not yours");
    do_it(c, "start");
    expect(c->spotter, "\"rehearsal\": \"running\"");
    say(&c->spotter, "hold smoke at the fence");
    expect(c->k, "\"seat\": \"spotter\", \"what\": \"pause\"");
    expect(c->lead, "HOLD called by spotter");
    expect(c->lead, "REHEARSAL PAUSED");
    expect(c->spotter, "\"hold\": \"received\"");
    say(&c->lead, "resume"); // nobody goes on over it
    expect(c->lead, "RESUME WOULD BE REFUSED: hold by spotter");
    say_until(&c->lead, "lift spotter Jo", &c->k, "\"what\": \"lift\""); // the first line leaves the question
    kill(c->s.broker, SIGSTOP);
    say(&c->spotter, "wind 3 m/s");
    expect(c->spotter, "\"said\": \"not delivered\"");
    poll(NULL, 0, 2500);
    kill(c->s.broker, SIGCONT);
    // It comes too late, or never: where the broker stood still for long they have met it anew.
    say_until(&c->spotter, "note it is heard again", &c->k, "\"what\": \"note\"");
    must(!has_said(&c->k, "\"what\": \"wind\""));
}

static void no_drill(crew *c) {
    begin(c, "crew");
    say(&c->lead, "n");
    expect(c->k, "say it in your words");
    say(&c->k, "NO DRILL");
    expect(c->lead, "NO DRILL: a real emergency");
    expect(c->spotter, "a real emergency ended it. No score.");
    expect(c->k, "a real emergency ended it. No score.");
}

// Nobody gets the place of who was lost but by the lead's word; leaving is told; an empty seat is played.
static void seats_lost_and_left(crew *c) {
    begin(c, "crew");
    say(&c->lead, "n");
    expect(c->k, "say it in your words");
    kill(c->spotter.pid, SIGSTOP);
    expect(c->lead, "the seat spotter is LOST: nothing heard of Kim");
    process other = follow(c, "other", "spotter", "Ann");
    expect(other, "\"seat\": \"another's\"");
    expect(c->lead, "somebody else asks for the seat spotter");
    say(&c->lead, "seat spotter free");
    expect(other, "\"seat\": \"yours\"");
    kill(c->spotter.pid, SIGCONT);
    expect(c->spotter, "\"seat\": \"another's\"");
    expect(c->lead, "the seat spotter is taken by Ann");
    scene_stop(&c->k.pid, SIGTERM); // leaves as q does
    expect(c->lead, "the seat K is left by Kay");
    expect(c->lead, "K: Off the barge");
    say(&c->lead, "call-clear Jo");
    expect(c->lead, "clear is theirs to call");
    scene_stop(&other.pid, SIGTERM);
}

static void instructs(crew *c) {
    begin(c, "crew");
    process boss = follow(c, "boss", "instructor", "Ike");
    expect(boss, "event k-answers:");
    say(&c->lead, "n");
    expect(c->k, "say it in your words");
    say_until(&boss, "inject wind 14 m/s", &boss, "inject wind 14 m/s");
    say_until(&boss, "arm", &boss, "not yours to do");
    say_until(&boss, "hold-drill", &boss, "DRILL HELD");
    say_until(&boss, "go-drill", &c->spotter, "\"what\": \"go-drill\"");
    say_until(&boss, "judge order no it was not said aloud", &boss, "no, by the instructor");
    scene_stop(&boss.pid, SIGTERM);
    expect(c->lead, "the seat instructor is left by Ike");
}

static const struct {
    const char *name;
    void (*play)(crew *c);
} scenes[] = {
    {"perfect", perfect},
    {"silence taken for clear", silence},
    {"a hold, and a frozen broker", hold_and_a_frozen_broker},
    {"NO DRILL from a seat", no_drill},
    {"seats that are lost and left", seats_lost_and_left},
    {"an instructor from anywhere", instructs},
};
#define SCENES (sizeof scenes / sizeof scenes[0])

static void a_crew_drills_through_a_broker(void **state) {
    (void)state;
    pid_t children[SCENES];
    const char *only = getenv("SCENE");
    bool failed = false;
    for (size_t i = 0; i < SCENES; i++) {
        bool plays = !only || strcmp(only, scenes[i].name) == 0;
        children[i] = plays ? fork() : 0;
        if (plays && children[i] == 0) {
            crew c;
            scenes[i].play(&c);
            end(&c);
            _exit(0);
        }
    }
    for (size_t i = 0; i < SCENES; i++) {
        int status = 0;
        if (children[i] > 0 && (waitpid(children[i], &status, 0) < 0 || status != 0)) {
            print_error("failed: %s\n", scenes[i].name);
            failed = true;
        }
    }
    assert_false(failed);
}

int main(void) {
    signal(SIGPIPE, SIG_IGN);
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_crew_drills_through_a_broker)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
