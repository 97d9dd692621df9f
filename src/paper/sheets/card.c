// SPDX-License-Identifier: GPL-3.0-or-later
// CARD: what to say and do when something goes wrong. Common practice of small crews, from memory, no source; the local code, the
// maker's data and the licensed operator go first.
#include "paper/sheets.h"

#include "slowmatch/alerts.h"

typedef struct trouble {
    const char *what, *say, *act;
} trouble;

static const trouble troubles[] = {
    {"anyone wants a stop", "\"Hold, hold, hold.\" No reason needed.",
     "It stops at once. Every station answers; no answer is a hold. The lead lifts it, only after whoever "
     "called it agrees. Not "
     "understood within half a minute: make safe, key off."},
    {"a person, or perhaps one, in the field", "\"Hold, hold, hold. Person, left.\"",
     "Make safe, key off. Nobody runs in. Field emptied by name, clear called from the start."},
    {"fire that nobody wanted", "\"No drill. Fire at ____ .\"",
     "Make safe, key off, everybody back, keep others back, call the fire service. Nobody fights fire that "
     "may reach product or fuel."},
    {"somebody is hurt", "\"No drill. Person hurt at ____ .\"",
     "Make safe, key off. Call the ambulance; one person meets it at the way in. Into the field only as the "
     "operator says."},
    {"a flame unit stays lit, something tips, burns on", "\"Hold, hold, hold. Lit, wall one.\"",
     "Make safe, key off. Valve outside shut. A pause stops what is to come, not what burns."},
    {"the link is lost", "\"Link lost. Treat as armed.\"",
     "Nobody goes in. A link that comes back resumes nothing: make safe, key off."},
    {"a slot did not fire", "\"Misfire, Alfa zero five.\" Heard back.",
     "It is live and stays live. After the wait the whole rail is isolated at the module end, outside the "
     "danger area. Then the "
     "licensed operator alone, protected, another watching. Never over a tube, never a second try, never "
     "pull or cut the lead."},
    {"thunder, storm warning", "\"Storm. All withdraw.\"",
     "Stop work at product, make safe, key off, all out. Do not stay to unplug."},
    {"wind over the limit", "\"Wind ____ . Aerials held.\"",
     "No aerials, not fewer. Ground pieces as the operator says."},
};

// What the console warns of, from its own table: what can wait is not for the card.
static void put_warnings(paper_kit *kit) {
    static const paper_column columns[] = {{"when", 290, false}, {"do", 318, false}, {"who", 110, false}};
    paper_paragraph(kit, PAPER_STRONG, "What the console calls a WARNING, the most pressing first:");
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 16);
    for (int id = 0; id < SM_ALERT_COUNT; id++) {
        const sm_alert_row *row = sm_alert_row_of((sm_alert_id)id);
        if (row->rank != SM_ALERT_WARNING)
            continue;
        paper_row_begin(kit);
        paper_text_cell(kit, PAPER_TEXT, "%s", row->when);
        paper_text_cell(kit, PAPER_STRONG, "%s", row->to_do);
        paper_text_cell(kit, PAPER_TEXT, "%s", row->who);
        paper_row_end(kit);
    }
    paper_table_end(kit);
}

static void put_wait(paper_kit *kit, const char *what, sm_us wait_us) {
    if (wait_us == SM_UNSET_US)
        paper_paragraph(kit, PAPER_STRONG, "%s: NOT SET. The operator's figure: ________ min.", what);
    else
        paper_paragraph(kit, PAPER_STRONG, "%s, your setting: %g min. A clock, not a release.", what,
                        (double)wait_us / 60e6);
}

void paper_make_card(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {{"what", 130, false}, {"say", 188, false}, {"do", 400, false}};
    static const char *const blanks[][4] = {
        {"emergency number", "fire cover", "first aid", NULL},
        {"this place is called", "way in for the ambulance", NULL, NULL},
        {"meeting point", "licensed operator", NULL, NULL},
        {"radio channel", "the other one", "signal when radio fails", NULL},
    };
    const sm_show_settings *settings = &facts->show->settings;
    (void)index;
    paper_subject(kit, "when something goes wrong");
    for (size_t i = 0; i < sizeof blanks / sizeof blanks[0]; i++)
        paper_form(kit, blanks[i]);
    paper_gap(kit, 8);
    put_wait(kit, "Wait before anyone enters", settings->reentry_wait_us);
    put_wait(kit, "Wait after a misfire", settings->misfire_wait_us);
    paper_paragraph(kit, PAPER_TEXT,
                    "In a drill, \"no drill\" means a real emergency and ends the drill at once.");
    paper_gap(kit, 4);
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 40);
    for (size_t i = 0; i < sizeof troubles / sizeof troubles[0]; i++) {
        paper_row_begin(kit);
        paper_text_cell(kit, PAPER_STRONG, "%s", troubles[i].what);
        paper_text_cell(kit, PAPER_STRONG, "%s", troubles[i].say);
        paper_text_cell(kit, PAPER_TEXT, "%s", troubles[i].act);
        paper_row_end(kit);
    }
    paper_table_end(kit);
    paper_gap(kit, 8);
    put_warnings(kit);
}
