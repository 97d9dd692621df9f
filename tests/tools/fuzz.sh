#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# fuzz.sh BUILD SECONDS [READER...]: BUILD/fuzz over each reader (all where none is named) for SECONDS, one after the other, and a table of
# runs and crashes. Begins with the reader's seeds, what is kept of it in tests/data/fuzz, and what BUILD/corpus holds of earlier
# runs; the dictionary is every word of the manual pages that the schemas make. What crashes lies in BUILD/found/READER: whoever
# mends it puts it into tests/data/fuzz/READER. Exit 1 where anything crashed.
set -u
build=$1 seconds=$2
shift 2
export ASAN_OPTIONS="detect_leaks=1:allocator_may_return_null=1:${ASAN_OPTIONS:-}"
[ $# -gt 0 ] || { names=$(SLOWMATCH_READER='?' "$build/fuzz") || exit 2; set -- $names; }

words=$build/words
cat man/slowmatch-*.[57] | sed 's/\\[&f][A-Z]*//g; s/\\-/-/g' | grep -oE '[A-Za-z][A-Za-z_.-]{1,18}[A-Za-z]' | sort -u |
    sed 's/.*/"&"/' >"$words"
printf '%s\n' '"<row>"' '"</row>"' '"<c r=\"A9\" t=\"s\">"' '"<mergeCell ref=\"A1:ZZ9\"/>"' '"&#0;"' '"]]>"' '"<![CDATA["' '"\xef\xbb\xbf"' '"\xe2\x80\xae"' \
    '"[drill]"' '"[event "' '"00:01:00;02"' '"1e999"' '"nan"' '"4294967296"' '"9223372036854775807"' '"\"\""' '"\x0d\x0a"' >>"$words"

ended() { # LOG: what libFuzzer counted
    sed -n 's/^stat::number_of_executed_units: *//p' "$1"
}
total=0 crashes=0
for reader in "$@"; do
    corpus=$build/corpus/$reader found=$build/found/$reader log=$build/fuzz.log
    mkdir -p "$corpus" "$found"
    SLOWMATCH_READER=$reader SLOWMATCH_SEEDS=$corpus "$build/fuzz" >/dev/null 2>&1
    also=
    [ -d "tests/data/fuzz/$reader" ] && also=tests/data/fuzz/$reader
    runs=0 crashed=0 end=$(($(date +%s) + seconds))
    while left=$((end - $(date +%s))); [ "$left" -gt 0 ] && [ "$crashed" -lt 20 ]; do
        # shellcheck disable=SC2086 # no word where it is empty
        SLOWMATCH_READER=$reader nice -n 19 "$build/fuzz" -max_total_time="$left" -timeout=30 -rss_limit_mb=2048 -max_len=65536 \
            -dict="$words" -artifact_prefix="$found/" -print_final_stats=1 "$corpus" $also >"$log" 2>&1
        status=$?
        runs=$((runs + $(ended "$log" || echo 0) + 0))
        [ "$status" -eq 0 ] && break
        crashed=$((crashed + 1))
        cp "$log" "$found/log-$crashed"
    done
    printf 'fuzz: %-16s %10d runs in %5d s, %d crashes\n' "$reader" "$runs" "$seconds" "$crashed"
    total=$((total + runs)) crashes=$((crashes + crashed))
done
echo "fuzz: $# readers, $total runs, $crashes crashes"
[ "$crashes" -eq 0 ]
