/* The alarm: red, over everything, until somebody acknowledges it. */
#include "clock.h"
#include "draw/widget.h"
#include "fault.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "text.h"

enum { ACKNOWLEDGE };

static const ui_screen *before; /* what the alarm interrupted */
static int minute;              /* when it was raised */

static draw_rect button(void) { return ui_rect(24, 180, FERN_W - 48, 44); }

static void enter(void) {
#ifdef FERN_FAULT_PANIC
	fern_log("panic: mist valve interlock");
	fern_crash("mist valve interlock");
#endif
}

static int target(int i, ui_target *t) {
	if (i > 0)
		return 0;
	t->id = ACKNOWLEDGE;
	t->anchor = "acknowledge";
	t->r = button();
	return 1;
}

static void reading(draw_rect r) {
	char text[16];
	int dry = model.alarm == ALARM_DRY, value = dry ? model.humidity : model.temperature, pen;
	text[0] = 0;
	if (model.alarm == ALARM_TANK || model.alarm == ALARM_STUCK) {
		draw_disc(r.x, r.y + 2, 40, C_DEW);
		draw_icon_at(model.alarm == ALARM_TANK ? &icon_drop_24 : &icon_valve_24, r.x + 8, r.y + 10, C_MIST);
		return;
	}
	if (value == MODEL_NONE)
		text_add(text, (int)sizeof text, "––");
	else if (dry)
		text_add_int(text, (int)sizeof text, value);
	else
		text_add_tenths(text, (int)sizeof text, value);
	pen = draw_text(&draw_font_big, r.x, r.y + 36, text, C_ALERT);
	draw_text(&draw_font_title, pen + 4, r.y + 16, dry ? "%" : "°C", C_STONE);
}

static void paint(void) {
	const draw_rect card = {12, 84, FERN_W - 24, 148}, over = {88, 16, FERN_W - 104, 20}, head = {88, 36, FERN_W - 96, 32},
					value = {28, 112, 120, 44};
	draw_rect advice = {156, 92, FERN_W - 180, 84};
	char title[32];
	if (model.alarm == ALARM_TANK || model.alarm == ALARM_STUCK) { /* an icon is narrower than figures */
		advice.x = 84;
		advice.w = FERN_W - 108;
	}
	title[0] = 0;
	text_add(title, (int)sizeof title, tr(STR_ALARM));
	text_add(title, (int)sizeof title, " · ");
	text_add_digits(title, (int)sizeof title, (uint32_t)minute / 60u, 2);
	text_add(title, (int)sizeof title, ":");
	text_add_digits(title, (int)sizeof title, (uint32_t)minute % 60u, 2);
	draw_fill(0, 0, FERN_W, FERN_H, C_ALERT);
	draw_disc(12, 10, 64, draw_mix(C_ALERT, C_INK, 9));
	draw_icon_at(&icon_bell_48, 20, 18, C_CARD);
	draw_text_in(&draw_font_bold, over, DRAW_LEFT, title, C_CARD);
	draw_text_in(&draw_font_head, head, DRAW_LEFT, tr(STR_HEAT + model.alarm - ALARM_HEAT), C_CARD);
	draw_card(card, C_CARD);
	reading(value);
	draw_text_block(&draw_font_body, advice, 18, DRAW_LEFT, tr(STR_HEAT_DO + model.alarm - ALARM_HEAT), C_INK);
	draw_button(button(), tr(STR_ACKNOWLEDGE), DRAW_PRIMARY | ui_state(ACKNOWLEDGE));
}

static void go_back(void) {
	const ui_screen *to = before ? before : &screen_home;
	before = 0;
	ui_go(to);
}

static void act(int id) {
	(void)id;
	model.alarm_acked = 1;
	fern_log("alarm acknowledged");
	if (model.alarm == ALARM_DRY)
		model_set_valve(1);
	go_back();
}

static void told(int what) {
	if (what & (TOLD_TEMPERATURE | TOLD_HUMIDITY))
		draw_dirty_add(28, 112, 124, 48);
}

void alarm_raise(int kind) {
	model.alarm = kind;
	model.alarm_acked = 0;
	if (kind == ALARM_OFF) {
		if (ui_screen_now() == &screen_alarm)
			go_back();
		else
			ui_told(TOLD_STATUS);
		return;
	}
	if (ui_screen_now() == &screen_splash) /* it will be raised once the device has started */
		return;
	if (ui_screen_now() != &screen_alarm) {
		before = ui_screen_now();
		if (before == &screen_panel || before == &screen_search || before == &screen_name)
			before = &screen_home; /* these cannot be entered halfway */
	}
	minute = clock_minute_of_day();
	ui_go(&screen_alarm);
}

const ui_screen screen_alarm = {.name = "alarm", .primary = ACKNOWLEDGE, .enter = enter, .paint = paint,
	.target = target, .act = act, .told = told};
