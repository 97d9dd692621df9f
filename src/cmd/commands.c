// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/cmd.h"

#include <string.h>

static const cmd_command commands[] = {
    {"rehearse", "[rehearse] SHOW",
     "rehearse the show: the console; where there is no terminal, with --lines or --headless", cmd_rehearse},
    {"demo", "demo [NAME]", "copy a demo show to this folder, where you can change it, and open it",
     cmd_demo},
    {"new", "new FOLDER", "write a small show that runs at once, to be changed into your own", cmd_new},
    {"readings", "readings SHOW [FILE...]",
     "what the readings mean and what is wrong with the rig; files oldest first, in place of readings.csv",
     cmd_readings},
    {"check", "check SHOW", "say everything in the show that will not work, is dangerous, or cannot be told",
     cmd_check},
    {"compare", "compare OLD NEW",
     "what is different between two shows, cue by cue, and what must be done again", cmd_compare},
    {"drill", "drill SHOW [DRILL]",
     "take a drill in which things go wrong on purpose; without DRILL: which there are", cmd_drill},
    {"tune", "tune SHOW", "write proposed cue times from a list into cues.csv, or say what they would change",
     cmd_tune},
    {"walk", "walk SHOW", "the walk before the show: what is asked at which place, and what is open",
     cmd_walk},
    {"paper", "paper SHOW", "write the paper that the crew carries: one HTML file to print", cmd_paper},
    {"lights", "lights SHOW", "lights on a wire: what would go where, what not and why; sends nothing",
     cmd_lights},
    {"logbook", "logbook [WHAT...]",
     "what is kept: list, show N, replay N, compare N M, readings SHOW, crew, progress PERSON, export, "
     "import, prune, check",
     cmd_logbook},
    {"follow", "follow BROKER [RUN]",
     "see a rehearsal that is told through an MQTT broker; nothing here acts on it", cmd_follow},
    {"import", "import FILE SHOW", "read a cue list (CSV, .xlsx, .ods) into SHOW, or into a new show",
     cmd_import},
    {"timecode", "timecode SHOW FILE.wav",
     "write the show's linear timecode as sound, for a desk or a recorder to chase; --listen: what comes in",
     cmd_timecode},
    {"devices", "devices",
     "the sound devices that there are, by the names that --device and --timecode-in take", cmd_devices},
};

const cmd_command *cmd_commands(size_t *count) {
    *count = sizeof commands / sizeof commands[0];
    return commands;
}

const cmd_command *cmd_command_named(const char *name) {
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++)
        if (strcmp(commands[i].name, name) == 0)
            return &commands[i];
    return NULL;
}
