// SPDX-License-Identifier: GPL-3.0-or-later
// Paper as it comes out of a printer: `slowmatch paper` run, its file laid out by WeasyPrint, the pages read by pdftotext. What must hold
// of every page is held here.
#ifndef SLOWMATCH_TESTS_PAPER_PDF_H
#define SLOWMATCH_TESTS_PAPER_PDF_H

#include "slowmatch/show.h"

typedef enum paper_size { PAPER_A4, PAPER_LETTER } paper_size;

// The file that `slowmatch paper SHOW --sheets SHEETS` (NULL: all) writes. The caller frees it.
char *paper_pdf_html(const char *show, const char *sheets);
// Lays HTML out on SIZE and fails the test unless every page has its head, its number, its end mark, nothing outside its box, nothing
// under its foot, nothing on top of one another, nothing smaller than 11 pt, and there are as many pages as sections.
void paper_pdf_check(const char *html, paper_size size);
// Fails the test unless HTML has every used slot of SHOW on exactly one LOAD with its effect, every fixture on exactly one LINE with
// switches drawn that make its address, every cue with its moment on CALLS.
void paper_html_check(const char *html, const sm_show *show);

#endif
