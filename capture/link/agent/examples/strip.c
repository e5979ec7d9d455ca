/* A device without a framebuffer, as a program on the computer for a link of exec:COMMAND: the user
 * interface draws into a strip of eight rows, and each strip goes to the panel through one flush hook.
 * Replace ui_draw() and panel_send() by your own. POSIX.
 *
 *   cc -DFASCIA_STRIP=1 -o device strip.c ../fascia_agent.c && fascia capture --link exec:./device */
#define _POSIX_C_SOURCE 200809L
#include "../fascia_agent.h"

#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#if !FASCIA_STRIP
#error "build this, and fascia_agent.c, with -DFASCIA_STRIP=1"
#endif

enum { W = 64, H = 48, ROWS = 8 };

static struct fascia_agent agent;

/* ---- the flush hook ------------------------------------------------------------------------------- */

static uint16_t panel[H][W]; /* stands for the panel's own memory, which nobody can read back */

static void panel_send(int x, int y, int w, int h, const uint16_t *pixels)
{
	int i, j;
	for (j = 0; j < h; j++)
		for (i = 0; i < w; i++)
			panel[y + j][x + i] = pixels[j * w + i];
}

static void flush(int x, int y, int w, int h, const uint16_t *pixels)
{
	if (fascia_strip(&agent, (unsigned)x, (unsigned)y, (unsigned)w, (unsigned)h, pixels))
		return; /* drawn for the host alone */
	panel_send(x, y, w, h, pixels);
}

/* ---- the user interface: a bar that a knob moves --------------------------------------------------- */

static uint32_t frames_drawn;
static int bar = 8;

/* Draws an area: the state is not touched, so the same comes out each time. */
static void ui_draw(int x0, int y0, int w, int h)
{
	static uint16_t strip[ROWS * W];
	int x, y, n, end = y0 + h;
	for (; y0 < end; y0 += n) {
		n = end - y0 < ROWS ? end - y0 : ROWS;
		for (y = 0; y < n; y++)
			for (x = 0; x < w; x++)
				strip[y * w + x] = y0 + y > 16 && y0 + y < 32 && x0 + x < bar ? 0x07e0 : 0x2104;
		flush(x0, y0, w, n, strip);
	}
}

static void ui_input(void *ctx, const struct fascia_event *e)
{
	int old = bar;
	(void)ctx;
	if (e->kind != FASCIA_TURN)
		return;
	bar = bar + e->a < 0 ? 0 : bar + e->a > W ? W : bar + e->a;
	if (bar != old)
		ui_draw(bar < old ? bar : old, 17, abs(bar - old), 15); /* what has changed, and no more */
	frames_drawn++;
}

/* ---- the port: what the agent needs to know --------------------------------------------------------- */

static uint32_t tiles[FASCIA_TILES(W, H)];

static uint32_t now_ms(void *ctx)
{
	struct timespec t;
	(void)ctx;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (uint32_t)((uint64_t)t.tv_sec * 1000 + (uint64_t)t.tv_nsec / 1000000);
}

static size_t line_read(void *ctx, uint8_t *to, size_t max)
{
	ssize_t n = read(0, to, max);
	(void)ctx;
	if (n == 0)
		exit(0); /* the host has gone */
	return n > 0 ? (size_t)n : 0;
}

static size_t line_write(void *ctx, const uint8_t *from, size_t max)
{
	ssize_t n = write(1, from, max);
	(void)ctx;
	return n > 0 ? (size_t)n : 0;
}

/* The line is full while a strip passes: half a second of patience, then the host asks again. */
static int line_wait(void *ctx)
{
	struct pollfd out = {1, POLLOUT, 0};
	(void)ctx;
	return poll(&out, 1, 500) > 0;
}

static uint32_t frames(void *ctx) { (void)ctx; return frames_drawn; }
static int busy(void *ctx) { (void)ctx; return 0; }
static void redraw(void *ctx) { (void)ctx; ui_draw(0, 0, W, H); }

int main(void)
{
	static const struct fascia_panel shape = {W, H, FASCIA_RGB565_LE, 0};
	static struct fascia_identity id = {"strip build", "dev", "example 1", "none", 0, FASCIA_RESET_POWER, 1u << FASCIA_TURN};
	static struct fascia_port port;
	struct pollfd in = {0, POLLIN, 0};
	id.boot_id = (uint32_t)getpid() * 2654435761u;
	port.now_ms = now_ms;
	port.read = line_read;
	port.write = line_write;
	port.wait = line_wait;
	port.tiles = tiles;
	port.frames = frames;
	port.busy = busy;
	port.redraw = redraw;
	port.input = ui_input;
	fcntl(0, F_SETFL, fcntl(0, F_GETFL) | O_NONBLOCK);
	fcntl(1, F_SETFL, fcntl(1, F_GETFL) | O_NONBLOCK);
	fascia_init(&agent, &port, &id, &shape); /* before anything is drawn */
	ui_draw(0, 0, W, H);
	for (;;)
		if (!fascia_poll(&agent))
			poll(&in, 1, 5);
}
