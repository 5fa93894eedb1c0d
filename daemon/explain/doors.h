/* Which doors of a place stood open around a decision. Private to the explain room. */
#ifndef EXPLAIN_DOORS_H
#define EXPLAIN_DOORS_H

#include "trivet/explain.h"

/* Adds them to the explanation of a decision about a place or something in it; of others there
 * is nothing to add. Its plan is loaded already. */
enum store_status explain_doors(struct store_reader *reader, uint64_t head_seq,
                                struct explanation *to, struct store_error *reterr);

#endif
