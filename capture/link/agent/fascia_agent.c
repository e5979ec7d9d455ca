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
	STREAMS_END = FASCIA_STRIP ? 0x18 : 0x17,
	ACTIONS = 0x20, /* from here: done once, however often they arrive */
	INPUT = 0x20,
	WAIT = 0x21,
	CLOCK = 0x22,
	FEED = 0x23,
	PATTERN = 0x24,
	OBSERVE = 0x25,
	RESET = 0x26
};

enum { OK = 0, MOVING = 1 /* and true */, UNKNOWN = 2, MALFORMED = 3, UNSUPPORTED = 7, NOT_YET = 254, AGAIN = 255 };
enum { END = 1, VOID = 2 }; /* the last byte of a piece */
enum { CODEC_RAW = 0, CODEC_RUNS = 1, CODEC_KEYED = 3 }; /* 2: an earlier agent's */
enum { LOOK_REDRAW = 1, LOOK_HOLD = 2 };
enum { PASS_NONE = 0, PASS_HASH = 1, PASS_SHOWN = 2, PASS_READ = 3, PASS_REST = 5 }; /* shown: a hash, too; odd: for the host alone */
enum { RUN_LEFT = 1, RUN_ABOVE = 2 };

#ifdef __GNUC__
#define NOINLINE __attribute__((noinline)) /* where it makes the code smaller */
#define INLINE inline __attribute__((always_inline))
#if __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
#define LITTLE_ENDIAN_GNUC /* a copy of a number becomes one store, unaligned or not */
#endif
#define AS_IS(constant) __asm__("" : "+r"(constant)) /* loaded whole, not worked out in four steps from another */
#else
#define NOINLINE
#define INLINE inline
#define AS_IS(constant)
#endif

#define STREAM_ARGS 8 /* chunk, offset, length */
#define CELLS_A_STEP 512 /* bounds the encoder's work per call */

/* ---- numbers ------------------------------------------------------------------------------- */

/* Compilers make one load of these where the processor may read unaligned. */
static INLINE uint32_t get16(const uint8_t *p)
{
	return p[0] | (uint32_t)p[1] << 8;
}

static INLINE uint32_t get32(const uint8_t *p)
{
	return p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
}

static INLINE void set16(uint8_t *p, uint32_t v)
{
#ifdef LITTLE_ENDIAN_GNUC
	uint16_t low = (uint16_t)v;
	memcpy(p, &low, 2);
#else
	p[0] = (uint8_t)v;
	p[1] = (uint8_t)(v >> 8);
#endif
}

static INLINE void set32(uint8_t *p, uint32_t v)
{
#ifdef LITTLE_ENDIAN_GNUC
	memcpy(p, &v, 4);
#else
	set16(p, v);
	set16(p + 2, v >> 16);
#endif
}

static NOINLINE uint32_t get(const uint8_t *p, unsigned n)
{
	uint32_t v = 0;
	while (n-- > 0)
		v = v << 8 | p[n];
	return v;
}

static INLINE void set(uint8_t *p, uint32_t v, unsigned n)
{
	for (; n > 0; n--, v >>= 8)
		*p++ = (uint8_t)v;
}

/* CRC-32/ISO-HDLC bit by bit: a table of 16 would make it twice as fast and 70 bytes larger. */
static NOINLINE uint32_t crc32(uint32_t crc, unsigned byte)
{
	unsigned k;
	crc ^= byte;
	for (k = 0; k < 8; k++)
		crc = crc >> 1 ^ (0xedb88320u & (0u - (crc & 1)));
	return crc;
}

/* ---- the port -------------------------------------------------------------------------------- */

static uint32_t frames(const struct fascia_agent *a)
{
	return a->port->frames(a->port->ctx);
}

#if FASCIA_STRIP
#if FASCIA_DENSE
#error "FASCIA_DENSE looks two rows up, which strips have not kept: not with FASCIA_STRIP"
#endif
static NOINLINE const uint8_t *row(const struct fascia_agent *a, unsigned y)
{
	return a->strip + (size_t)(y - a->strip_y0) * a->cells * a->cell_bytes;
}

/* Has everything drawn again and looks on, see fascia_strip. Returns 0 unless each row came by once. */
static int redraw(struct fascia_agent *a, unsigned pass)
{
	a->strip_rows = 0;
	a->pass = (uint8_t)pass;
	a->port->redraw(a->port->ctx);
	a->pass = PASS_NONE;
	return a->strip_rows == a->rows;
}

/* Remembers that an area of the panel is new. Strips that follow each other downwards are one area; the
 * host may know of those up to number `told`, which stay as they are. */
static void note_area(struct fascia_agent *a, unsigned x0, unsigned y0, unsigned x1, unsigned y1)
{
	uint32_t i = a->told;
	uint16_t *r;
	while (i++ != a->areas) {
		r = a->area[i % FASCIA_AREAS];
		if (x0 < r[0] || x1 > r[2] || y0 < r[1])
			continue;
		if (y1 <= r[3])
			return; /* within what is known to be new */
		if (x0 == r[0] && x1 == r[2] && y0 <= r[3]) {
			r[3] = (uint16_t)y1;
			return;
		}
	}
	a->areas = i;
	if (i - a->told > FASCIA_AREAS)
		a->told++; /* lost: the host sees it by the number */
	r = a->area[i % FASCIA_AREAS];
	r[0] = (uint16_t)x0;
	r[1] = (uint16_t)y0;
	r[2] = (uint16_t)x1;
	r[3] = (uint16_t)y1;
}

/* Is the row at hand, if there is one, not in the strip that passes now? */
static INLINE int starved(const struct fascia_agent *a)
{
	return a->j.y != a->j.y1 && (a->j.y < a->strip_y0 || a->j.y >= a->strip_y1);
}

/* The first row that the encoder can look up to. */
static unsigned top(const struct fascia_agent *a)
{
	return a->j.y0 > a->strip_y0 ? a->j.y0 : a->strip_y0;
}
#else
#define starved(a) 0
#define top(a) (a)->j.y0

static NOINLINE const uint8_t *row(const struct fascia_agent *a, unsigned y)
{
	return a->port->row(a->port->ctx, y);
}
#endif

/* ---- sending ---------------------------------------------------------------------------------- */

/* A frame leaves block by block of COBS while it is made, so it may be longer than the memory for it. What
 * lies before tx_code is whole; there the code of the block that is being made will stand. */

/* Must more wait until the line has taken some, or, after a frame's end, all? */
static NOINLINE int full(const struct fascia_agent *a)
{
	return a->tx_len > (a->room > 0 ? FASCIA_TX_SIZE - 7 : 0); /* a piece's end takes seven */
}

static NOINLINE void put(struct fascia_agent *a, uint32_t v, unsigned bytes)
{
	for (; bytes > 0; bytes--, v >>= 8) {
		unsigned b = v & 255, n = a->tx_len;
		a->crc = crc32(a->crc, b);
		if (b != 0)
			a->tx[n++] = (uint8_t)b;
		b = b != 0 ? n - a->tx_code : 255;
		if (b == 255) {
			a->tx[a->tx_code] = (uint8_t)(n - a->tx_code);
			a->tx_code = (uint16_t)n++;
		}
		a->tx_len = (uint16_t)n;
	}
}

/* Begins a reply: kind, tag, status, boot id, frame counter. Nothing is left in tx but, where strips fail midway, a
 * frame that is given up for a refusal; the zero ends it. */
static void open_frame(struct fascia_agent *a, unsigned code)
{
	a->tx[0] = 0;
	a->tx_code = 1;
	a->tx_len = 2;
	a->tx_sent = 0;
	a->crc = 0xffffffff;
	a->mark = frames(a);
	put(a, (a->kind | 0x80u) | (uint32_t)a->tag << 8 | (uint32_t)(code | a->generation) << 16, 3);
	put(a, a->id->boot_id, 4);
	put(a, a->mark, 2);
}

static void close_frame(struct fascia_agent *a)
{
	put(a, ~a->crc, 4);
	a->tx[a->tx_code] = (uint8_t)(a->tx_len - a->tx_code);
	a->tx[a->tx_len++] = 0;
	a->tx_code = a->tx_len;
	a->room = 0;
}

/* Gives up the frame that is being made. A zero ends what has left of it. */
static NOINLINE void drop_frame(struct fascia_agent *a)
{
	if (a->room == 0)
		return;
	a->tx[0] = 0;
	a->tx_code = a->tx_len = 1;
	a->tx_sent = 0;
	a->room = 0;
}

/* Offers what is whole to the line. */
static void drain(struct fascia_agent *a)
{
	unsigned n = (unsigned)(a->tx_code - a->tx_sent);
	if (n == 0)
		return;
	n = (unsigned)a->port->write(a->port->ctx, a->tx + a->tx_sent, n);
	if (n > 0)
		a->heard = a->port->now_ms(a->port->ctx); /* the host is listening: a long answer must not end its hold */
	a->tx_sent = (uint16_t)(a->tx_sent + n);
	if (a->tx_sent == a->tx_code) {
		a->tx_len = (uint16_t)(a->tx_len - a->tx_code);
		memmove(a->tx, a->tx + a->tx_code, a->tx_len);
		a->tx_code = a->tx_sent = 0;
	}
}

/* ---- cells: what hash and codec see ----------------------------------------------------------- */

/* Works out the panel's grid of cells and tiles. */
static void set_panel(struct fascia_agent *a, const struct fascia_panel *p)
{
	static const uint8_t packing[16] = {8, 1, 8, 2, 4, 8, 8, 8, 16, 16, 24, 32}; /* bits of a pixel, or of a page's eight */
	unsigned bits = packing[p->format & 15];
	a->format = p->format;
	a->width = p->width;
	a->height = p->height;
	a->colours = p->colours;
	a->cell_bytes = (uint8_t)((bits + 7) / 8);
	a->cell_sent = bits == 32 ? 3 : a->cell_bytes;
	a->tile_cells = (uint8_t)(bits < 8 ? FASCIA_TILE_W / 8 * bits : FASCIA_TILE_W);
	a->tile_rows = p->format == FASCIA_MONO_PAGES ? FASCIA_TILE_H / 8 : FASCIA_TILE_H;
	a->cells = (uint16_t)((p->width * (unsigned)a->tile_cells + FASCIA_TILE_W - 1) / FASCIA_TILE_W);
	a->rows = (uint16_t)((p->height * (unsigned)a->tile_rows + FASCIA_TILE_H - 1) / FASCIA_TILE_H);
	a->tiles = (uint16_t)((p->width + FASCIA_TILE_W - 1u) / FASCIA_TILE_W);
	a->bands = (uint16_t)((p->height + FASCIA_TILE_H - 1u) / FASCIA_TILE_H);
}

/* ---- hash ------------------------------------------------------------------------------------ */

/* lowbias32 of C. Wellons, a bijection with good avalanche; from memory, its quality is tested. */
static uint32_t mix(uint32_t x)
{
	uint32_t second = 0x846ca68bu;
	AS_IS(second);
	x = (x ^ x >> 16) * 0x7feb352du;
	x = (x ^ x >> 15) * second;
	return x ^ x >> 16;
}

/* Works out the weights of the words of a tile's row, where the codec has its cache: no job needs both. */
static void set_weights(struct fascia_agent *a)
{
	unsigned i;
	for (i = 0; i < 32; i++)
		a->u.weight[i] = mix(i + 1) | 1;
}

/* Weighs a tile among the others. */
static uint32_t tile_key(unsigned n)
{
	return mix(n + 1001) | 1;
}

/* Adds a row of a tile to its own hash and to the frame's second lane. */
static void hash_row(struct fascia_agent *a, unsigned y, unsigned tx, uint32_t key, uint32_t *own)
{
	unsigned i, x = tx * a->tile_cells, n = a->cells - x;
	const uint8_t *p = row(a, y) + (size_t)x * a->cell_bytes;
	uint32_t salt = 0x5bd1e995u, s = 0, q = 0, b = mix((y & (a->tile_rows - 1u)) + 101) | 1;
	AS_IS(salt);
	n = (n < a->tile_cells ? n : a->tile_cells) * a->cell_bytes;
#ifdef __wasm__ /* on a twin each turn of a loop is counted, so that an endless one can be ended */
#pragma clang loop unroll_count(8)
#endif
	for (i = 0; i * 4 < n; i++, p += 4) {
		/* the last word may be short and is filled up with zeros */
		uint32_t u = n - i * 4 < 4 ? get(p, n - i * 4) : get32(p);
		if (a->format == FASCIA_XRGB8888)
			u &= 0x00ffffff;
		u = (u ^ salt) * 0x9e3779b1u;
		u ^= u >> 15;
		s += a->u.weight[i] * u;
		u *= 0x85ebca77u;
		u ^= u >> 13;
		q += a->u.weight[i] * u;
	}
	*own += b * s;
	a->hash[1] += key * b * q;
}

/* Returns a tile's own hash. */
#if FASCIA_STRIP
static uint32_t hash_tile(const struct fascia_agent *a, unsigned n, uint32_t key)
{
	(void)key;
	return a->port->tiles[n]; /* summed while the strips passed */
}

/* Adds the strip that passes now to the tiles' hashes. */
static void hash_strip(struct fascia_agent *a)
{
	unsigned y, tx;
	for (y = a->strip_y0; y < a->strip_y1; y++)
		for (tx = 0; tx < a->tiles; tx++) {
			unsigned n = y / a->tile_rows * a->tiles + tx;
			hash_row(a, y, tx, tile_key(n), &a->port->tiles[n]);
		}
}

/* Makes the tiles' hashes those of what is to be shown now; 0 when that cannot be drawn. */
static int hash_all(struct fascia_agent *a, unsigned pass)
{
	int whole;
	memset(a->port->tiles, 0, sizeof(uint32_t) * a->tiles * a->bands);
	a->hash[1] = a->format;
	whole = redraw(a, pass);
	a->still = frames(a);
	return whole;
}
#else
static uint32_t hash_tile(struct fascia_agent *a, unsigned n, uint32_t key)
{
	unsigned tx = n % a->tiles, y = n / a->tiles * a->tile_rows, end = y + a->tile_rows;
	uint32_t own = 0;
	for (; y < end && y < a->rows; y++)
		hash_row(a, y, tx, key, &own);
	return own;
}
#endif

/* Returns a band's hash: its part of the frame's first lane. */
static uint32_t hash_band(struct fascia_agent *a, unsigned ty)
{
	uint32_t sum = 0;
	unsigned n, end = (ty + 1) * a->tiles;
	for (n = end - a->tiles; n < end; n++) {
		uint32_t key = tile_key(n);
		sum += mix(hash_tile(a, n, key) + key);
	}
	return sum;
}

/* ---- the run codec --------------------------------------------------------------------------- */

/* The cell that stands at p, as a number. */
static NOINLINE uint32_t number(const struct fascia_agent *a, const uint8_t *p)
{
	if (a->cell_bytes == 1)
		return p[0];
	if (a->format == FASCIA_RGB565_BE)
		return (uint32_t)p[0] << 8 | p[1];
	/* the unused byte of XRGB8888 is left out */
	return get16(p) | (a->cell_bytes > 2 ? (uint32_t)p[2] << 16 : 0);
}

/* Where a cell stands. */
static const uint8_t *place(const struct fascia_agent *a, unsigned x, unsigned y)
{
	return row(a, y) + (size_t)x * a->cell_bytes;
}

/* Moves to the next rectangle of the request that the panel has a part of; 0 when there is none. */
static int next_rect(struct fascia_agent *a)
{
	for (;;) {
		const uint8_t *r = a->args + STREAM_ARGS + 1 + (size_t)a->j.rect * 4;
		unsigned x = r[0] & 127u, y = r[1], x1 = (x + r[2]) * a->tile_cells, y1 = (y + r[3]) * a->tile_rows;
		if (r >= a->args + a->arg_len)
			return 0;
		a->j.rect++;
#if FASCIA_DENSE
		a->dense.known = r[0] >> 7;
#endif
		x *= a->tile_cells;
		y *= a->tile_rows;
		x1 = x1 < a->cells ? x1 : a->cells;
		y1 = y1 < a->rows ? y1 : a->rows;
		if (x >= x1 || y >= y1)
			continue;
		a->j.x = a->j.x0 = (uint16_t)x;
		a->j.y = a->j.y0 = (uint16_t)y;
		a->j.x1 = (uint16_t)x1;
		a->j.y1 = (uint16_t)y1;
		return 1;
	}
}

static void step_cell(struct fascia_agent *a)
{
	if (++a->j.x == a->j.x1) {
		a->j.x = a->j.x0;
		a->j.y++;
	}
}

static NOINLINE void op_put(struct fascia_agent *a, uint32_t v, unsigned bytes)
{
	unsigned at = a->j.fill;
	a->j.fill = (uint8_t)(at + bytes);
	set(a->op + at, v, bytes);
}

/* Ends the run; where all of it is both the cell on the left and the one above, it is the former. */
static INLINE void op_run(struct fascia_agent *a)
{
	unsigned n = a->j.run, top = a->j.broken & RUN_LEFT ? 0x40 : 0;
	a->j.broken = 0;
	a->j.run = 0;
	if (n <= 62)
		op_put(a, top + n - 1, 1);
	else if (n <= 317)
		op_put(a, top | 62 | (n - 62) << 8, 2);
	else
		op_put(a, top | 63 | n << 8, 3);
}

/* A step of -1, 0 or 1 in each channel as 0..26, or 27 when it is more than that. */
static unsigned small_step(const struct fascia_agent *a, uint32_t c)
{
	uint32_t ones = 0x821;
	unsigned green = 5, red = 11;
	c -= a->left;
	if (a->format == FASCIA_GREY8)
		return c + 13 < 27 ? c + 13 : 27;
	if (a->cell_bytes > 2) {
		ones = 0x10101;
		green = 8;
		red = 16;
	}
	c += ones; /* now each channel is to be 0, 1 or 2 */
	if (a->cell_bytes == 1 || c & ~(3 * ones) || c & c >> 1 & ones)
		return 27;
	return (c >> red) * 9 + (c >> green & 3) * 3 + (c & 3);
}

/* Encodes on until an op is whole (1; no bytes: the end) or the work of one call is done (0). Raw pixels are
 * literals without the byte that counts them. */
static int next_cells(struct fascia_agent *a)
{
	unsigned budget, width = a->cell_sent, most = width == 1 ? 33 : 65; /* an op of at most 32 literals */
	int raw = a->args[STREAM_ARGS] == CODEC_RAW;
	for (budget = CELLS_A_STEP; budget > 0; budget--) {
		unsigned slot, op, same = 0;
		const uint8_t *p;
		uint8_t *cached;
		uint32_t c;
		if (a->j.y == a->j.y1 && !next_rect(a)) {
			if (a->j.run > 0)
				op_run(a);
			return 1;
		}
		if (starved(a))
			return 0;
		p = place(a, a->j.x, a->j.y);
		c = number(a, p);
		if (!raw && c == a->left)
			same = RUN_LEFT;
		if (!raw && a->j.y > top(a) && c == number(a, place(a, a->j.x, a->j.y - 1u)))
			same |= RUN_ABOVE;
		same &= ~(unsigned)a->j.broken;
		if (same && a->j.fill == 0 && a->j.run != 0xffff) { /* each kind of run that has held so far */
			a->j.broken = (uint8_t)~same;
			a->j.run++;
			goto coded;
		}
		if (a->j.run > 0) {
			op_run(a);
			return 1;
		}
		if (same)
			return 1; /* the literals end here; this cell starts the next op */
		slot = (c * 0x9e3779b1u) >> 26;
		cached = a->u.cache[slot];
		op = get(cached, width) == c ? 0x80 | slot : 0xc0 | small_step(a, c); /* 0xdb: neither */
		if (raw || op == 0xdb) {
			if (!raw && a->j.fill == 0)
				op_put(a, 0xdf, 1);
			if (!raw)
				a->op[0]++;
			memcpy(a->op + a->j.fill, p, width);
			a->j.fill = (uint8_t)(a->j.fill + width);
		} else {
			if (a->j.fill > 0)
				return 1;
			op_put(a, op, 1);
			most = 0;
		}
		set(cached, c, width);
	coded:
		a->left = c;
		step_cell(a);
		if (a->j.fill > 0 && a->j.fill + width > most)
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
	if (x < a->j.x0 || x >= a->j.x1 || y < a->j.y0 || y >= a->j.y1)
		return 0;
	return number(a, place(a, x, y));
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
	unsigned x = a->j.x, y = a->j.y, width = a->cell_sent, i, shape, slot, sure, tree;
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
	unsigned budget, width = a->cell_sent;
	for (budget = CELLS_A_STEP / 8; budget > 0; budget--) {
		if (a->j.y == a->j.y1 && !next_rect(a)) {
			if (a->j.stage++ == 0)
				op_put(a, ((a->dense.low >> 24) + 1) & 255, 1); /* the host takes zeros after it */
			return 1;
		}
		if (a->j.x == a->j.x0 && begin_row(a)) {
			if (a->j.fill > 0)
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
		if (a->j.fill > 0)
			return 1;
	}
	return 0;
}
#endif

/* ---- streams --------------------------------------------------------------------------------- */

static uint32_t capabilities(const struct fascia_agent *a)
{
	/* input; hold, observed input; the framebuffer is what was flushed, or strips; the dense codec, keyed */
	uint32_t can = (a->id->inputs & 0xfffe) | 3u << 22 | (FASCIA_STRIP ? 1u << 26 : 1u << 24) | (FASCIA_DENSE ? 1u << 27 : 0);
	unsigned i;
	for (i = 0; i < 6; i++) { /* the callbacks from redraw to reset, which stand in the order of their bits */
		void (*callback)(void);
		memcpy(&callback, (const uint8_t *)a->port + offsetof(struct fascia_port, redraw) + i * sizeof callback, sizeof callback);
		if (callback)
			can |= 0x10000u << i;
	}
	return can;
}

/* A text and what ends it; more than 63 bytes are cut off. */
static NOINLINE void op_text(struct fascia_agent *a, const char *text, unsigned end)
{
	unsigned n = 0;
	while (n < 63 && text[n] != 0) {
		a->op[n] = (uint8_t)text[n];
		n++;
	}
	a->op[n] = (uint8_t)end;
	a->j.fill = (uint8_t)(n + 1);
}

static void next_hello(struct fascia_agent *a)
{
	unsigned i = a->j.item++;
	if (i == 0) {
		a->op[0] = FASCIA_PROTOCOL;
		a->op[1] = a->id->reset_reason;
		a->op[2] = a->format;
		set16(a->op + 3, a->width);
		set16(a->op + 5, a->height);
		set16(a->op + 7, a->colours);
		set32(a->op + 9, capabilities(a));
		set16(a->op + 13, FASCIA_REQUEST_MAX);
		set32(a->op + 15, a->port->now_ms(a->port->ctx));
		a->j.fill = 19;
	} else if (i <= 4) { /* the names, which come first in struct fascia_identity */
		const char *text;
		memcpy(&text, (const uint8_t *)a->id + (i - 1) * sizeof text, sizeof text);
		op_text(a, text, 0);
	}
}

static void next_hash(struct fascia_agent *a)
{
	unsigned n = a->j.item, ty = n;
	uint32_t h;
	if (a->kind == TILES) /* to the next one in a band that was asked for */
		for (; ty = n / a->tiles, ty < a->bands && !(a->args[STREAM_ARGS + ty / 8] >> (ty & 7) & 1); n++)
			;
	if (ty >= a->bands)
		return;
	h = a->kind == TILES ? hash_tile(a, n, 0) : hash_band(a, ty);
	a->j.item = (uint16_t)(n + 1);
	op_put(a, h, 4);
}

static void next_item(struct fascia_agent *a)
{
	char *text = (char *)a->op;
	if (a->port->list && a->port->list(a->port->ctx, (enum fascia_list)a->args[STREAM_ARGS], a->j.item++, text, 64))
		op_text(a, text, '\n');
}

/* From the oldest that is kept and that the host does not know. */
static void next_seen(struct fascia_agent *a)
{
	int i = a->j.item, oldest = a->seen_last + 1 - FASCIA_OBSERVED;
	if (i == 0)
		i = (int)get16(a->args + STREAM_ARGS) + 1;
	i = i < oldest ? oldest : i;
	if (i > a->seen_last)
		return;
	a->j.item = (uint16_t)(i + 1);
	memcpy(a->op, a->seen[i % FASCIA_OBSERVED], 12);
	a->j.fill = 12;
}

#if FASCIA_STRIP
/* The number of the first area that the host does not know, then the areas. */
static void next_area(struct fascia_agent *a)
{
	unsigned n = a->j.item; /* to go, and one more */
	if (n == 0) {
		n = (a->areas - get16(a->args + STREAM_ARGS)) & 0xffff; /* after the last one known */
		n = n < FASCIA_AREAS ? n : FASCIA_AREAS;
		op_put(a, a->areas - n + 1, 2);
		a->j.item = (uint16_t)(n + 1);
	} else if (n > 1) {
		const uint16_t *r = a->area[(a->areas - (n - 2)) % FASCIA_AREAS];
		op_put(a, r[0] | (uint32_t)r[1] << 16, 4);
		op_put(a, (r[2] | (uint32_t)r[3] << 16) - (r[0] | (uint32_t)r[1] << 16), 4);
		a->j.item--;
	}
}
#endif

/* Makes the next piece of the reply in op, none at its end; 0 when that needs another call. */
static int next(struct fascia_agent *a)
{
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
		if (a->j.item < a->colours && a->port->palette) {
			a->port->palette(a->port->ctx, a->j.item++, a->op);
			a->j.fill = 3;
		}
		break;
	default:
		next_hash(a);
	}
	return 1;
}

/* Has the device that codec? */
static int coded(const struct fascia_agent *a)
{
	unsigned codec = a->args[STREAM_ARGS];
	return a->kind != READ || codec <= CODEC_RUNS || (FASCIA_DENSE && codec == CODEC_KEYED);
}

/* Sends the pieces of a stream that lie in the window asked for. Nothing is kept for a repeat:
 * the same request makes the same bytes, and those before the window are made and dropped. */
static void pump(struct fascia_agent *a)
{
	unsigned calls = 32;
	while (!full(a)) {
		if (a->j.op_pos == a->j.op_len && !a->j.op_end) {
			if (calls-- == 0 || !next(a))
				break;
			a->j.op_len = a->j.fill;
			a->j.op_end = a->j.fill == 0;
			a->j.fill = a->j.op_pos = 0;
			continue;
		}
		if (!a->j.op_end && a->pos < a->from) {
			a->j.op_pos++;
			a->pos++;
			continue;
		}
		if (a->room == 0) {
			open_frame(a, OK);
			put(a, a->pos, 3);
			a->room = (uint16_t)(get16(a->args) - 1) + 2u;
		}
		if (a->j.op_end || a->pos == a->to || a->room == 1) {
			/* void: something was drawn since the frame was opened */
			put(a, a->mark != frames(a) ? VOID : a->j.op_end, 1);
			close_frame(a);
			if (a->j.op_end || a->pos == a->to)
				a->kind = 0;
			break;
		}
		put(a, a->op[a->j.op_pos++], 1);
		a->pos++;
		a->room--;
	}
}

/* ---- look ------------------------------------------------------------------------------------ */

/* Returns the reply's code, or NOT_YET, or AGAIN when it has more to do at once. */
static unsigned look(struct fascia_agent *a, uint32_t now)
{
	unsigned moving = now - a->t1 < get16(a->args + 1), late = now - a->t0 >= get16(a->args + 3), flags = a->args[0];
	if (a->j.stage == 0) {
		if (moving && !late)
			return NOT_YET;
		a->holding |= flags & LOOK_HOLD;
#if FASCIA_STRIP
		if (!hash_all(a, flags & LOOK_REDRAW ? PASS_SHOWN : PASS_HASH))
			return UNSUPPORTED;
		a->told = a->areas;
#else
		if (flags & LOOK_REDRAW) {
			if (!a->port->redraw)
				return UNSUPPORTED;
			a->port->redraw(a->port->ctx);
		}
		a->hash[1] = a->format;
#endif
		a->hash[0] = mix(a->width | (uint32_t)a->height << 16);
		a->mark = frames(a);
		a->j.band = 0;
		a->j.stage = (uint8_t)(1 + moving);
	}
	while (a->j.band < a->bands) {
		a->hash[0] += hash_band(a, a->j.band++);
		if (!FASCIA_STRIP)
			return AGAIN; /* band by band, to bound the work of a call */
	}
	if (!FASCIA_STRIP && a->mark != frames(a)) { /* drawn meanwhile: begin again, or say so */
		a->j.stage = 0;
		return late ? MOVING : AGAIN;
	}
	return a->j.stage - 1u;
}

/* ---- actions --------------------------------------------------------------------------------- */

static unsigned input(struct fascia_agent *a, uint32_t now)
{
	struct fascia_event e;
	unsigned after = get16(a->args), elapsed = now - a->last_input;
	if (elapsed < after)
		return NOT_YET;
	e.kind = a->args[2];
	e.a = (int16_t)get16(a->args + 3);
	e.b = (int16_t)get16(a->args + 5);
	e.c = a->args[7];
	e.text = (const char *)a->args + 3;
	if (e.kind > 15 || !(a->id->inputs >> e.kind & 1))
		return UNSUPPORTED;
	a->last_input = after > 0 && elapsed - after < 4 ? a->last_input + after : now; /* a little late does not add up */
	a->port->input(a->port->ctx, &e);
	return OK;
}

/* Does an action; NOT_YET when its time has not come. */
static unsigned act(struct fascia_agent *a, uint32_t now)
{
	const struct fascia_port *p = a->port;
	const char *text = (const char *)a->args; /* zeros follow the arguments */
	switch (a->kind) {
	case INPUT:
		return input(a, now);
	case WAIT:
		return now - a->t0 < get32(a->args) ? NOT_YET : OK;
	case CLOCK:
		if (p->clock)
			return (unsigned)p->clock(p->ctx, (enum fascia_clock_op)text[0], (int64_t)(get32(a->args + 1) | (uint64_t)get32(a->args + 5) << 32));
		break;
	case FEED:
		if (p->feed)
			return (unsigned)p->feed(p->ctx, text, text + strlen(text) + 1);
		break;
	case PATTERN:
		if (p->pattern)
			return (unsigned)p->pattern(p->ctx, a->args, a->arg_len);
		break;
	case OBSERVE:
		a->observing = a->args[0];
		return OK;
	case RELEASE: /* that any action does */
		return OK;
	case RESET:
		if (p->reset)
			return OK;
		break;
	default:
		return UNKNOWN;
	}
	return UNSUPPORTED;
}

/* ---- receiving ------------------------------------------------------------------------------- */

/* Takes the request in rx as the job at hand, in place of any other. */
static void take(struct fascia_agent *a, uint32_t now)
{
	a->heard = now;
	if (a->kind == RESET || (a->kind == a->rx[0] && a->tag == a->rx[1]))
		return; /* about to go down, whatever the host asks after its answer; or a repeat of what is under way */
	drop_frame(a);
	a->kind = a->rx[0];
	a->tag = a->rx[1];
	a->arg_len = (uint8_t)(a->rx_len - 6);
	memset(a->args, 0, sizeof a->args + sizeof a->u);
	memcpy(a->args, a->rx + 2, a->arg_len);
	a->t0 = now;
	memset(&a->j, 0, sizeof a->j);
	a->left = a->pos = 0;
	if (a->kind != READ)
		set_weights(a);
#if FASCIA_DENSE
	memset(&a->dense, 0, sizeof a->dense);
#endif
	a->from = get(a->args + 2, 3);
	a->to = get(a->args + 5, 3);
	a->to = a->to == 0 ? 0xffffffff : a->from + a->to;
	if (a->kind == HELLO)
		a->done_kind = 0;
	if (a->kind >= ACTIONS || a->kind == RELEASE)
		a->holding = 0;
}

/* Decodes what comes between two zeros as it comes. */
static void receive(struct fascia_agent *a, uint32_t now)
{
	unsigned turns = 32;
	uint8_t b;
	while (turns-- > 0 && a->port->read(a->port->ctx, &b, 1) > 0) {
		if (b == 0) {
			/* a body followed by its own CRC leaves this residue; a full rx may be less than what came */
			if (a->rx_crc == 0xdebb20e3u && a->rx_left == 0 && a->rx_len >= 6 && a->rx_len < sizeof a->rx && a->rx[0] < 0x80)
				take(a, now);
			a->rx_len = a->rx_left = 0;
			a->rx_code = 255;
			a->rx_crc = 0xffffffff;
			continue;
		}
		if (a->rx_left-- == 0) { /* the code of a block: a zero stood before it, unless the last was full */
			unsigned last = a->rx_code;
			a->rx_code = b;
			a->rx_left = (uint8_t)(b - 1);
			if (last == 255)
				continue;
			b = 0;
		}
		a->rx_crc = crc32(a->rx_crc, b);
		if (a->rx_len < sizeof a->rx)
			a->rx[a->rx_len++] = b;
	}
}

#if FASCIA_STRIP
/* ---- strips ---------------------------------------------------------------------------------- */

/* Takes the stream at hand on. Reading goes on for as many redraws as the line needs to take it: the
 * encoder rests where it is until its row comes by again. Returns 0 when the strips were not what they should be. */
static int stream(struct fascia_agent *a)
{
	if (!coded(a))
		return 0;
	if (a->kind == READ) {
		unsigned x = a->j.x, y = a->j.y;
		redraw(a, PASS_READ);
		return a->kind != READ || a->j.x != x || a->j.y != y || full(a);
	}
	if ((a->kind == BANDS || a->kind == TILES) && a->still != frames(a) && !hash_all(a, PASS_HASH))
		return 0;
	pump(a);
	return 1;
}

/* Encodes what is wanted of the strip that passes now. */
static void read_strip(struct fascia_agent *a)
{
	while (a->kind == READ && !starved(a)) {
		pump(a);
		drain(a);
		if (full(a) && !(a->port->wait && a->port->wait(a->port->ctx))) {
			a->pass = PASS_REST; /* the line is full: the rest when it is drawn again */
			return;
		}
	}
}

int fascia_strip(struct fascia_agent *a, unsigned x, unsigned y, unsigned w, unsigned h, const void *pixels)
{
	h += y;
	w += x;
	if (!(a->pass & 1))
		note_area(a, x, y, w, h);
	if (a->pass != PASS_NONE && x == 0 && w == a->width && h <= a->height) {
		a->strip = pixels;
		a->strip_y0 = (uint16_t)(y * a->tile_rows / FASCIA_TILE_H);
		a->strip_y1 = (uint16_t)((h * a->tile_rows + FASCIA_TILE_H - 1) / FASCIA_TILE_H);
		a->strip_rows = (uint16_t)(a->strip_rows + a->strip_y1 - a->strip_y0);
		if (a->pass <= PASS_SHOWN)
			hash_strip(a);
		else if (a->pass == PASS_READ)
			read_strip(a);
	}
	return a->pass & 1;
}
#else
static int stream(struct fascia_agent *a)
{
	if (!coded(a))
		return 0;
	pump(a);
	return 1;
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
}

void fascia_panel_changed(struct fascia_agent *a, const struct fascia_panel *panel)
{
	set_panel(a, panel);
#if FASCIA_STRIP
	a->told = a->areas;
	memset(a->area, 0, sizeof a->area);
#endif
	a->generation = (uint8_t)(a->generation + 0x20); /* the high three bits of a reply's status */
	if (a->kind == LOOK) {
		a->j.stage = 0; /* its answer tells the host of the new panel */
	} else if (a->kind < ACTIONS) { /* what is being read no longer exists; the host asks again */
		drop_frame(a);
		a->kind = 0;
	}
}

/* Takes the job at hand a step further. */
static int work(struct fascia_agent *a, uint32_t now)
{
	unsigned code = OK;
	if (full(a))
		return 1; /* the frame before has not left */
	if (a->kind == RESET && a->j.stage) { /* its answer has */
		a->kind = 0;
		a->port->reset(a->port->ctx);
		return 1;
	}
	if (a->kind == LOOK) {
		code = look(a, now);
	} else if (a->kind >= STREAMS && a->kind < STREAMS_END) {
		if (stream(a))
			return 1;
		code = UNSUPPORTED;
	} else {
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
	open_frame(a, code);
	if (code <= MOVING) { /* a refusal says no more than that */
		put(a, a->hash[0], 4);
		if (a->kind == LOOK) {
			put(a, a->hash[1], 4);
#if FASCIA_STRIP
			put(a, a->areas, 2);
#endif
		}
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
	int more = 0;
	receive(a, now);
	if (now - a->heard > FASCIA_HOLD_MS)
		a->holding = 0;
	count = frames(a);
	if (count != a->last_frames || a->port->busy(a->port->ctx))
		a->t1 = now;
	a->last_frames = count;
	if (a->kind != 0)
		more = work(a, now);
	drain(a);
	return more || a->tx_len > 0;
}

void fascia_observed(struct fascia_agent *a, const struct fascia_event *event)
{
	uint8_t *to;
	if (!a->observing || a->seen_last == 0xffff)
		return;
	to = a->seen[++a->seen_last % FASCIA_OBSERVED];
	set16(to, a->seen_last);
	set32(to + 2, a->port->now_ms(a->port->ctx));
	to[6] = event->kind;
	set16(to + 7, (uint16_t)event->a);
	set16(to + 9, (uint16_t)event->b);
	to[11] = event->c;
}

int fascia_holding(const struct fascia_agent *a)
{
	return a->holding;
}

int fascia_mid_frame(const struct fascia_agent *a)
{
	return a->tx_len > 0;
}
