/* Every screen is reached by touch and by keys, and says so in the log. */
#include "check.h"

static void by_touch(const char *anchor, const char *log) {
	forget_log();
	CHECK(tap_anchor(anchor), anchor);
	CHECK(was_logged(log), log);
}

static void key(uint16_t usage) {
	fern_key(usage, 1);
	fern_key(usage, 0);
	run(400);
}

static void by_key(uint16_t usage, const char *log) {
	forget_log();
	key(usage);
	CHECK(was_logged(log), log);
}

static void drag(int x0, int y0, int x1, int y1) {
	int i;
	fern_touch(FERN_DOWN, x0, y0);
	for (i = 1; i <= 10; i++) {
		fern_touch(FERN_MOVE, x0 + (x1 - x0) * i / 10, y0 + (y1 - y0) * i / 10);
		run(20);
	}
	fern_touch(FERN_UP, x1, y1);
	run(500);
}

static void panel(void) {
	start(1);
	drag(160, 2, 160, 140);
	CHECK(was_logged("screen panel"), "pulling the top edge down opens the panel");
	fern_turn(8);
	CHECK(was_logged("lamp 64"), "eight detents of four per cent from 32");
	by_touch("valve", "mist start");
	by_touch("fan", "fan on");
	by_touch("valve", "mist stop");
	forget_log();
	drag(40, 140, 308, 140);
	CHECK(was_logged("lamp 100"), "the slider's end");
	fern_turn(-99);
	CHECK(was_logged("lamp 0"), "the knob stops at nought");
	by_touch("close", "screen home");
	drag(160, 2, 160, 40);
	CHECK(was_logged("screen panel") && was_logged("screen home"), "a short pull springs back");
}

static void pairing(void) {
	start(1);
	by_touch("sensors", "screen sensors");
	by_touch("add", "screen pair");
	fern_text("12");
	by_touch("ok", "pair code short");
	fern_text("34");
	by_touch("ok", "pair code wrong");
	fern_feed("pairing-code", "5050");
	CHECK(tap_anchor("5") && tap_anchor("0") && tap_anchor("5") && tap_anchor("1"), "keypad");
	CHECK(tap_anchor("erase") && tap_anchor("0"), "a slip is taken back");
	by_touch("ok", "screen search");
	CHECK(fern_busy(), "the spinner turns until the clock is held");
	fern_clock_hold(1);
	run(100);
	CHECK(!fern_busy(), "held, it stands");
	forget_log();
	fern_feed("sensors", "north\nsouth\nunit 7");
	CHECK(was_logged("sensor found unit 7") && was_logged("screen name"), "one more sensor ends the search");
	fern_text(" bär");
	by_touch("save", "sensor saved unit 7 bär");
}

static void wheel(void) {
	uint32_t top;
	start(1);
	by_touch("schedule", "screen schedule");
	top = fingerprint();
	fern_roll(2);
	run(500);
	by_touch("entry-6", "schedule 6 off");
	by_touch("entry-6", "schedule 6 on");
	fern_roll(99);
	run(500);
	by_touch("entry-12", "schedule 12 off");
	by_touch("entry-12", "schedule 12 on");
	fern_roll(-99);
	run(500);
	CHECK(fingerprint() == top, "the wheel stops at either end of the list");
	by_touch("back", "screen home");
	by_touch("settings", "screen settings");
	top = fingerprint();
	fern_roll(1);
	run(500);
	CHECK(fingerprint() == top, "where there is no list the wheel does nothing");
}

void test_walks(void) {
	int i;
	start(1);
	by_touch("schedule", "screen schedule");
	by_touch("entry-2", "schedule 2 off");
	drag(100, 200, 100, 60);
	by_touch("entry-5", "schedule 5 off");
	by_touch("back", "screen home");
	by_touch("chart", "screen chart");
	by_key(FERN_KEY_BACK, "screen home");
	by_touch("settings", "screen settings");
	by_touch("language", "screen language");
	by_touch("deutsch", "language de");
	by_key(FERN_KEY_BACK, "screen settings");
	by_touch("about", "screen about");
	by_touch("back", "screen settings");
	by_touch("season", "screen season");
	by_touch("later", "season later");
	by_touch("settings", "screen settings");
	by_touch("alarm-test", "screen alarm");
	by_touch("acknowledge", "alarm acknowledged");
	CHECK(was_logged("screen settings"), "the alarm gives back what it interrupted");
	panel();

	/* By keys alone: the first one shows the focus, the next ones move it. */
	start(1);
	for (i = 0; i < 4; i++)
		key(FERN_KEY_RIGHT);
	by_key(FERN_KEY_OK, "screen settings");
	for (i = 0; i < 3; i++)
		key(FERN_KEY_RIGHT);
	by_key(FERN_KEY_OK, "screen alarm");
	by_key(FERN_KEY_OK, "alarm acknowledged");
	by_key(FERN_KEY_BACK, "screen home");
	key(FERN_KEY_LEFT);
	key(FERN_KEY_LEFT);
	by_key(FERN_KEY_OK, "screen panel");
	pairing();
	wheel();
}
