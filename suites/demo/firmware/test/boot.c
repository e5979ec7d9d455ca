/* The same seed gives the same device; another seed another one; boot forgets everything. */
#include "check.h"

static uint32_t session(uint32_t seed) {
	uint32_t h;
	start(seed);
	h = fingerprint();
	tap_anchor("settings");
	tap_anchor("about");
	h = h * 31u + fingerprint();
	fern_key(FERN_KEY_BACK, 1);
	fern_key(FERN_KEY_BACK, 1);
	run(100);
	tap_anchor("chart");
	fern_turn(3);
	run(100);
	h = h * 31u + fingerprint();
	return h;
}

void test_boot(void) {
	uint32_t first = session(7), other = session(8);
	CHECK(first != other, "the seed makes the serial number and the weather");
	fern_feed("language", "de");
	fern_feed("temperature", "-3.5");
	fern_feed("sensors", "");
	fern_clock_set(86400 * 365);
	fern_clock_hold(1);
	CHECK(session(7) == first, "boot leaves nothing of what was before");

	start(1);
	CHECK(fern_frames() > 0 && !fern_busy(), "home stands still after boot, but for its clock");
	forget_log();
	fern_boot(1);
	CHECK(was_logged("screen splash"), "boot shows the splash");
	fern_feed("season", "autumn");
	run(1500);
	CHECK(was_logged("screen season"), "a season that is due is offered after the splash");
	fern_key(FERN_KEY_OK, 1);
	CHECK(was_logged("season switched") && was_logged("screen home"), "OK confirms the dialog's first choice");
}

void test_panic(void) {
	start(1);
	crash_expected = 1;
	if (setjmp(crashed) == 0) {
		fern_feed("alarm", "valve");
		fail(__FILE__, __LINE__, "fern_crash", "opening the alarm screen must trip in this build");
	}
	CHECK(was_logged("panic: mist valve interlock"), "the panic is logged before the crash");
}
