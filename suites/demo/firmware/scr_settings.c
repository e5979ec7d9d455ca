/* Settings: the way to language, reminder, alarm test and about. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "screens.h"

enum { BACK, TO_LANGUAGE, ROWS };

static draw_rect row_rect(int i) { return ui_rect(0, HEADER_H + 48 * i, FERN_W, 48); }

static int target(int i, ui_target *t) {
	static const char *const names[] = {"back", "language"};
	if (i >= ROWS)
		return 0;
	t->id = i;
	t->anchor = names[i];
	t->r = i == BACK ? ui_rect(0, 0, 48, HEADER_H) : row_rect(i - 1);
	return 1;
}

static int state(int id) { return (ui_pressed(id) ? DRAW_PRESSED : 0) | (ui_has_focus(id) ? DRAW_FOCUS : 0); }

static void paint(void) {
	draw_row row = {&icon_globe_24, 0, 0, 1};
	draw_fill(0, HEADER_H, FERN_W, FERN_H - HEADER_H, C_PAPER);
	draw_header(tr(STR_SETTINGS), state(BACK));
	row.label = tr(STR_LANGUAGE);
	row.value = tr(STR_LANGUAGE_NAME);
	draw_list_row(row_rect(0), &row, state(TO_LANGUAGE));
}

static void back(void) { ui_go(&screen_home); }

static void act(int id) {
	if (id == BACK)
		back();
	else
		ui_go(&screen_language);
}

const ui_screen screen_settings = {
	.name = "settings", .primary = -1, .paint = paint, .target = target, .act = act, .back = back};
