#!/bin/sh
# Builds the panels that are embedded here, with Debian 12's clang and lld. -O2: they are run much.
set -e
free=../../../suites/demo/firmware/port/freestanding
for codec in light dense; do
	dense=0
	test $codec = dense && dense=1
	clang --target=wasm32 -std=c99 -O2 -ffreestanding -nostdlib -Wall -Wextra -Wconversion -Werror -DFASCIA_DENSE=$dense \
		-isystem $free -Wl,--no-entry -Wl,--gc-sections -Wl,--strip-all -o panel-$codec.wasm \
		device/panel.c ../agent/fascia_agent.c $free/string.c
done
