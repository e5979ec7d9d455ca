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

for cc in gcc clang; do
	command -v "$cc" >/dev/null || continue
	for major in 1 2; do
		for f in $src; do
			"$cc" $warn -O2 -ffreestanding -DDRAW_MAJOR=$major -c "$f" -o "$out/$(echo "$f" | tr / _).o"
		done
	done
done

# Nothing but these may be asked of whoever links it.
nm -u "$out"/*.o | awk '$1 == "U" {print $2}' | sort -u >"$out/wants"
nm --defined-only "$out"/*.o | awk 'NF == 3 {print $3}' | sort -u >"$out/has"
strange=$(comm -23 "$out/wants" "$out/has" | grep -vE '^(fern_log|fern_crash|memcpy|memset|memmove|_GLOBAL_OFFSET_TABLE_)$' || true)
if [ -n "$strange" ]; then
	echo "the firmware asks its port for: $strange"
	exit 1
fi

for major in 1 2; do
	gcc $warn $san -DDRAW_MAJOR=$major $src test/*.c -o "$out/test$major"
	"$out/test$major"
	gcc $warn $san -DDRAW_MAJOR=$major $src host/shot.c -o "$out/shot$major"
done
gcc $warn $san -DFERN_FAULT_PANIC $src test/*.c -o "$out/panic"
"$out/panic"

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
