// SPDX-License-Identifier: GPL-3.0-or-later
// How many fields and rows each rail takes at a width.
#include "boards/rails/rails.h"

int sm_rails_fields_that_fit(int columns) {
    int fit = (columns - SM_RAILS_LABEL) / SM_RAILS_FIELD;
    return fit < 1 ? 1 : fit;
}

int sm_rails_rows_of(const sm_rail *rail, int fit) {
    return fit < 1 ? rail->slots : (rail->slots + fit - 1) / fit;
}

int sm_rails_per_row(const sm_rail *rail, int fit) {
    int rows = sm_rails_rows_of(rail, fit);
    return rows < 1 ? 1 : (rail->slots + rows - 1) / rows;
}

int sm_rails_rows_needed(const sm_show *show, int fit, bool numbers) {
    int rows = 0;
    for (uint32_t r = 0; r < show->rail_count; r++)
        rows += 1 + sm_rails_rows_of(&show->rails[r], fit) * (numbers ? 2 : 1);
    return rows;
}

int sm_rails_slots_abreast(const sm_show *show, int fit) {
    int most = 0;
    for (uint32_t r = 0; r < show->rail_count; r++) {
        if (sm_rails_rows_of(&show->rails[r], fit) > 1)
            return 0;
        most = show->rails[r].slots > most ? show->rails[r].slots : most;
    }
    return most;
}
