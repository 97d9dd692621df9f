#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# unreached.sh BUILD CC FLAG...: names every function of src that the program never reaches; exit 1 where there is one. BUILD
# holds the objects, compiled with -O0 -ffunction-sections (nothing is inlined then); CC with FLAGs, libraries among them, links
# them.
cd "$(dirname "$0")/../.." || exit 2
build=$1 cc=$2
shift 2
# What only tests call, and why it stands in src.
kept() {
    cat <<'LIST'
sm_arena_bytes memory tests
sm_arena_fail_at memory tests
sm_findings_arena memory tests
sm_cells_row_text tests read the screen
sm_theme_is_shape tests hold the looks of text against the contrast that WCAG asks for
sm_lines_of_bytes tests read tables from memory
sm_drill_manual tests hold man/slowmatch-drill.5 against the schema, and write it
sm_tell_manual tests hold man/slowmatch-mqtt.7 against the tables of messages, and write it
sm_tell_schema tests hold messages against a validator of JSON schemas
sm_import_manual tests hold man/slowmatch-import.5 against the keys of the mapping file, and write it
sm_show_manual tests hold man/slowmatch-show.5 against the schema, and write it
sm_show_rules tests hold the rules of reading against check's table
sm_drill_finding_rules the same
sm_paper_word tests hold the words of sheets apart from each other
sm_rehearsal_reload_asked tests look whether a reload is asked for
sm_logbook_keep_drill tests keep a drill without its rehearsal
LIST
}
roots=$(kept | sed 's/ .*//; s/^/-Wl,-u,/')
objects=$(find src -name '*.c' | sed "s|^|$build/obj/|; s|c\$|o|")
# shellcheck disable=SC2086 # lists of words
said=$($cc $objects "$@" $roots -Wl,--gc-sections,--print-gc-sections -o "$build/unreached" 2>&1) || {
    printf '%s\n' "$said"
    exit 2
}
found=$(printf '%s\n' "$said" | sed -n "s|.*section [^ ]*$build/obj/\(src.*\)\.o:(\.text\.\([^.)]*\).*|\1.c: no program reaches \2|p")
[ -z "$found" ] && exit 0
printf '%s\n' "$found"
exit 1
