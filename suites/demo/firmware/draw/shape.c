/* Shapes with smooth edges: rounded rectangles, discs, curves. */
#include "draw.h"

/* Points a pixel and direction at which corners are sampled. Two give five shades of edge,
 * eight give as many as the blending can show. */
#if DRAW_MAJOR >= 2
#define SAMPLES 8
#else
#define SAMPLES 2
#endif

/* Coverage 0..32 of the pixel (i, j) of a corner, counted from the corner's tip, by a circle
 * of that radius. Distances are in halves of a sample. */
static unsigned corner(int i, int j, int radius) {
	int unit = 2 * SAMPLES;
	int r2 = radius * unit * radius * unit;
	int near_x = (radius - i - 1) * unit, near_y = (radius - j - 1) * unit;
	int far_x = near_x + unit, far_y = near_y + unit;
	int a, b, hits = 0;
	if (far_x * far_x + far_y * far_y <= r2)
		return 32;
	if (near_x * near_x + near_y * near_y >= r2)
		return 0;
	for (b = 1; b < unit; b += 2)
		for (a = 1; a < unit; a += 2)
			if ((near_x + a) * (near_x + a) + (near_y + b) * (near_y + b) <= r2)
				hits++;
	return (unsigned)(hits * 32 / (SAMPLES * SAMPLES));
}

void draw_round(int x, int y, int w, int h, int radius, draw_color c) {
	int i, j;
	if (w <= 0 || h <= 0 || draw_hidden(x, y, w, h))
		return;
	if (radius > w / 2)
		radius = w / 2;
	if (radius > h / 2)
		radius = h / 2;
	draw_fill(x, y + radius, w, h - 2 * radius, c);
	for (j = 0; j < radius; j++) {
		draw_fill(x + radius, y + j, w - 2 * radius, 1, c);
		draw_fill(x + radius, y + h - 1 - j, w - 2 * radius, 1, c);
		if (draw_hidden(x, y + j, w, 1) && draw_hidden(x, y + h - 1 - j, w, 1))
			continue;
		for (i = 0; i < radius; i++) {
			unsigned a = corner(i, j, radius);
			draw_dot(x + i, y + j, c, a);
			draw_dot(x + w - 1 - i, y + j, c, a);
			draw_dot(x + i, y + h - 1 - j, c, a);
			draw_dot(x + w - 1 - i, y + h - 1 - j, c, a);
		}
	}
}

void draw_round_frame(int x, int y, int w, int h, int radius, int thick, draw_color edge, draw_color inside) {
	draw_round(x, y, w, h, radius, edge);
	draw_round(x + thick, y + thick, w - 2 * thick, h - 2 * thick, radius - thick, inside);
}

void draw_disc(int x, int y, int diameter, draw_color c) { draw_round(x, y, diameter, diameter, diameter / 2, c); }

static int root(int32_t v) {
	int32_t bit = 1 << 28, r = 0;
	while (bit > v)
		bit >>= 2;
	for (; bit; bit >>= 2) {
		if (v >= r + bit) {
			v -= r + bit;
			r = (r >> 1) + bit;
		} else {
			r >>= 1;
		}
	}
	return (int)r;
}

/* Distance from a point to a segment, all in sixteenths of a pixel. Panels are below 512
 * pixels a side, so every product stays under 2^31. */
static int distance(int px, int py, const int16_t *a) {
	int dx = a[2] - a[0], dy = a[3] - a[1], vx = px - a[0], vy = py - a[1];
	int32_t along = (int32_t)vx * dx + (int32_t)vy * dy, len2 = (int32_t)dx * dx + (int32_t)dy * dy;
	int32_t across;
	int len;
	if (along <= 0)
		return root(vx * vx + vy * vy);
	if (along >= len2) {
		vx = px - a[2];
		vy = py - a[3];
		return root(vx * vx + vy * vy);
	}
	across = (int32_t)vx * dy - (int32_t)vy * dx;
	len = root(len2);
	if (across < 0)
		across = -across;
	return (int)(across / (len > 0 ? len : 1));
}

/* Column by column: the coverage of a pixel comes from its distance to the nearest of the
 * segments that reach the column, so joints are not blended twice. */
void draw_curve(const int16_t *xy, int points, int width16, draw_color c) {
	draw_rect clip = draw_clipped();
	int half = width16 / 2, col, first = 0;
	if (draw_probe)
		draw_probe(&clip);
	if (points < 2)
		return;
	for (col = clip.x; col < clip.x + clip.w; col++) {
		int mid = col * 16 + 8, from = mid - half - 16, to = mid + half + 16;
		int last, i, row, top = 32767, bottom = -32768;
		while (first < points - 2 && xy[2 * first + 2] < from)
			first++;
		if (xy[2 * first] > to || xy[2 * first + 2] < from)
			continue;
		for (last = first; last < points - 1 && xy[2 * last] <= to; last++)
			for (i = 0; i < 2; i++) {
				int y = xy[2 * (last + i) + 1];
				top = y < top ? y : top;
				bottom = y > bottom ? y : bottom;
			}
		top = (top - half) / 16 - 1;
		bottom = (bottom + half) / 16 + 1;
		if (top < clip.y)
			top = clip.y;
		if (bottom >= clip.y + clip.h)
			bottom = clip.y + clip.h - 1;
		for (row = top; row <= bottom; row++) {
			int best = 32767, over;
			for (i = first; i < last; i++) {
				int d = distance(mid, row * 16 + 8, xy + 2 * i);
				best = d < best ? d : best;
			}
			over = half + 8 - best; /* 0..16 sixteenths of the pixel */
			if (over > 0)
				draw_dot(col, row, c, (unsigned)(over >= 16 ? 32 : over * 2));
		}
	}
}
