// SPDX-License-Identifier: GPL-3.0-or-later
#include "pty.h"

#include "folder.h"

#include <errno.h>
#include <poll.h>
#include <pty.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include <vterm.h>

#include <cmocka.h>

#define DEADLINE_MS 60000

struct pty {
    pid_t pid;
    int master;
    VTerm *terminal;
    VTermScreen *screen;
    bool alternate, cursor_visible, tells_mouse;
    bool closed; // nothing more comes
    sm_text sent;
    char row[4096];
    char home[64]; // of the program's own: nothing it keeps reaches the user's, or another program's
};

static int take_property(VTermProp property, VTermValue *value, void *user) {
    pty *p = user;
    if (property == VTERM_PROP_ALTSCREEN)
        p->alternate = value->boolean;
    else if (property == VTERM_PROP_CURSORVISIBLE)
        p->cursor_visible = value->boolean;
    else if (property == VTERM_PROP_MOUSE)
        p->tells_mouse = value->number != VTERM_PROP_MOUSE_NONE;
    return 1;
}

static const VTermScreenCallbacks callbacks = {.settermprop = take_property};

static void set_home(const char *home) {
    static const char *const names[] = {"XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME",
                                        "XDG_STATE_HOME"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        setenv(names[i], home, 1);
}

static void become(const char *const *argv, const char *const *environment) {
    setenv("TERM", "xterm-256color", 1);
    setenv("COLORFGBG", "15;0", 1);
    setenv("LC_ALL", "C.UTF-8", 1);
    setenv("TZ", "UTC", 1);
    setenv("XDG_CONFIG_HOME", "/dev/null/none", 1); // nothing chosen earlier, and nothing kept
    unsetenv("COLORTERM");
    unsetenv("NO_COLOR");
    unsetenv("LINES");
    unsetenv("COLUMNS");
    for (; environment && *environment; environment++) {
        char *copy = strdup(*environment);
        if (copy)
            putenv(copy);
    }
    char *words[16] = {0};
    for (size_t i = 0; i < 15 && argv[i]; i++)
        words[i] = strdup(argv[i]);
    execv(words[0], words);
    _exit(127);
}

static int shown(int length) {
    return length < 1000 ? length : 1000;
}

pty *pty_start(int columns, int rows, const char *const *argv, const char *const *environment) {
    pty *p = calloc(1, sizeof *p);
    assert_non_null(p);
    struct winsize size = {.ws_row = (unsigned short)rows, .ws_col = (unsigned short)columns};
    folder_make(p->home);
    p->pid = forkpty(&p->master, NULL, NULL, &size);
    assert_true(p->pid >= 0);
    if (p->pid == 0) {
        set_home(p->home);
        become(argv, environment);
    }
    p->terminal = vterm_new(shown(rows), shown(columns));
    assert_non_null(p->terminal);
    vterm_set_utf8(p->terminal, 1);
    p->screen = vterm_obtain_screen(p->terminal);
    p->cursor_visible = true;
    vterm_screen_set_callbacks(p->screen, &callbacks, p);
    vterm_screen_enable_altscreen(p->screen, 1);
    vterm_screen_reset(p->screen, 1);
    return p;
}

void pty_destroy(pty *p) {
    if (p->pid > 0) {
        kill(p->pid, SIGKILL);
        waitpid(p->pid, NULL, 0);
    }
    if (p->master >= 0)
        close(p->master);
    vterm_free(p->terminal);
    sm_text_deinit(&p->sent);
    folder_remove(p->home);
    free(p);
}

// What the terminal itself has to say to the program: answers, and the mouse.
static void send_answers(pty *p) {
    char bytes[4096];
    size_t answer = vterm_output_read(p->terminal, bytes, sizeof bytes);
    for (size_t sent = 0; sent < answer;) {
        ssize_t written = write(p->master, bytes + sent, answer - sent);
        sent = written > 0 ? sent + (size_t)written : answer;
    }
}

// Reads what is there after at most MILLISECONDS. False: nothing came.
static bool read_some(pty *p, int milliseconds) {
    struct pollfd waited = {p->master, POLLIN, 0};
    if (p->closed || poll(&waited, 1, milliseconds) <= 0)
        return false;
    char bytes[4096];
    ssize_t count = read(p->master, bytes, sizeof bytes);
    if (count <= 0) {
        p->closed = count == 0 || errno == EIO; // EIO: the other end is closed
        return false;
    }
    sm_text_append(&p->sent, bytes, (size_t)count);
    vterm_input_write(p->terminal, bytes, (size_t)count);
    send_answers(p);
    return true;
}

static int64_t now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

void pty_listen(pty *p, int milliseconds) {
    int64_t end = now_ms() + milliseconds;
    for (int64_t left = milliseconds; left > 0 && !p->closed; left = end - now_ms())
        read_some(p, (int)left);
}

void pty_type(pty *p, const char *bytes) {
    size_t length = strlen(bytes);
    assert_int_equal(write(p->master, bytes, length), (ssize_t)length);
}

void pty_paste(pty *p, const char *bytes) {
    char line[4096], mark[16];
    vterm_keyboard_start_paste(p->terminal);
    size_t length = vterm_output_read(p->terminal, line, sizeof line);
    vterm_keyboard_end_paste(p->terminal);
    size_t end = vterm_output_read(p->terminal, mark, sizeof mark);
    int written = snprintf(line + length, sizeof line - length, "%s%.*s", bytes, (int)end, mark);
    assert_true(written >= 0 && length + (size_t)written < sizeof line);
    pty_type(p, line);
}

bool pty_marks_pastes(pty *p) {
    char mark[16];
    vterm_keyboard_start_paste(p->terminal);
    return vterm_output_read(p->terminal, mark, sizeof mark) > 0;
}

void pty_click(pty *p, int column, int row, int button) {
    vterm_mouse_move(p->terminal, row, column, VTERM_MOD_NONE);
    vterm_mouse_button(p->terminal, button, true, VTERM_MOD_NONE);
    vterm_mouse_button(p->terminal, button, false, VTERM_MOD_NONE);
    send_answers(p);
}

bool pty_is_closed(const pty *p) {
    return p->closed;
}

void pty_resize(pty *p, int columns, int rows) {
    struct winsize size = {.ws_row = (unsigned short)rows, .ws_col = (unsigned short)columns};
    while (read_some(p, 0)) {
    }
    int old_rows, old_columns;
    vterm_get_size(p->terminal, &old_rows, &old_columns);
    if (old_rows == rows && old_columns == columns)
        return; // the program would not hear of it
    // Rows below the cursor that go away make libvterm 0.1.4 count it to a negative row, so it goes to the last one before.
    vterm_input_write(p->terminal, "\033[999H", 6);
    vterm_set_size(p->terminal, shown(rows), shown(columns));
    assert_int_equal(ioctl(p->master, TIOCSWINSZ, &size), 0);
}

void pty_signal(pty *p, int signal) {
    assert_int_equal(kill(p->pid, signal), 0);
}

const char *pty_row(pty *p, int row) {
    int rows, columns;
    vterm_get_size(p->terminal, &rows, &columns);
    VTermRect rect = {row, row + 1, 0, columns};
    size_t length = vterm_screen_get_text(p->screen, p->row, sizeof p->row - 1, rect);
    while (length > 0 && p->row[length - 1] == ' ')
        length--;
    p->row[length] = '\0';
    return p->row;
}

bool pty_shows(pty *p, const char *text) {
    int rows, columns;
    vterm_get_size(p->terminal, &rows, &columns);
    for (int row = 0; row < rows; row++)
        if (strstr(pty_row(p, row), text))
            return true;
    return false;
}

static void fail_with_screen(pty *p, const char *what, const char *text, const char *file, int line) {
    int rows, columns;
    vterm_get_size(p->terminal, &rows, &columns);
    fprintf(stderr, "%s:%d: %s: %s\n", file, line, what, text);
    for (int row = 0; row < rows; row++)
        fprintf(stderr, "|%s\n", pty_row(p, row));
    _fail(file, line);
}

static bool wait_for(pty *p, const char *text, bool there) {
    int64_t end = now_ms() + DEADLINE_MS;
    while (pty_shows(p, text) != there) {
        int64_t left = end - now_ms();
        if (left <= 0 || p->closed)
            return false;
        read_some(p, (int)left);
    }
    return true;
}

void pty_expect_at(pty *p, const char *text, const char *file, int line) {
    if (!wait_for(p, text, true))
        fail_with_screen(p, "never came", text, file, line);
}

void pty_expect_gone_at(pty *p, const char *text, const char *file, int line) {
    if (!wait_for(p, text, false))
        fail_with_screen(p, "never went", text, file, line);
}

void pty_expect_row_at(pty *p, int row, const char *text, const char *file, int line) {
    int64_t end = now_ms() + DEADLINE_MS;
    while (!strstr(pty_row(p, row), text)) {
        int64_t left = end - now_ms();
        if (left <= 0 || p->closed)
            fail_with_screen(p, "never came in its row", text, file, line);
        read_some(p, (int)left);
    }
}

int pty_expect_end(pty *p) {
    int64_t end = now_ms() + DEADLINE_MS;
    while (!p->closed && now_ms() < end)
        read_some(p, 1000);
    assert_true(p->closed);
    int status;
    assert_int_equal(waitpid(p->pid, &status, 0), p->pid);
    p->pid = 0;
    return status;
}

int pty_expect_end_unread(pty *p) {
    int64_t end = now_ms() + DEADLINE_MS;
    int status;
    pid_t ended = 0;
    while (ended == 0 && now_ms() < end) {
        ended = waitpid(p->pid, &status, WNOHANG);
        poll(NULL, 0, 10);
    }
    assert_int_equal(ended, p->pid);
    p->pid = 0;
    return status;
}

int pty_hang_up(pty *p) {
    close(p->master);
    p->master = -1;
    p->closed = true;
    return pty_expect_end_unread(p);
}

char *pty_text(pty *p) {
    int rows, columns;
    vterm_get_size(p->terminal, &rows, &columns);
    char *text = calloc((size_t)rows, sizeof p->row + 1);
    assert_non_null(text);
    size_t length = 0;
    for (int row = 0; row < rows; row++)
        length += (size_t)sprintf(text + length, "%s\n", pty_row(p, row));
    return text;
}

bool pty_has_colour(pty *p) {
    int rows, columns;
    vterm_get_size(p->terminal, &rows, &columns);
    for (VTermPos at = {0, 0}; at.row < rows; at.row++) {
        for (at.col = 0; at.col < columns; at.col++) {
            VTermScreenCell cell;
            assert_int_equal(vterm_screen_get_cell(p->screen, at, &cell), 1);
            if (!VTERM_COLOR_IS_DEFAULT_FG(&cell.fg) || !VTERM_COLOR_IS_DEFAULT_BG(&cell.bg))
                return true;
        }
    }
    return false;
}

void pty_expect_cursor(pty *p, bool visible) {
    int64_t end = now_ms() + DEADLINE_MS;
    while (p->cursor_visible != visible) {
        int64_t left = end - now_ms();
        if (left <= 0 || p->closed) {
            fail_with_screen(p, "the cursor never became", visible ? "visible" : "hidden", __FILE__,
                             __LINE__);
        }
        read_some(p, (int)left);
    }
}

bool pty_is_reversed(pty *p, int column, int row) {
    VTermScreenCell cell;
    assert_int_equal(vterm_screen_get_cell(p->screen, (VTermPos){row, column}, &cell), 1);
    return cell.attrs.reverse;
}

static VTermScreenCell cell_at(pty *p, int column, int row) {
    VTermScreenCell cell;
    assert_int_equal(vterm_screen_get_cell(p->screen, (VTermPos){row, column}, &cell), 1);
    return cell;
}

static int colour_number(const VTermColor *colour) {
    if (VTERM_COLOR_IS_DEFAULT_FG(colour) || VTERM_COLOR_IS_DEFAULT_BG(colour))
        return -1;
    if (VTERM_COLOR_IS_INDEXED(colour))
        return colour->indexed.idx;
    return 0x1000000 | colour->rgb.red << 16 | colour->rgb.green << 8 | colour->rgb.blue;
}

int pty_ink(pty *p, int column, int row) {
    VTermScreenCell cell = cell_at(p, column, row);
    return colour_number(&cell.fg);
}

int pty_paper(pty *p, int column, int row) {
    VTermScreenCell cell = cell_at(p, column, row);
    return colour_number(&cell.bg);
}

void pty_expect_ink_at(pty *p, int column, int row, int ink, const char *file, int line) {
    int64_t end = now_ms() + DEADLINE_MS;
    while (pty_ink(p, column, row) != ink) {
        int64_t left = end - now_ms();
        if (left <= 0 || p->closed) {
            char text[64];
            snprintf(text, sizeof text, "%x at column %d, row %d; there is %x", (unsigned)ink, column, row,
                     (unsigned)pty_ink(p, column, row));
            fail_with_screen(p, "never had its colour", text, file, line);
        }
        read_some(p, (int)left);
    }
}

bool pty_is_bold(pty *p, int column, int row) {
    return cell_at(p, column, row).attrs.bold;
}

bool pty_is_alternate(const pty *p) {
    return p->alternate;
}

bool pty_tells_mouse(const pty *p) {
    return p->tells_mouse;
}

bool pty_cursor_is_visible(const pty *p) {
    return p->cursor_visible;
}

const char *pty_sent(const pty *p, size_t *length) {
    *length = p->sent.length;
    return sm_text_get(&p->sent);
}

int pty_pid(const pty *p) {
    return (int)p->pid;
}

size_t pty_bytes(const pty *p) {
    return p->sent.length;
}
