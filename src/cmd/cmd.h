// SPDX-License-Identifier: GPL-3.0-or-later
// The subcommands: one file each, one table. Only this part prints.
#ifndef CMD_CMD_H
#define CMD_CMD_H

#include "slowmatch/music.h"

#include <stdio.h>

// Exit status (format.md).
enum { CMD_GOOD = 0, CMD_FINDINGS = 1, CMD_UNUSABLE = 2 };

// An option of a command. One of flag and text is not NULL: where its value goes. Both: its value is a number, and may be left out.
// Neither: another command has it, and help says why this one has not.
typedef struct cmd_option {
    const char *name;     // "script"
    const char *argument; // "FILE"; NULL for a flag
    const char *help;
    bool *flag;
    const char **text;
} cmd_option;

typedef struct cmd_command cmd_command;
struct cmd_command {
    const char *name;
    const char *form; // "[rehearse] SHOW"
    const char *help; // one line
    // SELF is its own row of the table; argv[0] is the command's name. Returns the exit status.
    int (*run)(const cmd_command *self, int argc, char **argv);
};

// All commands, in the order of the help.
const cmd_command *cmd_commands(size_t *count);
const cmd_command *cmd_command_named(const char *name); // NULL: none

// Reads the options of COMMAND out of argv; the rest, at least LEAST and at most MOST words, is left in words[]. Answers --help and
// --version itself. Returns -1 to go on, else the exit status to end with (a message has been printed).
int cmd_options_read(const cmd_command *command, const cmd_option *options, size_t option_count, int argc,
                     char **argv, int least, int most, const char *words[], int *word_count);

// "0.2.0".
const char *cmd_version(void);

// say.c. Whatever goes to standard output or standard error goes through one of these, which make it harmless (sm_text_append_shown).
// False: it could not be written, or memory ran out; errno tells.
bool cmd_put(FILE *to, const char *bytes, size_t length);
// To standard output; what could not be written is told by cmd_end.
void cmd_say(const char *format, ...) SM_PRINTF(1, 2);
// Before the program ends: STATUS, or CMD_UNUSABLE after a message where standard output could not take everything.
int cmd_end(int status);
// One line to standard error: "slowmatch: ...".
void cmd_complain(const char *format, ...) SM_PRINTF(1, 2);
// Says why ABOUT (NULL: nothing by name) failed: RESULT, or errno where that is SM_UNREADABLE. Returns CMD_UNUSABLE.
int cmd_failed(const char *about, sm_result result);
// LINE, in ASCII, over what stands in the line of TERMINAL, of which USED columns are; it has COLUMNS. Returns how many it uses. Any thread.
size_t cmd_put_over(int terminal, const char *line, size_t used, size_t columns);
// Puts the whole of TEXT on standard output and frees it. Returns STATUS, or CMD_UNUSABLE after a message.
int cmd_print(sm_text *text, int status);
// The same of a text in which escapes are its writer's own: what others wrote was made harmless in it.
int cmd_print_coloured(sm_text *text, int status);

// quiet.c. From here on what is written to descriptor 2 goes nowhere (libraries print there), until unmuffled; cmd_complain and
// whatever else writes to cmd_stderr() is heard all the same. Main thread.
void cmd_muffle(void);
void cmd_unmuffle(void);
FILE *cmd_stderr(void);
// sm_music_ask, muffled; and the same with a line of its progress.
void cmd_music_ask(const sm_show *show, sm_progress *progress, sm_audio_info *info, sm_check_options *out);
void cmd_music_look(const sm_show *show, sm_audio_info *info, sm_check_options *out);
// All findings to STREAM-like descriptor: FD 1 or 2, in order of file and line.
void cmd_print_findings(int fd, const char *folder, sm_findings *findings);

// --readings, for the show in FOLDER: a relative name that is no file here may be one of the show's own, then *PATH is in BUFFER. NULL stays.
// False: a message was printed.
enum { CMD_PATH = 4096 };
bool cmd_readings_find(const char *folder, const char **path, char buffer[CMD_PATH]);

// A show for a command that has to run it: loaded, its length known from its audio. On failure prints why and returns NULL.
struct sm_show *cmd_show_open(const char *folder, const char *readings_file);
// The same of a show whose cues.csv may still be to come.
struct sm_show *cmd_show_open_without_cues(const char *folder);
// The same for the console, which looks at the music by itself and says what is wrong with it: read to its end (a tenth of a second for
// a song that was never played here) only where the show's length hangs on it.
struct sm_show *cmd_show_open_for_console(const char *folder, const char *readings_file);

// devices_command.c. "NAME (ALSA, 2 channels, 48000 Hz, the default)".
void cmd_put_device(const sm_audio_device *device, sm_text *out);

// stop_signal.c, for a command that runs until it is told: SIGINT, SIGTERM and SIGHUP are noted from here on, a closed pipe is a write
// error; the one that came (0: none); and dies of it, where one came.
void cmd_catch_signals(void);
int cmd_stop_signal(void);
void cmd_die_of_signal(void);

// GIVEN, or the user's own logbook; freed by the caller. NULL after a message.
char *cmd_logbook_path(const char *given);
// The same, open; CREATE: made where there is none. NULL after a message.
struct sm_logbook *cmd_logbook_open(const char *given, bool create);
// Columns of the terminal on standard output; 80 where it is none.
size_t cmd_columns(void);

// The options of lights on a wire go together; false: a message was printed.
bool cmd_lights_options_fit(const char *interface, const char *to, const char *priority);

int cmd_follow(const cmd_command *self, int argc, char **argv);
int cmd_import(const cmd_command *self, int argc, char **argv);
int cmd_lights(const cmd_command *self, int argc, char **argv);
int cmd_logbook(const cmd_command *self, int argc, char **argv);
int cmd_new(const cmd_command *self, int argc, char **argv);
int cmd_paper(const cmd_command *self, int argc, char **argv);
int cmd_readings(const cmd_command *self, int argc, char **argv);
int cmd_rehearse(const cmd_command *self, int argc, char **argv);
int cmd_compare(const cmd_command *self, int argc, char **argv);
int cmd_check(const cmd_command *self, int argc, char **argv);
int cmd_devices(const cmd_command *self, int argc, char **argv);
int cmd_demo(const cmd_command *self, int argc, char **argv);
int cmd_drill(const cmd_command *self, int argc, char **argv);
int cmd_instruct(void); // drill --instructor
int cmd_tune(const cmd_command *self, int argc, char **argv);
int cmd_timecode(const cmd_command *self, int argc, char **argv);
int cmd_walk(const cmd_command *self, int argc, char **argv);

#endif
