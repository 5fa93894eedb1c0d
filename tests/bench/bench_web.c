/* Requests a second for the status JSON and the page of now, each against a constant response
 * of the same size from bare libmicrohttpd in the same run; both servers in children, a client
 * of keep-alive connections here.
 *
 *   bench_web [seconds of one measure, in tenths] [repeats]
 *
 * The client shares the machine with the server. So the ratio is also given for the processor
 * time that the server itself took, in which the client has no part. A new snapshot is
 * published each second, as from a living kitchen. */
#define _GNU_SOURCE /* memmem */

#include <arpa/inet.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>

#include "tests/bench/bench.h"
#include "trivet/log.h"
#include "trivet/recorder.h"
#include "trivet/web.h"

#define PROBES      16
#define CLIENTS     16
#define HEADERS_MAX 4096

struct client {
    int fd;
    size_t have, want; /* of the reply; want 0 = its headers are not whole */
    char headers[HEADERS_MAX];
};

struct server {
    pid_t pid;
    uint16_t port;
    clockid_t processor;
};

struct load {
    double per_s, per_processor_s;
    size_t body;
};

/* ---- servers ---- */

/* Tells the port and ends with the parent. */
static void
tell_port(int to, uint16_t port)
{
    if (write(to, &port, sizeof port) != (ssize_t)sizeof port)
        _exit(1);
}

static enum MHD_Result
answer_same(void *arg, struct MHD_Connection *connection, const char *url, const char *method,
            const char *version, const char *upload, size_t *upload_size, void **state)
{
    (void)url, (void)method, (void)version, (void)upload, (void)upload_size;
    if (*state ==
        NULL) { /* a reply in the first call, with the headers, would close the line */
        *state = arg;
        return MHD_YES;
    }
    return MHD_queue_response(connection, MHD_HTTP_OK, arg);
}

static void
serve_constant(int tell_fd, size_t size)
{
    char *body = malloc(size + 1);
    if (body == NULL)
        _exit(1);
    memset(body, 'x', size);
    struct MHD_Response *response =
        MHD_create_response_from_buffer(size, body, MHD_RESPMEM_PERSISTENT);
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    struct MHD_Daemon *daemon =
        MHD_start_daemon(MHD_USE_POLL_INTERNAL_THREAD, 0, NULL, NULL, answer_same, response,
                         MHD_OPTION_SOCK_ADDR, (struct sockaddr *)&at, MHD_OPTION_END);
    const union MHD_DaemonInfo *info =
        daemon == NULL ? NULL : MHD_get_daemon_info(daemon, MHD_DAEMON_INFO_BIND_PORT);
    if (info == NULL)
        _exit(1);
    tell_port(tell_fd, info->port);
    for (;;)
        (void)pause();
}

static void
read_all_probes(struct recorder *recorder, const struct clock *clock, int32_t temp_mC)
{
    struct message messages[PROBES];
    for (int i = 0; i < PROBES; i++)
        messages[i] = (struct message){
            .kind = MESSAGE_READING,
            .born_ms = clock_mono_ms(clock),
            .is.reading = {.probe = (uint16_t)(i + 1), .temp_mC = temp_mC + 100 * i}};
    recorder_take(recorder, messages, PROBES);
}

static void
serve_ours(int tell_fd, const char *directory)
{
    const struct bench_kitchen kitchen = {
        .probes = PROBES, .buses = 1, .limited = PROBES, .first_port = 15020, .every_ms = 1000};
    struct store_error error;
    char why[600];
    const struct clock clock = clock_machine();
    struct board *board = board_new();
    struct store *store = store_open(directory, NULL, &error);
    if (store == NULL || board == NULL)
        _exit(1);
    const struct recorder_parts parts = {.plan = bench_plan(&kitchen),
                                         .store = store,
                                         .directory = directory,
                                         .clock = clock,
                                         .board = board};
    const struct web_options options = {
        .listen = "127.0.0.1", .directory = directory, .version = "bench"};
    struct recorder *recorder = recorder_new(&parts, why, sizeof why);
    struct web *web = recorder == NULL ? NULL : web_start(&options, board, why, sizeof why);
    if (web == NULL) {
        (void)fprintf(stderr, "bench: %s\n", why);
        _exit(1);
    }
    read_all_probes(recorder, &clock, 3000);
    tell_port(tell_fd, web_port(web));
    for (int32_t second = 0;; second++) {
        (void)poll(NULL, 0, 1000);
        read_all_probes(recorder, &clock, 3000 + second % 20);
    }
}

/* size 0: ours; otherwise a constant body of that size. */
static struct server
start_server(const char *directory, size_t size)
{
    int ends[2];
    struct server server = {0};
    if (pipe(ends) != 0)
        bench_give_up("no pipe");
    server.pid = fork();
    if (server.pid == 0) {
        (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
        (void)close(ends[0]);
        if (size == 0)
            serve_ours(ends[1], directory);
        serve_constant(ends[1], size);
    }
    (void)close(ends[1]);
    if (server.pid < 0 ||
        read(ends[0], &server.port, sizeof server.port) != (ssize_t)sizeof server.port ||
        clock_getcpuclockid(server.pid, &server.processor) != 0)
        bench_give_up("the server did not start");
    (void)close(ends[0]);
    return server;
}

static void
stop_server(const struct server *server)
{
    (void)kill(server->pid, SIGKILL);
    (void)waitpid(server->pid, NULL, 0);
}

static double
processor_s(const struct server *server)
{
    struct timespec used;
    if (clock_gettime(server->processor, &used) != 0)
        bench_give_up("the server has ended");
    return (double)used.tv_sec + (double)used.tv_nsec / 1e9;
}

/* ---- client ---- */

static void
ask(const struct client *client, const char *request)
{
    const size_t len = strlen(request);
    if (send(client->fd, request, len, MSG_NOSIGNAL) != (ssize_t)len)
        bench_give_up("a request could not be sent");
}

/* Looks for the end of the headers and the length they tell. */
static void
read_headers(struct client *client, size_t *ret_body)
{
    static const char length[] = "Content-Length: ";
    const char *end = memmem(client->headers, client->have, "\r\n\r\n", 4);
    if (end == NULL)
        return;
    const char *at = memmem(client->headers, client->have, length, sizeof length - 1);
    if (memcmp(client->headers, "HTTP/1.1 200", 12) != 0 || at == NULL)
        bench_give_up("an unexpected reply: %.60s", client->headers);
    *ret_body = strtoul(at + sizeof length - 1, NULL, 10);
    client->want = (size_t)(end - client->headers) + 4 + *ret_body;
}

/* True when a reply is complete. */
static bool
hear(struct client *client, size_t *ret_body)
{
    static char rest[65536];
    const bool early = client->want == 0;
    char *to = early ? client->headers + client->have : rest;
    const size_t room = early ? sizeof client->headers - client->have : sizeof rest;
    const ssize_t got = recv(client->fd, to, room, 0);
    if (got <= 0)
        bench_give_up("a connection ended");
    client->have += (size_t)got;
    if (early)
        read_headers(client, ret_body);
    if (client->want == 0 || client->have < client->want)
        return false;
    client->have = client->want = 0;
    return true;
}

static void
connect_all(struct client *clients, struct pollfd *fds, uint16_t port)
{
    const struct sockaddr_in at = {.sin_family = AF_INET,
                                   .sin_port = htons(port),
                                   .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    memset(clients, 0, CLIENTS * sizeof *clients);
    for (size_t i = 0; i < CLIENTS; i++) {
        clients[i].fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
        if (clients[i].fd < 0 ||
            connect(clients[i].fd, (const struct sockaddr *)&at, sizeof at) != 0)
            bench_give_up("cannot connect");
        fds[i] = (struct pollfd){.fd = clients[i].fd, .events = POLLIN};
    }
}

static struct load
load(const struct server *server, const char *target, double for_s)
{
    static struct client clients[CLIENTS];
    struct pollfd fds[CLIENTS];
    struct load load = {0};
    char request[200];
    uint64_t done = 0;
    (void)snprintf(request, sizeof request, "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%u\r\n\r\n",
                   target, server->port);
    connect_all(clients, fds, server->port);
    const double began_s = bench_now_s(), used_s = processor_s(server);
    for (size_t i = 0; i < CLIENTS; i++)
        ask(&clients[i], request);
    while (bench_now_s() - began_s < for_s) {
        if (poll(fds, CLIENTS, 1000) <= 0)
            bench_give_up("no reply within a second");
        for (size_t i = 0; i < CLIENTS; i++)
            if (fds[i].revents != 0 && hear(&clients[i], &load.body)) {
                done++;
                ask(&clients[i], request);
            }
    }
    load.per_s = (double)done / (bench_now_s() - began_s);
    load.per_processor_s = (double)done / (processor_s(server) - used_s);
    for (size_t i = 0; i < CLIENTS; i++)
        (void)close(clients[i].fd);
    return load;
}

static void
measure(const char *directory, const char *name, const char *target, double aim, double for_s,
        int repeats)
{
    double wall[BENCH_REPEATS_MAX], own[BENCH_REPEATS_MAX], rate[BENCH_REPEATS_MAX];
    char what[100];
    const struct server ours = start_server(directory, 0);
    const size_t size = load(&ours, target, 0.2).body;
    const struct server bare = start_server(directory, size);
    for (int i = 0; i < repeats; i++) {
        const struct load theirs = load(&bare, "/", for_s), got = load(&ours, target, for_s);
        wall[i] = got.per_s / theirs.per_s;
        own[i] = got.per_processor_s / theirs.per_processor_s;
        rate[i] = got.per_s / 1e3;
    }
    stop_server(&ours);
    stop_server(&bare);
    (void)snprintf(what, sizeof what, "%s (%zu bytes), against a constant reply", name, size);
    bench_row(what, wall, repeats, "x", BENCH_LEAST, aim);
    (void)snprintf(what, sizeof what, "%s, the same by the server's processor time", name);
    bench_row(what, own, repeats, "x", BENCH_NO_AIM, 0);
    bench_row(name, rate, repeats, "thousand requests/s", BENCH_NO_AIM, 0);
}

int
main(int argc, char **argv)
{
    char directory[64];
    const double for_s = (double)bench_argument(argc, argv, 1, 15) / 10.0;
    const int repeats = (int)bench_argument(argc, argv, 2, 5);
    if (repeats > BENCH_REPEATS_MAX)
        bench_give_up("at most %d repeats", BENCH_REPEATS_MAX);
    log_set_level(LOG_ERROR);
    bench_directory(directory, sizeof directory);
    measure(directory, "status JSON", "/now.json", 0.7, for_s, repeats);
    measure(directory, "page of now", "/", 0.5, for_s, repeats);
    bench_remove(directory);
    return 0;
}
