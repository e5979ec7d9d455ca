/* What partial refreshes leave on the panel is what one full redraw would show: after each of
 * some thousand random inputs. draw-2 has a defect here, which must show. */
#include <string.h>

#include "check.h"

#define INPUTS 4000

static uint16_t partial[FERN_W * FERN_H];
static unsigned differing;

static int below(int n) { return (int)(random32() % (unsigned)n); }

static void feed_something(void) {
	static const char *const good[][2] = {{"temperature", "21.4"}, {"temperature", "-39.9"}, {"temperature", "8"},
		{"temperature", "none"}, {"humidity", "100"}, {"humidity", "4"}, {"humidity", "none"},
		{"sensors", "a\nb:0\nc:1\nd\ne\nf\ng"}, {"sensors", ""}, {"sensors", "north\nsouth"},
		{"sensors", "one\ntwo:2\nthree:3\nfour\nfive"}, {"battery", "12"}, {"battery", "100"}, {"radio", "0"},
		{"next-misting", "23:59"}, {"next-misting", "none"}, {"alarm", "heat"}, {"alarm", "dry"}, {"alarm", "tank"},
		{"alarm", "off"}, {"alarm", "off"}, {"season", "winter"}, {"season", "off"}, {"season", "auto"},
		{"chart-temperature", "-10\n5.5\n40"}, {"chart-humidity", "0\n100\n50\n20"}, {"language", "de"},
		{"language", "fr"}, {"language", "es"}, {"language", "en"}};
	const int n = (int)(sizeof good / sizeof good[0]);
	int i = below(n);
	CHECK(fern_feed(good[i][0], good[i][1]) == 0, good[i][0]);
}

static void tap_some_anchor(void) {
	int r[4], n = 0, i;
	while (fern_anchor(n, r))
		n++;
	if (n == 0)
		return;
	i = below(n);
	fern_anchor(i, r);
	CHECK(r[0] >= 0 && r[1] >= 0 && r[2] > 0 && r[3] > 0 && r[0] + r[2] <= FERN_W && r[1] + r[3] <= FERN_H,
		"an anchor lies on the panel");
	fern_touch(FERN_DOWN, r[0] + r[2] / 2, r[1] + r[3] / 2);
	if (below(2))
		run(10);
	fern_touch(FERN_UP, r[0] + r[2] / 2, r[1] + r[3] / 2);
}

static void something(void) {
	static const uint16_t keys[] = {FERN_KEY_LEFT, FERN_KEY_RIGHT, FERN_KEY_RIGHT, FERN_KEY_OK, FERN_KEY_BACK, 4};
	switch (below(15)) {
	case 0: case 1: case 2: tap_some_anchor(); break;
	case 3: fern_touch(FERN_DOWN, below(FERN_W), below(FERN_H)); break;
	case 4: fern_touch(FERN_MOVE, below(FERN_W + 40) - 20, below(FERN_H + 40) - 20); break;
	case 5: fern_touch(FERN_UP, below(FERN_W), below(FERN_H)); break;
	case 6: fern_touch(FERN_DOWN, below(FERN_W), 2); fern_touch(FERN_MOVE, below(FERN_W), 40 + below(160)); break;
	case 7: case 8: fern_key(keys[below(6)], 1); break;
	case 9: fern_turn(below(9) - 4); break;
	case 10: fern_text(below(2) ? "407193" : "Möhre n°1\b"); break;
	case 11: feed_something(); break;
	case 12: fern_clock_hold(below(2)); fern_clock_step(random32() % 100000u); break;
	case 13: fern_roll(below(9) - 4); break;
	default: fern_clock_set((int64_t)(random32() >> (random32() % 32u)) - 5); break;
	}
}

static void compare(void) {
	int i;
	memcpy(partial, fern_framebuffer, sizeof partial);
	fern_redraw();
	for (i = 0; i < FERN_W * FERN_H; i++)
		if (partial[i] != fern_framebuffer[i]) {
			differing++;
#if DRAW_MAJOR < 2
			{
				static char why[320];
				const char *s = last_log;
				int n = 0;
				while (*s && n < 300)
					why[n++] = *s++;
				why[n] = 0;
				fail(__FILE__, i / FERN_W * 1000 + i % FERN_W, "refresh (line is y*1000+x)", why);
			}
#endif
			return;
		}
}

/* Held, every screen comes to rest within three seconds, and then stays so. */
static void still(void) {
	uint32_t frames;
	fern_clock_hold(1);
	run(3000);
	CHECK(!fern_busy(), last_log);
	frames = fern_frames();
	run(10000);
	CHECK(fern_frames() == frames, "held, the device draws nothing by itself");
}

void test_refresh(void) {
	int i;
	random_seed(2031);
	start(2031);
	for (i = 0; i < INPUTS; i++) {
		something();
		run((random32() % 3u) * 40u + 10u);
		compare();
		if (i % 100 == 99)
			still();
		if (i % 997 == 996) {
			start(random32());
			fern_clock_hold(0);
		}
	}
#if DRAW_MAJOR >= 2
	CHECK(differing > 20, "draw-2 leaves a stale row below what it refreshes");
#endif
}
