/* The seam: boot, time, input and redraw. */
#include "fern.h"

#include "clock.h"
#include "draw/draw.h"
#include "gauge.h"
#include "model.h"
#include "screens.h"
#include "ui.h"

#ifdef FERN_STRIP
static uint16_t rows[FERN_W * FERN_STRIP_ROWS];
#else
fern_pixel fern_framebuffer[FERN_W * FERN_H];
#endif

static uint32_t last, frames;
static int started;

#ifdef FERN_STRIP
/* Draws an area strip by strip and flushes each. */
static void paint(draw_rect r) {
	int x, y, end = r.y + r.h;
	for (; r.y < end; r.y += r.h) {
		r.h = end - r.y < FERN_STRIP_ROWS ? end - r.y : FERN_STRIP_ROWS;
		draw_rows(r.y, r.h);
		draw_clip(r);
		ui_paint();
		for (y = 0; y < r.h; y++) /* pack what was drawn among whole rows */
			for (x = 0; x < r.w; x++)
				rows[y * r.w + x] = rows[y * FERN_W + r.x + x];
		fern_flush(r.x, r.y, r.w, r.h, rows);
	}
	draw_rows(0, FERN_H);
}
#else
static void paint(draw_rect r) {
	draw_clip(r);
	ui_paint();
}
#endif

static void refresh(void) {
	int32_t pixels;
	if (!draw_dirty_pending())
		return;
	pixels = draw_dirty_flush(paint);
	if (pixels > 0)
		frames++;
	gauge_frame(pixels);
}

void fern_boot(uint32_t seed) {
#ifdef FERN_STRIP
	draw_target(rows, FERN_W, FERN_H);
#else
	int i;
	for (i = 0; i < FERN_W * FERN_H; i++)
		fern_framebuffer[i] = 0;
	draw_target(fern_framebuffer, FERN_W, FERN_H);
#endif
	last = frames = 0;
	started = 0;
	gauge_boot();
	draw_probe = gauge_stack_leaf;
	clock_boot();
	model_boot(seed);
	ui_boot();
	fern_log("fernhouse 2.3.0");
	ui_go(&screen_splash);
	refresh();
}

void fern_step(uint32_t now_ms) {
	uint32_t ms = started ? now_ms - last : 0;
	last = now_ms;
	started = 1;
	if (ms >= 0x80000000u) /* time went backwards: a driver's fault, not a month's sleep */
		ms = 0;
	gauge_stack_top(&ms);
	ui_run(ms);
	refresh();
}

void fern_redraw(void) {
#ifdef FERN_STRIP
	paint(ui_rect(0, 0, FERN_W, FERN_H));
#else
	draw_dirty_all();
	refresh();
#endif
}

void fern_touch(int phase, int x, int y) {
	if (phase == FERN_UP || phase == FERN_DOWN || phase == FERN_MOVE)
		ui_touch(phase, x, y);
}

void fern_key(uint16_t usage, int down) {
	if (down)
		ui_key(usage);
}

void fern_turn(int detents) { ui_turn(detents); }

void fern_roll(int steps) { ui_roll(steps); }

void fern_text(const char *utf8) {
	const ui_screen *s = ui_screen_now();
	if (s->type)
		s->type(utf8);
}

uint32_t fern_frames(void) { return frames; }
int fern_busy(void) { return ui_busy(); }

#ifdef FERN_SMALL /* no touch */
const char *fern_anchor(int i, int rect[4]) {
	(void)i;
	(void)rect;
	return 0;
}
#else
/* The part of a target that can be touched: one that slides in lies partly off the panel. */
static draw_rect on_panel(draw_rect r) {
	int x1 = r.x + r.w, y1 = r.y + r.h;
	r.x = r.x < 0 ? 0 : r.x;
	r.y = r.y < 0 ? 0 : r.y;
	r.w = (x1 > FERN_W ? FERN_W : x1) - r.x;
	r.h = (y1 > FERN_H ? FERN_H : y1) - r.y;
	return r;
}

const char *fern_anchor(int i, int rect[4]) {
	const ui_screen *s = ui_screen_now();
	ui_target t;
	int k;
	for (k = 0; s->target && s->target(k, &t); k++) {
		t.r = on_panel(t.r);
		if (!t.anchor || t.r.w <= 0 || t.r.h <= 0)
			continue;
		if (i-- == 0) {
			rect[0] = t.r.x;
			rect[1] = t.r.y;
			rect[2] = t.r.w;
			rect[3] = t.r.h;
			return t.anchor;
		}
	}
	return 0;
}
#endif

const char *fern_library(void) {
#if DRAW_MAJOR >= 2
	return "draw-2";
#else
	return "draw-1";
#endif
}

const char *fern_version(void) { return "Fernhouse 2.3.0"; }
