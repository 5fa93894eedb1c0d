/* Writes the lines of the control protocol that go out. Pure: no descriptors, no clock.
 * docs/control.md is the protocol. */
#ifndef CONTROL_ANSWER_H
#define CONTROL_ANSWER_H

#include <stddef.h>
#include <stdint.h>

#include "trivet/control.h"
#include "trivet/queue.h"
#include "trivet/snapshot.h"

#define CONTROL_PROTOCOL 1

/* Every function writes one line with its newline and returns its length, 0 when buf is too
 * small. ANSWER_SHORT_MAX is enough for all but control_answer_now and control_answer_lists. */
#define ANSWER_SHORT_MAX 16384

size_t control_answer_greeting(char *buf, size_t size, const char *version);
/* code and say only. */
size_t control_answer_words(char *buf, size_t size, int code, const char *say);
size_t control_answer_entry(char *buf, size_t size, const struct entry_answer *answer);
/* snapshot NULL: the daemon has published nothing yet. */
size_t control_answer_where(char *buf, size_t size, const struct control_options *options,
                            const struct snapshot *snapshot);
size_t control_answer_now(char *buf, size_t size, const struct snapshot *snapshot,
                          int64_t now_ms);
size_t control_answer_lists(char *buf, size_t size, const struct snapshot *snapshot,
                            int64_t now_ms);

#endif
