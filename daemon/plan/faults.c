/* The faults found in one plan file: collecting, quoting, guessing what was meant, telling. */
#include "daemon/plan/faults.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "trivet/json_out.h"

#define QUOTED_BYTES    40
#define NEAREST_LEN_MAX 40

static bool
is_continuation(char byte)
{
    return ((unsigned char)byte & 0xC0) == 0x80;
}

/* Ends text that did not fit with "...", never inside a character. */
static void
shorten(char *text, size_t size)
{
    size_t end = size - 4;
    while (end > 0 && is_continuation(text[end]))
        end--;
    memcpy(text + end, "...", 4);
}

void
plan_fault_add(struct plan_faults *faults, int line, int column, const char *format, ...)
{
    size_t at = faults->count;
    while (at > 0 &&
           (faults->fault[at - 1].line > line ||
            (faults->fault[at - 1].line == line && faults->fault[at - 1].column > column)))
        at--;
    if (faults->count == PLAN_FAULTS_TOLD_MAX) {
        faults->more = true;
        if (at == PLAN_FAULTS_TOLD_MAX)
            return;
        faults->count--;
    }
    memmove(&faults->fault[at + 1], &faults->fault[at],
            (faults->count - at) * sizeof(faults->fault[0]));
    faults->count++;
    struct plan_fault *fault = &faults->fault[at];
    fault->line = line;
    fault->column = column;
    va_list args;
    va_start(args, format);
    int len = vsnprintf(fault->text, sizeof(fault->text), format, args);
    va_end(args);
    if (len >= (int)sizeof(fault->text))
        shorten(fault->text, sizeof(fault->text));
}

/* Bytes of the character at text, 0 when it is not clean. */
static size_t
clean_character(const char *text, size_t len)
{
    char one[5] = {0};
    size_t n = 1;
    while (n < 4 && n < len && is_continuation(text[n]))
        n++;
    memcpy(one, text, n);
    return one[0] && text_is_clean(one, 4, false) ? n : 0;
}

char *
plan_quoted(char buf[PLAN_QUOTED_MAX], const char *text, size_t len)
{
    size_t in = 0, out = 0;
    while (in < len && in < QUOTED_BYTES) {
        size_t n = clean_character(text + in, len - in);
        if (n > 0) {
            memcpy(buf + out, text + in, n);
            out += n;
            in += n;
        } else {
            out += (size_t)snprintf(buf + out, 5, "\\x%02X", (unsigned char)text[in]);
            in++;
        }
    }
    if (in < len) {
        memcpy(buf + out, "...", 3);
        out += 3;
    }
    buf[out] = '\0';
    return buf;
}

static size_t
least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Edits (one letter more, less, other, or two swapped) between two short words. */
static size_t
edit_distance(const char *a, size_t a_len, const char *b, size_t b_len)
{
    size_t rows[3][NEAREST_LEN_MAX + 1];
    size_t *two_above = rows[0], *above = rows[1], *row = rows[2];
    for (size_t j = 0; j <= b_len; j++)
        above[j] = j;
    for (size_t i = 1; i <= a_len; i++) {
        row[0] = i;
        for (size_t j = 1; j <= b_len; j++) {
            size_t other = above[j - 1] + (a[i - 1] != b[j - 1]);
            row[j] = least(other, least(above[j], row[j - 1]) + 1);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = least(row[j], two_above[j - 2] + 1);
        }
        size_t *swap = two_above;
        two_above = above;
        above = row;
        row = swap;
    }
    return above[b_len];
}

const char *
plan_nearest(const char *text, size_t len, const char *(*next)(const void *arg, size_t i),
             const void *arg)
{
    const char *nearest = NULL, *choice;
    size_t best = 4;
    if (len == 0 || len > NEAREST_LEN_MAX)
        return NULL;
    for (size_t i = 0; (choice = next(arg, i)); i++) {
        size_t choice_len = strlen(choice);
        if (choice_len > NEAREST_LEN_MAX)
            continue;
        size_t distance = edit_distance(text, len, choice, choice_len);
        /* Up to three edits, but never as many as would make any short word fit. */
        if (distance < best && distance * 2 <= choice_len) {
            best = distance;
            nearest = choice;
        }
    }
    return nearest;
}

size_t
plan_faults_text(const struct plan_faults *faults, const char *file, char *buf, size_t size)
{
    size_t len = 0;
    if (size == 0)
        return 0;
    buf[0] = '\0';
    for (size_t i = 0; i <= faults->count; i++) {
        const struct plan_fault *fault = &faults->fault[i];
        int n = 0;
        if (i == faults->count) {
            if (faults->more)
                n = snprintf(buf + len, size - len,
                             "%s: there are more faults; mend these first\n", file);
        } else if (fault->line == 0) {
            n = snprintf(buf + len, size - len, "%s: %s\n", file, fault->text);
        } else {
            n = snprintf(buf + len, size - len, "%s:%d:%d: %s\n", file, fault->line,
                         fault->column, fault->text);
        }
        if (n < 0 || (size_t)n >= size - len) { /* whole lines only */
            buf[len] = '\0';
            break;
        }
        len += (size_t)n;
    }
    return len;
}
