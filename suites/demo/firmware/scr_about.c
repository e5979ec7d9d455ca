/* About: what the person on the telephone asks for. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"

enum { BACK };

#define ROWS 5
#define ROW_H 40

static draw_rect row_rect(int i) { return ui_rect(0, HEADER_H + ROW_H * i, FERN_W, ROW_H); }

static const char *value(int i, char *out, int cap) {
	out[0] = 0;
	switch (i) {
	case 0: return text_add(out, cap, "2.3.0");
	case 1: return text_add(out, cap, "FH-2 rev. C");
	case 2: /* printed on the housing too */
		text_add(out, cap, "FH-");
		text_add_digits(out, cap, model_random(1, 10000), 4);
		text_add(out, cap, "-");
		return text_add_digits(out, cap, model_random(2, 10000), 4);
	case 3: return text_add(out, cap, "868 MHz, 1.4.2");
	default:
		text_add_int(out, cap, model.battery);
		return text_add(out, cap, " %");
	}
}

static void paint(void) {
	int i;
	draw_header(tr(STR_ABOUT), ui_state(BACK));
	for (i = 0; i < ROWS; i++) {
		char text[32];
		draw_row row = {0, 0, 0, 0, 0};
		row.label = tr(STR_FIRMWARE + i);
		row.value = value(i, text, (int)sizeof text);
		draw_list_row(row_rect(i), &row, 0);
	}
}

static int target(int i, ui_target *t) {
	if (i > 0)
		return 0;
	t->id = BACK;
	t->anchor = "back";
	t->r = ui_rect(0, 0, 48, HEADER_H);
	return 1;
}

static void back(void) { ui_go(&screen_settings); }

static void act(int id) {
	(void)id;
	back();
}

static void told(int what) {
	if (what & TOLD_STATUS)
		ui_mark(row_rect(ROWS - 1));
}

const ui_screen screen_about = {
	.name = "about", .primary = -1, .paint = paint, .target = target, .act = act, .back = back, .told = told};
