/* Steps that begin by themselves: what the engine wants becomes an entry of nobody's, with the
 * name of the probe that showed it, on record and judged like a person's. Replay takes it from
 * the records. The recorder's thread. */
#include <stdio.h>

#include "daemon/recorder/inside.h"
#include "trivet/log.h"

#define BY_ITSELF_DATA_MAX 512

void
by_itself_look(struct recorder *recorder)
{
    const struct engine_want want = recorder->feed.out->want;
    struct entry entry;
    char data[BY_ITSELF_DATA_MAX];
    struct json_out out;
    if (want.probe == 0)
        return;
    int64_t at_ms = recorder_instant(recorder, recorder_mono_ms(recorder));
    if (!engine_want_entry(recorder->engine, &want, &entry))
        return; /* what was due meanwhile has changed it */
    out_start(&out, data, sizeof data, true);
    entry_write(&entry, &out, NULL);
    if (!out_done(&out))
        return;
    size_t before = recorder->pending.record_count;
    uint64_t seq = store_head(recorder->parts.store)->seq + before + 1;
    recorder_note(recorder, entry_kind_word(entry.kind), at_ms, data, false);
    if (recorder->pending.record_count == before)
        return; /* lost, and told: what is not on record is not judged; it stays wanted */
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = seq, .is.entry = &entry};
    (void)feed_input(&recorder->feed, &input);
    log_line(LOG_INFO, "engine", "batch %u: step %s begins by itself (probe %s)", entry.batch,
             entry.step, entry.probe);
}
