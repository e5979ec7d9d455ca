/* A device for tests, on standard input and output and on time that the test gives it: it paints
 * itself from a seed, so that the test can work out by itself what a look must show.
 *
 * Usage: pipe_device WIDTH HEIGHT FORMAT [COLOURS]. To it: u32 ms to run until, u16 n, n bytes of the
 * line. It runs, a millisecond after another, until then or until it has sent something, and
 * answers: u32 ms it is then, u32 n, n bytes of the line. What it can be fed is in cb_feed() below. */
#include "../fascia_agent.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define OUT_MAX 65536

static struct fascia_agent agent;
static struct fascia_port port;
static struct fascia_panel panel;
static struct fascia_identity id = {"pipe", "b1", "pipe 1", "draw-1", 1000, FASCIA_RESET_POWER, 0x0ffe};
static uint8_t *pixels;
static unsigned cells, rows, cell_bytes, stride;
static uint32_t now, frames, inputs;
static uint8_t in[65536], out[OUT_MAX];
static size_t in_len, in_pos, out_len;
static struct fascia_event last;
static char last_text[130];
static int64_t clock_value;
static int clock_op;
static uint32_t busy_until, blink_ms, blinked, log_ms, logged, logs;
static long poke_rows = -1, crash_bytes = -1; /* rows still to be read, bytes still to be sent, until it happens */
static size_t write_max = OUT_MAX, write_left = OUT_MAX; /* bytes that the line takes in a millisecond */
static int restart, sly_change;

static uint32_t rnd(uint32_t *s)
{
	*s ^= *s << 13;
	*s ^= *s >> 17;
	*s ^= *s << 5;
	return *s;
}

#if FASCIA_STRIP
static uint32_t tiles[(4096 / 32 + 1) * (4096 / 16 + 1)];

/* Flushes an area, in cells, in strips of a few rows; they are packed in memory of just that size. */
static void flush(unsigned x, unsigned y, unsigned w, unsigned h)
{
	unsigned end = y + h < rows ? y + h : rows, n, i;
	unsigned across = panel.format == FASCIA_MONO_ROWS ? 8 : panel.format == FASCIA_GREY2 ? 4 : panel.format == FASCIA_GREY4 ? 2 : 1;
	unsigned down = panel.format == FASCIA_MONO_PAGES ? 8 : 1, px;
	w = x + w < cells ? w : cells - x;
	px = (x + w) * across < panel.width ? w * across : panel.width - x * across;
	for (; y < end; y += n) {
		uint8_t *strip;
		unsigned py, ph;
		n = 1 + y % 7;
		n = n < end - y ? n : end - y;
		strip = malloc((size_t)n * w * cell_bytes);
		if (!strip)
			exit(3);
		for (i = 0; i < n; i++)
			memcpy(strip + (size_t)i * w * cell_bytes, pixels + (y + i) * stride + (size_t)x * cell_bytes, (size_t)w * cell_bytes);
		py = y * down;
		ph = py + n * down < panel.height ? n * down : panel.height - py;
		fascia_strip(&agent, x * across, py, px, ph, strip);
		free(strip);
	}
}
#else
static void flush(unsigned x, unsigned y, unsigned w, unsigned h) { (void)x; (void)y; (void)w; (void)h; }
#endif

static void put_cell(unsigned x, unsigned y, uint32_t v)
{
	unsigned k;
	for (k = 0; k < cell_bytes; k++)
		pixels[y * stride + x * cell_bytes + k] = (uint8_t)(v >> 8 * k);
}

/* One area of one of four kinds. The test has the same in Go. */
static void area(uint32_t *s, unsigned x0, unsigned y0, unsigned w, unsigned h)
{
	uint32_t kind = rnd(s) % 4, a = rnd(s), b = rnd(s);
	unsigned x, y;
	for (y = y0; y < y0 + h && y < rows; y++)
		for (x = x0; x < x0 + w && x < cells; x++)
			put_cell(x, y, kind == 0 ? a : kind == 1 ? a + x : kind == 2 ? rnd(s) : (x / 3 + y / 5) % 2 ? a : b);
}

static void paint(uint32_t seed)
{
	uint32_t s = seed * 2654435761u | 1;
	unsigned i, x, y, w;
	area(&s, 0, 0, cells, rows);
	for (i = 0; i < 12; i++) {
		x = rnd(&s) % cells;
		y = rnd(&s) % rows;
		w = rnd(&s) % cells + 1;
		area(&s, x, y, w, rnd(&s) % rows + 1);
	}
	frames++;
}

static void shape(void)
{
	unsigned bits = panel.format >= FASCIA_GREY8 ? 8 : panel.format == FASCIA_GREY2 ? 2 : panel.format == FASCIA_GREY4 ? 4 : 1;
	cell_bytes = panel.format == FASCIA_XRGB8888 ? 4 : panel.format == FASCIA_RGB888 ? 3 : panel.format >= FASCIA_RGB565_LE ? 2 : 1;
	cells = panel.format == FASCIA_MONO_PAGES ? panel.width : (panel.width * bits + 7u) / 8;
	rows = panel.format == FASCIA_MONO_PAGES ? (panel.height + 7u) / 8 : panel.height;
	stride = cells * cell_bytes + 5; /* a gap after each row, as DMA alignment makes them */
	free(pixels);
	pixels = malloc((size_t)stride * rows); /* exactly, so that the sanitizer sees a byte too many */
	if (!pixels)
		exit(3);
	memset(pixels, 0xa5, (size_t)stride * rows);
}

static uint32_t cb_now(void *ctx) { (void)ctx; return now; }
static uint32_t cb_frames(void *ctx) { (void)ctx; return frames; }
static int cb_busy(void *ctx) { (void)ctx; return (int32_t)(busy_until - now) > 0; }
static void cb_redraw(void *ctx) { (void)ctx; frames += !FASCIA_STRIP; flush(0, 0, cells, rows); }
static void cb_reset(void *ctx) { (void)ctx; restart = 1; id.reset_reason = FASCIA_RESET_ASKED; }

static size_t cb_read(void *ctx, uint8_t *to, size_t max)
{
	size_t n = in_len - in_pos;
	(void)ctx;
	n = n < max ? n : max;
	memcpy(to, in + in_pos, n);
	in_pos += n;
	return n;
}

static size_t cb_write(void *ctx, const uint8_t *from, size_t n)
{
	size_t room = OUT_MAX - out_len;
	(void)ctx;
	n = n < room ? n : room;
	n = n < write_left ? n : write_left;
	if (crash_bytes >= 0 && (long)n >= crash_bytes) {
		n = (size_t)crash_bytes;
		crash_bytes = -1;
		restart = 1;
		id.reset_reason = FASCIA_RESET_WATCHDOG;
	} else if (crash_bytes >= 0) {
		crash_bytes -= (long)n;
	}
	memcpy(out + out_len, from, n);
	out_len += n;
	write_left -= n;
	return n;
}

static void print(const char *line)
{
	size_t n = strlen(line);
	if (out_len + n + 1 < OUT_MAX) {
		memcpy(out + out_len, line, n);
		out[out_len + n] = '\n';
		out_len += n + 1;
	}
}

#if !FASCIA_STRIP
static const uint8_t *cb_row(void *ctx, unsigned y)
{
	(void)ctx;
	if (y >= rows)
		abort();
	if (poke_rows >= 0 && poke_rows-- == 0) { /* an interrupt draws, whatever was asked */
		put_cell(cells / 2, rows / 2, now * 77u + 1);
		frames++;
		if (sly_change-- > 0)
			poke_rows = 3 * (long)rows;
	}
	return pixels + (size_t)y * stride;
}
#endif

static void cb_input(void *ctx, const struct fascia_event *e)
{
	(void)ctx;
	inputs++;
	last = *e;
	last.text = NULL;
	if (e->kind == FASCIA_TEXT) {
		snprintf(last_text, sizeof last_text, "%s", e->text);
		last.a = last.b = 0; /* those mean nothing with text */
		last.c = 0;
	}
}

static int cb_clock(void *ctx, enum fascia_clock_op op, int64_t value)
{
	(void)ctx;
	clock_op = (int)op;
	clock_value = value;
	return op >= FASCIA_CLOCK_SET_HELD && op <= FASCIA_CLOCK_STEP ? FASCIA_OK : FASCIA_BAD_VALUE;
}

static int cb_feed(void *ctx, const char *name, const char *value)
{
	unsigned long v = strtoul(value, NULL, 10);
	(void)ctx;
	if (strcmp(name, "paint") == 0) { /* seed */
		paint((uint32_t)v);
		flush(0, 0, cells, rows);
	} else if (strcmp(name, "area") == 0 || strcmp(name, "forget") == 0) { /* seed,x,y,w,h in cells; or without flushing */
		unsigned seed, x, y, w, h;
		uint32_t s;
		if (sscanf(value, "%u,%u,%u,%u,%u", &seed, &x, &y, &w, &h) != 5)
			return FASCIA_BAD_VALUE;
		s = seed * 2654435761u | 1;
		area(&s, x, y, w, h);
		frames++;
		if (name[0] == 'a')
			flush(x, y, w, h);
	} else if (strcmp(name, "turn") == 0) { /* seed: width and height change places */
		uint16_t w = panel.width;
		panel.width = panel.height;
		panel.height = w;
		shape();
		paint((uint32_t)v);
		fascia_panel_changed(&agent, &panel);
		flush(0, 0, cells, rows);
	} else if (strcmp(name, "busy") == 0) { /* ms */
		busy_until = now + (uint32_t)v;
	} else if (strcmp(name, "blink") == 0) { /* ms: a cell changes again and again, but not while held */
		blink_ms = (uint32_t)v;
		blinked = now;
	} else if (strcmp(name, "poke") == 0) { /* rows read until a cell changes, held or not */
		poke_rows = (long)v;
	} else if (strcmp(name, "poke-again") == 0) { /* how often more */
		sly_change = (int)v;
	} else if (strcmp(name, "crash") == 0) { /* bytes sent until the firmware starts anew */
		crash_bytes = (long)v;
	} else if (strcmp(name, "observe") == 0) { /* so many touches by the user */
		struct fascia_event e = {FASCIA_TOUCH_DOWN, 1, 0, 0, NULL};
		for (; v > 0; v--, e.a++, e.b = (int16_t)-e.a)
			fascia_observed(&agent, &e);
	} else if (strcmp(name, "log") == 0) { /* ms between lines; 0: this once */
		log_ms = (uint32_t)v;
		if (v == 0)
			print("a line");
	} else if (strcmp(name, "slow") == 0) { /* bytes that the line takes in a millisecond */
		write_max = v;
		write_left = v < write_left ? v : write_left;
	} else {
		return FASCIA_UNKNOWN_NAME;
	}
	return FASCIA_OK;
}

static int cb_list(void *ctx, enum fascia_list what, unsigned i, char *text, size_t size)
{
	(void)ctx;
	if (what == FASCIA_LIST_GAUGES && i < 40) { /* longer than one piece */
		if (i == 0)
			snprintf(text, size, "inputs=%u", (unsigned)inputs);
		else
			snprintf(text, size, "gauge-%u=%u", i, i * i);
		return 1;
	}
	if (what == FASCIA_LIST_LAMPS && i < 3) {
		if (i == 0)
			snprintf(text, size, "event=%u %d %d %u %s", last.kind, last.a, last.b, last.c, last_text);
		else if (i == 1)
			snprintf(text, size, "clock=%d %lld", clock_op, (long long)clock_value);
		else
			snprintf(text, size, "%0100d", 7); /* longer than an item may be */
		return 1;
	}
	return 0;
}

static void cb_palette(void *ctx, unsigned i, uint8_t rgb[3])
{
	(void)ctx;
	rgb[0] = (uint8_t)(i * 7);
	rgb[1] = (uint8_t)(255 - i);
	rgb[2] = (uint8_t)(i ^ 0x55);
}

static int cb_pattern(void *ctx, const uint8_t *args, size_t n)
{
	(void)ctx;
	if (n == 0)
		return FASCIA_OK;
	memset(pixels, args[n - 1], (size_t)stride * rows);
	frames++;
	flush(0, 0, cells, rows);
	return args[0] >= 1 && args[0] <= 6 ? FASCIA_OK : FASCIA_BAD_VALUE;
}

static void boot(void)
{
	id.boot_id++;
	frames = 1;
	blink_ms = log_ms = 0;
	busy_until = now;
	poke_rows = crash_bytes = -1;
	write_max = write_left = OUT_MAX;
	in_pos = in_len = 0;
	shape();
	memset(pixels, 0, (size_t)stride * rows);
	print("pipe device: boot");
	fascia_init(&agent, &port, &id, &panel);
	flush(0, 0, cells, rows);
}

static int step(void)
{
	int again;
	if (blink_ms && now - blinked >= blink_ms && !fascia_holding(&agent)) {
		put_cell(0, 0, now);
		frames++;
		flush(0, 0, 1, 1);
		blinked = now;
	}
	if (log_ms && now - logged >= log_ms && !fascia_mid_frame(&agent)) {
		char line[64];
		snprintf(line, sizeof line, "line %u at %u ms", (unsigned)++logs, (unsigned)now);
		print(line);
		logged = now;
	}
	again = fascia_poll(&agent);
	if (restart) {
		restart = 0;
		boot();
		again = 1;
	}
	return again || in_pos < in_len;
}

static uint32_t number(const uint8_t *p, unsigned n)
{
	uint32_t v = 0;
	while (n-- > 0)
		v = v << 8 | p[n];
	return v;
}

static void answer(uint32_t v)
{
	uint8_t b[4] = {(uint8_t)v, (uint8_t)(v >> 8), (uint8_t)(v >> 16), (uint8_t)(v >> 24)};
	fwrite(b, 1, sizeof b, stdout);
}

int main(int argc, char **argv)
{
	uint8_t head[6];
	if (argc < 4) {
		fprintf(stderr, "usage: pipe_device WIDTH HEIGHT FORMAT [COLOURS]\n");
		return 2;
	}
	panel.width = (uint16_t)atoi(argv[1]);
	panel.height = (uint16_t)atoi(argv[2]);
	panel.format = (uint8_t)atoi(argv[3]);
	panel.colours = (uint16_t)(argc > 4 ? atoi(argv[4]) : 0);
	port.now_ms = cb_now;
	port.read = cb_read;
	port.write = cb_write;
#if FASCIA_STRIP
	port.tiles = tiles;
#else
	port.row = cb_row;
#endif
	port.frames = cb_frames;
	port.busy = cb_busy;
	port.redraw = cb_redraw;
	port.input = cb_input;
	port.clock = cb_clock;
	port.feed = cb_feed;
	port.list = cb_list;
	port.palette = panel.colours ? cb_palette : NULL;
	port.pattern = cb_pattern;
	port.reset = cb_reset;
	boot();
	while (fread(head, 1, sizeof head, stdin) == sizeof head) {
		uint32_t until = number(head, 4);
		in_pos = 0;
		in_len = fread(in, 1, number(head + 4, 2), stdin);
		if (in_len != number(head + 4, 2))
			break;
		for (;;) {
			unsigned turns;
			int again = 1;
			for (turns = 0; turns < 64 && again && out_len < OUT_MAX / 2; turns++)
				again = step();
			if (out_len > 0 && in_pos == in_len)
				break;
			if (now == until)
				break;
			now++;
			write_left = write_max;
		}
		answer(now);
		answer((uint32_t)out_len);
		fwrite(out, 1, out_len, stdout);
		fflush(stdout);
		if (out_len > 0 && now != until) {
			now++;
			write_left = write_max;
		}
		out_len = 0;
	}
	free(pixels);
	return 0;
}
