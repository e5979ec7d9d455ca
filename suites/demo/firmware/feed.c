/* Values from outside: what a sensor, the radio or the clock would report. Nothing changes
 * unless the whole value is good. */
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"
#include "ui.h"

/* A decimal with at most one digit after the point, in tenths. */
static int decimal(const char *s, int length, int low, int high, int *tenths) {
	int i = 0, v = 0, sign = 1, seen = 0;
	if (i < length && s[i] == '-') {
		sign = -1;
		i++;
	}
	for (; i < length && s[i] >= '0' && s[i] <= '9'; i++, seen = 1)
		if ((v = v * 10 + (s[i] - '0')) > 10000)
			return 0;
	v *= 10;
	if (seen && i + 2 == length && s[i] == '.' && s[i + 1] >= '0' && s[i + 1] <= '9') {
		v += s[i + 1] - '0';
		i += 2;
	}
	v *= sign;
	if (!seen || i != length || v < low || v > high)
		return 0;
	*tenths = v;
	return 1;
}

static int whole(const char *s, int length, int low, int high, int *v) {
	int t, i;
	for (i = 0; i < length; i++)
		if (s[i] == '.')
			return 0;
	if (!decimal(s, length, low * 10, high * 10, &t))
		return 0;
	*v = t / 10;
	return 1;
}

/* One of the words, or -1. */
static int word(const char *s, const char *const *words, int n) {
	int i;
	for (i = 0; i < n; i++)
		if (text_same(s, words[i]))
			return i;
	return -1;
}

/* The length of the item at s, up to the next line end. */
static int item(const char *s) {
	int n = 0;
	while (s[n] && s[n] != '\n')
		n++;
	return n;
}

static int reading(const char *s, int low, int high, int tenths, int *to) {
	int v;
	if (text_same(s, "none"))
		v = MODEL_NONE;
	else if (!(tenths ? decimal(s, text_len(s), low, high, &v) : whole(s, text_len(s), low, high, &v)))
		return -2;
	*to = v;
	return 0;
}

static int feed_temperature(const char *s) { return reading(s, -400, 800, 1, &model.temperature); }
static int feed_humidity(const char *s) { return reading(s, 0, 100, 0, &model.humidity); }

static int feed_battery(const char *s) { return whole(s, text_len(s), 0, 100, &model.battery) ? 0 : -2; }
static int feed_radio(const char *s) { return whole(s, text_len(s), 0, 4, &model.radio) ? 0 : -2; }

static int feed_next(const char *s) {
	int h, m;
	if (text_same(s, "none")) {
		model.next_minute = MODEL_NONE;
		return 0;
	}
	if (text_len(s) != 5 || s[2] != ':' || !whole(s, 2, 0, 23, &h) || !whole(s + 3, 2, 0, 59, &m))
		return -2;
	model.next_minute = h * 60 + m;
	return 0;
}

/* "north" or "north:3", the signal from 0 to 4. */
static int sensor_item(const char *s, int length, int *name_length, int *signal) {
	*name_length = length;
	*signal = 4;
	if (length >= 2 && s[length - 2] == ':' && s[length - 1] >= '0' && s[length - 1] <= '4') {
		*name_length = length - 2;
		*signal = s[length - 1] - '0';
	}
	return *name_length > 0 && text_clean(s, *name_length, SENSOR_NAME);
}

static int feed_sensors(const char *s) {
	const char *p = s;
	int count = 0, length, signal, n;
	while (*p) {
		n = item(p);
		if (++count > SENSOR_MAX || !sensor_item(p, n, &length, &signal))
			return -2;
		p += n + (p[n] == '\n');
	}
	model_drop_sensors();
	for (p = s; *p; p += n + (p[n] == '\n')) {
		n = item(p);
		sensor_item(p, n, &length, &signal);
		if (!model_add_sensor(p, length, signal))
			fern_log("sensors: no memory");
	}
	return 0;
}

static int series(const char *s, int tenths, int low, int high, model_series *to) {
	model_series got;
	got.count = 0;
	while (*s) {
		int n = item(s), v;
		if (got.count == CHART_MAX || !(tenths ? decimal(s, n, low, high, &v) : whole(s, n, low, high, &v)))
			return -2;
		got.value[got.count++] = (int16_t)v;
		s += n + (s[n] == '\n');
	}
	if (got.count < 2)
		return -2;
	*to = got;
	return 0;
}

static int feed_chart_temperature(const char *s) { return series(s, 1, -400, 800, &model.chart_temperature); }
static int feed_chart_humidity(const char *s) { return series(s, 0, 0, 100, &model.chart_humidity); }

static int feed_code(const char *s) {
	int n = text_len(s), v;
	if (n < 4 || n > CODE_MAX)
		return -2;
	for (v = 0; v < n; v++)
		if (s[v] < '0' || s[v] > '9')
			return -2;
	model.code[0] = 0;
	text_add(model.code, (int)sizeof model.code, s);
	return 0;
}

static int feed_language(const char *s) {
	int i;
	for (i = 0; i < LANG_COUNT; i++)
		if (text_same(s, model_language_code(i))) {
			model.language = i;
			draw_dirty_all();
			return 0;
		}
	return -2;
}

/* These two open a screen, after their value has been logged. */
static const char *const alarms[ALARM_COUNT] = {"off", "heat", "frost", "dry", "tank", "valve"};
static const char *const seasons[] = {"spring", "summer", "autumn", "winter", "off", "auto"};

static int feed_alarm(const char *s) { return word(s, alarms, ALARM_COUNT) < 0 && !text_same(s, "on") ? -2 : 0; }
static void raise(const char *s) { alarm_raise(text_same(s, "on") ? ALARM_STUCK : word(s, alarms, ALARM_COUNT)); }

static int feed_season(const char *s) {
	int i = word(s, seasons, 6);
	if (i < 0)
		return -2;
	model.season = i;
	model.season_done = 0;
	return 0;
}

static void remind(const char *s) {
	(void)s;
	if (ui_screen_now() == &screen_home && model_season_due() >= 0)
		season_offer();
}

static const struct {
	const char *name;
	int (*set)(const char *value);
	int told;
	void (*then)(const char *value);
} feeds[] = {
	{"temperature", feed_temperature, TOLD_TEMPERATURE, 0},
	{"humidity", feed_humidity, TOLD_HUMIDITY, 0},
	{"sensors", feed_sensors, TOLD_SENSORS, 0},
	{"battery", feed_battery, TOLD_STATUS, 0},
	{"radio", feed_radio, TOLD_STATUS, 0},
	{"next-misting", feed_next, TOLD_NEXT, 0},
	{"alarm", feed_alarm, 0, raise},
	{"chart-temperature", feed_chart_temperature, TOLD_CHART, 0},
	{"chart-humidity", feed_chart_humidity, TOLD_CHART, 0},
	{"season", feed_season, TOLD_SEASON, remind},
	{"pairing-code", feed_code, 0, 0},
	{"language", feed_language, 0, 0},
};

#define FEEDS ((int)(sizeof feeds / sizeof feeds[0]))

const char *fern_feed_name(int i) { return i >= 0 && i < FEEDS ? feeds[i].name : 0; }

static void log_feed(const char *name, const char *value) {
	char line[64];
	int i;
	line[0] = 0;
	text_add(line, (int)sizeof line, name);
	text_add(line, (int)sizeof line, " ");
	text_add(line, (int)sizeof line, value);
	for (i = 0; line[i]; i++)
		if (line[i] == '\n')
			line[i] = ',';
	log_words("feed", line);
}

int fern_feed(const char *name, const char *value) {
	int i;
	if (!name)
		return -1;
	for (i = 0; i < FEEDS; i++) {
		if (!text_same(name, feeds[i].name))
			continue;
		if (!value || feeds[i].set(value) != 0)
			return -2;
		log_feed(name, value);
		if (feeds[i].told)
			ui_told(feeds[i].told);
		if (feeds[i].then)
			feeds[i].then(value);
		return 0;
	}
	return -1;
}
