/* The frame that screens hang in: one screen is open; touch, keys and knob reach it through
 * targets; what changed is marked dirty and painted at the next step. */
#ifndef FERN_UI_H
#define FERN_UI_H

#include <stdint.h>

#include "draw/draw.h"

/* Something that can be touched or focused. */
typedef struct {
	draw_rect r;        /* what is visible of it; empty: scrolled away, but the focus can reach it */
	const char *anchor; /* its name to the outside; NULL: no name */
	int id;             /* unique on its screen */
} ui_target;

typedef struct {
	const char *name;
	void (*enter)(void);                                      /* NULL: nothing to do */
	void (*leave)(void);
	void (*paint)(void);                                      /* the whole screen; the clip cuts it */
	int (*target)(int i, ui_target *t);                       /* 0 past the last */
	void (*act)(int id);                                      /* touched or confirmed */
	void (*back)(void);                                       /* NULL: back does nothing */
	int primary;                                              /* confirmed by OK without a focus; -1: none */
	int (*turn)(int detents);                                 /* NULL or 0: the knob moves the focus */
	void (*roll)(int steps);                                  /* NULL: the wheel does nothing */
	int (*drag)(int phase, int x, int y, int dx, int dy);     /* 1 at FERN_DOWN takes the finger at once */
	void (*focused)(int id);                                  /* the focus came to it: scroll it into view */
	int (*animate)(void);                                     /* marks what moved; 1 while a finite movement lasts */
	int endless;                                              /* shows a spinner or cursor: moves unless held */
	void (*told)(int what);                                   /* the world changed: TOLD_ of model.h */
	void (*type)(const char *text);
} ui_screen;

void ui_boot(void);
uint32_t ui_now(void);
void ui_run(uint32_t ms);
void ui_told(int what);

void ui_go(const ui_screen *s);
/* As ui_go, but only the screen's own marks are redrawn: for what slides over another screen. */
void ui_slide(const ui_screen *s);
const ui_screen *ui_screen_now(void);
/* The finger that is down goes on with the screen just opened. */
void ui_finger_takes(void);

/* How a target stands now, for paint. */
int ui_pressed(int id);
int ui_has_focus(int id);
int ui_state(int id); /* both, as the bits that widgets take */
void ui_mark(draw_rect r);
void ui_mark_target(int id);
int ui_find(int id, ui_target *t);
void ui_focus_on(int id); /* where the focus will appear; it stays hidden until a key or the knob */

void ui_touch(int phase, int x, int y);
void ui_key(uint16_t usage);
void ui_turn(int detents);
void ui_roll(int steps);
int ui_busy(void);
void ui_paint(void);
int ui_lamp_focus(void); /* the screen has something to walk through */
int ui_lamp_ok(void);    /* OK would do something */

/* A movement from one value to another that slows down towards its end. */
typedef struct {
	int from, to;
	uint32_t start, span;
} ui_move;

void ui_move_to(ui_move *m, int to, uint32_t span_ms);
int ui_move_at(const ui_move *m);
int ui_moving(const ui_move *m);

draw_rect ui_rect(int x, int y, int w, int h);
uint32_t ui_visits(void);

/* log_words("screen", "home") logs "screen home". */
void log_words(const char *a, const char *b);
void log_number(const char *a, int32_t v);

#endif
