/* Reads one line of the control protocol. Pure: no descriptors, no clock. docs/control.md is
 * the protocol. */
#ifndef CONTROL_REQUEST_H
#define CONTROL_REQUEST_H

#include <stdbool.h>
#include <stddef.h>

#include "trivet/entry.h"

enum request_kind { REQUEST_ENTRY, REQUEST_NOW, REQUEST_LISTS, REQUEST_WHERE, REQUEST_RELOAD };

struct request {
    enum request_kind kind;
    struct entry entry; /* REQUEST_ENTRY; peer_uid is left -1 for the caller to set */
};

/* line is any bytes. False with what is wrong and what to write; the answer's code is then 400.
 */
bool control_request_read(const char *line, size_t len, struct request *ret, char *reterr,
                          size_t err_size);

#endif
