/* The splash: name, and a bar that fills while the device starts. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"

#define BOOT_MS 1200
#define BAR_X ((FERN_W - BAR_W) / 2)
#define BAR_Y 196
#define BAR_W 160

static int shown; /* pixels of the bar */

static void enter(void) { shown = 0; }

static void paint(void) {
	const draw_rect name = {0, 132, FERN_W, 24}, what = {0, 164, FERN_W, 16};
	draw_shade(0, 0, FERN_W, FERN_H, C_FERN, C_DEEP);
	draw_icon_at(&icon_leaf_72, (FERN_W - 72) / 2, 44, C_MOSS);
	draw_text_in(&draw_font_head, name, DRAW_CENTRE, "Fernhouse", C_CARD);
	draw_text_in(&draw_font_small, what, DRAW_CENTRE, tr(STR_STARTING), C_MOSS);
	draw_fill(BAR_X, BAR_Y, BAR_W, 4, C_FROND);
	draw_fill(BAR_X, BAR_Y, shown, 4, C_CARD);
}

static int animate(void) {
	uint32_t gone = ui_now();
	int w = gone >= BOOT_MS ? BAR_W : (int)(gone * BAR_W / BOOT_MS);
	if (w != shown) {
		draw_dirty_add(BAR_X + shown, BAR_Y - 2, w - shown, 8);
		shown = w;
	}
	if (gone >= BOOT_MS) {
		fern_log("boot done");
		season_offer();
		if (model.alarm != ALARM_OFF)
			alarm_raise(model.alarm);
	}
	return 1;
}

const ui_screen screen_splash = {.name = "splash", .primary = -1, .enter = enter, .paint = paint, .animate = animate};
