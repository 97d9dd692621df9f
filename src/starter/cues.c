// SPDX-License-Identifier: GPL-3.0-or-later
// show.ini and the cues of a new show: rails in turn, one passage of flame, lamps that come up, alternate and go out.
#include "starter/plan.h"

#include <stdlib.h>

// Lamps alternate and flames burn in the first two minutes: enough to learn from.
#define TAUGHT_US (120 * SM_US_PER_S)
#define PERMIT_AHEAD_US (SM_US_PER_S / 2)
#define FLAMES_FROM_US (6 * SM_US_PER_S)
#define FLAMES_APART_US (4 * SM_US_PER_S)
#define OUT_US (3 * SM_US_PER_S) // before the end
enum { FLAMES_MOST = 6 };

typedef struct row {
    sm_us at_us;
    uint32_t order; // among those of one moment
    sm_text text;   // what follows the time
} row;

typedef struct rows {
    row *at;
    size_t count, room;
    bool failed;
} rows;

static void add(rows *r, sm_us at_us, const char *format, ...) SM_PRINTF(3, 4);

static void add(rows *r, sm_us at_us, const char *format, ...) {
    if (r->count == r->room) {
        const size_t room = r->room * 2 + 64;
        row *more = realloc(r->at, room * sizeof *more);
        if (!more) {
            r->failed = true;
            return;
        }
        r->at = more;
        r->room = room;
    }
    row *one = &r->at[r->count];
    *one = (row){.at_us = at_us, .order = (uint32_t)r->count++};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&one->text, format, args);
    va_end(args);
}

static int compare(const void *left, const void *right) {
    const row *a = left, *b = right;
    if (a->at_us != b->at_us)
        return a->at_us < b->at_us ? -1 : 1;
    return a->order < b->order ? -1 : a->order > b->order;
}

static void add_firings(const plan *p, rows *r) {
    const uint32_t rails = p->options->rails;
    char name[8];
    for (uint32_t i = 0; i < p->firings; i++) {
        const bool pair = i == p->series_at;
        add(r, 4 * SM_US_PER_S + i * p->step_us, "%s-%02u,%s,,,%s,%s", plan_rail_name(i % rails, name),
            i / rails + 1, i / rails % 2 == 0 ? "fountain-gold" : "comet-white", pair ? "2s" : "",
            pair ? "two igniters in series" : "");
    }
}

static void add_lamps(plan *p, rows *r) {
    const uint32_t lights = p->options->lights;
    const sm_us out_us = p->options->length_us - OUT_US, until_us = out_us < TAUGHT_US ? out_us : TAUGHT_US;
    if (lights == 0)
        return;
    add(r, SM_US_PER_S, "lamps,dimmer=60%% blue=255,2 s,,,lamps come up");
    add(r, out_us, "lamps,dimmer=0,2 s,,,and go out");
    p->fixture_events += 2 * lights;
    for (sm_us at_us = 4 * SM_US_PER_S, step = 0; at_us < until_us; at_us += 2 * SM_US_PER_S, step++) {
        const bool evens = step % 2 == 1;
        if (evens && lights < 2)
            continue;
        add(r, at_us, "%s,white=180,,0.4 s,,", evens ? "evens" : "odds");
        p->fixture_events += evens ? lights / 2 : (lights + 1) / 2;
    }
}

static void add_flames(plan *p, rows *r) {
    const sm_us last_us = p->options->length_us - OUT_US;
    sm_us at_us = FLAMES_FROM_US;
    uint32_t flames = 0;
    if (p->options->flames == 0)
        return;
    add(r, at_us - PERMIT_AHEAD_US, "jets,permit=255,,,,permit opens half a second ahead");
    for (; flames < FLAMES_MOST && at_us < last_us; flames++, at_us += FLAMES_APART_US)
        add(r, at_us, "jets,flame=255,,0.5 s,,");
    add(r, at_us - FLAMES_APART_US + SM_US_PER_S, "jets,permit=0,,,,permit shut after the last flame");
    p->fixture_events += (flames + 2) * p->options->flames;
}

void starter_put_cues(plan *p, sm_text *out) {
    rows r = {0};
    if (p->options->rails > 0)
        add_firings(p, &r);
    add_flames(p, &r);
    add_lamps(p, &r);
    if (r.count > 0)
        qsort(r.at, r.count, sizeof *r.at, compare);
    starter_head(out, "cues.csv", "time target do lasts", "time,target,do,fade,lasts,igniters,note");
    for (size_t i = 0; i < r.count; i++) {
        char clock[24];
        sm_text_printf(out, "%s,%s\n", sm_clock_format(clock, r.at[i].at_us), sm_text_get(&r.at[i].text));
        r.failed = r.failed || r.at[i].text.failed;
        sm_text_deinit(&r.at[i].text);
    }
    free(r.at);
    out->failed = out->failed || r.failed;
}

// ---- show.ini ------------------------------------------------------------------------------------

static void put_show(const plan *p, const char *length, sm_text *out) {
    sm_text_printf(
        out,
        "; SPDX-License-Identifier: GPL-3.0-or-later\n"
        "; The licence is that of the template which slowmatch new wrote; what you make of it is yours.\n"
        "; Invented throughout: no real place or product. Change first, here and in each table:\n");
    static const char *const first[] = {"title", "audio", "length"};
    for (size_t i = 0; i < sizeof first / sizeof first[0]; i++)
        starter_key_help(out, "show", first[i]);
    sm_text_printf(out, "[show]\ntitle = %s\naudio = %s\nlength = %s\ncountdown = 5 s\n\n", p->options->title,
                   p->options->music ? p->options->music : "clicks.wav", length);
    starter_key_help(out, "site", "air");
    starter_key_help(out, "site", "audience");
    sm_text_printf(out, "[site]\nair = 15 C\naudience = 0 m\n\n");
}

void starter_put_settings(plan *p, sm_text *out) {
    char length[24];
    sm_clock_format(length, p->options->length_us);
    put_show(p, length, out);
    sm_text_printf(out, "; Not set, on purpose:\n");
    static const char *const left_out[] = {"wind", "reentry-wait", "misfire-wait"};
    for (size_t i = 0; i < sizeof left_out / sizeof left_out[0]; i++)
        starter_key_help(out, "limits", left_out[i]);
    sm_text_printf(out,
                   "; They come from the local code, the makers' data and the licensed operator, never from "
                   "a template.\n"
                   "[limits]\narm-time = 3 s\n\n"
                   "; What you think stands in the tables; check tells where they differ.\n"
                   "[expect]\nevents = %u\npyro = %u\nfixture = %u\nlength = %s\n\n"
                   "[remotes]\npaired = 1\n",
                   p->firings + p->fixture_events, p->firings, p->fixture_events, length);
}
