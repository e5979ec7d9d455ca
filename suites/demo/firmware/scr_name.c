/* A name for the sensor that was found: typed, or one of four usual places. */
#include "clock.h"
#include "draw/widget.h"
#include "fern.h"
#include "heap.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"

enum { PLACE, ERASE = 4, SAVE, BACK, ENDS };

static char *name; /* SENSOR_NAME + 1 bytes while the screen is open; NULL: the heap is full */
static int shown_cursor;

#define PLACE_STEP ((FERN_W - 24) / 4)

static draw_rect field(void) { return ui_rect(16, 80, FERN_W - 84, 44); }
static draw_rect place(int i) { return ui_rect(16 + PLACE_STEP * i, 132, PLACE_STEP - 8, 44); }

static void enter(void) {
	shown_cursor = 1;
	name = heap_take(SENSOR_NAME + 1);
	if (name) {
		name[0] = 0;
		if (model.sensors > 0)
			text_add(name, SENSOR_NAME + 1, model.sensor[model.sensors - 1].name);
	}
	ui_focus_on(SAVE);
}

static void leave(void) {
	heap_give(name);
	name = 0;
}

static int target(int i, ui_target *t) {
	static const char *const names[ENDS] = {"place-1", "place-2", "place-3", "place-4", "erase", "save", "back"};
	if (i >= ENDS)
		return 0;
	t->id = i;
	t->anchor = names[i];
	t->r = i < ERASE ? place(i) : i == ERASE ? ui_rect(FERN_W - 60, 80, 44, 44) :
		i == SAVE ? ui_rect(16, 188, FERN_W - 32, 44) : ui_rect(0, 0, 48, HEADER_H);
	return 1;
}

static void paint(void) {
	const draw_rect what = {16, 48, FERN_W - 120, 24}, erase = {FERN_W - 60, 80, 44, 44}, save = {16, 188, FERN_W - 32, 44};
	int i;
	draw_fill(0, HEADER_H, FERN_W, FERN_H - HEADER_H, C_PAPER);
	draw_header(tr(STR_NAME_IT), ui_state(BACK));
	draw_text_in(&draw_font_body, what, DRAW_LEFT, tr(STR_FOUND), C_STONE);
	if (model.sensors > 0)
		draw_bars(FERN_W - 36, 52, model.sensor[model.sensors - 1].signal, C_FROND, C_RULE);
	draw_field(field(), name ? name : "", shown_cursor, 0);
	draw_button(erase, "", ui_state(ERASE));
	draw_icon_at(&icon_erase_24, erase.x + 10, erase.y + 10, C_INK);
	for (i = 0; i < 4; i++)
		draw_button(place(i), tr(STR_PLACE_BENCH + i), ui_state(i));
	draw_button(save, tr(STR_SAVE), ui_state(SAVE) | (name && name[0] ? DRAW_PRIMARY : DRAW_DISABLED));
}

/* The field, and Save, which goes grey while there is no name. */
static void changed(void) {
	ui_mark(field());
	ui_mark_target(SAVE);
}

static void erase(void) {
	if (name)
		name[text_chop(name)] = 0;
	changed();
}

static void save(void) {
	if (!name || !name[0])
		return;
	if (model.sensors > 0 && model_rename_sensor(model.sensors - 1, name))
		log_words("sensor saved", name);
	ui_go(&screen_sensors);
}

static void back(void) { ui_go(&screen_sensors); }

static void act(int id) {
	if (id == BACK) {
		back();
	} else if (id == SAVE) {
		save();
	} else if (id == ERASE) {
		erase();
	} else if (name) {
		name[0] = 0;
		text_add(name, SENSOR_NAME + 1, tr(STR_PLACE_BENCH + id));
		changed();
	}
}

static void type(const char *s) {
	while (*s && name && ui_screen_now() == &screen_name) {
		const char *next = s;
		uint32_t c = draw_utf8(&next);
		int i, n = text_len(name);
		if (c == '\b') {
			erase();
		} else if (c == '\n') {
			save();
			return;
		} else if (text_clean(s, (int)(next - s), SENSOR_NAME - n)) {
			for (i = 0; s + i < next; i++)
				name[n++] = s[i];
			name[n] = 0;
			changed();
		}
		s = next;
	}
}

static int animate(void) {
	int cursor = clock_phase(500, 2) == 0;
	if (cursor != shown_cursor) {
		shown_cursor = cursor;
		ui_mark(field());
	}
	return 0;
}

static void told(int what) {
	if (what & TOLD_SENSORS) /* the bars; a sensor may also have gone */
		draw_dirty_add(FERN_W - 40, 48, 28, 24);
}

const ui_screen screen_name = {.name = "name", .primary = -1, .enter = enter, .leave = leave, .paint = paint,
	.target = target, .act = act, .back = back, .animate = animate, .endless = 1, .told = told, .type = type};
