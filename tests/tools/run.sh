#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# run.sh BUILD PROGRAM...: runs cmocka programs, by half more at once than JOBS (2), since many of them wait; last and apart from these
# the ones named audio_* (they hold what was heard against the clock, and take next to nothing of the processor), as many at once. Each is
# ended after TEST_TIMEOUT seconds (300). Prints what each said, in that order. Closing
# lines are held back: the summary gives the totals and then, program after program, cmocka's own closing lines, those that
# failed last; a line `unsteady: NAME` stands for one that failed beside others and then passed alone. Before them stand the lines that
# begin with `figures: `, one a family of figures. WRAP is put before each program (valgrind). ALSO_FAILED is a line about a check
# that failed elsewhere.
# Programs see SLOWMATCH_BUILD, the folder with the built program. Exit 0 only if every program passed.
set -u
limit=${TEST_TIMEOUT:-300}

run_one() { # BUILD PROGRAM: leaves NAME.out, NAME.err, NAME.took and, last, NAME.rc
    base=$1/results/${2##*/}
    began=$(date +%s)
    # shellcheck disable=SC2086 # WRAP is a command with its options
    SLOWMATCH_BUILD=$1 timeout -k 10 "$limit" ${WRAP:-} "$2" </dev/null >"$base.out" 2>"$base.err"
    rc=$?
    echo $(($(date +%s) - began)) >"$base.took"
    echo "$rc" >"$base.rc.new" && mv "$base.rc.new" "$base.rc"
}
if [ "$1" = --one ]; then
    run_one "$2" "$3"
    exit 0
fi

build=$(cd "$1" && pwd) || exit 2
shift
[ $# -gt 0 ] || { echo "run.sh: no test program" >&2; exit 2; }
results=$build/results
rm -rf "$results" && mkdir -p "$results" || exit 2
# Consoles that are tried out keep nothing in the user's own folders.
export XDG_CACHE_HOME="$results/home/cache" XDG_DATA_HOME="$results/home/data" XDG_STATE_HOME="$results/home/state" \
    XDG_CONFIG_HOME="$results/home/config"
beside_others() { # PROGRAM...
    for program in "$@"; do
        case ${program##*/} in audio_*) ;; *) echo "$program" ;; esac
    done
}
heard() { # PROGRAM...
    for program in "$@"; do
        case ${program##*/} in audio_*) echo "$program" ;; esac
    done
}
lanes=$((${JOBS:-2} * 3 / 2))
{
    beside_others "$@" | xargs -P "$lanes" -n 1 sh "$0" --one "$build"
    heard "$@" | xargs -r -P "$lanes" -n 1 sh "$0" --one "$build"
} &
runner=$!
trap 'kill "$runner" 2>/dev/null; exit 130' INT TERM

# cmocka's closing lines (NAME.end) apart from the rest of what went to stderr (NAME.said).
split_closing() {
    rm -f "$1.said" "$1.end"
    awk -v rest="$1.said" -v closing="$1.end" '
        /^\[  PASSED  \] [0-9]+ test\(s\)\.$/ { closed = 1 }
        closed && (/^\[  (PASSED |SKIPPED|FAILED ) *\]/ || /^ [0-9]+ (SKIPPED|FAILED) TEST\(S\)$/ || /^$/) {
            if ($0 != "") print > closing
            next
        }
        { print > rest }' "$1.err"
    touch "$1.said" "$1.end"
}

# Sets reason: why the program did not pass although no test of it is counted as failed; "" otherwise.
judge() { # BASE RC PASSED FAILED
    reason=
    if [ "$2" -eq 124 ]; then
        reason="not done after $limit s, ended"
    elif [ "$2" -gt 128 ] && [ "$4" -eq 0 ]; then
        reason="ended by signal $(($2 - 128))"
    elif [ "$2" -ne 0 ] && [ "$4" -eq 0 ]; then
        reason="exit status $2 although no test failed"
    elif ! grep -q '^\[  PASSED  \]' "$1.end"; then
        reason="ended without cmocka's closing lines"
    elif [ "$(($3 + $4 + skipped_here))" -eq 0 ]; then
        reason="ran no test"
    fi
}

# Prints what the program said; sets passed_here, failed_here, skipped_here and reason.
look_at() { # NAME BASE
    split_closing "$2"
    cat "$2.out" "$2.said"
    passed_here=$(awk '/^\[  PASSED  \]/ { n += $4 } END { print n + 0 }' "$2.end")
    failed_here=$(awk '/ FAILED TEST\(S\)$/ { n += $1 } END { print n + 0 }' "$2.end")
    skipped_here=$(awk '/ SKIPPED TEST\(S\)$/ { n += $1 } END { print n + 0 }' "$2.end")
    judge "$2" "$(cat "$2.rc")" "$passed_here" "$failed_here"
    if [ -n "$reason" ]; then
        echo "$1: $reason"
        failed_here=$((failed_here + 1))
    fi
}

count_in() { # NAME BASE
    [ -n "$reason" ] && echo "$1: $reason" >>"$results/reasons"
    where=$results/closing
    [ "$failed_here" -gt 0 ] && where=$results/closing-failed
    { echo "--- $1, $(cat "$2.took") s"; cat "$2.end"; } >>"$where"
    passed=$((passed + passed_here)) failed=$((failed + failed_here)) skipped=$((skipped + skipped_here))
}

passed=0 failed=0 skipped=0 again=
[ -n "${ALSO_FAILED:-}" ] && echo "$ALSO_FAILED" >"$results/reasons" && failed=1
for program in $(beside_others "$@") $(heard "$@"); do
    name=${program##*/} base=$results/${program##*/}
    while [ ! -e "$base.rc" ] && kill -0 "$runner" 2>/dev/null; do sleep 0.1; done
    [ -e "$base.rc" ] || { sleep 1; [ -e "$base.rc" ] || { echo "run.sh: $name was not run" >&2; exit 2; }; }
    echo "--- $name"
    look_at "$name" "$base"
    if [ "$failed_here" -gt 0 ]; then again="$again $program"; else count_in "$name" "$base"; fi
done
wait "$runner" 2>/dev/null

# Some hold a screen or a wire against the clock, and a machine may be busy: a few that failed beside others are run once more, alone,
# and that is said.
# shellcheck disable=SC2086 # words
set -- $# $again
programs=$1
shift
for program in "$@"; do
    name=${program##*/} base=$results/${program##*/}
    if [ $# -le 4 ]; then
        echo "--- $name, which failed: once more, alone"
        mv "$base.out" "$base.first" && rm -f "$base.rc"
        run_one "$build" "$program"
    fi
    look_at "$name" "$base"
    [ "$failed_here" -eq 0 ] && echo "unsteady: $name failed beside others (see above), and passed alone" >>"$results/reasons"
    count_in "$name" "$base"
done

echo "=== figures held against sources outside the project"
cat "$results"/*.out "$results"/*.said | sed -n 's/^figures: //p' | sort
echo "=== summary: $programs programs"
touch "$results/reasons" "$results/closing" "$results/closing-failed"
[ "$skipped" -gt 0 ] && echo "$skipped skipped"
echo "$passed passed, $failed failed"
cat "$results/reasons" "$results/closing" "$results/closing-failed"
[ "$failed" -eq 0 ]
