#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Import of 20,000 rows from .xlsx (read, judged, cues printed) against what openpyxl takes, read-only, for reading the cells alone.
build=${SLOWMATCH_BUILD:-build}
python=/usr/bin/python3 # the system's, for which the packages are
if ! $python -c 'import openpyxl, xlsxwriter' 2>/dev/null; then
    echo "python3-openpyxl and python3-xlsxwriter are not here"
    exit 0
fi
folder=$(mktemp -d) || exit 1
trap 'rm -rf "$folder"' EXIT
$python - "$folder/list.xlsx" <<'PYTHON' || exit 1
import sys, xlsxwriter
book = xlsxwriter.Workbook(sys.argv[1])
sheet = book.add_worksheet()
time = book.add_format({"num_format": "mm:ss.000"})
for column, text in enumerate(["Time", "Rail", "Slot", "Effect", "Lasts", "Note", "Cue"]):
    sheet.write(0, column, text)
for row in range(1, 20001):
    sheet.write(row, 0, row * 0.04 / 86400, time)
    sheet.write(row, 1, "R%d" % (row % 40))
    sheet.write(row, 2, row // 40 + 1)
    sheet.write(row, 3, ["comet", "mine", "fountain"][row % 3])
    sheet.write(row, 4, 1.5)
    sheet.write(row, 5, "note %d of the list" % row)
    sheet.write(row, 6, row)
book.close()
PYTHON
printf '[time]\nis = seen\n' >"$folder/map.ini"
ours() {
    "$build/slowmatch" import "$folder/list.xlsx" "$folder/new" --map "$folder/map.ini" --preview 2>/dev/null | wc -l
}
theirs() {
    $python - "$folder/list.xlsx" <<'PYTHON'
import sys, openpyxl
print(sum(1 for row in openpyxl.load_workbook(sys.argv[1], read_only=True).active.iter_rows(values_only=True)))
PYTHON
}
[ "$(ours)" -ge 20001 ] || { echo "the import does not read the list"; exit 1; }
clock() { # what it takes in thousandths of a second of processor time, the least of three
    least=
    for _ in 1 2 3; do
        taken=$( (
            "$1" >/dev/null
            times
        ) | awk 'END { split($1, a, /[ms]/); split($2, b, /[ms]/); printf "%d\n", (a[1] * 60 + a[2] + b[1] * 60 + b[2]) * 1000 }')
        [ -z "$least" ] || [ "$taken" -lt "$least" ] && least=$taken
    done
    echo "$least"
}
mine=$(clock ours)
other=$(clock theirs)
awk -v a="$mine" -v b="$other" 'BEGIN { printf "20,000 rows from .xlsx: import %.3f s, openpyxl reading alone %.3f s of processor time, ratio %.3f (at most 0.1)\n", a / 1000, b / 1000, a / b; exit a > b / 10 }'
