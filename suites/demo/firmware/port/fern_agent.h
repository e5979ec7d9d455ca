/* Ties the Fernhouse UI to the fascia agent. What a port adds is a line (read, write) and a clock. */
#ifndef FERN_AGENT_H
#define FERN_AGENT_H

#include "../../../../capture/link/agent/fascia_agent.h"

struct fern_line {
	void *ctx;
	uint32_t (*now_ms)(void *ctx);
	size_t (*read)(void *ctx, uint8_t *to, size_t max);
	size_t (*write)(void *ctx, const uint8_t *from, size_t n);
	void (*reset)(void *ctx);
};

/* Boots the UI and sets the agent up. */
void fern_agent_boot(const struct fern_line *line, uint32_t boot_id, uint8_t reset_reason);

/* One turn of the main loop: the UI, unless the host holds it still, then the agent. Returns 1
 * when the agent wants another turn soon. */
int fern_agent_turn(void);

/* Real input: what a touch or key driver calls. The UI gets it, and the host if it asked for it. */
void fern_agent_user(const struct fascia_event *e);

/* Makes the boot id another, on a device without a source of random numbers. To be called before the
 * agent has answered anything. */
void fern_agent_stir(uint32_t entropy);

/* True when a log line may be written to the line without cutting into a frame. */
int fern_agent_may_log(void);

#endif
