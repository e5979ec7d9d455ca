/* Wall time in seconds since 1970. The device knows the years 1970 to 2099, in which every
 * fourth is a leap year but for none: 2000 is one, 2100 lies beyond. */
#include "clock.h"

#include "fern.h"
#include "model.h"
#include "text.h"
#include "ui.h"

#define CLOCK_LAST 4102444799u /* 2099-12-31 23:59:59 */
#define CLOCK_BOOT 1935640800u /* 2031-05-04 06:00:00, a Sunday */

static uint32_t seconds;
static uint32_t millis; /* below 1000 */
static int held;

void clock_boot(void) {
	seconds = CLOCK_BOOT;
	millis = 0;
	held = 0;
}

static void advance(uint32_t ms) {
	uint32_t whole = ms / 1000u;
	millis += ms % 1000u;
	if (millis >= 1000u) {
		millis -= 1000u;
		whole++;
	}
	seconds = whole > CLOCK_LAST - seconds ? CLOCK_LAST : seconds + whole;
}

void clock_run(uint32_t ms) {
	if (!held)
		advance(ms);
}

void fern_clock_set(int64_t unix_seconds) {
	seconds = unix_seconds < 0 ? 0 : unix_seconds > (int64_t)CLOCK_LAST ? CLOCK_LAST : (uint32_t)unix_seconds;
	millis = 0;
	ui_told(TOLD_CLOCK);
}

void fern_clock_hold(int hold) {
	held = hold != 0;
	ui_told(TOLD_CLOCK);
}

void fern_clock_step(uint32_t ms) {
	advance(ms);
	ui_told(TOLD_CLOCK);
}

int clock_held(void) { return held; }

uint32_t clock_seconds(void) { return seconds; }

int clock_minute_of_day(void) { return (int)(seconds / 60u % 1440u); }

static void date(int *month, int *day) {
	static const uint8_t length[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
	int d = (int)(seconds / 86400u);
	int year = 1970, m = 0;
	while (d >= 365 + (year % 4 == 0)) {
		d -= 365 + (year % 4 == 0);
		year++;
	}
	while (d >= length[m] + (m == 1 && year % 4 == 0)) {
		d -= length[m] + (m == 1 && year % 4 == 0);
		m++;
	}
	*month = m + 1;
	*day = d + 1;
}

int clock_month(void) {
	int m, d;
	date(&m, &d);
	return m;
}

int clock_day(void) {
	int m, d;
	date(&m, &d);
	return d;
}

void clock_text(char out[12]) {
	uint32_t s = seconds % 86400u;
	out[0] = 0;
	text_add_digits(out, 12, s / 3600u, 2);
	text_add(out, 12, ":");
	text_add_digits(out, 12, s / 60u % 60u, 2);
	text_add(out, 12, ":");
	text_add_digits(out, 12, s % 60u, 2);
}

int clock_phase(uint32_t period_ms, int steps) {
	return held ? 0 : (int)(ui_now() / period_ms % (uint32_t)steps);
}
