/* The findings of `trivet find` in words. See find_words.h. */
#include "daemon/cli/find_words.h"

#include <inttypes.h>
#include <string.h>

#include "trivet/register_reader.h"
#include "trivet/units.h"

#define NUMBER_MAX 32
#define TEXT_MAX   120

const char *
find_words_type(enum register_type type)
{
    switch (type) {
    case REGISTER_INT16:
        return "int16";
    case REGISTER_UINT16:
        return "uint16";
    case REGISTER_INT32:
        return "int32";
    case REGISTER_UINT32:
        return "uint32";
    case REGISTER_FLOAT32:
        return "float32";
    case REGISTER_INT64:
        return "int64";
    case REGISTER_UINT64:
        return "uint64";
    case REGISTER_FLOAT64:
        return "float64";
    }
    return "int16";
}

const char *
find_words_order(enum byte_order order)
{
    switch (order) {
    case ORDER_ABCD:
        return "ABCD";
    case ORDER_CDAB:
        return "CDAB";
    case ORDER_BADC:
        return "BADC";
    case ORDER_DCBA:
        return "DCBA";
    }
    return "ABCD";
}

const char *
find_words_driver(enum bus_driver driver)
{
    return driver == BUS_MODBUS_RTU       ? "modbus-rtu"
           : driver == BUS_MODBUS_RTU_TCP ? "modbus-rtu-tcp"
                                          : "modbus-tcp";
}

const char *
find_words_parity(char parity)
{
    return parity == 'E' ? "even" : parity == 'O' ? "odd" : "none";
}

const char *
find_words_tie_word(enum find_tie tie)
{
    static const char *const words[FIND_TIES] = {
        [FIND_TIE_SIGN] = "sign", [FIND_TIE_WIDE] = "wide",   [FIND_TIE_FUNCTION] = "function",
        [FIND_TIE_UNIT] = "unit", [FIND_TIE_ORDER] = "order", [FIND_TIE_SCALE] = "scale",
        [FIND_TIE_COPY] = "copy", [FIND_TIE_LESS] = "less",
    };
    return tie < FIND_TIES ? words[tie] : "less";
}

char *
find_words_micro(char *buf, size_t size, int64_t micro)
{
    const int64_t magnitude = micro < 0 ? -micro : micro;
    char digits[8];
    size_t len = 6;
    (void)snprintf(digits, sizeof digits, "%06d", (int)(magnitude % 1000000));
    while (len > 0 && digits[len - 1] == '0')
        len--;
    (void)snprintf(buf, size, "%s%" PRId64 "%s%.*s", micro < 0 ? "-" : "", magnitude / 1000000,
                   len > 0 ? "." : "", (int)len, digits);
    return buf;
}

static const char *
degrees(const struct find_guess *guess)
{
    return guess->sensor != NULL ? "ohm" : guess->reads == TEMP_F ? "°F" : "°C";
}

static bool
takes_more(const struct find_guess *guess)
{
    return register_type_count(guess->type) > 1;
}

char *
find_words_decoding(char *buf, size_t size, const struct find_guess *guess)
{
    char scale[NUMBER_MAX], offset[NUMBER_MAX], offset_text[NUMBER_MAX + 16] = "";
    const char *sensor = guess->sensor != NULL ? guess->sensor : "";
    find_words_micro(scale, sizeof scale, guess->scale_micro);
    if (guess->offset_micro != 0)
        (void)snprintf(offset_text, sizeof offset_text, ", offset %s %s",
                       find_words_micro(offset, sizeof offset, guess->offset_micro),
                       degrees(guess));
    (void)snprintf(buf, size, "%s%s%s, %s %s per count%s%s%s", find_words_type(guess->type),
                   takes_more(guess) ? " " : "",
                   takes_more(guess) ? find_words_order(guess->order) : "", scale,
                   degrees(guess), offset_text, sensor[0] != '\0' ? " of a " : "", sensor);
    return buf;
}

/* ---- the plan's lines ---- */

/* Double-quoted YAML: only these two need an escape; control characters were refused. */
static void
put_quoted(FILE *to, const char *text)
{
    (void)fputc('"', to);
    for (const char *at = text; *at != '\0'; at++) {
        if (*at == '"' || *at == '\\')
            (void)fputc('\\', to);
        (void)fputc(*at, to);
    }
    (void)fputc('"', to);
}

static void
put_path(FILE *to, const char *path)
{
    static const char plain[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/._-";
    if (strspn(path, plain) == strlen(path))
        (void)fputs(path, to);
    else
        put_quoted(to, path);
}

static void
put_bus(FILE *to, const struct plan_bus *bus)
{
    (void)fprintf(to, "buses:\n  - id: %s\n    driver: %s\n", bus->id,
                  find_words_driver(bus->driver));
    if (bus->driver == BUS_MODBUS_RTU) {
        (void)fputs("    device: ", to);
        put_path(to, bus->device);
        (void)fprintf(to, "\n    baud: %u\n    parity: %s\n    stop_bits: %d\n",
                      (unsigned)bus->baud_bps, find_words_parity(bus->parity), bus->stop_bits);
        if (bus->kernel_direction)
            (void)fputs("    direction: kernel\n", to);
    } else {
        (void)fputs("    host: ", to);
        put_quoted(to, bus->host);
        (void)fprintf(to, "\n    port: %d\n", bus->port);
    }
    (void)fprintf(to, "    timeout: %d ms\n    longest_delay: %d ms\n", (int)bus->timeout_ms,
                  (int)bus->max_late_ms);
}

void
find_words_plan(FILE *to, const struct plan_bus *bus, const struct find_guess *guess,
                const struct find_naming *naming)
{
    char number[NUMBER_MAX];
    put_bus(to, bus);
    (void)fprintf(to, "probes:\n  - id: %s\n    name: ", naming->id);
    put_quoted(to, naming->name);
    (void)fprintf(to, "\n    kind: %s\n    bus: %s\n    unit: %d\n    function: %d\n",
                  naming->kind == PROBE_FOOD ? "food" : "air", bus->id, guess->unit,
                  guess->function);
    (void)fprintf(to, "    register: %d\n    type: %s\n", guess->reg,
                  find_words_type(guess->type));
    if (takes_more(guess))
        (void)fprintf(to, "    byte_order: %s\n", find_words_order(guess->order));
    if (guess->sensor != NULL)
        (void)fprintf(to, "    sensor: %s\n", guess->sensor);
    (void)fprintf(to, "    scale: %s %s\n",
                  find_words_micro(number, sizeof number, guess->scale_micro), degrees(guess));
    if (guess->offset_micro != 0)
        (void)fprintf(to, "    offset: %s %s\n",
                      find_words_micro(number, sizeof number, guess->offset_micro),
                      degrees(guess));
    /* Longer than longest_delay, as the plan wants it on serial lines. */
    (void)fprintf(to, "    plausible: %s\n    every: %s\n",
                  naming->kind == PROBE_FOOD ? "[-40 °C, 150 °C]" : "[-40 °C, 60 °C]",
                  bus->max_late_ms < 10000 ? "10 s" : "15 s");
}

/* ---- ties ---- */

static void
place_text(char *buf, size_t size, const struct find_guess *guess)
{
    (void)snprintf(buf, size, "unit %d, function %d, register %d", guess->unit, guess->function,
                   guess->reg);
}

char *
find_words_tie(char *buf, size_t size, const struct find_guess *best,
               const struct find_guess *other)
{
    char place[TEXT_MAX], decoding[TEXT_MAX], hand[NUMBER_MAX], ice[NUMBER_MAX];
    place_text(place, sizeof place, other);
    find_words_decoding(decoding, sizeof decoding, other);
    temp_text(hand, sizeof hand, other->hand_mC);
    temp_text(ice, sizeof ice, other->ice_mC);
    switch (find_tie(best, other)) {
    case FIND_TIE_SIGN:
        (void)snprintf(buf, size,
                       "%s in place of %s: the same as long as the number is not below zero; "
                       "%s is the safer one",
                       find_words_type(other->type), find_words_type(best->type),
                       find_words_type(best->type));
        break;
    case FIND_TIE_WIDE:
        (void)snprintf(buf, size,
                       "register %d as %s: the same number, one being the lower half of the "
                       "other; either will do",
                       other->reg, decoding);
        break;
    case FIND_TIE_FUNCTION:
        (void)snprintf(buf, size, "function %d has the same value; either will do",
                       other->function);
        break;
    case FIND_TIE_UNIT:
        (void)snprintf(buf, size,
                       "unit %d shows the same: is it one device under two numbers, or are two "
                       "probes in the glass?",
                       other->unit);
        break;
    case FIND_TIE_ORDER:
        (void)snprintf(buf, size,
                       "register %d as %s: nearly the same; the device's manual knows which "
                       "registers belong together",
                       other->reg, decoding);
        break;
    case FIND_TIE_SCALE:
        (void)snprintf(buf, size,
                       "register %d as %s: %s °C in the hand, %s °C in ice water; compare with "
                       "another thermometer",
                       other->reg, decoding, hand, ice);
        break;
    case FIND_TIE_COPY:
        (void)snprintf(buf, size,
                       "%s as %s: another place with the same temperature, perhaps a mean, a "
                       "maximum or a neighbour; the device's manual knows",
                       place, decoding);
        break;
    case FIND_TIE_LESS:
    case FIND_TIES:
        (void)snprintf(buf, size, "%s as %s: %s °C in the hand, %s °C in ice water", place,
                       decoding, hand, ice);
        break;
    }
    return buf;
}
