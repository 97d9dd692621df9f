// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/cmd.h"
#include "cmd/shows_found.h"

#include "slowmatch/audio.h"
#include "slowmatch/lights.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

static int print_overview(void) {
    size_t count;
    const cmd_command *commands = cmd_commands(&count);
    cmd_say("slowmatch rehearses effects shows on a simulated module. It has no way to fire anything.\n\n");
    for (size_t i = 0; i < count; i++)
        cmd_say("  slowmatch %-34s %s\n", commands[i].form, commands[i].help);
    cmd_say("\nEvery command: --help, --version. The manual: man slowmatch, man slowmatch-show.\n");
    return CMD_GOOD;
}

static int print_first_steps(void) {
    static const char *const steps[][2] = {
        {"slowmatch demo", "look at a whole show first: keys, alerts, drills"},
        {"slowmatch new FOLDER", "a small show of your own, to be changed"},
        {"slowmatch import FILE FOLDER", "a cue list out of a spreadsheet"},
        {"slowmatch --help", "every command"},
    };
    cmd_say("slowmatch rehearses effects shows on a simulated module. It has no way to fire anything.\n\n");
    cmd_list_shows();
    cmd_say("\nTo begin:\n");
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        cmd_say("  %-36s  %s\n", steps[i][0], steps[i][1]);
    return CMD_GOOD;
}

static const char *name_at(const void *context, size_t index) {
    return ((const cmd_command *)context)[index].name;
}

// A first word that is neither a command nor there as a folder was most likely meant as a command.
static bool is_slip(const char *word) {
    struct stat there;
    if (word[0] == '-' || strchr(word, '/') || stat(word, &there) == 0)
        return false;
    size_t count;
    const cmd_command *commands = cmd_commands(&count);
    const char *near = sm_nearest_name(word, count, name_at, commands);
    if (near)
        cmd_complain("there is no command and no folder '%s'; did you mean %s? --help lists the commands",
                     word, near);
    else
        cmd_complain("there is no command and no folder '%s'; --help lists the commands", word);
    return true;
}

// A standard descriptor that was closed would be given to the first file that is opened, and be read or written as what it is not. What
// stands in for it refuses both.
static void hold_standard_descriptors(void) {
    for (int descriptor = 0; descriptor <= 2; descriptor++)
        if (fcntl(descriptor, F_GETFD) < 0 && open("/dev/null", descriptor == 0 ? O_WRONLY : O_RDONLY) < 0)
            return;
}

static int run(int argc, char **argv) {
    if (argc < 2)
        return print_first_steps();
    if (strcmp(argv[1], "--help") == 0)
        return print_overview();
    const cmd_command *command = cmd_command_named(argv[1]);
    if (command)
        return command->run(command, argc - 1, argv + 1);
    if (is_slip(argv[1]))
        return CMD_UNUSABLE;
    // "slowmatch SHOW" is short for "slowmatch rehearse SHOW".
    return cmd_rehearse(cmd_command_named("rehearse"), argc, argv);
}

int main(int argc, char **argv) {
    hold_standard_descriptors();
    signal(SIGXFSZ, SIG_IGN); // a file that may grow no more is a write error, told like any
    // The console starts this same program again as its sound process, and as the one that sends lights.
    if (argc > 1 && strcmp(argv[1], SM_AUDIO_PROCESS_ARGUMENT) == 0)
        return sm_audio_process_main(argc, argv);
    if (argc > 1 && strcmp(argv[1], SM_LIGHTS_PROCESS_ARGUMENT) == 0)
        return sm_lights_process_main(argc, argv);
    return cmd_end(run(argc, argv));
}
