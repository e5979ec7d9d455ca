/* Devices that misbehave, made of the example. The first argument says how: `assert` dies in the flush hook of a
 * redraw; `large` says a size that no panel has; `shrinks` changes its size at a turn of the knob and hides it;
 * `flood` prints log as fast as the line takes it, into frames, too. */
#define main example
#include "../examples/host_main.c"
#undef main

#include <assert.h>
#include <string.h>

static struct fascia_agent agent;
static struct fascia_panel shape = {64, 48, FASCIA_RGB565_LE, 0};
static int areas_flushed;

static void bad_redraw(void *ctx)
{
	(void)ctx;
	assert(areas_flushed > 0);
}

static void shrink(void *ctx, const struct fascia_event *e)
{
	int i;
	(void)ctx;
	(void)e;
	shape.height = 16;
	for (i = 0; i < 8; i++) /* the count of changes has three bits */
		fascia_panel_changed(&agent, &shape);
	ui_draw();
}

int main(int argc, char **argv)
{
	static const char line[] = "sensor bus: retry, retry, retry, retry, retry\n";
	static struct fascia_identity id = {"bad", "dev", "bad 1", "none", 1, FASCIA_RESET_POWER, 1u << FASCIA_TURN};
	static struct fascia_port port;
	struct pollfd in = {0, POLLIN, 0};
	const char *how = argc > 1 ? argv[1] : "";
	(void)example;
	port.now_ms = now_ms;
	port.read = line_read;
	port.write = line_write;
	port.row = row;
	port.frames = frames;
	port.busy = busy;
	port.redraw = strcmp(how, "assert") ? redraw : bad_redraw;
	port.input = strcmp(how, "shrinks") ? ui_input : shrink;
	if (!strcmp(how, "large"))
		shape.width = 5000;
	fcntl(0, F_SETFL, fcntl(0, F_GETFL) | O_NONBLOCK);
	fcntl(1, F_SETFL, fcntl(1, F_GETFL) | O_NONBLOCK);
	ui_draw();
	fascia_init(&agent, &port, &id, &shape);
	id.boot_id = (uint32_t)getpid() * 2654435761u;
	for (;;) {
		int i;
		for (i = 0; i < 100 && !strcmp(how, "flood"); i++)
			line_write(0, (const uint8_t *)line, sizeof line - 1);
		if (!fascia_poll(&agent))
			poll(&in, 1, strcmp(how, "flood") ? 5 : 0);
	}
}
