#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Import of 20,000 rows from .xlsx (read, judged, cues printed) against what openpyxl takes, read-only, for reading the cells alone:
# processor time, the median of seven rounds in turn.
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
$python - "$build/slowmatch" "$folder" <<'PYTHON'
import os, statistics, subprocess, sys, time
program, folder = sys.argv[1:]
table = folder + "/list.xlsx"
ours = [program, "import", table, folder + "/new", "--map", folder + "/map.ini", "--preview"]
theirs = [sys.executable, "-c", "import sys, openpyxl\n"
          "print(sum(1 for row in openpyxl.load_workbook(sys.argv[1], read_only=True).active.iter_rows(values_only=True)))", table]
def run(command):  # seconds of processor time and of the wall's clock
    begun = time.monotonic()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    if status != 0:
        sys.exit("%s failed" % command[0])
    return used.ru_utime + used.ru_stime, time.monotonic() - begun
if subprocess.run(ours, capture_output=True).stdout.count(b"\n") < 20002:  # a comment, the header, the cues
    sys.exit("the import does not read the list")
rounds = [(run(ours), run(theirs)) for _ in range(7)]  # in turn: what else runs here slows both
mine, other = ([statistics.median(each[who][clock] for each in rounds) for clock in (0, 1)] for who in (0, 1))
ratio = mine[0] / other[0]
print("20,000 rows from .xlsx: import %.3f s, openpyxl reading alone %.3f s of processor time, ratio %.3f (at most 0.1); "
      "by the clock %.3f s and %.3f s, ratio %.3f" % (mine[0], other[0], ratio, mine[1], other[1], mine[1] / other[1]))
sys.exit(ratio > 0.1)
PYTHON
