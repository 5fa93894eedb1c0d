/* Bounded texts and temperatures for sentences. Pure, any thread. */
#include "text.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void
text_start(struct text *text, char *buf, size_t size)
{
    *text = (struct text){.buf = buf, .size = size};
    buf[0] = '\0';
}

static void
end_with_ellipsis(struct text *text)
{
    static const char ellipsis[] = "…";
    size_t at = text->size - sizeof ellipsis;
    while (at > 0 && ((unsigned char)text->buf[at] & 0xc0) == 0x80)
        at--;
    memcpy(text->buf + at, ellipsis, sizeof ellipsis);
    text->len = text->size; /* full: nothing more is added */
}

void
text_add(struct text *text, const char *format, ...)
{
    if (text->len >= text->size)
        return;
    va_list args;
    va_start(args, format);
    /* NOLINTNEXTLINE(clang-analyzer-valist.Uninitialized): va_start is just above */
    int wrote = vsnprintf(text->buf + text->len, text->size - text->len, format, args);
    va_end(args);
    if (wrote < 0)
        return;
    if ((size_t)wrote >= text->size - text->len)
        end_with_ellipsis(text);
    else
        text->len += (size_t)wrote;
}

/* Thousandths of a degree Fahrenheit with as few decimals as keep the reading on its side of
 * the limit. */
static void
fahrenheit_text(char *buf, size_t size, int32_t temp_mC, struct limit_temp limit)
{
    static const int64_t unit_of[] = {100, 10, 1};
    int64_t exact_5mF = (int64_t)temp_mC * 9 + 160000; /* five thousandths' worth, exact */
    int side = temp_compare(temp_mC, limit);
    for (int decimals = 1; decimals <= 3; decimals++) {
        int64_t unit = unit_of[decimals - 1] * 5;
        int64_t magnitude = exact_5mF < 0 ? -exact_5mF : exact_5mF;
        int64_t shown = (magnitude + unit / 2) / unit * unit_of[decimals - 1];
        int64_t value = exact_5mF < 0 ? -shown : shown;
        int shown_side = value < limit.milli ? -1 : value > limit.milli;
        if (shown_side != side && decimals < 3)
            continue;
        if (shown_side != side) { /* a fraction of a thousandth beside the limit */
            (void)snprintf(buf, size, "just %s", side < 0 ? "under" : "over");
            return;
        }
        char three[40]; /* all three decimals; what is not shown are zeros */
        (void)snprintf(three, sizeof three, "%s%lld.%03lld", value < 0 ? "-" : "",
                       (long long)(shown / 1000), (long long)(shown % 1000));
        (void)snprintf(buf, size, "%.*s", (int)strlen(three) - 3 + decimals, three);
        return;
    }
}

char *
degrees_text(char buf[DEGREES_MAX], int32_t temp_mC, struct limit_temp limit)
{
    char celsius[24], fahrenheit[24];
    (void)temp_text_against(celsius, sizeof celsius, temp_mC, limit);
    if (limit.unit == TEMP_C || temp_mC == TEMP_NONE) {
        (void)snprintf(buf, DEGREES_MAX, "%s °C", celsius);
        return buf;
    }
    fahrenheit_text(fahrenheit, sizeof fahrenheit, temp_mC, limit);
    if (strncmp(fahrenheit, "just", 4) == 0) {
        char printed[24];
        (void)snprintf(buf, DEGREES_MAX, "%s %s (%s °C)", fahrenheit,
                       limit_temp_text(printed, sizeof printed, limit), celsius);
    } else {
        (void)snprintf(buf, DEGREES_MAX, "%s °F (%s °C)", fahrenheit, celsius);
    }
    return buf;
}
