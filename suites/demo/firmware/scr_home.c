/* Home: the two readings, the next misting, the way to everything else. */
#include "clock.h"
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"

enum { TO_SCHEDULE, TO_SENSORS, TO_CHART, TO_SETTINGS, TO_PANEL, ENDS };

#define NARROW (FERN_W < 300)
#define GRIP_Y (NARROW ? 20 : 18) /* under what stands there on a narrow panel */
#define FIGURES (NARROW ? &draw_font_num : &draw_font_big)
#define CARD_Y 32
#define CARD_H 96
#define CARD_W ((FERN_W - 24) / 2)
#define SECOND_X (16 + CARD_W)
#define NEXT_Y 136
#define NEXT_W (NARROW ? 96 : 150) /* of its words, beside the time */
#define NAV_Y 192
#define NAV_W (FERN_W / 4)

static uint32_t shown_second;
static int shown_minute;

/* ---- status bar ---- */

static draw_rect grip_rect(void) { return ui_rect(FERN_W / 2 - 24, 0, 48, BAR_H); }
static draw_rect clock_rect(void) { return ui_rect(FERN_W - 68, 2, 60, 20); }
static draw_rect marks_rect(void) { return ui_rect(FERN_W - 144, 2, 76, 20); }

void status_paint(void) {
	const draw_rect name = {28, 0, 108, BAR_H};
	char text[12];
	draw_fill(0, 0, FERN_W, BAR_H, C_FERN);
	draw_icon_at(&icon_leaf_16, 8, 4, C_MOSS);
	draw_text_in(&draw_font_bold, name, DRAW_LEFT, "Fernhouse", C_CARD);
	if (ui_screen_now() != &screen_panel) { /* a grip says that something can be pulled down */
		draw_fill(FERN_W / 2 - 18, GRIP_Y, 36, BAR_H - 3 - GRIP_Y, C_MOSS);
	}
	if (model.alarm != ALARM_OFF)
		draw_icon_at(&icon_bell_16, FERN_W - 138, 4, C_ACCENT);
	draw_bars(FERN_W - 118, 4, model.radio, C_CARD, C_FROND);
	draw_battery(FERN_W - 92, 7, model.battery, model.battery < 20 ? C_ACCENT : C_CARD);
	clock_text(text);
	draw_text_in(&draw_font_body, clock_rect(), DRAW_RIGHT, text, C_CARD);
}

/* ---- cards ---- */

/* The figures alone, from their top to their lowest pixel, so that a new value redraws no more. */
static draw_rect figure_rect(int x) { return ui_rect(x + 8, CARD_Y + 33, CARD_W - 12, model.language == LANG_EN ? 33 : 40); }

static void reading(int x, const draw_icon *icon, draw_color c, int label, int value, int tenths, const char *unit,
	const model_series *day, int low, int high) {
	const draw_rect card = {x, CARD_Y, CARD_W, CARD_H}, name = {x + 32, CARD_Y + 8, CARD_W - 36, 16},
					trend = {x + 12, CARD_Y + 74, CARD_W - 24, 14};
	char text[16];
	draw_series s;
	int pen;
	text[0] = 0;
	draw_card(card, C_CARD);
	draw_icon_at(icon, x + 10, CARD_Y + 8, c);
	draw_text_in(&draw_font_body, name, DRAW_LEFT, tr(label), C_STONE);
	if (value == MODEL_NONE)
		text_add(text, (int)sizeof text, "––");
	else if (tenths)
		text_add_tenths(text, (int)sizeof text, value);
	else
		text_add_int(text, (int)sizeof text, value);
	pen = draw_text(FIGURES, x + 10, CARD_Y + 65, text, C_INK);
	draw_text(&draw_font_title, pen + 4, CARD_Y + (NARROW ? 54 : 45), unit, C_STONE);
	s.value = day->value;
	s.count = day->count;
	s.low = low;
	s.high = high;
	s.c = c;
	draw_trend(trend, &s);
}

static void range(const model_series *s, int *low, int *high) {
	int i;
	*low = *high = s->value[0];
	for (i = 1; i < s->count; i++) {
		*low = s->value[i] < *low ? s->value[i] : *low;
		*high = s->value[i] > *high ? s->value[i] : *high;
	}
}

static void next_misting(void) {
	const draw_rect card = {8, NEXT_Y, FERN_W - 16, 48}, name = {56, NEXT_Y + 6, NEXT_W, 18}, when = {56, NEXT_Y + 25, NEXT_W, 16},
					time = {FERN_W - 120, NEXT_Y, 100, 48};
	char text[32];
	draw_card(card, C_CARD);
	draw_disc(16, NEXT_Y + 8, 32, C_DEW);
	draw_icon_at(&icon_drop_24, 20, NEXT_Y + 12, C_MIST);
	draw_text_in(&draw_font_bold, name, DRAW_LEFT, tr(STR_NEXT_MISTING), C_INK);
	text[0] = 0;
	if (model.next_minute == MODEL_NONE) {
		draw_text_in(&draw_font_small, when, DRAW_LEFT, tr(STR_NOT_PLANNED), C_STONE);
		return;
	}
	{
		int left = (model.next_minute - clock_minute_of_day() + 1440) % 1440;
		text_add(text, (int)sizeof text, tr(STR_IN_TIME));
		text_add(text, (int)sizeof text, " ");
		if (left >= 60) {
			text_add_int(text, (int)sizeof text, left / 60);
			text_add(text, (int)sizeof text, " h ");
		}
		text_add_int(text, (int)sizeof text, left % 60);
		text_add(text, (int)sizeof text, " min");
	}
	draw_text_in(&draw_font_small, when, DRAW_LEFT, text, C_STONE);
	text[0] = 0;
	text_add_digits(text, (int)sizeof text, (uint32_t)model.next_minute / 60u, 2);
	text_add(text, (int)sizeof text, ":");
	text_add_digits(text, (int)sizeof text, (uint32_t)model.next_minute % 60u, 2);
	draw_text_in(&draw_font_num, time, DRAW_RIGHT, text, C_FERN);
}

static draw_rect nav_rect(int i) { return ui_rect(NAV_W * i, NAV_Y, NAV_W, FERN_H - NAV_Y); }

static void nav(void) {
	static const draw_icon *const icons[4] = {&icon_list_24, &icon_sensor_24, &icon_chart_24, &icon_gear_24};
	static const int labels[4] = {STR_SCHEDULE, STR_SENSORS, STR_CHART, STR_SETTINGS};
	int i, mine = ui_screen_now() == &screen_home; /* under the panel these ids are the panel's */
	draw_fill(0, NAV_Y, FERN_W, 1, C_RULE);
	for (i = 0; i < 4; i++) {
		draw_rect r = nav_rect(i), label = {NAV_W * i, NAV_Y + 28, NAV_W, 16};
		draw_fill(r.x, r.y + 1, r.w, r.h - 1, mine && ui_pressed(i) ? C_DEW : C_CARD);
		draw_icon_at(icons[i], r.x + (NAV_W - 24) / 2, r.y + 6, C_FERN);
		draw_text_in(&draw_font_small, label, DRAW_CENTRE, tr(labels[i]), C_INK);
		if (mine && ui_has_focus(i))
			draw_focus_row(r);
	}
}

void home_paint(void) {
	int low, high;
	draw_fill(0, BAR_H, FERN_W, NAV_Y - BAR_H, C_PAPER);
	range(&model.chart_temperature, &low, &high);
	reading(8, &icon_thermo_16, C_WARM, STR_TEMPERATURE, model.temperature, 1, "°C", &model.chart_temperature, low, high);
	range(&model.chart_humidity, &low, &high);
	reading(SECOND_X, &icon_drop_16, C_MIST, STR_HUMIDITY, model.humidity, 0, "%", &model.chart_humidity, low, high);
	next_misting();
	nav();
	status_paint();
}

static void paint(void) {
	home_paint();
	if (ui_has_focus(TO_PANEL))
		draw_frame(grip_rect().x, 0, 48, BAR_H, 2, C_ACCENT);
}

void home_told(int what) {
	if (what & TOLD_TEMPERATURE)
		ui_mark(figure_rect(8));
	if (what & TOLD_HUMIDITY)
		ui_mark(figure_rect(SECOND_X));
	if (what & TOLD_CHART)
		draw_dirty_add(0, CARD_Y, FERN_W, CARD_H);
	if (what & TOLD_STATUS)
		ui_mark(marks_rect());
	if (what & TOLD_NEXT)
		draw_dirty_add(8, NEXT_Y, FERN_W - 16, 48);
	if (shown_second != clock_seconds()) {
		ui_mark(clock_rect());
		shown_second = clock_seconds();
	}
	if (shown_minute != clock_minute_of_day()) {
		draw_dirty_add(52, NEXT_Y + 25, NEXT_W + 6, 16);
		shown_minute = clock_minute_of_day();
	}
}

static void enter(void) {
	shown_second = clock_seconds();
	shown_minute = clock_minute_of_day();
}

static int target(int i, ui_target *t) {
	static const char *const names[ENDS] = {"schedule", "sensors", "chart", "settings", "manual"};
	if (i >= ENDS)
		return 0;
	t->id = i;
	t->anchor = names[i];
	t->r = i == TO_PANEL ? grip_rect() : nav_rect(i);
	return 1;
}

static void act(int id) {
	static const ui_screen *const to[4] = {&screen_schedule, &screen_sensors, &screen_chart, &screen_settings};
	if (id == TO_PANEL)
		panel_open();
	else
		ui_go(to[id]);
}

static int drag(int phase, int x, int y, int dx, int dy) {
	(void)x;
	(void)dx;
	if (phase == FERN_MOVE && y - dy < BAR_H && dy > 0)
		panel_pull(y);
	return 0;
}

const ui_screen screen_home = {.name = "home", .primary = -1, .enter = enter, .paint = paint, .target = target, .act = act,
	.drag = drag, .told = home_told};
