/* The web server's start and end. One server thread (libmicrohttpd, poll mode), two desks that
 * read the store, one thread that keeps event streams alive. It changes nothing anywhere: there
 * is no way in. Does not log. */
#include "trivet/web.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "desk.h"
#include "events.h"
#include "own.h"
#include "request.h"

/* ---- the socket ---- */

union address {
    struct sockaddr any;
    struct sockaddr_in v4;
    struct sockaddr_in6 v6;
};

static bool
read_address(const char *text, uint16_t port, union address *ret, socklen_t *ret_len)
{
    memset(ret, 0, sizeof *ret);
    if (inet_pton(AF_INET, text, &ret->v4.sin_addr) == 1) {
        ret->v4.sin_family = AF_INET;
        ret->v4.sin_port = htons(port);
        *ret_len = sizeof ret->v4;
        return true;
    }
    if (inet_pton(AF_INET6, text, &ret->v6.sin6_addr) != 1)
        return false;
    ret->v6.sin6_family = AF_INET6;
    ret->v6.sin6_port = htons(port);
    *ret_len = sizeof ret->v6;
    return true;
}

static const char *
listen_advice(int error)
{
    switch (error) {
    case EADDRINUSE:
        return "another program, perhaps another trivetd, has this port; stop it or choose "
               "another port in the plan "
               "(web: port)";
    case EACCES:
        return "this port needs more rights; choose one above 1023 in the plan (web: port)";
    case EADDRNOTAVAIL:
        return "this machine does not have that address; write one that `ip address` shows in "
               "the plan (web: listen)";
    }
    return "check web: listen and web: port in the plan";
}

static int
open_socket(const char *listen_on, uint16_t port, uint16_t *ret_port, char *reterr,
            size_t err_size)
{
    union address address;
    socklen_t len;
    if (!read_address(listen_on, port, &address, &len)) {
        (void)snprintf(
            reterr, err_size,
            "cannot serve the page on '%s': not a numeric address; write one such as 127.0.0.1",
            listen_on);
        return -1;
    }
    int on = 1;
    int fd = socket(address.any.sa_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0 || setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) != 0 ||
        bind(fd, &address.any, len) != 0 || listen(fd, 128) != 0 ||
        getsockname(fd, &address.any, &len) != 0) {
        int error = errno;
        (void)snprintf(reterr, err_size, "cannot serve the page on %s port %u: %s", listen_on,
                       (unsigned)port, listen_advice(error));
        if (fd >= 0)
            (void)close(fd);
        return -1;
    }
    *ret_port =
        ntohs(address.any.sa_family == AF_INET ? address.v4.sin_port : address.v6.sin6_port);
    return fd;
}

/* ---- start and stop ---- */

static void
web_free(struct web *web)
{
    if (web->now_page.response != NULL)
        MHD_destroy_response(web->now_page.response);
    if (web->now_json.response != NULL)
        MHD_destroy_response(web->now_json.response);
    desk_free(web->pages);
    desk_free(web->exports);
    events_free(web->events);
    for (size_t i = 0; web->names[i] != NULL; i++)
        free(web->names[i]);
    free(web->listen);
    free(web->directory);
    free(web->version);
    free(web->temporary);
    free(web);
}

/* Where an export waits to be fetched: on disk, not in memory. */
static const char *
temporary_directory(void)
{
    const char *named = getenv("TMPDIR");
    if (named != NULL && named[0] == '/')
        return named;
    return access("/var/tmp", W_OK) == 0 ? "/var/tmp" : "/tmp";
}

static struct web *
web_new(const struct web_options *options, struct board *board)
{
    struct web *web = calloc(1, sizeof *web);
    if (web == NULL)
        return NULL;
    web->board = board;
    atomic_init(&web->stopping, false);
    atomic_init(&web->export_files, 0);
    web->listen = strdup(options->listen);
    web->directory = strdup(options->directory);
    web->version = strdup(options->version);
    web->temporary = strdup(temporary_directory());
    bool complete = web->listen != NULL && web->directory != NULL && web->version != NULL &&
                    web->temporary != NULL;
    for (size_t i = 0; options->names != NULL && options->names[i] != NULL && i < 8; i++) {
        web->names[i] = strdup(options->names[i]);
        complete = complete && web->names[i] != NULL;
    }
    if (complete)
        return web;
    web_free(web);
    return NULL;
}

static struct MHD_Daemon *
start_server(struct web *web, int fd)
{
    return MHD_start_daemon(MHD_USE_POLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME, 0, NULL,
                            NULL, request_handle, web, MHD_OPTION_LISTEN_SOCKET, fd,
                            MHD_OPTION_CONNECTION_LIMIT, (unsigned)CONNECTIONS_MAX,
                            MHD_OPTION_PER_IP_CONNECTION_LIMIT,
                            (unsigned)CONNECTIONS_PER_IP_MAX, MHD_OPTION_CONNECTION_TIMEOUT,
                            (unsigned)CONNECTION_TIMEOUT_S, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
                            (size_t)CONNECTION_BYTES, MHD_OPTION_URI_LOG_CALLBACK,
                            request_begin, web, MHD_OPTION_NOTIFY_COMPLETED, request_completed,
                            web, MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_END);
}

static void
close_doors(struct web *web)
{
    atomic_store(&web->stopping, true);
    if (web->events != NULL)
        events_close(web->events);
    if (web->pages != NULL)
        desk_close(web->pages);
    if (web->exports != NULL)
        desk_close(web->exports);
}

struct web *
web_start(const struct web_options *options, struct board *board, char *reterr, size_t err_size)
{
    struct web *web = web_new(options, board);
    uint16_t port = 0;
    int fd = -1;
    if (web != NULL) {
        fd = open_socket(web->listen, options->port, &port, reterr, err_size);
        if (fd < 0) {
            web_free(web);
            return NULL;
        }
        web->host = (struct host_rule){
            .listen = web->listen, .port = port, .names = (const char *const *)web->names};
        web->events = events_new(board);
        web->pages = desk_new(web->directory, PAGES_WAITING_MAX);
        web->exports = desk_new(web->directory, EXPORTS_WAITING_MAX);
        if (web->events != NULL && web->pages != NULL && web->exports != NULL)
            web->daemon = start_server(web, fd);
    }
    if (web != NULL && web->daemon != NULL)
        return web;
    (void)snprintf(reterr, err_size,
                   "cannot start the page: too little memory or too many threads on this "
                   "machine; free some");
    if (fd >= 0)
        (void)close(fd);
    if (web != NULL) {
        close_doors(web);
        web_free(web);
    }
    return NULL;
}

void
web_stop(struct web *web)
{
    if (web == NULL)
        return;
    /* The order matters: MHD_stop_daemon aborts the process when a connection is suspended. */
    close_doors(web);
    MHD_stop_daemon(web->daemon); /* also closes the socket */
    web_free(web);
}

uint16_t
web_port(const struct web *web)
{
    return web->host.port;
}
