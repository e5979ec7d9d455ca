/* Header, button, card, row. */
#include "widget.h"

static draw_rect inset(draw_rect r, int by) {
	r.x += by;
	r.y += by;
	r.w -= 2 * by;
	r.h -= 2 * by;
	return r;
}

void draw_header(const char *title, int state) {
	draw_rect at = {48, 0, 0, HEADER_H};
	int w, h;
	draw_panel_size(&w, &h);
	at.w = w - 96;
	draw_fill(0, 0, w, HEADER_H, C_FERN);
	if (state & DRAW_PRESSED)
		draw_fill(0, 0, 48, HEADER_H, C_FROND);
	draw_icon_at(&icon_left_24, 12, 8, C_PAPER);
	draw_text_in(&draw_font_title, at, DRAW_LEFT, title, C_CARD);
	if (state & DRAW_FOCUS)
		draw_frame(2, 2, 44, HEADER_H - 4, 2, C_ACCENT);
}

void draw_card(draw_rect r, draw_color c) { draw_round(r.x, r.y, r.w, r.h, 8, c); }

void draw_focus_row(draw_rect r) { draw_frame(r.x, r.y, r.w, r.h, 2, C_FROND); }

void draw_button(draw_rect r, const char *label, int state) {
	draw_color face = state & DRAW_PRIMARY ? C_ACCENT : C_DEW;
	draw_color ink = state & DRAW_DISABLED ? C_STONE : C_INK;
	if (state & DRAW_DISABLED)
		face = C_RULE;
	if (state & DRAW_PRESSED)
		face = draw_mix(face, C_INK, 6);
	if (state & DRAW_FOCUS)
		draw_round_frame(r.x, r.y, r.w, r.h, 8, 2, C_FERN, face);
	else
		draw_round(r.x, r.y, r.w, r.h, 8, face);
	r = inset(r, 4);
#if DRAW_MAJOR >= 2
	r.y += 1; /* the upgrade centres on the line's box instead of on the capitals */
#endif
	draw_text_in(&draw_font_title, r, DRAW_CENTRE, label, ink);
}

static void draw_label(draw_rect at, const char *label, int arrow) {
#if DRAW_MAJOR >= 2
	/* The upgrade sets room for the arrow and a gap aside once more, and cuts where it used to
	 * shorten: only long words notice. */
	draw_rect whole = draw_clipped();
	int edge = at.x + at.w - (arrow ? 28 : 0);
	draw_rect cut = whole;
	if (edge < cut.x + cut.w)
		cut.w = edge > cut.x ? edge - cut.x : 0;
	draw_clip(cut);
	draw_text(&draw_font_title, at.x, at.y + (at.h + draw_font_title.capital) / 2, label, C_INK);
	draw_clip(whole);
#else
	(void)arrow;
	draw_text_in(&draw_font_title, at, DRAW_LEFT, label, C_INK);
#endif
}

void draw_list_row(draw_rect r, const draw_row *row, int state) {
	int left = r.x + (row->icon ? 48 : 16), right = r.x + r.w - 16 - row->room;
	draw_rect at;
	draw_fill(r.x, r.y, r.w, r.h - 1, state & DRAW_PRESSED ? C_DEW : C_CARD);
	draw_fill(r.x, r.y + r.h - 1, r.w, 1, C_RULE);
	if (row->icon)
		draw_icon_at(row->icon, r.x + 12, r.y + (r.h - 24) / 2, C_FROND);
	if (row->arrow) {
		draw_icon_at(&icon_right_16, right - 12, r.y + (r.h - 16) / 2, C_STONE);
		right -= 20;
	}
	at.y = r.y;
	at.h = r.h;
	if (row->value) {
		int w = draw_text_width(&draw_font_body, row->value);
		at.x = right - w;
		at.w = w;
		draw_text_in(&draw_font_body, at, DRAW_LEFT, row->value, C_STONE);
		right -= w + 8;
	}
	at.x = left;
	at.w = right - left;
	draw_label(at, row->label, row->arrow);
	if (state & DRAW_FOCUS)
		draw_focus_row(r);
}

void draw_scroll_bar(draw_rect view, int offset, int total) {
	int h;
	if (total <= view.h)
		return;
	h = view.h * view.h / total;
	draw_fill(view.x + view.w - 4, view.y, 4, view.h, C_PAPER);
	draw_fill(view.x + view.w - 4, view.y + offset * view.h / total, 4, h, C_MOSS);
}
