/* Test patterns, for a bench that measures its panel and camera: see PATTERN in PROTOCOL.md. */
#ifndef FERN_PATTERN_H
#define FERN_PATTERN_H

#include <stddef.h>
#include <stdint.h>

/* What fascia_port's pattern does. The caller lets the UI rest while a pattern is shown. */
int fern_pattern(const uint8_t *args, size_t n);
/* True while a pattern is shown, and how often patterns have changed the panel. */
int fern_pattern_shown(void);
uint32_t fern_pattern_frames(void);

#endif
