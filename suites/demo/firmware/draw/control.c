/* What is set or entered: switch, slider, code, field; and the spinner for what takes time. */
#include "widget.h"

void draw_toggle(int x, int y, int travel) {
	draw_color track = draw_mix(C_RULE, C_ACCENT, (unsigned)(travel * 32 / DRAW_TOGGLE_TRAVEL));
	draw_color edge = draw_mix(C_STONE, C_INK, (unsigned)(travel * 32 / DRAW_TOGGLE_TRAVEL));
	draw_round(x, y, 44, 24, 12, track);
	draw_disc(x + 2 + travel, y + 2, 20, edge);
	draw_disc(x + 4 + travel, y + 4, 16, C_CARD);
}

void draw_slider(draw_rect r, int percent, int state) {
	int centre = r.x + 12 + (r.w - 24) * percent / 100;
	int y = r.y + r.h / 2;
	draw_round(r.x, y - 4, r.w, 8, 4, C_RULE);
	if (centre > r.x + 12)
		draw_round(r.x, y - 4, centre - r.x, 8, 4, C_ACCENT);
	draw_disc(centre - 12, y - 12, 24, state & DRAW_PRESSED ? C_FERN : C_INK);
	draw_disc(centre - 9, y - 9, 18, C_CARD);
	draw_disc(centre - 4, y - 4, 8, C_ACCENT);
}

void draw_code_box(draw_rect r, char digit, int here, int cursor) {
	char s[2];
	s[0] = digit;
	s[1] = 0;
	draw_round_frame(r.x, r.y, r.w, r.h, 4, here ? 2 : 1, here ? C_ACCENT : C_MOSS, C_CARD);
	if (digit)
		draw_text_in(&draw_font_head, r, DRAW_CENTRE, s, C_INK);
	else if (cursor)
		draw_fill(r.x + r.w / 2 - 1, r.y + 8, 2, r.h - 16, C_INK);
}

void draw_field(draw_rect r, const char *text, int cursor, int state) {
	draw_rect whole = draw_clipped(), cut;
	int w = draw_text_width(&draw_font_title, text), x = r.x + 12, room = r.w - 26, x1, y1;
	draw_round_frame(r.x, r.y, r.w, r.h, 8, 2, state & DRAW_FOCUS ? C_FERN : C_ACCENT, C_CARD);
	if (w > room)
		x -= w - room;
	x1 = r.x + r.w - 12;
	y1 = r.y + r.h;
	cut.x = whole.x > r.x + 10 ? whole.x : r.x + 10;
	cut.y = whole.y > r.y ? whole.y : r.y;
	cut.w = (whole.x + whole.w < x1 ? whole.x + whole.w : x1) - cut.x;
	cut.h = (whole.y + whole.h < y1 ? whole.y + whole.h : y1) - cut.y;
	if (cut.w <= 0 || cut.h <= 0)
		return;
	draw_clip(cut);
	x = draw_text(&draw_font_title, x, r.y + (r.h + draw_font_title.capital) / 2, text, C_INK);
	if (cursor)
		draw_fill(x + 1, r.y + 10, 2, r.h - 20, C_INK);
	draw_clip(whole);
}

void draw_spinner(int x, int y, int phase, draw_color under) {
	static const int8_t at[12][2] = {/* 22 pixels from the centre, every 30 degrees */
		{0, -22}, {11, -19}, {19, -11}, {22, 0}, {19, 11}, {11, 19},
		{0, 22}, {-11, 19}, {-19, 11}, {-22, 0}, {-19, -11}, {-11, -19}};
	int i;
	for (i = 0; i < 12; i++) {
		int age = (phase - i + 12) % 12; /* 0: just lit */
		unsigned a = age < 9 ? (unsigned)(32 - age * 3) : 6u;
		draw_disc(x + DRAW_SPINNER / 2 + at[i][0] - 4, y + DRAW_SPINNER / 2 + at[i][1] - 4, 8, draw_mix(under, C_ACCENT, a));
	}
}

void draw_bars(int x, int y, int full, draw_color on, draw_color off) {
	int i;
	for (i = 0; i < 4; i++) {
		int h = 4 * (i + 1);
		draw_fill(x + 5 * i, y + 16 - h, 4, h, i < full ? on : off);
	}
}

void draw_battery(int x, int y, int percent, draw_color c) {
	draw_frame(x, y, 20, 10, 1, c);
	draw_fill(x + 20, y + 3, 2, 4, c);
	draw_fill(x + 2, y + 2, (16 * percent + 99) / 100, 6, c);
}
