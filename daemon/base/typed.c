/* Numbers with units, in and out. See typed.h.
 *
 * Purpose: one way to read and print numbers in the operator command, the same in every locale.
 * Owns:    nothing; pure functions, any thread.
 * Must not: call strtod, printf with a floating conversion, or anything else that obeys a
 * locale. */
#include "trivet/typed.h"

#include <assert.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "trivet/json_out.h" /* text_is_clean */
#include "trivet/log.h"

#define EXPONENT_MAX 400

struct unit {
    const char *name;
    enum typed_kind kind;
    double factor;
};

/* Case matters where it tells milli from mega; where it does not, the usual slips are taken. */
static const struct unit units[] = {
    {"", TYPED_PLAIN, 1.0},
    {"mV", TYPED_VOLTAGE_MV, 1.0},
    {"mv", TYPED_VOLTAGE_MV, 1.0},
    {"uV", TYPED_VOLTAGE_MV, 1e-3},
    {"uv", TYPED_VOLTAGE_MV, 1e-3},
    {"\u00b5V", TYPED_VOLTAGE_MV, 1e-3}, /* micro sign */
    {"\u03bcV", TYPED_VOLTAGE_MV, 1e-3}, /* Greek mu */
    {"V", TYPED_VOLTAGE_MV, 1e3},
    {"v", TYPED_VOLTAGE_MV, 1e3},
    {"ohm", TYPED_RESISTANCE_OHM, 1.0},
    {"ohms", TYPED_RESISTANCE_OHM, 1.0},
    {"Ohm", TYPED_RESISTANCE_OHM, 1.0},
    {"Ohms", TYPED_RESISTANCE_OHM, 1.0},
    {"OHM", TYPED_RESISTANCE_OHM, 1.0},
    {"R", TYPED_RESISTANCE_OHM, 1.0},
    {"\u03a9", TYPED_RESISTANCE_OHM, 1.0}, /* Greek omega */
    {"\u2126", TYPED_RESISTANCE_OHM, 1.0}, /* ohm sign */
    {"k", TYPED_RESISTANCE_OHM, 1e3},
    {"kohm", TYPED_RESISTANCE_OHM, 1e3},
    {"kohms", TYPED_RESISTANCE_OHM, 1e3},
    {"kOhm", TYPED_RESISTANCE_OHM, 1e3},
    {"Kohm", TYPED_RESISTANCE_OHM, 1e3},
    {"k\u03a9", TYPED_RESISTANCE_OHM, 1e3},
    {"k\u2126", TYPED_RESISTANCE_OHM, 1e3},
    {"Mohm", TYPED_RESISTANCE_OHM, 1e6},
    {"MOhm", TYPED_RESISTANCE_OHM, 1e6},
    {"M\u03a9", TYPED_RESISTANCE_OHM, 1e6},
    {"M\u2126", TYPED_RESISTANCE_OHM, 1e6},
    {"C", TYPED_TEMP_C, 1.0},
    {"c", TYPED_TEMP_C, 1.0},
    {"degC", TYPED_TEMP_C, 1.0},
    {"degc", TYPED_TEMP_C, 1.0},
    {"deg C", TYPED_TEMP_C, 1.0},
    {"\u00b0C", TYPED_TEMP_C, 1.0},
    {"\u00b0 C", TYPED_TEMP_C, 1.0},
    {"\u2103", TYPED_TEMP_C, 1.0}, /* degree Celsius in one character */
    {"kPa", TYPED_PRESSURE_KPA, 1.0},
    {"kpa", TYPED_PRESSURE_KPA, 1.0},
    {"hPa", TYPED_PRESSURE_KPA, 0.1},
    {"hpa", TYPED_PRESSURE_KPA, 0.1},
    {"mbar", TYPED_PRESSURE_KPA, 0.1},
    {"bar", TYPED_PRESSURE_KPA, 100.0},
    {"Pa", TYPED_PRESSURE_KPA, 1e-3},
    {"m", TYPED_HEIGHT_M, 1.0},
    {"K", TYPED_TEMP_K, 1.0},
};

static bool refuse(struct typed_refusal *reterr_why, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static bool
refuse(struct typed_refusal *reterr_why, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)vsnprintf(reterr_why->text, sizeof(reterr_why->text), format,
                    args); /* a hint may be cut */
    va_end(args);
    return false;
}

static bool
is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Digits with at most one point. Returns the first character not used; digits beyond the
 * nineteenth only move the point, as no double would show them. */
static const char *
scan_digits(const char *at, uint64_t *ret_mantissa, int *ret_exponent, bool *ret_any)
{
    uint64_t mantissa = 0;
    int exponent = 0;
    bool any = false, point = false;
    for (; is_digit(*at) || (*at == '.' && !point); at++) {
        if (*at == '.') {
            point = true;
            continue;
        }
        any = true;
        if (mantissa < 1000000000000000000u)
            mantissa = mantissa * 10 + (uint64_t)(*at - '0');
        else
            exponent++;
        exponent -= point;
    }
    *ret_mantissa = mantissa;
    *ret_exponent = exponent;
    *ret_any = any;
    return at;
}

/* An exponent only where digits follow: the e of an unknown unit is left to the unit. */
static const char *
scan_exponent(const char *at, int *ret_exponent)
{
    *ret_exponent = 0;
    if (*at != 'e' && *at != 'E')
        return at;
    const char *digits = at + 1;
    bool negative = *digits == '-';
    if (*digits == '-' || *digits == '+')
        digits++;
    if (!is_digit(*digits))
        return at;
    int exponent = 0;
    for (; is_digit(*digits); digits++)
        exponent = exponent > EXPONENT_MAX ? exponent : exponent * 10 + (*digits - '0');
    *ret_exponent = negative ? -exponent : exponent;
    return digits;
}

/* Exact where both factors are (15 digits and a power of ten up to 22: all that people type);
 * else one rounding of a long double more. */
static double
scaled(uint64_t mantissa, int exponent)
{
    static const double powers[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                    1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                    1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
    if (mantissa < (UINT64_C(1) << 53) && exponent >= -22 && exponent <= 22)
        return exponent < 0 ? (double)mantissa / powers[-exponent]
                            : (double)mantissa * powers[exponent];
    return (double)((long double)mantissa * powl(10.0L, (long double)exponent));
}

static const char *
number_scan(const char *text, double *ret_value)
{
    const char *at = text;
    bool negative = *at == '-', any;
    if (*at == '-' || *at == '+')
        at++;
    uint64_t mantissa;
    int exponent, shift;
    at = scan_digits(at, &mantissa, &exponent, &any);
    if (!any)
        return NULL;
    at = scan_exponent(at, &shift);
    double value = scaled(mantissa, exponent + shift);
    *ret_value = negative ? -value : value;
    return at;
}

static const struct unit *
unit_find(const char *name)
{
    for (size_t i = 0; i < sizeof(units) / sizeof(units[0]); i++)
        if (strcmp(units[i].name, name) == 0)
            return &units[i];
    return NULL;
}

static bool
refuse_comma(const char *text, struct typed_refusal *reterr_why)
{
    char better[TYPED_TEXT_MAX + 1];
    (void)snprintf(better, sizeof(better), "%s", text); /* its length was checked */
    bool point_too = strchr(better, '.') != NULL;
    *strchr(better, ',') = '.';
    if (point_too || strchr(better, ',') != NULL)
        return refuse(reterr_why,
                      "has a comma: write one point before the decimals, not a comma, and "
                      "nothing between thousands, as 1234.5");
    char shown[TYPED_TEXT_MAX + 1];
    return refuse(reterr_why, "has a comma: write a point, not a comma: %s",
                  typed_shown(shown, sizeof(shown), better));
}

static bool
refuse_unit(const char *name, double value, struct typed_refusal *reterr_why)
{
    char text[32];
    if (strcmp(name, "F") == 0 || strcmp(name, "degF") == 0 || strcmp(name, "\u00b0F") == 0) {
        if (fabs(value) > 1e6)
            return refuse(reterr_why,
                          "is in degrees Fahrenheit: write degrees Celsius, as 100C");
        return refuse(reterr_why, "is in degrees Fahrenheit: write degrees Celsius, %sC",
                      typed_fixed(text, sizeof(text), (value - 32.0) / 1.8, 4));
    }
    if (strcmp(name, "ft") == 0 || strcmp(name, "feet") == 0)
        return refuse(reterr_why, "is in feet: write metres (one foot is 0.3048 m)");
    if (strcmp(name, "MV") == 0)
        return refuse(reterr_why, "is in megavolts: for millivolts write mV");
    if (strcmp(name, "mohm") == 0)
        return refuse(reterr_why, "could be milli or mega: write ohm, kohm or Mohm");
    char shown[24];
    return refuse(
        reterr_why,
        "ends in '%s', which is no unit known here: write mV, uV, V, ohm, kohm, C, kPa, hPa "
        "or m right after the number",
        typed_shown(shown, sizeof(shown), name));
}

bool
typed_parse(const char *text, struct typed *ret_typed, struct typed_refusal *reterr_why)
{
    if (strlen(text) > TYPED_TEXT_MAX)
        return refuse(reterr_why, "is too long: a number and its unit take a few characters");
    if (text[0] == '\0')
        return refuse(reterr_why, "is empty: write a number");
    double value;
    const char *rest = number_scan(text, &value);
    if (rest == NULL && text[strspn(text, "+-")] == ',')
        return refuse_comma(text, reterr_why);
    if (rest == NULL)
        return refuse(reterr_why, "is not a number: write digits, with a point for decimals");
    if (rest[0] == ',')
        return refuse_comma(text, reterr_why);
    if (rest[0] == '.')
        return refuse(reterr_why, "has two points: write one, before the decimals");
    const char *name = rest + strspn(rest, " ");
    const struct unit *unit = unit_find(name);
    if (unit == NULL)
        return refuse_unit(name, value, reterr_why);
    if (!isfinite(value * unit->factor))
        return refuse(reterr_why, "is far too large");
    *ret_typed = (struct typed){.value = value * unit->factor, .kind = unit->kind};
    return true;
}

char *
typed_fixed(char *buf, size_t size, double value, int decimals)
{
    assert(size >= 32 && decimals >= 0 && decimals <= 9);
    int64_t unit = 1;
    for (int i = 0; i < decimals; i++)
        unit *= 10;
    double scaled_value = fabs(value) * (double)unit;
    assert(scaled_value < 9e15);
    int64_t whole = llround(scaled_value);
    const char *sign = value < 0.0 && whole > 0 ? "-" : "";
    int len = snprintf(buf, size, "%s%lld", sign, (long long)(whole / unit));
    if (decimals > 0)
        (void)snprintf(buf + len, size - (size_t)len, ".%0*lld", decimals,
                       (long long)(whole % unit));
    return buf;
}

/* Length of the UTF-8 sequence at text when it is one that may be shown, else 0. */
static size_t
shown_length(const unsigned char *text)
{
    const size_t len = text[0] < 0x80   ? 1
                       : text[0] < 0xc2 ? 0
                       : text[0] < 0xe0 ? 2
                       : text[0] < 0xf0 ? 3
                                        : 0;
    char one[4] = "";
    for (size_t i = 0; i < len && text[i] != '\0'; i++)
        one[i] = (char)text[i];
    return len > 0 && strlen(one) == len && text_is_clean(one, len, false) ? len : 0;
}

char *
typed_shown(char *buf, size_t size, const char *text)
{
    assert(size >= 8);
    size_t used = 0;
    for (const unsigned char *at = (const unsigned char *)text; *at != '\0';) {
        size_t len = shown_length(at), take = len == 0 ? 1 : len;
        if (used + take + 4 > size && strlen((const char *)at) + used + 1 > size) {
            memcpy(buf + used, "...", 3);
            used += 3;
            break;
        }
        if (len == 0)
            buf[used] = '?';
        else
            memcpy(buf + used, at, len);
        used += take;
        at += take;
    }
    buf[used] = '\0';
    return buf;
}
