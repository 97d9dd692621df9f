#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# lights_net.sh DIR PROGRAM...: runs PROGRAM where there is a wire to a node (desk, 10.9.0.1, to 10.9.0.2), and a default route that
# leads elsewhere; what comes over both and over lo is captured in DIR. To be run by `unshare -rmn`: nothing of it is on this machine.
# With LIGHTS_OLA=1 an olad listens at the node, its universe 1 to 4 being those of the wire.
set -eu
dir=$1
shift
exec 3>&1 >"$dir/net.log" 2>&1
mount -t tmpfs none /run
mkdir /run/netns
ip link set lo up
ip netns add node
ip link add desk type veth peer name wire
ip link add other type veth peer name away
ip link set wire netns node
ip link set away netns node
ip addr add 10.9.0.1/24 dev desk
ip addr add 10.8.0.1/24 dev other
ip -n node addr add 10.9.0.2/24 dev wire
ip -n node addr add 10.8.0.2/24 dev away
for link in desk other; do ip link set "$link" up; done
for link in wire away lo; do ip -n node link set "$link" up; done
ip route add default via 10.8.0.2 dev other
ip -n node route add 239.0.0.0/8 dev wire
ip netns exec node dumpcap -q -i wire -w "$dir/wire.pcapng" &
captures=$!
ip netns exec node dumpcap -q -i away -w "$dir/away.pcapng" &
captures="$captures $!"
dumpcap -q -i lo -w "$dir/lo.pcapng" &
captures="$captures $!"
olad=
if [ "${LIGHTS_OLA:-}" ]; then
    mkdir "$dir/ola"
    chmod 777 "$dir/ola"
    ip netns exec node unshare -U --map-user=1000 --map-group=1000 olad -c "$dir/ola" -l 3 &
    olad=$!
    patched=0
    for attempt in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20; do
        sleep 0.3
        for device in 1 2 3 4 5 6 7 8 9; do
            ip netns exec node ola_dev_info 2>/dev/null | grep -q "Device $device: E1.31" || continue
            for port in 0 1 2 3; do
                ip netns exec node ola_patch -d "$device" -p "$port" -i -u "$((port + 1))" && patched=1
            done
        done
        [ "$patched" = 1 ] && break
    done
fi
while ! [ -s "$dir/wire.pcapng" ] || ! [ -s "$dir/away.pcapng" ] || ! [ -s "$dir/lo.pcapng" ]; do sleep 0.05; done
sleep 0.2
status=0
sh -c 'echo $$ >"$0/pid"; exec "$@"' "$dir" "$@" >&3 2>&1 <&0 || status=$?
exec 3>&-
sleep "${LIGHTS_AFTER:-0.5}"
for process in $captures $olad; do kill -INT "$process" || true; done
wait
exit "$status"
