/* The sensors that are paired, and the way to pair another. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "scroll.h"

enum { ADD = SENSOR_MAX, BACK };

#define ROW_H 50

static ui_scroll list;

static int rows(void) { return model.sensors + 1; }
static void enter(void) { scroll_reset(&list, HEADER_H, 4 * ROW_H, ROW_H, rows()); }
static int row_of(int id) { return id == ADD ? model.sensors : id; }

static int target(int i, ui_target *t) {
	static const char *const names[SENSOR_MAX] = {"sensor-1", "sensor-2", "sensor-3", "sensor-4", "sensor-5",
		"sensor-6", "sensor-7", "sensor-8", "sensor-9", "sensor-10", "sensor-11", "sensor-12"};
	if (i > rows())
		return 0;
	t->id = i < model.sensors ? i : i == model.sensors ? ADD : BACK;
	t->anchor = t->id == BACK ? "back" : t->id == ADD ? "add" : names[i];
	t->r = t->id == BACK ? ui_rect(0, 0, 48, HEADER_H) : scroll_visible(&list, i);
	return 1;
}

static void paint(void) {
	int i;
	draw_fill(0, HEADER_H, FERN_W, FERN_H - HEADER_H, C_PAPER);
	for (i = 0; i < model.sensors; i++) {
		draw_row row = {&icon_sensor_24, 0, 0, 0, 32};
		draw_rect r = scroll_row(&list, i);
		if (draw_hidden(r.x, r.y, r.w, r.h))
			continue;
		row.label = model.sensor[i].name;
		draw_list_row(r, &row, ui_state(i));
		draw_bars(FERN_W - 40, r.y + 17, model.sensor[i].signal, C_FROND, C_RULE);
	}
	{
		draw_row row = {&icon_plus_24, 0, 0, 1, 0};
		row.label = tr(STR_ADD_SENSOR);
		draw_list_row(scroll_row(&list, model.sensors), &row, ui_state(ADD));
	}
	if (model.sensors == 0) {
		const draw_rect none = {24, 130, FERN_W - 48, 40};
		draw_text_block(&draw_font_body, none, 20, DRAW_CENTRE, tr(STR_NO_SENSORS), C_STONE);
	}
	scroll_bar(&list);
	draw_header(tr(STR_SENSORS), ui_state(BACK));
}

static void back(void) { ui_go(&screen_home); }

static void act(int id) {
	if (id == BACK)
		back();
	else if (id == ADD && model.sensors == SENSOR_MAX)
		fern_log("sensors full");
	else if (id == ADD)
		ui_go(&screen_pair);
	else
		log_words("sensor", model.sensor[id].name);
}

static void focused(int id) {
	if (id != BACK)
		scroll_reveal(&list, row_of(id));
}

static void roll(int steps) { scroll_by(&list, steps); }

static int drag(int phase, int x, int y, int dx, int dy) {
	(void)x;
	(void)dx;
	return scroll_drag(&list, phase, y, dy);
}

static int animate(void) { return scroll_animate(&list); }

static void told(int what) {
	if (what & TOLD_SENSORS) {
		scroll_rows(&list, rows());
		draw_dirty_add(0, HEADER_H, FERN_W, FERN_H - HEADER_H);
	}
}

const ui_screen screen_sensors = {.name = "sensors", .primary = -1, .enter = enter, .paint = paint, .target = target,
	.act = act, .back = back, .focused = focused, .roll = roll, .drag = drag, .animate = animate, .told = told};
