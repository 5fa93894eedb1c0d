/* The whole way at work, in real time: poll threads, queue, recorder, engine and store, with
 * devices on Modbus TCP. How late readings are against their schedule, and how much of a
 * processor it takes: 500 probes at 1 Hz on 20 buses, and as many readings a second as 10 000
 * probes at 1 Hz would make (a plan has at most 1024). Those 10 000 themselves are polled only:
 * poll threads and queue, each probe a device that is asked by itself.
 *
 *   bench_path [seconds] */
#include <arpa/inet.h>
#include <errno.h>
#include <modbus/modbus.h>
#include <netinet/in.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>

#include "tests/bench/bench.h"
#include "trivet/log.h"
#include "trivet/poll.h"
#include "trivet/recorder.h"
#include "trivet/units.h"

#define BUSES_MAX 200
#define LATE_MS   100

/* ---- devices: one thread of a child behind neighbouring ports ---- */

static void
serve(const int *listen_fds, int buses)
{
    static struct pollfd fds[2 * BUSES_MAX];
    uint8_t request[MODBUS_TCP_MAX_ADU_LENGTH];
    modbus_t *context = modbus_new_tcp("127.0.0.1", 0);
    modbus_mapping_t *map = modbus_mapping_new(0, 0, 0, 200);
    for (int i = 0; i < buses; i++) {
        fds[i] = (struct pollfd){.fd = listen_fds[i], .events = POLLIN};
        fds[buses + i] = (struct pollfd){.fd = -1, .events = POLLIN};
    }
    for (int i = 0; i < 200; i++)
        map->tab_input_registers[i] = (uint16_t)(20 + i % 10);
    while (poll(fds, (nfds_t)(2 * buses), -1) >= 0 || errno == EINTR) {
        for (int i = 0; i < buses; i++) {
            if (fds[i].revents != 0)
                fds[buses + i].fd = accept(fds[i].fd, NULL, NULL);
            if (fds[buses + i].fd < 0 || fds[buses + i].revents == 0)
                continue;
            (void)modbus_set_socket(context, fds[buses + i].fd);
            const int len = modbus_receive(context, request);
            if (len > 0) {
                (void)modbus_reply(context, request, len, map);
            } else if (len < 0) {
                (void)close(fds[buses + i].fd);
                fds[buses + i].fd = -1;
            }
        }
    }
    _exit(0);
}

static int
listen_at(int port)
{
    const struct sockaddr_in at = {.sin_family = AF_INET,
                                   .sin_port = htons((uint16_t)port),
                                   .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    const int yes = 1, fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    (void)setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (fd >= 0 && bind(fd, (const struct sockaddr *)&at, sizeof at) == 0 && listen(fd, 4) == 0)
        return fd;
    (void)close(fd);
    return -1;
}

/* Returns the first of as many neighbouring ports that are free. */
static int
listen_all(int buses, int *ret_fds)
{
    for (int first = 20000; first < 32000; first += buses) {
        int got = 0;
        while (got < buses && (ret_fds[got] = listen_at(first + got)) >= 0)
            got++;
        if (got == buses)
            return first;
        while (got > 0)
            (void)close(ret_fds[--got]);
    }
    bench_give_up("no %d neighbouring ports are free", buses);
}

static pid_t
start_devices(int buses, int *ret_first_port)
{
    int fds[BUSES_MAX];
    *ret_first_port = listen_all(buses, fds);
    const pid_t child = fork();
    if (child < 0)
        bench_give_up("cannot fork");
    if (child == 0) {
        (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
        serve(fds, buses);
    }
    for (int i = 0; i < buses; i++)
        (void)close(fds[i]);
    return child;
}

/* ---- what came of it ---- */

struct stored {
    int64_t every_ms;
    int64_t *phase_ms; /* by probe: the earliest within a period */
    double *late_ms;
    size_t count, room, bad;
};

static bool
learn_phase(void *arg, const struct reading *reading)
{
    struct stored *stored = arg;
    int64_t *phase_ms = &stored->phase_ms[reading->probe - 1];
    const int64_t at_ms = reading->at_ms % stored->every_ms;
    stored->room++;
    if (*phase_ms < 0)
        *phase_ms = at_ms;
    /* The earliest on a circle: at most half a period before what is known. */
    else if ((*phase_ms - at_ms + stored->every_ms) % stored->every_ms < stored->every_ms / 2)
        *phase_ms = at_ms;
    return true;
}

static bool
take_lateness(void *arg, const struct reading *reading)
{
    struct stored *stored = arg;
    stored->bad += reading->quality != READING_GOOD;
    const int64_t late_ms = reading->at_ms - stored->phase_ms[reading->probe - 1];
    stored->late_ms[stored->count++] =
        (double)((late_ms % stored->every_ms + stored->every_ms) % stored->every_ms);
    return stored->count < stored->room;
}

static void
look(const char *directory, const struct bench_kitchen *kitchen, struct stored *ret)
{
    struct store_error error;
    struct store_reader *reader = store_reader_open(directory, &error);
    *ret = (struct stored){.every_ms = kitchen->every_ms};
    ret->phase_ms = malloc((size_t)kitchen->probes * sizeof *ret->phase_ms);
    for (int i = 0; i < kitchen->probes && ret->phase_ms != NULL; i++)
        ret->phase_ms[i] = -1;
    if (reader == NULL || ret->phase_ms == NULL ||
        store_each_reading(reader, 0, TIME_NONE, TIME_NEVER, learn_phase, ret, &error) !=
            STORE_OK)
        bench_give_up("the store cannot be read");
    ret->late_ms = calloc(ret->room + 1, sizeof *ret->late_ms);
    if (ret->late_ms == NULL || store_each_reading(reader, 0, TIME_NONE, TIME_NEVER,
                                                   take_lateness, ret, &error) != STORE_OK)
        bench_give_up("the store cannot be read again");
    store_reader_close(reader);
    qsort(ret->late_ms, ret->count, sizeof *ret->late_ms, bench_ascending);
}

/* ---- the run ---- */

struct run {
    struct recorder *recorder;
    struct queue *queue;
};

static void *
record(void *arg)
{
    struct run *run = arg;
    recorder_run(run->recorder, run->queue);
    return NULL;
}

/* Not getrusage: kernels that count by ticks miss short bursts. */
static double
processor_s(void)
{
    struct timespec used;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &used);
    return (double)used.tv_sec + (double)used.tv_nsec / 1e9;
}

/* Returns the processors it took, on average. */
static double
live(const char *directory, const struct bench_kitchen *kitchen, int64_t seconds)
{
    struct store_error error;
    struct driver_error trouble;
    char why[600];
    pthread_t thread;
    const struct clock clock = clock_machine();
    struct board *board = board_new();
    struct store *store = store_open(directory, NULL, &error);
    struct plan *plan = bench_plan(kitchen);
    const struct recorder_parts parts = {
        .plan = plan, .store = store, .directory = directory, .clock = clock, .board = board};
    struct run run = {.queue = queue_new(8192)};
    run.recorder = store == NULL ? NULL : recorder_new(&parts, why, sizeof why);
    if (run.recorder == NULL || run.queue == NULL)
        bench_give_up("%s", store == NULL ? error.text : why);
    struct poll *poll_room = poll_start(plan, run.queue, &clock, NULL, NULL, &trouble);
    if (poll_room == NULL || pthread_create(&thread, NULL, record, &run) != 0)
        bench_give_up("the threads cannot be started");
    const double used_s = processor_s(), began_s = bench_now_s();
    (void)poll(NULL, 0, (int)(seconds * 1000));
    const double share = (processor_s() - used_s) / (bench_now_s() - began_s);
    poll_stop(poll_room);
    (void)queue_post(run.queue, &(struct message){.kind = MESSAGE_STOP});
    (void)pthread_join(thread, NULL);
    board_free(board);
    recorder_free(run.recorder);
    queue_free(run.queue);
    store_close(store);
    return share;
}

/* At ten readings a second a late one cannot be told from one that was passed over. */
static void
tell_lateness(const struct stored *stored, const char *name)
{
    char what[120];
    const double *late_ms = stored->late_ms;
    (void)snprintf(what, sizeof what, "%s, late at the 99th percentile", name);
    (void)printf("row\t%s\t%g\t%g\t%g\tms\tmost\t%d\n", what, late_ms[stored->count * 99 / 100],
                 late_ms[0], late_ms[stored->count - 1], LATE_MS);
}

static void
measure(const char *name, struct bench_kitchen kitchen, int64_t seconds, double most_cores)
{
    char directory[64], what[120];
    struct stored stored;
    bench_directory(directory, sizeof directory);
    const pid_t devices = start_devices(kitchen.buses, &kitchen.first_port);
    double share = live(directory, &kitchen, seconds);
    (void)kill(devices, SIGKILL);
    (void)waitpid(devices, NULL, 0);
    look(directory, &kitchen, &stored);
    const double asked = (double)kitchen.probes * (double)seconds * 1000.0 / kitchen.every_ms;
    if ((double)stored.count < 0.95 * asked || stored.bad > 0)
        bench_give_up("%zu readings of %.0f, %zu of them bad", stored.count, asked, stored.bad);
    if (kitchen.every_ms > 5 * LATE_MS)
        tell_lateness(&stored, name);
    (void)snprintf(what, sizeof what, "%s, processors in use", name);
    bench_row(what, &share, 1, "cores", BENCH_MOST, most_cores);
    free(stored.late_ms);
    free(stored.phase_ms);
    bench_remove(directory);
}

/* ---- polled only ---- */

#define POLLED    10000
#define POLLED_MS 1000

struct taker {
    struct queue *queue;
    int64_t *at_ms; /* by probe number, then by turn: when it was read */
    int *count;     /* by probe number */
    int turns;
    size_t bad;
};

static void *
take(void *arg)
{
    struct taker *taker = arg;
    static struct message messages[256];
    for (;;) {
        const size_t got = queue_take(taker->queue, messages, 256, 1000);
        for (size_t i = 0; i < got; i++) {
            const struct message *message = &messages[i];
            if (message->kind == MESSAGE_STOP)
                return NULL;
            if (message->kind != MESSAGE_READING)
                continue;
            const int probe = message->is.reading.probe - 1;
            taker->bad += message->is.reading.quality != READING_GOOD;
            if (taker->count[probe] < taker->turns)
                taker->at_ms[probe * taker->turns + taker->count[probe]++] = message->born_ms;
        }
    }
}

/* More probes than the text of a plan may name: the same ones again, at other units. */
static struct plan
many_probes(const struct plan *plan, struct plan_probe *ret_probes)
{
    struct plan many = *plan;
    for (int i = 0; i < POLLED; i++) {
        ret_probes[i] = plan->probes[i % BUSES_MAX];
        ret_probes[i].unit = (uint8_t)(1 + i / BUSES_MAX);
        ret_probes[i].number = (uint16_t)(i + 1);
    }
    many.probes = ret_probes;
    many.probe_count = POLLED;
    return many;
}

/* Every reading against the schedule of its bus, whose probes all fall due together: the
 * instant before its first reading. Counts from the second turn on: at the first, all lines are
 * opened. */
static void
tell_polled(const struct taker *taker, const int64_t began_ms, double cores)
{
    const size_t room = (size_t)POLLED * (size_t)taker->turns;
    double *late_ms = calloc(room, sizeof *late_ms);
    size_t count = 0;
    if (late_ms == NULL)
        bench_give_up("out of memory");
    for (int probe = 0; probe < POLLED; probe++)
        for (int turn = 1; turn < taker->count[probe]; turn++)
            late_ms[count++] =
                (double)((taker->at_ms[probe * taker->turns + turn] - began_ms) % POLLED_MS);
    if ((double)count < 0.95 * POLLED * (taker->turns - 2) || taker->bad > 0)
        bench_give_up("%zu readings polled, %zu of them bad", count, taker->bad);
    qsort(late_ms, count, sizeof *late_ms, bench_ascending);
    (void)printf("row\t10 000 probes at 1 Hz on 200 buses polled, there at the 99th "
                 "percentile\t%g\t%g\t%g\tms\t-\t0\n",
                 late_ms[count * 99 / 100], late_ms[0], late_ms[count - 1]);
    bench_row("10 000 probes at 1 Hz on 200 buses polled, processors in use", &cores, 1,
              "cores", BENCH_MOST, 1.0);
    free(late_ms);
}

static void
measure_polled(int64_t seconds)
{
    static struct plan_probe probes[POLLED];
    static int count[POLLED];
    struct bench_kitchen kitchen = {
        .probes = BUSES_MAX, .buses = BUSES_MAX, .every_ms = POLLED_MS};
    struct driver_error trouble;
    pthread_t thread;
    const struct clock clock = clock_machine();
    const pid_t devices = start_devices(kitchen.buses, &kitchen.first_port);
    struct plan *plan = bench_plan(&kitchen);
    const struct plan many = many_probes(plan, probes);
    struct taker taker = {.queue = queue_new(8192), .count = count, .turns = (int)seconds + 1};
    taker.at_ms = calloc((size_t)POLLED * (size_t)taker.turns, sizeof *taker.at_ms);
    if (taker.queue == NULL || taker.at_ms == NULL ||
        pthread_create(&thread, NULL, take, &taker) != 0)
        bench_give_up("the taker cannot be started");
    const int64_t began_ms = clock_mono_ms(&clock);
    struct poll *poll_room = poll_start(&many, taker.queue, &clock, NULL, NULL, &trouble);
    if (poll_room == NULL)
        bench_give_up("%s", trouble.text);
    const double used_s = processor_s(), began_s = bench_now_s();
    (void)poll(NULL, 0, (int)(seconds * 1000));
    const double cores = (processor_s() - used_s) / (bench_now_s() - began_s);
    poll_stop(poll_room);
    (void)queue_post(taker.queue, &(struct message){.kind = MESSAGE_STOP});
    (void)pthread_join(thread, NULL);
    if (queue_dropped(taker.queue) > 0)
        bench_give_up("readings found the queue full");
    (void)kill(devices, SIGKILL);
    (void)waitpid(devices, NULL, 0);
    tell_polled(&taker, began_ms, cores);
    free(taker.at_ms);
    queue_free(taker.queue);
    plan_free(plan);
}

int
main(int argc, char **argv)
{
    const int64_t seconds = bench_argument(argc, argv, 1, 20);
    if (seconds > 3600)
        bench_give_up("at most an hour");
    log_set_level(LOG_ERROR);
    measure("500 probes at 1 Hz on 20 buses",
            (struct bench_kitchen){.probes = 500, .buses = 20, .limited = 64, .every_ms = 1000},
            seconds, 0.5);
    measure(
        "1000 probes at 10 Hz on 200 buses",
        (struct bench_kitchen){.probes = 1000, .buses = 200, .limited = 64, .every_ms = 100},
        seconds / 2 + 1, 1.0);
    measure_polled(seconds / 2 + 1);
    return 0;
}
