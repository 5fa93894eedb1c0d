/* Whether a check of a thermometer can be taken (E124); if not, what is wrong and what to do,
 * in words for a cook. Reads only; formats text. Pure. */
#include <assert.h>
#include <stdio.h>
#include <string.h>

#include "daemon/engine/calibrate.h"
#include "daemon/engine/check.h"
#include "daemon/engine/probes.h"

/* "1.25 °C" of thousandths. */
static const char *
degrees(int32_t milli, char buf[32])
{
    char text[24];
    (void)snprintf(buf, 32, "%s °C", temp_text(text, sizeof text, milli));
    return buf;
}

static const char *
id_of(const struct check *c)
{
    return c->entry->probe[0] ? c->entry->probe : c->entry->thermometer;
}

/* ---- which thermometer ---- */

static bool
check_unknown(const struct check *c)
{
    struct list known = {0};
    const struct plan *plan = c->plan;
    bool probe = c->entry->probe[0] != '\0';
    for (size_t i = 0; probe && i < plan->probe_count; i++)
        list_add(&known, plan->probes[i].id);
    for (size_t i = 0; !probe && i < plan->handheld_count; i++)
        list_add(&known, plan->handhelds[i].id);
    return wrong(c, "there is no %s '%s' in the plan; known are: %s",
                 probe ? "probe" : "thermometer", id_of(c), or_none(&known));
}

static bool
check_which(const struct check *c)
{
    const struct entry *entry = c->entry;
    if (!entry->probe[0] && !entry->thermometer[0])
        return wrong(c, "which thermometer was checked is missing; name a probe or a "
                        "hand-held thermometer");
    if (entry->probe[0] && entry->thermometer[0])
        return wrong(c, "a probe and a hand-held thermometer are both named; check them one "
                        "after the other");
    if (!c->rules)
        return check_unknown(c);
    int index = plan_probe_index(c->plan, entry->probe);
    if (!c->known)
        return wrong(c, "'%s' is not known yet; restart trivetd with this plan", id_of(c));
    if (index < 0)
        return true;
    struct engine *engine = looked_at(c);
    const struct probe_state *probe = probe_find(engine, c->plan->probes[index].number);
    if (probe->batch != 0)
        return wrong(c,
                     "probe '%s' is in batch %u; put another into that food, or end it, before "
                     "this one is checked",
                     entry->probe, engine->state.batches[probe->batch - 1].number);
    return true;
}

/* ---- points ---- */

static bool
check_point(const struct check *c, const struct calibration_point *point)
{
    char sure[32], tolerance[32];
    const struct plan_reference *reference = plan_reference(c->plan, c->entry->reference);
    switch (point->method) {
    case CALIBRATION_ICE:
        if (point->reference_mC != 0)
            return wrong(c, "melting ice is at 0 °C; give that as its reference");
        break;
    case CALIBRATION_BOILING:
        if (c->entry->pressure_Pa == 0)
            return wrong(c, "the air pressure is missing; without it nobody can tell at which "
                            "temperature water boils");
        break;
    case CALIBRATION_REFERENCE:
        if (!c->entry->reference[0])
            return wrong(c, "the reference thermometer is missing; name the one that was read");
        if (!reference)
            return wrong(c,
                         "there is no reference '%s' in the plan; write it there, with its "
                         "certificate, under references",
                         c->entry->reference);
        if (point->uncertainty_mK < reference->uncertainty_mK)
            return wrong(c,
                         "reference '%s' is known to %s at best, as its certificate says; "
                         "give no less",
                         reference->id, degrees(reference->uncertainty_mK, sure));
        break;
    case CALIBRATION_NONE:
        return wrong(c, "how a point was measured is missing; say ice, boiling or reference");
    }
    if (point->uncertainty_mK > c->rules->tolerance_mK)
        return wrong(c,
                     "the reference is known to %s only, and the tolerance of '%s' is %s: that "
                     "proves nothing. Use ice, a barometer for boiling water, or a better "
                     "reference",
                     degrees(point->uncertainty_mK, sure), id_of(c),
                     degrees(c->rules->tolerance_mK, tolerance));
    return true;
}

static bool
check_points(const struct check *c)
{
    if (c->entry->point_count == 0)
        return wrong(c, "what was measured is missing; give at least one point");
    for (size_t i = 0; i < c->entry->point_count; i++)
        if (!check_point(c, &c->entry->points[i]))
            return false;
    for (size_t i = 0; i < c->entry->left_count; i++)
        if (!check_point(c, &c->entry->left[i]))
            return false;
    return true;
}

/* ---- the correction ---- */

static size_t
corrections(const struct engine *engine)
{
    size_t count = 0;
    for (size_t i = 0; i < engine->state.counts.probes; i++)
        count += engine->state.probes[i].check.correction.count > 0;
    return count;
}

static bool
check_adopt(const struct check *c)
{
    char most[32];
    struct probe_correction made;
    bool adjusted = c->entry->left_count > 0;
    const struct calibration_point *points = adjusted ? c->entry->left : c->entry->points;
    size_t count = adjusted ? c->entry->left_count : c->entry->point_count;
    if (c->entry->thermometer[0])
        return wrong(c, "a hand-held thermometer is not corrected: people read its display. "
                        "Adjust it, or take it out of use");
    for (size_t i = 0; i < count; i++)
        if (2 * points[i].uncertainty_mK > c->rules->tolerance_mK)
            return wrong(c,
                         "a correction needs references known to half the tolerance, %s; these "
                         "are good enough for the check alone: leave the correction out",
                         degrees(c->rules->tolerance_mK / 2, most));
    switch (correction_from_points(points, count, c->rules->largest_mK, &made)) {
    case CORRECTION_OK:
        break;
    case CORRECTION_TOO_LARGE:
        return wrong(c,
                     "probe '%s' would need a correction of more than %s, the most this plan "
                     "allows (largest_correction); have it repaired or replaced, and record "
                     "this check without a correction",
                     c->entry->probe, degrees(c->rules->largest_mK, most));
    case CORRECTION_COUNT:
    case CORRECTION_TOO_CLOSE:
        return wrong(c,
                     "the points of a correction have to be at least %s apart; leave out "
                     "one of two that are closer",
                     degrees(CALIBRATION_APART_mK, most));
    case CORRECTION_CROSSED:
        return wrong(c, "where the references rise the probe does not: these points belong to "
                        "no working probe. Measure again");
    }
    if (c->known->correction.count == 0 && corrections(c->engine) >= CORRECTIONS_MAX)
        return wrong(c,
                     "%d probes have a correction, which is the most there can be; have "
                     "some of them adjusted",
                     CORRECTIONS_MAX);
    return true;
}

bool
calibration_check(const struct engine *engine, const struct entry *entry, char *reterr,
                  size_t err_size)
{
    const struct plan *plan = engine_plan(engine);
    struct check c = {
        .engine = engine, .plan = plan, .entry = entry, .reterr = reterr, .err_size = err_size};
    c.rules = calibration_rules(plan, entry);
    c.known = c.rules ? calibration_state(looked_at(&c), plan, entry) : NULL;
    if (!check_which(&c))
        return false;
    assert(c.rules != NULL && c.known != NULL); /* check_which */
    if (!check_points(&c))
        return false;
    switch (entry->correction) {
    case CORRECTION_ADOPT:
        return check_adopt(&c);
    case CORRECTION_KEEP:
        if (entry->left_count > 0 && c.known->correction.count > 0)
            return wrong(&c,
                         "probe '%s' was adjusted, so its correction no longer fits; adopt a "
                         "new one or drop it",
                         entry->probe);
        return true;
    case CORRECTION_DROP:
        return true;
    case CORRECTION_UNSAID:
        break;
    }
    return wrong(&c, "what becomes of the correction is missing; say keep, adopt or drop");
}
