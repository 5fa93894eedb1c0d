/* Reads one line of the control protocol. Pure: no descriptors, no clock. docs/control.md is
 * the protocol. */
#ifndef CONTROL_REQUEST_H
#define CONTROL_REQUEST_H

#include <stdbool.h>
#include <stddef.h>

#include "trivet/entry.h"

enum request_kind {
    REQUEST_ENTRY,
    REQUEST_NOW,
    REQUEST_LISTS,
    REQUEST_WHERE,
    REQUEST_RELOAD,
    REQUEST_PIN /* a new PIN: entry (who, by), pin (the one until now), new_pin, by_pin */
};

#define REQUEST_PIN_MAX 63

struct request {
    enum request_kind kind;
    struct entry entry; /* REQUEST_ENTRY; peer_uid is left -1 for the caller to set */
    /* "" = not given. Beside the entry, so that no record can hold them. */
    char pin[REQUEST_PIN_MAX + 1], new_pin[REQUEST_PIN_MAX + 1], by_pin[REQUEST_PIN_MAX + 1];
};

/* line is any bytes. False with what is wrong and what to write; the answer's code is then 400.
 */
bool control_request_read(const char *line, size_t len, struct request *ret, char *reterr,
                          size_t err_size);

#endif
