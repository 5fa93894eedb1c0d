/* The kitchen's HACCP plan, loaded and checked: what every other room reads and none changes.
 *
 * A struct plan is immutable after plan_load and may be read by any thread. Strings and arrays
 * belong to it and live until plan_free. Indices (bus, place, probe of a place) are positions
 * in its arrays. */
#ifndef TRIVET_PLAN_H
#define TRIVET_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/units.h"

#define PLAN_ID_MAX         31  /* bytes of an id: lower-case ASCII letters, digits, hyphens */
#define PLAN_NAME_MAX       120 /* bytes of a name or a source, UTF-8 */
#define PLAN_INITIALS_MAX   7   /* bytes */
#define PLAN_BYTES_MAX      1000000
#define PLAN_BUSES_MAX      256
#define PLAN_PROBES_MAX     1024
#define PLAN_PLACES_MAX     64
#define PLAN_SWITCHES_MAX   64
#define PLAN_PRODUCTS_MAX   256
#define PLAN_REFERENCES_MAX 64
#define PLAN_PEOPLE_MAX     128
#define PLAN_STEPS_MAX      12
#define PLAN_STAGES_MAX     4
#define PLAN_ROWS_MAX       40
#define PLAN_OVEN_ROWS_MAX  8
#define PLAN_FAULTS_MAX     8
#define PLAN_HOOK_ARGS_MAX  16

enum person_role { ROLE_COOK, ROLE_SUPERVISOR, ROLE_VERIFIER };

struct plan_person {
    char initials[PLAN_INITIALS_MAX + 1];
    const char *name;
    enum person_role role;
};

#define PLAN_LINE_MAX     200 /* bytes of a serial line's pattern or question, as written */
#define PLAN_STATUSES_MAX 8
#define PLAN_STATUS_BITS  16 /* of a register */

/* Fewer than 32: the plan room keeps sets of them in bits. */
enum bus_driver {
    BUS_MODBUS_RTU,
    BUS_MODBUS_TCP,
    BUS_MODBUS_RTU_TCP, /* serial frames through a plain TCP gateway */
    BUS_SERIAL_LINE,    /* thermometers that print lines of text */
    BUS_ONEWIRE,        /* the kernel's 1-Wire thermometers */
    BUS_IIO,            /* the kernel's IIO and hwmon nodes */
    BUS_TRACE,          /* a recording that is played */
};

/* What ends a line of text. */
enum line_end { LINE_END_CRLF, LINE_END_CR, LINE_END_LF };

/* What a recording does at its end. */
enum trace_end { TRACE_STOPS, TRACE_LOOPS };

struct plan_bus {
    char id[PLAN_ID_MAX + 1];
    enum bus_driver driver;
    /* RTU, serial line */
    bool kernel_direction; /* RS-485: the kernel switches between sending and hearing */
    const char *device;
    uint32_t baud_bps; /* one of the rates termios knows: checked in the plan */
    char parity;       /* 'N', 'E' or 'O' */
    uint8_t stop_bits; /* 1 or 2 */
    /* TCP */
    const char *host;
    uint16_t port;
    /* serial line; pattern and poll are checked: line_pattern.h compiles them */
    uint8_t data_bits;                              /* 7 or 8 */
    enum line_end line_end;                         /* default CR LF */
    const char *pattern;                            /* of a line */
    const char *poll;                               /* the question; NULL: it talks by itself */
    const char *good_status[PLAN_STATUSES_MAX + 1]; /* NULL-terminated */
    /* 1-Wire, IIO */
    const char *root; /* directory of the devices; NULL: the kernel's own */
    /* trace */
    const char *file;
    uint32_t speed; /* seconds of the recording in a second; default 1 */
    enum trace_end at_end;
    /* Modbus, serial line */
    int32_t timeout_ms;  /* whole reply; default 300 */
    int32_t max_late_ms; /* how late a device can answer: the line is left quiet this long after
                            a failure; default 500 */
    int32_t pause_ms;    /* Modbus: least time between two requests to one unit; default 0 */
};

enum register_type {
    REGISTER_INT16,
    REGISTER_UINT16,
    REGISTER_INT32,
    REGISTER_UINT32,
    REGISTER_FLOAT32,
    REGISTER_INT64,
    REGISTER_UINT64,
    REGISTER_FLOAT64
};

/* Order of the bytes on the wire; A is the most significant of a value of four. Of one with
 * eight: ABCDEFGH, GHEFCDAB, BADCFEHG, HGFEDCBA. */
enum byte_order { ORDER_ABCD, ORDER_CDAB, ORDER_BADC, ORDER_DCBA };

enum probe_kind { PROBE_FOOD, PROBE_AIR };

/* How a thermometer is checked against known temperatures (docs/calibration.md). */
struct plan_checking {
    int32_t tolerance_mK; /* largest error that passes; default 1 degree */
    int64_t every_ms;     /* a check is due this long after the last good one; 0 = never */
    int32_t largest_mK;   /* largest correction of a probe; default 2 degrees */
};

/* Tolerance classes of sensors. */
enum plan_sensor {
    SENSOR_UNSAID,
    SENSOR_RTD_AA,
    SENSOR_RTD_A,
    SENSOR_RTD_B,
    SENSOR_RTD_C,
    SENSOR_TC_KN_1,
    SENSOR_TC_KN_2,
    SENSOR_TC_T_1,
    SENSOR_TC_T_2
};

/* How uncertain what a thermometer shows is, as the plan says; zeros: not said. */
struct plan_uncertainty {
    int32_t total_mK;        /* expanded (k = 2), all included; 0 = made up of the others */
    enum plan_sensor sensor; /* its class bounds its error */
    int32_t calibrated_mK;   /* expanded, stands for the class */
    int32_t position_mK;     /* bounds the error of where it is */
};

/* Expanded uncertainty (k = 2) at a temperature, rounded up; 0 = not said. Pure, integers. */
int32_t plan_uncertainty_mK(const struct plan_uncertainty *of, int32_t temp_mC);

/* A recording's columns. */
enum trace_column { TRACE_CORE, TRACE_AIR };

struct plan_probe {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    uint16_t number;  /* as stored with readings; 0 until the recorder has assigned it */
    uint16_t bus;     /* index */
    uint8_t unit;     /* Modbus unit id */
    uint8_t function; /* 3 or 4 */
    uint16_t reg;     /* protocol address, from 0 */
    enum register_type type;
    enum byte_order order;
    enum temp_unit reads;    /* what the device's number is in after scaling, where it is */
    enum signal_unit signal; /* degrees; else what the sensor gives: mV, uV or ohm */
    int64_t scale_micro;     /* millionths of that unit per count; default 1000000 */
    int64_t offset_micro;    /* added after scaling, millionths of it */
    const char *sensor;      /* what the device measures: checked, sensor.h reads it; NULL: the
                                device gives degrees */
    int16_t cold_probe;      /* thermocouple: the probe at its terminals, of the same bus; -1 */
    int32_t cold_mC;         /* or their temperature; TEMP_NONE */
    int64_t faults[PLAN_FAULTS_MAX]; /* raw values that mean a fault */
    uint8_t fault_count;
    bool has_status;                     /* Modbus: a register of the same unit and function */
    uint16_t status_reg;                 /* says whether the value is good */
    int64_t bad_bits[PLAN_STATUS_BITS];  /* bits of it that mean a fault when they are 1 */
    int64_t good_bits[PLAN_STATUS_BITS]; /* likewise when they are 0 */
    uint8_t bad_bit_count, good_bit_count; /* neither: every bit means a fault */
    const char *channel; /* serial line: its name there, or NULL; IIO: beginning of its files */
    const char *address; /* 1-Wire: "28-0316a2794aff" */
    const char *node;    /* IIO: the device's directory, or what its file `name` says */
    enum trace_column column;
    int32_t plausible_min_mC, plausible_max_mC; /* inclusive */
    int32_t every_ms;
    enum probe_kind kind;
    struct plan_checking checking;
    struct plan_uncertainty uncertainty;
};

/* A thermometer that a person holds: for hand readings. */
struct plan_handheld {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    struct plan_checking checking; /* without largest_mK: it is never corrected */
    struct plan_uncertainty uncertainty;
};

/* A thermometer with a certificate, against which others are checked. */
struct plan_reference {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    const char *certificate; /* its number and who issued it */
    int32_t uncertainty_mK;  /* expanded, as the certificate states it */
    const char *due;         /* the last day on which it holds, "2027-02-01" */
};

struct plan_calibration {
    struct plan_checking usual; /* for thermometers that say nothing of their own */
    int64_t warn_ms;            /* how long before a check is due it is said; default 14 d */
    bool has_altitude, has_pressure; /* what the boiling point is taken from */
    int32_t altitude_m;
    int32_t pressure_hPa; /* station pressure */
};

enum limit_kind {
    LIMIT_NONE, /* said outright in the plan: a step without a critical limit, such as resting
                 */
    LIMIT_COOK, /* at least temp for hold_ms, unbroken; within_ms of the step's beginning if
                   given */
    LIMIT_HOLD_HOT,  /* at least temp; up to tolerance_ms below, cumulative until back for
                        back_ms */
    LIMIT_HOLD_COLD, /* at most temp; up to tolerance_ms above, likewise */
    LIMIT_COOL,   /* falls through start, then each stage's temp within its time of that instant
                   */
    LIMIT_REHEAT, /* at least temp (for hold_ms) within within_ms of the step's beginning */
    LIMIT_COOK_TABLE, /* any row of a table: at least its temperature for its time, unbroken */
    LIMIT_LETHALITY,  /* time equivalent at a reference temperature: hold_ms at temp, with z */
    LIMIT_TIME, /* no temperature control: gone within_ms after it left it; as it left, at most,
                   or at least, temp; never above ceiling */
    LIMIT_ZONE, /* warmer than temp and colder than hot for at most within_ms, added up */
    LIMIT_RISE, /* the same while food heats: never written by itself, but as a heating limit's
                   come_up */
    LIMIT_SUM,  /* rows of a table added up: time at each by its own time, 1 in all */
    LIMIT_OVEN, /* an oven's own temperature, at least temp, outside for at most tolerance_ms at
                   a stretch: never written by itself, but as a heating limit's oven_rows */
    LIMIT_MOIST_OVEN, /* the same, at most temp */
    LIMIT_DAYS,       /* of a product: kept for at most so many days, by the calendar */
};

#define LIMIT_KIND_LAST LIMIT_DAYS

/* Food gets hotter under it. */
static inline bool
limit_kind_heats(enum limit_kind kind)
{
    return kind == LIMIT_COOK || kind == LIMIT_REHEAT || kind == LIMIT_COOK_TABLE ||
           kind == LIMIT_LETHALITY || kind == LIMIT_SUM;
}

/* Of the surface, top and bottom, people measure by hand. */
enum limit_subject { SUBJECT_FOOD, SUBJECT_AIR, SUBJECT_SURFACE };

/* Which readings are taken for inside, JCGM 106:2012: 8.2 and 8.3. */
enum acceptance { ACCEPTANCE_SIMPLE, ACCEPTANCE_GUARDED };

/* Which day is the first of those that food may be kept. */
enum first_day { FIRST_DAY_ITSELF, FIRST_DAY_NEXT };

/* Where the time of a stage is counted from. */
enum stage_clock { STAGE_FROM_START, STAGE_FROM_STAGE_BEFORE };

/* What starts the clock of a cooling. */
enum cool_clock { COOL_CLOCK_FALL, COOL_CLOCK_STEP };

struct plan_stage {
    struct limit_temp to;
    int64_t within_ms;
    enum stage_clock counts_from; /* time saved in one stage may be used in the next, or not */
};

/* One row of a time and temperature table. */
struct plan_row {
    struct limit_temp temp;
    int64_t hold_ms; /* 0 = one good reading */
};

/* How an oven heats, as a roast table's oven conditions tell ovens apart. */
enum oven_type { OVEN_UNSAID, OVEN_STILL_DRY, OVEN_CONVECTION, OVEN_HIGH_HUMIDITY };

/* What the oven's own temperature has to be for roasts of a mass. */
struct plan_oven_row {
    enum oven_type type;
    int32_t under_g, from_g;       /* lighter than, or at least: one of them, the other 0 */
    struct limit_temp least, most; /* likewise */
    bool is_upper;                 /* it is most */
};

struct lethal_rates;
struct plan_published;

/* What became of food after a deviation. */
enum disposition {
    DISPOSITION_NONE,
    DISPOSITION_USE,
    DISPOSITION_USE_AT_ONCE,
    DISPOSITION_COOK_ON, /* cooked further */
    DISPOSITION_REHEAT,
    DISPOSITION_COOL_AGAIN,
    DISPOSITION_HOLD,   /* set aside until decided */
    DISPOSITION_DIVERT, /* to a use in which it can do no harm */
    DISPOSITION_DISCARD,
    DISPOSITION_NO_FOOD, /* no food was affected */
};

#define PLAN_PREPARED_MAX 9

/* A corrective action that the plan has ready, for a person to pick by its number. Texts NULL
 * when the plan leaves them to the person. */
struct plan_prepared {
    const char *name;
    const char *found, *done, *control, *prevent, *safe; /* as in struct entry */
    enum disposition disposition;                        /* DISPOSITION_NONE: left open */
};

struct plan_limit {
    enum limit_kind kind;
    enum limit_subject subject;
    bool strict;            /* exactly at the limit is outside */
    struct limit_temp temp; /* cook, hold, reheat */
    int64_t hold_ms;        /* cook, reheat; 0 = one good reading */
    int64_t within_ms;      /* cook: 0 = no deadline; reheat, time: required */
    bool has_rise;          /* reheat: within_ms counts from when it rises above rise_from */
    struct limit_temp rise_from;
    int64_t stand_ms; /* cook, reheat: it stands this long after reaching it; 0 = need not */
    struct limit_temp hot;   /* zone, rise */
    int64_t use_at_once_ms;  /* zone: after this it is to be used at once; 0 = not said */
    struct plan_limit *rise; /* cook, cook_table, lethality: its come-up time, or NULL */
    const struct plan_oven_row *oven_rows; /* likewise: the oven conditions that go with it */
    uint8_t oven_row_count;
    enum oven_type oven;      /* which of them applies; unsaid: none is judged */
    int32_t roast_g;          /* the heaviest roast, where a batch does not say; 0 = unsaid */
    int64_t oven_recovery_ms; /* outside for at most this at a stretch, as by an open door */
    struct plan_limit *ovens; /* where `oven` is said: a limit for each row, in their order */
    struct limit_temp come_up_from, come_up_to; /* as written, for rise */
    int64_t come_up_ms;
    bool left_hot;    /* time: temp is the lowest as it left control, else the highest */
    bool has_ceiling; /* time: warmer than ceiling is outside, however short */
    struct limit_temp ceiling;
    int64_t tolerance_ms; /* hold */
    int64_t back_ms;      /* hold: unbroken time inside that ends an excursion; default 5 min */
    int64_t period_ms;    /* hold, food: time outside that a batch may have once; 0 = none */
    bool time_strict;     /* exactly at period_ms is too long */
    int32_t days;         /* date mark */
    enum first_day first_day;                  /* likewise */
    struct limit_temp start;                   /* cool */
    struct plan_stage stages[PLAN_STAGES_MAX]; /* cool, in order */
    uint8_t stage_count;
    enum cool_clock clock;   /* cool: as the core falls through start, or with the step */
    int64_t start_within_ms; /* cool, clock of the step: allowed since the end of cooking; 0 =
                                no such rule */
    /* cook_table: rising temperatures; temp and hold_ms are those of the first */
    const struct plan_row *rows;
    uint8_t row_count;
    /* lethality: equivalent time hold_ms at temp */
    int32_t z_mK;
    const struct lethal_rates *rates; /* of temp and z (trivet/lethal.h) */
    const char *validated_by;         /* who validated it for this plan, with the document */
    bool once;                        /* cool, reheat: food may have this once only */
    const struct plan_prepared *prepared; /* corrective actions ready for this limit */
    uint8_t prepared_count;
    enum acceptance acceptance;
    int32_t guard_percent;  /* r of the guard band w = rU, in hundredths; default 100 */
    int32_t uncertainty_mK; /* U: the largest of those that can serve it; 0 = not said */
    int32_t guard_mK; /* w. All temperatures above but a cooling's start have it in them: they
                         are acceptance limits. 0 = none */
    /* For the HACCP table, each NULL where the plan does not say. */
    const char *hazard, *corrective_action, *verification;
    const char *ccp; /* name of the critical control point, or NULL */
    const char
        *source; /* where the limit comes from, as the plan or the profile says; or NULL */
    /* Taken from a profile by name, "food-code-2022/roast"; else NULL. */
    const char *profile;
    const struct plan_published *published; /* of the same plan */
    bool unverified; /* its figures were not checked against the published text */
};

/* How sure we are of a published figure. Anything but VERIFIED is offered only to who asks for
 * it. */
enum profile_confidence {
    CONFIDENCE_VERIFIED,    /* checked against a copy of the published text */
    CONFIDENCE_UNCONFIRMED, /* from a secondary account of a text nobody here has read */
    CONFIDENCE_MEMORY,      /* recalled, not seen */
    CONFIDENCE_DOUBTFUL,    /* there is a reason to think it wrong */
};

/* A published limit that the plan names, as it was when the plan was read. */
struct plan_published {
    const char *rule; /* "food-code-2022/roast" */
    const char *document, *authority, *edition, *section, *source;
    enum profile_confidence confidence;
    struct plan_limit limit;
};

/* Why a place is quiet: its limit is suspended for a while. */
enum quiet_why { QUIET_NONE, QUIET_OFF, QUIET_EMPTY, QUIET_DEFROSTING, QUIET_CLEANING };

#define PLAN_QUIETS_MAX 8

/* Every day at this time of the site's clock. */
struct plan_quiet {
    int32_t at_min; /* minutes after midnight */
    int64_t for_ms;
    enum quiet_why why;
};

struct plan_place {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    int16_t
        probe; /* index of the probe that watches it, -1 = none (an oven watched by nothing) */
    struct plan_limit limit; /* LIMIT_NONE, LIMIT_HOLD_HOT or LIMIT_HOLD_COLD */
    struct plan_quiet quiets[PLAN_QUIETS_MAX];
    uint8_t quiet_count;
    bool freezer; /* food in it is frozen: its days are not counted */
};

/* Who begins a step. */
enum step_begins { BEGINS_BY_HAND, BEGINS_BY_ITSELF };

#define PLAN_BEGINS_MAX 8

enum switch_kind { SWITCH_DOOR, SWITCH_BUTTON };

/* A contact that a Modbus device reports as one bit. */
struct plan_switch {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    enum switch_kind kind;
    int16_t place;    /* index */
    uint16_t bus;     /* index, of a Modbus driver */
    uint8_t unit;     /* Modbus unit id */
    uint8_t function; /* 1 coils, 2 discrete inputs */
    uint16_t address; /* protocol address, from 0 */
    uint8_t active;   /* the bit of an open door, or a pressed button */
    int32_t every_ms;
    int64_t open_max_ms; /* a door open for longer is told; 0 = never */
};

#define PLAN_SIGNALS_MAX 16

/* What a light or relay tells of. */
enum signal_shows {
    SHOWS_ALARM,   /* a deviation that goes on or has no corrective action */
    SHOWS_UNHEARD, /* an alarm that nobody has said was heard */
    SHOWS_ALIVE,   /* nothing but that the watch itself has stopped */
};

/* A coil of a Modbus device that Trivet sets: the only thing it ever writes to a device. */
struct plan_signal {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    uint16_t bus;  /* index, of a Modbus driver */
    uint8_t unit;  /* Modbus unit id */
    uint16_t coil; /* protocol address, from 0 */
    enum signal_shows shows;
    bool on_when_well;    /* the coil is on while there is nothing to tell */
    int32_t heartbeat_ms; /* written again after this */
    bool toggles;         /* alive: turned over at each heartbeat instead */
};

struct plan_step {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    int16_t place;           /* where the step usually happens: index, or -1 */
    enum step_begins begins; /* by itself: a cooling, as its probes fall through its start */
    const char *begins_on[PLAN_BEGINS_MAX + 1]; /* probes on which hot food begins a batch with
                                                   this step; NULL-terminated */
    bool begins_together; /* they are of one pan: one batch with all of them */
    struct limit_temp
        aim; /* heating: what the kitchen wants the core to reach in the end, resting included;
                milli 0 = not said. For forecasts only: nothing is judged by it */
    bool starts_date; /* the days of the product's date mark count from this step */
    struct plan_limit limit;
};

struct plan_product {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    struct plan_step steps[PLAN_STEPS_MAX];
    uint8_t step_count;
    struct plan_limit life; /* over all steps: LIMIT_NONE or LIMIT_ZONE */
    struct plan_limit mark; /* how long it may be kept: LIMIT_NONE or LIMIT_DAYS */
};

/* Who has approved the plan's limits, as the plan itself says. */
struct plan_approval {
    char by[PLAN_INITIALS_MAX + 1]; /* "" = nobody; else one of the people */
    const char *on;                 /* day of the site, "2026-03-01" */
};

struct plan_tolerances {
    uint32_t spacing_polls; /* largest spacing of two good readings that still credits time, in
                               polling periods of the probe; default 3 */
    int64_t
        silent_ms; /* a probe without a good reading this long is a deviation; default 5 min */
    int32_t
        food_rate_mC_per_min; /* fastest change that food can make at its core; default 15000 */
    int32_t
        food_jump_mC;  /* a step smaller than this is never called impossible; default 4000 */
    int64_t settle_ms; /* how long a probe that jumped must behave before it is believed;
                          default 60 s */
    int64_t stuck_ms;  /* an unchanged value of an air probe is suspect after this long, 0 =
                          never; default 24 h */
    int64_t stuck_food_ms; /* likewise of a probe in food that heat flows to; default 2 h */
    int32_t air_rate_mC_per_min; /* faster changes of air by a jump need a second reading;
                                    default 60000 */
    int32_t air_jump_mC;         /* a smaller step of air needs none; default 20000 */
    int64_t pulled_ms;    /* a core that loses three quarters of its distance to the air within
                             this is a probe pulled out; 0 = never; default 2 min */
    int64_t quiet_max_ms; /* longest that a place may be quiet at a stretch; default 4 h */
};

/* What is asked of people, and by when. Working days and the end of a day are the site's. */
struct plan_duties {
    bool full_actions;           /* a corrective action has to state every element */
    int64_t act_within_ms;       /* a corrective action is overdue after this; default 1 d */
    uint8_t verify_days;         /* its verification, in working days; default 7 */
    uint8_t review_days;         /* the review of a business day, likewise */
    int32_t day_ends_min;        /* a business day ends at this many minutes after midnight */
    const char *pins[4];         /* roles whose entries need a PIN, as words; NULL-terminated */
    const char *working_days[8]; /* "mon", ... NULL-terminated; none = Monday to Friday */
    int64_t shelve_max_ms;       /* longest that an alarm may be shelved; default 1 h */
};

struct plan_hook {
    const char *args[PLAN_HOOK_ARGS_MAX + 1]; /* NULL-terminated; args[0] NULL = no hook */
    int64_t timeout_ms;                       /* default 10 s */
};

#define PLAN_LEVELS_MAX 8

/* What has not happened when the next one is told. */
enum plan_escalation_without { WITHOUT_ACTION, WITHOUT_HEARING };

/* Who is told next of an alarm that nobody acts on, or hears. */
struct plan_escalation {
    int64_t after_ms;
    enum plan_escalation_without without;
    const char *tell;      /* a role, or the initials of one of the people */
    struct plan_hook hook; /* its own command; args[0] NULL = that of `alarm` */
};

struct plan_web {
    bool enabled;
    const char *listen;   /* numeric address; default 127.0.0.1 */
    uint16_t port;        /* default 8470 */
    const char *names[8]; /* further Host names answered, NULL-terminated */
};

struct plan_records {
    const char *directory; /* of the store; relative to the plan's file */
    const char *socket;    /* of the control socket; default <directory>/control */
    int64_t commit_ms; /* longest a reading waits for its commit, at most 1000; default 1000 */
    int64_t seal_ms;   /* default 60000 */
};

struct plan {
    const char *file; /* as named when loaded */
    const char *text; /* whole, as read, and behind it the published limits that it names */
    size_t text_len;
    char digest[65]; /* SHA-256 of the text, lower-case hex */

    const char *site_name;
    const char *site_address;  /* or NULL */
    const char *time_zone;     /* IANA name, default "UTC" */
    bool demo;                 /* everything shown is labelled as demo data */
    const char *sole_operator; /* how a sole operator's records get verified, or NULL when
                                  several people work */
    struct plan_approval approved;
    bool draft; /* its limits may change without an approval; everything shown says so */
    bool accept_unverified; /* it may name published figures that were not checked */
    struct plan_published *published;
    size_t published_count;

    struct plan_person *people;
    size_t person_count;
    struct plan_bus *buses;
    size_t bus_count;
    struct plan_probe *probes;
    size_t probe_count;
    struct plan_handheld *handhelds;
    size_t handheld_count;
    struct plan_place *places;
    size_t place_count;
    struct plan_switch *switches;
    size_t switch_count;
    struct plan_product *products;
    size_t product_count;

    struct plan_signal *signals;
    size_t signal_count;

    struct plan_reference *references;
    size_t reference_count;

    struct plan_tolerances tolerances;
    struct plan_calibration calibration;
    struct plan_duties duties;
    struct plan_hook hook;
    struct plan_escalation *escalation; /* levels, the first first */
    size_t escalation_count;
    struct plan_web web;
    struct plan_records records;
};

/* One fault in a plan file. line and column count from 1; 0 when the file itself is the matter.
 */
struct plan_fault {
    int line, column;
    char text[240]; /* "what is wrong; what to write" */
};

#define PLAN_FAULTS_TOLD_MAX 100

struct plan_faults {
    struct plan_fault fault[PLAN_FAULTS_TOLD_MAX];
    size_t count; /* told; more is true when there were others */
    bool more;
};

/* Loads and checks a plan from a file, or from memory (file names it in faults). All faults are
 * reported, in order of their lines. Returns NULL when there is any. The caller frees with
 * plan_free. Published limits that it names are read from the profiles (trivet/profile.h);
 * plan_load_record takes the whole text that a record keeps, and reads nothing else. */
struct plan *plan_load(const char *file, struct plan_faults *reterr);
struct plan *plan_load_text(const char *file, const char *text, size_t len,
                            struct plan_faults *reterr);
struct plan *plan_load_record(const char *file, const char *text, size_t len,
                              struct plan_faults *reterr);
void plan_free(struct plan *plan);

/* Look-ups by id; NULL (or -1) when there is none. */
const struct plan_person *plan_person(const struct plan *plan, const char *initials);
const struct plan_product *plan_product(const struct plan *plan, const char *id);
const struct plan_handheld *plan_handheld(const struct plan *plan, const char *id);
const struct plan_reference *plan_reference(const struct plan *plan, const char *id);
int plan_step_index(const struct plan_product *product, const char *id);
int plan_place_index(const struct plan *plan, const char *id);
int plan_switch_index(const struct plan *plan, const char *id);
int plan_probe_index(const struct plan *plan, const char *id);
int plan_probe_by_number(const struct plan *plan, uint16_t number);

/* Whether the plan asks for this person's PIN. */
bool plan_needs_pin(const struct plan *plan, const struct plan_person *person);

/* Whether people work on this day of the week, 0 = Sunday. */
bool plan_is_working_day(const struct plan *plan, int weekday);

/* The words of the plan file: "cook", "hold_hot", ... "cook", "supervisor", "verifier". */
const char *limit_kind_word(enum limit_kind kind);
const char *limit_subject_word(enum limit_subject subject); /* "food", "air", "surface" */
const char *switch_kind_word(enum switch_kind kind);        /* "door", "button" */
const char *person_role_word(enum person_role role);
const char *disposition_word(enum disposition disposition);   /* "use", "use-at-once", ... */
const char *disposition_phrase(enum disposition disposition); /* for people: "thrown away" */
enum disposition disposition_from_word(const char *word); /* DISPOSITION_NONE when unknown */
const char *quiet_why_word(enum quiet_why why); /* "off", "empty", "defrosting", "cleaning" */
enum quiet_why quiet_why_from_word(const char *word); /* QUIET_NONE when unknown */

/* The oven condition that applies to a roast of this mass (0 = unknown: the one that satisfies
 * all of them); NULL when the plan says no oven. */
const struct plan_limit *plan_oven_limit(const struct plan_limit *limit, int32_t mass_g);
/* Makes the limits that `ovens` points to of the rows, as many. */
void plan_oven_make(const struct plan_limit *limit, struct plan_limit *ret);
const char *oven_type_phrase(enum oven_type type); /* "still dry", ... */
const char *oven_type_word(enum oven_type type);   /* "still_dry", ... */
/* OVEN_UNSAID when unknown. */
enum oven_type oven_type_from_word(const char *word);

/* The limit in one line for people: "at least 63.0 °C for 3 min (food)". Returns buf. */
char *plan_limit_text(char *buf, size_t size, const struct plan_limit *limit);

/* ---- what a new plan changes ---- */

/* One limit or tolerance that differs, as people read it. */
struct plan_change {
    char what[112]; /* "place walk-in", "product soup, step cool", "tolerances: silent_for" */
    char before[240], after[240]; /* "no limit" where there is none */
};

/* The limits and tolerances in which two plans differ, in the order of the plan after, then
 * those that only the plan before has. Names, notes and sources are no limits. Returns how many
 * there are; writes at most max. */
size_t plan_changes(const struct plan *before, const struct plan *after,
                    struct plan_change *ret, size_t max);

/* Writes "file:line:column: text\n" for each fault into a stream-free buffer; returns the
 * length written. */
size_t plan_faults_text(const struct plan_faults *faults, const char *file, char *buf,
                        size_t size);

#endif
