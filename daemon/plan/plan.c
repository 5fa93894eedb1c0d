/* Loading a plan: text in, an immutable struct plan or every fault out. Runs in whichever
 * thread asks, before the plan is shared; keeps nothing between calls. */
#include "trivet/plan.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/plan/arena.h"
#include "daemon/plan/faults.h"
#include "daemon/plan/published.h"
#include "daemon/plan/schema.h"
#include "daemon/plan/tree.h"

/* What plan_load gives out is the first member. */
struct loaded {
    struct plan plan;
    struct plan_arena arena;
};

static void
no_memory(struct plan_faults *reterr)
{
    plan_fault_add(reterr, 0, 0,
                   "memory ran out while reading the plan; free some and try again");
}

/* ---- the file ---- */

static void
cannot_read(struct plan_faults *reterr, int cause)
{
    char text[100];
    switch (cause) {
    case ENOENT:
        plan_fault_add(reterr, 0, 0, "there is no such file; check the name");
        return;
    case EACCES:
        plan_fault_add(
            reterr, 0, 0,
            "it may not be read by this user; give the user of trivetd the right to read it");
        return;
    case EISDIR:
        plan_fault_add(reterr, 0, 0, "it is a directory; name the plan's file within it");
        return;
    default:
        if (strerror_r(cause, text, sizeof(text)) != 0)
            (void)snprintf(text, sizeof(text), "error %d", cause); /* fits */
        plan_fault_add(reterr, 0, 0, "it cannot be read (%s); check the file and its disk",
                       text);
    }
}

/* Reads at most one byte more than a plan may have. Returned memory is the caller's. */
char *
plan_file_read(const char *file, size_t *ret_len, struct plan_faults *reterr)
{
    int cause = 0;
    size_t len = 0;
    char *text =
        malloc(PLAN_BYTES_MAX + 4); /* room for a byte order mark and the byte too many */
    int fd = open(file, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    if (fd < 0)
        cause = errno;
    while (text && fd >= 0 && len < PLAN_BYTES_MAX + 4) {
        ssize_t n = read(fd, text + len, PLAN_BYTES_MAX + 4 - len);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            cause = errno;
        if (n <= 0)
            break;
        len += (size_t)n;
    }
    if (fd >= 0)
        (void)close(fd); /* only read */
    if (!text)
        no_memory(reterr);
    else if (cause != 0)
        cannot_read(reterr, cause);
    if (!text || cause != 0) {
        free(text);
        return NULL;
    }
    *ret_len = len;
    return text;
}

struct plan *
plan_load(const char *file, struct plan_faults *reterr)
{
    size_t len = 0;
    memset(reterr, 0, sizeof(*reterr));
    char *text = plan_file_read(file, &len, reterr);
    if (!text)
        return NULL;
    struct plan *plan = plan_load_text(file, text, len, reterr);
    free(text);
    return plan;
}

/* ---- the text ---- */

static void
digest_text(struct plan *plan, const char *text, size_t len)
{
    unsigned char digest[crypto_hash_sha256_BYTES];
    static_assert(sizeof(plan->digest) == 2 * sizeof(digest) + 1, "a SHA-256 in hex");
    crypto_hash_sha256(digest, (const unsigned char *)text, len);
    sodium_bin2hex(plan->digest, sizeof(plan->digest), digest, sizeof(digest));
}

static void
read_tree(struct loaded *loaded, struct plan_tree *tree, const char *file, bool is_record,
          struct plan_faults *reterr)
{
    plan_published_join(tree, &loaded->arena, reterr);
    size_t nodes = (size_t)(tree->document.nodes.top - tree->document.nodes.start);
    struct walk walk = {.tree = tree,
                        .arena = &loaded->arena,
                        .faults = reterr,
                        .file = file,
                        .bad = calloc(nodes + 1, sizeof(bool))};
    if (walk.bad) {
        plan_walk(&walk, &plan_table, &loaded->plan, "site: and the kitchen's name");
        if (!loaded->arena.failed) { /* else references hang in the air */
            plan_published_check(&walk, &loaded->plan, is_record);
            plan_check(&walk, &loaded->plan);
            if (!is_record) /* it is about what will be read, not about what was */
                plan_check_repeats(&walk, &loaded->plan);
        }
    } else {
        loaded->arena.failed = true;
    }
    free(walk.bad);
    free(walk.ids);
    free(walk.references);
}

/* The tree of a plan with the published limits it names behind its text, which becomes longer
 * by them. False when there is no tree. */
static bool
read_with_published(struct loaded *loaded, struct plan_tree *tree, bool is_record,
                    const char **text, size_t *len, struct plan_faults *reterr)
{
    if (!plan_tree_read(tree, *text, *len, reterr))
        return false;
    char *whole = is_record || !plan_tree_root(tree)
                      ? NULL
                      : plan_published_add(tree, &loaded->arena, *text, *len, reterr);
    if (!whole)
        return true;
    plan_tree_free(tree);
    *text = whole;
    *len = strlen(whole); /* a plan has no NUL bytes */
    return plan_tree_read(tree, *text, *len, reterr);
}

static struct plan *
load(const char *file, const char *text, size_t len, bool is_record, struct plan_faults *reterr)
{
    struct plan_tree tree;
    memset(reterr, 0, sizeof(*reterr));
    struct loaded *loaded = calloc(1, sizeof(*loaded));
    if (!loaded) {
        no_memory(reterr);
        return NULL;
    }
    if (read_with_published(loaded, &tree, is_record, &text, &len, reterr)) {
        read_tree(loaded, &tree, file, is_record, reterr);
        plan_tree_free(&tree);
        loaded->plan.file = plan_arena_copy(&loaded->arena, file, strlen(file));
        loaded->plan.text = plan_arena_copy(&loaded->arena, text, len);
        loaded->plan.text_len = len;
        digest_text(&loaded->plan, text, len);
        if (loaded->arena.failed) {
            memset(reterr, 0, sizeof(*reterr)); /* what else was told may be wrong */
            no_memory(reterr);
        }
    }
    if (reterr->count > 0) {
        plan_free(&loaded->plan);
        return NULL;
    }
    return &loaded->plan;
}

struct plan *
plan_load_text(const char *file, const char *text, size_t len, struct plan_faults *reterr)
{
    return load(file, text, len, false, reterr);
}

struct plan *
plan_load_record(const char *file, const char *text, size_t len, struct plan_faults *reterr)
{
    return load(file, text, len, true, reterr);
}

void
plan_free(struct plan *plan)
{
    struct loaded *loaded = (struct loaded *)plan;
    if (!loaded)
        return;
    plan_arena_free(&loaded->arena);
    free(loaded);
}

/* ---- look-ups ---- */

const struct plan_person *
plan_person(const struct plan *plan, const char *initials)
{
    for (size_t i = 0; i < plan->person_count; i++)
        if (strcmp(plan->people[i].initials, initials) == 0)
            return &plan->people[i];
    return NULL;
}

const struct plan_product *
plan_product(const struct plan *plan, const char *id)
{
    for (size_t i = 0; i < plan->product_count; i++)
        if (strcmp(plan->products[i].id, id) == 0)
            return &plan->products[i];
    return NULL;
}

const struct plan_handheld *
plan_handheld(const struct plan *plan, const char *id)
{
    for (size_t i = 0; i < plan->handheld_count; i++)
        if (strcmp(plan->handhelds[i].id, id) == 0)
            return &plan->handhelds[i];
    return NULL;
}

const struct plan_reference *
plan_reference(const struct plan *plan, const char *id)
{
    for (size_t i = 0; i < plan->reference_count; i++)
        if (strcmp(plan->references[i].id, id) == 0)
            return &plan->references[i];
    return NULL;
}

int
plan_step_index(const struct plan_product *product, const char *id)
{
    for (int i = 0; i < product->step_count; i++)
        if (strcmp(product->steps[i].id, id) == 0)
            return i;
    return -1;
}

int
plan_place_index(const struct plan *plan, const char *id)
{
    for (size_t i = 0; i < plan->place_count; i++)
        if (strcmp(plan->places[i].id, id) == 0)
            return (int)i;
    return -1;
}

int
plan_switch_index(const struct plan *plan, const char *id)
{
    for (size_t i = 0; i < plan->switch_count; i++)
        if (strcmp(plan->switches[i].id, id) == 0)
            return (int)i;
    return -1;
}

int
plan_probe_index(const struct plan *plan, const char *id)
{
    for (size_t i = 0; i < plan->probe_count; i++)
        if (strcmp(plan->probes[i].id, id) == 0)
            return (int)i;
    return -1;
}

bool
plan_needs_pin(const struct plan *plan, const struct plan_person *person)
{
    for (const char *const *role = plan->duties.pins; *role != NULL; role++)
        if (strcmp(*role, person_role_word(person->role)) == 0)
            return true;
    return false;
}

static const char *const weekdays[] = {"sun", "mon", "tue", "wed", "thu", "fri", "sat"};

bool
plan_is_working_day(const struct plan *plan, int weekday)
{
    const char *const *days = plan->duties.working_days;
    if (days[0] == NULL)
        return weekday >= 1 && weekday <= 5;
    for (; *days != NULL; days++)
        if (strcmp(*days, weekdays[weekday]) == 0)
            return true;
    return false;
}

int
plan_probe_by_number(const struct plan *plan, uint16_t number)
{
    for (size_t i = 0; number != 0 && i < plan->probe_count; i++)
        if (plan->probes[i].number == number)
            return (int)i;
    return -1;
}
