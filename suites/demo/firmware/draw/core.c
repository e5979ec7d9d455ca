/* Clip, blending, rectangles and bitmaps. */
#include "draw.h"

static draw_color *fb;
static int fb_w, fb_h;
static int top, bottom; /* the rows that fb holds */
static int cx0, cy0, cx1, cy1; /* the clip: left, top inside, right, bottom outside */

static int lower(int a, int b) { return a < b ? a : b; }
static int higher(int a, int b) { return a > b ? a : b; }

void draw_target(draw_color *pixels, int width, int height) {
	fb = pixels;
	fb_w = width;
	fb_h = height;
	top = 0;
	bottom = height;
	cx0 = cy0 = 0;
	cx1 = width;
	cy1 = height;
}

void draw_rows(int y, int height) {
	top = y;
	bottom = y + height;
}

static draw_color *pixel(int x, int y) { return fb + (y - top) * fb_w + x; }

void draw_clip(draw_rect r) {
	cx0 = lower(higher(r.x, 0), fb_w);
	cy0 = lower(higher(r.y, top), bottom);
	cx1 = higher(lower(r.x + r.w, fb_w), cx0);
	cy1 = higher(lower(r.y + r.h, bottom), cy0);
}

draw_rect draw_clipped(void) {
	draw_rect r;
	r.x = cx0;
	r.y = cy0;
	r.w = cx1 - cx0;
	r.h = cy1 - cy0;
	return r;
}

int draw_hidden(int x, int y, int w, int h) { return x >= cx1 || y >= cy1 || x + w <= cx0 || y + h <= cy0; }

#if DRAW_DEPTH == 24
/* Red and blue in one multiplication, green in another. */
draw_color draw_mix(draw_color under, draw_color over, unsigned alpha32) {
	uint32_t rb = (((under & 0xFF00FFu) * (32 - alpha32) + (over & 0xFF00FFu) * alpha32) >> 5) & 0xFF00FFu;
	uint32_t g = (((under & 0xFF00u) * (32 - alpha32) + (over & 0xFF00u) * alpha32) >> 5) & 0xFF00u;
	return rb | g;
}

static const uint8_t ch_shift[3] = {16, 8, 0}, ch_mask[3] = {255, 255, 255};
#else
/* Spreads the three channels over 32 bits, so that one multiplication blends them all. */
draw_color draw_mix(draw_color under, draw_color over, unsigned alpha32) {
	const uint32_t mask = 0x07E0F81Fu;
	uint32_t a = (under | ((uint32_t)under << 16)) & mask;
	uint32_t b = (over | ((uint32_t)over << 16)) & mask;
	uint32_t m = (a + (((b - a) * alpha32) >> 5)) & mask;
	return (draw_color)(m | (m >> 16));
}

static const uint8_t ch_shift[3] = {11, 5, 0}, ch_mask[3] = {31, 63, 31};
#endif

void draw_dot(int x, int y, draw_color c, unsigned alpha32) {
	draw_color *p;
	if (alpha32 == 0 || x < cx0 || x >= cx1 || y < cy0 || y >= cy1)
		return;
	p = pixel(x, y);
	*p = alpha32 >= 32 ? c : draw_mix(*p, c, alpha32);
}

void draw_fill(int x, int y, int w, int h, draw_color c) {
	int x0 = higher(x, cx0), x1 = lower(x + w, cx1);
	int y1 = lower(y + h, cy1);
	for (y = higher(y, cy0); y < y1; y++) {
		draw_color *p = pixel(0, y);
		int i;
		for (i = x0; i < x1; i++)
			p[i] = c;
	}
}

void draw_frame(int x, int y, int w, int h, int thick, draw_color c) {
	draw_fill(x, y, w, thick, c);
	draw_fill(x, y + h - thick, w, thick, c);
	draw_fill(x, y + thick, thick, h - 2 * thick, c);
	draw_fill(x + w - thick, y + thick, thick, h - 2 * thick, c);
}

/* A vertical gradient. Colours of 16 bits show bands over such a distance, so the step between two
 * of them is dithered with a 4x4 ordered pattern (Bayer, 1973). */
void draw_shade(int x, int y, int w, int h, draw_color top, draw_color bottom) {
	static const uint8_t bayer[16] = {0, 8, 2, 10, 12, 4, 14, 6, 3, 11, 1, 9, 15, 7, 13, 5};
	int row, col;
	int x0 = higher(x, cx0), x1 = lower(x + w, cx1);
	if (h <= 0)
		return;
	for (row = higher(y, cy0); row < lower(y + h, cy1); row++) {
		int t = (row - y) * 256 / h; /* 0..255 of the way down */
		int ch, v[3];
		for (ch = 0; ch < 3; ch++) {
			int a = (int)(top >> ch_shift[ch]) & ch_mask[ch], b = (int)(bottom >> ch_shift[ch]) & ch_mask[ch];
			v[ch] = a * 256 + (b - a) * t; /* 8 bits of fraction */
		}
		for (col = x0; col < x1; col++) {
			int d = bayer[(row & 3) * 4 + (col & 3)] * 16;
			draw_color c = 0;
			for (ch = 0; ch < 3; ch++)
				c = (draw_color)(c | (unsigned)lower((v[ch] + d) >> 8, ch_mask[ch]) << ch_shift[ch]);
			*pixel(col, row) = c;
		}
	}
}

void draw_icon_at(const draw_icon *icon, int x, int y, draw_color c) {
	int n = icon->size, i, j;
	if (draw_hidden(x, y, n, n))
		return;
	for (j = 0; j < n; j++)
		for (i = 0; i < n; i++) {
			int at = j * n + i;
			unsigned a = (unsigned)(icon->bits[at / 2] >> (4 * (at & 1))) & 15u;
			draw_dot(x + i, y + j, c, (a * 32 + 7) / 15);
		}
}

void draw_panel_size(int *width, int *height) {
	*width = fb_w;
	*height = fb_h;
}
