/* The Fernhouse firmware as a twin: freestanding WebAssembly, run in-process on virtual time.
 * The functions exported here are the twin's ABI, see capture/twin. */
#include "fern_agent.h"

#include "../fern.h"

#include <string.h>

#define EXPORT(name) __attribute__((export_name(name)))
#define OUT_SIZE 8192

enum { AGAIN = 1, RESET = 2 };

static uint8_t in[512];
static struct {
	uint32_t len;
	uint8_t bytes[OUT_SIZE];
} out;
static char late[1024]; /* log lines that came while a frame was partly written */
static uint32_t late_len, now, in_len, in_pos;
static int flags;

static uint32_t now_ms(void *ctx) { (void)ctx; return now; }
static void reset(void *ctx) { (void)ctx; flags |= RESET; }

static size_t take(void *ctx, uint8_t *to, size_t max)
{
	size_t n = in_len - in_pos;
	(void)ctx;
	n = n < max ? n : max;
	memcpy(to, in + in_pos, n);
	in_pos += (uint32_t)n;
	return n;
}

static size_t give(void *ctx, const uint8_t *from, size_t n)
{
	size_t room = OUT_SIZE - out.len;
	(void)ctx;
	n = n < room ? n : room;
	memcpy(out.bytes + out.len, from, n);
	out.len += (uint32_t)n;
	return n;
}

void fern_log(const char *line)
{
	size_t n = strlen(line);
	if (fern_agent_may_log() && late_len == 0) {
		give(0, (const uint8_t *)line, n);
		give(0, (const uint8_t *)"\n", 1);
		return;
	}
	if (late_len + n + 1 > sizeof late)
		return; /* a firmware drops log rather than stand still */
	memcpy(late + late_len, line, n);
	late[late_len + n] = '\n';
	late_len += (uint32_t)n + 1;
}

void fern_crash(const char *why)
{
	fern_log(why);
	__builtin_trap();
}

EXPORT("fascia_twin_in") uint8_t *twin_in(void) { return in; }
EXPORT("fascia_twin_in_size") uint32_t twin_in_size(void) { return sizeof in; }
EXPORT("fascia_twin_out") void *twin_out(void) { return &out; }

EXPORT("fascia_twin_boot") void twin_boot(uint32_t boot_id, uint32_t reset_reason)
{
	static const struct fern_line line = {0, now_ms, take, give, reset};
	fern_agent_boot(&line, boot_id, (uint8_t)reset_reason);
}

EXPORT("fascia_twin_user") void twin_user(uint32_t kind, int32_t a, int32_t b, uint32_t c)
{
	struct fascia_event e;
	memset(&e, 0, sizeof e);
	e.kind = (uint8_t)kind;
	e.a = (int16_t)a;
	e.b = (int16_t)b;
	e.c = (uint8_t)c;
	if (kind != FASCIA_TEXT) /* people press keys */
		fern_agent_user(&e);
}

#if !defined(FERN_STRIP) && !(defined(DRAW_DEPTH) && DRAW_DEPTH == 24) /* RGB565 */
EXPORT("fascia_twin_panel") const void *twin_panel(void) { return fern_framebuffer; }
#endif

EXPORT("fascia_twin_step") uint32_t twin_step(uint32_t at_ms, uint32_t bytes)
{
	unsigned turn;
	now = at_ms;
	in_pos = 0;
	in_len = bytes <= sizeof in ? bytes : 0;
	flags = 0;
	for (turn = 0; turn < 64 && out.len < OUT_SIZE / 2; turn++) {
		int more = fern_agent_turn();
		if (late_len > 0 && fern_agent_may_log()) {
			give(0, (const uint8_t *)late, late_len);
			late_len = 0;
		}
		if (!more && in_pos == in_len)
			return (uint32_t)flags;
	}
	return (uint32_t)(flags | AGAIN);
}
