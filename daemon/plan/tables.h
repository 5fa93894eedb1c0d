/* What the tables of a plan's keys are written with: tables.c and tables_*.c. */
#ifndef PLAN_TABLES_H
#define PLAN_TABLES_H

#include "daemon/plan/schema.h"

#define AT(type, member)                                                                       \
    .offset = offsetof(struct type, member), .size = sizeof(((struct type *)0)->member)
/* A list of mappings has the size of its table. */
#define AT_LIST(type, member) .offset = offsetof(struct type, member)
#define AT_PART(type, list)                                                                    \
    .offset = offsetof(struct type, list), .size = sizeof(((struct type *)0)->list[0])
#define COUNT(type, member)                                                                    \
    .count_offset = offsetof(struct type, member),                                             \
    .count_size = sizeof(((struct type *)0)->member)
#define TABLE(name, keys, of)                                                                  \
    .what = (name), .fields = (keys), .field_count = sizeof(keys) / sizeof((keys)[0]),         \
    .size = sizeof(struct of)
#define IN(value) (1u << (value))

#define SECOND       INT64_C(1000)
#define MINUTE       (60 * SECOND)
#define HOUR         (60 * MINUTE)
#define DAY          (24 * HOUR)
#define DEGREE       INT64_C(1000)    /* in mC */
#define COUNT_DEGREE INT64_C(1000000) /* in millionths */

/* The tables that make up the plan's lists. */
extern const struct table plan_probe_table;
extern const struct table plan_thermometer_table;
extern const struct table plan_place_table;
extern const struct table plan_switch_table;
extern const struct table plan_signal_table;
extern const struct table plan_product_table;
extern const struct table plan_published_table;
/* How often and how strictly a thermometer is checked, in the plan's usual or of its own. The
 * usual has fallbacks; NULL = that of the usual (calibration.c fills it in). */
#define CHECK_TOLERANCE(owner, member, usual)                                                  \
    {                                                                                          \
        .key = "check_tolerance", .type = FIELD_JUMP, AT(owner, member.tolerance_mK),          \
        .min = DEGREE / 10, .max = 10 * DEGREE, .fallback = (usual), .write = "1 °C",          \
        .help = "largest error of a thermometer that passes its check"                         \
    }
#define CHECK_EVERY(owner, member)                                                             \
    {                                                                                          \
        .key = "check_every", .type = FIELD_DURATION, AT(owner, member.every_ms), .min = HOUR, \
        .max = 3650 * DAY, .write = "90 d",                                                    \
        .help = "a check is due this long after the last good one; default never due"          \
    }
#define UNCERTAINTY(owner)                                                                     \
    {                                                                                          \
        .key = "uncertainty", .type = FIELD_TABLE, AT(owner, uncertainty),                     \
        .table = &plan_uncertainty_table, .write = "{total: 0.5 °C}",                          \
        .help = "how uncertain what it shows is"                                               \
    }
#define LARGEST_CORRECTION(owner, member, usual)                                               \
    {                                                                                          \
        .key = "largest_correction", .type = FIELD_JUMP, AT(owner, member.largest_mK),         \
        .min = DEGREE / 10, .max = 10 * DEGREE, .fallback = (usual), .write = "2 °C",          \
        .help = "a probe that would need a larger correction is repaired or replaced instead"  \
    }

/* Where a switch or a signal is. */
#define MODBUS_BUS(owner)                                                                      \
    {                                                                                          \
        .key = "bus", .type = FIELD_REFERENCE, AT(owner, bus), .required = true,               \
        .names = NAMES_BUS, .write = "cold-rack", .help = "id of the Modbus bus it is on"      \
    }
#define MODBUS_UNIT(owner, example)                                                            \
    {                                                                                          \
        .key = "unit", .type = FIELD_WHOLE, AT(owner, unit), .required = true, .min = 0,       \
        .max = 255, .write = (example),                                                        \
        .help = "Modbus unit id of the device: 1 to 247; on TCP also 0 or 255"                 \
    }

/* And what a profile shares with them. */
extern const struct table plan_limit_table;

#endif
