/* A batch's forecast as a member "forecast" of the object being written; null when there is
 * none. */
#ifndef STATUS_ADVICE_JSON_H
#define STATUS_ADVICE_JSON_H

#include "trivet/json_out.h"
#include "trivet/snapshot.h"

void write_forecast(struct json_out *out, const struct snapshot *snapshot,
                    const struct snapshot_batch *batch);

#endif
