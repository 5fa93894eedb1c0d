/* What `trivet find` is to search. See find_setup.h. */
#include "daemon/cli/find_setup.h"

#include <stdio.h>
#include <string.h>

#include "trivet/json_out.h" /* text_is_clean */
#include "trivet/typed.h"

static const uint32_t bauds_known[] = {1200,   2400,   4800,   9600,   19200,  38400, 57600,
                                       115200, 230400, 460800, 500000, 576000, 921600};

void
find_setup_init(struct find_setup *setup)
{
    *setup = (struct find_setup){
        .bus = {.driver = BUS_MODBUS_RTU,
                .id = "new-line",
                .stop_bits = 1,
                .port = 502,
                .timeout_ms = 300,
                .max_late_ms = 500},
        .bauds = {9600, 19200},
        .baud_count = 2,
        .parities = {'E', 'N'},
        .parity_count = 2,
        .ranges = {{0, 63}},
        .range_count = 1,
        .functions = {4, 3},
        .function_count = 2,
        .pause_ms = 100,
    };
    setup->bus.baud_bps = setup->bauds[0];
    setup->bus.parity = setup->parities[0];
    setup->bus.device = setup->device;
    setup->bus.host = setup->host;
}

static bool
no(char *reterr, const char *text, const char *what)
{
    char shown[60];
    (void)snprintf(reterr, FIND_WHY_MAX, "'%s' %s", typed_shown(shown, sizeof shown, text),
                   what);
    return false;
}

/* ---- words and numbers ---- */

/* A decimal number of at most six figures at *at; steps over it. */
static bool
take_number(const char **at, uint32_t *ret)
{
    const size_t figures = strspn(*at, "0123456789");
    uint32_t value = 0;
    if (figures == 0 || figures > 6)
        return false;
    for (size_t i = 0; i < figures; i++)
        value = value * 10 + (uint32_t)((*at)[i] - '0');
    *at += figures;
    *ret = value;
    return true;
}

/* The next of "1-20,33": its ends; false when there is none. Steps over a comma behind it,
 * which must be followed by more. */
static bool
take_range(const char **at, uint32_t *ret_first, uint32_t *ret_last)
{
    if (!take_number(at, ret_first))
        return false;
    *ret_last = *ret_first;
    if (**at == '-') {
        ++*at;
        if (!take_number(at, ret_last))
            return false;
    }
    if (**at == ',')
        return *++*at != '\0';
    return **at == '\0';
}

static bool
whole(const char *text, uint32_t least, uint32_t most, uint32_t *ret)
{
    const char *at = text;
    uint32_t value;
    if (!take_number(&at, &value) || *at != '\0' || value < least || value > most)
        return false;
    *ret = value;
    return true;
}

/* The next word of "even,none" into ret; false when there is none or it is too long. */
static bool
take_word(const char **at, char *ret, size_t size)
{
    const size_t len = strcspn(*at, ",");
    if (len == 0 || len >= size)
        return false;
    memcpy(ret, *at, len);
    ret[len] = '\0';
    *at += len;
    if (**at == ',')
        return *++*at != '\0';
    return true;
}

/* ---- the line ---- */

bool
find_setup_device(struct find_setup *setup, const char *text, char *reterr)
{
    if (text[0] != '/')
        return no(reterr, text, "is no device: write its whole path, as /dev/ttyUSB0");
    if (strlen(text) > FIND_PATH_MAX || !text_is_clean(text, FIND_PATH_MAX, false))
        return no(reterr, text, "is too long for a device, or has characters no path has");
    (void)snprintf(setup->device, sizeof setup->device, "%s", text);
    setup->bus.driver = BUS_MODBUS_RTU;
    return true;
}

bool
find_setup_host(struct find_setup *setup, const char *text, char *reterr)
{
    static const char allowed[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.:-_";
    if (text[0] == '\0' || text[0] == '-' || strlen(text) > FIND_HOST_MAX ||
        strspn(text, allowed) != strlen(text))
        return no(reterr, text,
                  "is neither a host name nor an address: write it as 192.0.2.10");
    (void)snprintf(setup->host, sizeof setup->host, "%s", text);
    setup->bus.driver = BUS_MODBUS_TCP;
    return true;
}

bool
find_setup_port(struct find_setup *setup, const char *text, char *reterr)
{
    uint32_t port;
    if (!whole(text, 1, 65535, &port))
        return no(reterr, text, "is no TCP port: write a number from 1 to 65535, as 502");
    setup->bus.port = (uint16_t)port;
    return true;
}

bool
find_setup_line(struct find_setup *setup, const char *text, char *reterr)
{
    char host[FIND_HOST_MAX + 1];
    const char *colon = strchr(text, ':');
    if (text[0] == '/')
        return find_setup_device(setup, text, reterr);
    if (colon == NULL || strchr(colon + 1, ':') != NULL) /* none, or an IPv6 address */
        return find_setup_host(setup, text, reterr);
    if ((size_t)(colon - text) >= sizeof host)
        return no(reterr, text, "is too long for an address");
    (void)snprintf(host, sizeof host, "%.*s", (int)(colon - text), text);
    return find_setup_port(setup, colon + 1, reterr) && find_setup_host(setup, host, reterr);
}

/* ---- what to ask for ---- */

/* Units are 1 to 247 (MODBUS over Serial Line V1.02, 2.2); on TCP a device that is no gateway
 * may be 0 or 255, and 248 to 254 are reserved (MODBUS Messaging on TCP/IP V1.0b, 3.1.3.2). */
#define UNIT_MOST       247
#define UNIT_NO_GATEWAY 255

/* Reserved ones within a range are passed over: no plan could name them. */
static bool
take_units(struct find_setup *setup, const char *text, char *reterr)
{
    const char *at = text;
    setup->unit_count = 0;
    while (*at != '\0') {
        uint32_t first, last;
        if (!take_range(&at, &first, &last) || first > last || last > 255)
            return no(reterr, text,
                      "are no unit numbers: write those from 1 to 247 (on TCP also 0 and 255), "
                      "as 1-20,33");
        for (uint32_t unit = first; unit <= last; unit++)
            if ((unit <= UNIT_MOST || unit == UNIT_NO_GATEWAY) &&
                memchr(setup->units, (int)unit, setup->unit_count) == NULL)
                setup->units[setup->unit_count++] = (uint8_t)unit;
    }
    return setup->unit_count > 0 || no(reterr, text, "names no unit: write as 1-20");
}

bool
find_setup_bauds(struct find_setup *setup, const char *text, char *reterr)
{
    const char *at = text;
    setup->baud_count = 0;
    while (*at != '\0') {
        uint32_t first, last;
        bool known = false;
        if (take_range(&at, &first, &last) && first == last)
            for (size_t i = 0; i < sizeof bauds_known / sizeof *bauds_known; i++)
                known = known || bauds_known[i] == first;
        if (!known || setup->baud_count == FIND_BAUDS_MAX)
            return no(reterr, text,
                      "are no speeds of a serial line: write as 9600,19200; there are 1200, "
                      "2400, 4800, 9600, 19200, 38400, 57600, 115200 and a few faster ones");
        setup->bauds[setup->baud_count++] = first;
    }
    return setup->baud_count > 0 || no(reterr, text, "names no speed: write as 9600,19200");
}

static char
parity_of(const char *word)
{
    if (strcmp(word, "even") == 0)
        return 'E';
    if (strcmp(word, "none") == 0)
        return 'N';
    return strcmp(word, "odd") == 0 ? 'O' : '\0';
}

bool
find_setup_parities(struct find_setup *setup, const char *text, char *reterr)
{
    const char *at = text;
    setup->parity_count = 0;
    while (*at != '\0' || setup->parity_count == 0) {
        char word[8] = "";
        if (!take_word(&at, word, sizeof word) || parity_of(word) == '\0' ||
            setup->parity_count == FIND_PARITIES_MAX)
            return no(reterr, text, "are no parities: write even, none or odd, as even,none");
        setup->parities[setup->parity_count++] = parity_of(word);
    }
    return true;
}

bool
find_setup_stop_bits(struct find_setup *setup, const char *text, char *reterr)
{
    uint32_t bits;
    if (!whole(text, 1, 2, &bits))
        return no(reterr, text, "is no number of stop bits: write 1 or 2");
    setup->bus.stop_bits = (uint8_t)bits;
    return true;
}

bool
find_setup_direction(struct find_setup *setup, const char *text, char *reterr)
{
    setup->bus.kernel_direction = strcmp(text, "kernel") == 0;
    return setup->bus.kernel_direction || strcmp(text, "adapter") == 0 ||
           no(reterr, text, "is no way to switch an RS-485 line: write adapter or kernel");
}

bool
find_setup_framing(struct find_setup *setup, const char *text, char *reterr)
{
    const bool serial = strcmp(text, "rtu") == 0;
    if (setup->bus.driver == BUS_MODBUS_RTU)
        return no(reterr, text, "goes with a --host: a serial line has only one framing");
    if (serial)
        setup->bus.driver = BUS_MODBUS_RTU_TCP;
    return serial || strcmp(text, "tcp") == 0 ||
           no(reterr, text, "is no framing: write tcp, or rtu for a plain serial gateway");
}

bool
find_setup_registers(struct find_setup *setup, const char *text, char *reterr)
{
    const char *at = text;
    uint32_t total = 0;
    setup->range_count = 0;
    while (*at != '\0' || setup->range_count == 0) {
        uint32_t first, last;
        if (!take_range(&at, &first, &last) || first > last || last > 65535 ||
            setup->range_count == FIND_RANGES_MAX)
            return no(reterr, text,
                      "are no registers: write up to 8 ranges counted from 0, as 0-63,256-287");
        setup->ranges[setup->range_count++] =
            (struct find_range){(uint16_t)first, (uint16_t)last};
        total += last - first + 1;
    }
    if (total > FIND_REGISTERS_MAX)
        return no(reterr, text, "are too many registers for one search: at most 1024");
    return true;
}

bool
find_setup_functions(struct find_setup *setup, const char *text, char *reterr)
{
    const char *at = text;
    setup->function_count = 0;
    while (*at != '\0' || setup->function_count == 0) {
        uint32_t first, last;
        if (!take_range(&at, &first, &last) || first != last || (first != 3 && first != 4) ||
            setup->function_count == 2 ||
            (setup->function_count == 1 && setup->functions[0] == first))
            return no(
                reterr, text,
                "are not the functions that read: write 4, 3 or 4,3; nothing else is ever "
                "asked");
        setup->functions[setup->function_count++] = (uint8_t)first;
    }
    return true;
}

bool
find_setup_finish(struct find_setup *setup, const char *units, char *reterr)
{
    const bool serial = setup->bus.driver != BUS_MODBUS_TCP;
    if (!take_units(setup, units != NULL ? units : serial ? "1-32" : "1-16,255", reterr))
        return false;
    for (size_t i = 0; serial && i < setup->unit_count; i++)
        if (setup->units[i] < 1 || setup->units[i] > 247)
            return no(reterr, units, "does not do: units on a serial line are 1 to 247");
    return true;
}

/* ---- times ---- */

bool
find_duration(const char *text, int64_t least_ms, int64_t most_ms, int64_t *ret_ms,
              char *reterr)
{
    static const struct {
        const char *unit;
        int64_t ms;
    } units[] = {{"ms", 1}, {"s", 1000}, {"min", 60000}};
    const char *at = text;
    uint32_t value = 0;
    int64_t ms = -1;
    if (take_number(&at, &value)) {
        at += strspn(at, " ");
        for (size_t i = 0; i < sizeof units / sizeof *units; i++)
            if (strcmp(at, units[i].unit) == 0)
                ms = value * units[i].ms;
    }
    if (ms >= least_ms && ms <= most_ms) {
        *ret_ms = ms;
        return true;
    }
    char what[120];
    (void)snprintf(what, sizeof what,
                   "is no time from %lld ms to %lld s: write as 500ms, 10s or 2min",
                   (long long)least_ms, (long long)most_ms / 1000);
    return no(reterr, text, what);
}

bool
find_setup_timeout(struct find_setup *setup, const char *text, char *reterr)
{
    int64_t ms;
    if (!find_duration(text, 20, 10000, &ms, reterr))
        return false;
    setup->bus.timeout_ms = (int32_t)ms;
    return true;
}

bool
find_setup_longest_delay(struct find_setup *setup, const char *text, char *reterr)
{
    int64_t ms;
    if (!find_duration(text, 0, 10000, &ms, reterr))
        return false;
    setup->bus.max_late_ms = (int32_t)ms;
    return true;
}

bool
find_setup_pause(struct find_setup *setup, const char *text, char *reterr)
{
    return find_duration(text, 20, 10000, &setup->pause_ms, reterr);
}

/* ---- names ---- */

#define ID_LETTERS "abcdefghijklmnopqrstuvwxyz"

void
find_id_of(const char *name, char ret_id[PLAN_ID_MAX + 1])
{
    static const char upper[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZ", lower[] = ID_LETTERS;
    size_t len = 0;
    for (const char *at = name; *at != '\0' && len < PLAN_ID_MAX; at++) {
        const char *found = strchr(upper, *at);
        char c = *at;
        if (found != NULL)
            c = lower[found - upper];
        if (strchr(ID_LETTERS "0123456789", c) != NULL)
            ret_id[len++] = c;
        else if (len > 0 && ret_id[len - 1] != '-')
            ret_id[len++] = '-';
    }
    while (len > 0 && ret_id[len - 1] == '-')
        len--;
    ret_id[len] = '\0';
}

bool
find_id_good(const char *id)
{
    const size_t len = strlen(id);
    return len >= 1 && len <= PLAN_ID_MAX && id[0] != '-' &&
           strspn(id, ID_LETTERS "0123456789-") == len;
}
