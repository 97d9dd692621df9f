// SPDX-License-Identifier: GPL-3.0-or-later
#include "paper_text.h"

#include <string.h>

typedef struct entity {
    const char *written, *means;
} entity;

static const entity entities[] = {
    {"&amp;", "&"}, {"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&#39;", "'"}};

static bool is_tag(const char *at, const char *name) {
    const size_t length = strlen(name);
    return at[0] == '<' && strncmp(at + 1, name, length) == 0 && strchr(" />\n", at[1 + length]);
}

static size_t append_entity(sm_text *out, const char *at) {
    for (size_t i = 0; i < sizeof entities / sizeof entities[0]; i++)
        if (strncmp(at, entities[i].written, strlen(entities[i].written)) == 0) {
            sm_text_printf(out, "%s", entities[i].means);
            return strlen(entities[i].written);
        }
    sm_text_append(out, at, 1);
    return 1;
}

sm_text paper_text_of(const char *html, size_t length) {
    sm_text out = {0};
    const char *end = html + length;
    while (html < end) {
        if (*html == '<') {
            const size_t tag = strcspn(html, ">") + 1;
            if (is_tag(html, "rect") || is_tag(html, "path") || is_tag(html, "i"))
                sm_text_append(&out, html, tag);
            else
                sm_text_append(&out, is_tag(html, "br") ? "\n" : " ", 1);
            html += tag;
        } else {
            html += append_entity(&out, html);
        }
    }
    return out;
}

const char *paper_text_tag(const char *at, const char *name) {
    for (at = strchr(at + 1, '<'); at && !is_tag(at, name);)
        at = strchr(at + 1, '<');
    return at;
}
