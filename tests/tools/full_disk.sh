#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# full_disk.sh PROGRAM SHOW STEP MOST: what writes, on a disk that has room for 0, STEP, 2 STEP ... MOST more pages of 4 KiB; and a console whose show's
# disk goes away. Nobody's disk but a namespace's own. A line a breach, exit 1; exit 77 where there are no namespaces.
set -u
if [ "${IN_NAMESPACE:-}" != 1 ]; then
    unshare -Urm true 2>/dev/null || exit 77
    IN_NAMESPACE=1 exec unshare -Urm sh "$0" "$@"
fi
program=$1 show=$2 step=$3 most=$4
work=$(mktemp -d) || exit 2
disk=$work/disk
mkdir "$disk" "$work/home"
mount -t tmpfs -o size=4m tmpfs "$disk" || exit 77
trap 'umount -l "$disk" 2>/dev/null; rm -rf "$work"' EXIT
export HOME="$work/home" XDG_DATA_HOME="$work/home/data" XDG_STATE_HOME="$work/home/state" XDG_CACHE_HOME="$work/home/cache" \
    XDG_CONFIG_HOME="$work/home/config" XDG_RUNTIME_DIR="$work/home" TMPDIR="$work/home"
bad=0 tried=0
breach() { echo "full_disk.sh: $*"; bad=1; }

prepare() { # the disk with the show on it, nothing else
    rm -rf "$disk"/* "$work/home"/*
    cp -r "$show" "$disk/show"
    printf 'Time,Target,Effect\n0:00:04.5,A-01,fountain\n' >"$disk/list.csv"
    printf '[time]\nis = seen\n' >"$disk/map.ini"
    echo '1 +0.05 s' >"$disk/proposals"
}
fill() { # PAGES that are left
    left=$(($(stat -f -c %a "$disk") - $1))
    [ "$left" -le 0 ] || dd if=/dev/zero of="$disk/filler" bs=4096 count="$left" 2>/dev/null
}
run() { # WORDS...: the program in the disk's folder; what it typed is $work/typed
    (cd "$disk" && timeout -k 5 60 "$program" "$@" <"$work/typed" >"$work/said" 2>&1)
}

is_new() { # FILE, of the command NAME: paper holds the minute
    if [ "$name" = paper ]; then [ "$(tail -n 1 "$1")" = '</html>' ]; else cmp -s "$1" "$work/after"; fi
}

# NAME FILE WORDS...: FILE (of the disk) is as it was or as it becomes on an empty disk; it is the latter where the program ended well.
hold() {
    name=$1 file=$2
    shift 2
    prepare
    cp "$disk/$file" "$work/before" 2>/dev/null || : >"$work/before"
    run "$@" || breach "$name: ended with $? on an empty disk"
    cp "$disk/$file" "$work/after"
    pages=0
    while [ "$pages" -le "$most" ]; do
        prepare
        fill "$pages"
        run "$@"
        status=$?
        tried=$((tried + 1))
        there=/dev/null
        [ -e "$disk/$file" ] && there=$disk/$file
        [ "$status" -le 2 ] || breach "$name, $pages pages left: ended with $status"
        [ "$status" -ne 2 ] || [ -s "$work/said" ] || breach "$name, $pages pages left: exit 2 without a word"
        if [ "$status" -ne 2 ] && ! is_new "$there"; then
            breach "$name, $pages pages left: exit $status, and $file is not what it was to be"
        elif [ "$name" != rehearsal ] && ! is_new "$there" && ! cmp -s "$there" "$work/before"; then
            breach "$name, $pages pages left: $file is neither old nor new"
        elif [ "$name" = rehearsal ]; then
            hold_kept "$status" "$pages"
        fi
        pages=$((pages + step))
    done
}
# What could not be put into the logbook went elsewhere, and is in it once there is room; where nothing is, it was said.
hold_kept() {
    rm -f "$disk/filler"
    "$program" logbook check --logbook "$disk/book.db" >"$work/checked" 2>&1
    kept=$?
    [ "$1" -eq 2 ] || [ "$kept" -eq 0 ] || breach "rehearsal, $2 pages left: exit $1, and the logbook is not whole: $(cat "$work/checked")"
}

: >"$work/typed"
hold rehearsal log.csv show --headless --fast --log log.csv --logbook book.db
hold paper paper.html paper show --out paper.html
hold import new/rails.csv import list.csv new --map map.ini
hold apply show/cues.csv tune show --apply proposals

# The show's disk goes away under a console.
prepare
(
    sleep 0.3
    umount -l "$disk"
    printf 'reload\nnote still there\nread A-01 1.8\nkeep-readings J\nquit\n\n'
) | (timeout -k 5 60 "$program" "$disk/show" --lines --silent --log "$work/log.csv" >"$work/said" 2>&1; echo $? >"$work/status")
tried=$((tried + 1))
[ "$(cat "$work/status")" -le 2 ] || breach "the disk went away: ended with $(cat "$work/status")"
grep -q 'still there' "$work/log.csv" || breach "the disk went away: the note is not in the log"
echo "full_disk.sh: $tried runs on disks that were full or went away"
exit $bad
