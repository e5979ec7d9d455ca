/* The part of <string.h> that the agent uses, for builds without a C library. */
#ifndef FREESTANDING_STRING_H
#define FREESTANDING_STRING_H
#include <stddef.h>
void *memcpy(void *to, const void *from, size_t n);
void *memmove(void *to, const void *from, size_t n);
void *memset(void *to, int byte, size_t n);
void *memchr(const void *in, int byte, size_t n);
int memcmp(const void *a, const void *b, size_t n);
size_t strlen(const char *s);
int strcmp(const char *a, const char *b);
#endif
