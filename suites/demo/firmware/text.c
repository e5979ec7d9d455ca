/* Short texts without a C library. */
#include "text.h"

#include "draw/draw.h"
#include "lang.h"
#include "model.h"

int text_len(const char *s) {
	int n = 0;
	while (s[n])
		n++;
	return n;
}

int text_same(const char *a, const char *b) {
	while (*a && *a == *b) {
		a++;
		b++;
	}
	return *a == *b;
}

char *text_add(char *out, int cap, const char *s) {
	int n = text_len(out);
	while (*s) {
		const char *next = s;
		int i, bytes;
		(void)draw_utf8(&next);
		bytes = (int)(next - s);
		if (n + bytes >= cap)
			break;
		for (i = 0; i < bytes; i++)
			out[n++] = *s++;
	}
	out[n] = 0;
	return out;
}

char *text_add_digits(char *out, int cap, uint32_t v, int digits) {
	char buf[12];
	int n = (int)sizeof buf;
	buf[--n] = 0;
	do {
		buf[--n] = (char)('0' + v % 10u);
		v /= 10u;
		digits--;
	} while (n > 0 && (v > 0 || digits > 0));
	return text_add(out, cap, buf + n);
}

char *text_add_int(char *out, int cap, int32_t v) {
	if (v < 0)
		text_add(out, cap, "-");
	return text_add_digits(out, cap, v < 0 ? 0u - (uint32_t)v : (uint32_t)v, 1);
}

char *text_add_tenths(char *out, int cap, int32_t tenths) {
	uint32_t v = tenths < 0 ? 0u - (uint32_t)tenths : (uint32_t)tenths;
	if (tenths < 0)
		text_add(out, cap, "–");
	text_add_digits(out, cap, v / 10u, 1);
	text_add(out, cap, model.language == LANG_EN ? "." : ",");
	return text_add_digits(out, cap, v % 10u, 1);
}

int text_chop(const char *s) {
	int n = text_len(s);
	while (n > 0 && ((unsigned char)s[--n] & 0xC0u) == 0x80u) {
	}
	return n;
}

int text_clean(const char *s, int length, int max) {
	const char *end = s + length;
	if (length > max)
		return 0;
	while (s < end) {
		uint32_t c = draw_utf8(&s);
		if (c < 0x20 || c == 0x7F || (c >= 0x80 && c < 0xA0) || c == 0xFFFD || s > end)
			return 0;
	}
	return 1;
}
