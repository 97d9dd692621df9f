// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/terminal.h"

#include "screen/crash.h"

#include "slowmatch/clock.h"

#include <assert.h>
#include <langinfo.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>
#include <wchar.h>

#define NCURSES_WIDECHAR 1
#include <curses.h>
#include <term.h>
#undef columns // term.h makes macros of common words
#undef lines

struct sm_terminal {
    SCREEN *screen;
    sm_cells *painted; // what is on the screen; NULL: unknown
    bool ascii;
    bool colour;
    bool owns_default; // its own ink and paper can be asked for
    attr_t attributes[SM_LOOK_COUNT];
    int cursor_x, cursor_y;
    bool listens, tells; // to the mouse: wanted, switched on
    bool marks;          // it puts marks around what is pasted
    sm_paste paste;
    sm_mouse mouse;
    sm_ground ground;
    int64_t asked_us; // for its ground, 0: not, or no answer is awaited any more
    bool answers;     // the answer has begun to come
    char answer[64];
    size_t answer_length;
};

// ---- looks --------------------------------------------------------------------

#define TRUE_COLOURS 0x1000000

static attr_t attributes_of(uint8_t bits) {
    return (bits & SM_BOLD ? A_BOLD : A_NORMAL) | (bits & SM_UNDERLINE ? A_UNDERLINE : A_NORMAL) |
           (bits & SM_REVERSE ? A_REVERSE : A_NORMAL) | (bits & SM_FAINT ? A_DIM : A_NORMAL);
}

// The number of INK's colour on this terminal, -1 for the terminal's own.
static int colour_of(const sm_ink *ink) {
    if (COLORS >= TRUE_COLOURS)
        return ink->rgb;
    if (COLORS >= 256)
        return ink->of256;
    return COLORS >= 16 ? ink->of16 : ink->of16 >= 8 ? ink->of16 - 8 : ink->of16;
}

static void use_look(const sm_terminal *terminal, sm_look look) {
    attr_set(terminal->attributes[look], terminal->colour ? (short)(look + 1) : 0, NULL);
}

// Everything that is erased gets the palette's paper.
static void spread_paper(const sm_terminal *terminal) {
    cchar_t blank;
    if (setcchar(&blank, L" ", A_NORMAL, terminal->colour ? SM_LOOK_PLAIN + 1 : 0, NULL) == OK)
        bkgrndset(&blank);
}

void sm_terminal_colours(sm_terminal *terminal, sm_palette palette) {
    int paper = terminal->colour ? colour_of(&sm_palette_row_of(palette)->paper) : SM_OWN_INK;
    for (int look = 0; look < SM_LOOK_COUNT; look++) {
        const sm_ink *ink = sm_theme_ink(palette, (sm_look)look);
        if (!terminal->colour) {
            terminal->attributes[look] = attributes_of(sm_theme_plain_attributes((sm_look)look));
            continue;
        }
        bool bright = COLORS < 16 && ink->of16 >= 8;
        terminal->attributes[look] = attributes_of(ink->attributes) | (bright ? A_BOLD : A_NORMAL);
        int colour = colour_of(ink);
        bool own = terminal->owns_default;
        init_extended_pair(look + 1, colour == SM_OWN_INK && !own ? COLOR_WHITE : colour,
                           paper == SM_OWN_INK && !own ? COLOR_BLACK : paper);
    }
    spread_paper(terminal);
    sm_terminal_forget(terminal);
}

static void start_colours(sm_terminal *terminal) {
    const char *refused = getenv("NO_COLOR"); // by its convention any value but an empty one says no
    if (!(refused && *refused) && has_colors() && start_color() != ERR && COLOR_PAIRS > SM_LOOK_COUNT) {
        terminal->colour = true;
        terminal->owns_default = use_default_colors() == OK;
    }
    sm_terminal_colours(terminal, SM_PALETTE_PLAIN);
}

// How long an answer is awaited. Nobody waits: what comes is sorted out from the keys.
#define ANSWER_US (2 * SM_US_PER_S)

// Asks for the paper's colour (xterm's control sequences: OSC 11) where nothing else tells it. The Linux console is dark, and old ones of
// its kind would show the question.
static void ask_ground(sm_terminal *terminal) {
    const char *name = getenv("TERM");
    terminal->ground = sm_ground_of_variable(getenv("COLORFGBG"));
    if (!terminal->colour || terminal->ground != SM_GROUND_UNKNOWN)
        return;
    if (name && strncmp(name, "linux", strlen("linux")) == 0) {
        terminal->ground = SM_GROUND_DARK;
        return;
    }
    terminal->asked_us = sm_monotonic_us();
    putp("\033]11;?\033\\");
    fflush(stdout);
}

sm_ground sm_terminal_ground(const sm_terminal *terminal) {
    return terminal->ground;
}

// The terminfo entry that takes any colour by its red, green and blue: "xterm-direct" for "xterm-256color". It is used where
// COLORTERM says that the terminal can, and terminfo has it. NULL: as TERM says.
static const char *direct_entry(char *buffer, size_t room) {
    const char *claimed = getenv("COLORTERM"), *name = getenv("TERM");
    if (!claimed || !name || (strcmp(claimed, "truecolor") != 0 && strcmp(claimed, "24bit") != 0))
        return NULL;
    const char *dash = strstr(name, "-256color");
    size_t stem = dash ? (size_t)(dash - name) : strlen(name);
    if (snprintf(buffer, room, "%.*s-direct", (int)stem, name) >= (int)room)
        return NULL;
    int found;
    if (setupterm(buffer, STDOUT_FILENO, &found) == ERR)
        return NULL;
    bool direct = tigetflag("RGB") > 0 && tigetnum("colors") >= TRUE_COLOURS;
    del_curterm(cur_term);
    return direct ? buffer : NULL;
}

// ---- open, close -----------------------------------------------------------------

const char *sm_terminal_missing(void) {
    int found;
    const char *name = getenv("TERM");
    if (!isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO))
        return "standard input and output are no terminal";
    if (!name || !*name)
        return "TERM does not say which terminal this is";
    if (setupterm(name, STDOUT_FILENO, &found) == ERR)
        return "TERM names a terminal that is not known here";
    const char *move = tigetstr("cup");
    bool moves = move && move != (const char *)-1 && !tigetflag("hc");
    del_curterm(cur_term);
    return moves ? NULL : "TERM names a terminal that cannot move its cursor";
}

// What begins a report of the mouse, and the marks of a paste, in numbers that no key of curses has.
#define KEY_SGR_MOUSE 0x4000
#define KEY_OLD_MOUSE 0x4001
#define KEY_PASTE_BEGINS 0x4002
#define KEY_PASTE_ENDS 0x4003

// Cursor keys in the form of terminals that do not change over to the form terminfo names.
static void add_keys(void) {
    static const struct {
        const char *sequence;
        int key;
    } more[] = {
        {"\033[A", KEY_UP},    {"\033[B", KEY_DOWN}, {"\033[C", KEY_RIGHT}, {"\033[D", KEY_LEFT},
        {"\033[H", KEY_HOME},  {"\033[F", KEY_END},  {"\033OA", KEY_UP},    {"\033OB", KEY_DOWN},
        {"\033OC", KEY_RIGHT}, {"\033OD", KEY_LEFT}, {"\033[1~", KEY_HOME}, {"\033[4~", KEY_END},
        {"\033[Z", KEY_BTAB},
    };
    for (size_t i = 0; i < sizeof more / sizeof more[0]; i++)
        if (key_defined(more[i].sequence) == 0)
            define_key(more[i].sequence, more[i].key);
    define_key("\033[<", KEY_SGR_MOUSE);
    define_key("\033[M", KEY_OLD_MOUSE);
    define_key("\033[200~", KEY_PASTE_BEGINS);
    define_key("\033[201~", KEY_PASTE_ENDS);
}

// The mouse is read here and not by curses. Curses waits for the end of a report that was cut short, and takes the next key for
// a part of it, even the key that stops. Xterm's control sequences: 1000 tells of buttons, 1006 in digits.
static void tell_mouse(sm_terminal *terminal, bool tell) {
    const char *known = tigetstr("kmous");
    if (terminal->tells != tell && known && known != (const char *)-1) {
        putp(tell ? "\033[?1000h\033[?1006h" : "\033[?1006l\033[?1000l");
        fflush(stdout); // putp has a buffer of its own
        terminal->tells = tell;
    }
}

// Xterm's control sequences: 2004, marks around what is pasted. A terminal of its kind that does not know them does nothing.
static void mark_pastes(sm_terminal *terminal, bool mark) {
    const char *move = tigetstr("cup");
    if (terminal->marks != mark && move && move != (const char *)-1 && strncmp(move, "\033[", 2) == 0) {
        putp(mark ? "\033[?2004h" : "\033[?2004l");
        fflush(stdout);
        terminal->marks = mark;
    }
    terminal->paste.under_way = false;
}

static void set_modes(void) {
    raw(); // so that Ctrl-C and Ctrl-Z come as keys, and make safe before anything else happens
    noecho();
    nonl();
    nodelay(stdscr, TRUE);
    keypad(stdscr, TRUE);
    scrollok(stdscr, FALSE);
    typeahead(-1); // a frame goes out whole, without a look for keys at each of its lines
    curs_set(0);
}

// The size of the window as the system has it, cut to the most that is drawn. False: it knows none.
static bool window_size(struct winsize *size, bool *cut) {
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, size) != 0 || size->ws_col == 0 || size->ws_row == 0)
        return false;
    *cut = size->ws_col > SM_CELLS_COLUMNS_MAX || size->ws_row > SM_CELLS_ROWS_MAX;
    size->ws_col = size->ws_col < SM_CELLS_COLUMNS_MAX ? size->ws_col : SM_CELLS_COLUMNS_MAX;
    size->ws_row = size->ws_row < SM_CELLS_ROWS_MAX ? size->ws_row : SM_CELLS_ROWS_MAX;
    return true;
}

sm_result sm_terminal_open(sm_terminal **out) {
    sm_terminal *terminal = calloc(1, sizeof *terminal);
    if (!terminal)
        return SM_NO_MEMORY;
    char name[128];
    const char *direct = direct_entry(name, sizeof name);
    struct winsize size;
    bool cut = false;
    (void)window_size(&size, &cut);
    use_env(!cut); // else curses would make room for all of it before it can be told
    terminal->screen = newterm(direct, stdout, stdin);
    if (!terminal->screen) {
        free(terminal);
        return SM_UNREADABLE;
    }
    terminal->ascii = strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
    terminal->cursor_x = -1;
    set_escdelay(25);
    sm_crash_guard(true);
    set_modes();
    add_keys();
    mark_pastes(terminal, true);
    start_colours(terminal);
    ask_ground(terminal);
    *out = terminal;
    return SM_OK;
}

// Curses saves the cursor where it scrolls. Terminals made with libvterm, when they leave the alternate screen, hide the cursor
// again if it was hidden at that save. So it is shown once more.
static void give_back(sm_terminal *terminal) {
    tell_mouse(terminal, false);
    mark_pastes(terminal, false);
    endwin();
    const char *shown = tigetstr("cnorm");
    if (shown && shown != (const char *)-1) {
        putp(shown);
        fflush(stdout);
    }
}

void sm_terminal_close(sm_terminal *terminal) {
    if (!terminal)
        return;
    give_back(terminal);
    delscreen(terminal->screen);
    sm_cells_destroy(terminal->painted);
    free(terminal);
    sm_crash_guard(false);
}

void sm_terminal_leave(sm_terminal *terminal) {
    give_back(terminal);
}

void sm_terminal_return(sm_terminal *terminal) {
    set_modes();
    tell_mouse(terminal, terminal->listens);
    mark_pastes(terminal, true);
    if (terminal->cursor_x >= 0)
        curs_set(1);
    sm_terminal_forget(terminal);
}

void sm_terminal_measure(sm_terminal *terminal, int *columns, int *rows) {
    (void)terminal;
    struct winsize size;
    bool cut;
    if (window_size(&size, &cut) && (size.ws_col != COLS || size.ws_row != LINES))
        resizeterm(size.ws_row, size.ws_col);
    *columns = COLS < SM_CELLS_COLUMNS_MAX ? COLS : SM_CELLS_COLUMNS_MAX;
    *rows = LINES < SM_CELLS_ROWS_MAX ? LINES : SM_CELLS_ROWS_MAX;
}

bool sm_terminal_is_ascii(const sm_terminal *terminal) {
    return terminal->ascii;
}

bool sm_terminal_takes(const sm_terminal *terminal) {
    (void)terminal;
    struct pollfd out = {STDOUT_FILENO, POLLOUT, 0};
    return poll(&out, 1, 0) > 0;
}

// ---- painting ----------------------------------------------------------------------

static size_t to_wide(const char *text, wchar_t *out, size_t room) {
    mbstate_t state = {0};
    const char *from = text;
    size_t count = mbsrtowcs(out, &from, room, &state);
    return count == (size_t)-1 ? 0 : count;
}

static bool same_cell(const sm_cell *a, const sm_cell *b) {
    return a->look == b->look && a->width == b->width && strcmp(a->text, b->text) == 0;
}

static void paint_cell(const sm_terminal *terminal, const sm_cell *cell, int x, int y) {
    wchar_t wide[sizeof cell->text];
    size_t count = to_wide(cell->text, wide, sizeof wide / sizeof wide[0]);
    if (count > 0) {
        use_look(terminal, (sm_look)cell->look);
        mvaddnwstr(y, x, wide, (int)count);
    }
}

// Bytes of a move of the cursor, and of another look, as terminals of xterm's kind take them.
#define MOVE_BYTES 8
#define LOOK_BYTES 16

static size_t paint_cells(sm_terminal *terminal, const sm_cells *cells) {
    int columns = sm_cells_columns(cells), rows = sm_cells_rows(cells);
    const sm_cells *old = terminal->painted;
    size_t bytes = 0;
    int look = SM_LOOK_PLAIN;
    bool comparable = old && sm_cells_columns(old) == columns && sm_cells_rows(old) == rows;
    for (int y = 0; y < rows; y++) {
        int last = -2;
        for (int x = 0; x < columns; x++) {
            const sm_cell *cell = sm_cells_at(cells, x, y);
            if (cell->width > 0 && !(comparable && same_cell(cell, sm_cells_at(old, x, y)))) {
                paint_cell(terminal, cell, x, y);
                bytes += strlen(cell->text) + (last + 1 != x ? MOVE_BYTES : 0) +
                         (look != cell->look ? LOOK_BYTES : 0);
                last = x;
                look = cell->look;
            }
        }
    }
    return bytes;
}

static void remember(sm_terminal *terminal, const sm_cells *cells) {
    int columns = sm_cells_columns(cells), rows = sm_cells_rows(cells);
    if (!terminal->painted || sm_cells_columns(terminal->painted) != columns ||
        sm_cells_rows(terminal->painted) != rows) {
        sm_cells_destroy(terminal->painted);
        terminal->painted = sm_cells_create(columns, rows);
    }
    if (terminal->painted)
        sm_cells_copy(terminal->painted, cells);
}

size_t sm_terminal_paint(sm_terminal *terminal, const sm_cells *cells, int cursor_x, int cursor_y) {
    if (!terminal->painted) {
        attr_set(A_NORMAL, 0, NULL);
        erase(); // with the paper
        clearok(stdscr, TRUE);
    }
    size_t bytes = paint_cells(terminal, cells);
    remember(terminal, cells);
    if ((cursor_x >= 0) != (terminal->cursor_x >= 0))
        curs_set(cursor_x >= 0 ? 1 : 0);
    // A hidden cursor stays put, so that nothing is sent for it.
    if (cursor_x >= 0)
        move(cursor_y, cursor_x);
    leaveok(stdscr, cursor_x < 0);
    terminal->cursor_x = cursor_x;
    terminal->cursor_y = cursor_y;
    refresh();
    return bytes;
}

void sm_terminal_forget(sm_terminal *terminal) {
    sm_cells_destroy(terminal->painted);
    terminal->painted = NULL;
}

void sm_terminal_bell(sm_terminal *terminal) {
    (void)terminal;
    beep();
}

// ---- keys ---------------------------------------------------------------------------

typedef struct key_row {
    wint_t curses;
    int key;
} key_row;

static int special_key(wint_t code) {
    static const key_row table[] = {
        {KEY_BACKSPACE, SM_KEY_BACKSPACE}, {KEY_DC, SM_KEY_DELETE},   {KEY_LEFT, SM_KEY_LEFT},
        {KEY_RIGHT, SM_KEY_RIGHT},         {KEY_UP, SM_KEY_UP},       {KEY_DOWN, SM_KEY_DOWN},
        {KEY_HOME, SM_KEY_HOME},           {KEY_END, SM_KEY_END},     {KEY_PPAGE, SM_KEY_PAGE_UP},
        {KEY_NPAGE, SM_KEY_PAGE_DOWN},     {KEY_ENTER, SM_KEY_ENTER}, {KEY_BTAB, SM_KEY_BACK_TAB},
    };
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if (table[i].curses == code)
            return table[i].key;
    if (code > KEY_F0 && code <= KEY_F(12))
        return SM_KEY_F0 + (int)(code - KEY_F0);
    return SM_KEY_SPECIAL; // a key that means nothing here
}

// How long the rest of a sequence may be on its way.
#define REST_MS 25

// The next code of a sequence that has begun. False: none came, or a key.
static bool next_code(wint_t *code) {
    int kind = get_wch(code);
    if (kind == ERR) {
        struct pollfd in = {STDIN_FILENO, POLLIN, 0};
        kind = poll(&in, 1, REST_MS) > 0 ? get_wch(code) : ERR;
    }
    return kind == OK;
}

// "0;12;5" and its end, M for pressed or m for released. Whatever else comes is a key and is given back.
static bool read_sgr(int numbers[3], bool *pressed) {
    wint_t code;
    for (int i = 0; i < 3 && next_code(&code);) {
        if (code >= '0' && code <= '9') {
            numbers[i] = numbers[i] < 100000 ? numbers[i] * 10 + (int)(code - '0') : numbers[i];
        } else if (code == ';' && i < 2) {
            i++;
        } else if ((code == 'M' || code == 'm') && i == 2) {
            *pressed = code == 'M';
            return true;
        } else {
            unget_wch((wchar_t)code);
            return false;
        }
    }
    return false;
}

// Three characters, each with 32 added: so old a form that only terminals without the other send it.
static bool read_old(int numbers[3]) {
    for (int i = 0; i < 3; i++) {
        wint_t code;
        if (!next_code(&code))
            return false;
        numbers[i] = (int)code - 32;
    }
    return true;
}

static int take_mouse(sm_terminal *terminal, bool old) {
    enum { LEFT = 0, WHEEL_UP = 64, WHEEL_DOWN = 65, WITH_KEYS = 4 | 8 | 16 };
    int numbers[3] = {0};
    bool pressed = true;
    if (!(old ? read_old(numbers) : read_sgr(numbers, &pressed)) || !pressed)
        return SM_KEY_SPECIAL;
    terminal->mouse.x = numbers[1] - 1;
    terminal->mouse.y = numbers[2] - 1;
    switch (numbers[0] & ~WITH_KEYS) {
    case LEFT:
        terminal->mouse.what = SM_MOUSE_CLICK;
        return SM_KEY_MOUSE;
    case WHEEL_UP:
        terminal->mouse.what = SM_MOUSE_WHEEL_UP;
        return SM_KEY_MOUSE;
    case WHEEL_DOWN:
        terminal->mouse.what = SM_MOUSE_WHEEL_DOWN;
        return SM_KEY_MOUSE;
    default:
        return SM_KEY_SPECIAL;
    }
}

sm_mouse sm_terminal_mouse(const sm_terminal *terminal) {
    return terminal->mouse;
}

void sm_terminal_listen(sm_terminal *terminal, bool listen) {
    terminal->listens = listen;
    tell_mouse(terminal, listen);
}

static int answered(sm_terminal *terminal) {
    terminal->answer[terminal->answer_length] = '\0';
    terminal->answers = false;
    terminal->asked_us = 0;
    terminal->ground = sm_ground_of_answer(terminal->answer);
    return SM_KEY_GROUND;
}

// What is there of the terminal's answer, up to BEL or ESC \. Nothing in it is a blank or a control character: one that comes in between is
// a key, and ends it.
static int take_answer(sm_terminal *terminal) {
    wint_t code;
    while (get_wch(&code) == OK) {
        if (code == 0x07 || (code == SM_KEY_ESCAPE && next_code(&code) && code == '\\'))
            return answered(terminal);
        if (code <= 0x20 || terminal->answer_length + 1 >= sizeof terminal->answer) {
            terminal->answers = false;
            unget_wch((wchar_t)code);
            return SM_KEY_SPECIAL;
        }
        terminal->answer[terminal->answer_length++] = code < 0x7F ? (char)code : '?';
    }
    return SM_KEY_NONE;
}

// An answer is awaited, and not for too long.
static bool awaits_answer(sm_terminal *terminal) {
    if (terminal->asked_us != 0 && sm_monotonic_us() - terminal->asked_us > ANSWER_US) {
        terminal->asked_us = 0;
        terminal->answers = false;
    }
    return terminal->asked_us != 0;
}

static int take_paste(sm_terminal *terminal) {
    wint_t code;
    int kind, key = SM_KEY_NONE;
    while (key == SM_KEY_NONE && (kind = get_wch(&code)) != ERR) {
        key = kind != KEY_CODE_YES ? (int)code : code == KEY_PASTE_ENDS ? SM_KEY_PASTED : special_key(code);
        key = sm_paste_take(&terminal->paste, key, sm_monotonic_us());
    }
    return key;
}

static int begin_paste(sm_terminal *terminal) {
    sm_paste_begin(&terminal->paste, sm_monotonic_us());
    return take_paste(terminal);
}

const sm_paste *sm_terminal_pasted(const sm_terminal *terminal) {
    return &terminal->paste;
}

// An escape sequence that terminfo does not know is swallowed whole, so that its letters are not taken for keys. On a slow line the mark
// of a paste comes here too.
static int after_escape(sm_terminal *terminal) {
    wint_t code;
    int kind = get_wch(&code);
    if (kind == ERR)
        return SM_KEY_ESCAPE;
    if (kind == OK && code == ']' && awaits_answer(terminal)) {
        terminal->answers = true;
        return take_answer(terminal);
    }
    if (kind == KEY_CODE_YES || (code != '[' && code != 'O')) {
        if (kind != KEY_CODE_YES)
            unget_wch((wchar_t)code);
        return SM_KEY_ESCAPE;
    }
    int number = 0;
    bool came = next_code(&code);
    for (; came && code > 0x20 && code < 0x40; came = next_code(&code))
        number = code >= '0' && code <= '9' && number < 1000 ? number * 10 + (int)(code - '0') : 1000;
    if (came && code == SM_KEY_STOP)
        unget_wch((wchar_t)code); // whatever came before it, this key is never swallowed
    return came && code == '~' && number == 200 ? begin_paste(terminal) : SM_KEY_SPECIAL;
}

int sm_terminal_key(sm_terminal *terminal) {
    wint_t code;
    if (terminal->answers && awaits_answer(terminal))
        return take_answer(terminal);
    if (terminal->paste.under_way)
        return take_paste(terminal);
    int kind = get_wch(&code);
    if (kind == ERR)
        return SM_KEY_NONE;
    if (kind == KEY_CODE_YES) {
        if (code == KEY_SGR_MOUSE || code == KEY_OLD_MOUSE)
            return take_mouse(terminal, code == KEY_OLD_MOUSE);
        if (code == KEY_PASTE_BEGINS)
            return begin_paste(terminal);
        return code == KEY_RESIZE ? SM_KEY_SPECIAL : special_key(code);
    }
    if (code == SM_KEY_ESCAPE)
        return after_escape(terminal);
    if (code == '\n')
        return SM_KEY_ENTER;
    if (code == 0x7F || code == 0x08)
        return SM_KEY_BACKSPACE;
    return (int)code;
}
