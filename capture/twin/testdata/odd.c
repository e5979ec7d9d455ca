/* A twin that goes wrong as it is told: its first input byte of a step says how. Built by
 * clang --target=wasm32, see twin_test.go; committed so that the tests need no clang. */
typedef unsigned char u8;
typedef unsigned int u32;

#define EXPORT(name) __attribute__((export_name(name)))

static u8 in[64];
static struct {
	u32 len;
	u8 bytes[256];
} out;
static u32 boot_id, reason, steps, lie;

static void say(const char *s)
{
	while (*s && out.len < sizeof out.bytes)
		out.bytes[out.len++] = (u8)*s++;
}

EXPORT("fascia_twin_in") u8 *twin_in(void) { return in; }
EXPORT("fascia_twin_in_size") u32 twin_in_size(void) { return sizeof in; }
EXPORT("fascia_twin_out") void *twin_out(void) { return &out; }

EXPORT("fascia_twin_boot") void twin_boot(u32 id, u32 why)
{
	boot_id = id;
	reason = why;
#ifdef HANG_AT_BOOT
	for (;;)
		steps++;
#endif
#ifdef TRAP_AT_BOOT
	__builtin_trap();
#endif
	say("booted ");
	out.bytes[out.len++] = (u8)('0' + why);
	say("\n");
}

static int deep(int n) { return n == 0 ? 0 : 1 + deep(n + (int)(steps & 1) + 1); }

EXPORT("fascia_twin_step") u32 twin_step(u32 now, u32 n)
{
	volatile u32 spin = 1;
	steps++;
	(void)now;
	if (n == 0)
		return 0;
	switch (in[0]) {
	case 'e': /* echo */
		for (u32 i = 0; i < n; i++)
			out.bytes[out.len++] = in[i];
		return 0;
	case 'h': /* hang */
		say("about to hang\n");
		while (spin)
			spin = 1;
		return 0;
	case 't': /* trap */
		say("about to trap\n");
		__builtin_trap();
	case 's': /* run out of stack */
		return (u32)deep(1);
	case 'l': /* claim more output than there is memory */
		out.len = 0x7fffffff;
		return 0;
	case 'm': /* claim output past the end of memory */
		out.len = 1 << 19;
		return 0;
	case 'a': /* always wants another step */
		return 1;
	case 'r': /* reset */
		say("bye\n");
		return 2;
	}
	lie++;
	return 0;
}
