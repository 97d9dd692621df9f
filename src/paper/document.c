// SPDX-License-Identifier: GPL-3.0-or-later
// The file round the sheets, and the list of their words.
#include "paper/sheets.h"

#include "slowmatch/json.h"

#include <string.h>

#define OWN "<meta name=generator content=\"slowmatch paper\">"

// No size of page: the paper that lies in the printer decides. A table's rows have their heights from the kit.
static const char style[] =
    "@page{margin:9mm}\n"
    "@page wide{size:landscape}\n"
    "body{margin:0;font-family:Arial,\"Liberation Sans\",Arimo,Helvetica,sans-serif;font-kerning:none;"
    "color:#000;background:#fff}\n"
    "h1{font-size:14pt}\n"
    "p,h2{margin:0;white-space:nowrap}\n"
    "section{box-sizing:border-box;width:718px;height:986px;overflow:hidden;position:relative;break-after:"
    "page;"
    "break-inside:avoid}\n"
    "section.wide{width:986px;height:718px;page:wide}\n"
    "section:last-child{break-after:auto}\n"
    "header{position:relative;height:80px;margin-bottom:8px;border-bottom:4px solid #000}\n"
    "header .r{position:absolute;right:0;top:2px;text-align:right}\n"
    "header .r .w{line-height:42px}\n"
    "h2{height:44px}\n"
    "header p b{border:2px solid #000;padding:0 6px;margin-right:4px}\n"
    "footer{position:absolute;bottom:0;left:0;right:0;border-top:2px solid #000;padding-top:2px}\n"
    "footer .e{text-align:right}\n"
    "footer .r{position:absolute;right:0;bottom:0}\n"
    ".caution{border-left:8px solid #000;padding-left:8px;margin-bottom:8px}\n"
    "table{border-collapse:separate;border-spacing:0;table-layout:fixed;width:100%;border:solid #000;"
    "border-width:1px 0 0 1px}\n"
    "td,th{box-sizing:border-box;padding:1px 2px 1px 3px;border:solid #000;border-width:0 1px 1px 0;"
    "text-align:left;vertical-align:middle;overflow:hidden}\n"
    "thead th{border-bottom-width:2px}\n"
    ".c{text-align:center}\n"
    "i{display:block;box-sizing:border-box;width:32px;height:32px;border:2px solid #000;margin:0 auto}\n"
    "u{display:inline-block;height:14px;border-bottom:1px solid #000;text-decoration:none}\n"
    ".f{height:30px;padding-top:10px;box-sizing:border-box}\n"
    "svg{display:block}\n"
    "@media print{h1{display:none}}\n"
    "@media screen{section{margin:16px;outline:1px solid #000}h1{margin:16px}}\n";

// HTML with the words and the moment put where its marks are.
static void append_stamped(sm_text *out, const sm_paper_sheet *sheet, const char *printed) {
    static const char marks[] = {PAPER_MARK_WORDS, PAPER_MARK_PRINTED, '\0'};
    const char *at = sheet->html;
    while (*at != '\0') {
        const size_t plain = strcspn(at, marks);
        sm_text_append(out, at, plain);
        at += plain;
        if (*at != '\0') {
            const char *stamp = *at == PAPER_MARK_WORDS ? sheet->words : printed;
            paper_escape(out, stamp, strlen(stamp));
            at++;
        }
    }
}

void sm_paper_html(const sm_paper *paper, const bool *chosen, const char *printed, sm_text *out) {
    const char *title = paper->show->settings.title;
    sm_text_printf(out, "<!DOCTYPE html>\n<html lang=en>\n<head>\n<meta charset=utf-8>\n" OWN
                        "\n<title>Paper of ");
    paper_escape(out, title, strlen(title));
    sm_text_printf(out, "</title>\n<style>\n%s", style);
    paper_types_css(out);
    sm_text_printf(out, "</style>\n</head>\n<body>\n<main>\n<h1>Rehearsal plan of ");
    paper_escape(out, title, strlen(title));
    sm_text_printf(out, ": print at full size (100 %%), on A4 or Letter</h1>\n");
    for (uint32_t i = 0; i < paper->count; i++)
        if (!chosen || chosen[i])
            append_stamped(out, &paper->sheets[i], printed);
    sm_text_printf(out, "</main>\n</body>\n</html>\n");
}

bool sm_paper_is_own(const char *bytes, size_t length) {
    return memmem(bytes, length, OWN, strlen(OWN)) != NULL;
}

static void print_words_json(const sm_paper_sheet *sheet, sm_text *out) {
    sm_json line = sm_json_line_open(out);
    sm_json_text(&line, "sheet", sheet->name);
    sm_json_text(&line, "kind", sm_paper_kind_text(sheet->kind));
    sm_json_text(&line, "for", sheet->whom);
    sm_json_integer(&line, "pages", sheet->pages);
    sm_json_text(&line, "words", sheet->words);
    sm_json_line_close(&line);
}

void sm_paper_print_words(const sm_paper *paper, const bool *chosen, bool json, sm_text *out) {
    for (uint32_t i = 0; i < paper->count; i++) {
        const sm_paper_sheet *sheet = &paper->sheets[i];
        if (chosen && !chosen[i])
            continue;
        if (json)
            print_words_json(sheet, out);
        else
            sm_text_printf(out, "%-36s %2u page%s  %s\n", sheet->name, sheet->pages,
                           sheet->pages == 1 ? " " : "s", sheet->words);
    }
}
