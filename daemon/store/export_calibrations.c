/* Checks of thermometers as CSV: one row for each point, as found and as left, so that drift
 * can be drawn. */
#include "export_job.h"
#include "trivet/check_history.h"
#include "trivet/units.h"

static void
write_point(struct export_job *job, const struct check_look *look,
            const struct calibration_point *point)
{
    const struct entry *entry = look->entry;
    struct cells *cells = &job->cells;

    cell_int(cells, (int64_t)look->seq);
    job_time(job, look->at_ms);
    cell_text(cells, entry->probe[0] ? entry->probe : entry->thermometer);
    cell_text(cells, entry->probe[0] ? "probe" : "hand-held");
    cell_text(cells, entry->who);
    cell_text(cells, look->as_left ? "as left" : "as found");
    cell_text(cells, calibration_method_word(point->method));
    cell_temp(cells, point->reference_mC);
    cell_temp(cells, point->uncertainty_mK);
    cell_temp(cells, point->found_mC);
    cell_temp(cells, correction_apply(look->correction, point->found_mC));
    cell_temp(cells, (int32_t)correction_error_mK(look->correction, point));
    cell_temp(cells, look->tolerance_mK == 0 ? TEMP_NONE : look->tolerance_mK);
    cell_text(cells, look->tolerance_mK == 0 ? NULL : look->within ? "pass" : "fail");
    cell_text(cells, correction_choice_word(entry->correction));
    cell_text(cells, point->method == CALIBRATION_REFERENCE ? entry->reference : NULL);
    cell_int_or_empty(cells, point->method == CALIBRATION_BOILING ? entry->pressure_Pa : 0);
    cell_text(cells, entry->basis);
    cell_text(cells, entry->text);
    job_row_end(job);
}

static bool
write_look(void *arg, const struct check_look *look)
{
    struct export_job *job = arg;

    for (size_t i = 0; i < look->count; i++)
        write_point(job, look, &look->points[i]);
    return !job->cells.stopped;
}

enum store_status
export_calibrations(struct export_job *job, struct store_error *reterr)
{
    job_header(job, "seq,time_utc,thermometer,kind,by,look,method,reference_degC,uncertainty_K,"
                    "raw_degC,corrected_degC,error_K,tolerance_K,result,correction,reference,"
                    "pressure_Pa,basis,text");
    return check_history_each(job->reader, "", job->from_ms, job->to_ms, write_look, job,
                              reterr);
}
