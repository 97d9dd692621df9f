#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# demo_crew.sh BUILD [DRILL]: a rehearsal and three followers in panes of tmux, through a broker on the loopback that lives as long as they
# do; with DRILL (3, or 03-someone-went-back) a crew drill: the lead, the spotter's seat, K's and one who only follows.
# Leave the lead's pane by q, or all of it by Ctrl-B and &.
set -u
build=$1
drill=${2:-}
show=demo-shows/lantern-quay
folder=$(mktemp -d "${TMPDIR:-/tmp}/slowmatch-crew-XXXXXX") || exit 1
port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
printf 'listener %s 127.0.0.1\nallow_anonymous true\npersistence false\n' "$port" >"$folder/broker.conf"
mosquitto -c "$folder/broker.conf" >"$folder/broker.log" 2>&1 &
broker=$!
tmux="tmux -L slowmatch-crew-$$ -f /dev/null"
trap '$tmux kill-server 2>/dev/null; kill $broker 2>/dev/null; rm -r "$folder"' EXIT
trap 'exit 1' INT TERM HUP

# Each follower begins with another board: what a person chose is kept for the next time, so each has a home of its own.
follow() { # BOARD [OPTIONS]
    mkdir -p "$folder/$1/slowmatch"
    printf '[console]\nboard = %s\n' "$1" >"$folder/$1/slowmatch/console.ini"
    echo "XDG_CONFIG_HOME='$folder/$1' '$build/slowmatch' follow 127.0.0.1:$port ${2:-}"
}

first="'$build/slowmatch' $show --readings $show/readings-fixed.csv" spotter='' k=''
if [ -n "$drill" ]; then
    first="'$build/slowmatch' drill $show '$drill' --crew Jo --seats spotter,K"
    spotter='--seat spotter --name Kim' k='--seat K --name Kay'
fi

# Where nobody looks on (a pipe, a test) the panes are as large as four good terminals.
$tmux new-session -d -x 200 -y 60 -n crew \
    "$first --logbook '$folder/logbook.db' --tell 127.0.0.1:$port; $tmux kill-server" || exit 1
$tmux set-option -g mouse off
pane() { # BOARD [OPTIONS]
    $tmux split-window "$(follow "$@")"
    $tmux select-layout tiled >/dev/null
}
pane score "$spotter"
pane rails "$k"
pane fixtures
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
