/* The schedule of a bus, on a clock that the test moves. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "daemon/poll/poll_schedule.h"
#include "trivet/reading.h"
#include "trivet/units.h"

#define SLOTS 8

struct rig {
    struct poll_schedule schedule;
    struct poll_slot slots[SLOTS];
    struct driver_request requests[SLOTS];
    size_t count;
    int64_t now_ms;
    /* what exchanges cost and give, by unit */
    int64_t cost_ms[256];
    uint16_t quality[256];
    /* counted by slot */
    int reads[SLOTS], holds[SLOTS];
    int64_t last_read_ms[SLOTS], worst_late_ms[SLOTS];
};

static struct rig rig;

static void
add(uint8_t unit, int32_t every_ms)
{
    rig.requests[rig.count++] = (struct driver_request){.unit = unit, .every_ms = every_ms};
}

static int
set_up(void **state)
{
    (void)state;
    rig = (struct rig){.now_ms = 1000000};
    return 0;
}

static void
begin(void)
{
    poll_schedule_init(&rig.schedule, rig.slots, rig.requests, rig.count, rig.now_ms);
}

static void
begin_open(void)
{
    begin();
    assert_int_equal(poll_schedule_next(&rig.schedule, rig.now_ms).what, POLL_OPEN);
    poll_schedule_opened(&rig.schedule, true, rig.now_ms);
}

/* Lives through a stretch of time as the bus thread would. */
static void
run_for(int64_t span_ms)
{
    const int64_t end_ms = rig.now_ms + span_ms;
    while (rig.now_ms < end_ms) {
        const struct poll_next next = poll_schedule_next(&rig.schedule, rig.now_ms);
        if (next.what == POLL_WAIT) {
            assert_true(next.due_ms > rig.now_ms);
            rig.now_ms = next.due_ms < end_ms ? next.due_ms : end_ms;
        } else if (next.what == POLL_HOLD) {
            assert_true(reading_is_bad(next.cause));
            rig.holds[next.slot]++;
        } else {
            assert_int_equal(next.what, POLL_READ);
            const uint8_t unit = rig.requests[next.slot].unit;
            const int64_t late_ms = rig.now_ms - next.due_ms;
            if (late_ms > rig.worst_late_ms[next.slot])
                rig.worst_late_ms[next.slot] = late_ms;
            rig.reads[next.slot]++;
            rig.last_read_ms[next.slot] = rig.now_ms;
            rig.now_ms += rig.cost_ms[unit];
            poll_schedule_done(&rig.schedule, next.slot, rig.quality[unit], rig.now_ms);
        }
    }
}

static void
count_anew(void)
{
    for (size_t i = 0; i < SLOTS; i++) {
        rig.reads[i] = rig.holds[i] = 0;
        rig.worst_late_ms[i] = 0;
    }
}

static void
test_first_act_is_to_open(void **state)
{
    (void)state;
    add(1, 1000);
    begin();
    assert_int_equal(poll_schedule_next(&rig.schedule, rig.now_ms).what, POLL_OPEN);
    assert_int_equal(poll_schedule_next(&rig.schedule, rig.now_ms).what, POLL_OPEN);
    poll_schedule_opened(&rig.schedule, true, rig.now_ms);
    assert_int_equal(poll_schedule_next(&rig.schedule, rig.now_ms).what, POLL_READ);
    assert_int_equal(poll_schedule_next(&rig.schedule, rig.now_ms).what, POLL_WAIT);
}

static void
test_period_does_not_drift_whatever_reads_cost(void **state)
{
    (void)state;
    add(1, 1000);
    rig.cost_ms[1] = 137;
    begin_open();
    const int64_t start_ms = rig.now_ms;
    run_for(10000 * 1000LL);
    assert_int_equal(rig.reads[0], 10000);
    assert_int_equal((rig.last_read_ms[0] - start_ms) % 1000, 0);
    assert_int_equal(rig.worst_late_ms[0], 0);
}

static void
test_missed_slots_are_skipped_not_made_up(void **state)
{
    (void)state;
    add(1, 1000);
    begin_open();
    run_for(1);
    const int64_t start_ms = rig.now_ms - 1;
    rig.now_ms = start_ms + 60500; /* the thread stalled a minute */
    count_anew();
    run_for(600); /* one at once, one at the next multiple */
    assert_int_equal(rig.reads[0], 2);
    assert_int_equal(rig.last_read_ms[0], start_ms + 61000);
}

/* On a serial line the same is not asked again while a copy of its reply can come: what was
 * late comes back to its times by and by. */
static void
test_late_slot_is_asked_again_only_after_the_rest_of_its_line(void **state)
{
    (void)state;
    add(1, 1000);
    rig.requests[0].apart_ms = 501;
    rig.cost_ms[1] = 40;
    begin_open();
    const int64_t start_ms = rig.now_ms;
    run_for(41);
    rig.now_ms = start_ms + 1800; /* other units cost that long */
    run_for(1);
    assert_int_equal(rig.last_read_ms[0], start_ms + 1800);
    struct poll_next next = poll_schedule_next(&rig.schedule, start_ms + 2000);
    assert_int_equal(next.what, POLL_WAIT);
    assert_int_equal(next.due_ms, start_ms + 1840 + 501);
    assert_int_equal(poll_schedule_next(&rig.schedule, start_ms + 2340).what, POLL_WAIT);
    rig.now_ms = start_ms + 2341;
    run_for(1000);
    assert_int_equal(rig.reads[0], 4);
    assert_int_equal(rig.last_read_ms[0], start_ms + 3000);
    rig.requests[0].apart_ms = 0; /* on TCP a reply says which question it answers */
    count_anew();
    begin_open();
    const int64_t again_ms = rig.now_ms;
    run_for(41);
    rig.now_ms = again_ms + 1999;
    run_for(2);
    assert_int_equal(poll_schedule_next(&rig.schedule, again_ms + 2040).what, POLL_READ);
}

static void
test_exactly_at_the_due_time_is_due_and_one_before_is_not(void **state)
{
    (void)state;
    add(1, 1000);
    begin_open();
    const int64_t start_ms = rig.now_ms;
    assert_int_equal(poll_schedule_next(&rig.schedule, start_ms).what, POLL_READ);
    struct poll_next next = poll_schedule_next(&rig.schedule, start_ms + 999);
    assert_int_equal(next.what, POLL_WAIT);
    assert_int_equal(next.due_ms, start_ms + 1000);
    assert_int_equal(poll_schedule_next(&rig.schedule, start_ms + 1000).what, POLL_READ);
}

static void
test_dead_unit_leaves_its_neighbours_their_time(void **state)
{
    (void)state;
    add(1, 1000);
    add(2, 1000);
    add(3, 1000);
    rig.cost_ms[1] = rig.cost_ms[3] = 20;
    rig.cost_ms[2] = 800; /* time-out and quiet */
    rig.quality[2] = BAD_TIMEOUT;
    begin_open();
    run_for(600000);
    assert_in_range(rig.reads[0], 598, 600);
    assert_in_range(rig.reads[2], 598, 600);
    assert_in_range(rig.reads[1], 600 / 31, 600 / 30 + 6);
    /* Its probes are still heard of every period: read or held. */
    assert_in_range(rig.reads[1] + rig.holds[1], 598, 600);
}

static void
test_held_slot_names_the_last_cause(void **state)
{
    (void)state;
    add(7, 100);
    rig.quality[7] = BAD_CRC;
    begin_open();
    run_for(1);
    const struct poll_next next = poll_schedule_next(&rig.schedule, rig.now_ms + 100);
    assert_int_equal(next.what, POLL_HOLD);
    assert_int_equal(next.cause, BAD_CRC);
}

static void
test_unit_is_asked_again_after_doubling_waits_of_at_most_30_s(void **state)
{
    (void)state;
    static const int64_t waits_ms[] = {1000, 2000, 4000, 8000, 16000, 30000, 30000, 30000};
    add(1, 100);
    rig.quality[1] = BAD_TIMEOUT;
    begin_open();
    run_for(1);
    int64_t before_ms = rig.last_read_ms[0];
    for (size_t i = 0; i < sizeof waits_ms / sizeof *waits_ms; i++) {
        while (rig.last_read_ms[0] == before_ms)
            run_for(100);
        assert_int_equal(rig.last_read_ms[0] - before_ms, waits_ms[i]);
        before_ms = rig.last_read_ms[0];
    }
}

static void
test_recovery_is_noticed_within_a_minute_at_any_period(void **state)
{
    (void)state;
    static const int32_t periods_ms[] = {100, 1000, 7000, 20000, 29999, 30000, 60000};
    for (size_t i = 0; i < sizeof periods_ms / sizeof *periods_ms; i++) {
        (void)set_up(NULL);
        add(1, periods_ms[i]);
        rig.quality[1] = BAD_TIMEOUT;
        rig.cost_ms[1] = 50;
        begin_open();
        run_for(3600000);
        rig.quality[1] = READING_GOOD;
        count_anew();
        run_for(60000);
        assert_true(rig.reads[0] > 0);
        count_anew();
        run_for(600000); /* and then it has its period again */
        assert_in_range(rig.reads[0], 600000 / periods_ms[i] - 1, 600000 / periods_ms[i] + 1);
        assert_int_equal(rig.holds[0], 0);
    }
}

static void
test_dead_unit_with_many_slots_costs_no_more_than_one(void **state)
{
    (void)state;
    for (int i = 0; i < 6; i++)
        add(2, 1000);
    add(3, 1000);
    rig.cost_ms[2] = 800;
    rig.quality[2] = BAD_TIMEOUT;
    begin_open();
    run_for(600000);
    int reads = 0;
    for (int i = 0; i < 6; i++)
        reads += rig.reads[i];
    assert_in_range(reads, 600 / 31, 600 / 30 + 6);
    assert_in_range(rig.reads[6], 597, 600);
    /* All of them come back with the first that is answered. */
    rig.quality[2] = READING_GOOD;
    rig.cost_ms[2] = 5;
    run_for(32000);
    count_anew();
    run_for(10000);
    for (int i = 0; i < 6; i++)
        assert_in_range(rig.reads[i], 9, 11);
}

static void
test_one_register_block_that_hangs_leaves_the_others_of_its_unit(void **state)
{
    (void)state;
    add(1, 1000);
    add(1, 1000);
    begin_open();
    int64_t reads[2] = {0, 0};
    const int64_t end_ms = rig.now_ms + 600000;
    while (rig.now_ms < end_ms) {
        const struct poll_next next = poll_schedule_next(&rig.schedule, rig.now_ms);
        if (next.what == POLL_WAIT)
            rig.now_ms = next.due_ms;
        if (next.what != POLL_READ)
            continue;
        reads[next.slot]++;
        rig.now_ms += next.slot == 1 ? 800 : 20;
        poll_schedule_done(&rig.schedule, next.slot,
                           next.slot == 1 ? BAD_TIMEOUT : READING_GOOD, rig.now_ms);
    }
    assert_in_range(reads[0], 560, 600);
    assert_in_range(reads[1], 19, 27);
}

static void
test_exception_is_no_reason_to_wait(void **state)
{
    (void)state;
    add(1, 1000);
    rig.quality[1] = BAD_EXCEPTION;
    begin_open();
    run_for(60000);
    assert_int_equal(rig.reads[0], 60);
    assert_int_equal(rig.holds[0], 0);
}

static void
test_overloaded_bus_serves_everyone_in_turn(void **state)
{
    (void)state;
    for (uint8_t unit = 1; unit <= 5; unit++) {
        add(unit, 1000);
        rig.cost_ms[unit] = 500; /* 2.5 s of work a second */
    }
    begin_open();
    run_for(500000);
    for (int i = 0; i < 5; i++)
        assert_in_range(rig.reads[i], 190, 210);
}

static void
test_lost_line_is_opened_after_doubling_waits_and_its_slots_are_held(void **state)
{
    (void)state;
    static const int64_t waits_ms[] = {1000, 2000, 4000, 8000, 16000, 30000, 30000};
    add(1, 500);
    begin();
    int64_t holds = 0;
    for (size_t i = 0; i < sizeof waits_ms / sizeof *waits_ms; i++) {
        struct poll_next next = poll_schedule_next(&rig.schedule, rig.now_ms);
        assert_int_equal(next.what, POLL_OPEN);
        poll_schedule_opened(&rig.schedule, false, rig.now_ms);
        const int64_t failed_ms = rig.now_ms;
        while ((next = poll_schedule_next(&rig.schedule, rig.now_ms)).what != POLL_OPEN) {
            if (next.what == POLL_HOLD) {
                assert_int_equal(next.cause, BAD_LINK);
                holds++;
            } else {
                assert_int_equal(next.what, POLL_WAIT);
                rig.now_ms = next.due_ms;
            }
        }
        assert_int_equal(rig.now_ms - failed_ms, waits_ms[i]);
    }
    assert_in_range(holds, 91000 / 500 - 2, 91000 / 500 + 1);
}

static void
test_waits_for_the_line_begin_anew_only_after_an_exchange(void **state)
{
    (void)state;
    add(1, 1000);
    begin_open();
    poll_schedule_lost(&rig.schedule, rig.now_ms);
    rig.now_ms += 1000;
    assert_int_equal(poll_schedule_next(&rig.schedule, rig.now_ms).what, POLL_OPEN);
    poll_schedule_opened(&rig.schedule, true, rig.now_ms);
    poll_schedule_lost(&rig.schedule, rig.now_ms); /* opens, but never carries anything */
    assert_int_not_equal(poll_schedule_next(&rig.schedule, rig.now_ms + 1999).what, POLL_OPEN);
    rig.now_ms += 2000;
    assert_int_equal(poll_schedule_next(&rig.schedule, rig.now_ms).what, POLL_OPEN);
    poll_schedule_opened(&rig.schedule, true, rig.now_ms);
    poll_schedule_done(&rig.schedule, 0, READING_GOOD, rig.now_ms);
    poll_schedule_lost(&rig.schedule, rig.now_ms);
    assert_int_equal(poll_schedule_next(&rig.schedule, rig.now_ms + 1000).what, POLL_OPEN);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_first_act_is_to_open, set_up),
        cmocka_unit_test_setup(test_period_does_not_drift_whatever_reads_cost, set_up),
        cmocka_unit_test_setup(test_missed_slots_are_skipped_not_made_up, set_up),
        cmocka_unit_test_setup(test_late_slot_is_asked_again_only_after_the_rest_of_its_line,
                               set_up),
        cmocka_unit_test_setup(test_exactly_at_the_due_time_is_due_and_one_before_is_not,
                               set_up),
        cmocka_unit_test_setup(test_dead_unit_leaves_its_neighbours_their_time, set_up),
        cmocka_unit_test_setup(test_held_slot_names_the_last_cause, set_up),
        cmocka_unit_test_setup(test_unit_is_asked_again_after_doubling_waits_of_at_most_30_s,
                               set_up),
        cmocka_unit_test_setup(test_recovery_is_noticed_within_a_minute_at_any_period, set_up),
        cmocka_unit_test_setup(test_dead_unit_with_many_slots_costs_no_more_than_one, set_up),
        cmocka_unit_test_setup(test_one_register_block_that_hangs_leaves_the_others_of_its_unit,
                               set_up),
        cmocka_unit_test_setup(test_exception_is_no_reason_to_wait, set_up),
        cmocka_unit_test_setup(test_overloaded_bus_serves_everyone_in_turn, set_up),
        cmocka_unit_test_setup(
            test_lost_line_is_opened_after_doubling_waits_and_its_slots_are_held, set_up),
        cmocka_unit_test_setup(test_waits_for_the_line_begin_anew_only_after_an_exchange,
                               set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
