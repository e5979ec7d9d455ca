/* The manual panel, pulled down over home: fan, mist valve, bed lamp. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"

enum { FAN, VALVE, LAMP, CLOSE, ENDS };

#define TALL 168     /* of the panel below the status bar */
#define GRIP 24      /* its lower edge, to push it up by */
#define SLIDE_MS 180
#define CARD_W ((FERN_W - 24) / 2)
#define TAP 6        /* pixels a finger wanders in a tap */
#define DETENT 4     /* per cent of the lamp */

static ui_move slide, fan, valve;
static int shown, shown_fan, shown_valve; /* rows of the panel that show; the switches' travel */
static enum { REST, PULL, PUSH, DIM } held; /* what the finger does */
static int grab;

static int top(void) { return BAR_H + shown - TALL; }
static draw_rect card(int id) {
	return id == LAMP ? ui_rect(8, top() + 76, FERN_W - 16, 64) : ui_rect(id == FAN ? 8 : 16 + CARD_W, top() + 4, CARD_W, 64);
}
static draw_rect toggle(int id) { return ui_rect(card(id).x + CARD_W - 54, card(id).y + 34, 44, 24); }
static draw_rect slider(void) { return ui_rect(20, top() + 108, FERN_W - 40, 24); }
static draw_rect percent(void) { return ui_rect(FERN_W - 88, top() + 82, 68, 20); }

static void enter(void) {
	shown_fan = model.fan * DRAW_TOGGLE_TRAVEL;
	shown_valve = model.valve * DRAW_TOGGLE_TRAVEL;
	fan.from = fan.to = shown_fan;
	valve.from = valve.to = shown_valve;
	fan.span = valve.span = 0;
	held = REST;
}

static void open_from(int rows) {
	slide.from = slide.to = shown = rows;
	slide.span = 0;
	ui_slide(&screen_panel);
	draw_dirty_add(FERN_W / 2 - 24, 0, 48, BAR_H); /* the grip goes */
}

void panel_open(void) {
	open_from(0);
	ui_move_to(&slide, TALL, SLIDE_MS);
}

static int follow(int rows) {
	rows = rows < 0 ? 0 : rows > TALL ? TALL : rows;
	ui_move_to(&slide, rows, 0);
	ui_told(0);
	return rows;
}

void panel_pull(int y) {
	open_from(0);
	ui_finger_takes();
	held = PULL;
	follow(y - BAR_H);
}

static void close(void) {
	if (slide.to != 0)
		ui_move_to(&slide, 0, SLIDE_MS);
}

static void paint_switch(int id, const draw_icon *icon, int label, int on, int travel) {
	draw_rect r = card(id), name = {r.x + 42, r.y + 6, r.w - 48, 20}, is = {r.x + 12, r.y + 36, 80, 20};
	draw_card(r, ui_pressed(id) ? C_DEW : C_CARD);
	if (ui_has_focus(id))
		draw_round_frame(r.x, r.y, r.w, r.h, 8, 3, C_ACCENT, C_CARD);
	draw_icon_at(icon, r.x + 10, r.y + 4, on ? C_MIST : C_STONE);
	draw_text_in(&draw_font_bold, name, DRAW_LEFT, tr(label), C_INK);
	draw_text_in(&draw_font_small, is, DRAW_LEFT, tr(on ? STR_ON : STR_OFF), C_STONE);
	draw_toggle(toggle(id).x, toggle(id).y, travel);
}

static void paint_lamp(void) {
	draw_rect r = card(LAMP), name = {r.x + 42, r.y + 6, FERN_W - 140, 20};
	char text[8];
	text[0] = 0;
	draw_card(r, C_CARD);
	if (ui_has_focus(LAMP))
		draw_round_frame(r.x, r.y, r.w, r.h, 8, 3, C_ACCENT, C_CARD);
	draw_icon_at(&icon_lamp_24, r.x + 10, r.y + 4, model.lamp > 0 ? C_WARM : C_STONE);
	draw_text_in(&draw_font_bold, name, DRAW_LEFT, tr(STR_BED_LAMP), C_INK);
	text_add_int(text, (int)sizeof text, model.lamp);
	text_add(text, (int)sizeof text, " %");
	draw_text_in(&draw_font_title, percent(), DRAW_RIGHT, text, C_INK);
	draw_slider(slider(), model.lamp, held == DIM ? DRAW_PRESSED : 0);
}

static void paint(void) {
	int end = BAR_H + shown;
	home_paint();
	if (shown > 0) {
		draw_rect title = {16, end - GRIP, FERN_W / 2 - 20, GRIP - 4};
		draw_fill(0, BAR_H, FERN_W, shown, C_FERN);
		paint_switch(FAN, &icon_fan_24, STR_FAN, model.fan, shown_fan);
		paint_switch(VALVE, &icon_valve_24, STR_VALVE, model.valve, shown_valve);
		paint_lamp();
		draw_text_in(&draw_font_small, title, DRAW_LEFT, tr(STR_MANUAL_RUN), C_MOSS);
		draw_fill(FERN_W / 2 - 18, end - 14, 36, 3, C_MOSS);
		draw_fill(0, end - 4, FERN_W, 4, C_DEEP);
		if (ui_has_focus(CLOSE))
			draw_frame(0, end - GRIP, FERN_W, GRIP - 4, 2, C_ACCENT);
	}
	status_paint();
}

static int target(int i, ui_target *t) {
	static const char *const names[ENDS] = {"fan", "valve", "lamp", "close"};
	if (i >= ENDS)
		return 0;
	t->id = i;
	t->anchor = names[i];
	t->r = i == CLOSE ? ui_rect(0, BAR_H + shown - GRIP, FERN_W, FERN_H) : card(i);
	if (i == CLOSE)
		t->r.h = FERN_H - t->r.y;
	return 1;
}

static void set_switch(int id, int on) {
	if (id == FAN)
		model_set_fan(on);
	else
		model_set_valve(on);
	ui_move_to(id == FAN ? &fan : &valve, on ? DRAW_TOGGLE_TRAVEL : 0, 120);
	ui_mark(card(id));
}

static void set_lamp(int value) {
	if (value == model.lamp)
		return;
	ui_mark(percent());
	ui_mark(slider());
	if ((value > 0) != (model.lamp > 0))
		ui_mark(card(LAMP));
	if (held == DIM)
		model.lamp = value; /* logged when the finger lets go */
	else
		model_set_lamp(value);
}

static void act(int id) {
	if (id == FAN)
		set_switch(FAN, !model.fan);
	else if (id == VALVE)
		set_switch(VALVE, !model.valve);
	else if (id == CLOSE)
		close();
}

static int turn(int detents) {
	int to = model.lamp + detents * DETENT;
	set_lamp(to < 0 ? 0 : to > 100 ? 100 : to);
	return 1;
}

static void dim_to(int x) {
	draw_rect r = slider();
	int v = ((x - r.x - 12) * 100 + (r.w - 24) / 2) / (r.w - 24);
	set_lamp(v < 0 ? 0 : v > 100 ? 100 : v);
}

static int drag(int phase, int x, int y, int dx, int dy) {
	static int before;
	(void)dx;
	if (phase == FERN_DOWN) {
		draw_rect r = slider();
		held = REST;
		grab = y - shown;
		if (y >= r.y - 10 && y < r.y + r.h + 8 && x >= r.x - 8 && x < r.x + r.w + 8) {
			held = DIM;
			before = model.lamp;
			ui_mark(r);
			dim_to(x);
			return 1;
		}
		if (y >= BAR_H + shown - GRIP) { /* the lower edge, and what lies below it */
			held = PUSH;
			return 1;
		}
		return 0;
	}
	if (held == DIM) {
		dim_to(x);
		if (phase == FERN_UP) {
			held = REST;
			ui_mark(slider());
			if (model.lamp != before)
				log_number("lamp", model.lamp);
		}
		return 0;
	}
	if (held == REST && dy < 0)
		held = PUSH;
	if (held == PULL || held == PUSH) {
		int rows = follow(held == PULL ? y - BAR_H : y - grab);
		if (phase == FERN_UP) { /* a third of the way is meant */
			int down = held == PULL ? rows > TALL / 3 : rows > TALL * 2 / 3;
			if (held == PUSH && dy > -TAP && dy < TAP)
				down = 0;
			ui_move_to(&slide, down ? TALL : 0, SLIDE_MS);
			held = REST;
		}
	}
	return 0;
}

static int animate(void) {
	int at = ui_move_at(&slide);
	if (at != shown) {
		/* Its whole height, so that what it uncovers is redrawn; coming down, also the rule below. */
		draw_dirty_add(0, BAR_H, FERN_W, at > shown ? TALL + 1 : TALL);
		shown = at;
	}
	if (ui_move_at(&fan) != shown_fan) {
		shown_fan = ui_move_at(&fan);
		ui_mark(toggle(FAN));
	}
	if (ui_move_at(&valve) != shown_valve) {
		shown_valve = ui_move_at(&valve);
		ui_mark(toggle(VALVE));
	}
	if (shown == 0 && held == REST && !ui_moving(&slide)) {
		ui_slide(&screen_home);
		draw_dirty_add(FERN_W / 2 - 24, 0, 48, BAR_H);
		return 1;
	}
	return ui_moving(&slide) || ui_moving(&fan) || ui_moving(&valve);
}

static void back(void) { close(); }

const ui_screen screen_panel = {.name = "panel", .primary = -1, .enter = enter, .paint = paint, .target = target,
	.act = act, .back = back, .turn = turn, .drag = drag, .animate = animate, .told = home_told};
