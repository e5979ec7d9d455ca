/* What the tests of the firmware share: a port that keeps the log, and simple checks. */
#ifndef TEST_CHECK_H
#define TEST_CHECK_H

#include <setjmp.h>
#include <stdint.h>

#include "../fern.h"

extern int failures;
/* Says where and why, and counts; the run goes on to find more. */
void fail(const char *file, int line, const char *what, const char *why);
#define CHECK(cond, why) \
	do { \
		if (!(cond)) \
			fail(__FILE__, __LINE__, #cond, why); \
	} while (0)

/* The port's ends. */
extern char last_log[256];
extern unsigned logged;
int was_logged(const char *line); /* since the last forget_log */
void forget_log(void);
extern jmp_buf crashed;
extern int crash_expected;

/* Time and input. */
void start(uint32_t seed); /* boot, and past the splash */
void run(uint32_t ms);
void tap(int x, int y);
int tap_anchor(const char *name); /* 0: the screen has no such target */
uint32_t random32(void);
void random_seed(uint32_t seed);
uint32_t fingerprint(void); /* FNV-1a of the framebuffer */

void test_boot(void);
void test_refresh(void);
void test_walks(void);
void test_feed(void);
void test_text(void);
void test_panic(void);

#endif
