/* The screens, and what they ask of each other. */
#ifndef FERN_SCREENS_H
#define FERN_SCREENS_H

#include "ui.h"

extern const ui_screen screen_splash, screen_home, screen_settings, screen_language;

/* Home's picture and its reactions, for what lies over it. */
void home_paint(void);
void home_told(int what);
void status_paint(void);

#endif
