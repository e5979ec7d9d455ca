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
	FLUSHED = 0x17, /* with FASCIA_STRIP */
	ACTIONS = 0x20, /* from here: done once, however often they arrive */
	INPUT = 0x20,
	WAIT = 0x21,
	CLOCK = 0x22,
	FEED = 0x23,
	PATTERN = 0x24,
	OBSERVE = 0x25,
	RESET = 0x26
};

enum { OK = 0, MOVING = 1, UNKNOWN = 2, MALFORMED = 3, UNSUPPORTED = 7, NOT_YET = 254, AGAIN = 255 };
enum { MORE = 0, END = 1, VOID = 2 }; /* the last byte of a piece */
enum { CODEC_RAW = 0, CODEC_RUNS = 1, CODEC_KEYED = 3 }; /* 2: an earlier agent's */
enum { LOOK_REDRAW = 1, LOOK_HOLD = 2 };
enum { PASS_NONE = 0, PASS_HASH = 1, PASS_SHOWN = 2, PASS_READ = 3, PASS_REST = 4 }; /* shown: a hash, too */
enum { RUN_NONE = 0, RUN_LEFT = 1, RUN_ABOVE = 2, RUN_LITERAL = 3 };

#ifdef __GNUC__
#define NOINLINE __attribute__((noinline)) /* where it makes the code smaller */
#else
#define NOINLINE
#endif

#define STREAM_ARGS 8   /* chunk, offset, length */
#define BODY 2          /* where a frame's body begins in tx, after a zero and COBS's first code */
#define PIECE (BODY + 12) /* where a piece of a stream begins in tx */
#define PIECE_MAX (FASCIA_TX_SIZE - PIECE - 1 - 4 - 1) /* bytes of a stream in one frame */
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

/* CRC-32/ISO-HDLC bit by bit: a table of 16 would make it twice as fast and 70 bytes larger. */
static uint32_t crc32(const uint8_t *p, unsigned n)
{
	uint32_t crc = 0xffffffff;
	unsigned k;
	while (n-- > 0) {
		crc ^= *p++;
		for (k = 0; k < 8; k++)
			crc = crc >> 1 ^ (0xedb88320u & (0u - (crc & 1)));
	}
	return crc;
}

/* ---- the port -------------------------------------------------------------------------------- */

#if FASCIA_STRIP
#if FASCIA_DENSE
#error "FASCIA_DENSE looks two rows up, which strips have not kept: not with FASCIA_STRIP"
#endif
/* A redraw for the host's sake changes nothing, so it does not count. */
static uint32_t frames(const struct fascia_agent *a)
{
	return a->pass ? a->still : a->port->frames(a->port->ctx) - a->own;
}

static const uint8_t *row(const struct fascia_agent *a, unsigned y)
{
	return a->strip + (size_t)(y - a->strip_y0) * a->cells * a->cell_bytes;
}

/* Has everything drawn again and looks on, see fascia_strip. Returns 0 unless each row came by once. */
static int redraw(struct fascia_agent *a, unsigned pass)
{
	uint32_t now = frames(a);
	if (now != a->still)
		a->hashed = 0;
	a->still = now;
	a->pass = (uint8_t)pass;
	a->strip_rows = 0;
	a->port->redraw(a->port->ctx);
	a->pass = PASS_NONE;
	a->own = a->port->frames(a->port->ctx) - a->still;
	return a->strip_rows == a->rows;
}

/* Remembers that an area of the panel is new. Strips that follow each other downwards are one area; the
 * host may know of those before area_told, which stay as they are. */
static void note_area(struct fascia_agent *a, unsigned x, unsigned y, unsigned w, unsigned h)
{
	uint16_t i, *r;
	for (i = a->area_told; i != a->area_next; i++) {
		r = a->area[i % FASCIA_AREAS];
		if (x < r[0] || x + w > (unsigned)r[0] + r[2] || y < r[1])
			continue;
		if (y + h <= (unsigned)r[1] + r[3])
			return; /* within what is known to be new */
		if (x == r[0] && w == r[2] && y <= (unsigned)r[1] + r[3])
			break;
	}
	r = a->area[i % FASCIA_AREAS];
	if (i == a->area_next) {
		a->area_next++;
		if ((uint16_t)(a->area_next - a->area_first) > FASCIA_AREAS)
			a->area_first++; /* lost: the host sees it by the number */
		if ((uint16_t)(a->area_next - a->area_told) > FASCIA_AREAS)
			a->area_told++;
		r[0] = (uint16_t)x;
		r[1] = (uint16_t)y;
		r[2] = (uint16_t)w;
	}
	r[3] = (uint16_t)(y + h - r[1]);
	if (w == a->width && r[3] == a->height)
		a->area_first = i; /* what came before means nothing any more */
}

/* Is the row at hand not in the strip that passes now? */
static int starved(const struct fascia_agent *a)
{
	return a->j.y < a->strip_y0 || a->j.y >= a->strip_y1;
}

/* The first row that the encoder can look up to. */
static unsigned top(const struct fascia_agent *a)
{
	return a->j.y0 > a->strip_y0 ? a->j.y0 : a->strip_y0;
}
#else
#define starved(a) 0
#define top(a) (a)->j.y0

static uint32_t frames(const struct fascia_agent *a)
{
	return a->port->frames(a->port->ctx);
}

static const uint8_t *row(const struct fascia_agent *a, unsigned y)
{
	return a->port->row(a->port->ctx, y);
}
#endif

/* ---- sending ---------------------------------------------------------------------------------- */

/* A frame is made whole before its first byte leaves: at most 254 bytes with the CRC, so COBS has a
 * single code byte in front and writes the rest where zeros were. */

static void put(struct fascia_agent *a, uint32_t v, unsigned bytes)
{
	set(a->tx + a->tx_len, v, bytes);
	a->tx_len = (uint16_t)(a->tx_len + bytes);
}

/* Begins a reply: kind, tag, status, boot id, frame counter. */
static void open_frame(struct fascia_agent *a, unsigned code)
{
	a->tx_len = BODY;
	a->mark = frames(a);
	put(a, (a->kind | 0x80u) | (uint32_t)a->tag << 8 | (uint32_t)(code | a->generation) << 16, 3);
	put(a, a->id->boot_id, 4);
	put(a, a->mark, 2);
}

static void close_frame(struct fascia_agent *a)
{
	unsigned i, zero = BODY - 1; /* where the last code byte stands */
	put(a, ~crc32(a->tx + BODY, a->tx_len - (unsigned)BODY), 4);
	put(a, 0, 1);
	for (i = BODY; i < a->tx_len; i++) {
		if (a->tx[i] != 0)
			continue;
		a->tx[zero] = (uint8_t)(i - zero);
		zero = i;
	}
	a->tx[0] = 0;
	a->tx_ready = 1;
}

/* Offers a whole frame to the line. */
static void drain(struct fascia_agent *a, uint32_t now)
{
	size_t n;
	if (!a->tx_ready)
		return;
	n = a->port->write(a->port->ctx, a->tx + a->tx_sent, (size_t)(a->tx_len - a->tx_sent));
	a->tx_sent = (uint16_t)(a->tx_sent + n);
	if (n > 0)
		a->heard = now; /* the host is listening: a long answer must not end its hold */
	if (a->tx_sent == a->tx_len)
		a->tx_len = a->tx_sent = a->tx_ready = 0;
}

/* ---- cells: what hash and codec see ----------------------------------------------------------- */

/* Works out the panel's grid of cells and tiles. */
static void set_panel(struct fascia_agent *a, const struct fascia_panel *p)
{
	static const uint8_t packing[16] = {1, 1, 0, 2, 4, 8, 8, 8, 16, 16, 24, 32}; /* bits of a pixel, by format */
	unsigned bits = packing[p->format & 15];
	a->format = p->format;
	a->width = p->width;
	a->height = p->height;
	a->colours = p->colours;
	a->cell_bytes = (uint8_t)((bits + 7) / 8);
	a->cells = bits < 8 ? (uint16_t)((p->width * bits + 7) / 8) : p->width;
	a->tile_cells = (uint8_t)(bits < 8 ? FASCIA_TILE_W / 8 * bits : FASCIA_TILE_W);
	a->rows = p->height;
	a->tile_rows = FASCIA_TILE_H;
	if (p->format == FASCIA_MONO_PAGES) {
		a->cell_bytes = 1;
		a->cells = p->width;
		a->tile_cells = FASCIA_TILE_W;
		a->rows = (uint16_t)((p->height + 7u) / 8);
		a->tile_rows = FASCIA_TILE_H / 8;
	}
	a->tiles = (uint16_t)((p->width + FASCIA_TILE_W - 1u) / FASCIA_TILE_W);
	a->bands = (uint16_t)((p->height + FASCIA_TILE_H - 1u) / FASCIA_TILE_H);
}

/* ---- hash ------------------------------------------------------------------------------------ */

/* lowbias32 of C. Wellons, a bijection with good avalanche; from memory, its quality is tested. */
static uint32_t mix(uint32_t x)
{
	x = (x ^ x >> 16) * 0x7feb352du;
	x = (x ^ x >> 15) * 0x846ca68bu;
	return x ^ x >> 16;
}

/* Works out the weights of the words of a tile's row, where the codec has its cache: no job needs both. */
static void set_weights(struct fascia_agent *a)
{
	unsigned i;
	for (i = 0; i < 32; i++)
		a->u.weight[i] = mix(i + 1) | 1;
}

/* A word of a row, low byte first; the last may be short and is filled up with zeros. */
static uint32_t word(const uint8_t *p, unsigned left)
{
#if defined(__GNUC__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
	uint32_t v;
	if (left >= 4) {
		__builtin_memcpy(&v, p, 4); /* one load where the processor allows it unaligned */
		return v;
	}
#endif
	return get(p, left < 4 ? left : 4);
}

/* Weighs a tile among the others. */
static uint32_t tile_key(const struct fascia_agent *a, unsigned tx, unsigned ty)
{
	return mix(ty * a->tiles + tx + 1001) | 1;
}

/* Adds a row of a tile to its own hash, and returns that row's part of its share. */
static uint32_t hash_row(const struct fascia_agent *a, const uint8_t *p, unsigned n, unsigned r, uint32_t *own)
{
	uint32_t s = 0, q = 0, b = mix(r + 101) | 1;
	unsigned i;
#ifdef __wasm__ /* on a twin each turn of a loop is counted, so that an endless one can be ended */
#pragma clang loop unroll_count(8)
#endif
	for (i = 0; i * 4 < n; i++) {
		uint32_t u = word(p + (size_t)i * 4, n - i * 4);
		if (a->format == FASCIA_XRGB8888)
			u &= 0x00ffffff;
		u = (u ^ 0x5bd1e995u) * 0x9e3779b1u;
		u ^= u >> 15;
		s += a->u.weight[i] * u;
		u *= 0x85ebca77u;
		u ^= u >> 13;
		q += a->u.weight[i] * u;
	}
	*own += b * s;
	return b * q;
}

/* Bytes of a row of the tiles in that column. */
static unsigned tile_bytes(const struct fascia_agent *a, unsigned tx)
{
	unsigned n = a->cells - tx * a->tile_cells;
	return (n < a->tile_cells ? n : a->tile_cells) * a->cell_bytes;
}

#if FASCIA_STRIP
/* Returns a tile's own hash, summed while the strips passed. */
static uint32_t hash_tile(const struct fascia_agent *a, unsigned tx, unsigned ty)
{
	return a->port->tiles[ty * a->tiles + tx];
}

/* Adds the strip that passes now to the tiles' hashes and to the frame's second lane. */
static void hash_strip(struct fascia_agent *a)
{
	unsigned y, tx;
	for (y = a->strip_y0; y < a->strip_y1; y++)
		for (tx = 0; tx < a->tiles; tx++) {
			unsigned ty = y / a->tile_rows;
			const uint8_t *p = row(a, y) + (size_t)tx * a->tile_cells * a->cell_bytes;
			a->hash[1] += tile_key(a, tx, ty) *
				      hash_row(a, p, tile_bytes(a, tx), y % a->tile_rows, &a->port->tiles[ty * a->tiles + tx]);
		}
}

/* Makes the tiles' hashes those of what is to be shown now; 0 when that cannot be drawn. */
static int hash_all(struct fascia_agent *a, unsigned pass)
{
	memset(a->port->tiles, 0, sizeof(uint32_t) * a->tiles * a->bands);
	a->hash[1] = a->format;
	a->hashed = (uint8_t)redraw(a, pass);
	return a->hashed;
}
#else
/* Returns a tile's own hash and adds its share to the frame's second lane. */
static uint32_t hash_tile(struct fascia_agent *a, unsigned tx, unsigned ty)
{
	unsigned y = ty * a->tile_rows, n = tile_bytes(a, tx), r;
	uint32_t own = 0, share = 0;
	for (r = 0; r < a->tile_rows && y < a->rows; r++, y++)
		share += hash_row(a, row(a, y) + (size_t)tx * a->tile_cells * a->cell_bytes, n, r, &own);
	a->hash[1] += tile_key(a, tx, ty) * share;
	return own;
}
#endif

/* Returns a band's hash: its part of the frame's first lane. */
static uint32_t hash_band(struct fascia_agent *a, unsigned ty)
{
	uint32_t sum = 0;
	unsigned tx;
	for (tx = 0; tx < a->tiles; tx++)
		sum += mix(hash_tile(a, tx, ty) + tile_key(a, tx, ty));
	return sum;
}

/* ---- the run codec --------------------------------------------------------------------------- */

/* The cell at the codec's place, or the one above that. */
static uint32_t cell(const struct fascia_agent *a, unsigned up)
{
	const uint8_t *p = row(a, a->j.y - up) + (size_t)a->j.x * a->cell_bytes;
	if (a->cell_bytes == 1)
		return p[0];
	if (a->format == FASCIA_RGB565_BE)
		return (uint32_t)p[0] << 8 | p[1];
	/* the unused byte of XRGB8888 is left out */
	return p[0] | (uint32_t)p[1] << 8 | (a->cell_bytes > 2 ? (uint32_t)p[2] << 16 : 0);
}

/* Moves to the next rectangle of the request; 0 when there is none. */
static int next_rect(struct fascia_agent *a)
{
	const uint8_t *r = a->args + STREAM_ARGS + 1 + (size_t)a->j.rect * 4;
	unsigned x0 = r[0] & 127u, x1 = (x0 + r[2]) * a->tile_cells, y1 = (unsigned)(r[1] + r[3]) * a->tile_rows;
	if (r >= a->args + a->arg_len)
		return 0;
	a->j.rect++;
#if FASCIA_DENSE
	a->dense.known = r[0] >> 7;
#endif
	a->j.x = a->j.x0 = (uint16_t)(x0 * a->tile_cells);
	a->j.y = a->j.y0 = (uint16_t)(r[1] * a->tile_rows);
	a->j.x1 = (uint16_t)(x1 < a->cells ? x1 : a->cells);
	a->j.y1 = (uint16_t)(y1 < a->rows ? y1 : a->rows);
	return 1;
}

static void step_cell(struct fascia_agent *a)
{
	if (++a->j.x == a->j.x1) {
		a->j.x = a->j.x0;
		a->j.y++;
	}
}

/* Does the run of that kind go on with this cell? */
static int runs_on(const struct fascia_agent *a, unsigned kind, uint32_t c)
{
	return kind == RUN_LEFT ? c == a->j.left : a->j.y > top(a) && c == cell(a, 1);
}

/* Which run goes on longer from here? They are followed side by side until one breaks off. */
static NOINLINE unsigned longer_run(struct fascia_agent *a, uint32_t c)
{
	uint16_t x = a->j.x, y = a->j.y;
	int left = runs_on(a, RUN_LEFT, c), above = runs_on(a, RUN_ABOVE, c);
	unsigned n;
	for (n = 0; left && above && n < 64; n++) {
		step_cell(a);
		if (a->j.y == a->j.y1 || starved(a))
			break;
		c = cell(a, 0);
		left = runs_on(a, RUN_LEFT, c);
		above = runs_on(a, RUN_ABOVE, c);
	}
	a->j.x = x;
	a->j.y = y;
	return left ? RUN_LEFT : above ? RUN_ABOVE : RUN_NONE;
}

static void op_put(struct fascia_agent *a, uint32_t v, unsigned bytes)
{
	set(a->op + a->j.op_len, v, bytes);
	a->j.op_len = (uint8_t)(a->j.op_len + bytes);
}

static void op_run(struct fascia_agent *a)
{
	unsigned n = a->j.run, top = (a->j.run_kind - 1u) << 6;
	a->j.run_kind = RUN_NONE;
	if (n <= 62)
		op_put(a, top | (n - 1), 1);
	else if (n <= 317)
		op_put(a, top | 62 | (n - 62) << 8, 2);
	else
		op_put(a, top | 63 | n << 8, 3);
}

/* A step of -1, 0 or 1 in each channel as 0..26, or 27 when it is more than that. */
static unsigned small_step(const struct fascia_agent *a, uint32_t c)
{
	uint32_t l = a->j.left;
	unsigned bits, code = 0, times;
	if (a->format == FASCIA_GREY8) {
		c = c - l + 13;
		return c < 27 ? c : 27;
	}
	if (a->cell_bytes == 1)
		return 27;
	bits = a->cell_bytes == 2 ? 0x565 : 0x888; /* of each channel, blue first */
	for (times = 1; times < 27; times *= 3) {
		uint32_t mask = (1u << (bits & 15)) - 1, step = (c & mask) - (l & mask) + 1;
		if (step > 2)
			return 27;
		code += times * step;
		c >>= bits & 15;
		l >>= bits & 15;
		bits >>= 4;
	}
	return code;
}

/* Encodes on until an op is whole (1) or the work of one call is done (0). Raw pixels are literals
 * without the byte that counts them. */
static int next_cells(struct fascia_agent *a)
{
	unsigned budget, width = a->cell_bytes < 3 ? a->cell_bytes : 3;
	int raw = a->args[STREAM_ARGS] == CODEC_RAW;
	for (budget = CELLS_A_STEP; budget > 0; budget--) {
		unsigned slot, kind = RUN_NONE, op = 0;
		uint8_t *cached;
		uint32_t c;
		int run = a->j.run_kind == RUN_LEFT || a->j.run_kind == RUN_ABOVE;
		if (a->j.y == a->j.y1 && !next_rect(a)) {
			if (run)
				op_run(a);
			else if (a->j.op_len == 0)
				a->j.op_end = 1;
			a->j.run_kind = RUN_NONE;
			return 1;
		}
#if FASCIA_STRIP
		a->starved = (uint8_t)starved(a);
		if (a->starved)
			return 0;
		a->moved = 1;
#endif
		c = cell(a, 0);
		if (run) {
			if (!runs_on(a, a->j.run_kind, c) || a->j.run == 0xffff) {
				op_run(a);
				return 1;
			}
			a->j.left = c;
			a->j.run++;
			step_cell(a);
			continue;
		}
		slot = (c * 0x9e3779b1u) >> 26;
		cached = a->u.cache[slot];
		if (!raw) {
			kind = longer_run(a, c);
			op = get(cached, width) == c ? 0x80 | slot : 0xc0 | small_step(a, c); /* 0xdb: neither */
		}
		if (kind == RUN_NONE && (raw || op == 0xdb)) {
			if (a->j.run_kind != RUN_LITERAL) {
				a->j.run_kind = RUN_LITERAL;
				a->j.run = 0;
				if (!raw)
					op_put(a, 0xdf, 1);
			}
			if (!raw)
				a->op[0]++;
			op_put(a, a->format == FASCIA_RGB565_BE ? c >> 8 | c << 8 : c, width);
			a->j.run++;
		} else if (a->j.run_kind == RUN_LITERAL) { /* the literals end here; this cell starts the next op */
			a->j.run_kind = RUN_NONE;
			return 1;
		} else if (kind != RUN_NONE) {
			a->j.run_kind = (uint8_t)kind;
			a->j.run = 0;
			continue;
		} else {
			op_put(a, op, 1);
		}
		set(cached, c, width);
		a->j.left = c;
		step_cell(a);
		if (a->j.run_kind == RUN_LITERAL && a->j.run < 32 && a->j.op_len + width <= 65)
			continue;
		a->j.run_kind = RUN_NONE;
		return 1;
	}
	return 0;
}

#if FASCIA_DENSE
/* ---- the dense codec: keyed --------------------------------------------------------------------- */

#define RAW_ROWS 40 /* so many rows go raw after one that grew, before coding is tried again */

/* Codes a bit whose chance to be 1 is p of 65536: the interval is parted in that ratio. What the host
 * knows is not sent. */
static void code(struct fascia_agent *a, unsigned bit, unsigned p)
{
	uint32_t low = a->dense.low, high = ~a->dense.span + low, range = high - low;
	uint32_t mid = low + (range >> 16) * p + ((range & 0xffff) * p >> 16);
	if (a->dense.known)
		return;
	if (bit)
		high = mid;
	else
		low = mid + 1;
	while ((low ^ high) < 1u << 24) {
		op_put(a, high >> 24, 1);
		a->dense.bytes++;
		low <<= 8;
		high = high << 8 | 255;
	}
	a->dense.low = low;
	a->dense.span = ~(high - low);
}

static NOINLINE void learn(struct fascia_agent *a, unsigned bit, uint16_t *model)
{
	unsigned p = *model ^ 0x8000u;
	code(a, bit, p);
	*model = (uint16_t)((bit ? p + ((65535u - p) >> 4) : p - (p >> 4)) ^ 0x8000u);
}

/* Bits of equal chance, highest first. */
static void code_bits(struct fascia_agent *a, uint32_t v, unsigned n)
{
	while (n-- > 0)
		code(a, v >> n & 1, 0x8000);
}

/* The cell at x, y; 0 outside the rectangle. */
static uint32_t near_cell(const struct fascia_agent *a, unsigned x, unsigned y)
{
	const uint8_t *p;
	if (x < a->j.x0 || x >= a->j.x1 || y < a->j.y0 || y >= a->j.y1)
		return 0;
	p = row(a, y) + (size_t)x * a->cell_bytes;
	if (a->format == FASCIA_RGB565_BE)
		return (uint32_t)p[0] << 8 | p[1];
	return get(p, a->cell_bytes < 3 ? a->cell_bytes : 3);
}

/* A cell as the difference of each channel from a plane through its neighbours. */
static void code_channels(struct fascia_agent *a, uint32_t c, uint32_t left, uint32_t up, uint32_t corner)
{
	unsigned bits = a->cell_bytes == 1 ? 0x8 : a->cell_bytes == 2 ? 0x565 : 0x888, k;
	for (k = 0; bits != 0; k++, bits >>= 4) {
		unsigned n = bits & 15, i;
		uint32_t mask = (1u << n) - 1;
		int32_t plane = (int32_t)((left & mask) + (up & mask)) - (int32_t)(corner & mask);
		uint32_t d, size = 0;
		plane = plane < 0 ? 0 : plane > (int32_t)mask ? (int32_t)mask : plane;
		d = (c - (uint32_t)plane) & mask;
		d = d > mask / 2 ? 2 * (mask - d) + 1 : 2 * d;
		while (d >> size)
			size++;
		for (i = 0; i < n && i <= size; i++)
			learn(a, i < size, &a->dense.size[k][i]);
		if (size > 1)
			code_bits(a, d, size - 1);
		c >>= n;
		left >>= n;
		up >>= n;
		corner >>= n;
	}
}

static void code_cell(struct fascia_agent *a)
{
	unsigned x = a->j.x, y = a->j.y, width = a->cell_bytes < 3 ? a->cell_bytes : 3, i, shape, slot, sure, tree;
	uint32_t c = near_cell(a, x, y), left = near_cell(a, x - 1, y), up = near_cell(a, x, y - 1);
	uint32_t corner = near_cell(a, x - 1, y - 1), pick[3], hash, guess = 0;
	uint8_t *entry, *key;
	pick[0] = left;
	pick[1] = up;
	pick[2] = near_cell(a, x + 1, y - 1);
	hash = mix(left + 0x9e3779b1u * mix(up + 0x9e3779b1u * mix(pick[2] + 0x9e3779b1u * mix(corner +
	       0x9e3779b1u * mix(near_cell(a, x - 2, y) + 0x9e3779b1u * near_cell(a, x, y - 2))))));
	i = (hash >> 16) * FASCIA_GUESSES >> 16;
	key = &a->dense.key[i];
	entry = &a->dense.guess[i];
	sure = *key == (hash & 255) ? *entry & 3u : 0;
	shape = (left == up ? 1u : 0) | (up == corner ? 2u : 0) | (up == pick[2] ? 4u : 0);
	if (sure) {
		guess = get(a->u.cache[*entry >> 2], width);
		i = c == guess;
		learn(a, i, &a->dense.hit[shape | (unsigned)a->dense.same << 3 | sure << 4]);
		a->dense.same = (uint8_t)i;
		if (i) {
			*entry = (uint8_t)(*entry + (sure < 3));
			return;
		}
	}
	for (i = 0; i < 3; i++) {
		unsigned found = c == pick[i];
		if ((sure && pick[i] == guess) || (i > 0 && pick[i] == left) || (i > 1 && pick[i] == up))
			continue;
		learn(a, found, &a->dense.pick[i == 0 && a->dense.same ? 4 : i][shape]);
		if (i == 0)
			a->dense.same = (uint8_t)(found && !sure);
		if (found && i == 0 && !sure)
			return; /* what is usual needs no entry */
		if (found)
			break;
	}
	for (slot = 0; slot < 64 && get(a->u.cache[slot], width) != c; slot++)
		;
	if (i == 3) {
		learn(a, slot < 64, &a->dense.pick[3][shape]);
		if (slot == 64)
			code_channels(a, c, left, up, corner);
		else
			for (i = 6, tree = 1; i-- > 0; tree = tree << 1 | (slot >> i & 1))
				learn(a, slot >> i & 1, &a->dense.slot[tree]);
	}
	if (slot == 64) {
		slot = a->dense.oldest;
		set(a->u.cache[slot], c, width);
		a->dense.oldest = (uint8_t)((slot + 1) & 63);
	}
	if ((*entry & 3) > 1) { /* an entry that was right twice is not given up at once */
		--*entry;
	} else {
		*key = (uint8_t)hash;
		*entry = (uint8_t)(slot << 2 | 1);
	}
}

/* Begins a row: is it the one above, and if not, does it go raw? Returns 1 when that is all of it. */
static int begin_row(struct fascia_agent *a)
{
	unsigned x, same = a->j.y > a->j.y0;
	if (same) {
		for (x = a->j.x0; x < a->j.x1 && same; x++)
			same = near_cell(a, x, a->j.y) == near_cell(a, x, a->j.y - 1u);
		learn(a, same, &a->dense.same_row[a->dense.above]);
		a->dense.above = (uint8_t)same;
		if (same) {
			a->j.y++;
			return 1;
		}
	}
	a->dense.bytes = 0;
	if (a->dense.known)
		a->dense.raw = 0;
	learn(a, a->dense.raw > 0, &a->dense.raw_row);
	return 0;
}

static int next_keyed(struct fascia_agent *a)
{
	unsigned budget, width = a->cell_bytes < 3 ? a->cell_bytes : 3;
	for (budget = CELLS_A_STEP / 8; budget > 0; budget--) {
		if (a->j.y == a->j.y1 && !next_rect(a)) {
			if (a->j.stage == 0)
				op_put(a, ((a->dense.low >> 24) + 1) & 255, 1); /* the host takes zeros after it */
			a->j.op_end = a->j.stage;
			a->j.stage = 1;
			return 1;
		}
		if (a->j.x == a->j.x0 && begin_row(a)) {
			if (a->j.op_len > 0)
				return 1;
			continue;
		}
		if (a->dense.raw > 0)
			code_bits(a, near_cell(a, a->j.x, a->j.y), 8 * width);
		else
			code_cell(a);
		step_cell(a);
		if (a->j.x == a->j.x0) { /* the row is done */
			if (a->dense.raw > 0)
				a->dense.raw--;
			else if (a->dense.bytes > (a->j.x1 - a->j.x0) * width)
				a->dense.raw = RAW_ROWS;
		}
		if (a->j.op_len > 0)
			return 1;
	}
	return 0;
}
#endif

/* ---- streams --------------------------------------------------------------------------------- */

static uint32_t capabilities(const struct fascia_agent *a)
{
	const struct fascia_port *p = a->port;
	uint32_t can = a->id->inputs & 0xfffe;
	if (p->redraw)
		can |= 1u << 16;
	if (p->clock)
		can |= 1u << 17;
	if (p->feed)
		can |= 1u << 18;
	if (p->list)
		can |= 1u << 19;
	if (p->pattern)
		can |= 1u << 20;
	if (p->reset)
		can |= 1u << 21;
	/* observed input; hold; the framebuffer is what was flushed; strips; the dense codec, keyed */
	return can | 3u << 22 | (FASCIA_STRIP ? 1u << 26 : 1u << 24) | (FASCIA_DENSE ? 1u << 27 : 0);
}

static void op_text(struct fascia_agent *a, const char *text, char end)
{
	do {
		char c = *text ? *text++ : end;
		op_put(a, (uint8_t)c, 1);
		if (c == end)
			return;
	} while (a->j.op_len < 64);
	a->op[63] = (uint8_t)end;
}

static void next_hello(struct fascia_agent *a)
{
	switch (a->j.item++) {
	case 0:
		op_put(a, FASCIA_PROTOCOL | (unsigned)a->id->reset_reason << 8 | (unsigned)a->format << 16, 3);
		op_put(a, a->width | (uint32_t)a->height << 16, 4);
		op_put(a, a->colours, 2);
		op_put(a, capabilities(a), 4);
		op_put(a, FASCIA_REQUEST_MAX, 2);
		op_put(a, a->port->now_ms(a->port->ctx), 4);
		break;
	case 1:
		op_text(a, a->id->device, 0);
		break;
	case 2:
		op_text(a, a->id->build, 0);
		break;
	case 3:
		op_text(a, a->id->firmware, 0);
		break;
	case 4:
		op_text(a, a->id->library, 0);
		break;
	default:
		a->j.op_end = 1;
	}
}

static void next_hash(struct fascia_agent *a)
{
	if (a->kind == TILES)
		while (a->j.band < a->bands && !(a->args[STREAM_ARGS + a->j.band / 8] >> (a->j.band % 8) & 1))
			a->j.band++;
	if (a->j.band >= a->bands) {
		a->j.op_end = 1;
	} else if (a->kind == BANDS) {
		op_put(a, hash_band(a, a->j.band++), 4);
	} else {
		op_put(a, hash_tile(a, a->j.item, a->j.band), 4);
		if (++a->j.item == a->tiles) {
			a->j.item = 0;
			a->j.band++;
		}
	}
}

static void next_item(struct fascia_agent *a)
{
	char text[64];
	if (!a->port->list(a->port->ctx, (enum fascia_list)a->args[STREAM_ARGS], a->j.item, text, sizeof text)) {
		a->j.op_end = 1;
		return;
	}
	a->j.item++;
	text[sizeof text - 1] = 0;
	op_text(a, text, '\n');
}

static void next_seen(struct fascia_agent *a)
{
	if (a->j.item == 0) { /* from the oldest that is kept and that the host does not know */
		unsigned known = get(a->args + STREAM_ARGS, 2), oldest = a->seen_next > FASCIA_OBSERVED ? (unsigned)a->seen_next - FASCIA_OBSERVED : 1;
		a->j.item = (uint16_t)(known < oldest ? oldest : known < a->seen_next ? known + 1 : a->seen_next);
	}
	if (a->j.item == a->seen_next) {
		a->j.op_end = 1;
		return;
	}
	memcpy(a->op, a->seen[a->j.item++ % FASCIA_OBSERVED], 12);
	a->j.op_len = 12;
}

#if FASCIA_STRIP
/* The number of the first area that the host does not know, then the areas. */
static void next_area(struct fascia_agent *a)
{
	if (a->j.stage++ == 0) {
		a->j.item = (uint16_t)(get(a->args + STREAM_ARGS, 2) + 1); /* after the last one known */
		if ((uint16_t)(a->area_next - a->j.item) > (uint16_t)(a->area_next - a->area_first))
			a->j.item = a->area_first;
		op_put(a, a->j.item, 2);
	} else if (a->j.item == a->area_next) {
		a->j.op_end = 1;
	} else {
		const uint16_t *r = a->area[a->j.item++ % FASCIA_AREAS];
		op_put(a, r[0] | (uint32_t)r[1] << 16, 4);
		op_put(a, r[2] | (uint32_t)r[3] << 16, 4);
	}
}
#endif

/* Makes the next piece of the reply in op; 0 when that needs another call. */
static int next(struct fascia_agent *a)
{
	if (a->j.run_kind != RUN_LITERAL)
		a->j.op_len = 0;
	a->j.op_pos = 0;
	switch (a->kind) {
	case READ:
#if FASCIA_DENSE
		if (a->args[STREAM_ARGS] == CODEC_KEYED)
			return next_keyed(a);
#endif
		return next_cells(a);
	case HELLO:
		next_hello(a);
		break;
	case LIST:
		next_item(a);
		break;
	case OBSERVED:
		next_seen(a);
		break;
#if FASCIA_STRIP
	case FLUSHED:
		next_area(a);
		break;
#endif
	case PALETTE:
		if (a->j.item >= a->colours) {
			a->j.op_end = 1;
			break;
		}
		a->port->palette(a->port->ctx, a->j.item++, a->op);
		a->j.op_len = 3;
		break;
	default:
		next_hash(a);
	}
	return 1;
}

/* Sends the pieces of a stream that lie in the window asked for. Nothing is kept for a repeat:
 * the same request makes the same bytes, and those before the window are made and dropped. */
static int pump(struct fascia_agent *a)
{
	unsigned calls;
	for (calls = 0; calls < 32 && !a->tx_ready;) {
		unsigned end = a->j.op_pos == a->j.op_len;
		if ((end || a->j.run_kind == RUN_LITERAL) && !a->j.op_end) {
			calls++;
			if (!next(a))
				break;
			continue;
		}
		end = end && a->j.op_end;
		if (!end && a->skip > 0) {
			a->j.op_pos++;
			a->j.offset++;
			a->skip--;
			continue;
		}
		if (a->tx_len == 0) {
			open_frame(a, OK);
			put(a, a->j.offset, 3);
		}
		if (end || a->tx_len == a->tx_full || a->left == 0) {
			/* void: something was drawn since the frame was opened */
			put(a, a->mark != frames(a) ? VOID : end ? END : MORE, 1);
			close_frame(a);
			if (end || a->left == 0)
				a->kind = 0;
			break;
		}
		a->tx[a->tx_len++] = a->op[a->j.op_pos++];
		a->j.offset++;
		a->left--;
	}
	return 1;
}

/* ---- look ------------------------------------------------------------------------------------ */

/* Returns the reply's code, or NOT_YET, or AGAIN when it has more to do at once. */
static unsigned look(struct fascia_agent *a, uint32_t now)
{
	int moving = now - a->t1 < get(a->args + 1, 2), late = now - a->t0 >= get(a->args + 3, 2);
	if (a->j.stage == 0) {
		if (moving && !late)
			return NOT_YET;
		a->look_code = moving ? MOVING : OK;
		if (a->args[0] & LOOK_HOLD)
			a->holding = 1;
#if FASCIA_STRIP
		if (!hash_all(a, a->args[0] & LOOK_REDRAW ? PASS_SHOWN : PASS_HASH))
			return UNSUPPORTED;
		if (a->args[0] & LOOK_REDRAW)
			note_area(a, 0, 0, a->width, a->height);
		a->area_told = a->area_next;
#else
		if (a->args[0] & LOOK_REDRAW)
			a->port->redraw(a->port->ctx);
		a->hash[1] = a->format;
#endif
		a->mark = frames(a);
		a->hash[0] = mix(a->width | (uint32_t)a->height << 16);
		a->j.band = 0;
		a->j.stage = 1;
	}
	if (a->j.band < a->bands) { /* band by band, to bound the work of a call */
		a->hash[0] += hash_band(a, a->j.band++);
		return AGAIN;
	}
	if (a->mark != frames(a)) { /* drawn meanwhile: begin again, or say so */
		a->look_code = MOVING;
		a->j.stage = 0;
		if (!late)
			return AGAIN;
	}
	return a->look_code;
}

/* ---- actions --------------------------------------------------------------------------------- */

static unsigned input(struct fascia_agent *a, uint32_t now)
{
	struct fascia_event e;
	unsigned after = get(a->args, 2), elapsed = now - a->last_input;
	if (elapsed < after)
		return NOT_YET;
	e.kind = a->args[2];
	e.a = (int16_t)get(a->args + 3, 2);
	e.b = (int16_t)get(a->args + 5, 2);
	e.c = a->args[7];
	e.text = (const char *)a->args + 3;
	if (e.kind > 15 || !(a->id->inputs >> e.kind & 1))
		return UNSUPPORTED;
	a->last_input = after > 0 && elapsed - after < 4 ? a->last_input + after : now; /* a little late does not add up */
	a->port->input(a->port->ctx, &e);
	return OK;
}

static unsigned set_clock(struct fascia_agent *a)
{
	int64_t value = (int64_t)(get(a->args + 1, 4) | (uint64_t)get(a->args + 5, 4) << 32);
	if (!a->port->clock)
		return UNSUPPORTED;
	return (unsigned)a->port->clock(a->port->ctx, (enum fascia_clock_op)a->args[0], value);
}

static unsigned feed(struct fascia_agent *a)
{
	const char *name = (const char *)a->args; /* zeros follow the arguments */
	if (!a->port->feed)
		return UNSUPPORTED;
	return (unsigned)a->port->feed(a->port->ctx, name, name + strlen(name) + 1);
}

/* Does an action; NOT_YET when its time has not come. */
static unsigned act(struct fascia_agent *a, uint32_t now)
{
	const struct fascia_port *p = a->port;
	switch (a->kind) {
	case INPUT:
		return input(a, now);
	case WAIT:
		return now - a->t0 < get(a->args, 4) ? NOT_YET : OK;
	case CLOCK:
		return set_clock(a);
	case FEED:
		return feed(a);
	case PATTERN:
		return p->pattern ? (unsigned)p->pattern(p->ctx, a->args, a->arg_len) : UNSUPPORTED;
	case OBSERVE:
		a->observing = a->args[0];
		return OK;
	case RESET:
		return p->reset ? OK : UNSUPPORTED;
	default:
		return UNKNOWN;
	}
}

/* ---- receiving ------------------------------------------------------------------------------- */

static int is_stream(const struct fascia_agent *a)
{
	return a->kind >= STREAMS && a->kind <= (FASCIA_STRIP ? FLUSHED : OBSERVED);
}

/* What is wrong with the request before it is begun; OK when nothing is. Arguments left out are zero. */
static unsigned check(const struct fascia_agent *a)
{
	const struct fascia_port *p = a->port;
	const uint8_t *r;
	unsigned codec = a->args[STREAM_ARGS];
	if ((a->kind == LIST && !p->list) || (a->kind == PALETTE && !p->palette) ||
	    (a->kind == LOOK && a->args[0] & LOOK_REDRAW && !p->redraw) ||
	    (a->kind == READ && codec > CODEC_RUNS && !(FASCIA_DENSE && codec == CODEC_KEYED)))
		return UNSUPPORTED;
	if (a->kind == READ)
		for (r = a->args + STREAM_ARGS + 1; r < a->args + a->arg_len; r += 4)
			if (r[2] == 0 || r[3] == 0 || (r[0] & (codec == CODEC_KEYED ? 127 : 255)) + r[2] > a->tiles || r[1] + r[3] > a->bands)
				return MALFORMED;
	return is_stream(a) && a->tx_full == PIECE ? MALFORMED : OK; /* a piece of no bytes never ends */
}

/* Takes the decoded request in rx as the job at hand, in place of any other. */
static void take(struct fascia_agent *a, unsigned len, uint32_t now)
{
	unsigned chunk;
	a->heard = now;
	if (a->kind == a->rx[0] && a->tag == a->rx[1])
		return; /* a repeat of what is under way */
	if (!a->tx_ready)
		a->tx_len = 0; /* a frame half made */
	a->kind = a->rx[0];
	a->tag = a->rx[1];
	a->arg_len = (uint16_t)(len - 6);
	memset(a->args, 0, sizeof a->args + sizeof a->u);
	memcpy(a->args, a->rx + 2, a->arg_len);
	if (a->kind == READ && a->arg_len == STREAM_ARGS + 1) { /* no rectangles: the whole panel */
		set(a->args + STREAM_ARGS + 3, (uint32_t)a->tiles | (uint32_t)a->bands << 8, 2);
		a->arg_len = STREAM_ARGS + 5;
	}
	a->t0 = now;
	memset(&a->j, 0, sizeof a->j);
	if (a->kind != READ)
		set_weights(a);
#if FASCIA_DENSE
	memset(&a->dense, 0, sizeof a->dense);
#endif
	a->skip = get(a->args + 2, 3);
	a->left = get(a->args + 5, 3);
	if (a->left == 0)
		a->left = 0xffffffff;
	chunk = get(a->args, 2);
	a->tx_full = (uint16_t)(PIECE + (chunk < PIECE_MAX ? chunk : PIECE_MAX));
	if (a->kind == HELLO)
		a->done_kind = 0;
	if (a->kind >= ACTIONS || a->kind == RELEASE)
		a->holding = 0;
}

/* Decodes what stood between two zeros, in place. Returns its length, 0 when it is no frame. */
static unsigned decode(struct fascia_agent *a)
{
	unsigned in = 0, out = 0, n = a->rx_len;
	while (in < n) {
		unsigned code = a->rx[in++], end = in + code - 1;
		if (end > n)
			return 0;
		while (in < end)
			a->rx[out++] = a->rx[in++];
		if (code < 255 && in < n)
			a->rx[out++] = 0;
	}
	/* a body followed by its own CRC leaves this residue */
	return out >= 6 && a->rx[0] < 0x80 && crc32(a->rx, out) == 0xdebb20e3u ? out : 0;
}

static void receive(struct fascia_agent *a, uint32_t now)
{
	uint8_t in[32];
	size_t n = a->port->read(a->port->ctx, in, sizeof in), i;
	for (i = 0; i < n; i++) {
		unsigned len;
		if (in[i] != 0) {
			if (a->rx_len <= FASCIA_REQUEST_MAX + 6) /* one more than the longest request: too long */
				a->rx[a->rx_len++] = in[i];
			continue;
		}
		len = a->rx_len <= FASCIA_REQUEST_MAX + 5 ? decode(a) : 0;
		a->rx_len = 0;
		if (len > 0)
			take(a, len, now);
	}
}

#if FASCIA_STRIP
/* ---- strips ---------------------------------------------------------------------------------- */

/* Does the stream at hand need strips, and were they not what they should be? Reading goes on for as
 * many redraws as the line needs to take it: the encoder rests where it is until its row comes by again. */
static int strips_fail(struct fascia_agent *a)
{
	if (a->kind == READ) {
		a->moved = 0;
		redraw(a, PASS_READ);
		return a->kind == READ && !a->moved && !a->tx_ready;
	}
	return (a->kind == BANDS || a->kind == TILES) && !(a->hashed && a->still == frames(a)) && !hash_all(a, PASS_HASH);
}

/* Encodes what is wanted of the strip that passes now. */
static void read_strip(struct fascia_agent *a)
{
	while (a->kind == READ) {
		if (a->tx_ready) {
			drain(a, a->port->now_ms(a->port->ctx));
			if (a->tx_ready && !(a->port->wait && a->port->wait(a->port->ctx))) {
				a->pass = PASS_REST; /* the line is full: the rest when it is drawn again */
				return;
			}
			continue;
		}
		a->starved = 0;
		pump(a);
		if (a->starved)
			return;
	}
}

int fascia_strip(struct fascia_agent *a, unsigned x, unsigned y, unsigned w, unsigned h, const void *pixels)
{
	unsigned pages = a->format == FASCIA_MONO_PAGES ? 8 : 1;
	if (a->pass == PASS_NONE) {
		note_area(a, x, y, w, h);
		return 0;
	}
	if (x == 0 && w == a->width && y + h <= a->height) {
		a->strip = pixels;
		a->strip_y0 = (uint16_t)(y / pages);
		a->strip_y1 = (uint16_t)((y + h + pages - 1) / pages);
		a->strip_rows = (uint16_t)(a->strip_rows + a->strip_y1 - a->strip_y0);
		if (a->pass <= PASS_SHOWN)
			hash_strip(a);
		else if (a->pass == PASS_READ)
			read_strip(a);
	}
	return a->pass != PASS_SHOWN;
}
#endif

/* ---- the public face ------------------------------------------------------------------------- */

void fascia_init(struct fascia_agent *a, const struct fascia_port *port, const struct fascia_identity *id,
		 const struct fascia_panel *panel)
{
	memset(a, 0, sizeof *a);
	a->port = port;
	a->id = id;
	set_panel(a, panel);
	a->seen_next = 1;
#if FASCIA_STRIP
	a->area_first = a->area_told = a->area_next = 1;
#endif
}

void fascia_panel_changed(struct fascia_agent *a, const struct fascia_panel *panel)
{
	set_panel(a, panel);
#if FASCIA_STRIP
	a->hashed = 0;
	a->area_first = a->area_told = a->area_next;
#endif
	a->generation = (uint8_t)(a->generation + 0x20); /* the high three bits of a reply's status */
	if (a->kind == LOOK) {
		a->j.stage = 0; /* its answer tells the host of the new panel */
	} else if (a->kind < ACTIONS) { /* what is being read no longer exists; the host asks again */
		if (!a->tx_ready)
			a->tx_len = 0;
		a->kind = 0;
	}
}

/* Takes the job at hand a step further. */
static int work(struct fascia_agent *a, uint32_t now)
{
	unsigned code;
	if (a->tx_ready)
		return 1; /* the frame before has not left */
	if (a->kind == RESET && a->j.stage) { /* its answer has */
		a->kind = 0;
		a->port->reset(a->port->ctx);
		return 1;
	}
	code = check(a);
#if FASCIA_STRIP
	if (code == OK && is_stream(a) && strips_fail(a))
		code = UNSUPPORTED;
#endif
	if (code == OK) {
#if FASCIA_STRIP
		if (a->kind == READ || a->kind == 0)
			return 1; /* it was encoded while the strips passed */
#endif
		if (is_stream(a))
			return pump(a);
		if (a->kind == LOOK) {
			code = look(a, now);
		} else if (a->kind != RELEASE) {
			if (a->done_kind != a->kind || a->done_tag != a->tag) {
				code = act(a, now);
				if (code == NOT_YET)
					return 0;
				a->done_kind = a->kind;
				a->done_tag = a->tag;
				a->done_code = (uint8_t)code;
				a->hash[0] = now; /* kept for a repeat: no look comes between */
				a->t1 = now;      /* stillness counts from the last action on */
			}
			code = a->done_code;
		}
		if (code >= NOT_YET)
			return code == AGAIN;
	}
	open_frame(a, code);
	if (code <= MOVING && a->kind != RELEASE) { /* a refusal says no more than that */
		put(a, a->hash[0], 4);
		if (a->kind == LOOK)
			put(a, a->hash[1], 4);
#if FASCIA_STRIP
		if (a->kind == LOOK)
			put(a, a->area_next - 1u, 2);
#endif
	}
	close_frame(a);
	if (a->kind == RESET && code == OK)
		a->j.stage = 1; /* act when the answer has left */
	else
		a->kind = 0;
	return 1;
}

int fascia_poll(struct fascia_agent *a)
{
	uint32_t now = a->port->now_ms(a->port->ctx), count;
	int more;
	drain(a, now);
	receive(a, now);
	if (a->holding && now - a->heard > FASCIA_HOLD_MS)
		a->holding = 0;
	count = frames(a);
	if (count != a->last_frames || a->port->busy(a->port->ctx))
		a->t1 = now;
	a->last_frames = count;
	if (a->kind == 0)
		return a->tx_ready;
	more = work(a, now);
	drain(a, now);
	return more;
}

void fascia_observed(struct fascia_agent *a, const struct fascia_event *event)
{
	uint8_t *to = a->seen[a->seen_next % FASCIA_OBSERVED];
	if (!a->observing || a->seen_next == 0xffff)
		return;
	set(to, a->seen_next, 2);
	set(to + 2, a->port->now_ms(a->port->ctx), 4);
	to[6] = event->kind;
	set(to + 7, (uint16_t)event->a | (uint32_t)(uint16_t)event->b << 16, 4);
	to[11] = event->c;
	a->seen_next++;
}

int fascia_holding(const struct fascia_agent *a)
{
	return a->holding;
}

int fascia_mid_frame(const struct fascia_agent *a)
{
	return a->tx_sent > 0;
}
