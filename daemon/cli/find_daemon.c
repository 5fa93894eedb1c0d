/* Whether the running daemon has a bus. See find_daemon.h. */
#define _DEFAULT_SOURCE /* NI_MAXHOST */

#include "daemon/cli/find_daemon.h"

#include <jansson.h>
#include <limits.h>
#include <netdb.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#include "daemon/cli/client.h"

/* The daemon's plan as it stands in its file; NULL when there is none to be had. */
static struct plan *
daemons_plan(const struct cli *cli)
{
    char why[300];
    json_t *answer = NULL, *request = json_pack("{s:s}", "do", "where");
    struct plan *plan = NULL;
    if (request != NULL &&
        client_ask(cli->socket, request, &answer, why, sizeof why) == CLIENT_ANSWERED) {
        const char *path =
            json_string_value(json_object_get(json_object_get(answer, "where"), "plan"));
        struct plan_faults *faults = malloc(sizeof *faults);
        if (path != NULL && faults != NULL)
            plan = plan_load(path, faults);
        free(faults);
        json_decref(answer);
    }
    json_decref(request);
    return plan;
}

/* One device can have several names: /dev/serial/by-id/... and /dev/ttyUSB0. */
static bool
same_device(const char *a, const char *b)
{
    char *whole_a = realpath(a, NULL), *whole_b = realpath(b, NULL);
    const bool same = whole_a != NULL && whole_b != NULL && strcmp(whole_a, whole_b) == 0;
    free(whole_a);
    free(whole_b);
    return same || strcmp(a, b) == 0;
}

static bool
address_of(const char *host, char *ret, size_t size)
{
    const struct addrinfo hints = {.ai_socktype = SOCK_STREAM};
    struct addrinfo *found = NULL;
    if (getaddrinfo(host, NULL, &hints, &found) != 0)
        return false;
    const bool good = getnameinfo(found->ai_addr, found->ai_addrlen, ret, (socklen_t)size, NULL,
                                  0, NI_NUMERICHOST) == 0;
    freeaddrinfo(found);
    return good;
}

static bool
same_host(const char *a, const char *b)
{
    char address_a[NI_MAXHOST], address_b[NI_MAXHOST];
    if (strcmp(a, b) == 0)
        return true;
    return address_of(a, address_a, sizeof address_a) &&
           address_of(b, address_b, sizeof address_b) && strcmp(address_a, address_b) == 0;
}

static bool
same_bus(const struct plan_bus *a, const struct plan_bus *b)
{
    if (a->driver == BUS_MODBUS_RTU)
        return b->device != NULL && same_device(a->device, b->device);
    return b->host != NULL && a->port == b->port && same_host(a->host, b->host);
}

bool
find_daemon_reads(const struct cli *cli, const struct plan_bus *bus,
                  char ret_id[PLAN_ID_MAX + 1])
{
    struct plan *plan = daemons_plan(cli);
    bool reads = false;
    for (size_t i = 0; plan != NULL && i < plan->bus_count && !reads; i++) {
        reads = same_bus(bus, &plan->buses[i]);
        if (reads)
            (void)snprintf(ret_id, PLAN_ID_MAX + 1, "%s", plan->buses[i].id);
    }
    plan_free(plan);
    return reads;
}
