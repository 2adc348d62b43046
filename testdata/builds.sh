#!/bin/sh
# Builds padjig for machines other than this one, and runs what can be run here: its version, the check of a product file,
# and a whole test on a simulated jig, each under qemu's user emulation. Says of each whether it was run or only built.
# usage: testdata/builds.sh (GO names the Go tool; OUT a folder, or the programs are thrown away)
set -eu
out=${OUT:-$(mktemp -d)}
[ -n "${OUT:-}" ] || trap 'rm -rf "$out"' EXIT
mkdir -p "$out"
product=$PWD/testdata/products/gcc-20.yaml

tested() { # PROGRAM...: a unit tested on a simulated jig, both of that program
	dir=$(mktemp -d)
	mkfifo "$dir/orders"
	"$@" jig simulate --control --product "$product" --link "$dir/jig" --serial SIM-0042 <"$dir/orders" >"$dir/jig.out" &
	jig=$!
	exec 3>"$dir/orders"
	until [ -s "$dir/jig.out" ]; do kill -0 $jig; sleep 0.1; done
	"$@" test --product "$product" --jig "$dir/jig" --serial GCC-000001-3 --operator builds --store "$dir/records.sqlite" >"$dir/said" 2>&1 ||
		{ cat "$dir/said"; exec 3>&-; exit 1; }
	exec 3>&-
	wait $jig
	rm -rf "$dir"
}

build() { # SYSTEM PROCESSOR COMPILER [EMULATOR...]
	system=$1 processor=$2 compiler=$3
	shift 3
	program=$out/padjig-$system-$processor
	[ "$system" != windows ] || program=$program.exe
	GOOS=$system GOARCH=$processor CGO_ENABLED=1 CC=$compiler CGO_CFLAGS=${CGO_CFLAGS:--O0} \
		"${GO:-go}" build -trimpath -buildvcs=false -o "$program" ./cmd/padjig
	if [ $# -eq 0 ] || ! command -v "$1" >/dev/null; then
		echo "$system/$processor: only built"
		return
	fi
	PADJIG_CONFIG=/dev/null "$@" "$program" version >/dev/null
	PADJIG_CONFIG=/dev/null "$@" "$program" product check "$product" >/dev/null
	PADJIG_CONFIG=/dev/null tested "$@" "$program"
	echo "$system/$processor: run"
}

build linux arm64 aarch64-linux-gnu-gcc qemu-aarch64-static -L /usr/aarch64-linux-gnu
build linux arm arm-linux-gnueabihf-gcc qemu-arm-static -L /usr/arm-linux-gnueabihf
build windows amd64 x86_64-w64-mingw32-gcc
