#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# lengths.sh: functions of src have at most 60 lines, nine in ten at most 25, from the line with the opening brace to the
# closing one. One line a breach, exit 1.
cd "$(dirname "$0")/../.." || exit 2
found=$(find src -name '*.c' | xargs awk '
    /^[a-zA-Z_ ].*\) \{$/ { name = $0; from = FNR }
    /^}$/ && from {
        lines = FNR - from + 1
        if (lines > 60) print FILENAME ":" from ": " lines " lines; 60 are the most a function may have"
        count[lines]++
        total++
        from = 0
    }
    END {
        for (lines = 1; below < 0.9 * total; lines++) below += count[lines]
        if (lines - 1 > 25) print "src: one in ten functions has more than " lines - 1 " lines; 25 are the most it may be"
        if (ENVIRON["LENGTHS"]) print "src: " total " functions, nine in ten at most " lines - 1 " lines"
    }')
[ -z "$found" ] && exit 0
printf '%s\n' "$found"
exit 1
