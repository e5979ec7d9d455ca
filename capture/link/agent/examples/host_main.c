/* A device on the computer: the user interface and the agent as a program whose standard streams are
 * the line, for a link of exec:COMMAND. Replace the three ui_ functions by your own. POSIX.
 *
 *   cc -o device host_main.c ../fascia_agent.c && fascia capture --link exec:./device */
#define _POSIX_C_SOURCE 200809L
#include "../fascia_agent.h"

#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

/* ---- the user interface: a bar that a knob moves ------------------------------------------------- */

static uint16_t fb[48][64];
static uint32_t frames_drawn;
static int bar = 8;

static void ui_draw(void)
{
	int x, y;
	for (y = 0; y < 48; y++)
		for (x = 0; x < 64; x++)
			fb[y][x] = y > 16 && y < 32 && x < bar ? 0x07e0 : 0x2104;
	frames_drawn++;
}

static void ui_input(void *ctx, const struct fascia_event *e)
{
	(void)ctx;
	if (e->kind == FASCIA_TURN)
		bar += e->a;
	ui_draw();
}

/* ---- the port: what the agent needs to know ------------------------------------------------------ */

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

static const uint8_t *row(void *ctx, unsigned y) { (void)ctx; return (const uint8_t *)fb[y]; }
static uint32_t frames(void *ctx) { (void)ctx; return frames_drawn; }
static int busy(void *ctx) { (void)ctx; return 0; }
static void redraw(void *ctx) { (void)ctx; ui_draw(); }

int main(void)
{
	static const struct fascia_panel panel = {64, 48, FASCIA_RGB565_LE, 0};
	static struct fascia_identity id = {"host build", "dev", "example 1", "none", 0, FASCIA_RESET_POWER, 1u << FASCIA_TURN};
	static struct fascia_port port;
	static struct fascia_agent agent;
	struct pollfd in = {0, POLLIN, 0};
	id.boot_id = (uint32_t)getpid() * 2654435761u;
	port.now_ms = now_ms;
	port.read = line_read;
	port.write = line_write;
	port.row = row;
	port.frames = frames;
	port.busy = busy;
	port.redraw = redraw;
	port.input = ui_input;
	fcntl(0, F_SETFL, fcntl(0, F_GETFL) | O_NONBLOCK);
	fcntl(1, F_SETFL, fcntl(1, F_GETFL) | O_NONBLOCK);
	ui_draw();
	fascia_init(&agent, &port, &id, &panel);
	for (;;)
		if (!fascia_poll(&agent))
			poll(&in, 1, 5);
}
