/* The season reminder: a dialog that offers the schedule of the season that has begun. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"

enum { LATER, SWITCH };

static int season;

static draw_rect button(int id) { return ui_rect(id == LATER ? 32 : FERN_W / 2 + 4, 164, FERN_W / 2 - 36, 44); }

static void enter(void) { season = model_season_now(); }

static int target(int i, ui_target *t) {
	if (i > SWITCH)
		return 0;
	t->id = i;
	t->anchor = i == LATER ? "later" : "switch";
	t->r = button(i);
	return 1;
}

static void paint(void) {
	static const draw_color tint[4] = {DRAW_RGB(0x7F, 0xB0, 0x4E), DRAW_RGB(0xE0, 0x9A, 0x28),
		DRAW_RGB(0xB8, 0x5C, 0x2A), DRAW_RGB(0x4C, 0x86, 0xA8)};
	const draw_rect card = {16, 24, FERN_W - 32, 200}, head = {84, 40, FERN_W - 108, 40}, body = {32, 84, FERN_W - 64, 76};
	draw_shade(0, 0, FERN_W, FERN_H, C_FERN, C_DEEP);
	draw_card(card, C_CARD);
	draw_disc(32, 40, 40, tint[season]);
	draw_icon_at(&icon_leaf_24, 40, 48, C_CARD);
	draw_text_in(&draw_font_head, head, DRAW_LEFT, tr(STR_SPRING + season), C_FERN);
	draw_text_block(&draw_font_body, body, 18, DRAW_LEFT, tr(STR_SPRING_DO + season), C_INK);
	draw_button(button(LATER), tr(STR_LATER), ui_state(LATER));
	draw_button(button(SWITCH), tr(STR_SWITCH), DRAW_PRIMARY | ui_state(SWITCH));
}

static void act(int id) {
	if (id == SWITCH) {
		model.season_done = 1;
		fern_log("season switched");
	} else {
		fern_log("season later");
	}
	ui_go(&screen_home);
}

static void back(void) { act(LATER); }

void season_offer(void) { ui_go(model_season_due() >= 0 ? &screen_season : &screen_home); }

const ui_screen screen_season = {.name = "season", .primary = SWITCH, .enter = enter, .paint = paint,
	.target = target, .act = act, .back = back};
