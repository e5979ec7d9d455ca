/* The screens on a panel of one bit and a few lines: a title, two lines of what there is to know, and the one thing
 * that the knob has chosen. No touch. The other panels' screens decide what may be done; they are not painted. */
#include "screens.h"

#include "clock.h"
#include "draw/theme.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "text.h"

#ifdef FERN_SMALL

#define LINE (FERN_H / 4)
#define CAP 48

static const struct {
	const ui_screen *screen;
	int title, labels[5]; /* of its first targets; 0 ends them */
} table[] = {
	{&screen_home, -1, {STR_SCHEDULE, STR_SENSORS, STR_CHART, STR_SETTINGS, STR_MANUAL_RUN}},
	{&screen_panel, STR_MANUAL_RUN, {STR_FAN, STR_VALVE, STR_BED_LAMP}},
	{&screen_settings, STR_SETTINGS, {STR_LANGUAGE, STR_SEASON_ROW, STR_ALARM_TEST, STR_ABOUT}},
	{&screen_sensors, STR_SENSORS, {0}},
	{&screen_schedule, STR_SCHEDULE, {0}},
	{&screen_chart, STR_DAY_CHART, {0}},
	{&screen_language, STR_LANGUAGE, {0}},
	{&screen_about, STR_ABOUT, {0}},
	{&screen_alarm, STR_ALARM, {STR_ACKNOWLEDGE}},
	{&screen_season, -1, {STR_LATER, STR_SWITCH}},
	{&screen_pair, STR_PAIR, {0}},
	{&screen_search, STR_PAIR, {STR_CANCEL}},
	{&screen_name, STR_NAME_IT, {STR_PLACE_BENCH, STR_PLACE_DOOR, STR_PLACE_NORTH, STR_PLACE_SOUTH}},
};

static void add_reading(char *out, int value, int tenths, const char *unit) {
	if (value == MODEL_NONE)
		text_add(out, CAP, "––");
	else if (tenths)
		text_add_tenths(out, CAP, value);
	else
		text_add_int(out, CAP, value);
	text_add(out, CAP, unit);
}

static void add_pair(char *out, int label, const char *value) {
	text_add(out, CAP, tr(label));
	text_add(out, CAP, " ");
	text_add(out, CAP, value);
}

static void add_time(char *out, int minute) {
	text_add_digits(out, CAP, (uint32_t)minute / 60u, 2);
	text_add(out, CAP, ":");
	text_add_digits(out, CAP, (uint32_t)minute % 60u, 2);
}

/* What there is to know, in two lines. */
static void facts(const ui_screen *s, char *one, char *two) {
	int low, high, i;
	if (s == &screen_splash) {
		text_add(two, CAP, tr(STR_STARTING));
	} else if (s == &screen_home || s == &screen_schedule) {
		add_reading(one, model.temperature, 1, " °C   ");
		add_reading(one, model.humidity, 0, " %");
		if (model.next_minute == MODEL_NONE) {
			text_add(two, CAP, tr(STR_NOT_PLANNED));
		} else {
			add_pair(two, STR_NEXT_MISTING, "");
			add_time(two, model.next_minute);
		}
	} else if (s == &screen_panel) {
		add_pair(one, STR_FAN, tr(model.fan ? STR_ON : STR_OFF));
		text_add(one, CAP, ", ");
		add_reading(one, model.lamp, 0, " %");
		add_pair(two, STR_VALVE, tr(model.valve ? STR_ON : STR_OFF));
	} else if (s == &screen_sensors) {
		text_add(one, CAP, model.sensors > 0 ? model.sensor[0].name : tr(STR_NO_SENSORS));
		text_add(two, CAP, model.sensors > 1 ? model.sensor[1].name : "");
	} else if (s == &screen_chart) {
		low = high = model.chart_temperature.value[0];
		for (i = 1; i < model.chart_temperature.count; i++) {
			low = model.chart_temperature.value[i] < low ? model.chart_temperature.value[i] : low;
			high = model.chart_temperature.value[i] > high ? model.chart_temperature.value[i] : high;
		}
		text_add(one, CAP, tr(STR_TEMPERATURE));
		add_reading(two, low, 1, " – ");
		add_reading(two, high, 1, " °C");
	} else if (s == &screen_alarm) {
		text_add(one, CAP, tr(STR_HEAT + model.alarm - ALARM_HEAT));
		text_add(two, CAP, tr(STR_HEAT_DO + model.alarm - ALARM_HEAT));
	} else if (s == &screen_season) {
		text_add(one, CAP, tr(STR_SPRING + model_season_now()));
	} else if (s == &screen_about) {
		add_pair(one, STR_FIRMWARE, "2.3.0");
		add_pair(two, STR_BATTERY, "");
		add_reading(two, model.battery, 0, " %");
	} else if (s == &screen_settings || s == &screen_language) {
		text_add(one, CAP, tr(STR_LANGUAGE_NAME));
	} else if (s == &screen_search) {
		text_add(one, CAP, tr(STR_SEARCHING));
	} else if (s == &screen_pair) {
		text_add(one, CAP, tr(STR_PAIR_HINT));
	} else if (s == &screen_name) {
		text_add(one, CAP, tr(STR_FOUND));
	}
}

void small_paint(void) {
	const ui_screen *s = ui_screen_now();
	draw_rect r = {4, 0, FERN_W - 8, LINE};
	char title[CAP] = "", one[CAP] = "", two[CAP] = "";
	const char *choice = "";
	unsigned k;
	int i;
	ui_target t;
	for (k = 0; k < sizeof table / sizeof table[0]; k++) {
		if (table[k].screen != s)
			continue;
		if (table[k].title >= 0)
			text_add(title, CAP, tr(table[k].title));
		for (i = 0; s->target && s->target(i, &t); i++)
			if (ui_has_focus(t.id))
				choice = i < 5 && table[k].labels[i] ? tr(table[k].labels[i]) : t.anchor ? t.anchor : "";
	}
	if (!title[0])
		text_add(title, CAP, "Fernhouse");
	facts(s, one, two);
	draw_fill(0, 0, FERN_W, FERN_H, C_CARD);
	draw_fill(0, 0, FERN_W, LINE, C_INK);
	draw_text_in(&draw_font_small, r, DRAW_LEFT, title, C_CARD);
	if (s == &screen_home) {
		char now[CAP] = "";
		add_time(now, clock_minute_of_day());
		draw_text_in(&draw_font_small, r, DRAW_RIGHT, now, C_CARD);
	}
	r.y += LINE;
	draw_text_in(&draw_font_small, r, DRAW_LEFT, one, C_INK);
	r.y += LINE;
	draw_text_in(&draw_font_small, r, DRAW_LEFT, two, C_INK);
	r.y += LINE;
	if (choice[0]) {
		draw_frame(0, 3 * LINE, FERN_W, LINE, 1, C_INK);
		draw_text_in(&draw_font_small, r, DRAW_LEFT, choice, C_INK);
	}
}

#endif
