/* Building short texts without a C library. Every function keeps within cap bytes, the final
 * zero included, and never cuts a character in half. */
#ifndef FERN_TEXT_H
#define FERN_TEXT_H

#include <stdint.h>

int text_len(const char *s);
int text_same(const char *a, const char *b);
/* Appends to the text in out; returns out. */
char *text_add(char *out, int cap, const char *s);
char *text_add_int(char *out, int cap, int32_t v);
/* At least so many digits, with zeros in front. */
char *text_add_digits(char *out, int cap, uint32_t v, int digits);
/* A number in tenths, with the decimal sign of the device's language. */
char *text_add_tenths(char *out, int cap, int32_t tenths);
/* The length of s without its last character. */
int text_chop(const char *s);
/* 1 if s is well-formed UTF-8 of printable characters, at most max bytes. */
int text_clean(const char *s, int length, int max);

#endif
