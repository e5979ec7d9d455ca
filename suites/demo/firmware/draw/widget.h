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
	int room; /* pixels kept free at the right for what the caller draws */
} draw_row;
void draw_list_row(draw_rect r, const draw_row *row, int state);
/* How far a list is scrolled, at its right edge; nothing if all of it shows. */
void draw_scroll_bar(draw_rect view, int offset, int total);

/* A switch 44x24; travel 0..20: how far its knob has moved. */
#define DRAW_TOGGLE_TRAVEL 20
void draw_toggle(int x, int y, int travel);
/* A slider 24 high; per cent 0..100. The knob's centre moves from 12 to w-12. */
void draw_slider(draw_rect r, int percent, int state);
/* One digit of a code: 0 for none. here: the next digit goes here; cursor: and its line shows. */
void draw_code_box(draw_rect r, char digit, int here, int cursor);
/* A line of text being entered; the end is kept in view. */
void draw_field(draw_rect r, const char *text, int cursor, int state);
/* Twelve dots in 56x56, the brightest at phase 0..11. */
#define DRAW_SPINNER 56
void draw_spinner(int x, int y, int phase, draw_color under);
/* Four bars 20x16, so many of them full. */
void draw_bars(int x, int y, int full, draw_color on, draw_color off);
void draw_battery(int x, int y, int percent, draw_color c);

typedef struct {
	const int16_t *value;
	int count; /* below 2: nothing is drawn */
	int low, high;
	draw_color c;
} draw_series;
/* A line chart: grid of across x down fields, the series over it, each on its own scale. */
void draw_chart(draw_rect r, const draw_series *series, int n, int across, int down);
/* Where a value stands in the chart, in sixteenths of a pixel. */
void draw_chart_point(draw_rect r, const draw_series *s, int i, int16_t xy[2]);
void draw_trend(draw_rect r, const draw_series *s);

#endif
