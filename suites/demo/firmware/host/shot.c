/* shot: runs a script of fern_ calls on the host and writes PPM pictures. A test tool.
 *
 *   shot < script      one command a line:
 *     boot SEED | wait MS | tap X Y | down X Y | move X Y | up X Y | drag X0 Y0 X1 Y1
 *     key left|right|ok|back | turn N | roll N | text WORDS | feed NAME VALUE ('\n' in it: next item)
 *     clock UNIX | hold 0|1 | step MS | redraw | shot FILE | anchors | gauges | lamps
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../fern.h"

static uint32_t now;
static int quiet;

void fern_log(const char *line) {
	if (!quiet)
		printf("log: %s\n", line);
}

void fern_crash(const char *why) {
	printf("crash: %s\n", why);
	exit(3);
}

static void run(uint32_t ms) {
	uint32_t end = now + ms;
	while (now < end) {
		now += 10;
		fern_step(now);
	}
}

static void shot(const char *file) {
	FILE *f = fopen(file, "wb");
	int i;
	if (!f) {
		fprintf(stderr, "shot: error: open %s\n", file);
		exit(2);
	}
	fprintf(f, "P6 %d %d 255\n", FERN_W, FERN_H);
	for (i = 0; i < FERN_W * FERN_H; i++) {
		unsigned v = fern_framebuffer[i], r = v >> 11, g = (v >> 5) & 63u, b = v & 31u;
		fputc((int)(r << 3 | r >> 2), f);
		fputc((int)(g << 2 | g >> 4), f);
		fputc((int)(b << 3 | b >> 2), f);
	}
	fclose(f);
}

static void finger(int phase, int x, int y) {
	fern_touch(phase, x, y);
	run(10);
}

static void command(char *line) {
	char word[32] = "", *rest = line;
	int a = 0, b = 0, c = 0, d = 0, i, r[4];
	sscanf(line, "%31s", word);
	rest += strspn(rest, " \t");
	rest += strlen(word);
	rest += strspn(rest, " \t");
	sscanf(rest, "%d %d %d %d", &a, &b, &c, &d);
	if (!strcmp(word, "boot")) {
		now = 0;
		fern_boot((uint32_t)a);
		run(10);
	} else if (!strcmp(word, "wait")) {
		run((uint32_t)a);
	} else if (!strcmp(word, "tap")) {
		finger(FERN_DOWN, a, b);
		finger(FERN_UP, a, b);
		run(400);
	} else if (!strcmp(word, "down") || !strcmp(word, "move") || !strcmp(word, "up")) {
		finger(!strcmp(word, "down") ? FERN_DOWN : !strcmp(word, "up") ? FERN_UP : FERN_MOVE, a, b);
	} else if (!strcmp(word, "drag")) {
		finger(FERN_DOWN, a, b);
		for (i = 1; i <= 10; i++)
			finger(FERN_MOVE, a + (c - a) * i / 10, b + (d - b) * i / 10);
		finger(FERN_UP, c, d);
		run(600);
	} else if (!strcmp(word, "key")) {
		fern_key(!strncmp(rest, "left", 4) ? FERN_KEY_LEFT : !strncmp(rest, "right", 5) ? FERN_KEY_RIGHT :
			!strncmp(rest, "ok", 2) ? FERN_KEY_OK : FERN_KEY_BACK, 1);
		run(400);
	} else if (!strcmp(word, "turn")) {
		fern_turn(a);
		run(400);
	} else if (!strcmp(word, "roll")) {
		fern_roll(a);
		run(400);
	} else if (!strcmp(word, "text")) {
		fern_text(rest);
		run(20);
	} else if (!strcmp(word, "feed")) {
		char name[32] = "", *p, *q, *v = rest;
		sscanf(rest, "%31s", name);
		v += strlen(name);
		v += *v == ' ';
		for (p = q = v; *p; p++, q++) {
			if (p[0] == '\\' && p[1] == 'n')
				*q = '\n', p++;
			else
				*q = *p;
		}
		*q = 0;
		if (fern_feed(name, v) != 0) {
			fprintf(stderr, "shot: error: feed %s refused\n", name);
			exit(2);
		}
		run(400);
	} else if (!strcmp(word, "clock")) {
		fern_clock_set(atoll(rest));
		run(10);
	} else if (!strcmp(word, "hold")) {
		fern_clock_hold(a);
		run(10);
	} else if (!strcmp(word, "step")) {
		fern_clock_step((uint32_t)a);
		run(10);
	} else if (!strcmp(word, "redraw")) {
		fern_redraw();
	} else if (!strcmp(word, "quiet")) {
		quiet = 1;
	} else if (!strcmp(word, "shot")) {
		shot(rest);
	} else if (!strcmp(word, "anchors")) {
		const char *s;
		for (i = 0; (s = fern_anchor(i, r)) != NULL; i++)
			printf("anchor: %s %d %d %d %d\n", s, r[0], r[1], r[2], r[3]);
	} else if (!strcmp(word, "gauges")) {
		const char *s;
		int32_t v;
		for (i = 0; (s = fern_gauge(i, &v)) != NULL; i++)
			printf("gauge: %s %d\n", s, (int)v);
	} else if (!strcmp(word, "lamps")) {
		const char *s;
		uint8_t rgb[3];
		for (i = 0; (s = fern_lamp(i, rgb)) != NULL; i++)
			printf("lamp: %s %d %d %d\n", s, rgb[0], rgb[1], rgb[2]);
	} else if (word[0] && word[0] != '#') {
		fprintf(stderr, "shot: error: unknown command %s\n", word);
		exit(2);
	}
}

int main(void) {
	char line[1024];
	while (fgets(line, sizeof line, stdin)) {
		line[strcspn(line, "\n")] = 0;
		command(line);
	}
	return 0;
}
