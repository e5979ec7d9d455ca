/* The screens, and what they ask of each other. */
#ifndef FERN_SCREENS_H
#define FERN_SCREENS_H

#include "ui.h"

extern const ui_screen screen_splash, screen_season, screen_home, screen_panel, screen_sensors, screen_pair,
	screen_search, screen_name, screen_schedule, screen_chart, screen_alarm, screen_settings, screen_language,
	screen_about;

/* Home lies under the manual panel: its picture, its reaction to the world. */
void home_paint(void);
void home_told(int what);
void status_paint(void);
/* A finger on the status bar pulls the panel down: from home, at y. */
void panel_pull(int y);
void panel_open(void);

#ifdef FERN_SMALL
void small_paint(void); /* whatever screen is open, on a few lines */
#endif

void alarm_raise(int kind); /* ALARM_OFF ends it */
void season_offer(void);    /* opens the reminder if one is due, else home */

#endif
