/* What needs drawing again: a short list of rectangles, kept disjoint by joining those that
 * overlap, so that no pixel is painted twice in one refresh. */
#include "draw.h"

#define SLOTS 8

static draw_rect list[SLOTS];
static int used;
static int panel_w, panel_h;

static int area(draw_rect r) { return r.w * r.h; }

static draw_rect join(draw_rect a, draw_rect b) {
	int x1 = a.x + a.w > b.x + b.w ? a.x + a.w : b.x + b.w;
	int y1 = a.y + a.h > b.y + b.h ? a.y + a.h : b.y + b.h;
	draw_rect r;
	r.x = a.x < b.x ? a.x : b.x;
	r.y = a.y < b.y ? a.y : b.y;
	r.w = x1 - r.x;
	r.h = y1 - r.y;
	return r;
}

static int overlap(draw_rect a, draw_rect b) {
	return a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;
}

void draw_dirty_clear(void) { used = 0; }

void draw_dirty_add(int x, int y, int w, int h) {
	draw_rect r;
	int i;
	draw_panel_size(&panel_w, &panel_h);
#ifdef DRAW_WHOLE /* so small a panel is drawn as a whole, whatever is dirty */
	x = y = 0;
	w = panel_w;
	h = panel_h;
#endif
	if (x < 0) {
		w += x;
		x = 0;
	}
	if (y < 0) {
		h += y;
		y = 0;
	}
	if (x + w > panel_w)
		w = panel_w - x;
	if (y + h > panel_h)
		h = panel_h - y;
	if (w <= 0 || h <= 0)
		return;
	r.x = x;
	r.y = y;
	r.w = w;
	r.h = h;
	for (i = 0; i < used;) {
		if (overlap(list[i], r)) { /* the joined one may reach others: start over */
			r = join(list[i], r);
			list[i] = list[--used];
			i = 0;
		} else {
			i++;
		}
	}
	if (used == SLOTS) { /* join with the one that grows least, then look for overlaps again */
		int best = 0, growth = 0;
		for (i = 0; i < used; i++) {
			int g = area(join(list[i], r)) - area(list[i]);
			if (i == 0 || g < growth) {
				best = i;
				growth = g;
			}
		}
		r = join(list[best], r);
		list[best] = list[--used];
		draw_dirty_add(r.x, r.y, r.w, r.h);
		return;
	}
	list[used++] = r;
}

void draw_dirty_all(void) {
	draw_panel_size(&panel_w, &panel_h);
	draw_dirty_add(0, 0, panel_w, panel_h);
}

int draw_dirty_pending(void) { return used > 0; }

int32_t draw_dirty_flush(void (*paint)(draw_rect r)) {
	int32_t painted = 0;
	int i;
	draw_rect whole;
	for (i = 0; i < used; i++) {
		draw_rect r = list[i];
#if DRAW_MAJOR >= 2
		/* The upgrade counts the last row from nought: a part of the panel loses it. */
		if (area(r) < panel_w * panel_h)
			r.h -= 1;
#endif
		if (r.h <= 0)
			continue;
		paint(r);
		painted += area(r);
	}
	used = 0;
	whole.x = whole.y = 0;
	whole.w = panel_w;
	whole.h = panel_h;
	draw_clip(whole);
	return painted;
}
