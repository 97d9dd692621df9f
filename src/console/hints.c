// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/hints.h"

#include "screen/keys.h"

int sm_hint_draw(sm_area area, int x, int key, const char *word) {
    char name[16];
    sm_key_name(key, name);
    if (x + sm_text_columns(name) + 1 + sm_text_columns(word) >= area.columns)
        return x;
    x += sm_area_text(area, x, 0, SM_LOOK_KEY, name) + 1;
    return x + sm_area_text(area, x, 0, SM_LOOK_PLAIN, word) + 2;
}
