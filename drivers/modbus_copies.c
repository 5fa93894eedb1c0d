/* Replies of the last while, so that a second copy of one is not taken for a new reply.
 *
 * A gateway, a repeater or a radio link may deliver a reply twice. The copy fits a request of
 * the same unit, function and length, and arrives in its time: nothing in the frame tells. But
 * it is the earlier reply byte for byte. Taken, it would be another register's value or an
 * older one of the same, and would end the exchange while the true reply is under way, which
 * could then meet another request; a refusal does the latter to any request of its unit and
 * function. Owns nothing beyond the state handed in; pure. */
#include "drivers/modbus_parts.h"

#include <string.h>

/* FNV-1a, 64 bits (IETF draft-eastlake-fnv): two different replies of one while have one print
 * with a chance of less than 1 in 10^13. */
static uint64_t
print_of(const uint8_t *frame, size_t len)
{
    uint64_t print = 0xcbf29ce484222325ULL;
    for (size_t i = 0; i < len; i++)
        print = (print ^ frame[i]) * 0x100000001b3ULL;
    return print;
}

bool
mbus_copies_may_be(const struct mbus_copies *copies, const uint8_t *frame, size_t len,
                   int64_t quiet_ms, int64_t while_ms)
{
    const uint64_t print = print_of(frame, len);
    for (size_t i = 1; i <= copies->count; i++) {
        const struct mbus_heard *heard =
            &copies->heard[(copies->next + MBUS_COPIES_MAX - i) % MBUS_COPIES_MAX];
        if (quiet_ms - heard->at_ms > while_ms)
            return false; /* as are all before it */
        if (heard->print == print)
            return true;
    }
    return false;
}

bool
mbus_copies_keep(struct mbus_copies *copies, const uint8_t *frame, size_t len, int64_t now_ms,
                 int64_t while_ms)
{
    struct mbus_heard *heard = &copies->heard[copies->next];
    const bool forgets = copies->count == MBUS_COPIES_MAX && now_ms - heard->at_ms <= while_ms;
    *heard = (struct mbus_heard){.print = print_of(frame, len), .at_ms = now_ms};
    copies->next = (copies->next + 1) % MBUS_COPIES_MAX;
    if (copies->count < MBUS_COPIES_MAX)
        copies->count++;
    return !forgets;
}
