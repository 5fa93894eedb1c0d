/* What stays on one line. See together.h. */
#include "trivet/together.h"

#include <string.h>

#define COUNT(table) (sizeof(table) / sizeof *(table))

static const char *const units[] = {"min", "h",  "s",  "ms", "d", "kg",
                                    "g",   "mm", "cm", "K",  "%"};
static const char *const weekdays[] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                     "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};

static bool
is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Goes on as a word: letters, figures, whatever is not ASCII. */
static bool
in_word(char c)
{
    return is_digit(c) || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
           (unsigned char)c >= 0x80;
}

/* Figures where the pattern has '0', else the very character. */
static size_t
matches(const char *text, const char *pattern)
{
    size_t i = 0;
    for (; pattern[i] != '\0'; i++)
        if (pattern[i] == '0' ? !is_digit(text[i]) : text[i] != pattern[i])
            return 0;
    return i;
}

static bool
begins_with_one_of(const char *text, const char *const *words, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        size_t len = strlen(words[i]);
        if (strncmp(text, words[i], len) == 0 && !in_word(text[len]))
            return true;
    }
    return false;
}

size_t
together_date(const char *text)
{
    size_t len = matches(text, "0000-00-00");
    return is_digit(text[len]) ? 0 : len;
}

bool
together_blank(const char *text, size_t blank)
{
    const char *next = text + blank + 1, *word = text + blank;
    while (word > text && in_word(word[-1]))
        word--;
    bool after_figure = blank > 0 && is_digit(text[blank - 1]);
    bool before_time = matches(next, "00:00") > 0;
    bool after_month = begins_with_one_of(word, months, COUNT(months));
    if (strncmp(next, "\xc2\xb0", 2) == 0) /* a degree sign */
        return true;
    if (after_figure && begins_with_one_of(next, units, COUNT(units)))
        return true;
    if (after_figure && begins_with_one_of(next, months, COUNT(months)))
        return true;
    if (after_month)
        return is_digit(*next);
    if (!before_time)
        return false;
    return begins_with_one_of(word, weekdays, COUNT(weekdays)) || matches(word, "0000 ") > 0 ||
           (blank >= 10 && together_date(text + blank - 10) > 0);
}
