/* The wall clock, and the phases of endless animations, which both stand still while held. */
#ifndef FERN_CLOCK_H
#define FERN_CLOCK_H

#include <stdint.h>

void clock_boot(void);
void clock_run(uint32_t ms);
int clock_held(void);
uint32_t clock_seconds(void); /* since 1970 */
int clock_minute_of_day(void);
int clock_month(void); /* 1..12 */
int clock_day(void);   /* 1..31 */
/* "09:30:00" */
void clock_text(char out[12]);
/* 0..steps-1, moving on every period_ms of device time; 0 while held. */
int clock_phase(uint32_t period_ms, int steps);

#endif
