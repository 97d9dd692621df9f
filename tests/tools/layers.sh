#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# layers.sh [BUILD]: holds the tree against its own rules. Silent when all hold; otherwise one line a breach, exit 1.
#   - a part includes only itself and public headers of parts that it may use, and of libraries those named for these;
#   - only src/screen/terminal.c includes curses;
#   - only src/cmd/say.c prints;
#   - no source file is longer than 600 lines, and each begins with its licence;
#   - functions keep to the lengths of lengths.sh; pointers are tested by p and !p;
#   - no two files of a part call each other (circles.sh, over the objects in BUILD, as far as they are built).
cd "$(dirname "$0")/../.." || exit 2

# part | parts it may use directly (and all that those may use) | headers of libraries for it and those that may use it
awk_table='
base    -                              -
os      base                           -
show    base                           csv.h ini.h
import  show                           zip.h expat.h iconv.h
rig     show                           -
dmx     show                           -
check   show,rig,dmx                   -
engine  show,rig,dmx                   -
drill   engine                         -
starter show,drill                     -
walk    engine,rig,dmx,check           nettle/sha2.h
link    engine,drill,os                -
logbook engine,walk,drill,os           sqlite3.h zlib.h
audio   base,os                        sndfile.h portaudio.h rubberband/rubberband-c.h ltc.h
paper   show,rig,dmx,check,walk,logbook -
tables  show,rig,dmx,check,walk,paper,os -
session engine,drill,walk,link,logbook,audio,check,paper,tables -
lights  dmx,session                    -
tell    session                        mosquitto.h jansson.h
screen  base,os                        -
boards  screen,session                 -
console boards,tell                    -
cmd     console,tell,paper,tables,starter,import,lights -
'
# Public headers beside include/slowmatch/PART.h: "HEADER PART".
more_headers='confine os said drill timecode_in engine listen audio columns show site rig ini show sacn dmx wire dmx start_self os music session call_tones session walk_answers session inject engine targets engine clock os background os workers os files os time_of_day base alerts engine next_step engine conditions engine rig_explainer engine json base progress base table_edit show table_rows show assign base proposals engine taps tables'
# Parts outside the library: what may use them takes their own headers.
open_parts='screen boards'
# Parts that must know no thread: all of them are pure.
unthreaded='base show starter import rig dmx check engine drill walk paper'

part_of() { # the name of a public header
    # shellcheck disable=SC2086 # a list of words
    set -- "$1" $more_headers
    name=$1
    shift
    while [ $# -gt 1 ]; do
        [ "$1" = "$name" ] && name=$2
        shift 2
    done
    echo "$name"
}

# Lines "FILE<tab>PART<tab>LINE NUMBER<tab>HEADER" of every include of the parts.
includes() {
    find src include -name '*.[ch]' | while read -r file; do
        case $file in
            src/base/os/*) part=os ;;
            include/slowmatch/*.h) part=$(part_of "$(basename "$file" .h)") ;;
            src/main.c) part=cmd ;;
            *) part=${file#src/}; part=${part%%/*} ;;
        esac
        awk -v file="$file" -v part="$part" '
            /^[ \t]*#[ \t]*include[ \t]*[<"]/ {
                header = $0; sub(/^[^<"]*[<"]/, "", header); sub(/[>"].*$/, "", header)
                print file "\t" part "\t" FNR "\t" header
            }' "$file"
    done
}

breaches() {
    includes | awk -F '\t' -v table="$awk_table" -v unthreaded="$unthreaded" \
        -v more="$more_headers" -v open="$open_parts" '
        function allow(part, used, list, n, i) { # PART may use USED and what that may use
            if (may[part, used]) return
            may[part, used] = 1
            n = split(uses[used], list, ",")
            for (i = 1; i <= n; i++) if (list[i] != "-") allow(part, list[i])
        }
        BEGIN {
            rows = split(table, row, "\n")
            for (r = 1; r <= rows; r++) {
                n = split(row[r], field, / +/)
                if (n < 3) continue
                uses[field[1]] = field[2]
                for (i = 3; i <= n; i++) if (field[i] != "-") owner[field[i]] = field[1]
            }
            for (part in uses) allow(part, part)
            n = split(more, list, " ")
            for (i = 1; i < n; i += 2) stands_in[list[i]] = list[i + 1]
            n = split(open, list, " ")
            for (i = 1; i <= n; i++) is_open[list[i]] = 1
            n = split(unthreaded, list, " ")
            for (i = 1; i <= n; i++) pure[list[i]] = 1
        }
        {
            file = $1; part = $2; at = $1 ":" $3 ": "; header = $4
            if (!(part in uses)) { print at "the part " part " is not in the table of layers.sh"; next }
            other = ""
            if (header ~ /^slowmatch\//) { other = header; sub(/^slowmatch\//, "", other); sub(/\.h$/, "", other); if (other in stands_in) other = stands_in[other] }
            else if (header ~ /\// && (substr(header, 1, index(header, "/") - 1) in uses)) {
                other = substr(header, 1, index(header, "/") - 1)
                if (other != part && !(other in is_open)) { print at part " includes a private header of " other ": " header; next }
            }
            if (other != "" && !((part, other) in may)) print at part " may not use " other
            if (header in owner && !((part, owner[header]) in may)) print at header " belongs to " owner[header]
            if (header ~ /^(ncursesw?\/)?(n?curses|term)\.h$/ && file != "src/screen/terminal.c")
                print at "only src/screen/terminal.c may include curses"
            if (header ~ /^(pthread|threads)\.h$/ && part in pure) print at part " must know no thread"
        }'
    # Everything but src/cmd/say.c, which makes it harmless, and the terminal hands its texts on instead of printing them.
    word='(^|[^A-Za-z0-9_])'
    find src -name '*.[ch]' ! -path src/cmd/say.c -exec grep -HnE \
        "$word(v?printf|puts|putchar|perror) *\\(|$word(v?fprintf *\\( *|(fputs|fwrite) *\\([^;]*, *)(stdout|stderr|cmd_stderr)" {} + |
        sed 's/^\([^:]*:[0-9]*:\).*/\1 only src\/cmd\/say.c prints/'
    find src include tests -name '*.[ch]' | while read -r file; do
        lines=$(wc -l <"$file")
        [ "$lines" -le 600 ] || echo "$file: $lines lines; 600 are the most a file may have"
    done
    find src include tests -name '*.[ch]' -exec grep -HnE '== NULL' {} + |
        sed 's/^\([^:]*:[0-9]*:\).*/\1 write p or !p, not a comparison with NULL/'
    find src include tests Makefile \( -name '*.[ch]' -o -name '*.sh' -o -name Makefile \) | while read -r file; do
        head -n 2 "$file" | grep -q 'SPDX-License-Identifier: GPL-3.0-or-later$' || echo "$file: no licence line on top"
    done
}

found=$(breaches; sh tests/tools/lengths.sh; sh tests/tools/circles.sh "${1:-build}")
[ -z "$found" ] && exit 0
printf '%s\n' "$found"
exit 1
