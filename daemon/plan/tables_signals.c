/* The keys of a plan file that say which lights and relays are set. */
#include "daemon/plan/tables.h"

static const struct choice shows[] = {
    {"alarm", SHOWS_ALARM}, {"unheard", SHOWS_UNHEARD}, {"alive", SHOWS_ALIVE}, {NULL, 0}};
static const struct choice coil_on[] = {{"well", true}, {"alarm", false}, {NULL, 0}};

static const struct field signal_fields[] = {
    {.key = "id",
     .type = FIELD_ID,
     AT(plan_signal, id),
     .required = true,
     .names = NAMES_SIGNAL,
     .write = "pass-light",
     .help = "how records name this signal"},
    {.key = "name",
     .type = FIELD_TEXT,
     AT(plan_signal, name),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "Red light over the pass",
     .help = "its name for people"},
    /* One of the Modbus drivers: check_signals.c. */
    MODBUS_BUS(plan_signal),
    MODBUS_UNIT(plan_signal, "30"),
    {.key = "coil",
     .type = FIELD_WHOLE,
     AT(plan_signal, coil),
     .required = true,
     .min = 0,
     .max = 65535,
     .write = "0",
     .help = "protocol address of the coil, from 0 (a manual's 00001 is 0)"},
    {.key = "shows",
     .type = FIELD_WORD,
     AT(plan_signal, shows),
     .required = true,
     .choices = shows,
     .write = "unheard",
     .help = "alarm: a deviation that goes on or has no corrective action; unheard: an alarm "
             "that nobody has said was heard; alive: that nobody watches any more"},
    {.key = "coil_on",
     .type = FIELD_WORD,
     AT(plan_signal, on_when_well),
     .choices = coil_on,
     .fallback = "well",
     .write = "well",
     .help = "when the coil is on: while all is well, so that a cut cable signals too; or in "
             "alarm"},
    {.key = "heartbeat",
     .type = FIELD_DURATION,
     AT(plan_signal, heartbeat_ms),
     .min = SECOND,
     .max = 5 * MINUTE,
     .fallback = "5 s",
     .write = "5 s",
     .help = "the coil is written again after this, so that a module with a watchdog lets go "
             "when nobody writes"},
    {.key = "toggles",
     .type = FIELD_YES_NO,
     AT(plan_signal, toggles),
     .fallback = "no",
     .write = "no",
     .help = "yes, with shows: alive: the coil is turned over at each heartbeat, for a relay "
             "that watches for pulses"},
};
const struct table plan_signal_table = {TABLE("a signal", signal_fields, plan_signal)};
