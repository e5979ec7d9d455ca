/* A twin built with a C library: the user interface takes its framebuffer from malloc, writes its figure with
 * snprintf, prints its log with printf and checks itself with assert. Built as README.md one folder up says:
 *
 *   sh build.sh && fascia capture --link twin:counter.wasm */
#include "../../link/agent/fascia_agent.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define EXPORT(name) __attribute__((export_name(name)))

enum { W = 96, H = 32, DIGIT = 16 };

/* ---- the user interface: a counter in seven segments --------------------------------------------- */

static uint8_t *fb;
static uint32_t frames_drawn;
static int count;

static void bar(int x, int y, int w, int h)
{
	int i;
	for (i = 0; i < h; i++)
		memset(fb + (size_t)(y + i) * W + x, 255, (size_t)w);
}

static void digit(int x, char c)
{
	/* bits: top, upper right, lower right, bottom, lower left, upper left, middle */
	static const uint8_t segments[10] = {0x3f, 0x06, 0x5b, 0x4f, 0x66, 0x6d, 0x7d, 0x07, 0x7f, 0x6f};
	static const uint8_t place[7][4] = {{0, 0, 12, 2}, {10, 0, 2, 12}, {10, 10, 2, 12}, {0, 20, 12, 2}, {0, 10, 2, 12}, {0, 0, 2, 12}, {0, 10, 12, 2}};
	int i, lit = c == '-' ? 0x40 : c >= '0' && c <= '9' ? segments[c - '0'] : 0;
	for (i = 0; i < 7; i++)
		if (lit >> i & 1)
			bar(x + place[i][0], 4 + place[i][1], place[i][2], place[i][3]);
}

static void ui_draw(void)
{
	char text[8];
	int n = snprintf(text, sizeof text, "%5d", count), i;
	assert(n < (int)sizeof text); /* the figure fits its place */
	memset(fb, 0, W * H);
	for (i = 0; i < n; i++)
		digit(8 + DIGIT * i, text[i]);
	frames_drawn++;
}

static void input(void *ctx, const struct fascia_event *e)
{
	(void)ctx;
	if (e->kind == FASCIA_TURN)
		count += e->a;
	printf("count %d\n", count);
	ui_draw();
}

static int feed(void *ctx, const char *name, const char *value)
{
	char *end;
	long v = strtol(value, &end, 10);
	(void)ctx;
	if (strcmp(name, "count") != 0)
		return FASCIA_UNKNOWN_NAME;
	if (end == value || *end)
		return FASCIA_BAD_VALUE;
	count = (int)v;
	ui_draw();
	return FASCIA_OK;
}

/* ---- the port ------------------------------------------------------------------------------------- */

static uint8_t in[512];
static struct {
	uint32_t len;
	uint8_t bytes[4096];
} out;
static uint32_t now, in_len, in_pos;
static int flags;

static uint32_t now_ms(void *ctx) { (void)ctx; return now; }
static const uint8_t *row(void *ctx, unsigned y) { (void)ctx; return fb + (size_t)y * W; }
static uint32_t frames(void *ctx) { (void)ctx; return frames_drawn; }
static int busy(void *ctx) { (void)ctx; return 0; }
static void redraw(void *ctx) { (void)ctx; ui_draw(); }
static void reset(void *ctx) { (void)ctx; flags = 2; }

static size_t take(void *ctx, uint8_t *to, size_t max)
{
	size_t n = in_len - in_pos < max ? in_len - in_pos : max;
	(void)ctx;
	memcpy(to, in + in_pos, n);
	in_pos += (uint32_t)n;
	return n;
}

static size_t give(void *ctx, const uint8_t *from, size_t n)
{
	(void)ctx;
	if (n > sizeof out.bytes - out.len)
		return 0; /* all of a frame or nothing: printf may come between two steps */
	memcpy(out.bytes + out.len, from, n);
	out.len += (uint32_t)n;
	return n;
}

/* ---- the twin's five functions --------------------------------------------------------------------- */

static struct fascia_agent agent;

EXPORT("fascia_twin_in") uint8_t *twin_in(void) { return in; }
EXPORT("fascia_twin_in_size") uint32_t twin_in_size(void) { return sizeof in; }
EXPORT("fascia_twin_out") void *twin_out(void) { return &out; }

EXPORT("fascia_twin_boot") void twin_boot(uint32_t boot_id, uint32_t reset_reason)
{
	static const struct fascia_panel panel = {W, H, FASCIA_GREY8, 0};
	static struct fascia_identity id = {"counter", "dev", "counter 1", "none", 0, 0, 1u << FASCIA_TURN};
	static struct fascia_port port;
	id.boot_id = boot_id;
	id.reset_reason = (uint8_t)reset_reason;
	port.now_ms = now_ms;
	port.read = take;
	port.write = give;
	port.row = row;
	port.frames = frames;
	port.busy = busy;
	port.redraw = redraw;
	port.input = input;
	port.feed = feed;
	port.reset = reset;
	fb = malloc(W * H);
	if (!fb)
		abort();
	setvbuf(stdout, NULL, _IOLBF, 0); /* a line is log when it ends; the library would keep 1 KiB back */
	puts("counter is up");
	ui_draw();
	fascia_init(&agent, &port, &id, &panel);
}

EXPORT("fascia_twin_step") uint32_t twin_step(uint32_t at_ms, uint32_t bytes)
{
	int more;
	now = at_ms;
	in_len = bytes;
	in_pos = 0;
	do
		more = fascia_poll(&agent);
	while (in_pos < in_len);
	return (uint32_t)(flags | (more ? 1 : 0));
}
