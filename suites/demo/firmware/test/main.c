/* Runs the tests of the firmware on the host. The exit status is 1 if any check failed. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"

int failures;
char last_log[256];
unsigned logged;
jmp_buf crashed;
int crash_expected;

static char kept[64][256];
static unsigned kept_from;
static uint32_t now, state;

void fail(const char *file, int line, const char *what, const char *why) {
	if (++failures <= 20)
		printf("%s:%d: %s: %s\n", file, line, what, why);
}

void fern_log(const char *line) {
	snprintf(last_log, sizeof last_log, "%s", line);
	memcpy(kept[logged++ % 64], last_log, sizeof last_log);
}

void fern_crash(const char *why) {
	if (!crash_expected) {
		printf("crash: %s\n", why);
		exit(1);
	}
	longjmp(crashed, 1);
}

void forget_log(void) { kept_from = logged; }

int was_logged(const char *line) {
	unsigned i;
	for (i = kept_from; i < logged; i++)
		if (!strcmp(kept[i % 64], line))
			return 1;
	return 0;
}

void run(uint32_t ms) {
	uint32_t end = now + ms;
	for (; now < end; now += 10)
		fern_step(now + 10);
}

void start(uint32_t seed) {
	now = 0;
	fern_boot(seed);
	fern_step(0);
	run(1500);
	forget_log();
}

void tap(int x, int y) {
	fern_touch(FERN_DOWN, x, y);
	run(20);
	fern_touch(FERN_UP, x, y);
	run(400);
}

int tap_anchor(const char *name) {
	const char *s;
	int i, r[4];
	for (i = 0; (s = fern_anchor(i, r)) != NULL; i++)
		if (!strcmp(s, name)) {
			tap(r[0] + r[2] / 2, r[1] + r[3] / 2);
			return 1;
		}
	return 0;
}

void random_seed(uint32_t seed) { state = seed * 2654435761u + 1u; }

uint32_t random32(void) { /* xorshift (Marsaglia 2003) */
	state ^= state << 13;
	state ^= state >> 17;
	state ^= state << 5;
	return state;
}

uint32_t fingerprint(void) {
	uint32_t h = 2166136261u;
	int i;
	for (i = 0; i < FERN_W * FERN_H; i++)
		h = ((h ^ (fern_framebuffer[i] & 255u)) * 16777619u ^ (fern_framebuffer[i] >> 8)) * 16777619u;
	return h;
}

int main(void) {
#ifdef FERN_FAULT_PANIC
	test_panic();
#else
	test_boot();
	test_walks();
	test_feed();
	test_text();
	test_refresh();
#endif
	printf("%s: %d failed\n", fern_library(), failures);
	return failures > 0;
}
