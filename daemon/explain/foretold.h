/* A forecast on record, read back. See trivet/explain.h. */
#ifndef EXPLAIN_FORETOLD_H
#define EXPLAIN_FORETOLD_H

#include "trivet/explain.h"
#include "trivet/store.h"

/* False when the record is none, or of a newer version. */
bool foretold_read(const struct store_record *record, struct explain_forecast *ret);

#endif
