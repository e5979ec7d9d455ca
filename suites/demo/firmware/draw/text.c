/* Proportional text from 4-bit alpha glyphs. */
#include "draw.h"

uint32_t draw_utf8(const char **s) {
	const unsigned char *p = (const unsigned char *)*s;
	uint32_t c = *p++;
	int more = c >= 0xF0 && c < 0xF5 ? 3 : c >= 0xE0 && c < 0xF0 ? 2 : c >= 0xC2 && c < 0xE0 ? 1 : 0;
	uint32_t least = more == 3 ? 0x10000u : more == 2 ? 0x800u : 0;
	if (c >= 0x80 && more == 0) {
		*s = (const char *)p;
		return 0xFFFD;
	}
	if (more)
		c &= 0x3Fu >> more;
	for (; more; more--) {
		if ((*p & 0xC0u) != 0x80u) { /* also the end of the string: stay on it */
			*s = (const char *)p;
			return 0xFFFD;
		}
		c = (c << 6) | (*p++ & 0x3Fu);
	}
	*s = (const char *)p;
	return c < least || c > 0x10FFFF || (c >= 0xD800 && c < 0xE000) ? 0xFFFD : c;
}

static const draw_glyph *find(const draw_font *f, uint32_t code) {
	int lo = 0, hi = f->count - 1;
	while (lo <= hi) {
		int mid = (lo + hi) / 2;
		if (f->glyphs[mid].code == code)
			return f->glyphs + mid;
		if (f->glyphs[mid].code < code)
			lo = mid + 1;
		else
			hi = mid - 1;
	}
	/* U+FFFD where the face has it (it is the last); faces of figures show nothing. */
	return f->glyphs[f->count - 1].code == 0xFFFD ? f->glyphs + f->count - 1 : 0;
}

static int advance(const draw_font *f, uint32_t code) {
	const draw_glyph *g = find(f, code);
	return g ? g->advance : 0;
}

/* Widths stop growing here, so that no length of text overflows. */
#define WIDEST 4096

static int width_to(const draw_font *f, const char *s, const char *end) {
	int w = 0;
	while (s < end && *s && w < WIDEST)
		w += advance(f, draw_utf8(&s));
	return w;
}

int draw_text_width(const draw_font *f, const char *s) {
	int w = 0;
	while (*s && w < WIDEST)
		w += advance(f, draw_utf8(&s));
	return w;
}

void (*draw_probe)(const void *local);

static int put(const draw_font *f, int x, int baseline, uint32_t code, draw_color c) {
	const draw_glyph *g = find(f, code);
	int i, j, at = 0;
	if (draw_probe)
		draw_probe(&g);
	if (!g)
		return x;
	if (!draw_hidden(x + g->left, baseline - g->top, g->w, g->h))
		for (j = 0; j < g->h; j++)
			for (i = 0; i < g->w; i++, at++) {
				unsigned a = (unsigned)(f->bits[g->offset + at / 2] >> (4 * (at & 1))) & 15u;
				draw_dot(x + g->left + i, baseline - g->top + j, c, (a * 32 + 7) / 15);
			}
	return x + g->advance;
}

static int put_to(const draw_font *f, int x, int baseline, const char *s, const char *end, draw_color c) {
	int stop = x + WIDEST;
	while (s < end && *s && x < stop)
		x = put(f, x, baseline, draw_utf8(&s), c);
	return x;
}

int draw_text(const draw_font *f, int x, int baseline, const char *s, draw_color c) {
	int stop = x + WIDEST;
	while (*s && x < stop)
		x = put(f, x, baseline, draw_utf8(&s), c);
	return x;
}

void draw_text_in(const draw_font *f, draw_rect box, draw_align align, const char *s, draw_color c) {
	int base = box.y + (box.h + f->capital) / 2;
	int w = draw_text_width(f, s), dots;
	const char *end = s;
	if (w <= box.w) {
		draw_text(f, align == DRAW_LEFT ? box.x : align == DRAW_RIGHT ? box.x + box.w - w : box.x + (box.w - w) / 2,
			base, s, c);
		return;
	}
	dots = advance(f, 0x2026);
	for (w = 0; *end;) {
		const char *next = end;
		int step = advance(f, draw_utf8(&next));
		if (w + step + dots > box.w)
			break;
		w += step;
		end = next;
	}
	put(f, put_to(f, box.x, base, s, end, c), base, 0x2026, c);
}

/* The end of the line that begins at s. */
static const char *line_end(const draw_font *f, int width, const char *s) {
	const char *fits = s, *p = s; /* fits: the last place to break */
	int w = 0;
	while (*p && *p != '\n') {
		const char *q = p;
		w += advance(f, draw_utf8(&q));
		if (w > width && p > s)
			return fits > s ? fits : p;
		p = q;
		if (*p == ' ')
			fits = p;
	}
	return p;
}

static const char *next_line(const char *end) { return *end == ' ' || *end == '\n' ? end + 1 : end; }

int draw_text_lines(const draw_font *f, int width, const char *s) {
	int n = 0;
	for (; *s; n++)
		s = next_line(line_end(f, width, s));
	return n;
}

void draw_text_block(const draw_font *f, draw_rect box, int line_height, draw_align align, const char *s, draw_color c) {
	int y = box.y + (box.h - line_height * draw_text_lines(f, box.w, s)) / 2;
	for (; *s; y += line_height) {
		const char *end = line_end(f, box.w, s);
		int w = width_to(f, s, end);
		put_to(f, align == DRAW_LEFT ? box.x : align == DRAW_RIGHT ? box.x + box.w - w : box.x + (box.w - w) / 2,
			y + (line_height + f->capital) / 2, s, end, c);
		s = next_line(end);
	}
}
