/* A small plan line by line, of which a test replaces one: what a value loads as, and where and
 * how a fault is told. */
#ifndef SUPPORT_PLAN_LINES_H
#define SUPPORT_PLAN_LINES_H

#include <stddef.h>

#include "trivet/plan.h"

/* The plan with one line replaced (0: none; NULL: left out). Returns its length. */
size_t plan_lines_write(char *buf, size_t size, size_t line, const char *text);
/* The same, loaded; NULL with its faults. */
struct plan *load_with(size_t line, const char *text, struct plan_faults *ret_faults);
/* Fails the test when it does not load. */
struct plan *load_good(size_t line, const char *text);
/* All of them as people read them; valid until the next call. */
char *all_faults(const struct plan_faults *faults);

/* One line that makes the plan faulty, and where and how that is told. */
struct fault_case {
    size_t line; /* replaced */
    const char *text;
    int at_line, at_column;
    const char *told; /* part of the one fault */
};
void check_one_fault(const struct fault_case *one);

#endif
