/* See modbus_rig.h. */
#include "tests/support/modbus_rig.h"

#include <string.h>

struct modbus_rig rig;

const struct modbus_rig_cause modbus_rig_causes[MODBUS_RIG_CAUSES] = {
    {PEER_CLEAN, READING_GOOD, READING_GOOD},
    {PEER_TRICKLE, READING_GOOD, READING_GOOD},
    {PEER_SILENT, BAD_TIMEOUT, BAD_TIMEOUT},
    {PEER_LATE, BAD_TIMEOUT, BAD_TIMEOUT},
    {PEER_STUCK, BAD_FRAME, BAD_FRAME},
    {PEER_BIT_FLIPPED, BAD_CRC, 1},
    {PEER_WRONG_UNIT, BAD_WRONG_UNIT, BAD_WRONG_UNIT},
    {PEER_WRONG_FUNCTION, BAD_WRONG_UNIT, BAD_WRONG_UNIT},
    {PEER_WRONG_LENGTH, BAD_WRONG_UNIT, BAD_WRONG_UNIT},
    {PEER_EXCEPTION, BAD_EXCEPTION, BAD_EXCEPTION},
    {PEER_NOISE_BEFORE, BAD_FRAME, BAD_FRAME},
    {PEER_NOISE_AFTER, BAD_FRAME, READING_GOOD}, /* a TCP reply says where it ends */
    {PEER_TWICE, BAD_FRAME, READING_GOOD},
    {PEER_ABSURD, BAD_IMPLAUSIBLE, BAD_IMPLAUSIBLE},
    {PEER_DROPPED, 1, BAD_LINK},
    {PEER_REPEATED, 1, READING_GOOD},
    {PEER_HELD, 1, BAD_TIMEOUT},
};

static void
make_plan(enum bus_driver kind)
{
    rig.bus = (struct plan_bus){
        .id = "line-a",
        .driver = kind,
        .device = kind == BUS_MODBUS_RTU ? peer_path(rig.peer) : NULL,
        .baud_bps = 115200,
        .parity = 'N',
        .stop_bits = 1,
        .host = "127.0.0.1",
        .port = peer_port(rig.peer),
        .timeout_ms = TIMEOUT_MS,
        .max_late_ms = MAX_LATE_MS,
    };
    rig.plan.buses = &rig.bus;
    rig.plan.bus_count = 1;
    rig.plan.probes = rig.probes;
    rig.plan.probe_count = 8;
    for (uint16_t i = 0; i < 8; i++)
        rig.probes[i] = (struct plan_probe){
            .unit = (uint8_t)(5 + i / 4),
            .function = 4,
            .reg = (uint16_t)(i % 4 / 2 * 10 + i % 2),
            .type = REGISTER_INT16,
            .scale_micro = 1000000,
            .plausible_min_mC = -20000000,
            .plausible_max_mC = 20000000,
            .every_ms = 1000,
        };
    rig.request_count = rig.driver->requests(&rig.plan, 0, rig.requests, 8);
    assert_int_equal(rig.request_count, 4);
}

void
modbus_rig_open(void)
{
    if (!rig.driver->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error))
        fail_msg("%s", rig.error.text);
}

static void
set_up(enum bus_driver kind)
{
    memset(&rig, 0, sizeof rig);
    rig.clock = clock_machine();
    rig.driver = probe_driver_for(kind);
    rig.peer = kind == BUS_MODBUS_RTU   ? peer_new_rtu()
               : kind == BUS_MODBUS_TCP ? peer_new_tcp()
                                        : peer_new_rtu_tcp();
    assert_non_null(rig.peer);
    make_plan(kind);
}

int
modbus_rig_rtu(void **state)
{
    (void)state;
    set_up(BUS_MODBUS_RTU);
    modbus_rig_open();
    return 0;
}

int
modbus_rig_tcp(void **state)
{
    (void)state;
    set_up(BUS_MODBUS_TCP);
    modbus_rig_open();
    return 0;
}

int
modbus_rig_rtu_tcp(void **state)
{
    (void)state;
    set_up(BUS_MODBUS_RTU_TCP);
    modbus_rig_open();
    return 0;
}

int
modbus_rig_done(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    peer_free(rig.peer);
    return 0;
}

uint16_t
modbus_rig_exchange(size_t request, enum peer_fault fault, int64_t late_ms)
{
    peer_set(rig.peer, fault, late_ms, TIMEOUT_MS + MAX_LATE_MS - 3, MAX_LATE_MS - 3);
    const uint32_t heard = peer_heard(rig.peer);
    assert_true(rig.driver->read(rig.state, &rig.requests[request], rig.samples, &rig.error));
    peer_over(rig.peer, heard + 1);
    for (uint16_t i = 0; i < 2; i++) {
        const struct driver_sample *sample = &rig.samples[i];
        assert_int_equal(sample->quality, rig.samples[0].quality);
        if (sample->quality != READING_GOOD) {
            assert_int_equal(sample->temp_mC, TEMP_NONE);
            continue;
        }
        const uint16_t reg = rig.probes[rig.requests[request].probes[i]].reg;
        assert_int_equal(sample->temp_mC, fault == PEER_EQUAL
                                              ? PEER_EQUAL_VALUE * 1000
                                              : peer_truth(rig.peer, reg) * 1000);
    }
    return rig.samples[0].quality;
}

void
modbus_rig_wants(uint16_t wanted, size_t request, enum peer_fault fault)
{
    uint16_t got = modbus_rig_exchange(request, fault, TIMEOUT_MS + 10);
    for (int i = 0; i < 5 && got != wanted; i++)
        got = modbus_rig_exchange(request, fault, TIMEOUT_MS + 10);
    if (got != wanted)
        fail_msg("fault %d gave %d, not %d", fault, got, wanted);
}
