/* Typed text: any bytes, on the screens that take it and on those that do not. */
#include <string.h>

#include "check.h"

static void noise(const char *screen) {
	char s[120];
	int i, k;
	for (i = 0; i < 3000; i++) {
		int n = (int)(random32() % 40u);
		for (k = 0; k < n; k++) { /* mostly what begins and continues UTF-8; no line end, which would confirm */
			s[k] = (char)(random32() % 3u ? 0x80u + random32() % 0x80u : 0x20u + random32() % 0x60u);
		}
		s[n] = 0;
		fern_text(s);
		if (i % 20 == 0) {
			run(20);
			fern_text("\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b");
		}
	}
	run(50);
	CHECK(fern_feed("battery", "50") == 0, screen);
}

void test_text(void) {
	random_seed(9);
	start(9);
	noise("home");
	tap_anchor("sensors");
	tap_anchor("add");
	noise("pair");
	fern_text("\b\b\b\b\b\b407193\n");
	run(50);
	fern_feed("sensors", "a\nb\nc");
	run(50);
	noise("name");
	forget_log();
	fern_text("\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b\b");
	fern_text("\xC3\xE2\x82Gew\xC3\xA4" "chshaus, ganz hinten links\xF0\x9F\x8C\xBF\n");
	CHECK(was_logged("sensor saved Gewächshaus, ganz hinte"), "a name is cut at 24 bytes, whole characters only");
}
