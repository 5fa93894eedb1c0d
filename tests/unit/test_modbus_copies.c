/* What the serial Modbus driver remembers of replies, to tell a second copy: on both sides of
 * every bound. docs/modbus.md says the rule. */
#include "tests/support/check.h"

#include <string.h>

#include "drivers/modbus_parts.h"

#define WHILE_MS 500

static struct mbus_copies copies;
static const uint8_t reply[] = {5, 4, 2, 0x00, 0xd7, 0x09, 0x6e};

static bool
may_be(const uint8_t *frame, int64_t quiet_ms)
{
    return mbus_copies_may_be(&copies, frame, sizeof reply, quiet_ms, WHILE_MS);
}

static bool
keep(const uint8_t *frame, int64_t now_ms)
{
    return mbus_copies_keep(&copies, frame, sizeof reply, now_ms, WHILE_MS);
}

static int
begin(void **state)
{
    (void)state;
    memset(&copies, 0, sizeof copies);
    return 0;
}

static void
test_equal_reply_may_be_a_copy_for_as_long_as_one_can_come(void **state)
{
    (void)state;
    assert_false(may_be(reply, 1000)); /* nothing heard yet */
    assert_true(keep(reply, 1000));
    assert_true(may_be(reply, 1000));
    assert_true(may_be(reply, 1500));
    assert_false(may_be(reply, 1501));
}

static void
test_other_bytes_are_no_copy(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof reply; i++) {
        uint8_t other[sizeof reply];
        memcpy(other, reply, sizeof other);
        other[i] ^= 1;
        assert_true(keep(reply, 1000));
        assert_false(may_be(other, 1001));
    }
    assert_false(mbus_copies_may_be(&copies, reply, sizeof reply - 1, 1001, WHILE_MS));
}

/* Others heard in between hide it from nobody. */
static void
test_copy_of_the_reply_before_the_last_is_known(void **state)
{
    (void)state;
    static const uint8_t refusal[sizeof reply] = {5, 0x84, 2}; /* of one length, for keep() */
    assert_true(keep(reply, 1000));
    assert_true(keep(refusal, 1400));
    assert_true(may_be(reply, 1500));
    assert_false(may_be(reply, 1501));
    assert_true(may_be(refusal, 1900));
    assert_false(may_be(refusal, 1901));
}

static void
test_each_of_many_is_remembered_and_forgetting_a_young_one_is_told(void **state)
{
    (void)state;
    uint8_t frame[sizeof reply];
    memcpy(frame, reply, sizeof frame);
    for (int i = 0; i < MBUS_COPIES_MAX; i++) {
        frame[3] = (uint8_t)(i >> 8);
        frame[4] = (uint8_t)i;
        assert_true(keep(frame, 1000));
    }
    frame[3] = frame[4] = 0; /* the first */
    assert_true(may_be(frame, 1500));
    assert_false(keep(reply, 1500)); /* it goes, and a copy of it may still come */
    assert_false(may_be(frame, 1500));
    assert_true(keep(reply, 1501)); /* the second was too old already */
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_equal_reply_may_be_a_copy_for_as_long_as_one_can_come,
                               begin),
        cmocka_unit_test_setup(test_other_bytes_are_no_copy, begin),
        cmocka_unit_test_setup(test_copy_of_the_reply_before_the_last_is_known, begin),
        cmocka_unit_test_setup(
            test_each_of_many_is_remembered_and_forgetting_a_young_one_is_told, begin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
