/* Pairing: the code printed under the sensor, four to six digits. */
#include "clock.h"
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"

/* The keypad's ids are its places, row by row. */
enum { ERASE = 9, ZERO = 10, CONFIRM = 11, BACK = 12, ENDS };

static char code[CODE_MAX + 1];
static int digits, message; /* message: a text id, or -1 */
static int shown_cursor;

/* Beside the keypad stands what is to be typed: a narrow panel makes both narrower. */
#define KEY_STEP (FERN_W < 300 ? 40 : 48)
#define BOX_STEP (FERN_W < 300 ? 16 : 24)
#define KEYS_X (FERN_W - 8 - 3 * KEY_STEP)
#define TEXT_W (KEYS_X - 20)

static draw_rect key_rect(int i) { return ui_rect(KEYS_X + KEY_STEP * (i % 3), 48 + 48 * (i / 3), KEY_STEP - 4, 44); }
static draw_rect box_rect(int i) { return ui_rect(12 + BOX_STEP * i, 128, BOX_STEP - 2, 36); }
static draw_rect message_rect(void) { return ui_rect(12, 172, TEXT_W, 56); }

static void enter(void) {
	digits = 0;
	code[0] = 0;
	message = -1;
	shown_cursor = 1;
}

static int target(int i, ui_target *t) {
	static const char *const names[ENDS] = {"1", "2", "3", "4", "5", "6", "7", "8", "9", "erase", "0", "ok", "back"};
	if (i >= ENDS)
		return 0;
	t->id = i;
	t->anchor = names[i];
	t->r = i == BACK ? ui_rect(0, 0, 48, HEADER_H) : key_rect(i);
	return 1;
}

static void paint(void) {
	static const char *const caps[12] = {"1", "2", "3", "4", "5", "6", "7", "8", "9", "", "0", ""};
	const draw_rect hint = {12, 48, TEXT_W, 76};
	int i;
	draw_fill(0, HEADER_H, FERN_W, FERN_H - HEADER_H, C_PAPER);
	draw_header(tr(STR_PAIR), ui_state(BACK));
	draw_text_block(&draw_font_body, hint, 18, DRAW_LEFT, tr(STR_PAIR_HINT), C_INK);
	for (i = 0; i < CODE_MAX; i++)
		draw_code_box(box_rect(i), i < digits ? code[i] : 0, i == digits, i == digits && shown_cursor);
	if (message >= 0)
		draw_text_block(&draw_font_bold, message_rect(), 18, DRAW_LEFT, tr(message), C_ALERT);
	for (i = 0; i < 12; i++) {
		draw_rect r = key_rect(i);
		draw_button(r, caps[i], ui_state(i) | (i == CONFIRM ? DRAW_PRIMARY : 0));
		if (i == ERASE || i == CONFIRM)
			draw_icon_at(i == ERASE ? &icon_erase_24 : &icon_check_24, r.x + (r.w - 24) / 2, r.y + 10, C_INK);
	}
}

static void mark_code(void) { draw_dirty_add(12, 128, BOX_STEP * CODE_MAX, 36); }

static void say(int id) {
	if (id != message)
		draw_dirty_add(8, 172, TEXT_W + 8, 56); /* letters may overhang the box they start in */
	message = id;
}

static void digit(char c) {
	say(-1);
	if (digits == CODE_MAX)
		return;
	code[digits++] = c;
	code[digits] = 0;
	mark_code();
}

static void erase(void) {
	say(-1);
	if (digits == 0)
		return;
	code[--digits] = 0;
	mark_code();
}

static void confirm(void) {
	if (digits < 4) {
		say(STR_CODE_SHORT);
		fern_log("pair code short");
	} else if (!text_same(code, model.code)) {
		say(STR_CODE_WRONG);
		fern_log("pair code wrong");
		digits = 0;
		code[0] = 0;
		mark_code();
	} else {
		fern_log("pair code right");
		ui_go(&screen_search);
	}
}

static void back(void) { ui_go(&screen_sensors); }

static void act(int id) {
	if (id == BACK)
		back();
	else if (id == ERASE)
		erase();
	else if (id == CONFIRM)
		confirm();
	else
		digit(id == ZERO ? '0' : (char)('1' + id));
}

static void type(const char *s) {
	for (; *s && ui_screen_now() == &screen_pair; s++) {
		if (*s >= '0' && *s <= '9')
			digit(*s);
		else if (*s == '\b')
			erase();
		else if (*s == '\n')
			confirm();
	}
}

static int animate(void) {
	int cursor = clock_phase(500, 2) == 0;
	if (cursor != shown_cursor) {
		shown_cursor = cursor;
		if (digits < CODE_MAX)
			ui_mark(box_rect(digits));
	}
	return 0;
}

const ui_screen screen_pair = {.name = "pair", .primary = -1, .enter = enter, .paint = paint, .target = target,
	.act = act, .back = back, .animate = animate, .endless = 1, .type = type};
