/* The read-only page: GET and HEAD, nothing else. It holds a board and opens its own read-only
 * store connections. */
#ifndef TRIVET_WEB_H
#define TRIVET_WEB_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/snapshot.h"

struct web_options {
    const char *listen;       /* numeric address */
    uint16_t port;            /* 0 = any free one; see web_port */
    const char *const *names; /* further Host names answered, NULL-terminated; or NULL */
    const char *directory;    /* of the store */
    const char *version;
};

struct web;
struct web *web_start(const struct web_options *options, struct board *board, char *reterr,
                      size_t err_size);
void web_stop(struct web *web); /* accepts NULL */
uint16_t web_port(const struct web *web);

#endif
