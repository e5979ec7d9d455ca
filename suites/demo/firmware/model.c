/* The world at power-on. */
#include "model.h"

#include "clock.h"
#include "fern.h"
#include "heap.h"
#include "lang.h"
#include "text.h"
#include "ui.h"

struct model model;

/* One round of a 32-bit mixer (the finaliser of MurmurHash3, public domain). */
uint32_t model_random(uint32_t salt, uint32_t limit) {
	uint32_t h = model.seed * 2654435761u + salt * 0x9E3779B9u + 1u;
	h ^= h >> 16;
	h *= 0x85EBCA6Bu;
	h ^= h >> 13;
	h *= 0xC2B2AE35u;
	h ^= h >> 16;
	return h % limit;
}

/* A day in a glasshouse, every half hour: warmest in the early afternoon, air driest then,
 * bumps in the humidity after each misting. The seed adds weather. */
static void weather(void) {
	static const uint8_t warmth[25] = {/* tenths of the day's swing, hourly */
		14, 11, 8, 5, 3, 2, 4, 12, 24, 38, 52, 66, 79, 90, 98, 100, 95, 84, 69, 54, 42, 33, 26, 20, 15};
	int i;
	for (i = 0; i < CHART_MAX; i++) {
		int a = warmth[i / 2], b = warmth[i / 2 + (i < CHART_MAX - 1)];
		int w = i % 2 ? (a + b) / 2 : a;
		static const uint8_t fading[6] = {7, 5, 3, 2, 1, 0};
		int mist = i >= 14 && i <= 44 ? fading[(i - 14) % 6] : 0; /* three hours from misting to misting */
		model.chart_temperature.value[i] = (int16_t)(168 + w * 92 / 100 + (int)model_random(100u + (uint32_t)i, 3) - 1);
		model.chart_humidity.value[i] = (int16_t)(86 - w * 32 / 100 + mist + (int)model_random(200u + (uint32_t)i, 2));
	}
	model.chart_temperature.count = model.chart_humidity.count = CHART_MAX;
}

int model_add_sensor(const char *name, int length, int signal) {
	model_sensor *s = &model.sensor[model.sensors];
	int i;
	if (model.sensors == SENSOR_MAX || length > SENSOR_NAME || !(s->name = heap_take(length + 1)))
		return 0;
	for (i = 0; i < length; i++)
		s->name[i] = name[i];
	s->name[length] = 0;
	s->signal = signal;
	model.sensors++;
	return 1;
}

void model_drop_sensors(void) {
	while (model.sensors > 0)
		heap_give(model.sensor[--model.sensors].name);
}

int model_rename_sensor(int i, const char *name) {
	char *p = heap_take(text_len(name) + 1);
	if (!p)
		return 0;
	p[0] = 0;
	text_add(p, text_len(name) + 1, name);
	heap_give(model.sensor[i].name);
	model.sensor[i].name = p;
	return 1;
}

void model_set_lamp(int percent) {
	percent = percent < 0 ? 0 : percent > 100 ? 100 : percent;
	if (percent == model.lamp)
		return;
	model.lamp = percent;
	log_number("lamp", percent);
}

void model_set_valve(int on) {
	if (on != model.valve)
		fern_log(on ? "mist start" : "mist stop");
	model.valve = on;
}

void model_set_fan(int on) {
	if (on != model.fan)
		fern_log(on ? "fan on" : "fan off");
	model.fan = on;
}

void model_boot(uint32_t seed) {
	static const struct model empty;
	model = empty;
	heap_boot();
	model.seed = seed;
	model.language = LANG_EN;
	model.temperature = 214;
	model.humidity = 68;
	model.battery = 87;
	model.radio = 3;
	model.next_minute = 10 * 60 + 15;
	model.season = SEASON_AUTO;
	model.lamp = 32;
	model_add_sensor("North bench", 11, 4);
	model_add_sensor("South bench", 11, 3);
	text_add(model.code, (int)sizeof model.code, "407193");
	weather();
}

int model_season_now(void) {
	if (model.season <= SEASON_WINTER)
		return model.season;
	return (clock_month() + 9) % 12 / 3; /* March begins spring */
}

/* Left to itself the device reminds in the first fortnight of a season. */
int model_season_due(void) {
	if (model.season_done || model.season == SEASON_OFF)
		return -1;
	if (model.season == SEASON_AUTO && (clock_month() % 3 != 0 || clock_day() > 14))
		return -1;
	return model_season_now();
}

const char *model_language_code(int language) {
	static const char *const codes[LANG_COUNT] = {"en", "de", "fr", "es"};
	return codes[language];
}
