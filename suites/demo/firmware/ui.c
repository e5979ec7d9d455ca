/* Which screen is open, what is pressed, what has the focus. */
#include "ui.h"

#include "clock.h"
#include "draw/widget.h"
#include "fern.h"
#include "model.h"
#include "screens.h"
#include "text.h"

static const ui_screen *open;
static uint32_t now, visits;
static struct {
	int down, moved;   /* moved: it drags */
	int x0, y0, press; /* press: id of the pressed target, or -1 */
} finger;
static int focus, focus_shown; /* focus: id */

#define SLIP 6 /* pixels a finger may wander and still tap */

draw_rect ui_rect(int x, int y, int w, int h) {
	draw_rect r;
	r.x = x;
	r.y = y;
	r.w = w;
	r.h = h;
	return r;
}

void log_words(const char *a, const char *b) {
	char line[96];
	line[0] = 0;
	text_add(line, (int)sizeof line, a);
	text_add(line, (int)sizeof line, " ");
	text_add(line, (int)sizeof line, b);
	fern_log(line);
}

void log_number(const char *a, int32_t v) {
	char n[16];
	n[0] = 0;
	log_words(a, text_add_int(n, (int)sizeof n, v));
}

uint32_t ui_now(void) { return now; }
uint32_t ui_visits(void) { return visits; }
const ui_screen *ui_screen_now(void) { return open; }

void ui_boot(void) {
	now = visits = 0;
	open = 0;
	draw_dirty_clear();
}

static void let_go(void) {
	finger.down = finger.moved = 0;
	finger.press = -1;
}

int ui_find(int id, ui_target *t) {
	int i;
	for (i = 0; open->target && open->target(i, t); i++)
		if (t->id == id)
			return 1;
	return 0;
}

void ui_mark(draw_rect r) { draw_dirty_add(r.x, r.y, r.w, r.h); }

void ui_mark_target(int id) {
	ui_target t;
	if (ui_find(id, &t))
		ui_mark(t.r);
}

int ui_pressed(int id) { return finger.down && finger.press == id; }
int ui_has_focus(int id) { return focus_shown && focus == id; }

int ui_state(int id) { return (ui_pressed(id) ? DRAW_PRESSED : 0) | (ui_has_focus(id) ? DRAW_FOCUS : 0); }

static void hide_focus(void) {
	if (focus_shown)
		ui_mark_target(focus);
	focus_shown = 0;
}

static void show_focus(int id) {
	hide_focus();
	focus = id;
	focus_shown = 1;
	if (open->focused)
		open->focused(id);
	ui_mark_target(id);
}

void ui_focus_on(int id) { focus = id; }

void ui_finger_takes(void) { finger.down = finger.moved = 1; }

static int hit(int x, int y) {
	ui_target t;
	int i, id = -1;
	for (i = 0; open->target && open->target(i, &t); i++)
		if (x >= t.r.x && x < t.r.x + t.r.w && y >= t.r.y && y < t.r.y + t.r.h)
			id = t.id;
	return id;
}

static void release_press(void) {
	int id = finger.press;
	finger.press = -1;
	if (id >= 0)
		ui_mark_target(id);
}

void ui_slide(const ui_screen *s) {
	ui_target t;
	if (open) { /* what was pressed or in focus may stay in sight */
		hide_focus();
		release_press();
		if (open->leave)
			open->leave();
	}
	open = s;
	visits++;
	let_go();
	focus_shown = 0;
	focus = s->primary;
	log_words("screen", s->name);
	if (s->enter)
		s->enter();
	if (open == s && focus < 0 && s->target && s->target(0, &t))
		focus = t.id;
}

void ui_go(const ui_screen *s) {
	ui_slide(s);
	draw_dirty_all();
}

static void finger_down(int x, int y) {
	let_go();
	hide_focus();
	finger.down = 1;
	finger.x0 = x;
	finger.y0 = y;
	if (open->drag && open->drag(FERN_DOWN, x, y, 0, 0)) {
		finger.moved = 1;
		return;
	}
	finger.press = hit(x, y);
	if (finger.press >= 0)
		ui_mark_target(finger.press);
}

void ui_touch(int phase, int x, int y) {
	/* A driver may report nonsense; a finger a little off the panel is still a finger. */
	x = x < -FERN_W ? -FERN_W : x > 2 * FERN_W ? 2 * FERN_W : x;
	y = y < -FERN_H ? -FERN_H : y > 2 * FERN_H ? 2 * FERN_H : y;
	if (phase == FERN_DOWN) {
		if (finger.down)
			ui_touch(FERN_UP, -FERN_W, -FERN_H);
		finger_down(x, y);
		return;
	}
	if (!finger.down)
		return;
	if (!finger.moved) {
		int dx = x - finger.x0, dy = y - finger.y0;
		if (dx > SLIP || dx < -SLIP || dy > SLIP || dy < -SLIP) {
			finger.moved = 1;
			release_press();
		}
	}
	if (phase == FERN_MOVE) {
		if (finger.moved && open->drag)
			open->drag(FERN_MOVE, x, y, x - finger.x0, y - finger.y0);
		return;
	}
	if (finger.moved) {
		if (open->drag)
			open->drag(FERN_UP, x, y, x - finger.x0, y - finger.y0);
		let_go();
	} else {
		ui_target t;
		int id = finger.press;
		release_press();
		let_go();
		if (id >= 0 && ui_find(id, &t)) /* the world may have taken it away meanwhile */
			open->act(id);
	}
}

static void step_focus(int by) {
	ui_target t;
	int count = 0, at = 0, i;
	for (i = 0; open->target && open->target(i, &t); i++) {
		if (t.id == focus)
			at = i;
		count++;
	}
	if (count == 0)
		return;
	if (focus_shown) { /* the first turn or key only shows where the focus is */
		at = (at + by) % count;
		if (at < 0)
			at += count;
	}
	if (open->target(at, &t))
		show_focus(t.id);
}

void ui_key(uint16_t usage) {
	ui_target t;
	switch (usage) {
	case FERN_KEY_LEFT: step_focus(-1); break;
	case FERN_KEY_RIGHT: step_focus(1); break;
	case FERN_KEY_BACK:
		if (open->back)
			open->back();
		break;
	case FERN_KEY_OK:
		if (focus_shown && ui_find(focus, &t))
			open->act(focus);
		else if (open->primary >= 0)
			open->act(open->primary);
		else
			step_focus(0);
		break;
	default: break; /* the device has four keys */
	}
}

void ui_turn(int detents) {
	/* No hand turns a knob further between two polls. */
	detents = detents > 200 ? 200 : detents < -200 ? -200 : detents;
	if (detents == 0 || (open->turn && open->turn(detents)))
		return;
	if (!focus_shown)
		detents += detents > 0 ? -1 : 1; /* the first detent shows the focus */
	if (!focus_shown)
		step_focus(0);
	if (detents)
		step_focus(detents);
}

void ui_roll(int steps) {
	steps = steps > 200 ? 200 : steps < -200 ? -200 : steps;
	if (steps != 0 && open->roll)
		open->roll(steps);
}

int ui_lamp_focus(void) {
	ui_target t;
	return open->target && open->target(1, &t);
}

int ui_lamp_ok(void) { return focus_shown || open->primary >= 0; }

/* ---- time ---- */

void ui_run(uint32_t ms) {
	now += ms;
	clock_run(ms);
	ui_told(TOLD_CLOCK);
}

static int moving;

void ui_told(int what) {
	if (!open)
		return;
	if (open->told)
		open->told(what);
	moving = open->animate ? open->animate() : 0;
}

int ui_busy(void) {
	moving = open->animate ? open->animate() : 0;
	return moving || draw_dirty_pending() || (open->endless && !clock_held());
}

#ifdef FERN_SMALL
void ui_paint(void) { small_paint(); }
#else
void ui_paint(void) { open->paint(); }
#endif

void ui_move_to(ui_move *m, int to, uint32_t span_ms) {
	m->from = ui_move_at(m);
	m->to = to;
	m->start = now;
	m->span = span_ms;
}

int ui_moving(const ui_move *m) { return now - m->start < m->span; }

int ui_move_at(const ui_move *m) {
	uint32_t gone = now - m->start;
	int32_t left;
	if (gone >= m->span)
		return m->to;
	left = (int32_t)((m->span - gone) * 256u / m->span); /* 256 at the start */
	return m->to - (m->to - m->from) * left / 256 * left / 256;
}
