/* fascia agent: the device's end of the fascia link (capture/link/PROTOCOL.md, version 1).
 *
 * One header, one source, C99, no malloc, no globals. The firmware owns the state, fills in a
 * struct fascia_port with what it can do, and calls fascia_poll() from the task that draws: the
 * framebuffer must not change under a poll. Work per call is bounded (about one band of 16 rows).
 * The agent is silent until it is asked, so a plain terminal never sees binary.
 *
 * SPDX-License-Identifier: Apache-2.0 */
#ifndef FASCIA_AGENT_H
#define FASCIA_AGENT_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#ifndef FASCIA_REQUEST_MAX
#define FASCIA_REQUEST_MAX 128 /* bytes of the longest request body, CRC not counted. At least 64. */
#endif

#ifndef FASCIA_CELL_MAX
#define FASCIA_CELL_MAX 4 /* bytes of the widest pixel; 2 is enough for RGB565 and saves 64 bytes */
#endif

#ifndef FASCIA_HOLD_MS
#define FASCIA_HOLD_MS 2000 /* a hold ends by itself when the line has been quiet this long */
#endif

#ifndef FASCIA_DENSE
#define FASCIA_DENSE 0 /* 1: the dense codec too; 2 KiB more of code and of RAM, half the bytes on the line */
#endif

#ifndef FASCIA_STRIP
#define FASCIA_STRIP 0 /* 1: no framebuffer; what is drawn is seen as it passes the flush hook, see fascia_strip() */
#endif

#ifndef FASCIA_AREAS
#define FASCIA_AREAS 8 /* with FASCIA_STRIP: flushed areas remembered between two looks, 8 bytes each; a power of two */
#endif

#ifndef FASCIA_OBSERVED
#define FASCIA_OBSERVED (FASCIA_STRIP ? 2 : 8) /* events kept for `record` until the host has fetched them, 12 bytes each */
#endif

#define FASCIA_PROTOCOL 1
#define FASCIA_TILE_W 32 /* pixels; fixed by the protocol */
#define FASCIA_TILE_H 16
#define FASCIA_TILES(w, h) ((((w) + 31u) / 32) * (((h) + 15u) / 16)) /* of a panel */

/* How a pixel lies in memory. The numbers go over the wire. */
enum fascia_format {
	FASCIA_MONO_ROWS = 1,  /* 8 pixels a byte along the row, leftmost in the high bit */
	FASCIA_MONO_PAGES = 2, /* 8 pixels a byte down the column, topmost in the low bit; row() takes pages */
	FASCIA_GREY2 = 3,      /* 4 pixels a byte, leftmost in the high bits */
	FASCIA_GREY4 = 4,      /* 2 pixels a byte, leftmost in the high bits */
	FASCIA_GREY8 = 5,
	FASCIA_PALETTE8 = 6,
	FASCIA_RGB332 = 7,
	FASCIA_RGB565_LE = 8,
	FASCIA_RGB565_BE = 9,
	FASCIA_RGB888 = 10,  /* bytes red, green, blue */
	FASCIA_XRGB8888 = 11 /* bytes blue, green, red, unused: a little-endian word 0x00rrggbb */
};

enum fascia_reset_reason {
	FASCIA_RESET_UNKNOWN = 0,
	FASCIA_RESET_POWER = 1,
	FASCIA_RESET_ASKED = 2, /* by the host */
	FASCIA_RESET_PIN = 3,
	FASCIA_RESET_WATCHDOG = 4,
	FASCIA_RESET_PANIC = 5,
	FASCIA_RESET_BROWNOUT = 6,
	FASCIA_RESET_SOFTWARE = 7
};

enum fascia_event_kind {
	FASCIA_TOUCH_DOWN = 1, /* a, b: x, y in pixels; c: finger */
	FASCIA_TOUCH_MOVE = 2,
	FASCIA_TOUCH_UP = 3,
	FASCIA_KEY_DOWN = 4, /* a: USB HID usage page, b: usage */
	FASCIA_KEY_UP = 5,
	FASCIA_TEXT = 6,        /* text: UTF-8, ends with a zero byte */
	FASCIA_TURN = 7,        /* a: detents, clockwise positive; c: which knob, from 0 */
	FASCIA_POINT = 8,       /* a, b: pointer moves by dx, dy pixels */
	FASCIA_BUTTON_DOWN = 9, /* a: pointer button, from 1 */
	FASCIA_BUTTON_UP = 10,
	FASCIA_ROLL = 11 /* a: wheel steps */
};

struct fascia_event {
	uint8_t kind;
	uint8_t c;
	int16_t a, b;
	const char *text; /* of FASCIA_TEXT, which has no a, b, c */
};

enum fascia_clock_op {
	FASCIA_CLOCK_SET_HELD = 1, /* set to value (ms since 1970-01-01, wall time as if UTC), then stand still */
	FASCIA_CLOCK_SET_RUN = 2,  /* set, then run */
	FASCIA_CLOCK_HOLD = 3,
	FASCIA_CLOCK_RUN = 4,
	FASCIA_CLOCK_STEP = 5 /* a held clock moves on by value ms */
};

enum fascia_list {
	FASCIA_LIST_FEEDS = 1,   /* name */
	FASCIA_LIST_GAUGES = 2,  /* name=decimal */
	FASCIA_LIST_LAMPS = 3,   /* name=#rrggbb */
	FASCIA_LIST_TARGETS = 4, /* name=x,y,w,h: what can be touched on the screen shown now */
	FASCIA_LIST_KEYS = 5     /* name=page:usage, decimal: the keys that the device has */
};

/* What a callback answers. */
enum fascia_result {
	FASCIA_OK = 0,
	FASCIA_UNKNOWN_NAME = 4,
	FASCIA_BAD_VALUE = 5,
	FASCIA_UNSUPPORTED = 7
};

/* What the firmware offers. Every callback gets ctx back. The first six, and input where inputs is
 * not zero, are needed; a null pointer in the rest means "this device cannot", and hello says so.
 * Callbacks must not call fascia_poll. */
struct fascia_port {
	void *ctx;
	uint32_t (*now_ms)(void *ctx);
	size_t (*read)(void *ctx, uint8_t *to, size_t max);        /* never waits; bytes taken. Asked for one at a time */
	size_t (*write)(void *ctx, const uint8_t *from, size_t n); /* never waits; bytes accepted */
#if FASCIA_STRIP
	uint32_t *tiles;         /* memory for FASCIA_TILES(width, height) hashes; for the larger, if the panel can turn */
	int (*wait)(void *ctx);  /* may be null: the line is full in the middle of a strip; 1 after a short sleep, 0: rather draw again */
#else
	const uint8_t *(*row)(void *ctx, unsigned y);              /* first byte of a row (or page) of what is shown */
#endif
	uint32_t (*frames)(void *ctx);                             /* counts up with every change of a pixel; with FASCIA_STRIP not by what redraw() draws for the host */
	int (*busy)(void *ctx);                                    /* drawing, animating, or about to */
	void (*input)(void *ctx, const struct fascia_event *event);

	void (*redraw)(void *ctx); /* draw everything again, now; with FASCIA_STRIP needed, and all is flushed when it returns */
	int (*clock)(void *ctx, enum fascia_clock_op op, int64_t value);
	int (*feed)(void *ctx, const char *name, const char *value); /* lists: items separated by '\n' */
	int (*list)(void *ctx, enum fascia_list what, unsigned i, char *text, size_t size); /* 0 past the end */
	int (*pattern)(void *ctx, const uint8_t *args, size_t n); /* n 0: back to the UI */
	void (*reset)(void *ctx);                                 /* called when write() has taken the reply: let the line send it */
	void (*palette)(void *ctx, unsigned i, uint8_t rgb[3]);
};

struct fascia_panel {
	uint16_t width, height;
	uint8_t format;  /* enum fascia_format */
	uint16_t colours; /* entries of the palette; 0 without one */
};

struct fascia_identity {
	const char *device;   /* what it is: "fernhouse" */
	const char *build;    /* what was built: a commit, as `expect` in bench.yaml says it */
	const char *firmware; /* name and version */
	const char *library;  /* drawing library and version */
	uint32_t boot_id;     /* another one at each start: random, or counted in memory that survives */
	uint8_t reset_reason; /* enum fascia_reset_reason */
	uint32_t inputs;      /* bits 1 << enum fascia_event_kind that input() understands */
};

#define FASCIA_TX_SIZE 261 /* one COBS block of 255 bytes, and the end of a frame */
#define FASCIA_GUESSES 768 /* of the dense codec; fixed by the protocol */
#define FASCIA_OP_SIZE (FASCIA_DENSE ? 180 : 66) /* the longest piece that a reply is made of */

/* The agent's state. Private: read nothing, write nothing. Small fields come first because Thumb
 * reaches those with short instructions. */
struct fascia_agent {
	uint8_t kind, tag; /* of the job at hand; kind 0: none */
	uint8_t arg_len;
	uint8_t holding;
	uint8_t generation; /* of the panel's geometry */
	uint8_t format, cell_bytes, cell_sent, tile_cells, tile_rows; /* the panel as hash and codec see it */
	uint8_t rx_len, rx_left, rx_code; /* rx: bytes; bytes to come of the block; that block's code */
#if FASCIA_STRIP
	uint8_t pass; /* what a redraw is for */
#endif
	struct { /* the job, all zero when it is taken */
		uint8_t stage, rect; /* rect: rectangles begun */
		uint8_t fill, op_len, op_pos, op_end; /* op: bytes that are made, and when they are whole; sent; none follows */
		uint8_t broken; /* codec: kinds of run that do not hold from the open one's begin */
		uint16_t x, y, x0, y0, x1, y1, run; /* codec: cells */
		uint16_t item, band; /* place in a list; band of tiles */
	} j;
	uint16_t tx_len, tx_code, tx_sent;
	uint16_t cells, rows, tiles, bands; /* tiles in a band; bands */
#if FASCIA_STRIP
	uint16_t strip_y0, strip_y1, strip_rows; /* the strip's rows; rows that came by in this pass */
#endif
	uint16_t width, height, colours;
	uint16_t seen_last; /* number of the last event observed, from 1 */
	const struct fascia_port *port;
	uint32_t left; /* of the codec: the cell coded last */
	uint32_t pos, from, to; /* in the stream; the window of it that was asked for */
	uint32_t room, crc; /* of the piece under way: bytes that it may still take, and one; 0: there is none */
	uint32_t mark, heard; /* frame counter when a frame or a hash was begun; when the host last sent or took bytes */
	uint32_t hash[2]; /* of a look; the first also keeps when an action was done */
#if FASCIA_STRIP
	const uint8_t *strip; /* rows strip_y0 to strip_y1, as drawn just now */
	uint32_t still; /* frame counter that the tiles are of */
#endif
	uint32_t t0, t1; /* when the job began; when the panel was last seen to change */
#if FASCIA_STRIP
	uint32_t areas, told; /* numbers: of the last area flushed; of the last that a look has seen */
#endif
	uint32_t rx_crc;
	uint32_t last_frames, last_input; /* frame counter at the last poll; when input was last delivered */
	uint8_t done_kind, done_tag, done_code; /* the last action, so that a repeated request is not acted on twice */
	uint8_t observing;
	const struct fascia_identity *id;
	uint8_t args[FASCIA_REQUEST_MAX];
	union {
		uint32_t weight[32];                                         /* of the hash */
		uint8_t cache[64][FASCIA_CELL_MAX < 3 ? FASCIA_CELL_MAX : 3]; /* of the codec */
	} u;
	uint8_t op[FASCIA_OP_SIZE];
	uint8_t rx[FASCIA_REQUEST_MAX + 5]; /* request being received, with its CRC, and one byte too many */
	uint8_t tx[FASCIA_TX_SIZE];
	uint8_t seen[FASCIA_OBSERVED][12]; /* as they go over the line */
#if FASCIA_STRIP
	uint16_t area[FASCIA_AREAS][4]; /* x, y, and beyond */
#endif
#if FASCIA_DENSE
	struct { /* all zero when a job is taken; a model is a chance of 1/2 plus what it has learnt, in 1/65536 */
		uint32_t low, span; /* of the interval; span: 2^32 - 1 less its length */
		uint16_t bytes, raw; /* of this row; rows to go raw */
		uint8_t above, same; /* last row as above; last guess right */
		uint8_t known, oldest; /* the rectangle is not sent; slot of the cache to give up next */
		uint16_t same_row[2], raw_row, hit[64], pick[5][8], slot[64], size[3][8];
		uint8_t key[FASCIA_GUESSES], guess[FASCIA_GUESSES]; /* guess: slot << 2 | trust */
	} dense;
#endif
};

/* Sets the agent up. panel is copied; port and id must stay. */
void fascia_init(struct fascia_agent *a, const struct fascia_port *port, const struct fascia_identity *id,
		 const struct fascia_panel *panel);

/* Does a bounded piece of work. Returns 0 when it has nothing to do before time passes or a byte
 * arrives, 1 when it wants to be called again soon. */
int fascia_poll(struct fascia_agent *a);

/* The panel changed size or format (rotation): everything the host knows is void. */
void fascia_panel_changed(struct fascia_agent *a, const struct fascia_panel *panel);

/* Real input, as the user gave it, for `fascia record`. Injected input is not to be reported. */
void fascia_observed(struct fascia_agent *a, const struct fascia_event *event);

#if FASCIA_STRIP
/* To be called from the flush hook with each area that is drawn, pixels packed row by row. An area drawn
 * in port.redraw() is as wide as the panel (with mono-pages: whole pages), and each row comes once. Returns 1 when
 * the area is for the host alone: do not send it to the panel, which is to stay as it is. Must not be called before
 * fascia_init. */
int fascia_strip(struct fascia_agent *a, unsigned x, unsigned y, unsigned w, unsigned h, const void *pixels);
#endif

/* True while the host asks that nothing be drawn: skip the UI's step, keep polling. */
int fascia_holding(const struct fascia_agent *a);

/* True while a frame is partly sent: a log line written now would cut into it. */
int fascia_mid_frame(const struct fascia_agent *a);

#ifdef __cplusplus
}
#endif
#endif
