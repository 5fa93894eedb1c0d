/* When a switch is believed: chatter and single odd replies are no news, a lasting change is,
 * and what cannot be read is not known. */
#include "tests/support/check.h"

#include "daemon/poll/poll_switch.h"
#include "trivet/reading.h"
#include "trivet/units.h"

static struct poll_switch of;
static int64_t at_ms;

static int
begin(void **state)
{
    (void)state;
    poll_switch_init(&of);
    at_ms = 1000;
    return 0;
}

/* One reading each: 'o' open, 'c' closed, 't' no reply in time, 'l' the line is gone. Returns
 * how often there was news; each is taken as told. */
static int
see(const char *series)
{
    int news = 0;
    for (; *series != '\0'; series++, at_ms += 100) {
        if (*series == 't' || *series == 'l')
            poll_switch_take(&of, SWITCH_UNKNOWN, *series == 't' ? BAD_TIMEOUT : BAD_LINK,
                             at_ms);
        else
            poll_switch_take(&of, *series == 'o' ? SWITCH_ACTIVE : SWITCH_RESTS, READING_GOOD,
                             at_ms);
        news += !of.is_told;
        of.is_told = true;
    }
    return news;
}

static void
test_two_readings_that_agree_are_believed_once(void **state)
{
    (void)state;
    assert_int_equal(see("c"), 0);
    assert_int_equal(see("c"), 1);
    assert_int_equal(of.state, SWITCH_RESTS);
    assert_int_equal(of.since_ms, 1100);
    assert_int_equal(see("cccc"), 0);
    assert_int_equal(see("oo"), 1);
    assert_int_equal(of.state, SWITCH_ACTIVE);
    assert_int_equal(of.since_ms, 1700);
}

static void
test_contact_that_chatters_is_no_news(void **state)
{
    (void)state;
    assert_int_equal(see("cc"), 1);
    assert_int_equal(see("ococococo"), 0);
    assert_int_equal(of.state, SWITCH_RESTS);
    assert_int_equal(see("o"), 1);
}

static void
test_state_is_unknown_after_three_failures_in_a_row_and_not_before(void **state)
{
    (void)state;
    assert_int_equal(see("oo"), 1);
    assert_int_equal(see("ttott"), 0); /* one reading between begins the count anew */
    assert_int_equal(of.state, SWITCH_ACTIVE);
    assert_int_equal(see("l"), 1);
    assert_int_equal(of.state, SWITCH_UNKNOWN);
    assert_int_equal(of.cause, BAD_LINK);
    assert_int_equal(see("ttttt"), 0);
    assert_int_equal(see("oo"), 1); /* back, and told although it is what it was before */
    assert_int_equal(of.state, SWITCH_ACTIVE);
}

/* A failure between two readings parts them. */
static void
test_readings_parted_by_a_failure_do_not_agree(void **state)
{
    (void)state;
    assert_int_equal(see("cc"), 1);
    assert_int_equal(see("oto"), 0);
    assert_int_equal(see("o"), 1);
}

static void
test_switch_that_never_could_be_read_is_told(void **state)
{
    (void)state;
    assert_int_equal(see("tt"), 0);
    assert_int_equal(see("t"), 1);
    assert_int_equal(of.state, SWITCH_UNKNOWN);
    assert_int_equal(of.cause, BAD_TIMEOUT);
    assert_int_equal(see("tttttttt"), 0);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_two_readings_that_agree_are_believed_once, begin),
        cmocka_unit_test_setup(test_contact_that_chatters_is_no_news, begin),
        cmocka_unit_test_setup(
            test_state_is_unknown_after_three_failures_in_a_row_and_not_before, begin),
        cmocka_unit_test_setup(test_readings_parted_by_a_failure_do_not_agree, begin),
        cmocka_unit_test_setup(test_switch_that_never_could_be_read_is_told, begin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
