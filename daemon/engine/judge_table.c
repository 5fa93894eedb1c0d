/* Judges cooking by a time and temperature table: any one row, its temperature held unbroken
 * for its own time, nothing added up over rows and nothing interpolated between them (E17,
 * E18). Pure.
 */
#include "daemon/engine/heat.h"

static struct table_state *
table_of(const struct judging *j)
{
    return &j->run->of.table;
}

static size_t
index_of(const struct judging *j, const struct watch *watch)
{
    return (size_t)(watch - j->run->watch);
}

static bool
satisfies(const struct judging *j, size_t row, int32_t temp_mC)
{
    return satisfies_least(temp_mC, j->limit->rows[row].temp, j->limit->strict);
}

static void
break_all(struct judging *j)
{
    for (size_t w = 0; w < ENTRY_PROBES_MAX; w++)
        table_of(j)->last_ms[w] = TIME_NONE; /* its next reading begins every row anew */
    run_broken(j->run);
}

/* Breaks the rows that this temperature of one probe does not reach. */
static void
break_rows(struct judging *j, size_t w, int32_t temp_mC)
{
    for (size_t i = j->limit->row_count; i-- > 0 && !satisfies(j, i, temp_mC);)
        table_of(j)->since_ms[w][i] = TIME_NONE;
    if (!satisfies(j, 0, temp_mC))
        watch_broken(&j->run->watch[w]);
}

static void
credit(struct judging *j, const struct watch *watch, int32_t temp_mC)
{
    struct table_state *table = table_of(j);
    size_t w = index_of(j, watch);
    bool joined = table->last_ms[w] != TIME_NONE &&
                  j->at_ms - table->last_ms[w] <= watch->spacing_ms; /* E5, E8 */
    for (size_t i = 0; i < j->limit->row_count; i++)
        if (!joined || table->since_ms[w][i] == TIME_NONE)
            table->since_ms[w][i] = j->at_ms;
    break_rows(j, w, temp_mC); /* those of them that it does not reach */
    table->last_ms[w] = j->at_ms;
}

/* Time that every probe has shown this row, unbroken and together (E9); -1 for none. */
static int64_t
row_held_ms(const struct judging *j, size_t row, int64_t *ret_since_ms)
{
    const struct table_state *table = table_of(j);
    int64_t since = TIME_NONE, last = TIME_NEVER;
    for (size_t w = 0; w < j->run->watch_count; w++) {
        if (table->since_ms[w][row] == TIME_NONE)
            return -1;
        since = most_of(since, table->since_ms[w][row]);
        last = least_of(last, table->last_ms[w]);
    }
    if (j->run->watch_count == 0 || last < since)
        return -1;
    *ret_since_ms = since;
    return last - since;
}

static void
meet_row(struct judging *j, size_t row, enum decision_reason reason, uint16_t probe,
         int32_t temp_mC, int64_t since_ms, int64_t held_ms)
{
    const struct plan_row *met = &j->limit->rows[row];
    struct decision *said = heat_meet(j, reason, probe, temp_mC, since_ms, held_ms);
    said->required = met->temp;
    said->required_ms = met->hold_ms;
    if (reason == REASON_HAND_READING && said->kind == DECISION_LIMIT_MET)
        judge_rests(j, said); /* with the row it rests on */
}

static void
table_begin(struct judging *j)
{
    break_all(j);
}

static void
table_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    credit(j, watch, temp_mC);
    if (satisfies(j, 0, temp_mC))
        watch_satisfied(watch, j->at_ms); /* what the kitchen sees: time on the coldest row */
    if (heat_settled(j) || !run_fresh(j->run, j->at_ms))
        return;
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    for (size_t i = j->limit->row_count; i-- > 0;) {
        int64_t since = TIME_NONE, held = row_held_ms(j, i, &since);
        if (held < 0 || held < j->limit->rows[i].hold_ms)
            continue;
        meet_row(j, i, j->limit->rows[i].hold_ms > 0 ? REASON_HELD : REASON_REACHED,
                 coldest->probe, coldest->good_mC, since, held);
        return;
    }
}

static void
table_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    break_rows(j, index_of(j, watch), temp_mC); /* E41 */
}

static void
table_hand(struct judging *j, int32_t temp_mC)
{
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    for (size_t w = 0; w < j->run->watch_count; w++)
        break_rows(j, w, temp_mC); /* a colder spot than the probes see */
    if (heat_settled(j))
        return;
    for (size_t i = j->limit->row_count; i-- > 0;)
        if (j->limit->rows[i].hold_ms == 0 && satisfies(j, i, temp_mC) &&
            (!coldest || satisfies(j, i, coldest->good_mC))) { /* E51, E52 */
            meet_row(j, i, REASON_HAND_READING, 0, temp_mC, j->at_ms, 0);
            return;
        }
}

static void
table_due(struct judging *j)
{
    (void)j; /* no deadline: a table says how long, not by when */
}

static int64_t
table_next_due(const struct judging *j)
{
    (void)j;
    return TIME_NEVER;
}

static void
table_leave(struct judging *j, enum leaving how)
{
    int64_t since = TIME_NONE, held = row_held_ms(j, 0, &since);
    /* The hottest row asks for the shortest time. */
    heat_leave(j, how, j->limit->rows[j->limit->row_count - 1].hold_ms, since, held);
}

const struct judge judge_table = {
    .begin = table_begin,
    .good = table_good,
    .suspect = table_suspect,
    .hand = table_hand,
    .due = table_due,
    .next_due = table_next_due,
    .restart = break_all,
    .leave = table_leave,
    .decided = heat_decided,
    .jump = heat_jump,
};
