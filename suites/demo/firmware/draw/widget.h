/* The widgets: what screens are made of. Each draws itself whole inside its rectangle; state
 * (pressed, focus, value) is the caller's. */
#ifndef DRAW_WIDGET_H
#define DRAW_WIDGET_H

#include "draw.h"
#include "icons.h"
#include "theme.h"

enum { DRAW_PRESSED = 1, DRAW_FOCUS = 2, DRAW_PRIMARY = 4, DRAW_DISABLED = 8 };

/* A coloured bar with a title and a back arrow; the arrow's target is the leftmost 48 pixels. */
void draw_header(const char *title, int state);
void draw_button(draw_rect r, const char *label, int state);
/* A raised area with smooth corners. */
void draw_card(draw_rect r, draw_color c);
/* The frame that shows the focus on a card or button, and on a plain row. */
void draw_focus_round(draw_rect r, int radius);
void draw_focus_row(draw_rect r);

/* A full-width row: icon (may be 0), label, a value at the right (may be 0), an arrow. */
typedef struct {
	const draw_icon *icon;
	const char *label, *value;
	int arrow;
} draw_row;
void draw_list_row(draw_rect r, const draw_row *row, int state);

#endif
