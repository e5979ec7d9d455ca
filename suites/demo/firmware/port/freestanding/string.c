/* Plain loops; built with -fno-builtin so that no compiler turns them into calls of themselves. */
#include "string.h"

#include <stdint.h>

void *memcpy(void *to, const void *from, size_t n)
{
	uint8_t *d = to;
	const uint8_t *s = from;
	while (n-- > 0)
		*d++ = *s++;
	return to;
}

void *memmove(void *to, const void *from, size_t n)
{
	uint8_t *d = to;
	const uint8_t *s = from;
	if (d < s)
		return memcpy(to, from, n);
	while (n-- > 0)
		d[n] = s[n];
	return to;
}

void *memset(void *to, int byte, size_t n)
{
	uint8_t *d = to;
	while (n-- > 0)
		*d++ = (uint8_t)byte;
	return to;
}

void *memchr(const void *in, int byte, size_t n)
{
	const uint8_t *p = in;
	for (; n > 0; n--, p++)
		if (*p == (uint8_t)byte)
			return (void *)(uintptr_t)p;
	return 0;
}

int memcmp(const void *a, const void *b, size_t n)
{
	const uint8_t *p = a, *q = b;
	for (; n > 0; n--, p++, q++)
		if (*p != *q)
			return *p - *q;
	return 0;
}

size_t strlen(const char *s)
{
	size_t n = 0;
	while (s[n])
		n++;
	return n;
}

int strcmp(const char *a, const char *b)
{
	while (*a && *a == *b) {
		a++;
		b++;
	}
	return (uint8_t)*a - (uint8_t)*b;
}
