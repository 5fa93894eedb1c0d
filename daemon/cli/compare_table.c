/* The table below compared curves: the image stands alone. See compare.h. A cell's class is the
 * name of its column. */
#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "daemon/cli/compare_own.h"

enum { ROW_PX = 20, HEAD_PX = 26, FOOT_PX = 34, LEFT_PX = 20, NOTE_CHARS = 125 };

struct column {
    const char *head, *class;
    int right_px; /* where its cells end */
};

static const struct column HEAT[] = {
    {"batch", "batch", 55},          {"put in", "put-in", 175},
    {"size", "size", 230},           {"start", "start", 272},
    {"oven", "mean-oven", 318},      {"to limit", "to-limit", 372},
    {"out at °C", "taken-out", 440}, {"K/min", "rate", 487},
    {"peak", "peak", 527},           {"limit", "limit", 567},
    {"above", "above", 612},         {"below", "below", 657},
    {"dev.", "deviations", 692},     {"said half way", "said", 850},
    {"took", "took", 900},
};

static const struct column COLD[] = {
    {"batch", "batch", 55},         {"put in", "put-in", 175}, {"size", "size", 230},
    {"start", "start", 275},        {"air", "mean-air", 320},  {"clock", "clock", 370},
    {"K/min", "rate", 420},         {"lowest", "lowest", 470}, {"dev.", "deviations", 510},
    {"said half way", "said", 670}, {"took", "took", 715},
};
enum { STAGE_FIRST_PX = 785, STAGE_NEXT_PX = 55 };

static void
put_cell(FILE *out, const struct column *column, int at_px, const char *text)
{
    (void)fprintf(out, "<text class=\"%s\" x=\"%d\" y=\"%d\" text-anchor=\"end\">",
                  column->class, column->right_px, at_px);
    compare_escaped(out, text);
    (void)fputs("</text>", out);
}

static void
put_row_begin(FILE *out, const struct compare_row *row)
{
    (void)fprintf(out, "<g class=\"row\" data-batch=\"%" PRIu32 "\">", row->batch->number);
}

/* The cells both kinds begin with; the next column. */
static const struct column *
put_first(FILE *out, const struct compared *of, const struct compare_row *row,
          const struct column *column, int at_px)
{
    char text[CELL_BYTES];
    (void)snprintf(text, sizeof text, "%" PRIu32, row->batch->number);
    put_cell(out, column++, at_px, text);
    put_cell(out, column++, at_px, compare_begun(of, row->batch, text));
    put_cell(out, column++, at_px, compare_size(row->batch, text));
    put_cell(out, column++, at_px, compare_degrees(row->start_C, text));
    put_cell(out, column++, at_px, compare_degrees(row->oven_C, text));
    return column;
}

static void
put_heat(FILE *out, const struct compared *of, const struct compare_row *row, int at_px)
{
    char text[CELL_BYTES], said[SAID_BYTES];
    put_row_begin(out, row);
    const struct column *column = put_first(out, of, row, HEAT, at_px);
    put_cell(out, column++, at_px, compare_span(row->reached_s, text));
    put_cell(out, column++, at_px, compare_degrees(row->out_C, text));
    put_cell(out, column++, at_px, compare_rate(row->rate_K_min, text));
    put_cell(out, column++, at_px, compare_degrees(row->peak_C, text));
    put_cell(out, column++, at_px, compare_degrees(row->limit_C, text));
    put_cell(out, column++, at_px, compare_span(row->above_s, text));
    put_cell(out, column++, at_px, compare_span(row->below_s, text));
    (void)snprintf(text, sizeof text, "%u", row->batch->deviations);
    put_cell(out, column++, at_px, text);
    put_cell(out, column++, at_px, compare_said(row, 0, said));
    put_cell(out, column++, at_px, compare_span(row->reached_s, text));
    (void)fputs("</g>\n", out);
}

/* The newest batch's stages, as in the text. */
static uint8_t
stages(const struct compared *of)
{
    return of->row[of->count - 1].batch->stage_count;
}

static struct column
stage_column(const struct compared *of, uint8_t stage, char head[CELL_BYTES])
{
    char text[CELL_BYTES];
    double to_C = earlier_C(of->row[of->count - 1].batch->stages[stage].to);
    (void)snprintf(head, CELL_BYTES, "to %.8s", compare_degrees(to_C, text));
    return (struct column){head, "stage", STAGE_FIRST_PX + STAGE_NEXT_PX * stage};
}

static void
put_cold(FILE *out, const struct compared *of, const struct compare_row *row, int at_px)
{
    char text[CELL_BYTES], said[SAID_BYTES];
    put_row_begin(out, row);
    const struct column *column = put_first(out, of, row, COLD, at_px);
    put_cell(out, column++, at_px, compare_span(row->clock_s, text));
    put_cell(out, column++, at_px, compare_rate(row->rate_K_min, text));
    put_cell(out, column++, at_px, compare_degrees(row->lowest_C, text));
    (void)snprintf(text, sizeof text, "%u", row->batch->deviations);
    put_cell(out, column++, at_px, text);
    put_cell(out, column++, at_px, compare_said(row, row->clock_s, said));
    put_cell(out, column++, at_px, compare_span(row->reached_s - row->clock_s, text));
    for (uint8_t s = 0; s < stages(of); s++) {
        char head[CELL_BYTES];
        struct column own = stage_column(of, s, head);
        put_cell(out, &own, at_px, compare_span(row->stage_s[s] - row->clock_s, text));
    }
    (void)fputs("</g>\n", out);
}

static void
put_heads(FILE *out, const struct compared *of, int at_px)
{
    bool heat = of->kind == FORECAST_COOK;
    const struct column *columns = heat ? HEAT : COLD;
    size_t count = heat ? sizeof HEAT / sizeof *HEAT : sizeof COLD / sizeof *COLD;
    (void)fputs("<g class=\"heads\" font-weight=\"bold\">", out);
    for (size_t i = 0; i < count; i++)
        put_cell(out, &columns[i], at_px, columns[i].head);
    for (uint8_t s = 0; !heat && s < stages(of); s++) {
        char head[CELL_BYTES];
        struct column own = stage_column(of, s, head);
        put_cell(out, &own, at_px, own.head);
    }
    (void)fputs("</g>\n", out);
}

/* ---- notes ---- */

/* How many bytes of the text go on one line: whole words, or as much of one as fits. */
static size_t
line_bytes(const char *text)
{
    size_t fits = 0, word = 0, chars = 0;
    for (size_t i = 0; text[i] != '\0'; i++) {
        bool begins = ((unsigned char)text[i] & 0xC0) != 0x80; /* of a character in UTF-8 */
        if (begins && ++chars > NOTE_CHARS)
            return word > 0 ? word : fits;
        if (begins)
            fits = i;
        if (text[i] == ' ')
            word = i + 1;
    }
    return strlen(text);
}

/* Writes the notes of one batch below each other, or only counts the lines (out NULL). */
static int
put_notes(FILE *out, const struct compare_row *row, int at_px)
{
    char text[EARLIER_NOTES_MAX + CELL_BYTES], line[sizeof text];
    int lines = 0;
    if (row->batch->notes[0] == '\0')
        return 0;
    (void)snprintf(text, sizeof text, "#%" PRIu32 ": %s", row->batch->number,
                   row->batch->notes);
    for (const char *rest = text; *rest != '\0'; lines++) {
        size_t bytes = line_bytes(rest);
        memcpy(line, rest, bytes);
        line[bytes] = '\0';
        rest += bytes;
        if (out == NULL)
            continue;
        (void)fprintf(out, "<text class=\"note\" data-batch=\"%" PRIu32 "\" x=\"%d\" y=\"%d\">",
                      row->batch->number, LEFT_PX, at_px + ROW_PX * lines);
        compare_escaped(out, line);
        (void)fputs("</text>\n", out);
    }
    return lines;
}

int
compare_table_height(const struct compared *of)
{
    int lines = (int)of->count;
    for (size_t i = 0; i < of->count; i++)
        lines += put_notes(NULL, &of->row[i], 0);
    return HEAD_PX + ROW_PX * lines + FOOT_PX;
}

void
compare_table(FILE *out, const struct compared *of, int top)
{
    int at_px = top + HEAD_PX - ROW_PX / 2;
    (void)fputs("<g class=\"table\" font-size=\"12\">\n", out);
    put_heads(out, of, at_px);
    for (size_t i = 0; i < of->count; i++) {
        at_px += ROW_PX;
        if (of->kind == FORECAST_COOK)
            put_heat(out, of, &of->row[i], at_px);
        else
            put_cold(out, of, &of->row[i], at_px);
    }
    at_px += ROW_PX;
    for (size_t i = 0; i < of->count; i++)
        at_px += ROW_PX * put_notes(out, &of->row[i], at_px);
    (void)fprintf(
        out,
        "<text class=\"caution\" x=\"%d\" y=\"%d\">Times in hours:minutes%s. A "
        "forecast advises. Only measurements decide. Local food codes prevail.</text>\n"
        "</g>\n",
        LEFT_PX, at_px,
        of->kind == FORECAST_COOK ? " from put-in"
                                  : "; stages from the beginning of the clock");
}
