/* Gauges and key lamps. */
#include "gauge.h"

#include "fern.h"
#include "model.h"
#include "ui.h"

#define STACK_SIZE 4096 /* what the linker script sets aside for the user interface's task */

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
	case 0: *value = painted; return "frame-pixels";
	case 1: *value = refreshes; return "refreshes";
	case 2: *value = STACK_SIZE - (int32_t)deepest; return "stack-free";
	case 3: *value = (int32_t)ui_visits(); return "visits";
	default: return 0;
	}
}

const char *fern_lamp(int i, uint8_t rgb[3]) {
	rgb[0] = rgb[1] = rgb[2] = 0;
	return i == 0 ? "status" : 0;
}
