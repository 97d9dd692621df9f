// SPDX-License-Identifier: GPL-3.0-or-later
// The rules that the reading of the files applies. Listed, so that --rules and --explain know every id that a finding
// carries; judged where the files are read.
#include "check/rule.h"

#define FORMAT "slowmatch-show(5)"

const sm_check_rule check_loader_rules[] = {
    {"file-missing", SM_CHECK_FILES, SM_ERROR, 0, NULL, "a table that is needed is not in the folder", FORMAT,
     "show.ini and cues.csv are always needed, and any table that another one points to."},
};
const size_t check_loader_rule_count = sizeof check_loader_rules / sizeof *check_loader_rules;
