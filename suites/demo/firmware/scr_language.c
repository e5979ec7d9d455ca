/* Language: each in its own words; choosing one relabels the device at once. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"

enum { BACK = LANG_COUNT };

#define ROW_H 50

static draw_rect row_rect(int i) { return ui_rect(0, HEADER_H + ROW_H * i, FERN_W, ROW_H); }

static int target(int i, ui_target *t) {
	static const char *const names[] = {"english", "deutsch", "francais", "espanol", "back"};
	if (i > BACK)
		return 0;
	t->id = i;
	t->anchor = names[i];
	t->r = i == BACK ? ui_rect(0, 0, 48, HEADER_H) : row_rect(i);
	return 1;
}

static void enter(void) { ui_focus_on(model.language); }

static void paint(void) {
	int i;
	draw_header(tr(STR_LANGUAGE), ui_state(BACK));
	for (i = 0; i < LANG_COUNT; i++) {
		draw_row row = {0, 0, 0, 0, 40};
		draw_rect r = row_rect(i);
		row.label = tr_in(i, STR_LANGUAGE_NAME);
		draw_list_row(r, &row, ui_state(i));
		if (i == model.language)
			draw_icon_at(&icon_check_24, FERN_W - 40, r.y + (ROW_H - 24) / 2, C_FROND);
	}
}

static void back(void) { ui_go(&screen_settings); }

static void act(int id) {
	if (id == BACK) {
		back();
		return;
	}
	model.language = id;
	log_words("language", model_language_code(id));
	draw_dirty_all();
}

const ui_screen screen_language = {
	.name = "language", .primary = -1, .enter = enter, .paint = paint, .target = target, .act = act, .back = back};
