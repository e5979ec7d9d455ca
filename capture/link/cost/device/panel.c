/* A twin whose panel shows what the host wrote into its memory: the device end of `bench cost`.
 * Built by go generate; see capture/link/cost. */
#include "../../agent/fascia_agent.h"

#include <string.h>

#define EXPORT(name) __attribute__((export_name(name)))
#define PIXELS_MAX (16u << 20)

static uint8_t pixels[PIXELS_MAX], palette[256][3];
static uint8_t in[512];
static struct {
	uint32_t len;
	uint8_t bytes[8192];
} out;
static uint32_t now, frames = 1, in_len, in_pos, stride;
static struct fascia_agent agent;
static struct fascia_port port;
static struct fascia_identity id = {"panel", "cost", "", "", 1, FASCIA_RESET_POWER, 0};
static struct fascia_panel panel = {32, 16, FASCIA_RGB565_LE, 0};

static uint32_t cb_now(void *ctx) { (void)ctx; return now; }
static uint32_t cb_frames(void *ctx) { (void)ctx; return frames; }
static int cb_busy(void *ctx) { (void)ctx; return 0; }
static const uint8_t *cb_row(void *ctx, unsigned y) { (void)ctx; return pixels + (size_t)y * stride; }
static void cb_palette(void *ctx, unsigned i, uint8_t rgb[3]) { (void)ctx; memcpy(rgb, palette[i & 255], 3); }

static size_t cb_read(void *ctx, uint8_t *to, size_t max)
{
	size_t n = in_len - in_pos;
	(void)ctx;
	n = n < max ? n : max;
	memcpy(to, in + in_pos, n);
	in_pos += (uint32_t)n;
	return n;
}

static size_t cb_write(void *ctx, const uint8_t *from, size_t n)
{
	size_t room = sizeof out.bytes - out.len;
	(void)ctx;
	n = n < room ? n : room;
	memcpy(out.bytes + out.len, from, n);
	out.len += (uint32_t)n;
	return n;
}

EXPORT("fascia_twin_in") uint8_t *twin_in(void) { return in; }
EXPORT("fascia_twin_in_size") uint32_t twin_in_size(void) { return sizeof in; }
EXPORT("fascia_twin_out") void *twin_out(void) { return &out; }

EXPORT("fascia_twin_boot") void twin_boot(uint32_t boot_id, uint32_t reason)
{
	id.boot_id = boot_id;
	id.reset_reason = (uint8_t)reason;
	port.now_ms = cb_now;
	port.frames = cb_frames;
	port.busy = cb_busy;
	port.row = cb_row;
	port.read = cb_read;
	port.write = cb_write;
	port.palette = cb_palette;
	fascia_init(&agent, &port, &id, &panel);
}

EXPORT("fascia_twin_step") uint32_t twin_step(uint32_t at_ms, uint32_t bytes)
{
	unsigned turn;
	now = at_ms;
	in_pos = 0;
	in_len = bytes;
	for (turn = 0; turn < 64 && out.len < sizeof out.bytes / 2; turn++)
		if (!fascia_poll(&agent) && in_pos == in_len)
			return 0;
	return 1;
}

/* Says what the panel is like; the pixels, rows of that many bytes, are to be written behind the
 * address that is returned, and the palette behind palette_at. 0: too large. */
EXPORT("panel_shape") uint8_t *panel_shape(uint32_t width, uint32_t height, uint32_t format, uint32_t row_bytes)
{
	if (width > 4080 || height > 4080 || (uint64_t)row_bytes * height > PIXELS_MAX)
		return 0;
	panel.width = (uint16_t)width;
	panel.height = (uint16_t)height;
	panel.format = (uint8_t)format;
	panel.colours = format == FASCIA_PALETTE8 ? 256 : 0;
	stride = row_bytes;
	frames++;
	fascia_panel_changed(&agent, &panel);
	return pixels;
}

/* The palette, three bytes an entry. */
EXPORT("panel_palette") uint8_t *panel_palette(void) { return palette[0]; }

