#include "io/terminal.h"

#include <curses.h>
#include <langinfo.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <termios.h>
#include <unistd.h>
#include <wchar.h>

#include "terminal_keys.h"
#include "terminal_looks.h"
#include "terminal_restore.h"

/* How long the rest of an arrow key may take to arrive after its first octet. */
#define ESCAPE_MS 10

struct terminal {
    struct loop *loop;
    struct output *output;
    struct terminal_listener listener;
    int watch;
    struct termios before, raw;
    /* ncurses writes and waits, so it writes to memory; from there it goes to the output. */
    FILE *drawn;
    SCREEN *screen;
    WINDOW *keys; /* a pad: reading from it draws nothing */
    bool ascii;
    bool left_out; /* a frame waits for room */
    bool is_closed;
    int busy;       /* calls that are under way, and may have called for the close */
    bool shows_all; /* nothing of what is on the screen is known */
    attr_t attributes[STYLE_COUNT];
    char restore[RESTORE_OCTETS_MAX + 1];
    struct canvas canvas, shown;
};

/* ---- what ncurses drew ---- */

/* Hands on what has been drawn, or gives it in `ret` (and its length) when that is not NULL. */
static size_t take_drawn(struct terminal *terminal, char *ret, size_t size)
{
    const int fd = fileno(terminal->drawn);
    char part[4096];
    ssize_t count;
    size_t length = 0;

    (void)fflush(terminal->drawn);
    (void)lseek(fd, 0, SEEK_SET);
    while ((count = read(fd, part, sizeof part)) > 0) {
        if (ret == NULL)
            output_put(terminal->output, part, (size_t)count);
        else if (length + (size_t)count <= size)
            memcpy(ret + length, part, (size_t)count);
        length += (size_t)count;
    }
    (void)lseek(fd, 0, SEEK_SET);
    (void)!ftruncate(fd, 0);
    return length;
}

static void hand_on(struct terminal *terminal)
{
    (void)take_drawn(terminal, NULL, 0);
}

/* ---- its memory ---- */

static void free_terminal(struct terminal *terminal)
{
    if (terminal->keys != NULL)
        (void)delwin(terminal->keys);
    if (terminal->screen != NULL)
        delscreen(terminal->screen);
    if (terminal->drawn != NULL)
        (void)fclose(terminal->drawn);
    free(terminal);
}

/* Around whatever may call the listener or lose the output. */
static void enter(struct terminal *terminal)
{
    terminal->busy++;
}

static void leave(struct terminal *terminal)
{
    if (--terminal->busy == 0 && terminal->is_closed)
        free_terminal(terminal);
}

/* ---- keys ---- */

static void lose(struct terminal *terminal)
{
    loop_unwatch(terminal->loop, terminal->watch);
    terminal->watch = 0;
    if (terminal->listener.gone != NULL)
        terminal->listener.gone(terminal->listener.user);
}

static void on_input(void *user, int fd, short revents)
{
    struct terminal *terminal = user;
    wint_t code = 0;
    int kind;

    (void)fd;
    enter(terminal);
    while (!terminal->is_closed && (kind = wget_wch(terminal->keys, &code)) != ERR) {
        const struct terminal_press press = press_of(kind == KEY_CODE_YES, code);
        if (terminal->listener.pressed != NULL)
            terminal->listener.pressed(terminal->listener.user, press);
    }
    if (!terminal->is_closed && (revents & (POLLHUP | POLLERR | POLLNVAL)) != 0)
        lose(terminal);
    leave(terminal);
}

/* ---- the way in ---- */

/* Single keys, no echo. A read never waits. Line ends go out as they are, which ncurses takes for
 * granted; Ctrl-C throws away nothing that is on its way out; no key stops the output. */
static bool set_mode(struct terminal *terminal)
{
    struct termios *raw = &terminal->raw;

    if (tcgetattr(STDIN_FILENO, &terminal->before) != 0)
        return false;
    *raw = terminal->before;
    raw->c_iflag &= ~(tcflag_t)(IXON | INLCR);
    raw->c_oflag &= ~(tcflag_t)ONLCR;
    raw->c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    raw->c_lflag |= NOFLSH;
    raw->c_cc[VMIN] = 0;
    raw->c_cc[VTIME] = 0;
    return tcsetattr(STDIN_FILENO, TCSANOW, raw) == 0;
}

static void set_size(void)
{
    struct winsize size;

    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col == 0 || size.ws_row == 0)
        (void)resize_term(24, 80);
    else
        (void)resize_term(size.ws_row, size.ws_col);
}

/* newterm() sets handlers of its own for signals that are not its business here. */
static SCREEN *new_screen(FILE *drawn)
{
    static const int numbers[] = {SIGINT, SIGTERM, SIGTSTP, SIGWINCH};
    struct sigaction before[sizeof numbers / sizeof numbers[0]];

    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        (void)sigaction(numbers[i], NULL, &before[i]);
    SCREEN *screen = newterm(NULL, drawn, stdin);
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        (void)sigaction(numbers[i], &before[i], NULL);
    return screen;
}

static bool can(const char *capability)
{
    const char *text = tigetstr(capability);
    return text != NULL && text != (const char *)-1;
}

static enum result open_screen(struct terminal *terminal)
{
    const int fd = memfd_create("drawn", MFD_CLOEXEC);
    terminal->drawn = fd >= 0 ? fdopen(fd, "w+") : NULL;
    if (terminal->drawn == NULL) {
        if (fd >= 0)
            (void)close(fd);
        return RESULT_FULL;
    }
    terminal->screen = new_screen(terminal->drawn);
    if (terminal->screen == NULL || !can("cup") || !can("clear"))
        return RESULT_UNSUPPORTED;
    terminal->keys = newpad(1, 1);
    return terminal->keys != NULL ? RESULT_OK : RESULT_FULL;
}

/* What arrows send in the terminal's other mode, which is not always left behind by what ran before
 * us, nor always entered. */
static void define_arrows(void)
{
    (void)define_key("\033[A", KEY_UP);
    (void)define_key("\033[B", KEY_DOWN);
    (void)define_key("\033[C", KEY_RIGHT);
    (void)define_key("\033[D", KEY_LEFT);
}

static void prepare_screen(struct terminal *terminal)
{
    size_t length;

    (void)noecho();
    (void)typeahead(-1); /* drawing does not look at the keys */
    (void)set_escdelay(ESCAPE_MS);
    (void)nodelay(terminal->keys, TRUE);
    (void)keypad(terminal->keys, TRUE);
    define_arrows();
    (void)curs_set(0);
    terminal->ascii = strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
    set_looks(terminal->attributes);
    set_size();
    /* What ncurses says at the end it says once to us, for our last words in a crash. */
    (void)refresh();
    (void)take_drawn(terminal, terminal->restore, 0);
    (void)endwin();
    length = take_drawn(terminal, terminal->restore, RESTORE_OCTETS_MAX);
    restore_on_crash(terminal->restore, length, &terminal->before);
    (void)refresh();
    terminal->shows_all = true;
}

static void on_taken(void *user)
{
    struct terminal *terminal = user;

    if (!terminal->left_out || terminal->listener.redraw == NULL)
        return;
    enter(terminal);
    terminal->listener.redraw(terminal->listener.user);
    leave(terminal);
}

static bool is_ours(void)
{
    return isatty(STDIN_FILENO) && isatty(STDOUT_FILENO) && tcgetpgrp(STDIN_FILENO) == getpgrp();
}

enum result terminal_open(struct loop *loop, struct output *output,
                          const struct terminal_listener *listener, struct terminal **ret)
{
    struct terminal *terminal = is_ours() ? calloc(1, sizeof *terminal) : NULL;

    if (terminal == NULL)
        return is_ours() ? RESULT_FULL : RESULT_UNSUPPORTED;
    terminal->loop = loop;
    terminal->output = output;
    terminal->listener = *listener;
    enum result result = open_screen(terminal);
    if (result == RESULT_OK) {
        terminal->watch = loop_watch(loop, STDIN_FILENO, POLLIN, on_input, terminal);
        result = terminal->watch == 0 ? RESULT_FULL : RESULT_OK;
    }
    if (result == RESULT_OK && !set_mode(terminal))
        result = RESULT_UNSUPPORTED;
    if (result != RESULT_OK) {
        loop_unwatch(loop, terminal->watch);
        free_terminal(terminal);
        return result;
    }
    prepare_screen(terminal);
    output_on_taken(output, on_taken, terminal);
    *ret = terminal;
    return RESULT_OK;
}

/* ---- showing ---- */

struct canvas *terminal_canvas(struct terminal *terminal)
{
    int columns, rows;

    getmaxyx(stdscr, rows, columns);
    canvas_clear(&terminal->canvas, columns, rows, terminal->ascii);
    return &terminal->canvas;
}

/* Where the system's idea of a width is another, what follows would be in the wrong place. */
static wchar_t shown_as(const struct canvas *canvas, int column, int row, uint32_t character)
{
    if (character == 0)
        return L' ';
    if (character < 0x7F)
        return (wchar_t)character;
    const bool is_wide = canvas_cell(canvas, column + 1, row).character == CANVAS_COVERED;
    return wcwidth((wchar_t)character) == (is_wide ? 2 : 1) ? (wchar_t)character : L'?';
}

static void draw_cell(const struct terminal *terminal, int column, int row)
{
    const struct cell cell = canvas_cell(&terminal->canvas, column, row);
    const attr_t attributes = terminal->attributes[cell.style < STYLE_COUNT ? cell.style : 0];
    wchar_t text[2] = {shown_as(&terminal->canvas, column, row, cell.character), 0};
    cchar_t drawn;

    if (cell.character == CANVAS_COVERED)
        return;
    (void)setcchar(&drawn, text, attributes, (short)PAIR_NUMBER(attributes), NULL);
    (void)mvadd_wch(row, column, &drawn);
}

/* Whether anything is not what it was. */
static bool draw(struct terminal *terminal)
{
    bool is_other = terminal->shows_all;
    const struct canvas *canvas = &terminal->canvas;
    const bool all = terminal->shows_all || terminal->shown.columns != canvas->columns ||
                     terminal->shown.rows != canvas->rows;

    for (int row = 0; row < canvas->rows; row++)
        for (int column = 0; column < canvas->columns; column++) {
            const struct cell now = canvas_cell(canvas, column, row);
            const struct cell then = canvas_cell(&terminal->shown, column, row);
            if (!all && now.character == then.character && now.style == then.style)
                continue;
            draw_cell(terminal, column, row);
            is_other = true;
        }
    if (terminal->shows_all)
        (void)clearok(curscr, TRUE);
    terminal->shows_all = false;
    return is_other;
}

bool terminal_show(struct terminal *terminal)
{
    const struct canvas *canvas = &terminal->canvas;

    terminal->left_out = output_is_behind(terminal->output);
    if (terminal->left_out)
        return false;
    if (!draw(terminal))
        return true;
    terminal->shown.columns = canvas->columns;
    terminal->shown.rows = canvas->rows;
    memcpy(terminal->shown.cells, canvas->cells,
           (size_t)(canvas->columns * canvas->rows) * sizeof(struct cell));
    enter(terminal);
    (void)refresh();
    hand_on(terminal);
    leave(terminal);
    return true;
}

const char *terminal_restore_text(const struct terminal *terminal)
{
    return terminal->restore;
}

void terminal_resized(struct terminal *terminal)
{
    (void)tcsetattr(STDIN_FILENO, TCSANOW, &terminal->raw);
    set_size();
    terminal->shows_all = true;
    terminal->left_out = true;
    on_taken(terminal);
}

void terminal_close(struct terminal *terminal)
{
    if (terminal == NULL || terminal->is_closed)
        return;
    enter(terminal);
    terminal->is_closed = true;
    output_on_taken(terminal->output, NULL, NULL);
    loop_unwatch(terminal->loop, terminal->watch);
    (void)endwin();
    hand_on(terminal);
    restore_no_more();
    (void)tcsetattr(STDIN_FILENO, TCSANOW, &terminal->before);
    (void)tcflush(STDIN_FILENO, TCIFLUSH); /* keys of a ride are not the shell's */
    leave(terminal);
}
