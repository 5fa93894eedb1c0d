/* What an earlier batch's probes read. See trivet/earlier.h. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/advice/earlier_curve.h"

#define AFTER_MAX_S 10800
#define CURVE_MAX_S 172800 /* nothing is cooked for longer than two days */

struct bins {
    struct earlier_curve *curve;
    double *into;
    int64_t from_ms;
    int toward; /* of several probes the lowest (-1) or highest (1) counts; 0: the newest */
};

static bool
into_bin(void *arg, const struct reading *reading)
{
    struct bins *b = arg;
    int64_t bin = (reading->at_ms - b->from_ms) / (EARLIER_BIN_S * INT64_C(1000));
    if (bin < 0 || (size_t)bin >= b->curve->count || !reading_is_good(reading->quality))
        return true;
    double now_C = reading->temp_mC / 1000.0;
    double *at = &b->into[bin];
    if (isnan(*at) || b->toward == 0 || (now_C - *at) * b->toward > 0)
        *at = now_C;
    return true;
}

static int64_t
least(int64_t a_ms, int64_t b_ms)
{
    return a_ms < b_ms ? a_ms : b_ms;
}

int64_t
earlier_curve_end_ms(const struct earlier *of, const struct earlier_batch *batch,
                     int64_t head_ms)
{
    int64_t end_ms = batch->ended_ms == TIME_NONE ? head_ms : batch->ended_ms;
    if (batch->done_ms != TIME_NONE)
        end_ms = least(end_ms, batch->done_ms);
    if (batch->taken_out_ms != TIME_NONE && of->kind == FORECAST_COOK)
        end_ms = least(end_ms, batch->taken_out_ms + AFTER_MAX_S * INT64_C(1000));
    end_ms = least(end_ms, batch->put_in_ms + INT64_C(1000) * CURVE_MAX_S);
    return end_ms < batch->put_in_ms ? batch->put_in_ms : end_ms;
}

static enum store_status
fill(struct store_reader *reader, const struct earlier *of, const struct earlier_batch *batch,
     int64_t end_ms, struct earlier_curve *curve, struct store_error *reterr)
{
    enum store_status status = STORE_OK;
    struct bins b = {curve, curve->core_C, batch->put_in_ms,
                     of->kind == FORECAST_COOK ? -1 : 1};
    for (size_t i = 0; i < batch->core_count && status == STORE_OK; i++)
        status = store_each_corrected(reader, batch->cores[i], batch->put_in_ms - 1, end_ms,
                                      into_bin, &b, reterr);
    b.into = curve->air_C;
    b.toward = 0;
    if (status == STORE_OK && batch->air != 0)
        status = store_each_corrected(reader, batch->air, batch->put_in_ms - 1, end_ms,
                                      into_bin, &b, reterr);
    return status;
}

enum store_status
earlier_curve_read(struct store_reader *reader, const struct earlier *of,
                   const struct earlier_batch *batch, struct earlier_curve *ret,
                   struct store_error *reterr)
{
    struct store_head head;
    *ret = (struct earlier_curve){.count = 0};
    enum store_status status = store_reader_head(reader, &head, reterr);
    if (status != STORE_OK)
        return status;
    int64_t end_ms = earlier_curve_end_ms(of, batch, head.at_ms);
    size_t count = (size_t)((end_ms - batch->put_in_ms) / (EARLIER_BIN_S * INT64_C(1000))) + 1;
    ret->core_C = malloc(count * sizeof *ret->core_C);
    ret->air_C = malloc(count * sizeof *ret->air_C);
    if (ret->core_C == NULL || ret->air_C == NULL) {
        reterr->status = STORE_IO;
        (void)snprintf(reterr->text, sizeof reterr->text,
                       "no memory for the readings of batch %u", batch->number);
        return STORE_IO;
    }
    for (size_t i = 0; i < count; i++)
        ret->core_C[i] = ret->air_C[i] = NAN;
    ret->count = ret->out = count;
    if (batch->taken_out_ms != TIME_NONE)
        ret->out = (size_t)((batch->taken_out_ms - batch->put_in_ms) /
                            (EARLIER_BIN_S * INT64_C(1000)));
    if (ret->out > count)
        ret->out = count;
    return fill(reader, of, batch, end_ms, ret, reterr);
}

void
earlier_curve_free(struct earlier_curve *curve)
{
    free(curve->core_C);
    free(curve->air_C);
    *curve = (struct earlier_curve){.count = 0};
}
