/* What the files of `trivet compare` share, and nobody else. */
#ifndef CLI_COMPARE_OWN_H
#define CLI_COMPARE_OWN_H

#include "daemon/cli/compare.h"
#include "trivet/forecast.h"

enum { CELL_BYTES = 40, SAID_BYTES = 160 };

/* Figures: what is of coolings alone, and what a forecaster would have said at a moment of the
 * limit `at` of its setup, fed with nothing later. */
void compare_cooling_figures(struct compare_row *row);
void compare_forecast(struct compare_row *row, const struct forecast_setup *setup, double at_s,
                      int at);

/* Cells of the text; "-" where nothing is known. */
const char *compare_degrees(double value, char buf[CELL_BYTES]);
const char *compare_span(double seconds, char buf[CELL_BYTES]);
const char *compare_begun(const struct compared *of, const struct earlier_batch *batch,
                          char buf[CELL_BYTES]);
const char *compare_size(const struct earlier_batch *batch, char buf[CELL_BYTES]);
/* A forecast's middle and range, times less `from_s`. */
const char *compare_said(const struct compare_row *row, double from_s, char buf[SAID_BYTES]);
const char *compare_rate(double K_min, char buf[CELL_BYTES]);
void compare_cooling_text(FILE *out, const struct compared *of);

/* Text for XML. */
void compare_escaped(FILE *out, const char *text);

/* The figures and notes as a table of an image, from `top` px down, and how high it will be. */
void compare_table(FILE *out, const struct compared *of, int top);
int compare_table_height(const struct compared *of);

/* Cells of the CSV: number, put-in and size begin a row. */
void compare_cell_batch(FILE *out, const struct earlier_batch *batch);
void compare_cell(FILE *out, double value, int decimals);
void compare_cell_text(FILE *out, const char *text);
void compare_cooling_csv(FILE *out, const struct compared *of);

#endif
