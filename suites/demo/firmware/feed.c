/* Values from outside. */
#include "fern.h"
#include "text.h"

int fern_feed(const char *name, const char *value) {
	(void)name;
	(void)value;
	return -1;
}

const char *fern_feed_name(int i) {
	(void)i;
	return 0;
}
