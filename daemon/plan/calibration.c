/* The keys of a plan file that say how thermometers are checked, and what follows from them:
 * what a thermometer does not say itself it takes from the plan's usual. */
#include "daemon/plan/tables.h"

static const struct field calibration_fields[] = {
    CHECK_TOLERANCE(plan_calibration, usual, "1 °C"), /* FDA Food Code 2022, 4-203.11(A) */
    CHECK_EVERY(plan_calibration, usual),
    LARGEST_CORRECTION(plan_calibration, usual, "2 °C"), /* common practice, no source */
    {.key = "warn_before",
     .type = FIELD_DURATION,
     AT(plan_calibration, warn_ms),
     .min = 0,
     .max = 365 * DAY,
     .fallback = "14 d",
     .write = "14 d",
     .help = "how long before a check or a certificate is due everybody is told"},
    /* Where people cook: the shore of the lowest lake to above the highest town. */
    {.key = "altitude_m",
     .type = FIELD_WHOLE,
     AT(plan_calibration, altitude_m),
     .min = -450,
     .max = 6000,
     .write = "12",
     .help = "height of the kitchen above sea level in metres: its water boils accordingly, "
             "give or take the weather"},
    {.key = "pressure_hpa",
     .type = FIELD_WHOLE,
     AT(plan_calibration, pressure_hPa),
     .min = 450,
     .max = 1100,
     .write = "1008",
     .help =
         "usual air pressure at the kitchen itself in hPa, not reduced to sea level; better "
         "read from a barometer at each check"},
};
const struct table plan_calibration_table = {
    TABLE("calibration", calibration_fields, plan_calibration)};

static const struct field reference_fields[] = {
    {.key = "id",
     .type = FIELD_ID,
     AT(plan_reference, id),
     .required = true,
     .names = NAMES_REFERENCE,
     .write = "lab-stick",
     .help = "how people name it in a check"},
    {.key = "name",
     .type = FIELD_TEXT,
     AT(plan_reference, name),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "Laboratory stick",
     .help = "its name for people"},
    {.key = "certificate",
     .type = FIELD_TEXT,
     AT(plan_reference, certificate),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "no. 2026-0114 of Saltmere Calibration",
     .help = "its certificate: number and who issued it"},
    {.key = "uncertainty",
     .type = FIELD_JUMP,
     AT(plan_reference, uncertainty_mK),
     .required = true,
     .min = 1,
     .max = 5 * DEGREE,
     .write = "0.1 °C",
     .help = "expanded uncertainty (k = 2) on the certificate"},
    {.key = "due",
     .type = FIELD_DATE,
     AT(plan_reference, due),
     .required = true,
     .write = "2027-02-01",
     .help = "last day on which the certificate holds"},
};
const struct table plan_reference_table = {
    TABLE("a reference", reference_fields, plan_reference)};

static void
inherit(struct plan_checking *own, const struct plan_checking *usual)
{
    if (own->tolerance_mK == 0)
        own->tolerance_mK = usual->tolerance_mK;
    if (own->every_ms == 0)
        own->every_ms = usual->every_ms;
    if (own->largest_mK == 0)
        own->largest_mK = usual->largest_mK;
}

void
plan_check_calibration(struct walk *walk, struct plan *plan)
{
    struct plan_calibration *calibration = &plan->calibration;
    const yaml_node_t *node =
        plan_tree_child(walk->tree, plan_tree_root(walk->tree), "calibration");
    const yaml_node_t *pressure = node ? plan_walk_good(walk, node, "pressure_hpa") : NULL;
    calibration->has_altitude = node && plan_walk_good(walk, node, "altitude_m");
    calibration->has_pressure = pressure != NULL;
    if (calibration->has_altitude && pressure)
        plan_walk_fault(walk, pressure,
                        "altitude_m and pressure_hpa both say where water boils; write only "
                        "pressure_hpa if a barometer hangs in the kitchen, else altitude_m");
    for (size_t i = 0; i < plan->probe_count; i++)
        inherit(&plan->probes[i].checking, &calibration->usual);
    for (size_t i = 0; i < plan->handheld_count; i++)
        inherit(&plan->handhelds[i].checking,
                &(struct plan_checking){.tolerance_mK = calibration->usual.tolerance_mK,
                                        .every_ms = calibration->usual.every_ms});
}
