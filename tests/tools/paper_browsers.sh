#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# paper_browsers.sh BUILD: the paper of every demo show in Chromium and Firefox (each page one page, on A4 and Letter), the HTML checker
# (no error, no warning), the accessibility checker (no violation). For the long run: fetches the two checkers by npm into BUILD.
set -u
build=$1
tools=$(cd "$(dirname "$0")" && pwd)
out=$build/paper
mkdir -p "$out" || exit 2
CHROMIUM=$(command -v chromium || command -v chromium-browser) FIREFOX=$(command -v firefox-esr || command -v firefox)
export CHROMIUM FIREFOX
cp "$tools/paper_browsers.js" "$out/" || exit 2
(cd "$out" && { [ -d node_modules/axe-core ] || npm install --silent --no-save vnu-jar axe-core puppeteer-core; }) || exit 2
status=0
whole=
files=
paper() { # SHOW FILE SHEETS, "" for all
    "$build/slowmatch" paper "$1" --out "$2" ${3:+--sheets "$3"} >/dev/null 2>&1 || { echo "no paper of $1"; exit 1; }
}
for show in "$tools"/../../demo-shows/*/; do
    file=$out/$(basename "$show").html
    paper "$show" "$file" ""
    whole="$whole $file"
    if [ "$(grep -c '<section' "$file")" -le 256 ]; then
        files="$files $file"
        continue
    fi
    # Chromium never ends printing a file of 700 pages; it takes its parts.
    for sheets in LIST,LOAD OHMS,LINE,FEEDS,STOCK TIME,WALK,ARM,CARD,NAMES CALLS AFTER; do
        part=${file%.html}-${sheets%%,*}.html
        paper "$show" "$part" "$sheets"
        files="$files $part"
    done
done
# shellcheck disable=SC2086 # a list of names without blanks
java -jar "$out/node_modules/vnu-jar/build/dist/vnu.jar" --Werror $whole || status=1
# shellcheck disable=SC2086
(cd "$out" && node paper_browsers.js $(for file in $files; do basename "$file"; done)) || status=1
for file in $files; do
    sections=$(grep -c '<section' "$file")
    for pdf in "${file%.html}"-chromium-A4.pdf "${file%.html}"-chromium-Letter.pdf "${file%.html}"-firefox-A4.pdf \
        "${file%.html}"-firefox-Letter.pdf; do
        pages=$(pdfinfo "$pdf" | awk '/^Pages:/ {print $2}')
        [ "$pages" = "$sections" ] || { echo "$pdf: $pages pages, not $sections"; status=1; }
    done
    echo "$(basename "$file"): $sections pages in both browsers on both papers"
done
exit $status
