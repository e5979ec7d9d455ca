/* Counters of the running device, for whoever watches it over many screens. */
#ifndef FERN_GAUGE_H
#define FERN_GAUGE_H

#include <stdint.h>

void gauge_boot(void);
/* A refresh painted so many pixels. */
void gauge_frame(int32_t pixels);
/* The address of a local at the bottom of the call tree, and at its leaves. */
void gauge_stack_top(const void *local);
void gauge_stack_leaf(const void *local);

#endif
