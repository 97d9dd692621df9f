#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# slowmatch compare of two shows, whole process: the demo against one that differs in three ways (the aim: 50 ms), and 3,000 cues
# against the same with 60 edits and all from the middle on moved (1 s), each as a ratio to that aim. Medians of 7.
program=${SLOWMATCH_BUILD:-build}/slowmatch
folder=$(mktemp -d) || exit 2
trap 'rm -rf "$folder"' EXIT
demo="demo-shows/lantern-quay"
mkdir "$folder/demo" "$folder/a" "$folder/b"
cp "$demo"/*.csv "$demo"/show.ini "$demo"/music.ogg "$folder/demo"
sed -i 's/^0:24.000,B-05/0:24.000,C-08/; s/^1:04/1:03/; s/^0:5\(.\).000,par-7/0:5\1.250,par-7/' "$folder/demo/cues.csv"
python3 - "$folder" <<'END'
import random, sys
random.seed(5)
cues = [[i * 400 + 1000, 'lamp-%d' % (i * 7 % 60), 'red=%d' % (i * 13 % 256), 'n%d' % (i % 50)] for i in range(3000)]
def write(name, cues):
    at = sys.argv[1] + '/' + name + '/'
    open(at + 'show.ini', 'w').write('[show]\ntitle = Bench\n')
    open(at + 'profiles.csv', 'w').write('name,channels\nlamp,red\n')
    open(at + 'fixtures.csv', 'w').write('name,profile,address\n' + ''.join('lamp-%d,lamp,%d\n' % (i, i + 1) for i in range(60)))
    open(at + 'cues.csv', 'w').write('time,target,do,note\n' + ''.join('%.3f,%s,%s,%s\n' % (c[0] / 1000, *c[1:]) for c in cues))
write('a', cues)
edited = [[c[0] + (700 if c[0] > 600000 else 0), *c[1:]] for c in cues]
for cue in random.sample(edited, 60):
    part = random.randrange(4)
    cue[part] = [cue[0] + 350, 'lamp-%d' % random.randrange(60), 'red=%d' % random.randrange(256), 'changed'][part]
write('b', edited)
END
# NAME OLD NEW AIM_MS
bench() {
    for _ in 1 2 3 4 5 6 7; do
        begin=$(date +%s%N)
        "$program" compare "$2" "$3" >"$folder/out"
        [ $? -eq 1 ] || exit 1
        echo $((($(date +%s%N) - begin) / 10000))
    done | sort -n >"$folder/times"
    awk -v name="$1" -v aim="$4" -v told="$(head -n 1 "$folder/out")" \
        'NR == 4 { printf "%s (%s): %.1f ms, %.2f of %d ms\n", name, told, $1 / 100, $1 / 100 / aim, aim }' "$folder/times"
}
bench 'the demo' "$demo" "$folder/demo" 50
bench '3,000 cues' "$folder/a" "$folder/b" 1000
