// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights_net.h"

#include "at_once.h"
#include "folder.h"

#include "slowmatch/clock.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <ctype.h>
#include <dirent.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#define PATIENCE_US (60 * SM_US_PER_S)

char *lights_net_command(const char *command) {
    sm_text text = {0};
    char block[4096];
    FILE *pipe = popen(command, "r"); // NOLINT(cert-env33-c): commands of the tests alone
    assert_non_null(pipe);
    for (size_t n; (n = fread(block, 1, sizeof block, pipe)) > 0;)
        sm_text_append(&text, block, n);
    pclose(pipe);
    sm_text_append(&text, "", 0);
    assert_false(text.failed);
    return text.bytes ? text.bytes : strdup("");
}

const char *lights_net_missing(void) {
    static char why[200];
    char *said = lights_net_command(
        "unshare -rmn sh -c 'mount -t tmpfs none /run && ip link add desk type veth peer name "
        "wire && echo yes' 2>&1");
    const bool works = strstr(said, "yes") != NULL;
    snprintf(why, sizeof why, "%.190s", said);
    free(said);
    return works ? NULL : why;
}

// ---- what they share ----------------------------------------------------------------

show_folder lights_net_show(void) {
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "show.ini",
                    "[show]\ntitle = Wire\nlength = 60\ncountdown = 0\n[limits]\narm-time = "
                    "0.1\n[lights]\nfade = 0.5 s\n");
    show_folder_put(&folder, "profiles.csv",
                    "name,channels,home,hazard,enable,fire,wire\npar,dim red green,5 0 0,,,,light\n"
                    "hazer,fan,,,,,never\njet,permit flame,,flame,permit 128-255,flame 1-255,never\n");
    show_folder_put(
        &folder, "fixtures.csv",
        "name,profile,universe,address\npar-1,par,1,1\npar-2,par,1,510\njet-1,jet,2,1\npar-3,par,3,1\n"
        "haze,hazer,3,9\n");
    show_folder_put(&folder, "groups.csv", NULL);
    show_folder_put(&folder, "lines.csv", NULL);
    show_folder_put(
        &folder, "cues.csv",
        "time,target,do,fade\n0.1,par-1,dim=200 red=40%,\n0.5,par-2,green=255,1.5\n0.5,par-3,dim=99,\n"
        "0.6,jet-1,permit=255,\n0.7,jet-1,flame=255,\n30,A-01,comet,\n");
    return folder;
}

void lights_net_nap(double s) {
    const struct timespec span = {.tv_sec = (time_t)s, .tv_nsec = (long)((s - (double)(time_t)s) * 1e9)};
    nanosleep(&span, NULL);
}

double lights_net_now_s(void) {
    return (double)sm_unix_now_us() / 1e6;
}

void lights_net_or_skip(void) {
    const char *missing = lights_net_missing();
    if (!missing)
        return;
    print_message(
        "SKIPPED, nothing of lights on a wire was tested: no network namespace can be had here: %s\n",
        missing);
    skip();
}

int lights_net_run_at_once(const char *group, const struct CMUnitTest *tests, size_t count, char **argv) {
    if (!argv[1] && lights_net_missing()) // they skip, and say why
        return _cmocka_run_group_tests(group, tests, count, NULL, NULL);
    return at_once_run(group, tests, count, count, argv);
}

// ---- the program -------------------------------------------------------------------------

static void find_program(lights_net *net, const char *name) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char whole[4096];
    snprintf(whole, sizeof whole, "%s/%s", build ? build : "build", name);
    assert_non_null(realpath(whole, net->exe));
}

static void become(const lights_net *net, const char *show, const char *to, bool ola, int in, int out) {
    dup2(in, 0);
    dup2(out, 1);
    setenv("XDG_DATA_HOME", net->folder, 1);
    setenv("HOME", net->folder, 1);
    if (ola)
        setenv("LIGHTS_OLA", "1", 1);
    execlp("unshare", "unshare", "-rmn", "sh", "tests/tools/lights_net.sh", net->folder, net->exe, show,
           "--lines", "--silent", "--lights", "desk", "--lights-to", to, (char *)NULL);
    _exit(127);
}

void lights_net_prepare(lights_net *net, const char *program) {
    *net = (lights_net){0};
    find_program(net, program);
    folder_make(net->folder);
    chmod(net->folder, 0777); // olad is another user
}

void lights_net_find(lights_net *net) {
    char path[256], command[300];
    snprintf(command, sizeof command, "cat %s", folder_path(path, net->folder, "pid"));
    char *pid = lights_net_command(command);
    net->program = (pid_t)strtol(pid, NULL, 10);
    free(pid);
    assert_true(net->program > 1);
}

void lights_net_start(lights_net *net, const char *program, const char *show, const char *to, bool ola) {
    int in[2], out[2];
    lights_net_prepare(net, program);
    assert_int_equal(pipe2(in, O_CLOEXEC), 0);
    assert_int_equal(pipe2(out, O_CLOEXEC), 0);
    net->harness = fork();
    assert_true(net->harness >= 0);
    if (net->harness == 0)
        become(net, show, to, ola, in[0], out[1]);
    close(in[0]);
    close(out[1]);
    net->in = in[1];
    net->out = out[0];
    lights_net_wait(net, "earshot");
    lights_net_type(net, "y");
    lights_net_find(net);
}

void lights_net_type(lights_net *net, const char *line) {
    char text[300];
    const int length = snprintf(text, sizeof text, "%s\n", line);
    assert_int_equal(write(net->in, text, (size_t)length), length);
}

void lights_net_wait(lights_net *net, const char *text) {
    const int64_t until_us = sm_monotonic_us() + PATIENCE_US;
    for (;;) {
        const char *said = net->said.bytes ? net->said.bytes + net->read : "";
        const char *found = strstr(said, text);
        if (found) {
            net->read = (size_t)(found - net->said.bytes) + strlen(text);
            return;
        }
        struct pollfd waited = {net->out, POLLIN, 0};
        char block[4096];
        ssize_t n = 0;
        if (sm_monotonic_us() < until_us && poll(&waited, 1, 100) >= 0) {
            if (!(waited.revents & (POLLIN | POLLHUP)))
                continue;
            n = read(net->out, block, sizeof block);
        }
        if (n <= 0) {
            int status = 0;
            const bool ended = waitpid(net->harness, &status, sm_monotonic_us() < until_us ? 0 : WNOHANG) > 0;
            fail_msg("it did not say '%s' (%s, status %x) but:\n%s", text, ended ? "it ended" : "it runs",
                     (unsigned)status, said);
        }
        sm_text_append(&net->said, block, (size_t)n);
    }
}

void lights_net_light(lights_net *net, const int *universes) {
    char line[64];
    lights_net_type(net, "lights on");
    for (; *universes != 0; universes++) {
        snprintf(line, sizeof line, "line of universe %d: fuel shut", *universes);
        lights_net_wait(net, line);
        lights_net_nap(0.6); // it is to be read
        snprintf(line, sizeof line, "lights answer %d J", *universes);
        lights_net_type(net, line);
    }
    static const char *const asked[][2] = {{"FIELD", "nobody in the field"},
                                           {"STROBES", "no strobes"},
                                           {"MOVING", "nothing moves"},
                                           {"DARK", "nobody in the dark"}};
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++) {
        lights_net_wait(net, asked[i][0]);
        lights_net_nap(0.6);
        snprintf(line, sizeof line, "lights answer %s", asked[i][1]);
        lights_net_type(net, line);
    }
    lights_net_wait(net, "LIGHTS ON THE WIRE");
}

void lights_net_run(lights_net *net) {
    static const char *const lines[] = {"measure", "call-clear J", "key on", "arm", "", NULL};
    for (size_t i = 0; lines[i]; i++)
        lights_net_type(net, lines[i]);
    lights_net_wait(net, "REHEARSAL ARMED"); // as the screen has it: before, start is refused
    lights_net_type(net, "start");
    lights_net_wait(net, "START counts");
    lights_net_type(net, "");
    lights_net_wait(net, "state running");
}

static void drain(lights_net *net) {
    char block[4096];
    for (ssize_t n; (n = read(net->out, block, sizeof block)) > 0;)
        sm_text_append(&net->said, block, (size_t)n);
    waitpid(net->harness, NULL, 0);
    close(net->in);
    close(net->out);
}

void lights_net_end(lights_net *net) {
    lights_net_type(net, "quit");
    lights_net_type(net, "");
    drain(net);
}

void lights_net_kill(lights_net *net) {
    kill(net->program, SIGKILL);
    drain(net);
}

void lights_net_forget(lights_net *net) {
    char command[100];
    sm_text_deinit(&net->said);
    snprintf(command, sizeof command, "rm -rf '%s'", net->folder);
    free(lights_net_command(command));
}

// ---- looking at it ------------------------------------------------------------------------------

static bool is_of_program(const lights_net *net, const char *pid) {
    char path[300], exe[4096], mine[4096];
    snprintf(path, sizeof path, "/proc/%s/exe", pid);
    ssize_t length = readlink(path, exe, sizeof exe - 1);
    if (length <= 0)
        return false;
    exe[length] = '\0';
    if (strcmp(exe, net->exe) != 0)
        return false;
    snprintf(path, sizeof path, "/proc/%s/environ", pid); // of this very run
    FILE *file = fopen(path, "re");
    size_t n = file ? fread(mine, 1, sizeof mine - 1, file) : 0;
    if (file)
        fclose(file);
    return memmem(mine, n, net->folder, strlen(net->folder)) != NULL;
}

typedef void each_process(const char *pid, void *context);
static void visit(const lights_net *net, each_process *visit_one, void *context) {
    DIR *all = opendir("/proc");
    for (struct dirent *entry; (entry = readdir(all));)
        if (isdigit((unsigned char)entry->d_name[0]) && is_of_program(net, entry->d_name))
            visit_one(entry->d_name, context);
    closedir(all);
}

// The inode stands as a word in one of the tables of its kind.
static bool is_in_table(const char *pid, const char *table, const char *inode) {
    char path[300], line[512], word[64];
    snprintf(path, sizeof path, "/proc/%s/net/%s", pid, table);
    snprintf(word, sizeof word, " %s", inode);
    FILE *file = fopen(path, "re");
    bool found = false;
    while (file && !found && fgets(line, sizeof line, file)) {
        const char *at = strstr(line, word);
        found = at && !isdigit((unsigned char)at[strlen(word)]);
    }
    if (file)
        fclose(file);
    return found;
}

static void count_sockets(const char *pid, void *context) {
    static const char *const tables[] = {"udp", "udp6", "udplite", "raw", "raw6", "packet", "icmp"};
    char path[300], link[100], inode[40];
    snprintf(path, sizeof path, "/proc/%s/fd", pid);
    DIR *all = opendir(path);
    for (struct dirent *entry; all && (entry = readdir(all));) {
        snprintf(path, sizeof path, "/proc/%s/fd/%.20s", pid, entry->d_name);
        const ssize_t length = readlink(path, link, sizeof link - 1);
        link[length > 0 ? length : 0] = '\0';
        if (sscanf(link, "socket:[%39[0-9]", inode) != 1)
            continue;
        for (size_t t = 0; t < sizeof tables / sizeof tables[0]; t++)
            *(size_t *)context += is_in_table(pid, tables[t], inode);
    }
    if (all)
        closedir(all);
}

size_t lights_net_sockets(const lights_net *net) {
    size_t count = 0;
    visit(net, count_sockets, &count);
    return count;
}

void lights_net_wait_sockets(const lights_net *net, size_t wanted) {
    const int64_t until_us = sm_monotonic_us() + PATIENCE_US;
    while (lights_net_sockets(net) != wanted && sm_monotonic_us() < until_us)
        lights_net_nap(0.05);
    assert_int_equal(lights_net_sockets(net), wanted);
}

// In nanoseconds, with the threads that have ended: what stands in /proc/PID/stat is cut to hundredths of a second.
static void add_cpu(const char *pid, void *context) {
    clockid_t clock;
    struct timespec used;
    if (clock_getcpuclockid((pid_t)strtol(pid, NULL, 10), &clock) == 0 && clock_gettime(clock, &used) == 0)
        *(double *)context += (double)used.tv_sec + (double)used.tv_nsec / 1e9;
}

double lights_net_cpu_s(const lights_net *net) {
    double all_s = 0;
    visit(net, add_cpu, &all_s);
    return all_s;
}

typedef struct sought {
    const char *name;
    pid_t found;
} sought;

static void look_for_name(const char *pid, void *context) {
    sought *s = context;
    char path[300], name[40] = "";
    snprintf(path, sizeof path, "/proc/%s/comm", pid);
    FILE *file = fopen(path, "re");
    if (file && fscanf(file, "%39s", name) == 1 && strcmp(name, s->name) == 0)
        s->found = (pid_t)strtol(pid, NULL, 10);
    if (file)
        fclose(file);
}

pid_t lights_net_process(const lights_net *net, const char *name) {
    sought s = {name, 0};
    visit(net, look_for_name, &s);
    return s.found;
}

char *lights_net_at_node(const lights_net *net, const char *command) {
    char whole[1000];
    snprintf(whole, sizeof whole, "nsenter -t %d -U -n -m --preserve-credentials ip netns exec node %s 2>&1",
             (int)net->program, command);
    return lights_net_command(whole);
}

// ---- what was captured -----------------------------------------------------------------------------

static uint8_t hex_byte(const char *at) {
    char two[3] = {at[0], at[1], '\0'};
    return (uint8_t)strtol(two, NULL, 16);
}

// "TIME TO TTL PORT UNIVERSE PRIORITY SEQUENCE OPTION PAYLOAD", a tab between.
static bool read_packet(char *line, lights_net_packet *out) {
    char *field[9] = {0}, *rest = line;
    for (int i = 0; i < 9; i++)
        field[i] = strsep(&rest, "\t\n");
    if (!field[8] || field[4][0] == '\0' || strlen(field[8]) != 2 * 638)
        return false;
    *out = (lights_net_packet){.at_s = strtod(field[0], NULL),
                               .ttl = (int)strtol(field[2], NULL, 10),
                               .universe = (int)strtol(field[4], NULL, 10),
                               .priority = (int)strtol(field[5], NULL, 10),
                               .sequence = (int)strtol(field[6], NULL, 10),
                               .terminated = field[7][0] == '1' || field[7][0] == 'T'};
    snprintf(out->to, sizeof out->to, "%s", field[1]);
    for (size_t s = 0; s < 512; s++)
        out->slots[s] = hex_byte(field[8] + 2 * (126 + s));
    return true;
}

lights_net_packet *lights_net_packets(const lights_net *net, const char *capture, size_t *count,
                                      size_t *others) {
    char command[600];
    snprintf(command, sizeof command,
             "tshark -r %s/%s.pcapng -o acn.dmx_enable:TRUE --enable-heuristic acn -Y 'udp.dstport == 5568 "
             "&& !icmp' "
             "-T fields -e frame.time_epoch -e ip.dst -e ip.ttl -e udp.dstport -e acn.dmx.universe -e "
             "acn.dmx.priority "
             "-e acn.dmx.seq_number -e acn.dmx.option_s -e udp.payload 2>/dev/null",
             net->folder, capture);
    char *text = lights_net_command(command), *rest = text;
    lights_net_packet *packets = NULL;
    size_t room = 0;
    *count = *others = 0;
    for (char *line; (line = strsep(&rest, "\n")) && *line != '\0';) {
        if (*count == room) {
            room = room == 0 ? 256 : 2 * room;
            packets = realloc(packets, room * sizeof *packets);
            assert_non_null(packets);
        }
        if (read_packet(line, &packets[*count]))
            ++*count;
        else
            ++*others;
    }
    free(text);
    return packets;
}

bool lights_net_is_home(const lights_net_packet *packet) {
    for (size_t s = 0; s < 512; s++)
        if (packet->slots[s] != (s == 0 || s == 509 ? 5 : 0))
            return false;
    return true;
}

void lights_net_hold_end(const lights_net_packet *packets, size_t count) {
    assert_true(count > 6);
    for (size_t i = count - 6; i < count; i++) {
        assert_true(lights_net_is_home(&packets[i]));
        assert_int_equal(packets[i].terminated, i >= count - 3);
    }
    assert_false(packets[count - 7].terminated);
}
