/* How the conversion tests compare numbers: within a stated tolerance, saying all three when it
 * fails. */
#ifndef UNIT_CONVERT_CHECK_H
#define UNIT_CONVERT_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* An output that no conversion gives: shows whether a refusal left it untouched. */
#define UNTOUCHED -98765.0

#define assert_near(actual, expected, tolerance)                                               \
    check_near((actual), (expected), (tolerance), #actual, __FILE__, __LINE__)

#define assert_refused(wanted, call, output)                                                   \
    do {                                                                                       \
        (output) = UNTOUCHED;                                                                  \
        assert_int_equal((call), (wanted));                                                    \
        assert_true((output) == UNTOUCHED);                                                    \
    } while (0)

static inline void
check_near(double actual, double expected, double tolerance, const char *what, const char *file,
           int line)
{
    if (fabs(actual - expected) <= tolerance)
        return;
    print_error("%s is %.12g, not %.12g within %.3g\n", what, actual, expected, tolerance);
    _fail(file, line);
}

#endif
