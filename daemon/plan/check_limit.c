/* Limits that contradict themselves. Pure but for the faults it tells. */
#include "daemon/plan/schema.h"
#include "trivet/lethal.h"

/* 130 °C: warmer than any core, retorts (121 °C) included; a Fahrenheit figure written with °C.
 */
#define CORE_MAX_MILLI 130000

/* Exact order of two limits in any units: five times the Fahrenheit figure of each, 5 F = 9 C +
 * 160. */
static int
compare_limits(struct limit_temp a, struct limit_temp b)
{
    int64_t left = a.unit == TEMP_F ? (int64_t)a.milli * 5 : (int64_t)a.milli * 9 + 160000;
    int64_t right = b.unit == TEMP_F ? (int64_t)b.milli * 5 : (int64_t)b.milli * 9 + 160000;
    return left < right ? -1 : left > right;
}

static void
check_stages(struct walk *walk, const struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *list = plan_tree_child(walk->tree, mapping, "stages");
    struct limit_temp warmer = limit->start;
    bool warmer_known = plan_walk_good(walk, mapping, "from");
    int64_t earlier_ms = 0;
    for (size_t i = 0; i < limit->stage_count; i++) {
        const struct plan_stage *stage = &limit->stages[i];
        const yaml_node_t *node = plan_tree_item(walk->tree, list, i);
        const yaml_node_t *to = plan_walk_good(walk, node, "to");
        const yaml_node_t *within = plan_walk_good(walk, node, "within");
        if (to && warmer_known && compare_limits(stage->to, warmer) >= 0)
            plan_walk_fault(
                walk, to, "to is not colder than %s; write a lower temperature for each stage",
                i == 0 ? "from" : "that of the stage before");
        bool own_clock = stage->counts_from == STAGE_FROM_STAGE_BEFORE;
        if (i == 0 && own_clock)
            plan_walk_fault(walk, node,
                            "there is no stage before the first; delete counts_from here");
        if (within && !own_clock && stage->within_ms <= earlier_ms)
            plan_walk_fault(
                walk, within,
                "within is not longer than that of the stage before; write each stage's time "
                "from the start of cooling, such as 6 h after 2 h");
        if (to) {
            warmer = stage->to;
            warmer_known = true;
        }
        if (within)
            earlier_ms = stage->within_ms;
    }
}

/* Hotter rows that ask for more time could never matter and are a slip of the pen. */
static void
check_rows(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *list = plan_tree_child(walk->tree, mapping, "rows");
    for (size_t i = 1; i < limit->row_count; i++) {
        const yaml_node_t *node = plan_tree_item(walk->tree, list, i);
        const struct plan_row *row = &limit->rows[i], *before = &limit->rows[i - 1];
        const yaml_node_t *temp = plan_walk_good(walk, node, "at_least");
        const yaml_node_t *hold = plan_walk_good(walk, node, "for");
        if (temp && compare_limits(row->temp, before->temp) <= 0)
            plan_walk_fault(walk, temp,
                            "at_least is not hotter than that of the row before; write the "
                            "rows from the coldest to the hottest");
        if (hold && row->hold_ms > before->hold_ms)
            plan_walk_fault(walk, hold,
                            "for is longer than that of the colder row before; correct one of "
                            "them");
    }
    if (limit->row_count == 0 || !limit->rows)
        return;
    limit->temp = limit->rows[0].temp;
    limit->hold_ms = limit->rows[0].hold_ms;
}

static void
check_lethality(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *reference = plan_walk_good(walk, mapping, "reference");
    const yaml_node_t *z = plan_walk_good(walk, mapping, "z");
    if (limit->hold_ms <= 0)
        plan_walk_fault(walk, mapping,
                        "a lethality needs a time to be earned; write for: 2 min");
    if (!reference || !z)
        return;
    if (limit->temp.unit != TEMP_C) {
        plan_walk_fault(walk, reference, "reference: write it in °C, as its study does");
        return;
    }
    struct lethal_rates *rates = plan_arena_take(walk->arena, 1, sizeof(*rates));
    if (rates)
        lethal_rates_build(rates, limit->temp.milli, limit->z_mK);
    limit->rates = rates;
}

/* A time outside that a batch may have once belongs to a batch, and has no other beside it. */
static void
check_period(struct walk *walk, const struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *period = plan_walk_good(walk, mapping, "one_period");
    const yaml_node_t *exact = plan_walk_good(walk, mapping, "time_strict");
    if (exact && limit->kind != LIMIT_TIME && limit->kind != LIMIT_ZONE &&
        !plan_tree_child(walk->tree, mapping, "one_period"))
        plan_walk_fault(walk, exact,
                        "time_strict has no meaning without one_period; write that too, or "
                        "delete it");
    if (!period)
        return;
    if (plan_walk_good(walk, mapping, "applies_to") && limit->subject == SUBJECT_AIR)
        plan_walk_fault(walk, period,
                        "one_period is a time of the food; write applies_to: food, or "
                        "tolerance: instead");
    else if (limit->tolerance_ms > 0)
        plan_walk_fault(walk, period,
                        "one_period and tolerance are both a time outside; write one of them");
}

/* What is there, as the plan does not say it in the value itself. */
static void
check_rise(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *from = plan_walk_good(walk, mapping, "rise_from");
    const yaml_node_t *to = plan_walk_good(walk, mapping, "at_least");
    limit->has_rise = from != NULL;
    if (from && to && compare_limits(limit->rise_from, limit->temp) >= 0)
        plan_walk_fault(walk, from,
                        "rise_from is not colder than at_least; correct one of them");
}

static void
check_zone(struct walk *walk, const struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *cold = plan_walk_good(walk, mapping, "cold_at_most");
    const yaml_node_t *hot = plan_walk_good(walk, mapping, "hot_at_least");
    const yaml_node_t *early = plan_walk_good(walk, mapping, "use_at_once_after");
    if (cold && hot && compare_limits(limit->temp, limit->hot) >= 0)
        plan_walk_fault(walk, hot,
                        "hot_at_least is not hotter than cold_at_most; correct one of them");
    if (early && plan_walk_good(walk, mapping, "within") &&
        limit->use_at_once_ms >= limit->within_ms)
        plan_walk_fault(walk, early,
                        "use_at_once_after is not shorter than within; correct one of them");
}

/* The come-up time of a heating limit becomes a limit of its own, judged beside it. */
static void
check_come_up(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping)
{
    static const char *const keys[] = {"come_up_from", "come_up_to", "come_up_within"};
    const yaml_node_t *there = NULL, *good[3];
    size_t missing = 0;
    for (size_t i = 0; i < 3; i++) {
        const yaml_node_t *node = plan_tree_child(walk->tree, mapping, keys[i]);
        good[i] = plan_walk_good(walk, mapping, keys[i]);
        missing += node == NULL;
        there = node ? node : there;
    }
    if (!there)
        return;
    if (missing > 0)
        plan_walk_fault(walk, there,
                        "a come-up time needs come_up_from, come_up_to and come_up_within; "
                        "write all three");
    else if (good[0] && good[1] && compare_limits(limit->come_up_from, limit->come_up_to) >= 0)
        plan_walk_fault(walk, good[1],
                        "come_up_to is not hotter than come_up_from; correct one of them");
    struct plan_limit *rise = plan_arena_take(walk->arena, 1, sizeof *rise);
    if (!rise)
        return;
    *rise = (struct plan_limit){.kind = LIMIT_RISE,
                                .subject = limit->subject,
                                .temp = limit->come_up_from,
                                .hot = limit->come_up_to,
                                .within_ms = limit->come_up_ms,
                                .guard_percent = 100};
    limit->rise = rise;
}

static bool
check_oven_row(struct walk *walk, struct plan_oven_row *row, const yaml_node_t *mapping)
{
    const yaml_node_t *under = plan_tree_child(walk->tree, mapping, "under_g");
    const yaml_node_t *from = plan_tree_child(walk->tree, mapping, "from_g");
    const yaml_node_t *least = plan_tree_child(walk->tree, mapping, "at_least");
    const yaml_node_t *most = plan_tree_child(walk->tree, mapping, "at_most");
    row->is_upper = most != NULL;
    if (!under == !from)
        plan_walk_fault(walk, mapping,
                        "say which roasts the row is for; write under_g: 4500 or from_g: 4500, "
                        "one of them");
    else if (!least == !most)
        plan_walk_fault(walk, mapping,
                        "say how hot the oven has to be; write at_least: 163 °C or at_most: "
                        "121 °C, one of them");
    else
        return true;
    return false;
}

/* Each row becomes a limit of its own, judged beside the one it goes with. */
static void
make_ovens(struct walk *walk, struct plan_limit *limit)
{
    struct plan_limit *ovens =
        plan_arena_take(walk->arena, limit->oven_row_count, sizeof *ovens);
    if (ovens)
        plan_oven_make(limit, ovens);
    limit->ovens = ovens;
}

static void
check_oven(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *list = plan_tree_child(walk->tree, mapping, "oven_rows");
    const yaml_node_t *oven = plan_tree_child(walk->tree, mapping, "oven");
    const yaml_node_t *mass = plan_tree_child(walk->tree, mapping, "roast_g");
    const yaml_node_t *recovery = plan_tree_child(walk->tree, mapping, "oven_recovery");
    struct plan_oven_row *rows = (struct plan_oven_row *)(uintptr_t)limit->oven_rows;
    bool is_good = plan_walk_good(walk, mapping, "oven_rows") != NULL, is_there = false;
    for (size_t i = 0; rows && i < limit->oven_row_count; i++) {
        is_good =
            check_oven_row(walk, &rows[i], plan_tree_item(walk->tree, list, i)) && is_good;
        is_there = is_there || rows[i].type == limit->oven;
    }
    if (!oven && (mass || recovery))
        plan_walk_fault(walk, mass ? mass : recovery,
                        "%s has no meaning without oven; write oven: convection, or delete it",
                        mass ? "roast_g" : "oven_recovery");
    if (!oven || !plan_walk_good(walk, mapping, "oven"))
        return;
    if (!list)
        plan_walk_fault(walk, oven,
                        "this limit has no oven conditions (oven_rows); delete oven");
    else if (is_good && !is_there)
        plan_walk_fault(walk, oven, "no row of oven_rows is for such an oven; correct oven");
    else if (is_good)
        make_ovens(walk, limit);
}

/* Warmer than the limit for a while, warmer than this never. */
static void
check_ceiling(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *ceiling = plan_walk_good(walk, mapping, "never_above");
    limit->has_ceiling = ceiling != NULL;
    if (ceiling && plan_walk_good(walk, mapping, "at_most") &&
        compare_limits(limit->ceiling, limit->temp) <= 0)
        plan_walk_fault(walk, ceiling,
                        "never_above is not warmer than at_most; correct one of them");
}

static void
check_time(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *most = plan_tree_child(walk->tree, mapping, "left_at_most");
    const yaml_node_t *least = plan_tree_child(walk->tree, mapping, "left_at_least");
    const yaml_node_t *ceiling = plan_walk_good(walk, mapping, "never_above");
    limit->left_hot = least != NULL;
    limit->has_ceiling = ceiling != NULL;
    if (!most == !least)
        plan_walk_fault(walk, most ? least : mapping,
                        "say how cold or how hot food is as it leaves temperature control; "
                        "write left_at_most: 5 °C or left_at_least: 57 °C, one of them");
    else if (ceiling && least)
        plan_walk_fault(walk, ceiling,
                        "food that leaves hot is above never_above from the beginning; delete "
                        "one of them");
    else if (ceiling && plan_walk_good(walk, mapping, "left_at_most") &&
             compare_limits(limit->ceiling, limit->temp) < 0)
        plan_walk_fault(walk, ceiling,
                        "never_above is colder than left_at_most; correct one of them");
}

/* A surface is measured now and then by hand, and on both sides. */
static void
check_surface(struct walk *walk, const struct plan_limit *limit, const yaml_node_t *mapping)
{
    const yaml_node_t *subject = plan_walk_good(walk, mapping, "applies_to");
    if (!subject || limit->subject != SUBJECT_SURFACE)
        return;
    if (limit->kind != LIMIT_COOK || limit->hold_ms > 0 || limit->stand_ms > 0 ||
        limit->oven_row_count > 0 || limit->come_up_ms > 0)
        plan_walk_fault(walk, subject,
                        "applies_to: surface is for kind: cook without for, stand, come_up or "
                        "oven_rows: hand readings of top and bottom show nothing else; write "
                        "food");
}

void
plan_check_limit(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping)
{
    static const struct limit_temp core_max = {.milli = CORE_MAX_MILLI, .unit = TEMP_C};
    const yaml_node_t *temp = plan_walk_good(walk, mapping, "at_least");
    const yaml_node_t *hold = plan_walk_good(walk, mapping, "for");
    if (temp && plan_walk_good(walk, mapping, "applies_to") && limit->subject != SUBJECT_AIR &&
        compare_limits(limit->temp, core_max) > 0)
        plan_walk_fault(walk, temp,
                        "at_least: no food is that hot at its core; write °F if it is "
                        "Fahrenheit, or applies_to: air");
    if (hold && plan_walk_good(walk, mapping, "within") && limit->hold_ms > limit->within_ms)
        plan_walk_fault(walk, hold,
                        "for is longer than within, so the limit could never be met; write a "
                        "longer within");
    check_surface(walk, limit, mapping);
    const yaml_node_t *start_within = plan_walk_good(walk, mapping, "start_within");
    if (start_within && limit->clock != COOL_CLOCK_STEP)
        plan_walk_fault(walk, start_within,
                        "start_within needs a clock that starts with the step; write clock: "
                        "step beside it");
    check_period(walk, limit, mapping);
    if (limit->kind == LIMIT_COOL)
        check_stages(walk, limit, mapping);
    if (limit->kind == LIMIT_COOK_TABLE || limit->kind == LIMIT_SUM)
        check_rows(walk, limit, mapping);
    if (limit->kind == LIMIT_LETHALITY)
        check_lethality(walk, limit, mapping);
    if (limit->kind == LIMIT_REHEAT)
        check_rise(walk, limit, mapping);
    if (limit->kind == LIMIT_TIME)
        check_time(walk, limit, mapping);
    if (limit->kind == LIMIT_HOLD_COLD)
        check_ceiling(walk, limit, mapping);
    if (limit->kind == LIMIT_ZONE)
        check_zone(walk, limit, mapping);
    check_come_up(walk, limit, mapping);
    check_oven(walk, limit, mapping);
}
