/* Any bytes as what a person types to `trivet convert`: a sensor kind and a value, with a
 * newline between them. What is taken is finite and does what it says, what is refused says why
 * in clean text, and a number printed comes back. Corpus: tests/fuzz/corpus/convert. */
#include <assert.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "trivet/convert.h"
#include "trivet/json_out.h"
#include "trivet/sensor.h"
#include "trivet/typed.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void
check_why(const char *why, size_t size)
{
    assert(memchr(why, '\0', size) != NULL);
    assert(why[0] != '\0' && text_is_clean(why, size - 1, false));
}

/* What is printed is read again as the same, to half of the last decimal. */
static void
check_print(double value, int decimals)
{
    char text[32];
    struct typed again;
    struct typed_refusal why;
    if (fabs(value) * pow(10, decimals) >= 9e15)
        return;
    assert(typed_fixed(text, sizeof text, value, decimals) == text);
    assert(strspn(text, "-0123456789.") == strlen(text));
    assert(typed_parse(text, &again, &why) && again.kind == TYPED_PLAIN);
    assert(fabs(again.value - value) <= 0.501 * pow(10, -decimals) + fabs(value) * 1e-15);
}

static void
check_value(const char *text)
{
    struct typed typed;
    struct typed_refusal why = {{0}};
    if (!typed_parse(text, &typed, &why)) {
        check_why(why.text, sizeof why.text);
        return;
    }
    assert(isfinite(typed.value));
    assert(typed.kind <= TYPED_TEMP_K);
    for (int decimals = 0; decimals <= 9; decimals++)
        check_print(typed.value, decimals);
}

/* A thermistor that was taken has one temperature for every resistance, and falls. */
static void
check_thermistor(const struct convert_thermistor *thermistor)
{
    double last_ohm = INFINITY;
    for (int temp_C = -100; temp_C <= 300; temp_C += 20) {
        double ohm, again_C;
        if (convert_thermistor_resistance(thermistor, temp_C, &ohm) != CONVERT_OK)
            continue;
        assert(isfinite(ohm) && ohm > 0 && ohm < last_ohm);
        last_ohm = ohm;
        if (convert_thermistor_temp(thermistor, ohm, &again_C) == CONVERT_OK)
            assert(fabs(again_C - temp_C) < 0.01);
    }
}

static void
check_kind(const char *text)
{
    struct sensor sensor;
    struct sensor_refusal why = {{0}};
    if (!sensor_parse(text, &sensor, &why)) {
        check_why(why.text, sizeof why.text);
        return;
    }
    assert(memchr(sensor.name, '\0', sizeof sensor.name) != NULL);
    assert(text_is_clean(sensor.name, sizeof sensor.name, false));
    switch (sensor.family) {
    case SENSOR_THERMOCOUPLE:
        assert(sensor.tc < CONVERT_TC_COUNT);
        break;
    case SENSOR_RTD: {
        struct convert_range range;
        assert(isfinite(sensor.r0_ohm) && sensor.r0_ohm > 0);
        assert(convert_rtd_range(sensor.r0_ohm, &range) == CONVERT_OK);
        break;
    }
    case SENSOR_THERMISTOR:
        check_thermistor(&sensor.thermistor);
        break;
    }
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char *text = malloc(size + 1); /* exact, so that one byte too far is seen */
    if (text == NULL)
        return 0;
    memcpy(text, data, size);
    text[size] = '\0';
    char *value = strchr(text, '\n');
    if (value != NULL) {
        *value++ = '\0';
        check_value(value);
    } else {
        check_value(text);
    }
    check_kind(text);
    char shown[24];
    typed_shown(shown, sizeof shown, text);
    assert(text_is_clean(shown, sizeof shown, false));
    free(text);
    return 0;
}
