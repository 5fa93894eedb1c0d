/* How uncertain what a thermometer shows is, and the guard band that follows for limits that
 * ask for one: acceptance limits after JCGM 106:2012, 8.3. Integers; pure but for the faults it
 * tells.
 *
 * JCGM 106:2012 is "Evaluation of measurement data - The role of measurement uncertainty in
 * conformity assessment". A tolerance class bounds an error: a rectangular distribution of half
 * width a has the standard uncertainty a / sqrt(3) (JCGM 100:2008, 4.3.7). */
#include "daemon/plan/tables.h"
#include "trivet/lethal.h"

/* Tolerance of a class at a temperature, the larger of a constant and a slope, or their sum. */
static const struct sensor_class {
    int32_t constant_mK;
    int32_t slope_ppm; /* of |t| in degC */
    bool sum;
} classes[] = {
    [SENSOR_UNSAID] = {0, 0, false},
    /* IEC 60751:2022 */
    [SENSOR_RTD_AA] = {100, 1700, true},
    [SENSOR_RTD_A] = {150, 2000, true},
    [SENSOR_RTD_B] = {300, 5000, true},
    [SENSOR_RTD_C] = {600, 10000, true},
    /* IEC 60584-1:2013, types K and N, and T, above -40 degC; from memory */
    [SENSOR_TC_KN_1] = {1500, 4000, false},
    [SENSOR_TC_KN_2] = {2500, 7500, false},
    [SENSOR_TC_T_1] = {500, 4000, false},
    [SENSOR_TC_T_2] = {1000, 7500, false},
};

static const struct choice sensors[] = {
    {"rtd-aa", SENSOR_RTD_AA}, {"rtd-a", SENSOR_RTD_A},     {"rtd-b", SENSOR_RTD_B},
    {"rtd-c", SENSOR_RTD_C},   {"tc-kn-1", SENSOR_TC_KN_1}, {"tc-kn-2", SENSOR_TC_KN_2},
    {"tc-t-1", SENSOR_TC_T_1}, {"tc-t-2", SENSOR_TC_T_2},   {NULL, 0},
};

static const struct field uncertainty_fields[] = {
    {.key = "total",
     .type = FIELD_JUMP,
     AT(plan_uncertainty, total_mK),
     .min = 1,
     .max = 10 * DEGREE,
     .write = "0.5 °C",
     .help = "expanded uncertainty (k = 2) of what it shows, all included; or what follows"},
    {.key = "sensor",
     .type = FIELD_WORD,
     AT(plan_uncertainty, sensor),
     .choices = sensors,
     .write = "rtd-a",
     .help =
         "its tolerance class: IEC 60751 for rtd, IEC 60584-1 for tc (types K and N, or T)"},
    {.key = "calibrated",
     .type = FIELD_JUMP,
     AT(plan_uncertainty, calibrated_mK),
     .min = 1,
     .max = 10 * DEGREE,
     .write = "0.2 °C",
     .help =
         "expanded uncertainty (k = 2) after its calibration; stands for the sensor's class"},
    {.key = "position",
     .type = FIELD_JUMP,
     AT(plan_uncertainty, position_mK),
     .min = 0,
     .max = 10 * DEGREE,
     .write = "0.3 °C",
     .help = "most by which its place may be off the spot that matters, either way"},
};
const struct table plan_uncertainty_table = {
    TABLE("an uncertainty", uncertainty_fields, plan_uncertainty)};

/* ---- how uncertain ---- */

static int64_t
root_up(int64_t square)
{
    int64_t low = 0, high = 1 << 20; /* a thousand degrees: no key lets more through */
    while (low < high) {
        int64_t middle = (low + high) / 2;
        if (middle * middle < square)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static int64_t
class_mK(enum plan_sensor sensor, int32_t temp_mC)
{
    const struct sensor_class *of = &classes[sensor];
    int64_t size_mC = temp_mC < 0 ? -(int64_t)temp_mC : temp_mC;
    int64_t slope = (size_mC * of->slope_ppm + 999999) / 1000000;
    if (of->sum)
        return of->constant_mK + slope;
    return slope > of->constant_mK ? slope : of->constant_mK;
}

int32_t
plan_uncertainty_mK(const struct plan_uncertainty *of, int32_t temp_mC)
{
    if (of->total_mK > 0)
        return of->total_mK;
    if (of->calibrated_mK == 0 && of->sensor == SENSOR_UNSAID)
        return 0;
    /* U = 2 u, and for a half width a: U^2 = 4 a^2 / 3. Rounded up. */
    int64_t a = class_mK(of->sensor, temp_mC), p = of->position_mK, c = of->calibrated_mK;
    int64_t square = (4 * p * p + 2) / 3 + (c > 0 ? c * c : (4 * a * a + 2) / 3);
    return (int32_t)root_up(square);
}

/* ---- guard bands ---- */

static int32_t
celsius_mC(struct limit_temp temp)
{
    return temp.unit == TEMP_C ? temp.milli : (int32_t)(((int64_t)temp.milli - 32000) * 5 / 9);
}

/* The largest of those that can serve a limit; 0 when one of them does not say. */
static int32_t
largest_mK(const struct plan *plan, const struct plan_limit *limit, int probe, int32_t temp_mC)
{
    int32_t largest = 0;
    for (size_t i = 0; i < plan->probe_count; i++) {
        bool serves = limit->subject != SUBJECT_SURFACE &&
                      (probe >= 0 ? (size_t)probe == i
                                  : (plan->probes[i].kind == PROBE_FOOD) ==
                                        (limit->subject == SUBJECT_FOOD));
        int32_t of = plan_uncertainty_mK(&plan->probes[i].uncertainty, temp_mC);
        if (serves && of == 0)
            return 0;
        if (serves && of > largest)
            largest = of;
    }
    for (size_t i = 0; i < plan->handheld_count; i++) {
        int32_t of = plan_uncertainty_mK(&plan->handhelds[i].uncertainty, temp_mC);
        if (of == 0)
            return 0;
        if (of > largest)
            largest = of;
    }
    return largest;
}

/* A band is widened to the next thousandth of the limit's unit, never narrowed. */
static void
shift(struct limit_temp *temp, int32_t band_mK, int sign)
{
    int64_t band = temp->unit == TEMP_C ? band_mK : ((int64_t)band_mK * 9 + 4) / 5;
    temp->milli += (int32_t)(sign * band);
}

static void
shift_rows(struct walk *walk, struct plan_limit *limit)
{
    struct plan_row *rows = plan_arena_take(walk->arena, limit->row_count, sizeof *rows);
    for (size_t i = 0; rows && i < limit->row_count; i++) {
        rows[i] = limit->rows[i];
        shift(&rows[i].temp, limit->guard_mK, 1);
    }
    if (rows)
        limit->rows = rows;
}

static void
shift_rates(struct walk *walk, struct plan_limit *limit)
{
    struct lethal_rates *rates = plan_arena_take(walk->arena, 1, sizeof *rates);
    if (rates)
        lethal_rates_build(rates, limit->temp.milli, limit->z_mK);
    if (rates)
        limit->rates = rates;
}

/* Where inside is from a limit: 1 above it, -1 below. */
static int
inward(const struct plan_limit *limit)
{
    switch (limit->kind) {
    case LIMIT_COOK:
    case LIMIT_REHEAT:
    case LIMIT_HOLD_HOT:
    case LIMIT_COOK_TABLE:
    case LIMIT_LETHALITY:
    case LIMIT_SUM:
    case LIMIT_OVEN:
        return 1;
    case LIMIT_HOLD_COLD:
    case LIMIT_COOL:
    case LIMIT_MOIST_OVEN:
        return -1;
    case LIMIT_TIME:
        return limit->left_hot ? 1 : -1;
    case LIMIT_ZONE: /* its other end goes the other way */
    case LIMIT_RISE:
        return -1;
    case LIMIT_DAYS:
    case LIMIT_NONE:
        break;
    }
    return 0;
}

/* E170: an acceptance limit lies inside the limit by w = rU. The start of a cooling, and what
 * reheated food rises from, are no limits and stay. */
static void
guard(struct walk *walk, struct plan_limit *limit)
{
    int side = inward(limit);
    for (size_t i = 0; i < limit->stage_count; i++)
        shift(&limit->stages[i].to, limit->guard_mK, side);
    if (limit->kind != LIMIT_COOL)
        shift(&limit->temp, limit->guard_mK, side);
    if (limit->has_ceiling)
        shift(&limit->ceiling, limit->guard_mK, -1);
    if (limit->kind == LIMIT_ZONE || limit->kind == LIMIT_RISE)
        shift(&limit->hot, limit->guard_mK, 1);
    if (limit->kind == LIMIT_COOK_TABLE || limit->kind == LIMIT_SUM)
        shift_rows(walk, limit);
    if (limit->kind == LIMIT_LETHALITY)
        shift_rates(walk, limit);
}

static void
finish_one(struct walk *walk, const struct plan *plan, struct plan_limit *limit, int probe)
{
    struct limit_temp hottest = limit->temp;
    if (limit->kind == LIMIT_NONE)
        return;
    if (limit->kind == LIMIT_COOL && limit->stage_count > 0)
        hottest = limit->stages[0].to;
    if ((limit->kind == LIMIT_COOK_TABLE || limit->kind == LIMIT_SUM) && limit->row_count > 0)
        hottest = limit->rows[limit->row_count - 1].temp;
    if (limit->has_ceiling)
        hottest = limit->ceiling;
    if (limit->kind == LIMIT_ZONE || limit->kind == LIMIT_RISE)
        hottest = limit->hot;
    limit->uncertainty_mK = largest_mK(plan, limit, probe, celsius_mC(hottest));
    if (limit->acceptance != ACCEPTANCE_GUARDED)
        return;
    limit->guard_mK =
        (int32_t)(((int64_t)limit->uncertainty_mK * limit->guard_percent + 99) / 100);
    guard(walk, limit);
}

/* A limit judged beside another one is accepted as that is. */
static void
finish_beside(struct walk *walk, const struct plan *plan, const struct plan_limit *limit,
              struct plan_limit *beside, int probe)
{
    beside->acceptance = limit->acceptance;
    beside->guard_percent = limit->guard_percent;
    finish_one(walk, plan, beside, probe);
}

/* And what is judged beside it. */
static void
finish_limit(struct walk *walk, const struct plan *plan, struct plan_limit *limit, int probe,
             int oven_probe)
{
    finish_one(walk, plan, limit, probe);
    for (size_t i = 0; limit->ovens && i < limit->oven_row_count; i++)
        finish_beside(walk, plan, limit, &limit->ovens[i], oven_probe);
    if (!limit->rise)
        return;
    finish_beside(walk, plan, limit, limit->rise, probe);
}

static bool
any_guarded(const struct plan *plan)
{
    for (size_t i = 0; i < plan->place_count; i++)
        if (plan->places[i].limit.acceptance == ACCEPTANCE_GUARDED)
            return true;
    for (size_t i = 0; i < plan->product_count; i++)
        if (plan->products[i].life.acceptance == ACCEPTANCE_GUARDED)
            return true;
    for (size_t i = 0; i < plan->product_count; i++)
        for (size_t k = 0; k < plan->products[i].step_count; k++)
            if (plan->products[i].steps[k].limit.acceptance == ACCEPTANCE_GUARDED)
                return true;
    return false;
}

/* One fault each. */
static void
check_said(struct walk *walk, const yaml_node_t *node, const struct plan_uncertainty *of,
           bool needed)
{
    bool parts = of->sensor != SENSOR_UNSAID || of->calibrated_mK > 0;
    if (!node)
        return;
    if (of->total_mK > 0 && (parts || of->position_mK > 0))
        plan_walk_fault(walk, node,
                        "uncertainty: total has all in it; write only total, or sensor or "
                        "calibrated with position");
    else if (of->total_mK == 0 && !parts && of->position_mK > 0)
        plan_walk_fault(walk, node,
                        "uncertainty: position alone is not enough; write sensor: or "
                        "calibrated: beside it");
    else if (needed && of->total_mK == 0 && !parts)
        plan_walk_fault(walk, node,
                        "a limit of this plan has acceptance: guarded, and how uncertain this "
                        "thermometer is, is not said; write uncertainty: {total: 0.5 °C}");
}

/* -1: nothing watches it, or it is not said. */
static int
probe_of_place(const struct plan *plan, int place)
{
    return place >= 0 ? plan->places[place].probe : -1;
}

void
plan_check_uncertainty(struct walk *walk, struct plan *plan)
{
    const yaml_node_t *root = plan_tree_root(walk->tree);
    const yaml_node_t *probes = plan_tree_child(walk->tree, root, "probes");
    const yaml_node_t *held = plan_tree_child(walk->tree, root, "thermometers");
    bool needed = any_guarded(plan);
    for (size_t i = 0; i < plan->probe_count; i++)
        check_said(walk, plan_tree_item(walk->tree, probes, i), &plan->probes[i].uncertainty,
                   needed);
    for (size_t i = 0; i < plan->handheld_count; i++)
        check_said(walk, plan_tree_item(walk->tree, held, i), &plan->handhelds[i].uncertainty,
                   needed);
    for (size_t i = 0; i < plan->place_count; i++)
        finish_limit(walk, plan, &plan->places[i].limit, plan->places[i].probe, -1);
    for (size_t i = 0; i < plan->product_count; i++)
        for (size_t k = 0; k < plan->products[i].step_count; k++)
            finish_limit(walk, plan, &plan->products[i].steps[k].limit, -1,
                         probe_of_place(plan, plan->products[i].steps[k].place));
    for (size_t i = 0; i < plan->product_count; i++)
        finish_limit(walk, plan, &plan->products[i].life, -1, -1);
}
