#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# What telling costs the engine and the processor (tell_console has screen and sound): a rehearsal in real time, headless and silent, without --tell and with it (a broker on the loopback and
# three followers), three rounds in turn: how late its rows are (99th percentile) and its processor time. The aim: as late as
# without, 1.2 times at most.
build=${SLOWMATCH_BUILD:-build}
if ! command -v mosquitto >/dev/null; then
    echo "mosquitto is not here"
    exit 0
fi
folder=$(mktemp -d) || exit 1
port=$((20000 + $$ % 20000))
mosquitto -p "$port" >/dev/null 2>&1 &
broker=$!
trap 'kill $broker 2>/dev/null; rm -rf "$folder"' EXIT
sleep 1
show=demo-shows/lantern-quay
printf '0 call-clear J\n0 key on\n0 arm\n3.5 start\n18 safe\n' >"$folder/script"
rehearse() { # NAME [OPTIONS]: p99 of late_us, processor milliseconds
    name=$1
    shift
    /usr/bin/env bash -c 'TIMEFORMAT="%U %S"; time "$@" >/dev/null 2>&1' - "$build/slowmatch" $show --headless --silent \
        --readings $show/readings-fixed.csv --script "$folder/script" --log "$folder/$name.csv" "$@" 2>"$folder/time"
    awk -F, 'NR > 2 && $NF > 0 { print $NF }' "$folder/$name.csv" | sort -n |
        awk '{ a[NR] = $1 } END { printf "%d ", NR ? a[int((NR - 1) * 0.99) + 1] : 0 }'
    awk '{ printf "%d\n", ($1 + $2) * 1000 }' "$folder/time"
}
for round in 1 2 3; do
    rehearse plain >>"$folder/plain"
    followers=
    for i in 1 2 3; do
        "$build/slowmatch" follow "127.0.0.1:$port" --json >/dev/null 2>&1 &
        followers="$followers $!"
    done
    rehearse told --tell "127.0.0.1:$port" >>"$folder/told"
    for pid in $followers; do kill "$pid"; done
done
paste -d' ' "$folder/plain" "$folder/told" | sort -n |
    awk '{ p[NR] = $1; t[NR] = $3; pc += $2; tc += $4 } END {
        n = int((NR + 1) / 2)
        printf "rows late: %d us without, %d us with --tell (99th percentile, median of 3): %.2f; processor %d and %d ms: %.2f\n",
            p[n], t[n], t[n] / (p[n] ? p[n] : 1), pc / NR, tc / NR, tc / (pc ? pc : 1) }'
