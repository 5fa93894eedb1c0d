/* Places that are quiet: their limit is suspended for a while (E110 to E113). PURE, as
 * trivet/engine.h.
 */
#ifndef TRIVET_ENGINE_QUIET_H
#define TRIVET_ENGINE_QUIET_H

#include "trivet/engine.h"

struct engine_quiet {
    enum quiet_why why;        /* QUIET_NONE: its limit holds */
    int64_t from_ms, until_ms; /* TIME_NONE when it holds */
};

/* place: index into the plan in force. */
struct engine_quiet engine_quiet(const struct engine *engine, uint16_t place);

#endif
