/* A small arena for what comes and goes with screens and sensors, first fit. What is in it is
 * counted, so that whoever watches the gauge sees a leak long before a user does. */
#ifndef FERN_HEAP_H
#define FERN_HEAP_H

void heap_boot(void);
/* 0 when there is no room. The bytes are not cleared. */
void *heap_take(int bytes);
void heap_give(void *p); /* NULL is fine */
int heap_free(void);

#endif
