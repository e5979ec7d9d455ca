/* The day as a chart. The knob moves a line along the day and reads both series there. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"

enum { BACK };

#define CELLS 4 /* of the grid, from bottom to top */

static int cursor; /* a point of the temperature series; -1: none */

static const draw_rect plot = {32, 76, FERN_W - 64, 132};

static void enter(void) { cursor = -1; }

static int below(int v, int step) { return (v >= 0 ? v / step : -((step - 1 - v) / step)) * step; }

/* A scale of CELLS round steps with room above the highest value, but none above the most
 * that there can be. */
static void scale(const model_series *m, const int *steps, int most, draw_series *s) {
	int i, low = m->value[0], high = m->value[0];
	for (i = 1; i < m->count; i++) {
		low = m->value[i] < low ? m->value[i] : low;
		high = m->value[i] > high ? m->value[i] : high;
	}
	for (i = 0; steps[i + 1] && below(low, steps[i]) + CELLS * steps[i] <= high; i++) {
	}
	s->low = below(low, steps[i]);
	if (s->low + CELLS * steps[i] > most)
		s->low = most - CELLS * steps[i];
	s->high = s->low + CELLS * steps[i];
	s->value = m->value;
	s->count = m->count;
}

static void both(draw_series s[2]) {
	static const int degrees[] = {10, 20, 30, 50, 100, 200, 400, 0}, percents[] = {5, 10, 15, 20, 25, 0};
	scale(&model.chart_temperature, degrees, 800, &s[0]);
	scale(&model.chart_humidity, percents, 100, &s[1]);
	s[0].c = C_WARM;
	s[1].c = C_MIST;
}

static int other(void) { /* the humidity's point at the cursor's time */
	int last = model.chart_temperature.count - 1;
	return (cursor * (model.chart_humidity.count - 1) + last / 2) / (last > 0 ? last : 1);
}

static void legend(int x, int label, int value, int tenths, const char *unit, draw_color c) {
	draw_rect r = {x + 24, 44, FERN_W / 2 - 40, 24};
	char text[40];
	text[0] = 0;
	draw_fill(x, 55, 16, 3, c);
	if (cursor < 0) {
		text_add(text, (int)sizeof text, tr(label));
	} else if (tenths) {
		text_add_tenths(text, (int)sizeof text, value);
	} else {
		text_add_int(text, (int)sizeof text, value);
	}
	text_add(text, (int)sizeof text, unit);
	draw_text_in(&draw_font_body, r, DRAW_LEFT, text, C_INK);
}

static void axes(const draw_series s[2]) {
	char text[16];
	int i;
	for (i = 0; i <= CELLS; i++) {
		int y = plot.y + plot.h - 1 - (plot.h - 1) * i / CELLS;
		draw_rect left = {0, y - 8, plot.x - 6, 16}, right = {plot.x + plot.w + 6, y - 8, 24, 16};
		text[0] = 0;
		text_add_int(text, (int)sizeof text, (s[0].low + (s[0].high - s[0].low) * i / CELLS) / 10);
		draw_text_in(&draw_font_small, left, DRAW_RIGHT, text, C_WARM);
		text[0] = 0;
		text_add_int(text, (int)sizeof text, s[1].low + (s[1].high - s[1].low) * i / CELLS);
		draw_text_in(&draw_font_small, right, DRAW_LEFT, text, C_MIST);
	}
	for (i = 0; i <= 4; i++) {
		draw_rect below = {plot.x + (plot.w - 1) * i / 4 - 20, plot.y + plot.h + 6, 40, 16};
		text[0] = 0;
		text_add_int(text, (int)sizeof text, 6 * i);
		draw_text_in(&draw_font_small, below, DRAW_CENTRE, text_add(text, (int)sizeof text, " h"), C_STONE);
	}
}

static void bead(int x16, int y16, draw_color c) {
	draw_disc(x16 / 16 - 4, y16 / 16 - 4, 9, C_CARD);
	draw_disc(x16 / 16 - 3, y16 / 16 - 3, 7, c);
}

static void paint(void) {
	draw_series s[2];
	both(s);
	draw_fill(0, HEADER_H, FERN_W, FERN_H - HEADER_H, C_PAPER);
	draw_header(tr(STR_DAY_CHART), ui_state(BACK));
	legend(32, STR_TEMPERATURE, cursor < 0 ? 0 : s[0].value[cursor], 1, " °C", C_WARM);
	legend(FERN_W / 2 + 16, STR_HUMIDITY, cursor < 0 ? 0 : s[1].value[other()], 0, " %", C_MIST);
	axes(s);
	draw_chart(plot, s, 2, 8, CELLS);
	if (cursor >= 0) {
		int16_t at[2];
		char text[12];
		const draw_rect when = {FERN_W - 80, 0, 64, HEADER_H};
		int minute = 1440 * cursor / (s[0].count - 1);
		draw_chart_point(plot, &s[0], cursor, at);
		draw_fill(at[0] / 16, plot.y + 1, 1, plot.h - 2, C_INK);
		bead(at[0], at[1], C_WARM);
		draw_chart_point(plot, &s[1], other(), at);
		bead(at[0], at[1], C_MIST);
		text[0] = 0;
		text_add_digits(text, (int)sizeof text, (uint32_t)minute / 60u, 2);
		text_add(text, (int)sizeof text, ":");
		text_add_digits(text, (int)sizeof text, (uint32_t)minute % 60u, 2);
		draw_text_in(&draw_font_title, when, DRAW_RIGHT, text, C_CARD);
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

static void back(void) { ui_go(&screen_home); }

static void act(int id) {
	(void)id;
	back();
}

static void move_to(int point) {
	int last = model.chart_temperature.count - 1;
	point = point < 0 ? 0 : point > last ? last : point;
	if (point == cursor)
		return;
	cursor = point;
	draw_dirty_add(plot.x - 4, plot.y - 4, plot.w + 8, plot.h + 8); /* the beads overhang */
	draw_dirty_add(plot.x, 44, FERN_W - plot.x, 24);
	draw_dirty_add(FERN_W - 80, 0, 68, HEADER_H); /* the last figure may overhang by a pixel */
}

static int turn(int detents) {
	move_to(cursor < 0 ? (model.chart_temperature.count - 1) / 2 : cursor + detents);
	return 1;
}

static int drag(int phase, int x, int y, int dx, int dy) {
	int last = model.chart_temperature.count - 1;
	(void)dx;
	if (y - dy >= plot.y && y - dy < plot.y + plot.h) {
		move_to(((x - plot.x) * last + (plot.w - 1) / 2) / (plot.w - 1));
		return phase == FERN_DOWN;
	}
	return 0;
}

static void told(int what) {
	if (what & TOLD_CHART) {
		cursor = -1;
		draw_dirty_all();
	}
}

const ui_screen screen_chart = {.name = "chart", .primary = -1, .enter = enter, .paint = paint, .target = target,
	.act = act, .back = back, .turn = turn, .drag = drag, .told = told};
