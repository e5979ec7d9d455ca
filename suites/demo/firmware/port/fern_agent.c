/* What a firmware author writes to bring the agent into a device: see capture/link/agent. */
#include "fern_agent.h"

#include "../fern.h"
#include "fern_pattern.h"

#include <string.h>

#ifndef FERN_BUILD
#define FERN_BUILD "unknown"
#endif

static struct fascia_agent agent;
static struct fascia_port port;
static struct fascia_identity id;
static struct fern_line wire;
static uint32_t drawn; /* when the UI last had its turn */
static int awake;      /* something came in that it should see at once */

/* How the panel takes its pixels: a number of enum fascia_format. */
#ifdef FERN_SMALL
#define FERN_FORMAT 1 /* FASCIA_MONO_ROWS */
#elif defined(DRAW_DEPTH) && DRAW_DEPTH == 24
#define FERN_FORMAT 10 /* FASCIA_RGB888 */
#else
#define FERN_FORMAT 8 /* FASCIA_RGB565_LE */
#endif

#define UI_PERIOD_MS 5 /* how often the UI task runs when nothing wakes it; common practice, no source */

static uint32_t now_ms(void *ctx) { (void)ctx; return wire.now_ms(wire.ctx); }
static size_t take(void *ctx, uint8_t *to, size_t max) { (void)ctx; return wire.read(wire.ctx, to, max); }
static size_t give(void *ctx, const uint8_t *from, size_t n) { (void)ctx; return wire.write(wire.ctx, from, n); }
static uint32_t frames(void *ctx) { (void)ctx; return fern_frames() + fern_pattern_frames(); }
static int busy(void *ctx) { (void)ctx; return !fern_pattern_shown() && fern_busy(); }

static void redraw(void *ctx)
{
	(void)ctx;
	if (!fern_pattern_shown())
		fern_redraw();
}

static void reset(void *ctx) { (void)ctx; wire.reset(wire.ctx); }

#ifdef FERN_STRIP
static uint32_t tiles[FASCIA_TILES(FERN_W, FERN_H)];

void fern_flush(int x, int y, int w, int h, const uint16_t *pixels)
{
	if (fascia_strip(&agent, (unsigned)x, (unsigned)y, (unsigned)w, (unsigned)h, pixels))
		return; /* drawn for the host alone */
	/* A real device sends the area to its panel here. */
}
#else
/* The panel's own pixels, where they are not those that are drawn with, as a driver makes them when it sends. */
#if FERN_FORMAT == 1
#define ROW_BYTES ((FERN_W + 7) / 8)

/* Lit from half of white on: 2 red, 5 green and 1 blue parts of 8. */
static void pack_row(const fern_pixel *p, uint8_t *to)
{
	unsigned x;
	memset(to, 0, ROW_BYTES);
	for (x = 0; x < FERN_W; x++) {
		unsigned red = p[x] >> 11, green = p[x] >> 5 & 63u, blue = p[x] & 31u;
		if (4 * red + 5 * green + 2 * blue >= 251)
			to[x / 8] = (uint8_t)(to[x / 8] | 0x80u >> x % 8);
	}
}
#elif FERN_FORMAT == 10
#define ROW_BYTES (3 * FERN_W)

static void pack_row(const fern_pixel *p, uint8_t *to)
{
	unsigned x, k;
	for (x = 0; x < FERN_W; x++)
		for (k = 0; k < 3; k++)
			*to++ = (uint8_t)(p[x] >> (16 - 8 * k));
}
#endif

#ifdef ROW_BYTES
static uint8_t panel[FERN_H * ROW_BYTES];
static uint32_t packed; /* the frame that panel holds; frames count from 1 */

static const uint8_t *row(void *ctx, unsigned y)
{
	unsigned i;
	if (packed != frames(ctx)) {
		for (i = 0; i < FERN_H; i++)
			pack_row(fern_framebuffer + (size_t)i * FERN_W, panel + (size_t)i * ROW_BYTES);
		packed = frames(ctx);
	}
	return panel + (size_t)y * ROW_BYTES;
}
#else
static const uint8_t *row(void *ctx, unsigned y)
{
	(void)ctx;
	return (const uint8_t *)(fern_framebuffer + (size_t)y * FERN_W);
}
#endif

static int pattern(void *ctx, const uint8_t *args, size_t n)
{
	(void)ctx;
	awake = 1;
	return fern_pattern(args, n);
}
#endif

static void input(void *ctx, const struct fascia_event *e)
{
	(void)ctx;
	awake = 1;
	switch (e->kind) {
	case FASCIA_TOUCH_DOWN:
		fern_touch(FERN_DOWN, e->a, e->b);
		break;
	case FASCIA_TOUCH_MOVE:
		fern_touch(FERN_MOVE, e->a, e->b);
		break;
	case FASCIA_TOUCH_UP:
		fern_touch(FERN_UP, e->a, e->b);
		break;
	case FASCIA_KEY_DOWN:
	case FASCIA_KEY_UP:
		if (e->a == 7) /* the keyboard page */
			fern_key((uint16_t)e->b, e->kind == FASCIA_KEY_DOWN);
		break;
	case FASCIA_TEXT:
		fern_text(e->text);
		break;
	case FASCIA_TURN:
		fern_turn(e->a);
		break;
	case FASCIA_ROLL:
		fern_roll(e->a);
		break;
	default:
		break;
	}
}

static int set_clock(void *ctx, enum fascia_clock_op op, int64_t value)
{
	(void)ctx;
	awake = 1;
	switch (op) {
	case FASCIA_CLOCK_SET_HELD:
	case FASCIA_CLOCK_SET_RUN:
		fern_clock_set(value / 1000);
		fern_clock_hold(op == FASCIA_CLOCK_SET_HELD);
		return FASCIA_OK;
	case FASCIA_CLOCK_HOLD:
	case FASCIA_CLOCK_RUN:
		fern_clock_hold(op == FASCIA_CLOCK_HOLD);
		return FASCIA_OK;
	case FASCIA_CLOCK_STEP:
		fern_clock_step((uint32_t)value);
		return FASCIA_OK;
	default:
		return FASCIA_BAD_VALUE;
	}
}

static int feed(void *ctx, const char *name, const char *value)
{
	int r = fern_feed(name, value);
	(void)ctx;
	awake = 1;
	return r == 0 ? FASCIA_OK : r == -1 ? FASCIA_UNKNOWN_NAME : FASCIA_BAD_VALUE;
}

/* Appends to text as far as it goes; the list items of this device are short. */
static char *add(char *to, const char *end, const char *from)
{
	while (*from && to < end)
		*to++ = *from++;
	*to = 0;
	return to;
}

static char *add_number(char *to, const char *end, int32_t v)
{
	char digits[12];
	unsigned i = sizeof digits - 1;
	uint32_t u = v < 0 ? 0u - (uint32_t)v : (uint32_t)v;
	digits[i] = 0;
	do
		digits[--i] = (char)('0' + u % 10);
	while (u /= 10);
	if (v < 0)
		digits[--i] = '-';
	return add(to, end, digits + i);
}

static int list(void *ctx, enum fascia_list what, unsigned i, char *text, size_t size)
{
	static const struct {
		const char *name;
		uint16_t usage;
	} keys[] = {{"left", FERN_KEY_LEFT}, {"right", FERN_KEY_RIGHT}, {"enter", FERN_KEY_OK}, {"escape", FERN_KEY_BACK}};
	static const char hex[] = "0123456789abcdef";
	const char *name = 0, *end = text + size - 1;
	int32_t value = 0;
	uint8_t rgb[3] = {0, 0, 0};
	int rect[4], k;
	char *p;
	(void)ctx;
	switch (what) {
	case FASCIA_LIST_FEEDS:
		name = fern_feed_name((int)i);
		break;
	case FASCIA_LIST_GAUGES:
		name = fern_gauge((int)i, &value);
		break;
	case FASCIA_LIST_LAMPS:
		name = fern_lamp((int)i, rgb);
		break;
	case FASCIA_LIST_TARGETS:
		name = fern_anchor((int)i, rect);
		break;
	case FASCIA_LIST_KEYS:
		name = i < sizeof keys / sizeof keys[0] ? keys[i].name : 0;
		break;
	}
	if (!name)
		return 0;
	p = add(text, end, name);
	if (what == FASCIA_LIST_GAUGES) {
		add_number(add(p, end, "="), end, value);
	} else if (what == FASCIA_LIST_LAMPS) {
		p = add(p, end, "=#");
		for (k = 0; k < 6; k++) {
			char digit[2] = {hex[rgb[k / 2] >> (k % 2 ? 0 : 4) & 15], 0};
			p = add(p, end, digit);
		}
	} else if (what == FASCIA_LIST_TARGETS) {
		for (k = 0; k < 4; k++)
			p = add_number(add(p, end, k ? "," : "="), end, rect[k]);
	} else if (what == FASCIA_LIST_KEYS) {
		add_number(add(p, end, "=7:"), end, keys[i].usage);
	}
	return 1;
}

void fern_agent_boot(const struct fern_line *line, uint32_t boot_id, uint8_t reset_reason)
{
	const struct fascia_panel size = {FERN_W, FERN_H, FERN_FORMAT, 0};
	wire = *line;
	id.device = "fernhouse";
	id.build = FERN_BUILD;
	id.firmware = fern_version();
	id.library = fern_library();
	id.boot_id = boot_id;
	id.reset_reason = reset_reason;
	id.inputs = 1u << FASCIA_TOUCH_DOWN | 1u << FASCIA_TOUCH_MOVE | 1u << FASCIA_TOUCH_UP | 1u << FASCIA_KEY_DOWN |
		    1u << FASCIA_KEY_UP | 1u << FASCIA_TEXT | 1u << FASCIA_TURN | 1u << FASCIA_ROLL;
	memset(&port, 0, sizeof port);
	port.now_ms = now_ms;
	port.read = take;
	port.write = give;
#ifdef FERN_STRIP
	port.tiles = tiles;
#else
	port.row = row;
	port.pattern = pattern;
#endif
	port.frames = frames;
	port.busy = busy;
	port.redraw = redraw;
	port.input = input;
	port.clock = set_clock;
	port.feed = feed;
	port.list = list;
	port.reset = reset;
	fascia_init(&agent, &port, &id, &size);
#ifdef ROW_BYTES
	packed = 0;
#endif
	fern_boot(1);
	awake = 1;
}

int fern_agent_turn(void)
{
	uint32_t now = wire.now_ms(wire.ctx);
	if (!fascia_holding(&agent) && !fern_pattern_shown() && (awake || now - drawn >= UI_PERIOD_MS)) {
		awake = 0;
		drawn = now;
		fern_step(now);
	}
	return fascia_poll(&agent);
}

void fern_agent_user(const struct fascia_event *e)
{
	input(0, e);
	fascia_observed(&agent, e);
}

void fern_agent_stir(uint32_t entropy)
{
	id.boot_id = (id.boot_id ^ entropy) * 2654435761u;
}

int fern_agent_may_log(void)
{
	return !fascia_mid_frame(&agent);
}
