/* fascia agent, see fascia_agent.h. The bytes are specified in capture/link/PROTOCOL.md; the
 * section names below are those of that page.
 *
 * SPDX-License-Identifier: Apache-2.0 */
#include "fascia_agent.h"

#include <string.h>

enum { /* kinds of request; a reply has the high bit set */
	LOOK = 0x01,
	RELEASE = 0x02,
	STREAMS = 0x10, /* from here: answered in pieces */
	HELLO = 0x10,
	BANDS = 0x11,
	TILES = 0x12,
	READ = 0x13,
	PALETTE = 0x14,
	LIST = 0x15,
	OBSERVED = 0x16,
	ACTIONS = 0x20, /* from here: done once, however often they arrive */
	INPUT = 0x20,
	WAIT = 0x21,
	CLOCK = 0x22,
	FEED = 0x23,
	PATTERN = 0x24,
	OBSERVE = 0x25,
	RESET = 0x26
};

enum { OK = 0, MOVING = 1, UNKNOWN = 2, MALFORMED = 3, UNSUPPORTED = 7 };
enum { MORE = 0, END = 1, VOID = 2 }; /* the last byte of a piece */
enum { CODEC_RAW = 0, CODEC_RUNS = 1 };
enum { LOOK_REDRAW = 1, LOOK_HOLD = 2 };
enum { RUN_NONE = 0, RUN_LEFT = 1, RUN_ABOVE = 2, RUN_LITERAL = 3 };

#define STREAM_ARGS 8   /* chunk, offset, length */
#define ROOM 16         /* no step below puts more bytes at once between two looks at the room */
#define CELLS_A_STEP 512 /* bounds the encoder's work per call */

/* ---- numbers ------------------------------------------------------------------------------- */

static uint32_t get(const uint8_t *p, unsigned n)
{
	uint32_t v = 0;
	while (n-- > 0)
		v = v << 8 | p[n];
	return v;
}

static void set(uint8_t *p, uint32_t v, unsigned n)
{
	for (; n > 0; n--, v >>= 8)
		*p++ = (uint8_t)v;
}

/* CRC-32/ISO-HDLC a nibble at a time: 64 bytes of table instead of 1,024. */
static uint32_t crc32(uint32_t crc, uint8_t byte)
{
	static const uint32_t table[16] = {
		0x00000000, 0x1db71064, 0x3b6e20c8, 0x26d930ac, 0x76dc4190, 0x6b6b51f4, 0x4db26158, 0x5005713c,
		0xedb88320, 0xf00f9344, 0xd6d6a3e8, 0xcb61b38c, 0x9b64c2b0, 0x86d3d2d4, 0xa00ae278, 0xbdbdf21c};
	crc ^= byte;
	crc = crc >> 4 ^ table[crc & 15];
	return crc >> 4 ^ table[crc & 15];
}

/* ---- sending: COBS --------------------------------------------------------------------------- */

static unsigned room(const struct fascia_agent *a)
{
	return FASCIA_TX_SIZE - (unsigned)a->tx_len;
}

/* Offers what is ready to the line, then closes the gap so that the open block can grow. */
static void drain(struct fascia_agent *a, uint32_t now)
{
	if (a->tx_sent < a->tx_ready) {
		size_t n = a->port->write(a->port->ctx, a->tx + a->tx_sent, (size_t)(a->tx_ready - a->tx_sent));
		a->tx_sent = (uint16_t)(a->tx_sent + n);
		if (n > 0)
			a->heard = now; /* the host is listening: a long answer must not end its hold */
	}
	if (a->tx_sent == 0 || a->tx_sent < a->tx_ready)
		return;
	memmove(a->tx, a->tx + a->tx_ready, (size_t)(a->tx_len - a->tx_ready));
	a->tx_len = (uint16_t)(a->tx_len - a->tx_ready);
	a->tx_code = (uint16_t)(a->tx_code - a->tx_ready);
	a->tx_ready = a->tx_sent = 0;
}

static void close_block(struct fascia_agent *a)
{
	a->tx[a->tx_code] = (uint8_t)(a->tx_len - a->tx_code);
	a->tx_ready = a->tx_code = a->tx_len;
	a->tx_len++;
}

static void put_coded(struct fascia_agent *a, uint8_t byte)
{
	if (byte == 0) {
		close_block(a);
		return;
	}
	a->tx[a->tx_len++] = byte;
	if (a->tx_len - a->tx_code == 255)
		close_block(a);
}

static void put(struct fascia_agent *a, uint32_t v, unsigned bytes)
{
	for (; bytes > 0; bytes--, v >>= 8) {
		a->tx_crc = crc32(a->tx_crc, (uint8_t)v);
		put_coded(a, (uint8_t)v);
	}
}

/* Opens a reply frame: delimiter, kind, tag, status, boot id, frame counter. 11 bytes at most. */
static void open_frame(struct fascia_agent *a, unsigned code)
{
	a->tx[a->tx_len++] = 0;
	a->tx_ready = a->tx_code = a->tx_len;
	a->tx_len++;
	a->tx_crc = 0xffffffff;
	a->tx_open = 1;
	put(a, a->kind | 0x80u, 1);
	put(a, a->tag, 1);
	put(a, code | (uint32_t)(a->generation & 7u) << 5, 1);
	put(a, a->id.boot_id, 4);
	a->mark = a->port->frames(a->port->ctx);
	put(a, a->mark, 2);
}

static void close_frame(struct fascia_agent *a)
{
	uint32_t crc = ~a->tx_crc;
	unsigned i;
	for (i = 0; i < 4; i++, crc >>= 8)
		put_coded(a, (uint8_t)crc);
	a->tx[a->tx_code] = (uint8_t)(a->tx_len - a->tx_code);
	a->tx[a->tx_len++] = 0;
	a->tx_ready = a->tx_len;
	a->tx_open = 0;
}

/* Gives up a frame half way: what has left fails its CRC at the host, which asks again. */
static void drop_frame(struct fascia_agent *a)
{
	if (!a->tx_open)
		return;
	a->tx_len = a->tx_ready;
	a->tx[a->tx_len++] = 0;
	a->tx_ready = a->tx_len;
	a->tx_open = 0;
}

/* A whole short reply. The caller has seen that nothing is waiting to be sent. */
static void reply(struct fascia_agent *a, unsigned code, uint32_t v, unsigned bytes, uint32_t w)
{
	open_frame(a, code);
	put(a, v, bytes < 4 ? bytes : 4);
	if (bytes > 4)
		put(a, w, bytes - 4);
	close_frame(a);
	a->kind = 0;
}

/* ---- cells: what hash and codec see ----------------------------------------------------------- */

struct grid {
	unsigned cells, rows;           /* of the panel */
	unsigned bytes;                 /* of a cell */
	unsigned tile_cells, tile_rows; /* of a tile */
	unsigned tiles, bands;          /* tiles side by side, bands of tiles */
};

static struct grid grid_of(const struct fascia_panel *p)
{
	struct grid g;
	unsigned bits = p->format >= FASCIA_GREY8 ? 8 : p->format == FASCIA_GREY2 ? 2 : p->format == FASCIA_GREY4 ? 4 : 1;
	g.bytes = p->format == FASCIA_XRGB8888 ? 4 : p->format == FASCIA_RGB888 ? 3 : p->format >= FASCIA_RGB565_LE ? 2 : 1;
	g.cells = (p->width * bits + 7) / 8;
	g.rows = p->height;
	g.tile_cells = FASCIA_TILE_W * bits / 8;
	g.tile_rows = FASCIA_TILE_H;
	if (p->format == FASCIA_MONO_PAGES) {
		g.cells = p->width;
		g.rows = (p->height + 7u) / 8;
		g.tile_cells = FASCIA_TILE_W;
		g.tile_rows = FASCIA_TILE_H / 8;
	}
	g.tiles = (g.cells + g.tile_cells - 1) / g.tile_cells;
	g.bands = (g.rows + g.tile_rows - 1) / g.tile_rows;
	return g;
}

static const uint8_t *row(const struct fascia_agent *a, unsigned y)
{
	return a->port->row(a->port->ctx, y);
}

/* ---- hash ------------------------------------------------------------------------------------ */

/* lowbias32 of C. Wellons, a bijection with good avalanche; from memory, its quality is tested. */
static uint32_t mix(uint32_t x)
{
	x = (x ^ x >> 16) * 0x7feb352du;
	x = (x ^ x >> 15) * 0x846ca68bu;
	return x ^ x >> 16;
}

/* Weights of the words of a tile's row: mix(i + 1) | 1, held against that formula by the tests. */
static const uint32_t weight[32] = {
	0x688990c1u, 0xd1132181u, 0x53f1e9ddu, 0xd97e5ed1u,
	0x5c45d53fu, 0xa7e3d3bbu, 0x948ba1e7u, 0xea535fbbu,
	0x429fd5abu, 0xb88baa7du, 0x0428f9fbu, 0x9cdc746du,
	0x3dbfcff1u, 0xad83bce7u, 0xf9f63447u, 0x21bd4a6fu,
	0x4ca56ae5u, 0x09abdd59u, 0x1abb2f91u, 0x240001edu,
	0x495d7671u, 0x8cbe2e8fu, 0x2adbcac3u, 0x711006fbu,
	0x044e98a9u, 0x7b7f9fe3u, 0x37bc09cbu, 0x925c5b09u,
	0x8668d879u, 0xf3ed688fu, 0x42023635u, 0x14fd6ad3u,
};

/* The words of a tile's row, low byte first; the last may be short and is filled up with zeros. */
static uint32_t word(const uint8_t *p, unsigned left)
{
	if (left >= 4)
		return p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
	return get(p, left);
}

/* Adds one tile to sum[0] (its own hash) and sum[1] (its share of the frame's second lane). */
static void hash_tile(const struct fascia_agent *a, const struct grid *g, unsigned tx, unsigned ty, uint32_t sum[2])
{
	unsigned y0 = ty * g->tile_rows, y1 = y0 + g->tile_rows;
	unsigned x0 = tx * g->tile_cells, n = g->cells - x0;
	uint32_t mask = a->panel.format == FASCIA_XRGB8888 ? 0x00ffffff : 0xffffffff;
	unsigned r;
	n = (n < g->tile_cells ? n : g->tile_cells) * g->bytes;
	y1 = y1 < g->rows ? y1 : g->rows;
	sum[0] = sum[1] = 0;
	for (r = 0; y0 + r < y1; r++) {
		const uint8_t *p = row(a, y0 + r) + (size_t)x0 * g->bytes;
		uint32_t s = 0, q = 0, b = mix(r + 101) | 1;
		unsigned i;
#ifdef __wasm__ /* on a twin each turn of a loop is counted, so that an endless one can be ended */
#pragma clang loop unroll_count(8)
#endif
		for (i = 0; i * 4 < n; i++) {
			uint32_t u = word(p + (size_t)i * 4, n - i * 4) & mask;
			u = (u ^ 0x5bd1e995u) * 0x9e3779b1u;
			u ^= u >> 15;
			s += weight[i] * u;
			u *= 0x85ebca77u;
			u ^= u >> 13;
			q += weight[i] * u;
		}
		sum[0] += b * s;
		sum[1] += b * q;
	}
}

static uint32_t tile_key(const struct grid *g, unsigned tx, unsigned ty)
{
	return mix(ty * g->tiles + tx + 1001) | 1;
}

/* Adds one band to the frame's two lanes; the first lane alone is the band's hash. */
static void hash_band(const struct fascia_agent *a, const struct grid *g, unsigned ty, uint32_t lane[2])
{
	unsigned tx;
	for (tx = 0; tx < g->tiles; tx++) {
		uint32_t sum[2], key = tile_key(g, tx, ty);
		hash_tile(a, g, tx, ty, sum);
		lane[0] += mix(sum[0] + key);
		lane[1] += key * sum[1];
	}
}

/* ---- the run codec --------------------------------------------------------------------------- */

static uint32_t cell(const struct fascia_agent *a, const struct grid *g, unsigned x, unsigned y)
{
	const uint8_t *p = row(a, y) + (size_t)x * g->bytes;
	if (g->bytes == 1)
		return p[0];
	if (g->bytes == 2)
		return a->panel.format == FASCIA_RGB565_BE ? (uint32_t)p[0] << 8 | p[1] : p[0] | (uint32_t)p[1] << 8;
	return p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16; /* the unused byte of XRGB8888 is left out */
}

/* Moves to the next rectangle of the request; 0 when there is none. */
static int next_rect(struct fascia_agent *a, const struct grid *g)
{
	const uint8_t *r = a->args + STREAM_ARGS + 1 + (size_t)a->enc.rect * 4;
	unsigned x1, y1;
	if (a->arg_len == STREAM_ARGS + 1) { /* no rectangles: the whole panel */
		if (a->enc.rect++ > 0)
			return 0;
		a->enc.x = a->enc.x0 = a->enc.y = a->enc.y0 = 0;
		a->enc.x1 = (uint16_t)g->cells;
		a->enc.y1 = (uint16_t)g->rows;
		return 1;
	}
	if (r >= a->args + a->arg_len)
		return 0;
	a->enc.rect++;
	a->enc.x = a->enc.x0 = (uint16_t)(r[0] * g->tile_cells);
	a->enc.y = a->enc.y0 = (uint16_t)(r[1] * g->tile_rows);
	x1 = (unsigned)(r[0] + r[2]) * g->tile_cells;
	y1 = (unsigned)(r[1] + r[3]) * g->tile_rows;
	a->enc.x1 = (uint16_t)(x1 < g->cells ? x1 : g->cells);
	a->enc.y1 = (uint16_t)(y1 < g->rows ? y1 : g->rows);
	return 1;
}

static void step_cell(struct fascia_agent *a)
{
	if (++a->enc.x == a->enc.x1) {
		a->enc.x = a->enc.x0;
		a->enc.y++;
	}
}

/* Which run goes on longer from here? They are followed side by side until one breaks off. */
static unsigned longer_run(const struct fascia_agent *a, const struct grid *g, uint32_t c)
{
	unsigned x = a->enc.x, y = a->enc.y, n;
	int left = c == a->enc.left, above = y > a->enc.y0 && c == cell(a, g, x, y - 1);
	for (n = 0; left && above && n < 64; n++) {
		if (++x == a->enc.x1) {
			x = a->enc.x0;
			if (++y == a->enc.y1)
				break;
		}
		c = cell(a, g, x, y);
		left = c == a->enc.left;
		above = c == cell(a, g, x, y - 1);
	}
	return left ? RUN_LEFT : above ? RUN_ABOVE : RUN_NONE;
}

static void op_byte(struct fascia_agent *a, unsigned byte)
{
	a->op[a->op_len++] = (uint8_t)byte;
}

static void op_run(struct fascia_agent *a)
{
	unsigned n = a->enc.run, top = (a->enc.kind - 1u) << 6;
	a->enc.kind = RUN_NONE;
	if (n <= 62) {
		op_byte(a, top | (n - 1));
	} else if (n <= 317) {
		op_byte(a, top | 62);
		op_byte(a, n - 62);
	} else {
		op_byte(a, top | 63);
		op_byte(a, n & 255);
		op_byte(a, n >> 8);
	}
}

/* A step of -1, 0 or 1 in each channel as 0..26, or 27 when it is more than that. */
static unsigned small_step(const struct fascia_agent *a, uint32_t c)
{
	uint32_t l = a->enc.left;
	unsigned r, g, b;
	switch (a->panel.format) {
	case FASCIA_GREY8:
		r = c - l + 13;
		return r < 27 ? r : 27;
	case FASCIA_RGB565_LE:
	case FASCIA_RGB565_BE:
		r = (c >> 11) - (l >> 11) + 1;
		g = (c >> 5 & 63) - (l >> 5 & 63) + 1;
		b = (c & 31) - (l & 31) + 1;
		break;
	case FASCIA_RGB888:
	case FASCIA_XRGB8888:
		r = (c >> 16) - (l >> 16) + 1;
		g = (c >> 8 & 255) - (l >> 8 & 255) + 1;
		b = (c & 255) - (l & 255) + 1;
		break;
	default:
		return 27;
	}
	return r < 3 && g < 3 && b < 3 ? r * 9 + g * 3 + b : 27;
}

static void op_literal(struct fascia_agent *a, const struct grid *g, uint32_t c)
{
	unsigned n = g->bytes < 3 ? g->bytes : 3;
	if (a->enc.kind != RUN_LITERAL) {
		a->enc.kind = RUN_LITERAL;
		a->enc.run = 0;
		op_byte(a, 0xe0);
	} else {
		a->op[0]++;
	}
	if (a->panel.format == FASCIA_RGB565_BE)
		c = (c >> 8 | c << 8) & 0xffff;
	set(a->op + a->op_len, c, n);
	a->op_len = (uint8_t)(a->op_len + n);
	a->enc.run++;
}

/* Encodes on until an op is whole (1) or the work of one call is done (0). */
static int next_run(struct fascia_agent *a, const struct grid *g)
{
	unsigned budget = CELLS_A_STEP, limit = g->bytes < 3 ? 32 : 21; /* literals in an op: 64 bytes at most */
	for (; budget > 0; budget--) {
		uint32_t c;
		unsigned slot, kind;
		if (a->enc.y == a->enc.y1 && !next_rect(a, g)) {
			if (a->enc.kind == RUN_LEFT || a->enc.kind == RUN_ABOVE)
				op_run(a);
			else if (a->op_len == 0)
				a->op_end = 1;
			a->enc.kind = RUN_NONE;
			return 1;
		}
		c = cell(a, g, a->enc.x, a->enc.y);
		if (a->enc.kind == RUN_LEFT || a->enc.kind == RUN_ABOVE) {
			int on = a->enc.kind == RUN_LEFT ? c == a->enc.left
							 : a->enc.y > a->enc.y0 && c == cell(a, g, a->enc.x, a->enc.y - 1u);
			if (!on || a->enc.run == 0xffff) {
				op_run(a);
				return 1;
			}
			a->enc.left = c;
			a->enc.run++;
			step_cell(a);
			continue;
		}
		kind = longer_run(a, g, c);
		slot = (c * 0x9e3779b1u) >> 26;
		if (kind == RUN_NONE && a->enc.cache[slot] != c && small_step(a, c) == 27) {
			op_literal(a, g, c);
			a->enc.cache[slot] = (c);
			a->enc.left = c;
			step_cell(a);
			if (a->enc.run < limit)
				continue;
			a->enc.kind = RUN_NONE;
			return 1;
		}
		if (a->enc.kind == RUN_LITERAL) { /* the literals end here; this cell starts the next op */
			a->enc.kind = RUN_NONE;
			return 1;
		}
		if (kind != RUN_NONE) {
			a->enc.kind = (uint8_t)kind;
			a->enc.run = 0;
			continue;
		}
		if (a->enc.cache[slot] == c)
			op_byte(a, 0x80 | slot);
		else
			op_byte(a, 0xc0 | small_step(a, c));
		a->enc.cache[slot] = (c);
		a->enc.left = c;
		step_cell(a);
		return 1;
	}
	return 0;
}

static int next_raw(struct fascia_agent *a, const struct grid *g)
{
	unsigned n = g->bytes < 3 ? g->bytes : 3;
	while (a->op_len + n <= 64) {
		const uint8_t *p;
		if (a->enc.y == a->enc.y1 && !next_rect(a, g)) {
			a->op_end = a->op_len == 0;
			return 1;
		}
		p = row(a, a->enc.y) + (size_t)a->enc.x * g->bytes;
		memcpy(a->op + a->op_len, p, n);
		a->op_len = (uint8_t)(a->op_len + n);
		step_cell(a);
	}
	return 1;
}

/* ---- streams --------------------------------------------------------------------------------- */

static uint32_t capabilities(const struct fascia_agent *a)
{
	const struct fascia_port *p = a->port;
	return (a->id.inputs & 0xfffeu) | (p->redraw ? 1u << 16 : 0) | (p->clock ? 1u << 17 : 0) |
	       (p->feed ? 1u << 18 : 0) | (p->list ? 1u << 19 : 0) | (p->pattern ? 1u << 20 : 0) |
	       (p->reset ? 1u << 21 : 0) | 1u << 22 /* observed */ | 1u << 23 /* hold */ |
	       1u << 24 /* the framebuffer is what was flushed */;
}

static void op_text(struct fascia_agent *a, const char *text)
{
	size_t n = strlen(text);
	n = n < 63 ? n : 63;
	memcpy(a->op, text, n);
	a->op[n] = 0;
	a->op_len = (uint8_t)(n + 1);
}

static int next_hello(struct fascia_agent *a)
{
	const char *const text[4] = {a->id.device, a->id.build, a->id.firmware, a->id.library};
	if (a->item == 0) {
		op_byte(a, FASCIA_PROTOCOL);
		op_byte(a, a->id.reset_reason);
		op_byte(a, a->panel.format);
		set(a->op + 3, a->panel.width, 2);
		set(a->op + 5, a->panel.height, 2);
		set(a->op + 7, a->panel.colours, 2);
		set(a->op + 9, capabilities(a), 4);
		set(a->op + 13, FASCIA_REQUEST_MAX, 2);
		set(a->op + 15, a->port->now_ms(a->port->ctx), 4);
		a->op_len = 19;
	} else if (a->item <= 4) {
		op_text(a, text[a->item - 1] ? text[a->item - 1] : "");
	} else {
		a->op_end = 1;
	}
	a->item++;
	return 1;
}

static int next_hash(struct fascia_agent *a, const struct grid *g)
{
	uint32_t sum[2] = {0, 0};
	if (a->kind == TILES)
		while (a->band < g->bands && !(a->args[STREAM_ARGS + a->band / 8] >> (a->band % 8) & 1))
			a->band++;
	if (a->band >= g->bands) {
		a->op_end = 1;
		return 1;
	}
	if (a->kind == BANDS) {
		hash_band(a, g, a->band++, sum);
	} else {
		hash_tile(a, g, a->item, a->band, sum);
		if (++a->item == g->tiles) {
			a->item = 0;
			a->band++;
		}
	}
	set(a->op, sum[0], 4);
	a->op_len = 4;
	return 1;
}

static int next_item(struct fascia_agent *a)
{
	char text[64];
	size_t n;
	if (!a->port->list(a->port->ctx, (enum fascia_list)a->args[STREAM_ARGS], a->item, text, sizeof text)) {
		a->op_end = 1;
		return 1;
	}
	a->item++;
	text[sizeof text - 1] = 0;
	n = strlen(text);
	memcpy(a->op, text, n);
	a->op[n] = '\n';
	a->op_len = (uint8_t)(n + 1);
	return 1;
}

static int next_seen(struct fascia_agent *a)
{
	unsigned i;
	if (a->item == 0) { /* from the oldest that is kept and that the host does not know */
		uint16_t after = (uint16_t)get(a->args + STREAM_ARGS, 2), kept = (uint16_t)(a->seen_next - 1);
		uint16_t unknown = (uint16_t)(kept - after);
		unknown = unknown < FASCIA_OBSERVED ? unknown : FASCIA_OBSERVED;
		a->item = (uint16_t)(a->seen_next - (unknown < kept ? unknown : kept));
	}
	if (a->item == a->seen_next) {
		a->op_end = 1;
		return 1;
	}
	i = a->item % FASCIA_OBSERVED;
	set(a->op, a->item, 2);
	set(a->op + 2, a->seen[i].ms, 4);
	a->op[6] = a->seen[i].kind;
	set(a->op + 7, (uint16_t)a->seen[i].a, 2);
	set(a->op + 9, (uint16_t)a->seen[i].b, 2);
	a->op[11] = a->seen[i].c;
	a->op_len = 12;
	a->item++;
	return 1;
}

/* Makes the next piece of the reply in op; 0 when that needs another call. */
static int next(struct fascia_agent *a)
{
	struct grid g = grid_of(&a->panel);
	if (a->enc.kind != RUN_LITERAL)
		a->op_len = 0;
	a->op_pos = 0;
	switch (a->kind) {
	case HELLO:
		return next_hello(a);
	case READ:
		return a->args[STREAM_ARGS] == CODEC_RUNS ? next_run(a, &g) : next_raw(a, &g);
	case LIST:
		return next_item(a);
	case OBSERVED:
		return next_seen(a);
	case PALETTE:
		if (a->item >= a->panel.colours) {
			a->op_end = 1;
			return 1;
		}
		a->port->palette(a->port->ctx, a->item++, a->op);
		a->op_len = 3;
		return 1;
	default:
		return next_hash(a, &g);
	}
}

static void close_piece(struct fascia_agent *a, unsigned tail)
{
	if (a->mark != a->port->frames(a->port->ctx))
		tail = VOID; /* something was drawn since the frame was opened */
	put(a, tail, 1);
	close_frame(a);
}

/* Sends the pieces of a stream that lie in the window asked for. Nothing is kept for a repeat:
 * the same request makes the same bytes, and those before the window are made and dropped. */
static int pump(struct fascia_agent *a)
{
	unsigned puts = 0;
	while (room(a) >= ROOM && puts < 256) {
		if ((a->op_pos == a->op_len || a->enc.kind == RUN_LITERAL) && !a->op_end) {
			if (!next(a))
				return 1;
			puts += 4;
		}
		if (a->op_pos == a->op_len && a->op_end) {
			if (!a->tx_open) {
				open_frame(a, OK);
				put(a, a->offset, 3);
			} else {
				close_piece(a, END);
				a->kind = 0;
				return 1;
			}
			continue;
		}
		if (a->offset < a->first) {
			uint32_t n = a->first - a->offset, here = (uint32_t)(a->op_len - a->op_pos);
			n = n < here ? n : here;
			a->op_pos = (uint8_t)(a->op_pos + n);
			a->offset += n;
			continue;
		}
		if (a->tx_open && (a->chunk_left == 0 || a->offset == a->end)) {
			close_piece(a, MORE);
			if (a->offset == a->end) {
				a->kind = 0;
				return 1;
			}
			continue;
		}
		if (!a->tx_open) {
			open_frame(a, OK);
			put(a, a->offset, 3);
			a->chunk_left = a->chunk;
			continue;
		}
		put(a, a->op[a->op_pos++], 1);
		a->offset++;
		a->chunk_left--;
		puts++;
	}
	return 1;
}

/* ---- look ------------------------------------------------------------------------------------ */

static int look(struct fascia_agent *a, uint32_t now)
{
	struct grid g = grid_of(&a->panel);
	unsigned flags = a->args[0], still = get(a->args + 1, 2), latest = get(a->args + 3, 2);
	int late = now - a->t0 >= latest;
	if (a->stage == 0) {
		if (now - a->t1 < still && !late)
			return 0;
		if (flags & LOOK_HOLD)
			a->holding = 1;
		if (flags & LOOK_REDRAW)
			a->port->redraw(a->port->ctx);
		a->look_code = now - a->t1 < still ? MOVING : OK;
		a->stage = 1;
	}
	if (a->stage == 1) { /* start hashing, band by band */
		a->mark = a->port->frames(a->port->ctx);
		a->hash[0] = mix(a->panel.width | (uint32_t)a->panel.height << 16);
		a->hash[1] = a->panel.format;
		a->band = 0;
		a->stage = 2;
	}
	if (a->band < g.bands) {
		hash_band(a, &g, a->band++, a->hash);
		return 1;
	}
	if (a->mark != a->port->frames(a->port->ctx)) { /* drawn meanwhile: begin again */
		a->stage = late ? 1 : 0;
		a->look_code = MOVING;
		if (!late)
			return 1;
	}
	reply(a, a->look_code, a->hash[0], 8, a->hash[1]);
	return 1;
}

/* ---- actions --------------------------------------------------------------------------------- */

static void finish(struct fascia_agent *a, unsigned code, uint32_t now)
{
	a->done_kind = a->kind;
	a->done_tag = a->tag;
	a->done_code = (uint8_t)code;
	a->done_value = now;
	a->t1 = now; /* stillness counts from the last action on */
	reply(a, code, now, 4, 0);
}

static int input(struct fascia_agent *a, uint32_t now)
{
	struct fascia_event e;
	unsigned after = get(a->args, 2);
	uint32_t due = a->last_input + after;
	e.kind = a->args[2];
	if (after > 0 && (int32_t)(now - due) < 0 && due - now <= after)
		return 0;
	e.c = 0;
	e.a = e.b = 0;
	e.text = "";
	if (e.kind == FASCIA_TEXT) {
		a->args[a->arg_len] = 0; /* there is room: two bytes of a request are kind and tag */
		e.text = (const char *)a->args + 3;
	} else if (a->arg_len == 8) {
		e.a = (int16_t)get(a->args + 3, 2);
		e.b = (int16_t)get(a->args + 5, 2);
		e.c = a->args[7];
	} else {
		finish(a, MALFORMED, now);
		return 1;
	}
	if (e.kind > 15 || !(a->id.inputs >> e.kind & 1) || !a->port->input) {
		finish(a, UNSUPPORTED, now);
		return 1;
	}
	a->last_input = after > 0 && now - due < 4 ? due : now; /* a little late does not add up */
	a->port->input(a->port->ctx, &e);
	finish(a, OK, now);
	return 1;
}

static unsigned set_clock(struct fascia_agent *a)
{
	int64_t value = (int64_t)((uint64_t)get(a->args + 1, 4) | (uint64_t)get(a->args + 5, 4) << 32);
	if (!a->port->clock)
		return UNSUPPORTED;
	if (a->arg_len != 9)
		return MALFORMED;
	return (unsigned)a->port->clock(a->port->ctx, (enum fascia_clock_op)a->args[0], value);
}

static unsigned feed(struct fascia_agent *a)
{
	char *name = (char *)a->args, *value;
	if (!a->port->feed)
		return UNSUPPORTED;
	a->args[a->arg_len] = 0;
	value = memchr(name, 0, a->arg_len);
	if (!value)
		return MALFORMED;
	return (unsigned)a->port->feed(a->port->ctx, name, value + 1);
}

static int act(struct fascia_agent *a, uint32_t now)
{
	unsigned code = OK;
	switch (a->kind) {
	case INPUT:
		return input(a, now);
	case WAIT:
		if (now - a->t0 < get(a->args, 4))
			return 0;
		break;
	case CLOCK:
		code = set_clock(a);
		break;
	case FEED:
		code = feed(a);
		break;
	case PATTERN:
		code = a->port->pattern ? (unsigned)a->port->pattern(a->port->ctx, a->args, a->arg_len) : UNSUPPORTED;
		break;
	case OBSERVE:
		a->observing = a->args[0];
		break;
	case RESET:
		if (!a->port->reset) {
			code = UNSUPPORTED;
			break;
		}
		if (a->stage == 0) { /* answer, and act when the answer has left */
			uint8_t kind = a->kind;
			reply(a, OK, now, 4, 0);
			a->kind = kind;
			a->stage = 1;
			return 1;
		}
		a->kind = 0;
		a->port->reset(a->port->ctx);
		return 1;
	default:
		code = UNKNOWN;
		break;
	}
	finish(a, code, now);
	return 1;
}

/* ---- receiving ------------------------------------------------------------------------------- */

/* Shortest arguments of each kind; 255 marks an unknown one. */
static unsigned least(unsigned kind)
{
	switch (kind) {
	case LOOK:
		return 5;
	case HELLO:
		return STREAM_ARGS + 2;
	case READ:
	case LIST:
		return STREAM_ARGS + 1;
	case OBSERVED:
		return STREAM_ARGS + 2;
	case BANDS:
	case TILES:
	case PALETTE:
		return STREAM_ARGS;
	case INPUT:
		return 3;
	case WAIT:
		return 4;
	case CLOCK:
	case OBSERVE:
		return 1;
	case RELEASE:
	case FEED:
	case PATTERN:
	case RESET:
		return 0;
	default:
		return 255;
	}
}

/* What is wrong with the request before it is begun; OK when nothing is. */
static unsigned check(const struct fascia_agent *a)
{
	struct grid g = grid_of(&a->panel);
	unsigned need = least(a->kind), i;
	if (need == 255)
		return UNKNOWN;
	if (a->arg_len < need)
		return MALFORMED;
	if (a->kind >= STREAMS && a->kind < ACTIONS && get(a->args, 2) == 0)
		return MALFORMED; /* a piece of no bytes never ends */
	if (a->kind == TILES && a->arg_len < STREAM_ARGS + (g.bands + 7) / 8)
		return MALFORMED;
	if (a->kind == LOOK && a->args[0] & LOOK_REDRAW && !a->port->redraw)
		return UNSUPPORTED;
	if ((a->kind == LIST && !a->port->list) || (a->kind == PALETTE && !a->port->palette))
		return UNSUPPORTED;
	if (a->kind != READ)
		return OK;
	if (a->args[STREAM_ARGS] > CODEC_RUNS)
		return UNSUPPORTED;
	if ((a->arg_len - STREAM_ARGS - 1) % 4 != 0)
		return MALFORMED;
	for (i = STREAM_ARGS + 1; i < a->arg_len; i += 4) {
		const uint8_t *r = a->args + i;
		if (r[2] == 0 || r[3] == 0 || (unsigned)(r[0] + r[2]) > g.tiles || (unsigned)(r[1] + r[3]) > g.bands)
			return MALFORMED;
	}
	return OK;
}

/* Takes the decoded request in rx as the job at hand, in place of any other. */
static void take(struct fascia_agent *a, uint32_t now)
{
	if (a->kind == a->rx[0] && a->tag == a->rx[1])
		return; /* a repeat of what is under way */
	if (a->kind == RESET && a->stage == 1)
		return; /* answered, and about to happen */
	drop_frame(a);
	a->kind = a->rx[0];
	a->tag = a->rx[1];
	a->arg_len = (uint16_t)(a->rx_len - 6);
	memcpy(a->args, a->rx + 2, a->arg_len);
	a->t0 = now;
	a->stage = 0;
	a->offset = a->op_len = a->op_pos = a->op_end = 0;
	a->first = get(a->args + 2, 3);
	a->end = get(a->args + 5, 3) ? a->first + get(a->args + 5, 3) : 0xffffffff;
	a->chunk = (uint16_t)get(a->args, 2);
	a->item = a->band = 0;
	memset(&a->enc, 0, sizeof a->enc);
	if (a->kind == HELLO)
		a->done_kind = 0;
	if (a->kind >= ACTIONS || a->kind == RELEASE)
		a->holding = 0;
}

static void receive(struct fascia_agent *a, uint32_t now)
{
	uint8_t in[32];
	size_t n = a->port->read(a->port->ctx, in, sizeof in), i;
	for (i = 0; i < n; i++) {
		uint8_t b = in[i];
		if (b == 0) {
			uint32_t crc = 0xffffffff;
			unsigned k;
			for (k = 0; k < a->rx_len; k++)
				crc = crc32(crc, a->rx[k]);
			/* a body followed by its own CRC leaves this residue */
			if (!a->rx_bad && a->rx_left == 0 && a->rx_len >= 6 && crc == 0xdebb20e3u && a->rx[0] < 0x80) {
				a->heard = now;
				take(a, now);
			}
			a->rx_len = 0;
			a->rx_left = a->rx_zero = a->rx_bad = 0;
			continue;
		}
		if (a->rx_left == 0) {
			a->rx_left = (uint8_t)(b - 1);
			if (!a->rx_zero) {
				a->rx_zero = b != 255;
				continue;
			}
			a->rx_zero = b != 255;
			b = 0;
		} else {
			a->rx_left--;
		}
		if (a->rx_len < sizeof a->rx)
			a->rx[a->rx_len++] = b;
		else
			a->rx_bad = 1; /* longer than any request; wait for the delimiter */
	}
}

/* ---- the public face ------------------------------------------------------------------------- */

void fascia_init(struct fascia_agent *a, const struct fascia_port *port, const struct fascia_identity *id,
		 const struct fascia_panel *panel)
{
	memset(a, 0, sizeof *a);
	a->port = port;
	a->id = *id;
	a->panel = *panel;
	a->seen_next = 1;
	a->last_frames = port->frames(port->ctx);
	a->t1 = port->now_ms(port->ctx);
}

void fascia_panel_changed(struct fascia_agent *a, const struct fascia_panel *panel)
{
	a->panel = *panel;
	a->generation++;
	if (a->kind == LOOK) {
		a->stage = 0; /* its answer tells the host of the new panel */
	} else if (a->kind < ACTIONS) { /* what is being read no longer exists; the host asks again */
		drop_frame(a);
		a->kind = 0;
	}
}

/* Takes the job at hand a step further. */
static int work(struct fascia_agent *a, uint32_t now)
{
	unsigned wrong = a->stage == 0 ? check(a) : OK;
	if (wrong == OK && a->kind >= STREAMS && a->kind < ACTIONS)
		return pump(a);
	if (a->tx_len > 0)
		return 1; /* short replies wait until the line is free */
	if (wrong != OK) {
		reply(a, wrong, 0, 0, 0);
		return 1;
	}
	if (a->kind == LOOK)
		return look(a, now);
	if (a->kind == RELEASE) {
		reply(a, OK, 0, 0, 0);
		return 1;
	}
	if (a->stage == 0 && a->done_kind == a->kind && a->done_tag == a->tag) {
		reply(a, a->done_code, a->done_value, 4, 0);
		return 1;
	}
	return act(a, now);
}

int fascia_poll(struct fascia_agent *a)
{
	uint32_t now = a->port->now_ms(a->port->ctx), frames;
	int more;
	drain(a, now);
	receive(a, now);
	if (a->holding && now - a->heard > FASCIA_HOLD_MS)
		a->holding = 0;
	frames = a->port->frames(a->port->ctx);
	if (frames != a->last_frames || a->port->busy(a->port->ctx))
		a->t1 = now;
	a->last_frames = frames;
	if (a->kind == 0)
		return a->tx_len > 0;
	more = work(a, now);
	drain(a, now);
	return more;
}

void fascia_observed(struct fascia_agent *a, const struct fascia_event *event)
{
	unsigned i = a->seen_next % FASCIA_OBSERVED;
	if (!a->observing)
		return;
	a->seen[i].ms = a->port->now_ms(a->port->ctx);
	a->seen[i].kind = event->kind;
	a->seen[i].a = event->a;
	a->seen[i].b = event->b;
	a->seen[i].c = event->c;
	if (++a->seen_next == 0)
		a->seen_next = 1;
}

int fascia_holding(const struct fascia_agent *a)
{
	return a->holding;
}

int fascia_mid_frame(const struct fascia_agent *a)
{
	return a->tx_open || a->tx_sent < a->tx_ready;
}
