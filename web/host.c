/* The Host header against what the plan allows. PURE. */
#include "host.h"

#include <arpa/inet.h>
#include <string.h>
#include <strings.h>

#define HOST_MAX 255

/* Splits "name", "name:port", "[v6]:port"; false when it is none of these. */
static bool
split(const char *host, char name[HOST_MAX + 1], int32_t *ret_port)
{
    const char *end = host + strlen(host), *name_end = end;
    bool bracket = host[0] == '[';
    if (bracket) {
        host++;
        name_end = strchr(host, ']');
        if (name_end == NULL)
            return false;
    } else if (strchr(host, ':') != NULL) {
        name_end = strchr(host, ':');
    }
    size_t len = (size_t)(name_end - host);
    if (len == 0 || len > HOST_MAX)
        return false;
    memcpy(name, host, len);
    name[len] = '\0';
    const char *rest = name_end + (bracket ? 1 : 0);
    *ret_port = -1;
    if (*rest == '\0')
        return true;
    if (*rest++ != ':' || *rest == '\0' || strlen(rest) > 5)
        return false;
    *ret_port = 0;
    for (; *rest >= '0' && *rest <= '9'; rest++)
        *ret_port = *ret_port * 10 + (*rest - '0');
    return *rest == '\0';
}

static bool
same_address(const char *a, const char *b)
{
    struct in6_addr a6, b6;
    struct in_addr a4, b4;
    if (inet_pton(AF_INET, a, &a4) == 1)
        return inet_pton(AF_INET, b, &b4) == 1 && a4.s_addr == b4.s_addr;
    return inet_pton(AF_INET6, a, &a6) == 1 && inet_pton(AF_INET6, b, &b6) == 1 &&
           memcmp(&a6, &b6, sizeof a6) == 0;
}

static bool
is_numeric(const char *name)
{
    struct in6_addr any;
    return inet_pton(AF_INET, name, &any) == 1 || inet_pton(AF_INET6, name, &any) == 1;
}

bool
host_allowed(const struct host_rule *rule, const char *host)
{
    char name[HOST_MAX + 1];
    int32_t port;
    if (!split(host, name, &port))
        return false;
    for (size_t i = 0; rule->names != NULL && rule->names[i] != NULL; i++)
        if (strcasecmp(name, rule->names[i]) == 0)
            return true; /* a name may lead through a proxy with its own port */
    if (port != -1 && port != rule->port)
        return false;
    bool on_all = same_address(rule->listen, "0.0.0.0") || same_address(rule->listen, "::");
    bool on_loopback =
        same_address(rule->listen, "127.0.0.1") || same_address(rule->listen, "::1");
    if (strcasecmp(name, "localhost") == 0)
        return on_all || on_loopback;
    /* A numeric Host cannot be rebound: whoever sends it has the address itself. */
    return same_address(name, rule->listen) || (on_all && is_numeric(name));
}
