/* Which Host a request may name. PURE. Guards against DNS rebinding: a foreign name that
 * resolves to us is refused. */
#ifndef WEB_HOST_H
#define WEB_HOST_H

#include <stdbool.h>
#include <stdint.h>

struct host_rule {
    const char *listen;       /* numeric address the server is bound to */
    uint16_t port;            /* as bound */
    const char *const *names; /* further names, NULL-terminated, or NULL */
};

/* Whether the value of a Host header ("kitchen:8470", "[::1]") is ours: the listen address,
 * localhost when it is reachable there, a name of the plan; any numeric address when listening
 * on all. The port may be left out or must be ours. */
bool host_allowed(const struct host_rule *rule, const char *host);

#endif
