/* trivetd: start-up order, signals, shutdown. Reads like a table of contents; knows no details.
 */
#define _XOPEN_SOURCE 700 /* realpath */
#include <errno.h>
#include <getopt.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/signalfd.h>
#include <sys/stat.h>
#include <unistd.h>

#include <sodium.h>

#include "daemon/reload.h"
#include "trivet/advice.h"
#include "trivet/clock.h"
#include "trivet/control.h"
#include "trivet/hook.h"
#include "trivet/log.h"
#include "trivet/notify.h"
#include "trivet/plan.h"
#include "trivet/poll.h"
#include "trivet/queue.h"
#include "trivet/recorder.h"
#include "trivet/snapshot.h"
#include "trivet/store.h"
#include "trivet/web.h"

#define QUEUE_CAPACITY 8192
/* A descriptor of 1024 or more aborts the Modbus library: FD_SET. */
#define DESCRIPTORS_MAX 1024

enum exit_code { EXIT_FINE = 0, EXIT_PLAN = 1, EXIT_USAGE = 2, EXIT_START = 3 };

struct options {
    const char *plan;
    bool check_only;
};

/* Everything that runs, in the order it was started. */
struct house {
    const char *file; /* of the plan */
    struct clock clock;
    struct plan *plan;         /* the recorder's once that is made */
    const struct plan *polled; /* the plan in force; the recorder's */
    struct queue *queue;
    struct reload *reload;
    struct board *board;
    atomic_bool ends; /* nobody watches from now on */
    struct hook *hook;
    struct store *store;
    struct recorder *recorder;
    struct poll *poll;
    struct web *web;
    struct control *control;
    struct advice_thread *advice;
    pthread_t recorder_thread;
    bool recorder_runs;
    char page[128];
    char *directory; /* of the store, absolute; the control room borrows it */
};

static const char usage[] = "usage: trivetd [--verbose] PLAN\n"
                            "       trivetd --check PLAN\n"
                            "\n"
                            "Watches the kitchen's probes by its HACCP plan (a YAML file; see "
                            "trivet-plan(5)).\n"
                            "\n"
                            "  --check     read the plan, say every fault in it, and end\n"
                            "  --profiles DIR   where the profiles of published limits are\n"
                            "  --verbose   log more\n"
                            "  --version   say the version\n"
                            "  --help      this text\n"
                            "\n"
                            "Exit codes: 0 a clean end, 1 the plan has faults, 2 wrong usage, "
                            "3 something could not be started.\n";

/* Returns -1 to go on, else an exit code. */
static int
read_options(int argc, char **argv, struct options *ret)
{
    static const struct option longs[] = {
        {"check", no_argument, NULL, 'c'},   {"profiles", required_argument, NULL, 'p'},
        {"verbose", no_argument, NULL, 'v'}, {"version", no_argument, NULL, 'V'},
        {"help", no_argument, NULL, 'h'},    {NULL, 0, NULL, 0},
    };
    for (int c; (c = getopt_long(argc, argv, "cp:vVh", longs, NULL)) != -1;) {
        switch (c) {
        case 'c':
            ret->check_only = true;
            break;
        case 'p':
            if (setenv("TRIVET_PROFILES", optarg, 1) != 0) { /* no thread runs yet */
                (void)fputs("trivetd: no memory\n", stderr);
                return EXIT_USAGE;
            }
            break;
        case 'v':
            log_set_level(LOG_DEBUG);
            break;
        case 'V':
            (void)printf("trivetd %s\n", TRIVET_VERSION);
            return EXIT_FINE;
        case 'h':
            (void)fputs(usage, stdout);
            return EXIT_FINE;
        default:
            (void)fputs(usage, stderr);
            return EXIT_USAGE;
        }
    }
    if (optind + 1 != argc) {
        (void)fputs(usage, stderr);
        return EXIT_USAGE;
    }
    ret->plan = argv[optind];
    return -1;
}

static struct plan *
load_plan(const char *file)
{
    static struct plan_faults faults;
    static char text[PLAN_FAULTS_TOLD_MAX * 512];
    struct plan *plan = plan_load(file, &faults);
    if (plan != NULL)
        return plan;
    size_t len = plan_faults_text(&faults, file, text, sizeof text);
    (void)fwrite(text, 1, len, stderr);
    (void)fprintf(stderr, "%s has %zu fault%s; nothing was started.\n", file, faults.count,
                  faults.count == 1 ? "" : "s");
    return NULL;
}

/* The directory of the records is made when its parent exists; what else is wrong, the store
 * says. */
static void
make_directory(const char *directory)
{
    if (mkdir(directory, 0750) == 0)
        log_line(LOG_INFO, "store", "made the directory %s", directory);
}

static void
limit_descriptors(void)
{
    struct rlimit limit;
    if (getrlimit(RLIMIT_NOFILE, &limit) == 0 && limit.rlim_cur != DESCRIPTORS_MAX &&
        limit.rlim_max >= DESCRIPTORS_MAX) {
        limit.rlim_cur = DESCRIPTORS_MAX;
        (void)setrlimit(RLIMIT_NOFILE, &limit);
    }
}

/* ---- start-up, in order; each step may fail with a reason ---- */

static bool
open_store(struct house *house)
{
    struct store_error error;
    make_directory(house->plan->records.directory);
    house->store = store_open(house->plan->records.directory, NULL, &error);
    if (house->store == NULL)
        log_line(LOG_ERROR, "store", "%s", error.text);
    return house->store != NULL;
}

static bool
start_recorder(struct house *house)
{
    char why[600];
    struct recorder_parts parts = {
        .plan = house->plan,
        .store = house->store,
        .directory = house->plan->records.directory,
        .clock = house->clock,
        .board = house->board,
        .hook = house->hook,
    };
    house->recorder = recorder_new(&parts, why, sizeof why);
    if (house->recorder == NULL) {
        house->plan = NULL; /* the recorder has freed it */
        log_line(LOG_ERROR, "recorder", "%s", why);
    }
    return house->recorder != NULL;
}

/* Bus threads: the newest snapshot says; at our end everything is something to tell. */
static bool
needs_signal(void *arg, enum signal_shows shows)
{
    struct house *house = arg;
    if (atomic_load(&house->ends))
        return true;
    struct snapshot *snapshot = board_take(house->board);
    const bool needs = snapshot_needs_signal(snapshot, shows, board_now_ms(house->board));
    snapshot_release(snapshot);
    return needs;
}

static bool
start_poll(struct house *house, const struct plan *plan)
{
    struct driver_error error;
    house->polled = plan;
    house->poll = poll_start(plan, house->queue, &house->clock, needs_signal, house, &error);
    if (house->poll == NULL)
        log_line(LOG_ERROR, "poll", "%s", error.text);
    return house->poll != NULL;
}

static bool
start_web(struct house *house)
{
    const struct plan_web *config = &house->plan->web;
    char why[300];
    if (!config->enabled)
        return true;
    struct web_options options = {
        .listen = config->listen,
        .port = config->port,
        .names = config->names,
        .directory = house->plan->records.directory,
        .version = TRIVET_VERSION,
    };
    house->web = web_start(&options, house->board, why, sizeof why);
    if (house->web == NULL) {
        log_line(LOG_ERROR, "web", "%s", why);
        return false;
    }
    bool is_v6 = strchr(config->listen, ':') != NULL;
    (void)snprintf(house->page, sizeof house->page, is_v6 ? "http://[%s]:%u/" : "http://%s:%u/",
                   config->listen, web_port(house->web));
    log_line(LOG_INFO, "web", "the page is at %s", house->page);
    return true;
}

static bool
start_control(struct house *house)
{
    char why[300];
    house->directory = realpath(house->plan->records.directory, NULL);
    struct control_options options = {
        .path = house->plan->records.socket,
        .directory =
            house->directory == NULL ? house->plan->records.directory : house->directory,
        .page = house->page,
        .version = TRIVET_VERSION,
        .reload = reload_ask,
        .reload_arg = house->reload,
    };
    house->control = control_start(&options, house->queue, house->board, why, sizeof why);
    if (house->control == NULL)
        log_line(LOG_ERROR, "control", "%s", why);
    return house->control != NULL;
}

static void *
recorder_main(void *arg)
{
    struct house *house = arg;
    recorder_run(house->recorder, house->queue);
    return NULL;
}

static bool
run_recorder(struct house *house)
{
    house->recorder_runs =
        pthread_create(&house->recorder_thread, NULL, recorder_main, house) == 0;
    if (!house->recorder_runs)
        log_line(LOG_ERROR, "recorder",
                 "its thread cannot be started; free some memory and try again");
    return house->recorder_runs;
}

/* A kitchen is better watched without forecasts than not at all. */
static void
start_advice(struct house *house)
{
    char why[300];
    house->advice = advice_start(recorder_plan(house->recorder)->records.directory,
                                 house->board, house->queue, why, sizeof why);
    if (house->advice == NULL)
        log_line(LOG_ERROR, "advice", "%s; there will be no forecasts", why);
}

static bool
start(struct house *house)
{
    house->clock = clock_machine();
    house->queue = queue_new(QUEUE_CAPACITY);
    house->board = board_new();
    if (house->queue == NULL || house->board == NULL)
        return false;
    house->reload = reload_new(house->file, house->queue, &house->clock);
    house->hook = hook_start(house->queue, &house->clock);
    /* Buses come before the web server: their descriptors have to stay below 1024. */
    bool up = house->hook != NULL && house->reload != NULL && open_store(house) &&
              start_recorder(house) && start_poll(house, recorder_plan(house->recorder)) &&
              start_web(house) && start_control(house);
    if (up)
        start_advice(house);
    return up && run_recorder(house);
}

/* The other way round: first nothing new comes in, then what came is recorded. */
static void
stop(struct house *house)
{
    control_stop(house->control);
    atomic_store(&house->ends, true);
    poll_stop(house->poll);
    advice_stop(house->advice);
    if (house->recorder_runs) {
        (void)queue_post(house->queue, &(struct message){.kind = MESSAGE_STOP});
        (void)pthread_join(house->recorder_thread, NULL);
    }
    reload_free(house->reload);
    web_stop(house->web);
    hook_stop(house->hook);
    board_free(house->board);
    if (house->recorder != NULL)
        recorder_free(house->recorder);
    else
        plan_free(house->plan);
    store_close(house->store);
    queue_free(house->queue);
    free(house->directory);
}

/* Blocks the signals that are for us in every thread; they arrive at a descriptor. */
static int
signals(void)
{
    sigset_t ours;
    (void)sigemptyset(&ours);
    (void)sigaddset(&ours, SIGINT);
    (void)sigaddset(&ours, SIGTERM);
    (void)sigaddset(&ours, SIGHUP);
    (void)pthread_sigmask(SIG_BLOCK, &ours, NULL);
    (void)signal(SIGPIPE, SIG_IGN);
    return signalfd(-1, &ours, SFD_CLOEXEC);
}

/* The service manager hears that we live only while the recorder does: it is the one without
 * which nothing is judged or kept. */
static void
prove_life(struct notify *notify, const struct recorder *recorder, unsigned *stalled)
{
    bool lives = notify_alive(notify, recorder_heartbeat(recorder));
    *stalled = lives ? 0 : *stalled + 1;
    if (*stalled == 2)
        log_line(LOG_ERROR, "main",
                 "the recorder stands still; the service manager restarts us if it goes on");
}

static void
say_watching(const struct house *house, const struct notify *notify)
{
    char status[400];
    (void)snprintf(status, sizeof status, "Watches '%.200s': %zu probes on %zu buses%s%s",
                   house->polled->site_name, house->polled->probe_count,
                   house->polled->bus_count, house->page[0] == '\0' ? "" : ", page at ",
                   house->page);
    (void)notify_say(notify, "READY=1", status);
}

/* The lines of the new plan are polled instead of the old ones. False when that cannot be. */
static bool
follow_plan(struct house *house, const struct notify *notify)
{
    const struct plan *plan = reload_taken(house->reload);
    if (plan == NULL)
        return true;
    poll_stop(house->poll);
    house->poll = NULL;
    if (!start_poll(house, plan))
        return false;
    say_watching(house, notify);
    return true;
}

/* SIGHUP reads the plan again; any other signal ends us. */
static bool
take_signal(struct house *house, int signal_fd)
{
    struct signalfd_siginfo info;
    ssize_t got = read(signal_fd, &info, sizeof info);
    if (got == (ssize_t)sizeof info && info.ssi_signo == SIGHUP) {
        log_line(LOG_INFO, "plan", "asked by a signal to read %s again", house->file);
        reload_run(house->reload, true);
        return true;
    }
    log_line(LOG_INFO, "main", "asked to end by signal %u, stopping",
             got == (ssize_t)sizeof info ? info.ssi_signo : 0);
    return false;
}

/* Until a signal asks to end: true; or a plan in force cannot be polled: false. */
static bool
await_end(struct house *house, int signal_fd, struct notify *notify)
{
    struct pollfd fds[] = {{.fd = signal_fd, .events = POLLIN},
                           {.fd = reload_fd(house->reload), .events = POLLIN}};
    unsigned stalled = 0;
    while (signal_fd >= 0) {
        int ready = poll(fds, sizeof fds / sizeof fds[0], notify_pause_ms(notify));
        if (ready <= 0) {
            prove_life(notify, house->recorder, &stalled);
            continue;
        }
        if (fds[0].revents != 0 && !take_signal(house, signal_fd))
            return true;
        if (fds[1].revents != 0)
            reload_run(house->reload, false);
        if (!follow_plan(house, notify))
            return false;
    }
    return true;
}

static bool
watch(struct house *house, int signal_fd, struct notify *notify)
{
    log_line(LOG_INFO, "main", "trivetd %s watches '%s'", TRIVET_VERSION,
             house->polled->site_name);
    say_watching(house, notify);
    bool asked = await_end(house, signal_fd, notify);
    (void)notify_say(notify, "STOPPING=1", "Writing what is left");
    return asked;
}

/* The plan's path as others can find it, from wherever they are. */
static const char *
absolute(const char *file)
{
    static char path[4096];
    char here[2048];
    if (file[0] == '/' || getcwd(here, sizeof here) == NULL ||
        snprintf(path, sizeof path, "%s/%s", here, file) >= (int)sizeof path)
        return file;
    return path;
}

int
main(int argc, char **argv)
{
    struct options options = {.plan = NULL};
    int code = read_options(argc, argv, &options);
    if (code >= 0)
        return code;
    log_meet_journal();
    if (sodium_init() < 0) {
        log_line(LOG_ERROR, "main", "the cryptographic library cannot start");
        return EXIT_START;
    }
    static struct house house;
    house.file = options.check_only ? options.plan : absolute(options.plan);
    house.plan = load_plan(house.file);
    if (house.plan == NULL)
        return EXIT_PLAN;
    if (options.check_only) {
        (void)printf("%s is in order: %zu probes on %zu buses, %zu places, %zu products.\n",
                     options.plan, house.plan->probe_count, house.plan->bus_count,
                     house.plan->place_count, house.plan->product_count);
        plan_free(house.plan);
        return EXIT_FINE;
    }
    int signal_fd = signals();
    limit_descriptors();
    struct notify notify;
    char why[300];
    if (!notify_open(&notify, why, sizeof why))
        log_line(LOG_WARN, "main", "%s", why);
    bool up = start(&house);
    if (up)
        up = watch(&house, signal_fd, &notify);
    stop(&house);
    notify_close(&notify);
    (void)close(signal_fd);
    return up ? EXIT_FINE : EXIT_START;
}
