/* Modbus TCP on loopback: several units behind one port, as behind a gateway. */
#define _GNU_SOURCE /* accept4 */

#include "tests/kitchen/serve.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* Unit id in a TCP request: behind transaction, protocol and length. */
#define UNIT_AT 6

bool
tcp_open(struct tcp_server *server, const struct unit *units, uint16_t port, char *why,
         size_t why_size)
{
    struct sockaddr_in address;
    socklen_t len = sizeof address;
    *server = (struct tcp_server){.units = units, .listen_fd = -1};
    for (size_t i = 0; i < SERVE_CLIENTS_MAX; i++)
        server->clients[i] = -1;
    server->context = modbus_new_tcp("127.0.0.1", port);
    if (server->context == NULL ||
        modbus_set_indication_timeout(server->context, 0, 200000) != 0) {
        (void)snprintf(why, why_size, "no Modbus server (%s)", modbus_strerror(errno));
        return false;
    }
    server->listen_fd = modbus_tcp_listen(server->context, SERVE_CLIENTS_MAX);
    if (server->listen_fd < 0 ||
        getsockname(server->listen_fd, (struct sockaddr *)&address, &len) != 0) {
        (void)snprintf(why, why_size,
                       "cannot listen on 127.0.0.1 port %u (%s); is another kitchen running? "
                       "Choose another "
                       "--tcp-port, or 0 for any",
                       (unsigned)port, strerror(errno));
        return false;
    }
    server->port = ntohs(address.sin_port);
    return true;
}

void
tcp_close(struct tcp_server *server)
{
    for (size_t i = 0; i < SERVE_CLIENTS_MAX; i++)
        if (server->clients[i] >= 0)
            (void)close(server->clients[i]);
    if (server->listen_fd >= 0)
        (void)close(server->listen_fd);
    modbus_free(server->context); /* accepts NULL */
    server->context = NULL;
}

void
tcp_accept(struct tcp_server *server)
{
    const int fd = accept4(server->listen_fd, NULL, NULL, SOCK_CLOEXEC);
    for (size_t i = 0; fd >= 0 && i < SERVE_CLIENTS_MAX; i++)
        if (server->clients[i] < 0) {
            server->clients[i] = fd;
            return;
        }
    if (fd >= 0)
        (void)close(fd); /* full house */
}

void
tcp_readable(struct tcp_server *server, size_t client)
{
    uint8_t request[MODBUS_TCP_MAX_ADU_LENGTH];
    (void)modbus_set_socket(server->context, server->clients[client]); /* the context is ours */
    const int len = modbus_receive(server->context, request);
    if (len < 0) {
        (void)close(server->clients[client]);
        server->clients[client] = -1;
        return;
    }
    for (size_t i = 0; i < SERVE_UNITS; i++)
        if (len > UNIT_AT && request[UNIT_AT] == server->units[i].id) {
            (void)modbus_reply(server->context, request, len, server->units[i].map);
            return;
        }
    if (len > UNIT_AT) /* as a gateway says it */
        (void)modbus_reply_exception(server->context, request, MODBUS_EXCEPTION_GATEWAY_TARGET);
}
