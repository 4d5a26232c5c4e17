#include "tests/test.h"

#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "daemon/dongle/capture.h"
#include "daemon/dongle/stream.h"
#include "tests/dongle_steps.h"

/* Two processes that believe nothing of each other. This program is the one that reads a dongle as well:
 * gone mad as MAD says, or else the real one above a library that is none. */

#define MAD  "CAPTURE_MAD"              /* a row's number, or ... */
#define TURN "turns"                    /* ... well at first      */
#define PATIENCE_MS 60000               /* nothing is judged by it */

/* ---- a process gone mad ---- */

#define AT(field) offsetof(struct capture_answer, field), sizeof ((struct capture_answer *)0)->field

/* An answer of which one field is so, and how often it comes. */
static const struct {
	const char *why;
	size_t      at, size;
	int64_t     value;
	int         times;
	size_t      length;             /* 0: as long as it should be */
	bool        sane;
} rows[] = {
	{ "as it should be", AT(deaf), 0, 1, 0, true },
	{ "as much as can be put", AT(put), INT64_MAX, 1, 0, true },
	{ "to an order never given", AT(number), 2, 1, 0, false },
	{ "given twice", AT(deaf), 0, 2, 0, false },
	{ "half of it", AT(deaf), 0, 1, sizeof (struct capture_answer) / 2, false },
	{ "a fault of no kind", AT(why.kind), FAULT_FATAL + 1, 1, 0, false },
	{ "less than no fault", AT(why.kind), -1, 1, 0, false },
	{ "less than nothing was put", AT(put), INT64_MIN, 1, 0, false },
	{ "done before it was begun", AT(at_us), 1, 1, 0, false },
	{ "... and before the clock was", AT(at_us), INT64_MIN, 1, 0, false },
	{ "done in the future", AT(at_us), INT64_MAX, 1, 0, false },
	{ "from below 0 MHz", AT(facts.low_mhz), -1, 1, 0, false },
	{ "from above where it ends", AT(facts.low_mhz), 2141, 1, 0, false },
	{ "up to where hertz are no longer counted", AT(facts.high_mhz), 2148, 1, 0, false },
	{ "less than no gains", AT(facts.gains.n), -1, 1, 0, false },
	{ "more gains than there is room for", AT(facts.gains.n), GAIN_STEPS_KNOWN + 1, 1, 0, false },
	{ "a gain with a difference of more than 32 bits", AT(facts.gains.tenth_db[0]), INT32_MIN, 1, 0, false },
	{ "the same, above", AT(facts.gains.tenth_db[2]), INT32_MAX, 1, 0, false },
	{ "gains that fall", AT(facts.gains.tenth_db[1]), -10, 1, 0, false },
	{ "opened, but nobody knows what", AT(facts.name[0]), 0, 1, 0, false },
};

#define ROWS (sizeof rows / sizeof rows[0])

static struct capture_answer sane_answer(uint32_t number)
{
	return (struct capture_answer){
		.number = number, .at_us = stream_now_us(),
		.facts = { "dongle 1", "1", "E4000", 55, 2140, { 3, { 0, 90, 496 } } },
	};
}

/* Texts without an end, of what would clear a terminal and of bytes that are no text. */
static void spoil_texts(struct capture_answer *a)
{
	memset(a->facts.name, 0xff, sizeof a->facts.name);
	memset(a->facts.serial, '\033', sizeof a->facts.serial);
	memset(a->facts.tuner, 0xc2, sizeof a->facts.tuner);
	memset(a->why.text, '\n', sizeof a->why.text);
}

static int answer_madly(size_t row)
{
	struct capture_order o;

	if (recv(CAPTURE_SOCKET, &o, sizeof o, 0) != sizeof o)
		return 1;
	struct capture_answer a = sane_answer(o.number);
	if (row < ROWS)
		memcpy((char *)&a + rows[row].at, &rows[row].value, rows[row].size);
	else
		spoil_texts(&a);
	for (int i = 0; i < (row < ROWS ? rows[row].times : 1); i++)
		send(CAPTURE_SOCKET, &a, row < ROWS && rows[row].length ? rows[row].length : sizeof a, MSG_NOSIGNAL);
	return recv(CAPTURE_SOCKET, &o, sizeof o, 0) > 0;
}

/* Opens and sets itself, delivers for half a second, and then says that all is lost. */
static int answer_well_at_first(void)
{
	static const uint8_t bytes[DONGLE_DELIVERY];
	struct ring *ring = ring_join(CAPTURE_MEMORY, CAPTURE_BELL);
	struct capture_order o;

	for (int n = 1; ring && recv(CAPTURE_SOCKET, &o, sizeof o, 0) == sizeof o; n++) {
		struct capture_answer a = sane_answer(o.number);
		if (n > 2)
			fault_set(&a.why, FAULT_FATAL, "the survey is over");
		send(CAPTURE_SOCKET, &a, sizeof a, MSG_NOSIGNAL);
		for (int i = 0; n == 2 && i < 300; i++) {
			usleep(1707);           /* what they last for at 2.4 MS/s */
			ring_put(ring, bytes, sizeof bytes, stream_now_us());
		}
	}
	return 0;
}

static int be_mad(const char *how)
{
	return strcmp(how, TURN) == 0 ? answer_well_at_first() : answer_madly((size_t)atoi(how));
}

/* ---- what the daemon makes of it ---- */

static enum capture_news news_of(struct capture *c, struct capture_answer *out)
{
	struct pollfd socket = { .fd = capture_socket(c), .events = POLLIN };

	if (poll(&socket, 1, PATIENCE_MS) != 1)
		fail_msg("no answer");
	return capture_take(c, out);
}

/* One with the order to open it. */
static struct capture *begin(size_t row)
{
	struct capture_order o = { .verb = CAPTURE_OPEN };
	char text[20];

	snprintf(text, sizeof text, "%zu", row);
	setenv(MAD, text, 1);
	struct capture *c = capture_create();
	unsetenv(MAD);
	assert_non_null(c);
	assert_int_equal(capture_tell(c, &o), 0);
	return c;
}

static void no_answer_is_believed_that_cant_be(void **state)
{
	(void)state;
	for (size_t i = 0; i < ROWS; i++) {
		struct capture *c = begin(i);
		struct capture_answer a;
		enum capture_news news = CAPTURE_ANSWER;
		for (int k = 0; news == CAPTURE_ANSWER && k < rows[i].times; k++)
			news = news_of(c, &a);
		if (news != (rows[i].sane ? CAPTURE_ANSWER : CAPTURE_NONSENSE))
			fail_msg("%s: %d", rows[i].why, news);
		capture_destroy(c);
	}
}

static void check_text(const char *text, size_t size)
{
	assert_int_equal(strlen(text), size - 1);
	assert_int_equal(strspn(text, "?"), size - 1);
}

static void texts_end_and_are_tame(void **state)
{
	struct capture *c = begin(ROWS);
	struct capture_answer a;
	(void)state;

	assert_int_equal(news_of(c, &a), CAPTURE_ANSWER);
	check_text(a.facts.name, sizeof a.facts.name);
	check_text(a.facts.serial, sizeof a.facts.serial);
	check_text(a.facts.tuner, sizeof a.facts.tuner);
	check_text(a.why.text, sizeof a.why.text);
	capture_destroy(c);
}

/* That one receiver is lost for good is not for its process to say once it was heard: other tries follow. */
static void it_cant_end_the_watch(void **state)
{
	struct tuning to = TUNING(145000000), next = TUNING(147000000);
	struct fault why;
	struct block b;
	(void)state;

	setenv(MAD, TURN, 1);
	void *self = open_named("", &why);
	unsetenv(MAD);
	assert_non_null(self);
	if (tune_and_read(self, &to, 1000, &b, &why) != SOURCE_BLOCK)
		fail_msg("it does not begin: %s", why.text);
	assert_int_equal(tune_and_read(self, &next, 1000, &b, &why), SOURCE_FAULT);
	check_fault("it says that all is lost", &why, FAULT_RETRY, "the survey is over");
	source_dongle.close(self);
}

/* ---- and the other way ---- */

/* Orders that the daemon never gives, after the first of which it is open. */
static const struct {
	const char          *why;
	struct capture_order order;
	const char          *fault;
} orders[] = {
	{ "what was not opened can't be set", { .verb = CAPTURE_SET, .settings = { 2400000, 145000000, 297 } },
	  "before it was opened" },
	{ "of an unknown kind", { .verb = 77 }, "order 77 is none" },
	{ "opened by an argument without an end", { .verb = CAPTURE_OPEN }, "none of the 1 plugged in" },
	{ "opened", { .verb = CAPTURE_OPEN }, "" },
	{ "no rate", { .verb = CAPTURE_SET, .settings = { 0, 145000000, 297 } }, "to be set to 0 S/s" },
	{ "a place below 0 Hz", { .verb = CAPTURE_SET, .settings = { 2400000, -1, 297 } }, "at -1 Hz" },
};

static void no_order_is_followed_that_cant_be(void **state)
{
	struct capture *c = capture_create();
	struct capture_answer a;
	(void)state;

	assert_non_null(c);
	for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++) {
		struct capture_order o = orders[i].order;
		if (strstr(orders[i].why, "without an end"))
			memset(o.arg, 'x', sizeof o.arg);
		assert_int_equal(capture_tell(c, &o), 0);
		enum capture_news news = news_of(c, &a);
		if (news != CAPTURE_ANSWER || !strstr(a.why.text, orders[i].fault) ||
		    (a.why.kind == FAULT_NONE) != (*orders[i].fault == '\0'))
			fail_msg("%s: %d, %s", orders[i].why, news, a.why.text);
	}
	capture_destroy(c);
}

/* Nor is one of another length: it ends, as if the daemon were gone. */
static void an_order_has_one_length(void **state)
{
	static const char much[2 * sizeof (struct capture_order)];
	const size_t lengths[] = { 1, sizeof (struct capture_order) - 1, sizeof (struct capture_order) + 1 };
	(void)state;

	for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
		struct capture *c = capture_create();
		struct capture_answer a;
		assert_non_null(c);
		assert_int_equal(send(capture_socket(c), much, lengths[i], MSG_NOSIGNAL), lengths[i]);
		assert_int_equal(news_of(c, &a), CAPTURE_DEAD);
		capture_destroy(c);
	}
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup(no_answer_is_believed_that_cant_be, reset),
		cmocka_unit_test_setup(texts_end_and_are_tame, reset),
		cmocka_unit_test_setup(it_cant_end_the_watch, reset),
		cmocka_unit_test_setup(no_order_is_followed_that_cant_be, reset),
		cmocka_unit_test_setup(an_order_has_one_length, reset),
	};

	if (argc > 1 && strcmp(argv[1], CAPTURE_OPTION) == 0 && getenv(MAD))
		return be_mad(getenv(MAD));
	return fake_run(argc, argv, tests, sizeof tests / sizeof tests[0]);
}
