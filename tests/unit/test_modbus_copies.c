/* What the serial Modbus driver remembers of replies, to tell a second copy: on both sides of
 * every bound. docs/modbus.md says the rule. */
#include "tests/support/check.h"

#include <string.h>

#include "drivers/modbus_parts.h"

#define WHILE_MS 500

static struct mbus_copies copies;
static const uint8_t reply[] = {5, 4, 2, 0x00, 0xd7, 0x09, 0x6e};

static struct driver_request
asking(uint16_t first_reg)
{
    return (struct driver_request){
        .unit = 5, .function = 4, .first_reg = first_reg, .reg_count = 1};
}

static bool
may_be(uint16_t first_reg, const uint8_t *frame, int64_t quiet_ms)
{
    const struct driver_request request = asking(first_reg);
    return mbus_copies_may_be(&copies, &request, frame, sizeof reply, quiet_ms, WHILE_MS);
}

static bool
keep(uint16_t first_reg, const uint8_t *frame, int64_t now_ms)
{
    const struct driver_request request = asking(first_reg);
    return mbus_copies_keep(&copies, &request, frame, sizeof reply, now_ms, WHILE_MS);
}

static int
begin(void **state)
{
    (void)state;
    memset(&copies, 0, sizeof copies);
    return 0;
}

static void
test_equal_reply_of_another_register_may_be_a_copy_for_as_long_as_one_can_come(void **state)
{
    (void)state;
    assert_false(may_be(10, reply, 1000)); /* nothing heard yet */
    assert_true(keep(0, reply, 1000));
    assert_true(may_be(10, reply, 1000));
    assert_true(may_be(10, reply, 1500));
    assert_false(may_be(10, reply, 1501));
}

static void
test_same_register_or_other_bytes_are_no_copy(void **state)
{
    (void)state;
    uint8_t other[sizeof reply];
    memcpy(other, reply, sizeof other);
    other[4] ^= 1;
    assert_true(keep(0, reply, 1000));
    assert_false(may_be(0, reply, 1001));
    assert_false(may_be(10, other, 1001));
}

/* A refusal names no register: it fits the next request for the same ones as well. */
static void
test_equal_refusal_may_be_a_copy_whatever_was_asked(void **state)
{
    (void)state;
    static const uint8_t refusal[sizeof reply] = {5, 0x84, 2}; /* of one length, for may_be() */
    static const uint8_t other[sizeof reply] = {5, 0x84, 6};
    assert_true(keep(0, refusal, 1000));
    assert_true(may_be(10, refusal, 1500));
    assert_true(may_be(0, refusal, 1500));
    assert_false(may_be(0, refusal, 1501));
    assert_false(may_be(0, other, 1001));
    assert_false(may_be(0, reply, 1001));
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
        assert_true(keep(0, frame, 1000));
    }
    frame[3] = frame[4] = 0; /* the first */
    assert_true(may_be(10, frame, 1500));
    assert_false(keep(0, reply, 1500)); /* it goes, and a copy of it may still come */
    assert_false(may_be(10, frame, 1500));
    assert_true(keep(0, reply, 1501)); /* the second was too old already */
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(
            test_equal_reply_of_another_register_may_be_a_copy_for_as_long_as_one_can_come,
            begin),
        cmocka_unit_test_setup(test_same_register_or_other_bytes_are_no_copy, begin),
        cmocka_unit_test_setup(test_equal_refusal_may_be_a_copy_whatever_was_asked, begin),
        cmocka_unit_test_setup(
            test_each_of_many_is_remembered_and_forgetting_a_young_one_is_told, begin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
