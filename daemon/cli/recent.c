/* The last entries people made. See recent.h. */
#include "daemon/cli/recent.h"

#include <inttypes.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/client.h"
#include "daemon/cli/enter.h"
#include "daemon/cli/lists.h"
#include "trivet/entry.h"
#include "trivet/explain.h"
#include "trivet/store.h"
#include "trivet/zone.h"

/* Lines shown, and how many of the newest records are looked through for them. */
#define SHOWN_MAX   8
#define LOOKED_MAX  2000
#define LINE_COLUMN 9

struct recent {
    size_t count; /* seen; the last SHOWN_MAX of them are kept */
    char line[SHOWN_MAX][400];
    const json_t *lists;
};

/* Long texts are shortened, never in the middle of a character. */
#define TEXT_SHOWN 60

static void
add_text(char *line, size_t size, const char *label, const char *text)
{
    size_t len = strlen(line), shown = strlen(text);
    bool cut = shown > TEXT_SHOWN;
    if (cut)
        shown = TEXT_SHOWN;
    while (cut && shown > 0 && ((unsigned char)text[shown] & 0xC0) == 0x80)
        shown--;
    if (shown > 0 && len < size)
        (void)snprintf(line + len, size - len, ", %s%.*s%s", label, (int)shown, text,
                       cut ? "..." : "");
}

static void
add_number(char *line, size_t size, const char *label, int64_t number)
{
    char text[24];
    (void)snprintf(text, sizeof text, "%" PRId64, number);
    if (number != 0)
        add_text(line, size, label, text);
}

/* The word a person types for it. */
static const char *
verb_of(enum entry_kind kind)
{
    for (size_t i = 0; i < enter_verb_count(); i++)
        if (enter_verb_at(i)->kind == kind)
            return enter_verb_at(i)->name;
    return entry_kind_word(kind);
}

/* "812  14:05 AB take, 63.4 °C, batch 4". */
void
recent_line(const json_t *lists, const struct store_record *record, const json_t *data,
            char *line, size_t size)
{
    int64_t offset_ms = lists_int(lists, "offset_ms");
    char clock[40], temp[AMOUNT_TEMP_MAX];
    (void)zone_clock_text(zone_shared(lists_text(lists, "time_zone")),
                          record->at_ms + offset_ms, lists_int(lists, "now_ms") + offset_ms,
                          clock, sizeof clock);
    (void)snprintf(line, size, "%" PRIu64 "  %s %.7s %.10s", record->seq, clock,
                   lists_text(data, "who"), verb_of(entry_kind_from_word(record->kind)));
    if (json_object_get(data, "temp_mC") != NULL)
        add_text(line, size, "",
                 amount_temp_text(temp, (int32_t)lists_int(data, "temp_mC"),
                                  lists_both_units(lists)));
    add_text(line, size, "beside ", lists_text(data, "by"));
    add_text(line, size, "", lists_text(data, "product"));
    add_text(line, size, "", lists_text(data, "outcome"));
    add_number(line, size, "batch ", lists_int(data, "batch"));
    add_number(line, size, "deviation ", lists_int(data, "deviation"));
    add_text(line, size, "", lists_text(data, "place"));
    add_text(line, size, "found: ", lists_text(data, "found"));
    add_text(line, size, "done: ", lists_text(data, "done"));
    add_text(line, size, "", lists_text(data, "text"));
}

static bool
see_record(void *arg, const struct store_record *record)
{
    struct recent *recent = arg;
    enum entry_kind kind = entry_kind_from_word(record->kind);
    if (kind == ENTRY_NONE || kind == ENTRY_CORRECT || kind == ENTRY_PIN || kind == ENTRY_DAY)
        return true;
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    size_t at = recent->count++ % SHOWN_MAX;
    recent_line(recent->lists, record, data, recent->line[at], sizeof recent->line[at]);
    json_decref(data);
    return true;
}

static bool
read_recent(const char *directory, struct recent *recent)
{
    struct store_error trouble;
    struct store_reader *reader = store_reader_open(directory, &trouble);
    struct store_head head;
    bool good = reader != NULL && store_reader_head(reader, &head, &trouble) == STORE_OK;
    if (good) {
        uint64_t from = head.seq > LOOKED_MAX ? head.seq - LOOKED_MAX : 0;
        good = store_each_record(reader, from, head.seq, NULL, see_record, recent, &trouble) ==
               STORE_OK;
    }
    store_reader_close(reader);
    return good;
}

/* ---- what is to be verified ---- */

struct newest_action {
    int64_t deviation;
    char text[EXPLAIN_SAID_MAX + 40];
};

static bool
see_action(void *arg, const struct store_record *record)
{
    struct newest_action *newest = arg;
    struct entry action;
    char error[200], said[EXPLAIN_SAID_MAX];
    if (!entry_read(ENTRY_ACTION, record->data, record->data_len, &action, error,
                    sizeof error) ||
        (int64_t)action.deviation != newest->deviation)
        return true;
    explain_said(&action, false, said);
    (void)snprintf(newest->text, sizeof newest->text, "Action by %s: %s.", action.who, said);
    return true;
}

/* Where the daemon keeps its records; false, and nothing is said, when nobody tells. */
static bool
find_store(const struct cli *cli, json_t **ret_answer, const char **ret_directory)
{
    char why[600];
    json_t *request = json_pack("{s:s}", "do", "where");
    bool good =
        request != NULL && cli->socket != NULL &&
        client_ask(cli->socket, request, ret_answer, why, sizeof why) == CLIENT_ANSWERED;
    *ret_directory = good ? lists_text(json_object_get(*ret_answer, "where"), "store") : "";
    json_decref(request);
    return good;
}

void
recent_show_action(const struct cli *cli, int64_t deviation)
{
    struct newest_action newest = {.deviation = deviation, .text = ""};
    struct store_error trouble;
    struct store_head head;
    json_t *answer = NULL;
    const char *directory;
    struct store_reader *reader =
        find_store(cli, &answer, &directory) ? store_reader_open(directory, &trouble) : NULL;
    if (reader != NULL && store_reader_head(reader, &head, &trouble) == STORE_OK &&
        store_each_record(reader, 0, head.seq, "action", see_action, &newest, &trouble) ==
            STORE_OK &&
        newest.text[0] != '\0')
        cli_print_wrapped(cli->err, newest.text, 0, 0);
    store_reader_close(reader);
    json_decref(answer);
}

void
recent_show(const struct cli *cli, const json_t *lists)
{
    json_t *answer = NULL;
    const char *directory;
    struct recent recent = {.lists = lists};
    bool good = find_store(cli, &answer, &directory) && read_recent(directory, &recent);
    size_t shown = recent.count < SHOWN_MAX ? recent.count : SHOWN_MAX;
    if (good && shown > 0)
        (void)fputs("The last entries:\n", cli->err);
    for (size_t i = recent.count - shown; good && i < recent.count; i++) {
        (void)fputs("  ", cli->err);
        cli_print_wrapped(cli->err, recent.line[i % SHOWN_MAX], 2, LINE_COLUMN);
    }
    json_decref(answer);
}
