/* Fernhouse mist controller: the seam between the user interface and whatever carries it
 * (the link agent, the twin, a host build, the microcontroller's own main loop).
 *
 * Nothing here allocates, blocks or reads a clock: time comes in through fern_step, the wall
 * clock through fern_clock_*. The same calls after the same seed give the same pixels. */
#ifndef FERN_H_SEAM
#define FERN_H_SEAM

#include <stdint.h>

/* The panel that a build is for: its size; with DRAW_DEPTH=24 eight bits a channel, with FERN_SMALL one bit and a few
 * lines (scr_small.c). */
#ifndef FERN_W
#define FERN_W 320
#define FERN_H 240
#endif
#if defined(DRAW_DEPTH) && DRAW_DEPTH == 24
typedef uint32_t fern_pixel; /* 0x00RRGGBB */
#else
typedef uint16_t fern_pixel; /* RGB565 */
#endif

#ifdef FERN_STRIP
/* Built without a framebuffer: what is drawn passes through so many rows of memory, strip by strip. */
#define FERN_STRIP_ROWS 24
/* Provided by the port: an area was drawn, RGB565 in host byte order, row by row without padding. */
void fern_flush(int x, int y, int w, int h, const uint16_t *pixels);
#else
/* Host byte order, row by row without padding; (0,0) is top left. */
extern fern_pixel fern_framebuffer[FERN_W * FERN_H];
#endif

/* Clears all state and shows the splash. It comes before every other call. */
void fern_boot(uint32_t seed);
/* Runs timers and animation up to now_ms and redraws what is dirty: at most one panel's worth. */
void fern_step(uint32_t now_ms);

enum { FERN_UP = 0, FERN_DOWN = 1, FERN_MOVE = 2 };
void fern_touch(int phase, int x, int y);

/* USB HID usage ids of the keyboard page, so that the four keys have names known elsewhere. */
enum { FERN_KEY_OK = 0x28, FERN_KEY_BACK = 0x29, FERN_KEY_RIGHT = 0x4F, FERN_KEY_LEFT = 0x50 };
void fern_key(uint16_t usage, int down);
void fern_turn(int detents);
/* The wheel in the case's edge: a list goes so many rows on, or back where negative. */
void fern_roll(int steps);
void fern_text(const char *utf8);

/* Sets one value of the device's world; 0 ok, -1 unknown name, -2 bad value (nothing changed). */
int fern_feed(const char *name, const char *value);
const char *fern_feed_name(int i);

/* Local wall time as if it were UTC; the device knows 1970 to 2099. */
void fern_clock_set(int64_t unix_seconds);
/* Held: the wall clock, the spinner and the cursor's blink stand still, at a fixed phase. */
void fern_clock_hold(int hold);
void fern_clock_step(uint32_t ms);

uint32_t fern_frames(void);
int fern_busy(void);
/* Draws the whole panel now, whatever is dirty; without a framebuffer what is dirty stays so. */
void fern_redraw(void);

const char *fern_gauge(int i, int32_t *value);
const char *fern_lamp(int i, uint8_t rgb[3]);
/* rect: x, y, width, height of a touch target of the current screen, in panel pixels. */
const char *fern_anchor(int i, int rect[4]);

const char *fern_library(void);
const char *fern_version(void);

/* Provided by the port. */
void fern_log(const char *line);
void fern_crash(const char *why);

#endif
