/* Readings a second that the engine judges, with 1, 16 and 64 probes each under a limit of its
 * own and with one probe under as many; among them excursions that the limit's tolerance
 * allows. No storage, no thread. And what an open batch takes of memory: the engine takes all
 * of its own when it begins and none later, which test_purity sees from its object code.
 *
 *   bench_engine [readings] [repeats] */
#include "daemon/engine/state.h"
#include "tests/bench/bench.h"
#include "trivet/engine.h"

static double
judge(int probes, int limits, int64_t readings)
{
    static struct engine_output out;
    const struct bench_kitchen kitchen = {.probes = probes,
                                          .buses = 1,
                                          .limited = probes,
                                          .places_each = limits,
                                          .first_port = 15020,
                                          .every_ms = 1000};
    struct plan *plan = bench_plan(&kitchen);
    struct engine *engine = engine_new();
    if (engine == NULL)
        bench_give_up("out of memory");
    for (int i = 0; i < probes; i++)
        plan->probes[i].number = (uint16_t)(i + 1);
    struct engine_input input = {
        .kind = ENGINE_PLAN, .at_ms = BENCH_BEGIN_MS, .seq = 1, .is.plan = plan};
    engine_step(engine, &input, &out);
    const double began_s = bench_now_s();
    for (int64_t n = 0; n < readings; n++) {
        const int64_t second = n / probes + 1;
        /* Ten minutes in range, two above: the tolerance is 20 min. */
        const int32_t temp_mC = (second % 720 < 600 ? 3000 : 6000) + (int32_t)(second % 37);
        input = (struct engine_input){
            .kind = ENGINE_READING,
            .at_ms = BENCH_BEGIN_MS + second * 1000,
            .is.reading = {.at_ms = BENCH_BEGIN_MS + second * 1000,
                           .temp_mC = temp_mC,
                           .probe = (uint16_t)(n % probes + 1)},
        };
        while (engine_due(engine) < input.at_ms)
            engine_step(
                engine,
                &(struct engine_input){.kind = ENGINE_TICK, .at_ms = engine_due(engine)}, &out);
        engine_step(engine, &input, &out);
    }
    const double per_s = (double)readings / (bench_now_s() - began_s);
    engine_free(engine);
    plan_free(plan);
    return per_s / 1e6;
}

int
main(int argc, char **argv)
{
    static const int sizes[] = {1, 16, 64};
    const int64_t readings = bench_argument(argc, argv, 1, 1000000);
    const int repeats = (int)bench_argument(argc, argv, 2, 5);
    if (repeats > BENCH_REPEATS_MAX)
        bench_give_up("at most %d repeats", BENCH_REPEATS_MAX);
    double one_s = 0.0; /* of a reading under one limit */
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        double per_s[BENCH_REPEATS_MAX];
        char what[80];
        for (int k = 0; k < repeats; k++)
            per_s[k] = judge(sizes[i], 1, readings);
        (void)snprintf(what, sizeof what, "engine alone, %d probe%s under a limit", sizes[i],
                       sizes[i] == 1 ? "" : "s");
        bench_row(what, per_s, repeats, "million readings/s",
                  sizes[i] == 1 ? BENCH_LEAST : BENCH_NO_AIM, sizes[i] == 1 ? 2 : 0);
        if (sizes[i] == 1)
            one_s = 1 / per_s[repeats / 2];
    }
    for (size_t i = 1; i < sizeof sizes / sizeof *sizes; i++) {
        double cost[BENCH_REPEATS_MAX];
        char what[80];
        for (int k = 0; k < repeats; k++)
            cost[k] = 1 / judge(1, sizes[i], readings / sizes[i]) / one_s / sizes[i];
        (void)snprintf(what, sizeof what, "a reading under %d limits, against %d under one",
                       sizes[i], sizes[i]);
        bench_row(what, cost, repeats, "x", BENCH_MOST, 1);
    }
    double bytes = (double)(sizeof(struct batch_state) + sizeof(int64_t));
    bench_row("the engine's memory for an open batch", &bytes, 1, "bytes", BENCH_NO_AIM, 0);
    return 0;
}
