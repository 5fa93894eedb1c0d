/* Modbus TCP polls a second of one bus through our driver, against a bare loop of libmodbus in
 * the same run; the server is libmodbus's, in a child, at loopback.
 *
 *   bench_modbus [polls] [repeats] */
#include <arpa/inet.h>
#include <modbus/modbus.h>
#include <netinet/in.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>

#include "tests/bench/bench.h"
#include "trivet/probe_driver.h"

#define REGISTERS 8

static void
serve(modbus_t *context, int listen_fd)
{
    uint8_t request[MODBUS_TCP_MAX_ADU_LENGTH];
    modbus_mapping_t *map = modbus_mapping_new(0, 0, 0, REGISTERS);
    for (int i = 0; i < REGISTERS; i++)
        map->tab_input_registers[i] = (uint16_t)(30 + i);
    while (modbus_tcp_accept(context, &listen_fd) >= 0) {
        for (int len; (len = modbus_receive(context, request)) > 0;)
            (void)modbus_reply(context, request, len, map);
        modbus_close(context);
    }
    _exit(0);
}

static pid_t
start_server(int *ret_port)
{
    struct sockaddr_in address;
    socklen_t len = sizeof address;
    modbus_t *context = modbus_new_tcp("127.0.0.1", 0);
    const int fd = context == NULL ? -1 : modbus_tcp_listen(context, 4);
    if (fd < 0 || getsockname(fd, (struct sockaddr *)&address, &len) != 0)
        bench_give_up("no Modbus server at loopback");
    *ret_port = ntohs(address.sin_port);
    const pid_t child = fork();
    if (child < 0)
        bench_give_up("cannot fork");
    if (child == 0) {
        (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
        serve(context, fd);
    }
    (void)close(fd);
    modbus_free(context);
    return child;
}

static double
bare_seconds(int port, int64_t polls)
{
    uint16_t registers[REGISTERS];
    modbus_t *context = modbus_new_tcp("127.0.0.1", port);
    if (context == NULL || modbus_set_slave(context, 1) != 0 || modbus_connect(context) != 0)
        bench_give_up("the bare loop cannot connect");
    const double began_s = bench_now_s();
    for (int64_t i = 0; i < polls; i++)
        if (modbus_read_input_registers(context, 0, REGISTERS, registers) != REGISTERS)
            bench_give_up("the bare loop got no reply");
    const double took_s = bench_now_s() - began_s;
    modbus_close(context);
    modbus_free(context);
    return took_s;
}

static double
driver_seconds(const struct plan *plan, int64_t polls)
{
    const struct clock clock = clock_machine();
    const struct probe_driver *driver = probe_driver_for(BUS_MODBUS_TCP);
    struct driver_sample samples[DRIVER_REQUEST_PROBES_MAX];
    struct driver_request requests[REGISTERS];
    struct driver_error error;
    void *state = NULL;
    if (driver->requests(plan, 0, requests, REGISTERS) != 1)
        bench_give_up("eight neighbouring registers should be one request");
    if (!driver->open(plan, 0, &clock, &state, &error))
        bench_give_up("%s", error.text);
    const double began_s = bench_now_s();
    for (int64_t i = 0; i < polls; i++)
        if (!driver->read(state, &requests[0], samples, &error) ||
            samples[0].quality != READING_GOOD || samples[0].temp_mC != 3000)
            bench_give_up("%s", error.text);
    const double took_s = bench_now_s() - began_s;
    driver->close(state);
    return took_s;
}

int
main(int argc, char **argv)
{
    const int64_t polls = bench_argument(argc, argv, 1, 20000);
    const int repeats = (int)bench_argument(argc, argv, 2, 7);
    double ratio[BENCH_REPEATS_MAX], rate[BENCH_REPEATS_MAX];
    int port = 0;
    if (repeats > BENCH_REPEATS_MAX)
        bench_give_up("at most %d repeats", BENCH_REPEATS_MAX);
    const pid_t server = start_server(&port);
    const struct bench_kitchen kitchen = {
        .probes = REGISTERS, .buses = 1, .first_port = port, .every_ms = 1000};
    struct plan *plan = bench_plan(&kitchen);
    for (int i = 0; i < repeats; i++) {
        const double bare_s = bare_seconds(port, polls), ours_s = driver_seconds(plan, polls);
        ratio[i] = bare_s / ours_s;
        rate[i] = (double)polls / ours_s / 1e3;
    }
    bench_row("Modbus TCP, polls of one bus, against a bare loop", ratio, repeats, "x",
              BENCH_LEAST, 0.9);
    bench_row("Modbus TCP, polls of one bus", rate, repeats, "thousand polls/s", BENCH_NO_AIM,
              0);
    plan_free(plan);
    (void)kill(server, SIGKILL);
    (void)waitpid(server, NULL, 0);
    return 0;
}
