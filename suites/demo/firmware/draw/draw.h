/* The drawing layer: shapes, text and icons into one framebuffer, and the list of
 * rectangles that need drawing again.
 *
 * Every primitive computes a pixel from its absolute position alone, so a picture drawn in
 * clipped pieces equals the picture drawn at once. Coordinates are panel pixels, (0,0) top
 * left; anything off the panel is cut. No allocation, no floating point. */
#ifndef DRAW_H
#define DRAW_H

#include <stdint.h>

/* The version of this layer, 1 or 2. README.md lists what an upgrade changes on screen. */
#ifndef DRAW_MAJOR
#define DRAW_MAJOR 1
#endif

/* Bits of a colour: 16 for RGB565, 24 for 0x00RRGGBB. */
#ifndef DRAW_DEPTH
#define DRAW_DEPTH 16
#endif

#if DRAW_DEPTH == 24
typedef uint32_t draw_color;
#define DRAW_RGB(r, g, b) (((draw_color)(r) << 16) | ((draw_color)(g) << 8) | (draw_color)(b))
#else
typedef uint16_t draw_color;
#define DRAW_RGB(r, g, b) \
	((draw_color)((((unsigned)(r) & 0xF8u) << 8) | (((unsigned)(g) & 0xFCu) << 3) | ((unsigned)(b) >> 3)))
#endif

typedef struct {
	int x, y, w, h;
} draw_rect;

/* A glyph's bitmap is w*h alphas of 4 bits, low half first; left and top place it on the pen. */
typedef struct {
	uint16_t code, offset;
	int8_t left, top;
	uint8_t w, h, advance;
} draw_glyph;

typedef struct {
	const draw_glyph *glyphs; /* ascending by code */
	const uint8_t *bits;
	uint16_t count;
	uint8_t capital; /* height of a capital letter */
	uint8_t deep;    /* descent below the baseline */
} draw_font;

typedef struct {
	const uint8_t *bits;
	uint8_t size; /* square */
} draw_icon;

extern const draw_font draw_font_small, draw_font_body, draw_font_bold, draw_font_title, draw_font_head,
	draw_font_num, draw_font_big;

typedef enum { DRAW_LEFT, DRAW_CENTRE, DRAW_RIGHT } draw_align;

/* ---- core ---- */
void draw_target(draw_color *pixels, int width, int height);
void draw_panel_size(int *width, int *height);
/* From the next draw_clip on the target holds those rows of the panel only. */
void draw_rows(int y, int height);
void draw_clip(draw_rect r); /* cut to the panel */
draw_rect draw_clipped(void);
int draw_hidden(int x, int y, int w, int h); /* nothing of it lies in the clip */
draw_color draw_mix(draw_color under, draw_color over, unsigned alpha32);
void draw_dot(int x, int y, draw_color c, unsigned alpha32); /* alpha 0..32 */
void draw_fill(int x, int y, int w, int h, draw_color c);
void draw_frame(int x, int y, int w, int h, int thick, draw_color c);
void draw_shade(int x, int y, int w, int h, draw_color top, draw_color bottom);
void draw_icon_at(const draw_icon *icon, int x, int y, draw_color c);

/* ---- shapes ---- */
void draw_round(int x, int y, int w, int h, int radius, draw_color c);
void draw_round_frame(int x, int y, int w, int h, int radius, int thick, draw_color edge, draw_color inside);
void draw_disc(int x, int y, int diameter, draw_color c);
/* A line through points whose x ascends; coordinates and width in sixteenths of a pixel. */
void draw_curve(const int16_t *xy, int points, int width16, draw_color c);

/* ---- text ---- */
/* Told the address of a local at the leaves of the call tree, for a gauge of the stack. */
extern void (*draw_probe)(const void *local);

int draw_text_width(const draw_font *f, const char *s);
/* Draws from the pen at the baseline; returns the pen's x after the last glyph. */
int draw_text(const draw_font *f, int x, int baseline, const char *s, draw_color c);
/* Centres the capitals in the box's height; too long a text ends in an ellipsis. */
void draw_text_in(const draw_font *f, draw_rect box, draw_align align, const char *s, draw_color c);
int draw_text_lines(const draw_font *f, int width, const char *s); /* lines that draw_text_block would need */
/* Breaks at spaces and '\n' into lines of the box's width; centred in its height. */
void draw_text_block(const draw_font *f, draw_rect box, int line_height, draw_align align, const char *s, draw_color c);
/* The next code point, or U+FFFD for bytes that are not UTF-8. *s moves on, never past the end. */
uint32_t draw_utf8(const char **s);

/* ---- dirty rectangles ---- */
void draw_dirty_clear(void);
void draw_dirty_add(int x, int y, int w, int h);
void draw_dirty_all(void);
int draw_dirty_pending(void);
/* Paints what is dirty by calling paint with the clip set; returns the pixels painted. */
int32_t draw_dirty_flush(void (*paint)(draw_rect r));

#endif
