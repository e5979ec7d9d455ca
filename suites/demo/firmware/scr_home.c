/* Home: the two readings, the next misting, the way to everything else. */
#include "clock.h"
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"

void status_paint(void) {
	draw_fill(0, 0, FERN_W, BAR_H, C_FERN);
}

void home_paint(void) {
	draw_fill(0, BAR_H, FERN_W, FERN_H - BAR_H, C_PAPER);
	status_paint();
}

void home_told(int what) { (void)what; }

enum { TO_SETTINGS };

static int target(int i, ui_target *t) {
	if (i > 0)
		return 0;
	t->r = ui_rect(240, 192, 80, 48);
	t->anchor = "settings";
	t->id = TO_SETTINGS;
	return 1;
}

static void act(int id) { (void)id; ui_go(&screen_settings); }

const ui_screen screen_home = {
	.name = "home", .primary = -1, .paint = home_paint, .target = target, .act = act, .told = home_told};
