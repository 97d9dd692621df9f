// SPDX-License-Identifier: GPL-3.0-or-later
// The first screen: what this is, and whether live product is within earshot.
#include "console/drill_rows.h"
#include "console/modes/mode.h"
#include "console/tell.h"

// It only shows something: whoever presses it there wants to see that.
static bool only_looks(int key) {
    return key == '?' || key == '!' || key == SM_KEY_TAB || (key > SM_KEY_F0 && key <= SM_KEY_F12);
}

static void press_first(sm_ui *ui, int key) {
    if (key == 'n' || key == 'N') {
        ui->view.tones = true;
        sm_ui_say(ui, SM_OUTCOME_TOLD, "tones on: no live product within earshot, as answered just now");
    } else if (key == 'y' || key == 'Y') {
        ui->view.tones = false;
        sm_ui_say(ui, SM_OUTCOME_TOLD, "tones off: live product is within earshot");
    } else {
        ui->view.tones = false;
        sm_ui_say(ui, SM_OUTCOME_TOLD,
                  only_looks(key) || key == SM_KEY_ESCAPE || key == SM_KEY_ENTER
                      ? "tones off: the question was not answered (T asks again)"
                      : "tones off: the question was not answered (T asks again); the key did nothing else");
    }
    ui->mode = SM_UI_BOARD;
    if (ui->view.drill && !ui->drill_begun) {
        ui->drill_begun = true; // nobody's time runs while they read the brief
        ui->act(ui->owner, "go-drill");
    }
    if (only_looks(key))
        sm_mode_board.press(ui, key);
}

typedef struct paragraph {
    sm_look look;
    const char *text;
} paragraph;

static int draw_paragraphs(const paragraph *paragraphs, size_t count, sm_area area, int y, bool gaps) {
    sm_area text = sm_area_part(area, 1, 0, area.columns > 92 ? 90 : area.columns - 2, area.rows);
    for (size_t i = 0; i < count; i++)
        if (paragraphs[i].text[0])
            y += sm_area_wrap(text, y, 0, paragraphs[i].look, paragraphs[i].text);
        else if (gaps)
            y++;
    return y;
}

static void draw_first(sm_area area, bool asks) {
    static const paragraph whole[] = {
        {SM_LOOK_TITLE,
         "This is a simulation. It has no way to fire anything: no part of it leads to an igniter, and it "
         "moves no flame."},
        {SM_LOOK_PLAIN, ""},
        {SM_LOOK_PLAIN,
         "SAFE means that the rehearsed module is not armed; it says nothing about slots, flames, heat, "
         "fuel or people. On a site the local code, the makers' data and the licensed operator go first."},
        {SM_LOOK_PLAIN, ""},
        {SM_LOOK_NOW, "Is live product rigged within earshot?"},
        {SM_LOOK_PLAIN, "y  yes: this console makes no tones, nobody can take them for real ones"},
        {SM_LOOK_PLAIN, "n  no: tones sound while arming and with alerts"},
        {SM_LOOK_PLAIN, "Any other key leaves it unanswered: no tones."},
    };
    static const paragraph brief[] = {
        {SM_LOOK_TITLE,
         "A simulation: it has no way to fire anything. SAFE means only that the rehearsed module is not "
         "armed."},
        {SM_LOOK_NOW, "Live product within earshot? y yes, n no"},
    };
    bool small = area.rows < 12 || area.columns < 60;
    if (small || !asks) // its last paragraph asks
        draw_paragraphs(brief, sizeof brief / sizeof brief[0] - !asks, area, 0, false);
    else
        draw_paragraphs(whole, sizeof whole / sizeof whole[0], area, 0, true);
}

static bool draw(sm_ui *ui, sm_area area) {
    int taken = ui->view.drill ? sm_drill_rows_brief(ui->view.drill, area) : 0;
    draw_first(sm_area_part(area, 0, taken, area.columns, area.rows - taken), !ui->view.drill);
    return true;
}

// No brief of a drill is so long that the question is not seen.
static void question(const sm_ui *ui, int columns, sm_text *out) {
    if (ui->view.drill) {
        sm_text_printf(out, "%s",
                       columns < 80
                           ? "Live product in earshot? y yes, n no"
                           : "Live product within earshot? y yes, n no, any other key: unanswered, no tones");
    }
}

const sm_mode sm_mode_first = {.press = press_first, .draw = draw, .question = question};
