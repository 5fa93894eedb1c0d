/* Which register holds what; see serve.h. */
#include "tests/kitchen/serve.h"

#include <math.h>
#include <string.h>

#define FRIDGE_REGISTER 100
#define NO_SENSOR       32767 /* what this device says of an input with nothing on it */

bool
units_init(struct units *units)
{
    *units = (struct units){.rtu = {{.id = 11}, {.id = 12}}, .tcp = {{.id = 1}, {.id = 2}}};
    units->rtu[0].map = modbus_mapping_new(0, 0, 0, 3);
    units->rtu[1].map = modbus_mapping_new(0, 0, 2, 1);
    units->tcp[0].map = modbus_mapping_new(0, 1, 0, 3);
    units->tcp[1].map = modbus_mapping_new_start_address(0, 0, 0, 0, FRIDGE_REGISTER, 2, 0, 0);
    return units->rtu[0].map != NULL && units->rtu[1].map != NULL &&
           units->tcp[0].map != NULL && units->tcp[1].map != NULL;
}

void
units_done(struct units *units)
{
    for (size_t i = 0; i < SERVE_UNITS; i++) {
        modbus_mapping_free(units->rtu[i].map); /* accepts NULL */
        modbus_mapping_free(units->tcp[i].map);
    }
}

static uint16_t
tenths(double temp_C)
{
    return (uint16_t)(lround(temp_C * 10.0) & 0xffff);
}

/* Counted from -40 °C. */
static uint16_t
hundredths_from_40(double temp_C)
{
    return (uint16_t)lround((temp_C + 40.0) * 100.0);
}

/* What a Pt100 has at 0 °C and above, IEC 60751:2008, 5.1: 100 ohm at 0 °C, 138.51 at 100 °C.
 */
static uint16_t
hundredths_ohm(double temp_C)
{
    const double ohm = 100.0 * (1.0 + 3.9083e-3 * temp_C - 5.775e-7 * temp_C * temp_C);
    return (uint16_t)lround(ohm * 100.0);
}

/* IEEE 754, most significant byte first. libmodbus 3.1.6's own function of that name swaps the
 * bytes. */
static void
put_float_abcd(float value, uint16_t *registers)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    registers[0] = (uint16_t)(bits >> 16);
    registers[1] = (uint16_t)(bits & 0xffff);
}

void
units_update(struct units *units, const struct kitchen *kitchen)
{
    uint16_t *const roast = units->rtu[0].map->tab_input_registers;
    roast[0] = tenths(kitchen_roast_core_a_C(kitchen));
    roast[1] = NO_SENSOR;
    roast[2] = tenths(kitchen->oven.temp_C);
    units->rtu[1].map->tab_input_registers[0] = hundredths_ohm(kitchen_roast_core_b_C(kitchen));
    put_float_abcd((float)kitchen->hot_cupboard.temp_C, units->rtu[1].map->tab_registers);
    uint16_t *const cold = units->tcp[0].map->tab_input_registers;
    cold[0] = tenths(kitchen->walk_in.temp_C);
    cold[1] = tenths(kitchen_filling_core_C(kitchen));
    cold[2] = tenths(kitchen->chiller.temp_C);
    units->tcp[0].map->tab_input_bits[0] = kitchen->walk_in.door_open;
    units->tcp[1].map->tab_registers[0] = hundredths_from_40(kitchen->counter_fridge.temp_C);
    units->tcp[1].map->tab_registers[1] = hundredths_from_40(kitchen->freezer.temp_C);
}
