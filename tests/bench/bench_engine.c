/* Readings a second that the engine judges, with 1, 16 and 64 probes each under a limit of its
 * own; among them excursions that the limit's tolerance allows. No storage, no thread.
 *
 *   bench_engine [readings] [repeats] */
#include "tests/bench/bench.h"
#include "trivet/engine.h"

static double
judge(int probes, int64_t readings)
{
    static struct engine_output out;
    const struct bench_kitchen kitchen = {
        .probes = probes, .buses = 1, .limited = probes, .first_port = 15020, .every_ms = 1000};
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
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        double per_s[BENCH_REPEATS_MAX];
        char what[80];
        for (int k = 0; k < repeats; k++)
            per_s[k] = judge(sizes[i], readings);
        (void)snprintf(what, sizeof what, "engine alone, %d probe%s under a limit", sizes[i],
                       sizes[i] == 1 ? "" : "s");
        bench_row(what, per_s, repeats, "million readings/s", BENCH_NO_AIM, 0);
    }
    return 0;
}
