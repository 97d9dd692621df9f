// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/cmd.h"
#include "slowmatch/audio.h"

#include <stdio.h>
#include <string.h>

static int print_overview(void) {
    size_t count;
    const cmd_command *commands = cmd_commands(&count);
    puts("slowmatch rehearses effects shows on a simulated module. It has no way to fire anything.\n");
    for (size_t i = 0; i < count; i++)
        printf("  slowmatch %-34s %s\n", commands[i].form, commands[i].help);
    puts("\nEvery command: --help, --version. The manual: man slowmatch, man slowmatch-show.");
    return CMD_GOOD;
}

int main(int argc, char **argv) {
    // The console starts this same program again as its sound process.
    if (argc > 1 && strcmp(argv[1], SM_AUDIO_PROCESS_ARGUMENT) == 0)
        return sm_audio_process_main(argc, argv);
    if (argc < 2) {
        cmd_complain("the show's folder is missing: slowmatch SHOW; --help tells more");
        return CMD_UNUSABLE;
    }
    if (strcmp(argv[1], "--help") == 0)
        return print_overview();
    const cmd_command *command = cmd_command_named(argv[1]);
    if (command != NULL)
        return command->run(argc - 1, argv + 1);
    return cmd_rehearse(argc, argv); // "slowmatch SHOW" is short for "slowmatch rehearse SHOW"
}
