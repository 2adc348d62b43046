#!/usr/bin/env bash
# Simulates power cuts: a process saves runs on an ext4 file system on a loop
# device with direct I/O; at a random moment it is stopped and the device copied,
# so that everything that was not synced is lost. The copy must hold every run
# that was acknowledged. Needs root, e2fsprogs and sqlite3; run from the top folder:
#
#	sudo results/testdata/powercut.sh 40
#
# It shows the order in which the file system writes; it cannot show a disk that
# reports a sync before it is done.
set -euo pipefail
rounds=${1:-20}
work=$(mktemp -d)
go test -c -o "$work/saver" ./results
cd "$work"
truncate -s 96M disk.img
mkfs.ext4 -q disk.img
device=$(losetup --direct-io=on --show -f disk.img)
mkdir live copy
cleanup() {
	mountpoint -q live && umount live
	mountpoint -q copy && umount copy
	losetup -d "$device"
	rm -rf "$work"
}
trap cleanup EXIT

total=0
for round in $(seq "$rounds"); do
	mount "$device" live
	rm -f live/padjig*
	sync
	PADJIG_RESULTS_PART=saver ./saver live/padjig.db "$round" 1000000 >told &
	saver=$!
	sleep "0.$((RANDOM % 7 + 2))$((RANDOM % 10))"
	kill -STOP "$saver"
	cp disk.img copy.img
	kill -KILL "$saver"
	wait "$saver" 2>/dev/null || true
	umount live

	mount -o loop copy.img copy
	{ grep -v '^start$' told || true; } | sort >acknowledged
	sqlite3 copy/padjig.db "SELECT run || ' ' || serial FROM runs" | sort >found || true
	integrity=$(sqlite3 copy/padjig.db 'PRAGMA integrity_check')
	umount copy
	missing=$(comm -23 acknowledged found | wc -l)
	extra=$(comm -13 acknowledged found | wc -l)
	total=$((total + $(wc -l <acknowledged)))
	echo "round $round: $(wc -l <acknowledged) acknowledged, $missing missing, $extra more; integrity $integrity"
	if [ "$missing" != 0 ] || [ "$extra" -gt 1 ] || [ "$integrity" != ok ]; then
		echo "a run was lost or half a run stored" >&2
		exit 1
	fi
done
echo "$rounds power cuts, $total runs acknowledged, none missing"
