/* Registers to thousandths of a degree Celsius, exactly: integers throughout and one rounding
 * at the end.
 *
 * A value is first a whole number of millionths of a degree plus, for a float, a rest that is
 * only known to be there or not; that is enough to round correctly. Pure; owns nothing. */
#include "drivers/modbus_parts.h"

#include <assert.h>

#include "trivet/reading.h"
#include "trivet/units.h"

/* A register value as value * 2^exponent; integers have exponent 0. */
struct number {
    int64_t value;
    int exponent;
};

/* Above every scale that a plan may have (a thousand degrees): 30 bits. */
#define SCALE_END (INT64_C(1) << 30)

/* Millionths of a degree: floor, and whether something was cut off. */
struct micro {
    int64_t floor;
    bool more;
};

uint16_t
mbus_type_registers(enum register_type type)
{
    switch (type) {
    case REGISTER_INT16:
    case REGISTER_UINT16:
        return 1;
    case REGISTER_INT32:
    case REGISTER_UINT32:
    case REGISTER_FLOAT32:
        return 2;
    case REGISTER_INT64:
    case REGISTER_UINT64:
    case REGISTER_FLOAT64:
        return 4;
    }
    return 1;
}

/* The bits of a value of several registers, the most significant byte brought to the front. */
static uint64_t
bits_of(const uint16_t *registers, uint16_t count, enum byte_order order)
{
    const bool is_last_first = order == ORDER_CDAB || order == ORDER_DCBA;
    const bool is_swapped = order == ORDER_BADC || order == ORDER_DCBA;
    uint64_t bits = 0;
    for (uint16_t i = 0; i < count; i++) {
        const uint32_t word = registers[is_last_first ? count - 1 - i : i];
        bits = bits << 16 | (is_swapped ? (word >> 8 | word << 8) & 0xffffU : word);
    }
    return bits;
}

static uint32_t
bits_32(const uint16_t *registers, enum byte_order order)
{
    return (uint32_t)bits_of(registers, 2, order);
}

/* IEEE 754 binary32: sign, 8 bits of exponent biased by 127, 23 of fraction. False for NaN and
 * infinities. */
static bool
float_number(uint32_t bits, struct number *ret)
{
    const uint32_t biased = bits >> 23 & 0xffU;
    const uint32_t fraction = bits & 0x7fffffU;
    if (biased == 0xffU)
        return false;
    const int64_t magnitude = biased == 0 ? (int64_t)fraction : (int64_t)(fraction | 0x800000U);
    ret->value = (bits >> 31) != 0 ? -magnitude : magnitude;
    ret->exponent = (biased == 0 ? 1 : (int)biased) - 127 - 23;
    return true;
}

/* IEEE 754 binary64: sign, 11 bits of exponent biased by 1023, 52 of fraction. */
static bool
double_number(uint64_t bits, struct number *ret)
{
    const uint64_t biased = bits >> 52 & 0x7ffU;
    const uint64_t fraction = bits & 0xfffffffffffffU;
    if (biased == 0x7ffU)
        return false;
    const int64_t magnitude = (int64_t)(biased == 0 ? fraction : fraction | 1ULL << 52);
    ret->value = (bits >> 63) != 0 ? -magnitude : magnitude;
    ret->exponent = (biased == 0 ? 1 : (int)biased) - 1023 - 52;
    return true;
}

static bool
number_of(const struct plan_probe *probe, const uint16_t *registers, struct number *ret)
{
    const int64_t word = registers[0];
    *ret = (struct number){0, 0};
    switch (probe->type) {
    case REGISTER_INT16:
        ret->value = word < 0x8000 ? word : word - 0x10000;
        return true;
    case REGISTER_UINT16:
        ret->value = word;
        return true;
    case REGISTER_INT32: {
        const int64_t bits = bits_32(registers, probe->order);
        ret->value = bits < 0x80000000LL ? bits : bits - 0x100000000LL;
        return true;
    }
    case REGISTER_UINT32:
        ret->value = bits_32(registers, probe->order);
        return true;
    case REGISTER_FLOAT32:
        return float_number(bits_32(registers, probe->order), ret);
    case REGISTER_INT64: {
        const uint64_t bits = bits_of(registers, 4, probe->order);
        ret->value = bits >> 63 == 0 ? (int64_t)bits : -(int64_t)~bits - 1;
        return true;
    }
    case REGISTER_UINT64: {
        const uint64_t bits = bits_of(registers, 4, probe->order);
        ret->value = (int64_t)(bits & INT64_MAX);
        return bits <= INT64_MAX; /* no temperature, whatever the scale */
    }
    case REGISTER_FLOAT64:
        return double_number(bits_of(registers, 4, probe->order), ret);
    }
    return false;
}

static bool
times(int64_t a, int64_t b, int64_t *ret)
{
    if (a == INT64_MIN || b == INT64_MIN)
        return false;
    const int64_t a_size = a < 0 ? -a : a;
    if ((a != 0 && (b < 0 ? -b : b) > INT64_MAX / a_size))
        return false;
    *ret = a * b;
    return true;
}

static bool
plus(int64_t a, int64_t b, int64_t *ret)
{
    if (b > 0 ? a > INT64_MAX - b : a < INT64_MIN - b)
        return false;
    *ret = a + b;
    return true;
}

/* value * 2^exponent, rounded down. False when it does not fit. */
static bool
shifted(int64_t value, int exponent, struct micro *ret)
{
    ret->more = false;
    if (exponent >= 0)
        return exponent < 62 && times(value, (int64_t)1 << exponent, &ret->floor);
    if (exponent <= -63) {
        ret->floor = value < 0 ? -1 : 0;
        ret->more = value != 0;
        return true;
    }
    const int64_t unit = (int64_t)1 << -exponent;
    const int64_t rest = value % unit;
    ret->more = rest != 0;
    ret->floor = value / unit - (rest < 0 ? 1 : 0);
    return true;
}

/* value * scale * 2^exponent, rounded down, for a negative exponent. A float64 has 53 bits and
 * a scale up to 30: the product is kept in two halves of 32 bits and more. */
static bool
scaled_fraction(struct number number, int64_t scale, struct micro *ret)
{
    const bool is_negative = number.value < 0;
    const uint64_t size = (uint64_t)(is_negative ? -number.value : number.value);
    const uint64_t low = (size & 0xffffffffU) * (uint64_t)scale;
    const uint64_t high = (size >> 32) * (uint64_t)scale + (low >> 32); /* times 2^32 */
    const uint64_t rest = low & 0xffffffffU;
    const int right = -number.exponent;
    uint64_t whole;
    assert(size < 1ULL << 53 && scale > 0 && scale < SCALE_END && right > 0);
    if (right >= 96) {
        whole = 0;
        ret->more = size != 0;
    } else if (right >= 32) {
        whole = high >> (right - 32);
        ret->more = rest != 0 || whole << (right - 32) != high;
    } else {
        if (high >> (31 + right) != 0)
            return false;
        whole = high << (32 - right) | rest >> right;
        ret->more = (rest & ((1ULL << right) - 1)) != 0;
    }
    if (whole > INT64_MAX)
        return false;
    ret->floor = is_negative ? -(int64_t)whole - (ret->more ? 1 : 0) : (int64_t)whole;
    return true;
}

/* value / divisor, half away from zero; the divisor is even and positive. */
static int64_t
rounded(struct micro value, int64_t divisor)
{
    const int64_t half = divisor / 2;
    if (value.floor >= 0)
        return (value.floor + half) / divisor;
    /* The magnitude lies below -floor when something was cut off. */
    return -((-value.floor - (value.more ? 1 : 0) + half) / divisor);
}

/* One reading of a number that means a fault: the plan declares it as the type reads it. */
static bool
equals_whole(struct number number, int64_t whole)
{
    struct micro exact;
    return shifted(number.value, number.exponent, &exact) && !exact.more &&
           exact.floor == whole;
}

/* The number in millionths of the unit of scale. */
static bool
micro_of(const struct plan_probe *probe, struct number number, struct micro *ret)
{
    int64_t scaled;
    /* A scale of a plan is between; any other is left to the checks for what fits. */
    const bool is_fraction =
        number.exponent < 0 && probe->scale_micro > 0 && probe->scale_micro < SCALE_END;
    return (is_fraction ? scaled_fraction(number, probe->scale_micro, ret)
                        : times(number.value, probe->scale_micro, &scaled) &&
                              shifted(scaled, number.exponent, ret)) &&
           plus(ret->floor, probe->offset_micro, &ret->floor);
}

static bool
temp_of(const struct plan_probe *probe, struct number number, int32_t *ret_temp_mC)
{
    struct micro micro;
    if (!micro_of(probe, number, &micro))
        return false;
    /* (x - 32) * 5/9 in thousandths is (micro - 32000000) / 1800. */
    if (probe->reads == TEMP_F && !plus(micro.floor, -32000000, &micro.floor))
        return false;
    if (micro.floor > INT64_MAX - 1800 || micro.floor < -(INT64_MAX - 1800))
        return false;
    const int64_t temp_mC = rounded(micro, probe->reads == TEMP_F ? 1800 : 1000);
    if (temp_mC > INT32_MAX || temp_mC <= TEMP_NONE)
        return false;
    *ret_temp_mC = (int32_t)temp_mC;
    return true;
}

bool
mbus_status_good(const struct plan_probe *probe, uint16_t status)
{
    if (probe->bad_bit_count == 0 && probe->good_bit_count == 0)
        return status == 0;
    for (uint8_t i = 0; i < probe->bad_bit_count; i++)
        if ((status >> probe->bad_bits[i] & 1) != 0)
            return false;
    for (uint8_t i = 0; i < probe->good_bit_count; i++)
        if ((status >> probe->good_bits[i] & 1) == 0)
            return false;
    return true;
}

/* The number that the registers hold, and whether it is one of the probe's fault signs. */
static uint16_t
sound_number(const struct plan_probe *probe, const uint16_t *registers, struct number *ret)
{
    assert(probe->fault_count <= PLAN_FAULTS_MAX);
    if (!number_of(probe, registers, ret))
        return BAD_CONVERSION;
    for (uint8_t i = 0; i < probe->fault_count; i++)
        if (equals_whole(*ret, probe->faults[i]))
            return BAD_FAULT_VALUE;
    return READING_GOOD;
}

uint16_t
mbus_decode_signal(const struct plan_probe *probe, const uint16_t *registers,
                   int64_t *ret_micro)
{
    struct number number;
    struct micro micro;
    const uint16_t quality = sound_number(probe, registers, &number);
    if (quality != READING_GOOD)
        return quality;
    if (!micro_of(probe, number, &micro))
        return BAD_CONVERSION;
    *ret_micro = micro.floor;
    return READING_GOOD;
}

uint16_t
mbus_decode(const struct plan_probe *probe, const uint16_t *registers, int32_t *ret_temp_mC)
{
    struct number number;
    int32_t temp_mC;
    *ret_temp_mC = TEMP_NONE;
    const uint16_t quality = sound_number(probe, registers, &number);
    if (quality != READING_GOOD)
        return quality;
    if (!temp_of(probe, number, &temp_mC))
        return BAD_CONVERSION;
    if (temp_mC < probe->plausible_min_mC || temp_mC > probe->plausible_max_mC)
        return BAD_IMPLAUSIBLE;
    *ret_temp_mC = temp_mC;
    return READING_GOOD;
}
