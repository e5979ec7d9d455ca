/* Blocks follow each other, each with its length in front; a negative length is a free one.
 * Neighbours that are free are joined when somebody looks for room. */
#include "heap.h"

#include <stdint.h>

#define ARENA 2048
#define WORD ((int)sizeof(int32_t))

static int32_t arena[ARENA / sizeof(int32_t)];

void heap_boot(void) { arena[0] = -ARENA; }

static int length(int at) {
	int32_t n = arena[at];
	return (int)(n < 0 ? -n : n) / WORD;
}

void *heap_take(int bytes) {
	const int words = ARENA / WORD;
	int want = (bytes + WORD - 1) / WORD + 1, at;
	for (at = 0; at < words; at += length(at)) {
		int have = length(at);
		if (arena[at] > 0)
			continue;
		while (at + have < words && arena[at + have] < 0) {
			have += length(at + have);
			arena[at] = -have * WORD;
		}
		if (have < want)
			continue;
		if (have > want)
			arena[at + want] = -(have - want) * WORD;
		arena[at] = want * WORD;
		return arena + at + 1;
	}
	return 0;
}

void heap_give(void *p) {
	int32_t *block = p;
	if (block)
		block[-1] = -block[-1];
}

int heap_free(void) {
	int at, n = 0;
	for (at = 0; at < ARENA / WORD; at += length(at))
		if (arena[at] < 0)
			n -= arena[at];
	return n;
}
