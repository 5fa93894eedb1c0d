/* What every cmocka test file includes, in the order cmocka wants. */
#ifndef SUPPORT_CHECK_H
#define SUPPORT_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define COUNT_OF(array) (sizeof(array) / sizeof(array)[0])

#endif
