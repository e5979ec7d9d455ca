/* Looking for the sensor whose code was right, until the radio reports it or the user gives up. */
#include "clock.h"
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"

enum { CANCEL };

#define SPIN_X ((FERN_W - 56) / 2)
#define SPIN_Y 64

static int shown, known; /* the spinner's phase; the sensors there were */

static draw_rect button(void) { return ui_rect((FERN_W - 128) / 2, 188, 128, 44); }

static void enter(void) {
	shown = 0;
	known = model.sensors;
}

static int target(int i, ui_target *t) {
	if (i > 0)
		return 0;
	t->id = CANCEL;
	t->anchor = "cancel";
	t->r = button();
	return 1;
}

static void paint(void) {
	const draw_rect what = {16, 132, FERN_W - 32, 20}, hint = {16, 156, FERN_W - 32, 18};
	draw_fill(0, HEADER_H, FERN_W, FERN_H - HEADER_H, C_PAPER);
	draw_fill(0, 0, FERN_W, HEADER_H, C_FERN);
	draw_text_in(&draw_font_title, ui_rect(16, 0, FERN_W - 32, HEADER_H), DRAW_LEFT, tr(STR_PAIR), C_CARD);
	draw_spinner(SPIN_X, SPIN_Y, shown, C_PAPER);
	draw_text_in(&draw_font_bold, what, DRAW_CENTRE, tr(STR_SEARCHING), C_INK);
	draw_text_in(&draw_font_body, hint, DRAW_CENTRE, tr(STR_SEARCH_HINT), C_STONE);
	draw_button(button(), tr(STR_CANCEL), ui_state(CANCEL));
}

static int animate(void) {
	int phase = clock_phase(80, 12);
	if (phase != shown) {
		shown = phase;
		draw_dirty_add(SPIN_X, SPIN_Y, DRAW_SPINNER, DRAW_SPINNER);
	}
	return 0;
}

static void back(void) {
	fern_log("pair cancelled");
	ui_go(&screen_sensors);
}

static void act(int id) {
	(void)id;
	back();
}

static void told(int what) {
	if (!(what & TOLD_SENSORS))
		return;
	if (model.sensors > known) {
		log_words("sensor found", model.sensor[model.sensors - 1].name);
		ui_go(&screen_name);
	}
	known = model.sensors;
}

const ui_screen screen_search = {.name = "search", .primary = -1, .enter = enter, .paint = paint, .target = target,
	.act = act, .back = back, .animate = animate, .endless = 1, .told = told};
