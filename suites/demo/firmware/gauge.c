/* Gauges and key lamps. */
#include "gauge.h"

#include "fern.h"
#include "heap.h"
#include "model.h"
#include "screens.h"

#define STACK_SIZE 4096 /* what the user interface's task has */

/* The panel hangs on a serial bus of 20 MHz, 16 bits a pixel: so many pixels a millisecond. */
#define BUS_PIXELS_MS 1250

static uintptr_t top, deepest;
static int32_t painted, refreshes;

void gauge_boot(void) {
	top = deepest = 0;
	painted = refreshes = 0;
}

void gauge_frame(int32_t pixels) {
	painted = pixels;
	refreshes++;
}

void gauge_stack_top(const void *local) { top = (uintptr_t)local; }

void gauge_stack_leaf(const void *local) {
	uintptr_t at = (uintptr_t)local;
	if (top > at && top - at > deepest)
		deepest = top - at;
}

const char *fern_gauge(int i, int32_t *value) {
	switch (i) {
	case 0: *value = heap_free(); return "heap-free";
	case 1: *value = STACK_SIZE - (int32_t)deepest; return "stack-free";
	case 2: *value = (painted + BUS_PIXELS_MS - 1) / BUS_PIXELS_MS; return "frame-ms";
	case 3: *value = painted; return "frame-pixels";
	case 4: *value = refreshes; return "refreshes";
	case 5: *value = (int32_t)ui_visits(); return "visits";
	default: return 0;
	}
}

static void colour(uint8_t rgb[3], int on, int r, int g, int b) {
	rgb[0] = (uint8_t)(on ? r : 0);
	rgb[1] = (uint8_t)(on ? g : 0);
	rgb[2] = (uint8_t)(on ? b : 0);
}

/* The status lamp tells from across the glasshouse: green, blue while it mists, amber for an
 * alarm somebody has seen, red for one nobody has. The keys light where they do something. */
const char *fern_lamp(int i, uint8_t rgb[3]) {
	const ui_screen *s = ui_screen_now();
	switch (i) {
	case 0:
		if (s == &screen_splash)
			colour(rgb, 0, 0, 0, 0);
		else if (model.alarm != ALARM_OFF)
			colour(rgb, 1, 255, model.alarm_acked ? 140 : 0, 0);
		else if (model.valve)
			colour(rgb, 1, 0, 90, 255);
		else
			colour(rgb, 1, 0, 200, 60);
		return "status";
	case 1: colour(rgb, ui_lamp_focus(), 120, 160, 120); return "left";
	case 2: colour(rgb, ui_lamp_focus(), 120, 160, 120); return "right";
	case 3: colour(rgb, ui_lamp_ok(), s == &screen_alarm ? 255 : 120, s == &screen_alarm ? 0 : 160,
		s == &screen_alarm ? 0 : 120); return "ok";
	case 4: colour(rgb, s->back != 0, 120, 160, 120); return "back";
	default: return 0;
	}
}
