#include "fern_pattern.h"

#include "../draw/draw.h"
#include "../fern.h"
#include "fern_agent.h"

#ifndef FERN_STRIP /* without a framebuffer there is nothing that could hold a pattern */

static int shown;
static uint32_t changes;

static fern_pixel colour(const uint8_t *rgb) { return DRAW_RGB(rgb[0], rgb[1], rgb[2]); }

/* Pattern 7: runs of colour from (x, y) to the right, the same in so many rows. */
static int paint(const uint8_t *args, size_t n)
{
	size_t x, y, rows, i, k, at;
	if (n < 9 || (n - 5) % 4)
		return FASCIA_BAD_VALUE;
	x = args[0] | (size_t)args[1] << 8;
	y = args[2] | (size_t)args[3] << 8;
	rows = args[4];
	for (i = 5, at = x; i < n; i += 4)
		at += args[i];
	if (at > FERN_W || y + rows > FERN_H)
		return FASCIA_BAD_VALUE;
	for (; rows > 0; rows--, y++)
		for (i = 5, at = y * FERN_W + x; i < n; i += 4)
			for (k = 0; k < args[i]; k++)
				fern_framebuffer[at++] = colour(args + i + 1);
	return FASCIA_OK;
}

/* The colour of a pixel in patterns 1 to 6. */
static fern_pixel pixel(const uint8_t *args, unsigned x, unsigned y)
{
	static const uint8_t tones[2][3] = {{0, 0, 0}, {255, 255, 255}};
	uint8_t grey[3];
	unsigned v = 0, gray;
	switch (args[0]) {
	case 1:
		return colour(args + 1);
	case 2:
		v = x == 0 || y == 0 || x == FERN_W - 1 || y == FERN_H - 1;
		break;
	case 3:
		v = (x / args[1] + y / args[1]) % 2 == 0;
		break;
	case 4:
		v = args[1] ? y : x;
		gray = v ^ v >> 1;
		v = (gray >> args[2] & 1) ^ (args[3] & 1u);
		break;
	case 5:
		grey[0] = grey[1] = grey[2] = (uint8_t)(x * 255 / (FERN_W - 1));
		return colour(grey);
	case 6:
		v = x % args[1] == args[1] / 2u && y % args[1] == args[1] / 2u;
		break;
	default:
		break;
	}
	return colour(tones[v]);
}

int fern_pattern(const uint8_t *args, size_t n)
{
	static const uint8_t numbers[] = {0, 3, 0, 1, 3, 0, 1}; /* that each pattern needs */
	unsigned x, y;
	int r = FASCIA_OK;
	if (n == 0) {
		shown = 0;
		fern_redraw();
		return FASCIA_OK;
	}
	if (args[0] == 7)
		r = paint(args + 1, n - 1);
	else if (args[0] < 1 || args[0] > 6 || n - 1 < numbers[args[0]] || ((args[0] == 3 || args[0] == 6) && args[1] == 0) ||
		 (args[0] == 4 && args[2] > 15))
		r = FASCIA_BAD_VALUE;
	else
		for (y = 0; y < FERN_H; y++)
			for (x = 0; x < FERN_W; x++)
				fern_framebuffer[y * FERN_W + x] = pixel(args, x, y);
	if (r == FASCIA_OK) {
		shown = 1;
		changes++;
	}
	return r;
}

int fern_pattern_shown(void) { return shown; }
uint32_t fern_pattern_frames(void) { return changes; }

#else
int fern_pattern_shown(void) { return 0; }
uint32_t fern_pattern_frames(void) { return 0; }
#endif
