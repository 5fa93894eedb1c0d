/* The form of a plan file as data: which keys a mapping has, what each holds and where it goes.
 * tables.c fills the tables, walk.c reads a file against them, value.c reads one scalar. */
#ifndef PLAN_SCHEMA_H
#define PLAN_SCHEMA_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <yaml.h>

#include "daemon/plan/arena.h"
#include "daemon/plan/tree.h"
#include "trivet/plan.h"

enum field_type {
    FIELD_TEXT,       /* const char *; one clean line of 1 to max bytes */
    FIELD_ID,         /* char[PLAN_ID_MAX + 1]; unique among its `names` */
    FIELD_DOTTED,     /* the same with points in it, such as an edition's number */
    FIELD_INITIALS,   /* char[PLAN_INITIALS_MAX + 1]; unique among its `names` */
    FIELD_REFERENCE,  /* integer: index of the entry with that id among `names` */
    FIELD_YES_NO,     /* bool */
    FIELD_WORD,       /* integer: value of one of choices */
    FIELD_WHOLE,      /* integer min..max */
    FIELD_TEMP,       /* struct limit_temp; min..max in mC */
    FIELD_TEMP_RANGE, /* two neighbouring int32_t in mC: [lowest, highest]; min..max in mC */
    FIELD_JUMP,       /* int32_t in mC: a difference of temperatures; min..max in mC */
    FIELD_RATE,       /* int32_t in mC per minute; min..max likewise */
    FIELD_SCALE,      /* int64_t in millionths of its unit; min..max likewise; `signal_offset`
                         takes the unit, and `unit_offset` which degrees they are */
    FIELD_SENSOR,     /* const char *: a sensor that sensor.h knows */
    FIELD_TEMP_OR_ID, /* an integer as FIELD_REFERENCE has it, or -1; or int32_t in mC, min..max
                         likewise, at `temp_offset`, or TEMP_NONE */
    FIELD_DURATION,   /* integer in ms; min..max likewise */
    FIELD_ABSOLUTE,   /* const char *: a path from '/' */
    FIELD_PATH,       /* const char *: a path, relative to the plan's directory, stored whole */
    FIELD_ZONE,       /* const char *: the name of a time zone that exists here */
    FIELD_ADDRESS,    /* const char *: a numeric IPv4 or IPv6 address */
    FIELD_HOST,       /* const char *: a host name or numeric address */
    FIELD_DATE,       /* const char *: a day that exists, such as 2026-03-01 */
    FIELD_CLOCK,      /* integer: minutes after midnight, written 02:30 */
    FIELD_TABLE,      /* a mapping described by table, at offset */
    FIELD_TABLES, /* a list of such mappings: count at count_offset; on the heap, or within */
    FIELD_TEXTS,  /* a list of clean lines: const char *[max_count + 1] within, NULL-terminated
                   */
    FIELD_WHOLES, /* a list of int64_t within, min..max, count at count_offset */
};

/* What an id names, and what a reference refers to. */
enum names {
    NAMES_NONE,
    NAMES_PERSON,
    NAMES_BUS,
    NAMES_PROBE,
    NAMES_THERMOMETER,
    NAMES_PLACE,
    NAMES_PRODUCT,
    NAMES_STEP,
    NAMES_REFERENCE,
    NAMES_SWITCH,
    NAMES_SIGNAL,
    NAMES_RULE
};

struct choice {
    const char *word; /* NULL ends the list */
    int value;
};

#define ALWAYS 0xFFFFFFFFu

struct field {
    const char *key;
    enum field_type type;
    bool required; /* in every variant in which it is allowed, unless required_in says less */
    uint32_t allowed_in;  /* variants of the mapping (bits) that have this key; 0 = ALWAYS */
    uint32_t required_in; /* with required: 0 = all that allow it */
    uint32_t
        on_drivers; /* in a table with on_bus: drivers (bits) whose probes have it; 0 = all */
    size_t offset, size; /* of the target within the mapping's struct */
    int64_t min, max;
    size_t max_count;
    size_t count_offset, count_size; /* count_size 0 = not counted */
    size_t unit_offset, signal_offset, temp_offset;
    bool within;     /* FIELD_TABLES: the array is part of the struct */
    bool for_people; /* FIELD_TABLES: words for people, no part of a limit (changes.c) */
    enum names names;
    const struct choice *choices;
    const struct table *table;
    const char *fallback; /* default as a plan would write it, or NULL */
    const char *write;    /* what to write, after "write ": an example and what it is */
    const char *help;     /* what the key means, for docs and people */
};

struct table {
    const char *what; /* "a probe" */
    const struct field *fields;
    size_t field_count;
    size_t size; /* of its struct */
    const char
        *variant; /* key of the FIELD_WORD that says which variant a mapping is, or NULL */
    bool on_bus;  /* its key `bus` names a bus, on whose driver its keys depend as well */
};

#define FIELDS_MAX 64 /* of one table */

extern const struct table plan_table;
extern const struct table plan_limit_table;
extern const struct table plan_tolerances_table;
extern const struct table plan_uncertainty_table;
extern const struct table plan_calibration_table;
extern const struct table plan_reference_table;
extern const struct table plan_bus_table;
extern const struct choice plan_limit_kinds[];
extern const struct choice plan_oven_types[];
extern const struct choice plan_limit_subjects[];
extern const struct choice plan_person_roles[];
extern const struct choice plan_quiet_whys[];
extern const struct choice plan_switch_kinds[];
extern const struct choice plan_dispositions[];
extern const struct choice plan_confidences[];
extern const struct table plan_quiet_table;

/* ---- walking ---- */

struct id_seen {
    enum names names;
    int scope; /* ids are unique within it: 0, or the position of a product's list of steps */
    const char *id;
    size_t index;
    const yaml_node_t *node;
};

struct reference {
    const struct field *field;
    void *target;
    yaml_node_t *node;
};

struct walk {
    struct plan_tree *tree;
    struct plan_arena *arena;
    struct plan_faults *faults;
    const char *file; /* for relative paths */
    bool *bad;        /* by node index - 1: a fault was told there, no need for a second one */
    size_t node_count;
    struct id_seen *ids;
    size_t id_count, id_room;
    struct reference *references;
    size_t reference_count, reference_room;
    int list_scope;    /* the list being read: its node's position */
    size_t list_index; /* and the entry */
};

/* Reads the whole tree against a table into its struct at base, resolves references, finds ids
 * given twice. An empty file is told with a hint how to begin. */
void plan_walk(struct walk *walk, const struct table *table, void *base, const char *hint);

/* A file's bytes, at most a few more than a plan may have; the caller frees. NULL with a fault.
 */
char *plan_file_read(const char *file, size_t *ret_len, struct plan_faults *reterr);

/* Tells a fault at a node and marks it bad. */
void plan_walk_fault(struct walk *walk, const yaml_node_t *node, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same at a byte of a scalar's text, where the file's own writing lets that be told. */
void plan_walk_fault_within(struct walk *walk, const yaml_node_t *scalar, size_t offset,
                            const char *format, ...) __attribute__((format(printf, 4, 5)));
/* The value of a key when it is there and nothing is wrong with it, else NULL. */
yaml_node_t *plan_walk_good(struct walk *walk, const yaml_node_t *mapping, const char *key);

/* Reads one scalar into its target, a part of the struct at base. node NULL = a default of
 * ours, always right. */
bool plan_value_read(struct walk *walk, const struct field *field, const char *text, size_t len,
                     const yaml_node_t *node, void *target, void *base);
/* Stores a whole number in a target of 1, 2, 4 or 8 bytes. */
void plan_value_store(void *target, size_t size, int64_t value);

/* Everything that no single key can show: plan_walk first. */
void plan_check(struct walk *walk, struct plan *plan);
/* Also fills in what follows from the keys: a table's first row, rates. */
void plan_check_limit(struct walk *walk, struct plan_limit *limit, const yaml_node_t *mapping);
/* What each thermometer takes from the plan's usual, and the boiling point: calibration.c. */
void plan_check_calibration(struct walk *walk, struct plan *plan);
/* Gives limits their uncertainty, and guarded ones their guard band; last of all checks. */
void plan_check_uncertainty(struct walk *walk, struct plan *plan);
/* Buses and probes that are no Modbus ones: check_lines.c. */
void plan_check_lines(struct walk *walk, const struct plan *plan);
/* The same of sensors; fills in what a kernel's channel says of itself. */
void plan_check_sensors(struct walk *walk, struct plan *plan);

/* How often a line of serial frames is asked the same: check_repeats.c. Not for records: plans
 * of before had no such rule. */
void plan_check_repeats(struct walk *walk, const struct plan *plan);
/* Doors and buttons: check_switches.c. */
void plan_check_switches(struct walk *walk, const struct plan *plan);
/* Signals: check_signals.c. */
void plan_check_signals(struct walk *walk, const struct plan *plan);
/* A Modbus unit id that its bus cannot have; node is where it is written. */
void plan_check_unit(struct walk *walk, const struct plan_bus *bus, uint8_t unit,
                     const yaml_node_t *node);

#endif
