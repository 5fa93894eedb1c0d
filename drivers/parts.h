/* What the drivers share: words, grouping of probes, exact arithmetic, small files of the
 * kernel.
 *
 * Pure but for driver_read_file; nothing here logs or keeps anything. Any thread. */
#ifndef DRIVERS_PARTS_H
#define DRIVERS_PARTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/log.h" /* TRIVET_PRINTF: a driver does not log */
#include "trivet/plan.h"
#include "trivet/probe_driver.h"

/* Cut when too long. */
void driver_say(struct driver_error *reterr, const char *format, ...) TRIVET_PRINTF(2, 3);

/* All samples of the request become bad with the cause. */
void driver_fail(const struct driver_request *request, uint16_t cause,
                 struct driver_sample *ret_samples);

/* The contract's `requests` for buses without registers: every probe by itself, or all of one
 * period together. Units count the requests (modulo 256), so that one that fails is held back
 * alone. */
size_t driver_requests_alone(const struct plan *plan, uint16_t bus, struct driver_request *ret,
                             size_t max);
size_t driver_requests_together(const struct plan *plan, uint16_t bus,
                                struct driver_request *ret, size_t max);

/* Products and sums that fit, or false. */
bool driver_times(int64_t a, int64_t b, int64_t *ret);
bool driver_plus(int64_t a, int64_t b, int64_t *ret);
/* 10^exponent; exponent 0 to 18. */
int64_t driver_power_of_ten(int exponent);
/* numerator / divisor, a half away from zero; divisor > 0. */
int64_t driver_rounded(int64_t numerator, int64_t divisor);

/* What a probe makes of a temperature: good when it fits and is plausible. */
struct driver_sample driver_sample_of(const struct plan_probe *probe, int64_t temp_mC);
struct driver_sample driver_bad(uint16_t cause);

/* Reads a whole file of at most size - 1 bytes and ends it with a NUL; a newline at its end is
 * dropped. Returns 0 or the errno; EFBIG for a larger one. May wait as long as the kernel's
 * driver does. */
int driver_read_file(const char *path, char *ret_text, size_t size);

#endif
