/* The example plan of the package, value for value. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "tests/support/plan_lines.h"

static struct plan *
load_example(void)
{
    struct plan_faults faults;
    struct plan *plan = plan_load("config/harbour-lane.yaml", &faults);
    if (!plan)
        fail_msg("%s", all_faults(&faults));
    return plan;
}

static void
test_example_site_people_and_lines_are_exact(void **state)
{
    (void)state;
    struct plan *plan = load_example();
    assert_string_equal(plan->site_name, "Harbour Lane Kitchen");
    assert_string_equal(plan->time_zone, "Europe/London");
    assert_true(plan->demo);
    assert_int_equal(plan->person_count, 4);
    assert_int_equal(plan_person(plan, "AB")->role, ROLE_COOK);
    assert_int_equal(plan_person(plan, "JO")->role, ROLE_SUPERVISOR);
    assert_int_equal(plan_person(plan, "RS")->role, ROLE_VERIFIER);
    assert_string_equal(plan_person(plan, "LM")->name, "Luis Marchetti");
    assert_int_equal(plan->bus_count, 2);
    assert_string_equal(plan->buses[0].id, "oven-line");
    assert_int_equal(plan->buses[0].driver, BUS_MODBUS_RTU);
    assert_string_equal(plan->buses[0].device, "/run/trivet-demo/oven-line");
    assert_int_equal(plan->buses[0].baud_bps, 19200);
    assert_int_equal(plan->buses[0].parity, 'E');
    assert_int_equal(plan->buses[0].stop_bits, 1);
    assert_string_equal(plan->buses[1].host, "127.0.0.1");
    assert_int_equal(plan->buses[1].port, 15020);
    assert_int_equal(plan->handheld_count, 2);
    assert_string_equal(plan->records.directory, "config/records");
    plan_free(plan);
}

static void
test_example_probes_are_exact(void **state)
{
    (void)state;
    static const struct {
        const char *id;
        int bus, unit, function, reg;
        enum register_type type;
        int64_t scale_micro, offset_micro;
        int faults, every_ms;
        enum probe_kind kind;
    } probes[] = {
        {"roast-core-a", 0, 11, 4, 0, REGISTER_INT16, 100000, 0, 1, 5000, PROBE_FOOD},
        {"roast-core-b", 0, 12, 4, 0, REGISTER_UINT16, 10000, 0, 0, 5000, PROBE_FOOD},
        {"oven-air", 0, 11, 4, 2, REGISTER_INT16, 100000, 0, 1, 10000, PROBE_AIR},
        {"hot-cupboard-air", 0, 12, 3, 0, REGISTER_FLOAT32, 1000000, 0, 0, 10000, PROBE_AIR},
        {"walk-in-air", 1, 1, 4, 0, REGISTER_INT16, 100000, 0, 0, 10000, PROBE_AIR},
        {"filling-core", 1, 1, 4, 1, REGISTER_INT16, 100000, 0, 0, 10000, PROBE_FOOD},
        {"chiller-air", 1, 1, 4, 2, REGISTER_INT16, 100000, 0, 0, 10000, PROBE_AIR},
        {"counter-fridge-air", 1, 2, 3, 100, REGISTER_UINT16, 10000, -40000000, 0, 10000,
         PROBE_AIR},
        {"freezer-air", 1, 2, 3, 101, REGISTER_UINT16, 10000, -40000000, 0, 10000, PROBE_AIR},
    };
    struct plan *plan = load_example();
    assert_int_equal(plan->probe_count, COUNT_OF(probes));
    for (size_t i = 0; i < COUNT_OF(probes); i++) {
        const struct plan_probe *probe = &plan->probes[i];
        assert_string_equal(probe->id, probes[i].id);
        assert_int_equal(probe->bus, probes[i].bus);
        assert_int_equal(probe->unit, probes[i].unit);
        assert_int_equal(probe->function, probes[i].function);
        assert_int_equal(probe->reg, probes[i].reg);
        assert_int_equal(probe->type, probes[i].type);
        assert_int_equal(probe->order, ORDER_ABCD);
        assert_int_equal(probe->reads, TEMP_C);
        assert_true(probe->scale_micro == probes[i].scale_micro);
        assert_true(probe->offset_micro == probes[i].offset_micro);
        assert_int_equal(probe->fault_count, probes[i].faults);
        if (probe->fault_count > 0)
            assert_int_equal(probe->faults[0], 32767);
        assert_int_equal(probe->every_ms, probes[i].every_ms);
        assert_int_equal(probe->kind, probes[i].kind);
    }
    assert_int_equal(plan->probes[0].plausible_min_mC, -20000);
    assert_int_equal(plan->probes[0].plausible_max_mC, 150000);
    assert_null(plan->probes[0].sensor);
    assert_string_equal(plan->probes[1].sensor, "pt100");
    assert_int_equal(plan->probes[1].signal, SIGNAL_OHM);
    plan_free(plan);
}

/* Figures of FDA Food Code 2022: 3-401.11(A)(2), 3-501.14(A), 3-501.16(A), 3-403.11(A) and (D).
 * The walk-in, counter fridge and hot cupboard are the kitchen's own. */
static void
test_example_limits_are_exact(void **state)
{
    (void)state;
    static const struct {
        const char *product, *step, *text;
        int place;
    } steps[] = {
        {"pork-loin", "cook",
         "at least 63.0 °C for 3 min; oven (high humidity) at most 121.0 °C under 4500 g, at "
         "most "
         "121.0 °C from 4500 g (food)",
         3},
        {"pork-loin", "rest", "no limit", -1},
        {"pork-loin", "serve", "at least 57.0 °C (food)", 2},
        {"lentil-filling", "cook", "at least 74.0 °C for 15 s (food)", -1},
        {"lentil-filling", "cool",
         "from 57.0 °C to 21.0 °C within 2 h, to 5.0 °C within 6 h (food)", 4},
        {"lentil-filling", "store", "at most 5.0 °C (food)", 0},
        {"chicken-stock", "cool",
         "from 135.0 °F to 70.0 °F within 2 h, to 41.0 °F within 6 h (food)", 4},
        {"beef-steak", "sear", "at least 63.0 °C (surface, top and bottom)", -1},
        {"soup-reheat", "reheat", "at least 165.0 °F for 15 s within 2 h (food)", -1},
        {"soup-reheat", "serve", "at least 135.0 °F (food)", 2},
    };
    static const char *const places[] = {"at most 5.0 °C, warmer for at most 20 min (air)",
                                         "at most 5.0 °C, warmer for at most 15 min (air)",
                                         "at least 63.0 °C, colder for at most 10 min (air)",
                                         "no limit",
                                         "no limit",
                                         "at most -18.0 °C, warmer for at most 30 min (air)"};
    struct plan *plan = load_example();
    char buf[200];
    assert_int_equal(plan->product_count, 5);
    for (size_t i = 0; i < COUNT_OF(steps); i++) {
        const struct plan_product *product = plan_product(plan, steps[i].product);
        assert_non_null(product);
        int index = plan_step_index(product, steps[i].step);
        assert_true(index >= 0);
        assert_string_equal(plan_limit_text(buf, sizeof(buf), &product->steps[index].limit),
                            steps[i].text);
        assert_int_equal(product->steps[index].place, steps[i].place);
    }
    assert_int_equal(plan->place_count, COUNT_OF(places));
    for (size_t i = 0; i < COUNT_OF(places); i++) {
        assert_string_equal(plan_limit_text(buf, sizeof(buf), &plan->places[i].limit),
                            places[i]);
        assert_int_equal(plan->places[i].freezer, i == 5);
    }
    /* 3-501.17(A): seven days; 3-401.11(B)(2): 121 °C or less where it is humid. */
    assert_string_equal(plan_limit_text(buf, sizeof(buf), &plan->products[1].mark),
                        "kept for at most 7 days, the day itself being the first (food)");
    const struct plan_limit *oven = plan_oven_limit(&plan->products[0].steps[0].limit, 2400);
    assert_non_null(oven);
    assert_string_equal(plan_limit_text(buf, sizeof(buf), oven),
                        "the oven at most 121.0 °C (air)");
    assert_string_equal(plan->products[1].steps[1].limit.source,
                        "FDA Food Code 2022, 3-501.14(A)");
    assert_string_equal(plan->products[1].steps[1].limit.profile, "food-code-2022/cooling");
    plan_free(plan);
}

/* The digest against sha256sum(1) of coreutils: of the file's text and, behind it, the limits
 * that it names. */
static void
test_example_digest_is_that_of_sha256sum(void **state)
{
    (void)state;
    char digest[65] = "";
    struct plan *plan = load_example();
    char file[] = "/tmp/trivet-plan-XXXXXX", command[80];
    int fd = mkstemp(file);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, plan->text, plan->text_len), plan->text_len);
    assert_int_equal(close(fd), 0);
    (void)snprintf(command, sizeof(command), "sha256sum %s", file);
    FILE *tool = popen(command, "r");
    assert_non_null(tool);
    assert_int_equal(fscanf(tool, "%64s", digest), 1);
    assert_int_equal(pclose(tool), 0);
    assert_int_equal(unlink(file), 0);
    assert_string_equal(plan->digest, digest);
    plan_free(plan);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_example_site_people_and_lines_are_exact),
        cmocka_unit_test(test_example_probes_are_exact),
        cmocka_unit_test(test_example_limits_are_exact),
        cmocka_unit_test(test_example_digest_is_that_of_sha256sum),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
