/* A device on the computer whose text is drawn by FreeType: pages of a settings menu, turned by the knob. For a
 * link of exec:COMMAND; the face's file is its argument. FREETYPE_PROPERTIES, an environment variable of that
 * library, chooses how letters are hinted.
 *
 *   cc $(pkg-config --cflags freetype2) -I../../../capture/link/agent -o device device.c \
 *      ../../../capture/link/agent/fascia_agent.c -lfreetype */
#define main example_main /* the line and the clock are those of the example */
#include "examples/host_main.c"
#undef main

#include <ft2build.h>
#include FT_FREETYPE_H

#include <stdio.h>

enum { W = 320, H = 240, PAGES = 6 };
static uint16_t screen[H][W];
static int page;
static FT_Face face;

static uint16_t mix(uint16_t ground, uint16_t ink, unsigned alpha)
{
	unsigned r = ((ground >> 11) * (255 - alpha) + (ink >> 11) * alpha + 127) / 255;
	unsigned g = ((ground >> 5 & 63) * (255 - alpha) + (ink >> 5 & 63) * alpha + 127) / 255;
	unsigned b = ((ground & 31) * (255 - alpha) + (ink & 31) * alpha + 127) / 255;
	return (uint16_t)(r << 11 | g << 5 | b);
}

static void fill(int x0, int y0, int x1, int y1, uint16_t c)
{
	int x, y;
	for (y = y0; y < y1; y++)
		for (x = x0; x < x1; x++)
			screen[y][x] = c;
}

static void text(int x, int y, const char *s, unsigned size, uint16_t ink)
{
	FT_Set_Pixel_Sizes(face, 0, size);
	for (; *s; s++) {
		const FT_Bitmap *m;
		unsigned u, v;
		if (FT_Load_Char(face, (FT_ULong)(unsigned char)*s, FT_LOAD_RENDER | FT_LOAD_TARGET_NORMAL))
			continue;
		m = &face->glyph->bitmap;
		for (v = 0; v < m->rows; v++)
			for (u = 0; u < m->width; u++) {
				int px = x + face->glyph->bitmap_left + (int)u, py = y - face->glyph->bitmap_top + (int)v;
				if (px >= 0 && px < W && py >= 0 && py < H)
					screen[py][px] = mix(screen[py][px], ink, m->buffer[(int)v * m->pitch + (int)u]);
			}
		x += (int)(face->glyph->advance.x >> 6);
	}
}

static void draw(void)
{
	static const char *const words[PAGES][5] = {
		{"Climate", "Temperature", "Humidity", "Frost guard", "Night mode"},
		{"Water", "Mist valve", "Tank level", "Next misting", "Flow rate"},
		{"Sensors", "North bench", "South bench", "Propagator", "Outside"},
		{"Display", "Brightness", "Language", "Colour theme", "Time out"},
		{"Network", "Gateway", "Signal strength", "Address", "Join again"},
		{"About", "Firmware version", "Serial number", "Licences", "Start over"}};
	int k;
	fill(0, 0, W, H, 0xF79C);
	fill(0, 0, W, 36, 0x1A87);
	text(12, 25, words[page][0], 20, 0xFFFF);
	for (k = 1; k < 5; k++) {
		fill(12, 36 + 40 * k - 34, W - 12, 36 + 40 * k, 0xFFFF);
		text(22, 36 + 40 * k - 11, words[page][k], 16, 0x2145);
		fill(W - 60, 36 + 40 * k - 24, W - 24, 36 + 40 * k - 10, k & 1 ? 0xED47 : 0x3C0B);
	}
	frames_drawn++;
}

static void input(void *ctx, const struct fascia_event *e)
{
	(void)ctx;
	if (e->kind == FASCIA_TURN)
		page = (page + e->a + PAGES) % PAGES;
	draw();
}

static const uint8_t *screen_row(void *ctx, unsigned y) { (void)ctx; return (const uint8_t *)screen[y]; }
static void redraw_all(void *ctx) { (void)ctx; draw(); }

int main(int argc, char **argv)
{
	static const struct fascia_panel panel = {W, H, FASCIA_RGB565_LE, 0};
	static struct fascia_identity id = {"freetype menu", "dev", "menu 1", "freetype", 0, FASCIA_RESET_POWER, 1u << FASCIA_TURN};
	static struct fascia_port port;
	static struct fascia_agent agent;
	struct pollfd in = {0, POLLIN, 0};
	FT_Library library;
	if (argc != 2 || FT_Init_FreeType(&library) || FT_New_Face(library, argv[1], 0, &face)) {
		fprintf(stderr, "usage: device FACE.ttf\n");
		return 2;
	}
	id.boot_id = (uint32_t)getpid() * 2654435761u;
	port.now_ms = now_ms;
	port.read = line_read;
	port.write = line_write;
	port.row = screen_row;
	port.frames = frames;
	port.busy = busy;
	port.redraw = redraw_all;
	port.input = input;
	fcntl(0, F_SETFL, fcntl(0, F_GETFL) | O_NONBLOCK);
	fcntl(1, F_SETFL, fcntl(1, F_GETFL) | O_NONBLOCK);
	draw();
	fascia_init(&agent, &port, &id, &panel);
	for (;;)
		if (!fascia_poll(&agent))
			poll(&in, 1, 5);
}
