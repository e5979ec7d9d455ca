#!/bin/sh
# Builds the twin, with Debian 12's clang, lld, wasi-libc and libclang-rt-14-dev-wasm32.
set -e
clang --target=wasm32-wasi -mexec-model=reactor -std=c99 -Os -Wall -Wextra -Werror -Wl,--gc-sections -Wl,--strip-all \
	-o "${1:-counter.wasm}" counter.c ../../link/agent/fascia_agent.c
