/* What `trivet find` is to search, from its options; and the line it searches, from a person's
 * answer. Pure: texts in, a setup or a refusal out. */
#ifndef CLI_FIND_SETUP_H
#define CLI_FIND_SETUP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "daemon/cli/find_bus.h"

#define FIND_WHY_MAX 240

/* What a setup is when nothing is said: the usual speeds and parities, few units and registers.
 * The line is still missing. */
void find_setup_init(struct find_setup *setup);

/* Each takes an option's value and writes into the setup; false with what is wrong and what to
 * write. The text is not kept. */
bool find_setup_device(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_host(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_port(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_bauds(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_parities(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_stop_bits(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_direction(struct find_setup *setup, const char *text, char *reterr);
/* After the host. */
bool find_setup_framing(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_registers(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_functions(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_timeout(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_longest_delay(struct find_setup *setup, const char *text, char *reterr);
bool find_setup_pause(struct find_setup *setup, const char *text, char *reterr);

/* "/dev/ttyUSB0", "192.0.2.10" or "192.0.2.10:502", as a person answers. */
bool find_setup_line(struct find_setup *setup, const char *text, char *reterr);

/* The units to ask for; NULL: those that are usual on such a line. */
bool find_setup_finish(struct find_setup *setup, const char *units, char *reterr);

/* "10s", "500ms", "2min" within the bounds. */
bool find_duration(const char *text, int64_t least_ms, int64_t most_ms, int64_t *ret_ms,
                   char *reterr);

/* "Cold store probe 2" to "cold-store-probe-2"; "" when nothing is left. */
void find_id_of(const char *name, char ret_id[PLAN_ID_MAX + 1]);
bool find_id_good(const char *id);

#endif
