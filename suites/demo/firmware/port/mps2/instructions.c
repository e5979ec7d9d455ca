/* Counts the instructions that looks take on a Cortex-M3: the agent answers requests about the demo's
 * home screen from memory to memory. For qemu-system-arm -M mps2-an385 -icount shift=0, where an instruction takes
 * a nanosecond; SysTick counts at 25 MHz, so it counts in forties. Prints lines "name instructions bytes". */
#include "../../fern.h"

#include "../../../../../capture/link/agent/fascia_agent.h"

#include <string.h>

#define UART_DATA (*(volatile uint32_t *)0x40004000u)
#define UART_STATE (*(volatile uint32_t *)0x40004004u)
#define UART_CTRL (*(volatile uint32_t *)0x40004008u)
#define UART_BAUDDIV (*(volatile uint32_t *)0x40004010u)
#define SYST_CSR (*(volatile uint32_t *)0xe000e010u)
#define SYST_RVR (*(volatile uint32_t *)0xe000e014u)
#define SYST_CVR (*(volatile uint32_t *)0xe000e018u)

extern uint32_t _data[], _data_end[], _data_load[], _bss[], _bss_end[], _stack_top[];

static struct fascia_agent agent;
static struct fascia_port port;
static uint8_t in[160];
static size_t in_len, in_pos;
static uint32_t ms, answered; /* bytes */

void fern_log(const char *line) { (void)line; }
void fern_crash(const char *why) { (void)why; for (;;) ; }

static uint32_t now_ms(void *ctx) { (void)ctx; return ms; }
static uint32_t frames(void *ctx) { (void)ctx; return fern_frames(); }
static int busy(void *ctx) { (void)ctx; return 0; }
static size_t give(void *ctx, const uint8_t *from, size_t n) { (void)ctx; (void)from; answered += n; return n; }
static const uint8_t *row(void *ctx, unsigned y) { (void)ctx; return (const uint8_t *)(fern_framebuffer + (size_t)y * FERN_W); }

static size_t take(void *ctx, uint8_t *to, size_t max)
{
	size_t n = in_len - in_pos;
	(void)ctx;
	n = n < max ? n : max;
	memcpy(to, in + in_pos, n);
	in_pos += n;
	return n;
}

static void print(const char *s)
{
	for (; *s; s++) {
		while (UART_STATE & 1)
			;
		UART_DATA = (uint8_t)*s;
	}
}

static void print_number(uint32_t v)
{
	char digits[12];
	unsigned i = sizeof digits - 1;
	digits[i] = 0;
	do
		digits[--i] = (char)('0' + v % 10);
	while (v /= 10);
	print(" ");
	print(digits + i);
}

/* Puts a request on the line: CRC and COBS as capture/link/PROTOCOL.md has them. */
static void request(const uint8_t *body, size_t n)
{
	static uint8_t tag;
	uint32_t crc = 0xffffffff;
	size_t i, zero = 1;
	unsigned k;
	memcpy(in + 2, body, n);
	in[3] = ++tag;
	for (i = 0; i < n; i++)
		for (crc ^= in[2 + i], k = 0; k < 8; k++)
			crc = crc >> 1 ^ (0xedb88320u & (0u - (crc & 1)));
	for (k = 0; k < 4; k++)
		in[2 + n + k] = (uint8_t)(~crc >> 8 * k);
	n += 6;
	in[0] = in[n] = 0;
	for (i = 2; i <= n; i++)
		if (in[i] == 0) {
			in[zero] = (uint8_t)(i - zero);
			zero = i;
		}
	in_len = n + 1;
	in_pos = 0;
}

/* Answers requests, and returns the instructions that took. */
static uint32_t answer(const uint8_t *body, size_t n)
{
	uint32_t from;
	request(body, n);
	SYST_CVR = 0;
	from = SYST_CVR;
	while (fascia_poll(&agent) || in_pos < in_len)
		;
	return ((from - SYST_CVR) & 0xffffff) * 40;
}

static void say(const char *name, uint32_t instructions)
{
	print(name);
	print_number(instructions);
	print_number(answered);
	print("\n");
	answered = 0;
}

#define STREAM 192, 0, 0, 0, 0, 0, 0, 0

void reset_handler(void)
{
	static const struct fascia_identity id = {"count", "", "", "", 1, FASCIA_RESET_POWER, 0};
	static const struct fascia_panel panel = {FERN_W, FERN_H, FASCIA_RGB565_LE, 0};
	static const uint8_t look[] = {0x01, 0, 2, 0, 0, 0, 0}, bands[] = {0x11, 0, STREAM}, tiles[] = {0x12, 0, STREAM, 0x80, 0};
	static const uint8_t some[] = {0x13, 0, STREAM, 1 + 2 * FASCIA_DENSE, 4, 7, 2, 1}, all[] = {0x13, 0, STREAM, 1 + 2 * FASCIA_DENSE, 0, 0, FERN_W / 32, FERN_H / 16};
	uint32_t *to, *from = _data_load, n;
	for (to = _data; to < _data_end;)
		*to++ = *from++;
	for (to = _bss; to < _bss_end;)
		*to++ = 0;
	UART_BAUDDIV = 25;
	UART_CTRL = 1;
	SYST_RVR = 0xffffff;
	SYST_CSR = 5;
	port.now_ms = now_ms;
	port.read = take;
	port.write = give;
	port.row = row;
	port.frames = frames;
	port.busy = busy;
	fern_boot(1);
	for (; ms < 5000; ms += 10)
		fern_step(ms);
	fascia_init(&agent, &port, &id, &panel);
	fascia_poll(&agent);
	ms += 1000;
	SYST_CVR = 0;
	n = SYST_CVR;
	n = ((n - SYST_CVR) & 0xffffff) * 40;
	print("nothing");
	print_number(n);
	print(" 0\n");
	say("unchanged", answer(look, sizeof look));
	n = answer(look, sizeof look) + answer(bands, sizeof bands) + answer(tiles, sizeof tiles);
	say("small", n + answer(some, sizeof some));
	n = answer(look, sizeof look) + answer(bands, sizeof bands) + answer(tiles, sizeof tiles);
	say("new", n + answer(all, sizeof all));
	print("end\n");
	for (;;)
		;
}

__attribute__((section(".vectors"), used)) static void (*const vectors[2])(void) = {(void (*)(void))_stack_top, reset_handler};
