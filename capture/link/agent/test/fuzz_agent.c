/* libFuzzer's way into the agent: the input is a panel and requests, which are framed here, for a CRC is hard to guess. Each
 * record is a first byte and what it says: 0 time passes, 1 bytes as they are, 2 the panel changes, 3 an area is
 * drawn; else a request of so many bytes. Build with -fsanitize=fuzzer,address,undefined; -DFASCIA_STRIP or FASCIA_DENSE. */
#include "../fascia_agent.h"

#include <stdlib.h>
#include <string.h>

#define SIDE 160

static struct fascia_agent agent;
static struct fascia_panel panel;
static uint8_t *pixels; /* of just the panel's size, so that a read beyond is seen */
static unsigned stride, lines;
static uint32_t now, frames;
static uint8_t in[1024];
static size_t in_len, in_pos;

static uint32_t cb_now(void *ctx) { (void)ctx; return now; }
static uint32_t cb_frames(void *ctx) { (void)ctx; return frames; }
static int cb_busy(void *ctx) { (void)ctx; return now % 7 == 0; }
static void cb_input(void *ctx, const struct fascia_event *e) { (void)ctx; frames += e->kind != FASCIA_TEXT || e->text[0] != 0; }
static int cb_clock(void *ctx, enum fascia_clock_op op, int64_t value) { (void)ctx; (void)value; return op > FASCIA_CLOCK_STEP ? FASCIA_BAD_VALUE : FASCIA_OK; }
static int cb_feed(void *ctx, const char *name, const char *value) { (void)ctx; return strlen(name) > strlen(value) ? FASCIA_UNKNOWN_NAME : FASCIA_OK; }
static void cb_palette(void *ctx, unsigned i, uint8_t rgb[3]) { (void)ctx; memset(rgb, (int)i, 3); }
static int cb_pattern(void *ctx, const uint8_t *args, size_t n) { (void)ctx; return n > 0 && args[n - 1] > 9 ? FASCIA_BAD_VALUE : FASCIA_OK; }
static void cb_reset(void *ctx) { (void)ctx; frames = 0; }

static int cb_list(void *ctx, enum fascia_list what, unsigned i, char *text, size_t size)
{
	(void)ctx;
	memset(text, 'a' + (int)what % 20, size); /* without an end */
	return i < 3;
}

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
	(void)ctx;
	(void)from;
	return n < 1 + now % 90 ? n : 1 + now % 90; /* a line that takes a little at a time */
}

#if FASCIA_STRIP
static uint32_t tiles[FASCIA_TILES(SIDE, SIDE)];

static void cb_redraw(void *ctx)
{
	unsigned y, n, pages = panel.format == FASCIA_MONO_PAGES ? 8 : 1;
	(void)ctx;
	for (y = 0; y < lines; y += n) {
		n = 1 + y % 5 < lines - y ? 1 + y % 5 : lines - y;
		fascia_strip(&agent, 0, y * pages, panel.width, (y + n) * pages > panel.height ? panel.height - y * pages : n * pages, pixels + (size_t)y * stride);
	}
	frames += now % 5 == 0; /* not as it should be */
}
#else
static void cb_redraw(void *ctx) { (void)ctx; frames++; }
static const uint8_t *cb_row(void *ctx, unsigned y) { (void)ctx; return y < lines ? pixels + (size_t)y * stride : 0; }
#endif

static void shape(const uint8_t *p)
{
	static const uint8_t bits[12] = {8, 1, 8, 2, 4, 8, 8, 8, 16, 16, 24, 32};
	unsigned i;
	panel.format = (uint8_t)(1 + p[0] % 11);
	panel.width = (uint16_t)(1 + p[1] % SIDE);
	panel.height = (uint16_t)(1 + p[2] % SIDE);
	panel.colours = p[0];
	lines = panel.format == FASCIA_MONO_PAGES ? (panel.height + 7u) / 8 : panel.height;
	stride = panel.format == FASCIA_MONO_PAGES ? panel.width : (panel.width * bits[panel.format] + 7u) / 8;
	free(pixels);
	pixels = malloc((size_t)stride * lines);
	for (i = 0; i < stride * lines; i++)
		pixels[i] = (uint8_t)(p[i % 3] & 1 ? i * i >> 7 : i / 40);
}

/* Frames n bytes: CRC-32, COBS, zeros. */
static void frame(const uint8_t *body, size_t n)
{
	uint8_t raw[300];
	uint32_t crc = 0xffffffff;
	size_t i, code;
	memcpy(raw, body, n);
	for (i = 0; i < n * 8; i++) {
		crc ^= i % 8 == 0 ? raw[i / 8] : 0u;
		crc = crc >> 1 ^ (crc & 1 ? 0xedb88320u : 0);
	}
	for (i = 0; i < 4; i++)
		raw[n++] = (uint8_t)(~crc >> 8 * i);
	in_len = 0;
	in[in_len++] = 0;
	code = in_len++;
	for (i = 0; i < n; i++) {
		if (raw[i])
			in[in_len++] = raw[i];
		if (!raw[i] || in_len - code == 255) {
			in[code] = (uint8_t)(in_len - code);
			code = in_len++;
		}
	}
	in[code] = (uint8_t)(in_len - code);
	in[in_len++] = 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const struct fascia_identity id = {"fuzzed", "b", "f", "d", 1, FASCIA_RESET_POWER, 0xffff};
	static const struct fascia_event touched = {FASCIA_TOUCH_DOWN, 1, -3, 300, 0};
	struct fascia_port port;
	unsigned turns;
	if (size < 3)
		return 0;
	memset(&port, 0, sizeof port);
	port.now_ms = cb_now, port.read = cb_read, port.write = cb_write, port.frames = cb_frames, port.busy = cb_busy;
	port.redraw = cb_redraw, port.input = cb_input, port.clock = cb_clock, port.feed = cb_feed, port.list = cb_list;
	port.palette = cb_palette, port.pattern = cb_pattern, port.reset = cb_reset;
#if FASCIA_STRIP
	port.tiles = tiles;
#else
	port.row = cb_row;
#endif
	now = frames = 0;
	shape(data);
	fascia_init(&agent, &port, &id, &panel);
	for (data += 3, size -= 3; size > 0;) {
		size_t n = data[0];
		data++, size--;
		in_len = in_pos = 0;
		if (n == 2 && size >= 3) {
			shape(data);
			fascia_panel_changed(&agent, &panel);
			n = 3;
		} else if (n == 3) {
			frames++;
			fascia_observed(&agent, &touched);
#if FASCIA_STRIP
			fascia_strip(&agent, 0, 0, panel.width, panel.height, pixels);
#endif
			n = 0;
		} else if (n == 1) {
			n = size < 64 ? size : 64;
			memcpy(in, data, n);
			in_len = n;
		} else {
			n = n > size ? size : n;
			frame(data, n);
		}
		data += n, size -= n;
		for (turns = 0; turns < 400 && (fascia_poll(&agent) || in_pos < in_len); turns++)
			now++;
		now += n == 0 ? 600 : 3;
	}
	return 0;
}
