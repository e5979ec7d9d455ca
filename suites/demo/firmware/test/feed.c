/* Feeds: names, formats, and what must be refused without a change. */
#include <string.h>

#include "check.h"

static void refused(const char *name, const char *value) {
	uint32_t before, after;
	run(200);
	before = fingerprint();
	forget_log();
	CHECK(fern_feed(name, value) == -2, value);
	run(200);
	after = fingerprint();
	CHECK(before == after, "a refused value changes nothing");
}

static void accepted(const char *name, const char *value) { CHECK(fern_feed(name, value) == 0, value); }

/* Bytes of all kinds under every name: no crash, and never more than ok or refused. */
static void hostile(void) {
	static const char alphabet[] = "0123456789.-:\n onefh\xC3\xA4\xFF\xE2\x80\x01";
	char value[300];
	int i, k;
	for (i = 0; i < 20000; i++) {
		int n = (int)(random32() % (i % 10 ? 12u : 299u)), got;
		const char *name;
		for (k = 0; k < n; k++)
			value[k] = random32() % 4u ? alphabet[random32() % (sizeof alphabet - 1)] : (char)(random32() & 255u);
		value[n] = 0;
		k = 0;
		while (fern_feed_name(k))
			k++;
		name = fern_feed_name((int)(random32() % (unsigned)k));
		got = fern_feed(name, value);
		CHECK(got == 0 || got == -2, name);
		if (i % 50 == 0)
			run(20);
	}
}

void test_feed(void) {
	char list[2000];
	int i;
	random_seed(5);
	start(5);
	fern_clock_hold(1);
	for (i = 0; fern_feed_name(i); i++)
		CHECK(fern_feed_name(i)[0] != 0, "every feed has a name");
	CHECK(i >= 10 && fern_feed_name(-1) == NULL, "the list ends");
	CHECK(fern_feed("temprature", "20") == -1 && fern_feed("", "") == -1, "an unknown name is told from a bad value");

	accepted("temperature", "-40");
	accepted("temperature", "80.0");
	refused("temperature", "80.1");
	refused("temperature", "21,4");
	refused("temperature", "21.45");
	refused("temperature", "21.");
	refused("temperature", ".5");
	refused("temperature", "-");
	refused("temperature", "");
	refused("temperature", "99999999999999999999");
	refused("humidity", "101");
	refused("humidity", "-1");
	refused("humidity", "50.0");
	refused("battery", "none");
	accepted("next-misting", "00:00");
	refused("next-misting", "24:00");
	refused("next-misting", "7:30");
	refused("next-misting", "07:3x");
	refused("alarm", "fire");
	refused("season", "monsoon");
	refused("language", "xx");
	refused("pairing-code", "123");
	refused("pairing-code", "1234567");
	refused("pairing-code", "12a4");
	accepted("sensors", "Süd:0\nnorth\n");
	refused("sensors", "a\n\nb");
	refused("sensors", ":3");
	refused("sensors", "tab\there");
	refused("sensors", "cut \xC3");
	refused("sensors", "1234567890123456789012345");
	refused("sensors", "1\n2\n3\n4\n5\n6\n7\n8\n9\n10\n11\n12\n13");
	refused("chart-temperature", "20");
	refused("chart-temperature", "20\nx");
	list[0] = 0;
	for (i = 0; i < 49; i++)
		strcat(list, "20.5\n");
	accepted("chart-temperature", list);
	strcat(list, "20.5");
	refused("chart-temperature", list);

	accepted("season", "spring");
	CHECK(was_logged("screen season"), "a season fed on home is offered at once");
	accepted("alarm", "on");
	CHECK(was_logged("feed alarm on") && was_logged("screen alarm"), "an alarm opens its screen");
	accepted("alarm", "off");
	CHECK(was_logged("screen season"), "an alarm that ends gives back the screen before");
	hostile();
}
