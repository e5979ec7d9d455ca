#!/bin/sh
# Tests the firmware on the host: warnings as errors with the compilers at hand, behaviour under
# address and undefined-behaviour sanitizers with both drawing layers, the list of screens that
# an upgrade of the layer must leave alone, and what the code asks of its port.
set -eu
cd "$(dirname "$0")"
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
src=$(cat sources.txt)
warn="-std=c99 -Wall -Wextra -Wconversion -pedantic -Werror"
san="-g -O1 -fsanitize=address,undefined -fno-sanitize-recover=all"

# compile DIR COMPILER FLAGS...: the firmware's objects, on all cores.
compile() {
	dir=$out/$1 cc=$2
	shift 2
	mkdir -p "$dir"
	for f in $src; do echo "$f"; done | xargs -P "$(nproc)" -I{} sh -c \
		'o=$1/$(echo "$2" | tr / _).o; shift 2; "$@" -o "$o"' sh "$dir" {} "$cc" $warn "$@" -c {}
}

for cc in gcc clang; do
	command -v "$cc" >/dev/null || continue
	for major in 1 2; do
		compile $cc$major $cc -O2 -ffreestanding -DDRAW_MAJOR=$major
	done
done

# The other panels' builds.
compile square gcc -O2 -ffreestanding -DFERN_W=240 -DFERN_H=240
compile deep gcc -O2 -ffreestanding -DDRAW_DEPTH=24
compile small gcc -O2 -ffreestanding -DFERN_W=128 -DFERN_H=64 -DFERN_SMALL -DDRAW_WHOLE

# Nothing but these may be asked of whoever links it.
nm -u "$out"/gcc1/*.o | awk '$1 == "U" {print $2}' | sort -u >"$out/wants"
nm --defined-only "$out"/gcc1/*.o | awk 'NF == 3 {print $3}' | sort -u >"$out/has"
strange=$(comm -23 "$out/wants" "$out/has" | grep -vE '^(fern_log|fern_crash|memcpy|memset|memmove|_GLOBAL_OFFSET_TABLE_)$' || true)
if [ -n "$strange" ]; then
	echo "the firmware asks its port for: $strange"
	exit 1
fi

for major in 1 2; do
	compile san$major gcc $san -DDRAW_MAJOR=$major
	gcc $warn $san -DDRAW_MAJOR=$major "$out/san$major"/*.o test/*.c -o "$out/test$major"
	gcc $warn $san -DDRAW_MAJOR=$major "$out/san$major"/*.o host/shot.c -o "$out/shot$major"
done
compile panic gcc $san -DFERN_FAULT_PANIC
gcc $warn $san -DFERN_FAULT_PANIC "$out/panic"/*.o test/*.c -o "$out/panic-test"
"$out/test1" &
first=$!
"$out/test2"
wait "$first"
"$out/panic-test"

# Screens of test/untouched.txt are the same to the pixel, those of test/touched.txt are not.
for list in untouched touched; do
	for major in 1 2; do
		mkdir "$out/$list$major"
		(cd "$out/$list$major" && "../shot$major" >log) <test/$list.txt
	done
	for p in "$out/${list}1"/*.ppm; do
		name=$(basename "$p")
		if cmp -s "$p" "$out/${list}2/$name"; then same=untouched; else same=touched; fi
		if [ $same != $list ]; then
			echo "test/$list.txt: $name is $same by draw-2"
			exit 1
		fi
	done
	cmp "$out/${list}1/log" "$out/${list}2/log"
done
echo "ok"
