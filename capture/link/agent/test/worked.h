/* The device of PROTOCOL.md's worked frames: a panel of 40x18 grey pixels, a grey ramp with a
 * white box, and a firmware that answers as that page says. */
#ifndef WORKED_H
#define WORKED_H

#include "../fascia_agent.h"

#include <string.h>

#define WORKED_W 40
#define WORKED_H_ROWS 18

struct worked {
	uint8_t in[512], out[65536], pixels[WORKED_W * WORKED_H_ROWS];
	size_t in_len, in_pos, out_len;
	uint32_t ms, frames, resets;
	struct fascia_agent agent;
	struct fascia_port port;
	uint32_t tiles[FASCIA_TILES(WORKED_W, WORKED_H_ROWS)];
};

static uint32_t worked_now(void *ctx) { return ((struct worked *)ctx)->ms; }
static uint32_t worked_frames(void *ctx) { return ((struct worked *)ctx)->frames; }
static int worked_busy(void *ctx) { (void)ctx; return 0; }
#if FASCIA_STRIP
static void worked_redraw(void *ctx) /* in two strips */
{
	struct worked *w = ctx;
	fascia_strip(&w->agent, 0, 0, WORKED_W, 10, w->pixels);
	fascia_strip(&w->agent, 0, 10, WORKED_W, WORKED_H_ROWS - 10, w->pixels + 10 * WORKED_W);
}
#else
static void worked_redraw(void *ctx) { (void)ctx; }

static const uint8_t *worked_row(void *ctx, unsigned y)
{
	return ((struct worked *)ctx)->pixels + (size_t)y * WORKED_W;
}
#endif
static void worked_input(void *ctx, const struct fascia_event *e) { (void)ctx; (void)e; }
static void worked_reset(void *ctx) { ((struct worked *)ctx)->resets++; }

static size_t worked_read(void *ctx, uint8_t *to, size_t max)
{
	struct worked *w = ctx;
	size_t n = w->in_len - w->in_pos;
	n = n < max ? n : max;
	memcpy(to, w->in + w->in_pos, n);
	w->in_pos += n;
	return n;
}

static size_t worked_write(void *ctx, const uint8_t *from, size_t n)
{
	struct worked *w = ctx;
	size_t room = sizeof w->out - w->out_len;
	n = n < room ? n : room;
	memcpy(w->out + w->out_len, from, n);
	w->out_len += n;
	return n;
}

static int worked_clock(void *ctx, enum fascia_clock_op op, int64_t value)
{
	(void)ctx;
	(void)value;
	return op >= FASCIA_CLOCK_SET_HELD && op <= FASCIA_CLOCK_STEP ? FASCIA_OK : FASCIA_BAD_VALUE;
}

static int worked_feed(void *ctx, const char *name, const char *value)
{
	(void)ctx;
	if (strcmp(name, "temperature") != 0)
		return FASCIA_UNKNOWN_NAME;
	return value[0] >= '0' && value[0] <= '9' ? FASCIA_OK : FASCIA_BAD_VALUE;
}

static int worked_list(void *ctx, enum fascia_list what, unsigned i, char *text, size_t size)
{
	(void)ctx;
	(void)size;
	if (what == FASCIA_LIST_FEEDS && i == 0)
		strcpy(text, "temperature");
	else if (what == FASCIA_LIST_GAUGES && i == 0)
		strcpy(text, "heap-free=4096");
	else
		return 0;
	return 1;
}

static void worked_init(struct worked *w)
{
	static const struct fascia_identity id = {"worked", "b1", "demo 1", "draw-1", 0x11223344, FASCIA_RESET_POWER, 0x0fff};
	const struct fascia_panel panel = {WORKED_W, WORKED_H_ROWS, FASCIA_GREY8, 0};
	unsigned x, y;
	memset(w, 0, sizeof *w);
	for (y = 0; y < WORKED_H_ROWS; y++)
		for (x = 0; x < WORKED_W; x++)
			w->pixels[y * WORKED_W + x] = (uint8_t)(x >= 4 && x < 12 && y >= 4 && y < 9 ? 255 : x * 3);
	w->frames = 7;
	w->port.ctx = w;
	w->port.now_ms = worked_now;
	w->port.read = worked_read;
	w->port.write = worked_write;
#if FASCIA_STRIP
	w->port.tiles = w->tiles;
#else
	w->port.row = worked_row;
#endif
	w->port.frames = worked_frames;
	w->port.busy = worked_busy;
	w->port.redraw = worked_redraw;
	w->port.input = worked_input;
	w->port.clock = worked_clock;
	w->port.feed = worked_feed;
	w->port.list = worked_list;
	w->port.reset = worked_reset;
	fascia_init(&w->agent, &w->port, &id, &panel);
#if FASCIA_STRIP
	fascia_strip(&w->agent, 0, 0, WORKED_W, WORKED_H_ROWS, w->pixels);
#endif
}

/* Lets the device run for some milliseconds. */
static void worked_run(struct worked *w, unsigned ms)
{
	unsigned i, n;
	for (i = 0; i <= ms; i++, w->ms++)
		for (n = 0; n < 1000 && (fascia_poll(&w->agent) || w->in_pos < w->in_len); n++)
			;
}
#endif
