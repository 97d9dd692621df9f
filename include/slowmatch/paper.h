// SPDX-License-Identifier: GPL-3.0-or-later
// Paper for a crew: one self-contained HTML file of sheets, each for one person's hand, made of what the show, rig, dmx, check and
// walk parts have computed. Every sheet carries three words by which anyone can tell over a radio whether it is the sheet that this
// program means: they come from a hash over everything printed on it but themselves and the moment of printing.
// A sheet gives no permission and no assurance. Functions may be called from any thread, and are pure but for sm_paper_write.
#ifndef SLOWMATCH_PAPER_H
#define SLOWMATCH_PAPER_H

#include "slowmatch/logbook.h"
#include "slowmatch/show.h"

// In the order of printing.
typedef enum sm_paper_kind {
    SM_PAPER_LIST,
    SM_PAPER_LOAD,
    SM_PAPER_OHMS,
    SM_PAPER_LINE,
    SM_PAPER_FEEDS,
    SM_PAPER_STOCK,
    SM_PAPER_TIME,
    SM_PAPER_CALLS,
    SM_PAPER_ARM,
    SM_PAPER_CARD,
    SM_PAPER_NAMES,
    SM_PAPER_WALK,
    SM_PAPER_AFTER,
    SM_PAPER_KIND_COUNT
} sm_paper_kind;
// "LIST" ... "AFTER"; static.
const char *sm_paper_kind_text(sm_paper_kind kind);

// The words that sheets are told apart by, in alphabetical order.
#define SM_PAPER_WORD_COUNT 64
const char *sm_paper_word(size_t index);
// Room for three of them with a blank between.
#define SM_PAPER_WORDS_SIZE 40
// True where the two hold the same words, whatever the case and the blanks.
bool sm_paper_words_equal(const char *a, const char *b);

typedef struct sm_paper_sheet {
    sm_paper_kind kind;
    const char *name;  // one word: "LOAD-A", "LIST"
    const char *title; // as it stands on the sheet: "LOAD A"
    const char *whom;  // it is for: "position lead"
    uint32_t pages;
    char words[SM_PAPER_WORDS_SIZE];
    const char *html; // private to the part
    size_t length;
} sm_paper_sheet;

typedef struct sm_paper {
    const sm_show *show;
    sm_paper_sheet *sheets; // in the order of printing
    uint32_t count;
    sm_arena *arena;
} sm_paper;

// All sheets of SHOW, with what became of its slots on AFTER and the last readings on OHMS where FATES is given (NULL: to be written in
// by hand). Both must outlive the paper; the caller destroys it (NULL is taken). The show's files are looked at
// again for the walk's items. SM_UNREADABLE (errno): one of them cannot be read; SM_NO_MEMORY. *out is unchanged then.
SM_MUST_CHECK sm_result sm_paper_create(const sm_show *show, const sm_logbook_fates *fates, sm_paper **out);
void sm_paper_destroy(sm_paper *paper);
// Row of the sheet called NAME ("LOAD-A", also "load a"); SM_NONE: none is.
uint32_t sm_paper_find(const sm_paper *paper, const char *name);

// The file: the sheets that CHOSEN (count entries; NULL: all) takes, PRINTED ("2026-06-20 16:40") as the moment of printing.
void sm_paper_html(const sm_paper *paper, const bool *chosen, const char *printed, sm_text *out);
// True of the first LENGTH bytes of a file that sm_paper_html made; 400 are enough.
bool sm_paper_is_own(const char *bytes, size_t length);
// The same into the file PATH, whole or not at all. SM_REFUSED: what stands there was not written by sm_paper_write, and stays;
// SM_UNREADABLE (errno); SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_paper_write(const sm_paper *paper, const bool *chosen, const char *printed,
                                       const char *path);
// The sheets, their pages and words: for people, or one JSON object a line.
void sm_paper_print_words(const sm_paper *paper, const bool *chosen, bool json, sm_text *out);

#endif
