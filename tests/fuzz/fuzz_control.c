/* Any bytes on the control socket, arriving in pieces: every line gets an answer that is one
 * line of JSON, and an entry that is taken comes back the same from its stored form. The first
 * byte sets the size of the pieces. Corpus: tests/fuzz/corpus/control. */
#include <assert.h>
#include <stdint.h>
#include <string.h>

#include <jansson.h>

#include "daemon/control/answer.h"
#include "daemon/control/line.h"
#include "daemon/control/request.h"
#include "trivet/json_out.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* An entry with all its texts full and every byte of them escaped. */
#define STORED_MAX 40000

static void
write_entry(const struct entry *entry, char *buf)
{
    struct json_out out;
    out_start(&out, buf, STORED_MAX, true);
    entry_write(entry, &out, NULL);
    bool fits = out_done(&out);
    assert(fits);
}

static void
check_entry(struct entry *entry)
{
    static char stored[STORED_MAX], again[STORED_MAX];
    static struct entry read_back;
    char wrong[500] = "";
    assert(entry->peer_uid == -1);
    entry->peer_uid = 1000;
    write_entry(entry, stored);
    bool good =
        entry_read(entry->kind, stored, strlen(stored), &read_back, wrong, sizeof wrong);
    assert(good);
    write_entry(&read_back, again);
    assert(strcmp(stored, again) == 0);
}

static void
check_refusal(const char *wrong)
{
    char line[ANSWER_SHORT_MAX];
    assert(wrong[0] != '\0');
    size_t len = control_answer_words(line, sizeof line, 400, wrong);
    assert(len > 0 && line[len - 1] == '\n' && memchr(line, '\n', len) == line + len - 1);
    json_t *object = json_loadb(line, len, JSON_REJECT_DUPLICATES, NULL);
    assert(object != NULL);
    json_decref(object);
}

static void
check_line(const char *line, size_t len)
{
    static struct request request;
    char wrong[500] = "";
    if (!control_request_read(line, len, &request, wrong, sizeof wrong))
        check_refusal(wrong);
    else if (request.kind == REQUEST_ENTRY)
        check_entry(&request.entry);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct line_buffer buffer;
    if (size == 0)
        return 0;
    size_t piece = (size_t)data[0] + 1, lines = 0, ends = 0, at_byte = 1;
    line_clear(&buffer);
    while (at_byte < size) {
        char *at;
        size_t room = line_room(&buffer, &at), part = size - at_byte;
        assert(room > 0);
        part = part < piece ? part : piece;
        part = part < room ? part : room;
        memcpy(at, data + at_byte, part);
        line_added(&buffer, part);
        at_byte += part;
        char *line;
        size_t len;
        enum line_status status;
        while ((status = line_take(&buffer, &line, &len)) == LINE_TAKEN) {
            assert(len <= CONTROL_LINE_MAX && strlen(line) <= len);
            check_line(line, len);
            lines++;
        }
        if (status == LINE_TOO_LONG)
            return 0;
    }
    for (size_t i = 1; i < size; i++)
        ends += data[i] == '\n';
    assert(lines == ends);
    assert(line_cut_short(&buffer) == (size > 1 && data[size - 1] != '\n'));
    return 0;
}
