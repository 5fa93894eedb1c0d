/* The state as bytes: only what is in use, with a check sum, for a quick start of the very same
 * engine. Pure. */
#include <assert.h>
#include <string.h>

#include "daemon/engine/due.h"
#include "daemon/engine/judge.h"
#include "daemon/engine/probes.h"
#include "engine_id.h"

/* In front of the parts. The sizes of the parts follow from the counts. */
struct saved_head {
    char id[16];
    uint64_t layout;
    uint64_t size; /* of everything, this head too */
    uint64_t sum;  /* FNV-1a of everything after this head */
};

#define PARTS 19

struct part {
    void *data;
    size_t each, count, most;
};

/* The parts of the state in use, given its counts, in the order they are saved. The first holds
 * the counts. */
static void
list_parts(struct engine *engine, const struct engine_counts *counts, struct part ret[PARTS])
{
    struct engine_state *s = &engine->state;
    int64_t *leaves = engine->due + DUE_LEAVES;
    size_t n = 0;
#define PART(array, in_use)                                                                    \
    ret[n++] = (struct part){s->array, sizeof s->array[0], in_use,                             \
                             sizeof s->array / sizeof s->array[0]}
    ret[n++] = (struct part){s, offsetof(struct engine_state, probes), 1, 1};
    PART(probes, counts->probes);
    PART(batches, counts->batches);
    PART(places, counts->places);
    PART(deviations, counts->deviations);
    PART(undecided, counts->undecided);
    PART(hands, counts->hands);
    PART(held, counts->held);
    PART(stored, counts->stored);
    PART(reviews, counts->reviews);
    PART(departures, counts->departures);
    PART(switches, counts->switches);
    PART(alarms, counts->alarms);
    PART(shelves, counts->shelves);
#undef PART
#define DUE_PART(first, in_use, room)                                                          \
    ret[n++] = (struct part){leaves + (first), sizeof *leaves, in_use, room}
    DUE_PART(DUE_PROBE, counts->probes, PROBE_SLOTS_MAX);
    DUE_PART(DUE_BATCH, counts->batches, ENGINE_BATCHES_MAX);
    DUE_PART(DUE_PLACE, counts->places, PLAN_PLACES_MAX);
    DUE_PART(DUE_SWITCH, counts->switches, PLAN_SWITCHES_MAX);
    DUE_PART(DUE_ALARM, 1, 1);
#undef DUE_PART
    assert(n == PARTS);
}

static uint64_t
mix(uint64_t sum, const void *data, size_t size)
{
    const unsigned char *bytes = data;
    for (size_t i = 0; i < size; i++)
        sum = (sum ^ bytes[i]) * UINT64_C(1099511628211); /* FNV-1a, 64 bits */
    return sum;
}

#define MIX_START UINT64_C(14695981039346656037)

uint64_t
engine_layout(void)
{
    const uint64_t layout[] = {
        sizeof(struct engine_state),
        sizeof(struct probe_state),
        sizeof(struct batch_state),
        sizeof(struct place_state),
        sizeof(struct run),
        sizeof(struct watch),
        sizeof(struct deviation_state),
        sizeof(struct undecided),
        sizeof(struct hand_state),
        sizeof(struct held_state),
        sizeof(struct stored_state),
        sizeof(struct departure),
        sizeof(struct review_state),
        sizeof(struct switch_known),
        sizeof(struct alarm_state),
        sizeof(struct place_shelf),
        sizeof(struct decision),
        offsetof(struct run, of),
        offsetof(struct engine_state, probes),
        UINT64_C(0x0102030405060708),
        sizeof(enum decision_kind),
        ENGINE_VERSION,
    };
    return mix(MIX_START, layout, sizeof layout);
}

static size_t
saved_size(const struct part parts[PARTS])
{
    size_t size = sizeof(struct saved_head);
    for (size_t i = 0; i < PARTS; i++)
        size += parts[i].count * parts[i].each;
    return size;
}

static struct saved_head
head_of(size_t size, uint64_t sum)
{
    struct saved_head head;
    memset(&head, 0, sizeof head);
    keep_word(head.id, sizeof head.id, ENGINE_SOURCE_ID);
    head.layout = engine_layout();
    head.size = size;
    head.sum = sum;
    return head;
}

size_t
engine_save_size(const struct engine *engine)
{
    struct part parts[PARTS];
    list_parts((struct engine *)(uintptr_t)engine, &engine->state.counts, parts);
    return saved_size(parts);
}

size_t
engine_save(const struct engine *engine, void *buf, size_t size)
{
    size_t need = engine_save_size(engine);
    if (size < need)
        return 0;
    struct part parts[PARTS];
    list_parts((struct engine *)(uintptr_t)engine, &engine->state.counts, parts);
    char *at = (char *)buf + sizeof(struct saved_head);
    for (size_t i = 0; i < PARTS; i++) {
        memcpy(at, parts[i].data, parts[i].count * parts[i].each);
        at += parts[i].count * parts[i].each;
    }
    const char *from = (const char *)buf + sizeof(struct saved_head);
    struct saved_head head = head_of(need, mix(MIX_START, from, (size_t)(at - from)));
    memcpy(buf, &head, sizeof head);
    return need;
}

static bool
parts_fit(const struct part parts[PARTS])
{
    for (size_t i = 0; i < PARTS; i++)
        if (parts[i].count > parts[i].most)
            return false;
    return true;
}

/* The same bytes of the same engine with the right sum were written by engine_save; nothing
 * else is believed. */
static bool
is_saved(const void *buf, size_t size)
{
    struct saved_head head;
    if (size < sizeof head + offsetof(struct engine_state, probes))
        return false;
    memcpy(&head, buf, sizeof head);
    struct saved_head right =
        head_of(size, mix(MIX_START, (const char *)buf + sizeof head, size - sizeof head));
    return memcmp(&head, &right, sizeof head) == 0;
}

bool
engine_load(struct engine *engine, const void *buf, size_t size)
{
    if (!is_saved(buf, size))
        return false;
    const char *at = (const char *)buf + sizeof(struct saved_head);
    struct engine_counts counts;
    memcpy(&counts, at + offsetof(struct engine_state, counts), sizeof counts);
    struct part parts[PARTS];
    list_parts(engine, &counts, parts);
    if (!parts_fit(parts) || saved_size(parts) != size)
        return false;
    memset(engine, 0, sizeof *engine);
    due_clear(engine);
    for (size_t i = 0; i < PARTS; i++) {
        memcpy(parts[i].data, at, parts[i].count * parts[i].each);
        at += parts[i].count * parts[i].each;
    }
    probes_index(engine);
    for (size_t leaf = 0; leaf <= DUE_ALARM; leaf++) /* of what is not in use: never */
        due_set(engine, leaf, engine->due[DUE_LEAVES + leaf]);
    return true;
}

size_t
engine_plan_seqs(const struct engine *engine, uint64_t ret_seqs[ENGINE_PLANS_MAX])
{
    size_t count = 0;
    for (size_t i = 0; i < ENGINE_PLANS_MAX; i++)
        if (engine->state.plans[i].seq != 0)
            ret_seqs[count++] = engine->state.plans[i].seq;
    return count;
}

void
engine_bind_plan(struct engine *engine, uint64_t seq, const struct plan *plan)
{
    for (size_t i = 0; i < ENGINE_PLANS_MAX; i++)
        if (seq != 0 && engine->state.plans[i].seq == seq)
            engine->plans[i] = plan;
}
