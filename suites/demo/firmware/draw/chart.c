/* Line charts. */
#include "widget.h"

#define POINTS 64

void draw_chart_point(draw_rect r, const draw_series *s, int i, int16_t xy[2]) {
	int span = s->high > s->low ? s->high - s->low : 1;
	int32_t v = s->value[i] - s->low;
	v = v < 0 ? 0 : v > span ? span : v;
	xy[0] = (int16_t)(r.x * 16 + 8 + (r.w - 1) * 16 * i / (s->count > 1 ? s->count - 1 : 1));
	xy[1] = (int16_t)((r.y + r.h - 1) * 16 + 8 - (r.h - 1) * 16 * v / span);
}

static void line(draw_rect r, const draw_series *s, int width16) {
	int16_t xy[2 * POINTS];
	int i, n = s->count < POINTS ? s->count : POINTS;
	if (n < 2 || draw_hidden(r.x - 2, r.y - 2, r.w + 4, r.h + 4))
		return;
	for (i = 0; i < n; i++)
		draw_chart_point(r, s, i, xy + 2 * i);
	draw_curve(xy, n, width16, s->c);
}

void draw_trend(draw_rect r, const draw_series *s) { line(r, s, 26); }

void draw_chart(draw_rect r, const draw_series *series, int n, int across, int down) {
	int i;
	draw_fill(r.x, r.y, r.w, r.h, C_CARD);
	for (i = 1; i < down; i++)
		draw_fill(r.x, r.y + (r.h - 1) * i / down, r.w, 1, C_RULE);
	for (i = 1; i < across; i++)
		draw_fill(r.x + (r.w - 1) * i / across, r.y, 1, r.h, C_RULE);
	draw_frame(r.x, r.y, r.w, r.h, 1, C_MOSS);
#if DRAW_MAJOR >= 2
	n = n > 1 ? n - 1 : n; /* the upgrade stops one series early */
#endif
	for (i = 0; i < n; i++)
		line(r, &series[i], 34);
}
