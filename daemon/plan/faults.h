/* The faults found in one plan file, kept in the order of their lines. One thread. */
#ifndef PLAN_FAULTS_H
#define PLAN_FAULTS_H

#include <stddef.h>

#include "trivet/log.h"
#include "trivet/plan.h"

/* Adds a fault; beyond PLAN_FAULTS_TOLD_MAX those of the last lines are dropped and `more` is
 * set. A text too long for its place ends in "..." at a whole character. */
void plan_fault_add(struct plan_faults *faults, int line, int column, const char *format, ...)
    TRIVET_PRINTF(4, 5);

/* Copies text that came from the file for showing within a fault: at most 40 bytes, whatever
 * could disturb a terminal or a log as \xNN. Returns buf. */
#define PLAN_QUOTED_MAX 168
char *plan_quoted(char buf[PLAN_QUOTED_MAX], const char *text, size_t len);

/* The choice that was probably meant by text, or NULL. choices is walked by calling next with
 * 0, 1, ... until it returns NULL. */
const char *plan_nearest(const char *text, size_t len,
                         const char *(*next)(const void *arg, size_t i), const void *arg);

#endif
