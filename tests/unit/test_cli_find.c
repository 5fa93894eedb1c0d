/* The words around `trivet find`: what options set up, what is kept between two runs, and the
 * lines for a plan. What is printed for a plan is read back by the plan's own reader. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/cli/find_bus.h"
#include "daemon/cli/find_keep.h"
#include "daemon/cli/find_setup.h"
#include "daemon/cli/find_words.h"

/* ---- options ---- */

static void
test_units_in_lists_and_ranges_are_each_asked_once(void **state)
{
    struct find_setup setup;
    char why[FIND_WHY_MAX];
    (void)state;
    find_setup_init(&setup);
    assert_true(find_setup_finish(&setup, "3,1-4,247", why));
    assert_int_equal(setup.unit_count, 5);
    assert_memory_equal(setup.units, ((uint8_t[]){3, 1, 2, 4, 247}), 5);
    assert_true(find_setup_finish(&setup, NULL, why));
    assert_int_equal(setup.unit_count, 32);
    assert_true(find_setup_host(&setup, "192.0.2.10", why));
    assert_true(find_setup_finish(&setup, "0-255", why));
    assert_int_equal(setup.unit_count, 249); /* 248 to 254 are reserved */
    assert_null(memchr(setup.units, 248, setup.unit_count));
    assert_non_null(memchr(setup.units, 255, setup.unit_count));
    assert_false(find_setup_finish(&setup, "248-254", why)); /* no plan could name them */
    assert_true(find_setup_framing(&setup, "rtu", why));     /* serial units behind it */
    assert_false(find_setup_finish(&setup, "0-255", why));
    assert_true(find_setup_finish(&setup, "1-247", why));
}

static void
test_lists_that_are_none_are_refused(void **state)
{
    static const char *const bad[] = {
        "",      ",",    "1,",   ",1",    "1,,2", "a",   "1-",  "-1",
        "5-2",   "1 ",   " 1",   "1-2-3", "+1",   "0x1", "1.5", "99999999999999999999",
        "1-20;", "\xff", "70000"};
    struct find_setup setup;
    (void)state;
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        char why[FIND_WHY_MAX] = "";
        find_setup_init(&setup);
        assert_false(find_setup_finish(&setup, bad[i], why));
        assert_true(why[0] != '\0');
        assert_false(find_setup_registers(&setup, bad[i], why));
        assert_false(find_setup_bauds(&setup, bad[i], why));
        assert_false(find_setup_functions(&setup, bad[i], why));
        assert_false(find_setup_parities(&setup, bad[i], why));
    }
}

static void
test_registers_up_to_the_last_and_no_more_than_bearable(void **state)
{
    struct find_setup setup;
    char why[FIND_WHY_MAX];
    (void)state;
    find_setup_init(&setup);
    assert_true(find_setup_registers(&setup, "0,100-115,65535", why));
    assert_int_equal(setup.range_count, 3);
    assert_int_equal(setup.ranges[1].first, 100);
    assert_int_equal(setup.ranges[1].last, 115);
    assert_int_equal(setup.ranges[2].last, 65535);
    assert_true(find_setup_registers(&setup, "0-1023", why));
    assert_false(find_setup_registers(&setup, "0-1024", why));
    assert_false(find_setup_registers(&setup, "65536", why));
    assert_true(find_setup_registers(&setup, "1,2,3,4,5,6,7,8", why));
    assert_false(find_setup_registers(&setup, "1,2,3,4,5,6,7,8,9", why));
}

static void
test_line_as_a_person_writes_it(void **state)
{
    static const struct {
        const char *text, *device, *host;
        uint16_t port;
    } good[] = {{"/dev/ttyUSB0", "/dev/ttyUSB0", "", 502},
                {"192.0.2.10", "", "192.0.2.10", 502},
                {"rack.example:1502", "", "rack.example", 1502},
                {"2001:db8::7", "", "2001:db8::7", 502}};
    static const char *const bad[] = {"",           "ttyUSB 0", "192.0.2.10:", "192.0.2.10:0",
                                      "host:99999", "-h",       "the blue box"};
    struct find_setup setup;
    char why[FIND_WHY_MAX];
    (void)state;
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        find_setup_init(&setup);
        assert_true(find_setup_line(&setup, good[i].text, why));
        assert_string_equal(setup.device, good[i].device);
        assert_string_equal(setup.host, good[i].host);
        assert_int_equal(setup.bus.port, good[i].port);
        assert_int_equal(setup.bus.driver,
                         good[i].device[0] != '\0' ? BUS_MODBUS_RTU : BUS_MODBUS_TCP);
    }
    for (size_t i = 0; i < COUNT_OF(bad); i++)
        assert_false(find_setup_line(&setup, bad[i], why));
}

static void
test_times_have_units_and_bounds(void **state)
{
    int64_t ms = 0;
    char why[FIND_WHY_MAX];
    (void)state;
    assert_true(find_duration("500ms", 500, 600000, &ms, why) && ms == 500);
    assert_true(find_duration("10 min", 500, 600000, &ms, why) && ms == 600000);
    assert_true(find_duration("2s", 500, 600000, &ms, why) && ms == 2000);
    static const char *const bad[] = {"499ms", "601s", "10", "s", "1h", "-1s", "1.5s", ""};
    for (size_t i = 0; i < COUNT_OF(bad); i++)
        assert_false(find_duration(bad[i], 500, 600000, &ms, why));
    assert_int_equal(ms, 2000); /* untouched when refused */
}

static void
test_ids_come_from_names(void **state)
{
    static const struct {
        const char *name, *id;
    } cases[] = {{"Roast core A", "roast-core-a"},
                 {"  Walk-in / air!  ", "walk-in-air"},
                 {"\xc3\x96tzi 2", "tzi-2"},
                 {"\xe5\x86\xb7", ""},
                 {"1234567890123456789012345678901234", "1234567890123456789012345678901"}};
    char id[PLAN_ID_MAX + 1];
    (void)state;
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        find_id_of(cases[i].name, id);
        assert_string_equal(id, cases[i].id);
        assert_true(id[0] == '\0' || find_id_good(id));
    }
    assert_false(find_id_good("-a") || find_id_good("") || find_id_good("A") ||
                 find_id_good("a b"));
}

/* Thirty-two units at four settings by two functions, each 300 ms and 500 ms of quiet. */
static void
test_longest_search_is_told_beforehand(void **state)
{
    struct find_setup setup;
    char why[FIND_WHY_MAX];
    (void)state;
    find_setup_init(&setup);
    assert_true(find_setup_finish(&setup, NULL, why));
    assert_int_equal(find_bus_longest_ms(&setup), 32 * 4 * 2 * 800);
    assert_true(find_setup_host(&setup, "192.0.2.10", why));
    assert_true(find_setup_finish(&setup, "1", why));
    assert_int_equal(find_bus_longest_ms(&setup), 2 * 800);
}

/* ---- between two runs ---- */

static void
test_what_is_kept_comes_back(void **state)
{
    char path[] = "/tmp/trivet-find-XXXXXX", why[FIND_WHY_MAX * 2] = "";
    struct find_setup setup, again;
    struct find_blocks blocks = {0}, back = {0};
    (void)state;
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(close(fd), 0);
    find_setup_init(&setup);
    assert_true(find_setup_device(&setup, "/dev/serial/by-id/usb \"odd\" name", why));
    setup.bus.baud_bps = 57600;
    setup.bus.parity = 'O';
    setup.bus.stop_bits = 2;
    setup.bus.kernel_direction = true;
    setup.pause_ms = 40;
    struct find_block *block = find_blocks_add(&blocks);
    assert_non_null(block);
    *block = (struct find_block){.unit = 247, .function = 4, .first = 65534, .count = 2};
    block->seam = true;
    block->rounds[FIND_HAND] = FIND_ROUNDS_MAX;
    for (size_t i = 0; i < FIND_ROUNDS_MAX; i++)
        block->word[FIND_HAND][i][1] = (uint16_t)(65535 - i);
    assert_true(find_keep_write(path, &setup, &blocks, why, sizeof why));
    find_setup_init(&again);
    assert_true(find_keep_read(path, &again, &back, why, sizeof why));
    assert_string_equal(again.bus.device, setup.device);
    assert_int_equal(again.bus.baud_bps, 57600);
    assert_int_equal(again.bus.parity, 'O');
    assert_int_equal(again.bus.stop_bits, 2);
    assert_true(again.bus.kernel_direction);
    assert_int_equal(again.pause_ms, 40);
    assert_int_equal(back.count, 1);
    assert_memory_equal(back.block, blocks.block, sizeof *blocks.block);
    find_blocks_done(&back);
    find_blocks_done(&blocks);
    assert_int_equal(unlink(path), 0);
}

/* ---- lines for a plan ---- */

static struct plan *
read_back(const struct plan_bus *bus, const struct find_guess *guess,
          const struct find_naming *naming)
{
    static const char rest[] = "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"
                               "people:\n"
                               "  - {initials: AB, name: Ana Brandt, role: cook}\n"
                               "  - {initials: JO, name: Jun Okada, role: supervisor}\n"
                               "places: [{id: stove, name: Stove, limit: {kind: none}}]\n"
                               "products:\n"
                               "  - id: soup\n"
                               "    name: Leek soup\n"
                               "    steps: [{id: rest, name: Rest, limit: {kind: none}}]\n"
                               "records: {directory: records}\n";
    static struct plan_faults faults;
    char *text = NULL;
    size_t len = 0;
    FILE *to = open_memstream(&text, &len);
    assert_non_null(to);
    (void)fputs(rest, to);
    find_words_plan(to, bus, guess, naming);
    assert_int_equal(fclose(to), 0);
    struct plan *plan = plan_load_text("found.yaml", text, len, &faults);
    if (plan == NULL)
        print_message("%s%s\n", text, faults.fault[0].text);
    assert_non_null(plan);
    free(text);
    return plan;
}

static void
test_lines_of_every_reading_are_a_plan(void **state)
{
    static const enum register_type types[] = {REGISTER_INT16,   REGISTER_UINT16,
                                               REGISTER_INT32,   REGISTER_UINT32,
                                               REGISTER_FLOAT32, REGISTER_FLOAT64};
    static const int64_t scales[] = {1000000, 100000, 10000, 1000, 62500};
    static const int64_t offsets[] = {0, -40000000, -273150000};
    struct find_naming naming = {"pot-1", "Pot \"1\" \\ \xc3\xa9t\xc3\xa9: # no note",
                                 PROBE_AIR};
    struct find_setup setup;
    char why[FIND_WHY_MAX];
    (void)state;
    find_setup_init(&setup);
    for (size_t i = 0; i < COUNT_OF(types) * COUNT_OF(scales) * COUNT_OF(offsets); i++) {
        const struct find_guess guess = {.unit = (uint8_t)(1 + i % 247),
                                         .function = (uint8_t)(3 + i % 2),
                                         .reg = (uint16_t)(i * 700),
                                         .type = types[i % COUNT_OF(types)],
                                         .order = (enum byte_order)(i % 4),
                                         .reads = i % 7 == 0 ? TEMP_F : TEMP_C,
                                         .scale_micro = scales[i % COUNT_OF(scales)],
                                         .offset_micro = offsets[i / 5 % COUNT_OF(offsets)]};
        if (i % 3 == 0)
            assert_true(find_setup_device(&setup, "/dev/serial/by-id/usb: \"odd\" #1", why));
        else
            assert_true(find_setup_host(&setup, i % 3 == 1 ? "2001:db8::7" : "1502", why));
        struct plan *plan = read_back(&setup.bus, &guess, &naming);
        const struct plan_probe *probe = &plan->probes[0];
        assert_string_equal(plan->buses[0].id, setup.bus.id);
        assert_int_equal(plan->buses[0].driver, setup.bus.driver);
        assert_string_equal(i % 3 == 0 ? plan->buses[0].device : plan->buses[0].host,
                            i % 3 == 0 ? setup.device : setup.host);
        assert_string_equal(probe->name, naming.name);
        assert_int_equal(probe->unit, guess.unit);
        assert_int_equal(probe->function, guess.function);
        assert_int_equal(probe->reg, guess.reg);
        assert_int_equal(probe->type, guess.type);
        assert_true(guess.type <= REGISTER_UINT16 || probe->order == guess.order);
        assert_int_equal(probe->reads, guess.reads);
        assert_int_equal(probe->scale_micro, guess.scale_micro);
        assert_int_equal(probe->offset_micro, guess.offset_micro);
        assert_int_equal(probe->kind, PROBE_AIR);
        plan_free(plan);
    }
}

/* The plan refuses an `every` that is not longer than longest_delay on a serial line. */
static void
test_lines_of_a_very_late_device_are_a_plan(void **state)
{
    (void)state;
    static const char *const delays[] = {"9999ms", "10s"};
    const struct find_naming naming = {"pot-1", "Pot", PROBE_FOOD};
    const struct find_guess guess = {
        .unit = 1, .function = 4, .type = REGISTER_INT16, .scale_micro = 100000};
    struct find_setup setup;
    char why[FIND_WHY_MAX];
    find_setup_init(&setup);
    assert_true(find_setup_device(&setup, "/dev/ttyUSB0", why));
    for (size_t i = 0; i < COUNT_OF(delays); i++) {
        assert_true(find_setup_longest_delay(&setup, delays[i], why));
        struct plan *plan = read_back(&setup.bus, &guess, &naming);
        assert_int_equal(plan->probes[0].every_ms, i == 0 ? 10000 : 15000);
        plan_free(plan);
    }
}

static void
test_lines_of_ohms_have_their_sensor(void **state)
{
    (void)state;
    struct find_naming naming = {"pot-1", "Pot", PROBE_FOOD};
    struct find_setup setup;
    char why[FIND_WHY_MAX], text[120];
    const struct find_guess guess = {.unit = 1,
                                     .function = 4,
                                     .type = REGISTER_UINT16,
                                     .sensor = "pt1000",
                                     .scale_micro = 100000};
    find_setup_init(&setup);
    assert_true(find_setup_host(&setup, "1502", why));
    struct plan *plan = read_back(&setup.bus, &guess, &naming);
    assert_string_equal(plan->probes[0].sensor, "pt1000");
    assert_int_equal(plan->probes[0].signal, SIGNAL_OHM);
    assert_int_equal(plan->probes[0].scale_micro, 100000);
    assert_string_equal(find_words_decoding(text, sizeof text, &guess),
                        "uint16, 0.1 ohm per count of a pt1000");
    plan_free(plan);
}

static void
test_decimals_are_exact_and_short(void **state)
{
    static const struct {
        int64_t micro;
        const char *text;
    } cases[] = {{0, "0"},          {1, "0.000001"},         {62500, "0.0625"},
                 {100000, "0.1"},   {1000000, "1"},          {-40000000, "-40"},
                 {-500000, "-0.5"}, {-273150000, "-273.15"}, {10000000000, "10000"}};
    char text[32];
    (void)state;
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        assert_string_equal(find_words_micro(text, sizeof text, cases[i].micro), cases[i].text);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_units_in_lists_and_ranges_are_each_asked_once),
        cmocka_unit_test(test_lists_that_are_none_are_refused),
        cmocka_unit_test(test_registers_up_to_the_last_and_no_more_than_bearable),
        cmocka_unit_test(test_line_as_a_person_writes_it),
        cmocka_unit_test(test_times_have_units_and_bounds),
        cmocka_unit_test(test_ids_come_from_names),
        cmocka_unit_test(test_longest_search_is_told_beforehand),
        cmocka_unit_test(test_what_is_kept_comes_back),
        cmocka_unit_test(test_lines_of_every_reading_are_a_plan),
        cmocka_unit_test(test_lines_of_a_very_late_device_are_a_plan),
        cmocka_unit_test(test_lines_of_ohms_have_their_sensor),
        cmocka_unit_test(test_decimals_are_exact_and_short),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
