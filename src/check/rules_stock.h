// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_CHECK_STOCK_H
#define SLOWMATCH_CHECK_STOCK_H

#include "slowmatch/check.h"

// Fills SUMMARY's stock, in its arena; its flame units are summed already. SM_NO_MEMORY.
SM_MUST_CHECK sm_result check_count_stock(const sm_show *show, sm_check_summary *summary);

#endif
