/* How well a serial line is used: the time that the frames and their silences take on the wire,
 * against what polls through our driver take, on a pseudo-terminal whose other end gives out
 * each byte when a wire would have. 16 units in turn, of each one register, or 16 neighbours:
 * when a unit's turn comes again no second copy of its last reply can come any more, as in a
 * plan, where `every` is longer than `longest_delay`.
 *
 *   bench_rtu [polls] [repeats]
 *
 * MODBUS over Serial Line V1.02: 11 bits a character (2.5.1), at least 3.5 characters of
 * silence between frames (2.5.1.1), 1.75 ms above 19200 baud, so also before the device's
 * reply. A device that thinks longer is slower by that much. */
#define _GNU_SOURCE /* ptsname_r, cfmakeraw */

#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <termios.h>

#include "tests/bench/bench.h"
#include "trivet/probe_driver.h"

#define UNITS           16
#define REGISTERS_MAX   16
#define PROBES_MAX      (UNITS * REGISTERS_MAX)
#define REQUEST_BYTES   8
#define REPLY_BYTES(n)  (3 + 2 * (n) + 2)
#define SILENCE         3.5 /* characters, up to 19200 baud */
#define SILENCE_LEAST_S 0.00175
#define BITS            11.0

/* A line at a speed, and how many registers of each unit are asked together. */
struct wire {
    int baud, registers;
};

static double
character_s(const struct wire *wire)
{
    return BITS / wire->baud;
}

static double
silence_s(const struct wire *wire)
{
    return wire->baud > 19200 ? SILENCE_LEAST_S : SILENCE * character_s(wire);
}

static void
sleep_until(double at_s)
{
    const struct timespec at = {.tv_sec = (time_t)at_s,
                                .tv_nsec = (long)((at_s - (double)(time_t)at_s) * 1e9)};
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &at, NULL) != 0)
        continue;
}

/* V1.02, appendix B. */
static uint16_t
check_sum(const uint8_t *bytes, size_t len)
{
    uint16_t sum = 0xffff;
    for (size_t i = 0; i < len; i++) {
        sum ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            sum = (uint16_t)((sum & 1) != 0 ? (sum >> 1) ^ 0xa001 : sum >> 1);
    }
    return sum;
}

/* Devices that answer every request for input registers, at the pace of the wire. */
static void
be_devices(int line, const struct wire *wire)
{
    uint8_t request[REQUEST_BYTES], reply[REPLY_BYTES(REGISTERS_MAX)];
    const size_t len = REPLY_BYTES((size_t)wire->registers);
    for (;;) {
        size_t have = 0;
        double at_s = 0.0;
        while (have < REQUEST_BYTES) {
            const ssize_t got = read(line, request + have, REQUEST_BYTES - have);
            if (got <= 0)
                _exit(0);
            if (have == 0)
                at_s = bench_now_s() + REQUEST_BYTES * character_s(wire) + silence_s(wire);
            have += (size_t)got;
        }
        reply[0] = request[0];
        reply[1] = 4;
        reply[2] = (uint8_t)(2 * wire->registers);
        for (int i = 0; i < wire->registers; i++) {
            reply[3 + 2 * i] = 0;
            reply[4 + 2 * i] = (uint8_t)(30 + i);
        }
        const uint16_t sum = check_sum(reply, len - 2);
        reply[len - 2] = (uint8_t)(sum & 0xff);
        reply[len - 1] = (uint8_t)(sum >> 8);
        for (size_t i = 0; i < len; i++) {
            at_s += character_s(wire);
            sleep_until(at_s);
            if (write(line, &reply[i], 1) != 1)
                _exit(1);
        }
    }
}

static pid_t
start_device(const struct wire *wire, char *ret_path, size_t size, int *ret_held)
{
    struct termios raw;
    const int line = posix_openpt(O_RDWR | O_NOCTTY);
    if (line < 0 || grantpt(line) != 0 || unlockpt(line) != 0 ||
        ptsname_r(line, ret_path, size) != 0)
        bench_give_up("no pseudo-terminal");
    *ret_held = open(ret_path, O_RDWR | O_NOCTTY);
    if (*ret_held < 0 || tcgetattr(*ret_held, &raw) != 0)
        bench_give_up("the pseudo-terminal cannot be opened");
    cfmakeraw(&raw);
    (void)tcsetattr(*ret_held, TCSANOW, &raw);
    const pid_t child = fork();
    if (child < 0)
        bench_give_up("cannot fork");
    if (child == 0) {
        (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
        /* A real device is not held up by what else this machine does; where this is not
         * allowed, it is. */
        (void)sched_setscheduler(0, SCHED_FIFO, &(struct sched_param){.sched_priority = 1});
        be_devices(line, wire);
    }
    (void)close(line);
    return child;
}

static struct plan *
serial_plan(const char *device, const struct wire *wire)
{
    static struct plan_faults faults;
    static char text[200 * PROBES_MAX];
    size_t len = 0;
#define ADD(...) len += (size_t)snprintf(text + len, sizeof text - len, __VA_ARGS__)
    ADD("site: {name: Bench}\npeople:\n  - {initials: AB, name: Ana Brandt, role: cook}\n"
        "  - {initials: JO, name: Jun Okada, role: supervisor}\nbuses:\n"
        "  - {id: line, driver: modbus-rtu, device: %s, baud: %d, parity: even, longest_delay: "
        "50 ms}\nprobes:\n",
        device, wire->baud);
    for (int i = 0; i < UNITS * wire->registers; i++)
        ADD("  - {id: probe-%d, name: Probe %d, kind: air, bus: line, unit: %d, function: 4, "
            "register: %d, type: int16, scale: 0.1 °C, plausible: [-40 °C, 200 °C], every: 1 "
            "s}\n",
            i, i, 1 + i / wire->registers, i % wire->registers);
    ADD("records: {directory: records}\n");
#undef ADD
    struct plan *plan = plan_load_text("bench.yaml", text, len, &faults);
    if (plan == NULL)
        bench_give_up("plan, line %d: %s", faults.fault[0].line, faults.fault[0].text);
    return plan;
}

static double
poll_seconds(const struct plan *plan, int64_t polls)
{
    const struct clock clock = clock_machine();
    const struct probe_driver *driver = probe_driver_for(BUS_MODBUS_RTU);
    struct driver_sample samples[DRIVER_REQUEST_PROBES_MAX];
    struct driver_request requests[PROBES_MAX];
    struct driver_error error = {""};
    void *state = NULL;
    double began_s = 0.0;
    if (driver->requests(plan, 0, requests, PROBES_MAX) != UNITS)
        bench_give_up("neighbouring registers of a unit should be one request");
    if (!driver->open(plan, 0, &clock, &state, &error))
        bench_give_up("%s", error.text);
    for (int64_t i = -1; i < polls; i++) { /* the first waits for a line just opened */
        if (i == 0)
            began_s = bench_now_s();
        if (!driver->read(state, &requests[(size_t)(i + 1) % UNITS], samples, &error) ||
            samples[0].quality != READING_GOOD || samples[0].temp_mC != 3000)
            bench_give_up("%s", error.text);
    }
    began_s = bench_now_s() - began_s;
    driver->close(state);
    return began_s;
}

static void
measure(int baud, int registers, int64_t polls, int repeats)
{
    const struct wire wire = {.baud = baud, .registers = registers};
    char path[64], what[100];
    double use[BENCH_REPEATS_MAX];
    int held = -1;
    const double poll_s =
        (REQUEST_BYTES + REPLY_BYTES(registers)) * character_s(&wire) + 2 * silence_s(&wire);
    const pid_t device = start_device(&wire, path, sizeof path, &held);
    struct plan *plan = serial_plan(path, &wire);
    for (int i = 0; i < repeats; i++)
        use[i] = (double)polls * poll_s / poll_seconds(plan, polls);
    (void)snprintf(what, sizeof what, "Modbus RTU at %d baud, %s, use of the line", baud,
                   registers == 1 ? "a register of each unit"
                                  : "16 neighbouring registers of each unit");
    bench_row(what, use, repeats, "of wire time", BENCH_LEAST, 0.95);
    plan_free(plan);
    (void)close(held);
    (void)kill(device, SIGKILL);
    (void)waitpid(device, NULL, 0);
}

int
main(int argc, char **argv)
{
    const int64_t polls = bench_argument(argc, argv, 1, 40);
    const int repeats = (int)bench_argument(argc, argv, 2, 5);
    if (repeats > BENCH_REPEATS_MAX)
        bench_give_up("at most %d repeats", BENCH_REPEATS_MAX);
    static const int bauds[] = {9600, 19200, 115200};
    for (size_t i = 0; i < sizeof bauds / sizeof *bauds; i++) {
        measure(bauds[i], 1, polls, repeats);
        measure(bauds[i], REGISTERS_MAX, polls, repeats);
    }
    return 0;
}
