/* Judges cooking by a table whose rows are added up: time at each row divided by the row's own
 * time, 1 in all (E167, E168). For a plan that was validated for it; a published table is
 * judged strictly (judge_table.c). Integers only. Pure. */
#include "daemon/engine/heat.h"

/* 1, in the units of a share: 62 bits, so that the loss of rounding each row down is less than
 * the least by which a strict run exceeds 1. */
#define WHOLE_BITS 62
#define WHOLE      (UINT64_C(1) << WHOLE_BITS)
#define COMMON_MAX (UINT64_C(1) << 56) /* times the rows of a table, it still fits */

static struct sum_state *
sum_of(const struct judging *j)
{
    return &j->run->of.sum;
}

static void
break_chains(struct judging *j)
{
    for (size_t w = 0; w < ENTRY_PROBES_MAX; w++)
        sum_of(j)->last_ms[w] = TIME_NONE;
}

/* part / whole of WHOLE, rounded down; part is less than whole. Long division by bits. */
static uint64_t
share(uint64_t part, uint64_t whole)
{
    uint64_t quotient = 0;
    for (int i = 0; i < WHOLE_BITS; i++) {
        part <<= 1;
        quotient <<= 1;
        if (part >= whole) {
            part -= whole;
            quotient |= 1;
        }
    }
    return quotient;
}

/* The time with a row as the hottest reached, or with one that asks for the same time: ret_next
 * is the first row after them. */
static int64_t
spent_on(const struct plan_limit *limit, const int64_t *spent_ms, size_t row, size_t *ret_next)
{
    int64_t ms = 0;
    size_t i = row;
    for (; i < limit->row_count && limit->rows[i].hold_ms == limit->rows[row].hold_ms; i++)
        ms += spent_ms[i];
    *ret_next = i;
    return ms;
}

static uint64_t
common_factor(uint64_t a, uint64_t b)
{
    while (b != 0) {
        uint64_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

/* A common multiple of the times of the rows that count, 0 when it is too large to add up in.
 */
static uint64_t
common_ms(const struct plan_limit *limit, const int64_t *spent_ms)
{
    uint64_t common = 1;
    for (size_t row = 0; row < limit->row_count && limit->rows[row].hold_ms > 0;) {
        uint64_t hold_ms = (uint64_t)limit->rows[row].hold_ms;
        if (spent_on(limit, spent_ms, row, &row) == 0)
            continue;
        uint64_t factor = hold_ms / common_factor(common, hold_ms);
        if (common > COMMON_MAX / factor)
            return 0;
        common *= factor;
    }
    return common;
}

/* Exactly 1 is enough: added up over a common multiple of the rows' times where there is one,
 * else in shares that are rounded down. */
static bool
probe_has_it(const struct plan_limit *limit, const struct sum_state *sum, size_t w)
{
    if (sum->done[w])
        return true;
    uint64_t common = common_ms(limit, sum->spent_ms[w]), total = 0;
    for (size_t row = 0; row < limit->row_count && limit->rows[row].hold_ms > 0;) {
        uint64_t hold_ms = (uint64_t)limit->rows[row].hold_ms;
        uint64_t spent_ms = (uint64_t)spent_on(limit, sum->spent_ms[w], row, &row);
        if (spent_ms >= hold_ms)
            return true;
        total += common > 0 ? spent_ms * (common / hold_ms) : share(spent_ms, hold_ms);
        if (total >= (common > 0 ? common : WHOLE))
            return true;
    }
    return false;
}

static bool
all_have_it(const struct judging *j)
{
    for (size_t w = 0; w < j->run->watch_count; w++)
        if (!probe_has_it(j->limit, sum_of(j), w))
            return false;
    return true;
}

int64_t
sum_earned_ms(const struct plan_limit *limit, const struct run *run)
{
    const struct sum_state *sum = &run->of.sum;
    int64_t whole_ms = limit->rows[0].hold_ms, least_ms = run->watch_count > 0 ? whole_ms : 0;
    for (size_t w = 0; w < run->watch_count; w++) {
        int64_t earned_ms = 0;
        for (size_t i = 0; i < limit->row_count && limit->rows[i].hold_ms > 0; i++)
            earned_ms += sum->spent_ms[w][i] >= limit->rows[i].hold_ms
                             ? whole_ms
                             : sum->spent_ms[w][i] * whole_ms / limit->rows[i].hold_ms;
        if (!sum->done[w])
            least_ms = least_of(least_ms, earned_ms);
    }
    return least_ms;
}

/* The hottest row that it reaches, + 1; 0 = none. */
static uint8_t
row_of(const struct judging *j, int32_t temp_mC)
{
    uint8_t row = 0;
    while (row < j->limit->row_count &&
           satisfies_least(temp_mC, j->limit->rows[row].temp, j->limit->strict))
        row++;
    return row;
}

static void
sum_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    struct sum_state *sum = sum_of(j);
    size_t w = (size_t)(watch - j->run->watch);
    uint8_t row = row_of(j, temp_mC), colder = (uint8_t)least_of(row, sum->last_row[w]);
    if (sum->last_ms[w] != TIME_NONE && j->at_ms - sum->last_ms[w] <= watch->spacing_ms &&
        colder > 0) /* E167: as at the colder of the two */
        sum->spent_ms[w][colder - 1] += j->at_ms - sum->last_ms[w];
    sum->done[w] = sum->done[w] || (row > 0 && j->limit->rows[row - 1].hold_ms == 0);
    sum->last_ms[w] = j->at_ms;
    sum->last_row[w] = row;
    if (heat_settled(j) || !run_fresh(j->run, j->at_ms) || !all_have_it(j))
        return;
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    heat_meet(j, REASON_HELD, coldest->probe, coldest->good_mC, j->run->begun_ms,
              sum_earned_ms(j->limit, j->run));
}

static void
sum_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    (void)temp_mC;
    sum_of(j)->last_ms[watch - j->run->watch] = TIME_NONE; /* E41: it earns nothing */
}

static void
sum_hand(struct judging *j, int32_t temp_mC)
{
    (void)j, (void)temp_mC; /* E51: a spot reading has no duration */
}

static void
sum_due(struct judging *j)
{
    (void)j; /* no deadline */
}

static int64_t
sum_next_due(const struct judging *j)
{
    (void)j;
    return TIME_NEVER;
}

static void
sum_leave(struct judging *j, enum leaving how)
{
    heat_leave(j, how, 0, j->run->begun_ms, sum_earned_ms(j->limit, j->run));
}

const struct judge judge_sum = {
    .begin = break_chains,
    .good = sum_good,
    .suspect = sum_suspect,
    .hand = sum_hand,
    .due = sum_due,
    .next_due = sum_next_due,
    .restart = break_chains,
    .leave = sum_leave,
    .decided = heat_decided,
    .jump = heat_jump,
};
