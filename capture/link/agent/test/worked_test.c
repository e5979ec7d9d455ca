/* Plays the worked frames of PROTOCOL.md: each request is given to the agent byte for byte, and
 * what it sends must be the frames written there. Usage: worked_test PROTOCOL.md [print] */
#include "worked.h"

#include <stdio.h>
#include <stdlib.h>

#if FASCIA_STRIP
#define BLOCK "```strips"
#else
#define BLOCK "```frames"
#endif

static size_t unhex(const char *s, uint8_t *to, size_t max)
{
	size_t n = 0;
	unsigned v;
	int used;
	while (n < max && sscanf(s, " %2x%n", &v, &used) == 1) {
		to[n++] = (uint8_t)v;
		s += used;
	}
	return n;
}

static void print_frames(const struct worked *w)
{
	size_t i, open = 0;
	for (i = 0; i < w->out_len; i++) {
		if (w->out[i] == 0 && !(open++ & 1))
			printf("< 00");
		else
			printf(" %02x", w->out[i]);
		if (w->out[i] == 0 && !(open & 1))
			printf("\n");
	}
}

int main(int argc, char **argv)
{
	static struct worked w;
	static char line[65536];
	static uint8_t want[65536];
	size_t want_len = 0, at = 0;
	int in_block = 0, requests = 0, replies = 0, bad = 0, number = 0;
	FILE *f = argc > 1 ? fopen(argv[1], "r") : NULL;
	int print = argc > 2 && strcmp(argv[2], "print") == 0;
	if (!f) {
		fprintf(stderr, "usage: worked_test PROTOCOL.md [print]\n");
		return 2;
	}
	worked_init(&w);
	while (fgets(line, sizeof line, f)) {
		number++;
		if (strncmp(line, BLOCK, 9) == 0) {
			in_block = 1;
			continue;
		}
		if (strncmp(line, "```", 3) == 0)
			in_block = 0;
		if (!in_block)
			continue;
		if (line[0] == '>') {
			if (at != w.out_len) {
				fprintf(stderr, "line %d: the agent sent %zu bytes more than are written before\n", number, w.out_len - at);
				bad++;
			}
			w.in_len = unhex(line + 1, w.in, sizeof w.in);
			w.in_pos = w.out_len = at = 0;
			worked_run(&w, 300);
			requests++;
			if (print) {
				printf("%s", line);
				print_frames(&w);
				at = w.out_len;
			}
		} else if (line[0] == '<' && !print) {
			want_len = unhex(line + 1, want, sizeof want);
			if (at + want_len > w.out_len || memcmp(want, w.out + at, want_len) != 0) {
				fprintf(stderr, "line %d: the agent does not send these %zu bytes\n", number, want_len);
				bad++;
			}
			at += want_len;
			replies++;
		}
	}
	fclose(f);
	if (requests == 0 || (replies == 0 && !print)) {
		fprintf(stderr, "no worked frames found\n");
		return 1;
	}
	if (!print)
		printf("%d requests, %d replies, %d wrong; %u reset\n", requests, replies, bad, (unsigned)w.resets);
	return bad != 0 || w.resets != !FASCIA_STRIP;
}
