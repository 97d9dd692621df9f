#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# circles.sh [BUILD]: no two files of a part may call each other, not even by way of others. Reads the objects that were
# built of src, by nm; a folder below a part's counts with its part. One line a circle, with a name that each file of it takes
# from the next; exit 1. A table of functions points at its members, so a member may not call the table: hand it what it needs.
cd "$(dirname "$0")/../.." || exit 2
build=${1:-build}

found=$(find src -name '*.c' | sed "s|^|$build/obj/|; s|c\$|o|" | while read -r object; do
    [ -e "$object" ] && echo "$object"
done | xargs nm -A -g -P | awk -v prefix="$build/obj/src/" '
    # "BUILD/obj/src/PART/NAME.o: SYMBOL TYPE ..."
    {
        file = substr($1, length(prefix) + 1); sub(/o:$/, "c", file)
        part = file; sub(/\/.*/, "", part)
        if ($3 == "U") wants[++wanted] = part "\t" file "\t" $2
        else home[part, $2] = file
    }
    # Goes from file AT along what each takes of others. True where that comes back to a file on the way: from that one to
    # way[last] it is a circle.
    function circle_from(at, depth,    n, list, i) {
        way[depth] = at
        last = depth
        if (on_way[at]) return 1
        if (done[at]) return 0
        done[at] = on_way[at] = 1
        n = split(uses[at], list, " ")
        for (i = 1; i <= n; i++)
            if (!told[at, list[i]] && circle_from(list[i], depth + 1)) return 1
        on_way[at] = 0
        return 0
    }
    function tell(    i, text) {
        for (i = 1; way[i] != way[last]; i++) ;
        text = "src/" way[i] ": circle of files: " way[i]
        for (i++; i <= last; i++) text = text " -> " way[i] " (" name[way[i - 1], way[i]] ")"
        told[way[last - 1], way[last]] = 1
        print text
    }
    END {
        for (i = 1; i <= wanted; i++) {
            split(wants[i], field, "\t")
            other = home[field[1], field[3]]
            if (other == "" || other == field[2]) continue
            if (!((field[2], other) in name)) uses[field[2]] = uses[field[2]] " " other
            name[field[2], other] = field[3]
        }
        for (file in uses)
            while (split("", on_way) + split("", done) == 0 && circle_from(file, 1)) tell()
    }')
[ -z "$found" ] && exit 0
printf '%s\n' "$found"
exit 1
