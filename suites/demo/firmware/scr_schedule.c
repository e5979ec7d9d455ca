/* The mistings of the day, by time. Touching one switches it on or off. */
#include "draw/widget.h"
#include "fern.h"
#include "lang.h"
#include "model.h"
#include "screens.h"
#include "scroll.h"
#include "text.h"

#define ENTRIES 12
#define ROW_H 50
enum { BACK = ENTRIES };

static const struct {
	uint16_t minute; /* of the day */
	uint8_t zone, days, length; /* length: minutes */
} entries[ENTRIES] = {
	{6 * 60 + 30, STR_ZONE_SEEDLINGS, STR_DAILY, 4},   {7 * 60, STR_ZONE_FERNS, STR_DAILY, 6},
	{8 * 60 + 15, STR_ZONE_CUTTINGS, STR_WORKDAYS, 3}, {10 * 60 + 15, STR_ZONE_SEEDLINGS, STR_DAILY, 2},
	{11 * 60, STR_ZONE_ORCHIDS, STR_ALTERNATE, 5},     {12 * 60 + 30, STR_ZONE_MOSS, STR_DAILY, 8},
	{13 * 60 + 45, STR_ZONE_SEEDLINGS, STR_DAILY, 2},  {15 * 60, STR_ZONE_HERBS, STR_WEEKEND, 5},
	{16 * 60 + 30, STR_ZONE_CUTTINGS, STR_WORKDAYS, 3}, {18 * 60, STR_ZONE_FERNS, STR_DAILY, 6},
	{19 * 60 + 15, STR_ZONE_ORCHIDS, STR_ALTERNATE, 4}, {21 * 60, STR_ZONE_MOSS, STR_DAILY, 5},
};

static ui_scroll list;

static void enter(void) { scroll_reset(&list, HEADER_H, 4 * ROW_H, ROW_H, ENTRIES); }

static int off(int i) { return (model.schedule_off >> i) & 1; }

static int target(int i, ui_target *t) {
	static const char *const names[ENTRIES] = {"entry-1", "entry-2", "entry-3", "entry-4", "entry-5", "entry-6",
		"entry-7", "entry-8", "entry-9", "entry-10", "entry-11", "entry-12"};
	if (i > BACK)
		return 0;
	t->id = i;
	t->anchor = i == BACK ? "back" : names[i];
	t->r = i == BACK ? ui_rect(0, 0, 48, HEADER_H) : scroll_visible(&list, i);
	return 1;
}

static void paint_row(int i) {
	draw_rect r = scroll_row(&list, i);
	draw_rect time = {r.x + 16, r.y, 60, r.h - 1}, zone = {r.x + 88, r.y + 6, FERN_W - 140, 20}, days = {r.x + 88, r.y + 27, FERN_W - 140, 16};
	draw_row row = {0, "", 0, 0, 0};
	char text[40];
	if (draw_hidden(r.x, r.y, r.w, r.h))
		return;
	draw_list_row(r, &row, ui_state(i));
	text[0] = 0;
	text_add_digits(text, (int)sizeof text, entries[i].minute / 60u, 2);
	text_add(text, (int)sizeof text, ":");
	text_add_digits(text, (int)sizeof text, entries[i].minute % 60u, 2);
	draw_text_in(&draw_font_head, time, DRAW_LEFT, text, off(i) ? C_MOSS : C_FERN);
	draw_text_in(&draw_font_bold, zone, DRAW_LEFT, tr(entries[i].zone), off(i) ? C_STONE : C_INK);
	text[0] = 0;
	text_add_int(text, (int)sizeof text, entries[i].length);
	text_add(text, (int)sizeof text, " min · ");
	text_add(text, (int)sizeof text, tr(entries[i].days));
	draw_text_in(&draw_font_small, days, DRAW_LEFT, text, C_STONE);
	if (!off(i))
		draw_icon_at(&icon_check_24, FERN_W - 44, r.y + 13, C_FROND);
}

static void paint(void) {
	int i;
	for (i = 0; i < ENTRIES; i++)
		paint_row(i);
	scroll_bar(&list);
	draw_header(tr(STR_SCHEDULE), ui_state(BACK));
}

static void back(void) { ui_go(&screen_home); }

static void act(int id) {
	char line[16];
	if (id == BACK) {
		back();
		return;
	}
	model.schedule_off ^= 1u << id;
	line[0] = 0;
	text_add_int(line, (int)sizeof line, id + 1);
	log_words("schedule", text_add(line, (int)sizeof line, off(id) ? " off" : " on"));
	ui_mark_target(id);
}

static void focused(int id) {
	if (id != BACK)
		scroll_reveal(&list, id);
}

static void roll(int steps) { scroll_by(&list, steps); }

static int drag(int phase, int x, int y, int dx, int dy) {
	(void)x;
	(void)dx;
	return scroll_drag(&list, phase, y, dy);
}

static int animate(void) { return scroll_animate(&list); }

const ui_screen screen_schedule = {.name = "schedule", .primary = -1, .enter = enter, .paint = paint, .target = target,
	.act = act, .back = back, .focused = focused, .roll = roll, .drag = drag, .animate = animate};
