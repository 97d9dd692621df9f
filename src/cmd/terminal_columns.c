// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/cmd.h"

#include <sys/ioctl.h>
#include <unistd.h>

size_t cmd_columns(void) {
    struct winsize size;
    bool known = ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0;
    return known ? size.ws_col : 80;
}
