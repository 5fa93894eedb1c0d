/* Amounts as people type them. See amount.h. Integers only. */
#include "daemon/cli/amount.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "trivet/typed.h"
#include "trivet/units.h"

#define TEXT_MAX 40

/* With a degree sign, in UTF-8. */
#define DEGREE_C                                                                               \
    ("\xc2\xb0"                                                                                \
     "c")
#define DEGREE_F                                                                               \
    ("\xc2\xb0"                                                                                \
     "f")

struct unit {
    const char *name;
    int64_t numerator,
        denominator; /* result = thousandths of the unit * numerator / denominator */
};

/* Pounds, ounces and inches by their exact definitions (0.45359237 kg, 1/16 of that, 25.4 mm).
 */
static const struct unit mass_units[] = {
    {"g", 1, 1000},
    {"kg", 1, 1},
    {"lb", 45359237, 100000000},
    {"oz", 45359237, 1600000000},
};
static const struct unit length_units[] = {
    {"mm", 1, 1000},
    {"cm", 1, 100},
    {"in", 254, 10000},
};

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* Nearest, halves away from zero. denominator > 0. */
static int64_t
divide(int64_t numerator, int64_t denominator)
{
    int64_t half = numerator < 0 ? -denominator / 2 : denominator / 2;
    return (numerator + half) / denominator;
}

static bool
refuse(char *reterr, size_t err_size, const char *text, const char *write)
{
    char shown[TEXT_MAX + 4];
    (void)snprintf(reterr, err_size, "'%s' is not understood; write %s",
                   typed_shown(shown, sizeof shown, text), write);
    return false;
}

/* Parts "2.4 kg" into number and unit, without the blanks around them. */
static bool
split(const char *text, char number[TEXT_MAX], char unit[TEXT_MAX])
{
    text += strspn(text, " ");
    size_t len = strspn(text, "+-.0123456789");
    const char *rest = text + len;
    rest += strspn(rest, " ");
    size_t rest_len = strlen(rest);
    while (rest_len > 0 && rest[rest_len - 1] == ' ')
        rest_len--;
    if (len == 0 || len >= TEXT_MAX || rest_len >= TEXT_MAX)
        return false;
    memcpy(number, text, len);
    number[len] = '\0';
    memcpy(unit, rest, rest_len);
    unit[rest_len] = '\0';
    return true;
}

/* A comma for a point is common and could be read two ways: it is named. */
static bool
has_comma(const char *text, const char *example, char *reterr, size_t err_size)
{
    if (strchr(text, ',') == NULL)
        return false;
    (void)snprintf(reterr, err_size, "please write a point for the decimals, not a comma: %s",
                   example);
    return true;
}

bool
amount_temp(const char *text, bool both_used, int32_t *ret_mC, char *reterr, size_t err_size)
{
    static const char *const celsius[] = {"c", DEGREE_C, "degc"};
    static const char *const fahrenheit[] = {"f", DEGREE_F, "degf"};
    static const char write[] = "a temperature such as 63.4C or 145F";
    char number[TEXT_MAX], unit[TEXT_MAX];
    int32_t milli = 0;
    if (has_comma(text, "63.4", reterr, err_size))
        return false;
    if (!split(text, number, unit) || !milli_parse(number, &milli))
        return refuse(reterr, err_size, text, write);
    if (unit[0] == '\0' && (both_used || milli > AMOUNT_BARE_MAX_mC)) {
        (void)snprintf(reterr, err_size,
                       "'%s' could be Celsius or Fahrenheit: write %sC or %sF", number, number,
                       number);
        return false;
    }
    bool is_celsius = unit[0] == '\0', is_fahrenheit = false;
    for (size_t i = 0; i < COUNT(celsius); i++) {
        is_celsius = is_celsius || strcasecmp(unit, celsius[i]) == 0;
        is_fahrenheit = is_fahrenheit || strcasecmp(unit, fahrenheit[i]) == 0;
    }
    if (!is_celsius && !is_fahrenheit)
        return refuse(reterr, err_size, text, write);
    *ret_mC = is_celsius ? milli : (int32_t)divide(((int64_t)milli - 32000) * 5, 9);
    return true;
}

char *
amount_temp_text(char buf[AMOUNT_TEMP_MAX], int32_t temp_mC, bool both_used)
{
    char celsius[24], fahrenheit[24];
    (void)temp_text(celsius, sizeof celsius, temp_mC);
    /* To the tenth, as thermometers show it. */
    int64_t tenths = divide((int64_t)temp_mC * 9 + 160000, 500);
    (void)temp_text(fahrenheit, sizeof fahrenheit, (int32_t)tenths * 100);
    (void)snprintf(buf, AMOUNT_TEMP_MAX,
                   both_used ? "%s \xc2\xb0"
                               "C (%s \xc2\xb0"
                               "F)"
                             : "%s \xc2\xb0"
                               "C",
                   celsius, fahrenheit);
    return buf;
}

static bool
amount_of(const char *text, const struct unit *units, size_t count, const char *write,
          int32_t *ret, char *reterr, size_t err_size)
{
    char number[TEXT_MAX], unit[TEXT_MAX];
    int32_t milli = 0;
    if (has_comma(text, "2.4", reterr, err_size))
        return false;
    if (!split(text, number, unit) || !milli_parse(number, &milli))
        return refuse(reterr, err_size, text, write);
    for (size_t i = 0; i < count; i++) {
        if (strcasecmp(unit, units[i].name) != 0)
            continue;
        int64_t amount = divide(milli * units[i].numerator, units[i].denominator);
        if (amount < 1 || amount > 10000000)
            return refuse(reterr, err_size, text, write);
        *ret = (int32_t)amount;
        return true;
    }
    return refuse(reterr, err_size, text, write);
}

bool
amount_mass(const char *text, int32_t *ret_g, char *reterr, size_t err_size)
{
    return amount_of(text, mass_units, COUNT(mass_units),
                     "a weight with its unit, such as 2.4kg, 800g or 5lb", ret_g, reterr,
                     err_size);
}

bool
amount_length(const char *text, int32_t *ret_mm, char *reterr, size_t err_size)
{
    return amount_of(text, length_units, COUNT(length_units),
                     "a thickness with its unit, such as 60mm, 6cm or 2.5in", ret_mm, reterr,
                     err_size);
}

bool
amount_number(const char *text, uint64_t max, uint64_t *ret, char *reterr, size_t err_size)
{
    uint64_t number = 0;
    const char *at = text + strspn(text, " ");
    size_t digits = strspn(at, "0123456789");
    bool fits = digits > 0 && digits <= 16;
    for (size_t i = 0; fits && i < digits; i++)
        number = number * 10 + (uint64_t)(at[i] - '0');
    if (!fits || at[digits + strspn(at + digits, " ")] != '\0' || number < 1 || number > max)
        return refuse(reterr, err_size, text, "a whole number from 1, such as 4");
    *ret = number;
    return true;
}

bool
amount_span(const char *text, int64_t *ret_ms, char *reterr, size_t err_size)
{
    int64_t minutes = 0, last = INT64_MAX;
    const char *at = text + strspn(text, " ");
    bool good = *at != '\0';
    while (good && *at != '\0') {
        size_t digits = strspn(at, "0123456789");
        long number = strtol(at, NULL, 10);
        const char *unit = at + digits + strspn(at + digits, " ");
        bool hours = unit[0] == 'h';
        int64_t each = hours ? 60 : 1;
        good = digits >= 1 && digits <= 4 && each < last &&
               (hours || strncmp(unit, "min", 3) == 0);
        minutes += number * each;
        last = each;
        at = good ? unit + (hours ? 1 : 3) : at;
        at += good ? strspn(at, " ") : 0;
    }
    if (!good || minutes < 1 || minutes >= INT64_C(2) * 24 * 60) {
        (void)snprintf(reterr, err_size, "write a time such as 30min, 2h or \"1 h 30 min\"");
        return false;
    }
    *ret_ms = minutes * 60000;
    return true;
}
