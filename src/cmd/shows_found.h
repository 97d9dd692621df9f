// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef CMD_SHOWS_FOUND_H
#define CMD_SHOWS_FOUND_H

#include <limits.h>
#include <stdbool.h>

// FOLDER has a show.ini.
bool cmd_is_show(const char *folder);
// The folder of the demo shows that came with the program; false: there is none.
bool cmd_demo_shows(char out[PATH_MAX]);
// To standard output: the shows in the working folder, and the demo shows, each with the command that opens it.
void cmd_list_shows(void);

#endif
