/* The device's world: what its sensors report and what its user has set. Screens read it,
 * feeds and screens change it through the functions here, which log and mark what to redraw. */
#ifndef FERN_MODEL_H
#define FERN_MODEL_H

#include <stdint.h>

#define MODEL_NONE (-32768) /* a reading that is missing */
#define SENSOR_MAX 12
#define SENSOR_NAME 24 /* bytes */
#define CHART_MAX 49   /* points, half-hourly with both ends */
#define CODE_MAX 6

enum { ALARM_OFF, ALARM_HEAT, ALARM_FROST, ALARM_DRY, ALARM_TANK, ALARM_STUCK, ALARM_COUNT };
enum { SEASON_SPRING, SEASON_SUMMER, SEASON_AUTUMN, SEASON_WINTER, SEASON_OFF, SEASON_AUTO };

/* What a change touches, told to the screen that is open. */
enum {
	TOLD_TEMPERATURE = 1,
	TOLD_HUMIDITY = 2,
	TOLD_SENSORS = 4,
	TOLD_STATUS = 8,
	TOLD_NEXT = 16,
	TOLD_CHART = 32,
	TOLD_CLOCK = 64,
	TOLD_SEASON = 128
};

typedef struct {
	int16_t value[CHART_MAX];
	int count;
} model_series;

typedef struct {
	char *name; /* in the heap, at most SENSOR_NAME bytes */
	int signal; /* 0..4 */
} model_sensor;

struct model {
	uint32_t seed;
	int language;
	int temperature; /* tenths of a degree Celsius */
	int humidity;    /* percent */
	int battery;     /* percent */
	int radio;       /* 0..4 */
	int next_minute; /* of the day, or MODEL_NONE */
	int alarm;    /* which, or ALARM_OFF */
	int alarm_acked;
	int season;
	int season_done; /* the reminder was answered */
	int fan, valve, lamp;
	uint32_t schedule_off; /* a bit for each entry that is switched off */
	model_sensor sensor[SENSOR_MAX];
	int sensors;
	char code[CODE_MAX + 1];
	model_series chart_temperature /* tenths */, chart_humidity /* percent */;
};

extern struct model model;

void model_boot(uint32_t seed);
/* The first length bytes of name; 0 if there is no room. */
int model_add_sensor(const char *name, int length, int signal);
void model_drop_sensors(void);
int model_rename_sensor(int i, const char *name);
void model_set_lamp(int percent); /* cut to 0..100 */
void model_set_valve(int on);
void model_set_fan(int on);
/* A reproducible number below limit, different for each salt. */
uint32_t model_random(uint32_t salt, uint32_t limit);
/* The season that a reminder is due for, or -1. */
int model_season_due(void);
int model_season_now(void);
const char *model_language_code(int language);

#endif
