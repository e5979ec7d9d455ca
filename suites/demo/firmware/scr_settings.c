/* Settings: the way to language, reminder, alarm test and about. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"

enum { TO_LANGUAGE, SEASON, ALARM_TEST, TO_ABOUT, BACK, ENDS };

#define ROW_H 50

static draw_rect row_rect(int i) { return ui_rect(0, HEADER_H + ROW_H * i, FERN_W, ROW_H); }

static int target(int i, ui_target *t) {
	static const char *const names[ENDS] = {"language", "season", "alarm-test", "about", "back"};
	if (i >= ENDS)
		return 0;
	t->id = i;
	t->anchor = names[i];
	t->r = i == BACK ? ui_rect(0, 0, 48, HEADER_H) : row_rect(i);
	return 1;
}

static void paint(void) {
	static const draw_icon *const icons[BACK] = {&icon_globe_24, &icon_leaf_24, &icon_bell_24, &icon_info_24};
	static const int labels[BACK] = {STR_LANGUAGE, STR_SEASON_ROW, STR_ALARM_TEST, STR_ABOUT};
	int i;
	draw_header(tr(STR_SETTINGS), ui_state(BACK));
	for (i = 0; i < BACK; i++) {
		draw_row row = {0, 0, 0, 1, 0};
		row.icon = icons[i];
		row.label = tr(labels[i]);
		if (i == TO_LANGUAGE)
			row.value = tr(STR_LANGUAGE_NAME);
		if (i == SEASON)
			row.value = tr(model.season == SEASON_OFF ? STR_OFF : STR_AUTO);
		draw_list_row(row_rect(i), &row, ui_state(i));
	}
}

static void back(void) { ui_go(&screen_home); }

static void act(int id) {
	switch (id) {
	case TO_LANGUAGE: ui_go(&screen_language); break;
	case SEASON: ui_go(&screen_season); break;
	case ALARM_TEST: alarm_raise(ALARM_STUCK); break;
	case TO_ABOUT: ui_go(&screen_about); break;
	default: back(); break;
	}
}

static void told(int what) {
	if (what & TOLD_SEASON)
		ui_mark(row_rect(SEASON));
}

const ui_screen screen_settings = {
	.name = "settings", .primary = -1, .paint = paint, .target = target, .act = act, .back = back, .told = told};
