/* Numbers as text, fast, as exports and seals write them by the million; and copying text that
 * fits. Pure. */
#ifndef STORE_TEXT_H
#define STORE_TEXT_H

#include <assert.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#define TEXT_INT_MAX 20 /* characters of the longest int64_t */

/* Writes value in decimal at `at` and returns where it ends; no NUL. Needs TEXT_INT_MAX bytes.
 */
static inline char *
text_int(char *at, int64_t value)
{
    char digits[TEXT_INT_MAX];
    uint64_t rest = value < 0 ? ~(uint64_t)value + 1 : (uint64_t)value;
    int count = 0;

    if (value < 0)
        *at++ = '-';
    do {
        digits[count++] = (char)('0' + rest % 10);
        rest /= 10;
    } while (rest != 0);
    while (count > 0)
        *at++ = digits[--count];
    return at;
}

/* Copies text that is known to fit: ids and initials between fields of the same size. */
static inline void
text_copy(char *to, size_t size, const char *from)
{
    size_t len = strlen(from);

    assert(len < size);
    memcpy(to, from, len + 1);
}

#endif
