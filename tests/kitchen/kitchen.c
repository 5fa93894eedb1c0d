/* trivet-kitchen: simulated devices that speak real Modbus, for the demo and the system tests.
 *
 * One thread; the physics moves on whenever somebody asks. Ends on SIGINT or SIGTERM and
 * removes its link. */
#define _GNU_SOURCE /* getopt_long, signalfd */

#include <errno.h>
#include <getopt.h>
#include <inttypes.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "tests/kitchen/physics.h"
#include "tests/kitchen/serve.h"
#include "trivet/clock.h"

/* A pause of this length ends a request that did not come in one piece. */
#define PAUSE_MS 5

struct options {
    const char *rtu_link; /* NULL: no serial line */
    long tcp_port;        /* -1: no TCP */
    int64_t speed;
    uint64_t seed;
    int64_t running_min;
};

struct app {
    struct options options;
    struct clock clock;
    int64_t began_ms;
    int stop_fd;
    struct kitchen kitchen;
    struct units units;
    struct rtu_server rtu;
    struct tcp_server tcp;
};

static const char help[] =
    "Usage: trivet-kitchen [--rtu-link PATH] [--tcp-port N] [--speed N] [--seed N] [--running "
    "MIN]\n"
    "\n"
    "Simulates the probe thermometers of a small kitchen; demo data, not measurements.\n"
    "\n"
    "  --rtu-link PATH  make a serial line (19200 8E1) and link PATH to it\n"
    "  --tcp-port N     listen on 127.0.0.1 port N; 0 takes any and prints it\n"
    "  --speed N        run the physics N times as fast as the clock (1 to 100000, default 1)\n"
    "  --running MIN    the food has been in for so many minutes (0 to 240, default 0)\n"
    "  --seed N         when doors open (default 1); the same seed gives the same day\n";

/* A whole decimal number within bounds. */
static bool
number(const char *option, const char *text, int64_t least, int64_t most, int64_t *ret)
{
    char *end;
    errno = 0;
    const long long value = strtoll(text, &end, 10);
    if (errno == 0 && end != text && *end == '\0' && value >= least && value <= most) {
        *ret = value;
        return true;
    }
    (void)fprintf(stderr,
                  "trivet-kitchen: --%s takes a number from %" PRId64 " to %" PRId64
                  ", not '%s'\n",
                  option, least, most, text);
    return false;
}

/* Returns -1 to go on, or the exit status. */
static int
read_options(int argc, char **argv, struct options *ret)
{
    static const struct option known[] = {
        {"rtu-link", required_argument, NULL, 'r'},
        {"tcp-port", required_argument, NULL, 't'},
        {"speed", required_argument, NULL, 's'},
        {"seed", required_argument, NULL, 'e'},
        {"running", required_argument, NULL, 'w'},
        {"help", no_argument, NULL, 'h'},
        {NULL, 0, NULL, 0},
    };
    int64_t value = 0;
    int option;
    *ret = (struct options){.tcp_port = -1, .speed = 1, .seed = 1};
    while ((option = getopt_long(argc, argv, "", known, NULL)) != -1) {
        bool right = true;
        switch (option) {
        case 'r':
            ret->rtu_link = optarg;
            break;
        case 't':
            right = number("tcp-port", optarg, 0, 65535, &value);
            ret->tcp_port = (long)value;
            break;
        case 's':
            right = number("speed", optarg, 1, 100000, &ret->speed);
            break;
        case 'e':
            right = number("seed", optarg, 0, INT64_MAX, &value);
            ret->seed = (uint64_t)value;
            break;
        case 'w':
            right = number("running", optarg, 0, 240, &ret->running_min);
            break;
        case 'h':
            (void)fputs(help, stdout);
            return 0;
        default:
            right = false;
        }
        if (!right)
            return 2;
    }
    if (optind < argc || (ret->rtu_link == NULL && ret->tcp_port < 0)) {
        (void)fputs(help, stderr);
        return 2;
    }
    return -1;
}

static bool
open_all(struct app *app)
{
    char why[400];
    sigset_t ends;
    (void)sigemptyset(&ends);
    (void)sigaddset(&ends, SIGINT);
    (void)sigaddset(&ends, SIGTERM);
    (void)sigprocmask(SIG_BLOCK, &ends, NULL);
    (void)signal(SIGPIPE, SIG_IGN);
    app->stop_fd = signalfd(-1, &ends, SFD_CLOEXEC);
    if (app->stop_fd < 0 || !units_init(&app->units)) {
        (void)fprintf(stderr, "trivet-kitchen: cannot start (%s)\n", strerror(errno));
        return false;
    }
    if ((app->options.rtu_link != NULL &&
         !rtu_open(&app->rtu, app->units.rtu, app->options.rtu_link, why, sizeof why)) ||
        (app->options.tcp_port >= 0 &&
         !tcp_open(&app->tcp, app->units.tcp, (uint16_t)app->options.tcp_port, why,
                   sizeof why))) {
        (void)fprintf(stderr, "trivet-kitchen: %s\n", why);
        return false;
    }
    return true;
}

static void
say_ready(const struct app *app)
{
    (void)printf("ready");
    if (app->options.rtu_link != NULL)
        (void)printf(" rtu=%s", app->options.rtu_link);
    if (app->options.tcp_port >= 0)
        (void)printf(" tcp=127.0.0.1:%u", (unsigned)app->tcp.port);
    (void)printf(" speed=%" PRId64 " seed=%" PRIu64 "\n", app->options.speed,
                 app->options.seed);
    (void)fflush(stdout);
}

static void
move_on(struct app *app)
{
    const int64_t real_ms = clock_mono_ms(&app->clock) - app->began_ms;
    kitchen_advance(&app->kitchen,
                    app->options.running_min * 60000 + real_ms * app->options.speed);
    units_update(&app->units, &app->kitchen);
}

static bool
ready(const struct pollfd *fd)
{
    return (fd->revents & (POLLIN | POLLERR | POLLHUP)) != 0;
}

static void
serve(struct app *app)
{
    struct pollfd fds[3 + SERVE_CLIENTS_MAX];
    int wait_ms = -1;
    for (;;) {
        fds[0] = (struct pollfd){.fd = app->stop_fd, .events = POLLIN};
        fds[1] = (struct pollfd){.fd = app->rtu.line_fd, .events = POLLIN};
        fds[2] = (struct pollfd){.fd = app->tcp.listen_fd, .events = POLLIN};
        for (size_t i = 0; i < SERVE_CLIENTS_MAX; i++)
            fds[3 + i] = (struct pollfd){.fd = app->tcp.clients[i], .events = POLLIN};
        const int some = poll(fds, sizeof fds / sizeof *fds, wait_ms);
        if (some < 0 && errno != EINTR)
            return;
        if (some > 0 && ready(&fds[0]))
            return;
        move_on(app);
        if (some <= 0) {
            rtu_pause(&app->rtu);
            wait_ms = -1;
            continue;
        }
        if (ready(&fds[1]))
            wait_ms = rtu_readable(&app->rtu) ? PAUSE_MS : -1;
        for (size_t i = 0; i < SERVE_CLIENTS_MAX; i++)
            if (app->tcp.clients[i] >= 0 && ready(&fds[3 + i]))
                tcp_readable(&app->tcp, i);
        if (ready(&fds[2]))
            tcp_accept(&app->tcp);
    }
}

int
main(int argc, char **argv)
{
    static struct app app = {.rtu = {.line_fd = -1, .other_fd = -1}, .tcp = {.listen_fd = -1}};
    for (size_t i = 0; i < SERVE_CLIENTS_MAX; i++)
        app.tcp.clients[i] = -1;
    for (size_t i = 0; i < SERVE_UNITS; i++)
        app.rtu.stations[i].near_fd = app.rtu.stations[i].far_fd = -1;
    const int status = read_options(argc, argv, &app.options);
    if (status >= 0)
        return status;
    app.clock = clock_machine();
    kitchen_begin(&app.kitchen, app.options.seed);
    const bool open = open_all(&app);
    if (open) {
        app.began_ms = clock_mono_ms(&app.clock);
        move_on(&app);
        say_ready(&app);
        serve(&app);
    }
    tcp_close(&app.tcp);
    rtu_close(&app.rtu);
    units_done(&app.units);
    return open ? 0 : 1;
}
