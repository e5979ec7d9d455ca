/* Scrolling rows. */
#include "scroll.h"

#include "draw/widget.h"
#include "fern.h"

static int furthest(const ui_scroll *s) {
	int over = s->rows * s->row_h - s->height;
	return over > 0 ? over : 0;
}

static int within(const ui_scroll *s, int offset) {
	return offset < 0 ? 0 : offset > furthest(s) ? furthest(s) : offset;
}

void scroll_reset(ui_scroll *s, int top, int height, int row_h, int rows) {
	s->top = top;
	s->height = height;
	s->row_h = row_h;
	s->rows = rows;
	s->shown = s->grab = 0;
	s->pos.from = s->pos.to = 0;
	s->pos.start = s->pos.span = 0;
}

void scroll_rows(ui_scroll *s, int rows) {
	s->rows = rows;
	ui_move_to(&s->pos, within(s, s->pos.to), 0);
}

draw_rect scroll_row(const ui_scroll *s, int i) {
	return ui_rect(0, s->top + i * s->row_h - s->shown, FERN_W - (furthest(s) > 0 ? 4 : 0), s->row_h);
}

draw_rect scroll_visible(const ui_scroll *s, int i) {
	draw_rect r = scroll_row(s, i);
	int y1 = r.y + r.h, v1 = s->top + s->height;
	if (r.y < s->top)
		r.y = s->top;
	if (y1 > v1)
		y1 = v1;
	r.h = y1 > r.y ? y1 - r.y : 0;
	return r;
}

void scroll_reveal(ui_scroll *s, int i) {
	int y = i * s->row_h, to = s->pos.to;
	if (y < to)
		to = y;
	if (y + s->row_h > to + s->height)
		to = y + s->row_h - s->height;
	to = within(s, to);
	if (to != s->pos.to)
		ui_move_to(&s->pos, to, 160);
}

void scroll_by(ui_scroll *s, int rows) {
	int to = within(s, s->pos.to + rows * s->row_h);
	if (to != s->pos.to)
		ui_move_to(&s->pos, to, 160);
}

int scroll_drag(ui_scroll *s, int phase, int y, int dy) {
	if (phase == FERN_DOWN) {
		s->grab = s->shown;
		if (y >= s->top && ui_moving(&s->pos)) /* a finger stops a list that runs */
			ui_move_to(&s->pos, s->shown, 0);
		return 0;
	}
	if (y - dy < s->top) /* began on the header */
		return 0;
	ui_move_to(&s->pos, within(s, s->grab - dy), 0);
	if (phase == FERN_UP) {
		int rest = (s->pos.to + s->row_h / 2) / s->row_h * s->row_h;
		ui_move_to(&s->pos, within(s, rest), 160);
	}
	scroll_animate(s);
	return 0;
}

int scroll_animate(ui_scroll *s) {
	int at = ui_move_at(&s->pos);
	if (at != s->shown) {
		s->shown = at;
		draw_dirty_add(0, s->top, FERN_W, s->height);
	}
	return ui_moving(&s->pos);
}

void scroll_bar(const ui_scroll *s) {
	draw_scroll_bar(ui_rect(0, s->top, FERN_W, s->height), s->shown, s->rows * s->row_h);
}
