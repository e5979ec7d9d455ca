/* The Fernhouse firmware on a Cortex-M3: the mps2-an385 board (Arm application note AN385), as
 * qemu-system-arm emulates it. Bare metal: vectors, clock, a serial port, and the main loop. */
#include "../fern_agent.h"

#include "../../fern.h"

#include <string.h>

/* CMSDK APB UART 0 (Arm DDI 0479) and the processor's own registers (Arm DDI 0403). */
#define UART_DATA (*(volatile uint32_t *)0x40004000u)
#define UART_STATE (*(volatile uint32_t *)0x40004004u) /* 1: sending is full, 2: a byte has come */
#define UART_CTRL (*(volatile uint32_t *)0x40004008u)
#define UART_INT_CLEAR (*(volatile uint32_t *)0x4000400cu)
#define UART_BAUDDIV (*(volatile uint32_t *)0x40004010u)
#define SYST_CSR (*(volatile uint32_t *)0xe000e010u)
#define SYST_RVR (*(volatile uint32_t *)0xe000e014u)
#define SYST_CVR (*(volatile uint32_t *)0xe000e018u)
#define NVIC_ISER (*(volatile uint32_t *)0xe000e100u)
#define NVIC_ICER (*(volatile uint32_t *)0xe000e180u)
#define AIRCR (*(volatile uint32_t *)0xe000ed0cu)

#define CLOCK_HZ 25000000u
#define BAUD 921600u /* the emulator ignores it */
#define UART_RX_IRQ 1u /* bit of interrupt 0 */

extern uint32_t _data[], _data_end[], _data_load[], _bss[], _bss_end[], _stack_top[];

static volatile uint32_t ms;
static volatile uint8_t ring[256];
static volatile uint32_t ring_in, ring_out; /* counts; the ring holds their difference */
static int stirred;

static char late[1024]; /* log lines that came while a frame was partly sent */
static size_t late_len;

static struct {
	uint32_t magic, boots, reason;
} kept __attribute__((section(".noinit")));
#define MAGIC 0xfe9b0075u

/* Clear the flag, then drain; the other way round a byte that comes between is never announced.
 * A full ring stops the draining, and the port holds the sender back. */
static void uart_rx_handler(void)
{
	UART_INT_CLEAR = 2;
	while (UART_STATE & 2) {
		if (ring_in - ring_out == sizeof ring) {
			NVIC_ICER = UART_RX_IRQ;
			return;
		}
		ring[ring_in % sizeof ring] = (uint8_t)UART_DATA;
		ring_in++;
	}
}

static void systick_handler(void) { ms++; }

static void restart(uint32_t reason)
{
	kept.reason = reason;
	AIRCR = 0x05fa0004u; /* SYSRESETREQ */
	for (;;)
		;
}

static void fault_handler(void) { restart(FASCIA_RESET_PANIC); }

static uint32_t now_ms(void *ctx) { (void)ctx; return ms; }

static size_t take(void *ctx, uint8_t *to, size_t max)
{
	size_t n = 0;
	(void)ctx;
	for (; n < max && ring_out != ring_in; n++, ring_out++)
		to[n] = ring[ring_out % sizeof ring];
	NVIC_ISER = UART_RX_IRQ;
	if (n > 0 && !stirred) { /* no two starts are asked at the same tick: that makes the boot id another */
		fern_agent_stir(SYST_CVR << 8 ^ ms);
		stirred = 1;
	}
	return n;
}

static size_t give(void *ctx, const uint8_t *from, size_t n)
{
	size_t i;
	(void)ctx;
	for (i = 0; i < n && !(UART_STATE & 1); i++)
		UART_DATA = from[i];
	return i;
}

static void give_all(const char *s, size_t n)
{
	while (n > 0) {
		size_t sent = give(0, (const uint8_t *)s, n);
		s += sent;
		n -= sent;
	}
}

static void reset(void *ctx) { (void)ctx; restart(FASCIA_RESET_ASKED); }

void fern_log(const char *line)
{
	size_t n = strlen(line);
	if (fern_agent_may_log() && late_len == 0) {
		give_all(line, n);
		give_all("\n", 1);
		return;
	}
	if (late_len + n + 1 > sizeof late)
		return; /* a firmware drops log rather than stand still */
	memcpy(late + late_len, line, n);
	late[late_len + n] = '\n';
	late_len += n + 1;
}

void fern_crash(const char *why)
{
	give_all("\n", 1);
	give_all(why, strlen(why));
	give_all("\n", 1);
	restart(FASCIA_RESET_PANIC);
}

static void run(void)
{
	static const struct fern_line line = {0, now_ms, take, give, reset};
	if (kept.magic != MAGIC) {
		kept.magic = MAGIC;
		kept.boots = 0;
		kept.reason = FASCIA_RESET_POWER;
	}
	kept.boots++;
	SYST_RVR = CLOCK_HZ / 1000u - 1u;
	SYST_CVR = 0;
	SYST_CSR = 7; /* on, interrupt, processor clock */
	UART_BAUDDIV = CLOCK_HZ / BAUD;
	UART_CTRL = 1u | 2u | 8u; /* send, receive, interrupt when a byte has come */
	NVIC_ISER = UART_RX_IRQ;
	fern_agent_boot(&line, kept.boots * 2654435761u, (uint8_t)kept.reason);
	kept.reason = FASCIA_RESET_UNKNOWN;
	for (;;) {
		int more = fern_agent_turn();
		if (late_len > 0 && fern_agent_may_log()) {
			give_all(late, late_len);
			late_len = 0;
		}
		if (!more && ring_in == ring_out)
			__asm__ volatile("wfi"); /* until the next tick or byte */
	}
}

void reset_handler(void)
{
	uint32_t *to, *from = _data_load;
	for (to = _data; to < _data_end;)
		*to++ = *from++;
	for (to = _bss; to < _bss_end;)
		*to++ = 0;
	run();
}

__attribute__((section(".vectors"), used)) static void (*const vectors[17])(void) = {
	(void (*)(void))_stack_top, reset_handler, fault_handler, fault_handler, fault_handler, fault_handler,
	fault_handler, 0, 0, 0, 0, fault_handler, fault_handler, 0, fault_handler, systick_handler, uart_rx_handler};
