#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# demo_crew.sh BUILD: a rehearsal and three followers in panes of tmux, through a broker on the loopback that lives as long as they do.
# Leave the rehearsal by q, or all of it by Ctrl-B and &.
set -u
build=$1
folder=$(mktemp -d "${TMPDIR:-/tmp}/slowmatch-crew-XXXXXX") || exit 1
port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
printf 'listener %s 127.0.0.1\nallow_anonymous true\npersistence false\n' "$port" >"$folder/broker.conf"
mosquitto -c "$folder/broker.conf" >"$folder/broker.log" 2>&1 &
broker=$!
tmux="tmux -L slowmatch-crew-$$ -f /dev/null"
trap '$tmux kill-server 2>/dev/null; kill $broker 2>/dev/null; rm -r "$folder"' EXIT
trap 'exit 1' INT TERM HUP

# Each follower begins with another board: what a person chose is kept for the next time, so each has a home of its own.
follow() { # BOARD
    mkdir -p "$folder/$1/slowmatch"
    printf '[console]\nboard = %s\n' "$1" >"$folder/$1/slowmatch/console.ini"
    echo "XDG_CONFIG_HOME='$folder/$1' '$build/slowmatch' follow 127.0.0.1:$port"
}

# Where nobody looks on (a pipe, a test) the panes are as large as four good terminals.
$tmux new-session -d -x 200 -y 60 -n crew \
    "'$build/slowmatch' demo-shows/lantern-quay --readings demo-shows/lantern-quay/readings-fixed.csv --logbook '$folder/logbook.db' --tell 127.0.0.1:$port; $tmux kill-server" || exit 1
$tmux set-option -g mouse off
for board in score rails fixtures; do
    $tmux split-window "$(follow "$board")"
    $tmux select-layout tiled >/dev/null
done
$tmux select-pane -t 0
if [ -t 0 ] && [ -t 1 ]; then
    $tmux attach-session
else # what the panes show, after a while
    sleep "${SECONDS_SHOWN:-6}"
    for pane in 0 1 2 3; do
        echo "--- pane $pane"
        $tmux capture-pane -p -t "$pane"
    done
fi
