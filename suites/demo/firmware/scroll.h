/* A column of rows in a window, moved by finger, knob and focus; it comes to rest on a row. */
#ifndef FERN_SCROLL_H
#define FERN_SCROLL_H

#include "ui.h"

typedef struct {
	int top, height, row_h, rows;
	ui_move pos;
	int shown; /* the offset that is painted */
	int grab;  /* the offset when the finger came down */
} ui_scroll;

void scroll_reset(ui_scroll *s, int top, int height, int row_h, int rows);
void scroll_rows(ui_scroll *s, int rows);
/* The whole row, less the scroll bar's room if there is one, and the part of it inside the window (no height: none). */
draw_rect scroll_row(const ui_scroll *s, int i);
draw_rect scroll_visible(const ui_scroll *s, int i);
void scroll_reveal(ui_scroll *s, int i);
void scroll_by(ui_scroll *s, int rows);
int scroll_drag(ui_scroll *s, int phase, int y, int dy);
int scroll_animate(ui_scroll *s);
void scroll_bar(const ui_scroll *s);

#endif
