/* Lists of the state: docs/engine.md says of several that they keep their order. */
#include "tests/support/check.h"

#include "daemon/engine/list.h"

/* Whichever is taken out, the others keep their order, and what lies behind is not touched. */
static void
test_taking_out_keeps_the_order_and_touches_nothing_behind(void **state)
{
    (void)state;
    for (size_t out = 0; out < 4; out++) {
        int list[12];
        uint32_t count = 4;
        for (int i = 0; i < 12; i++)
            list[i] = i;
        list_take_out(list, &count, &list[out], sizeof list[0]);
        assert_int_equal(count, 3);
        for (size_t i = 0; i < 3; i++)
            assert_int_equal(list[i], i < out ? i : i + 1);
        for (size_t i = 4; i < 12; i++)
            assert_int_equal(list[i], i);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_taking_out_keeps_the_order_and_touches_nothing_behind),
    };
    return cmocka_run_group_tests_name("engine lists", tests, NULL, NULL);
}
