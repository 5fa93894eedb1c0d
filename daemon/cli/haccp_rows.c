/* The cells of the HACCP table. What the plan does not say is said to be missing, never made
 * up; what Trivet itself does (monitoring, records) follows from the plan. See haccp.h. Pure.
 */
#include <stdarg.h>
#include <string.h>

#include "daemon/cli/haccp.h"

/* A cell being filled; what does not fit is left out. */
struct cell {
    char *buf;
    size_t len;
};

static void add(struct cell *cell, const char *format, ...) TRIVET_PRINTF(2, 3);

static void
add(struct cell *cell, const char *format, ...)
{
    va_list args;
    size_t left = HACCP_CELL_MAX - cell->len;
    va_start(args, format);
    /* NOLINTNEXTLINE(clang-analyzer-valist.Uninitialized): va_start is just above */
    int n = vsnprintf(cell->buf + cell->len, left, format, args);
    va_end(args);
    cell->len += n < 0 ? 0 : (size_t)n < left ? (size_t)n : left - 1;
}

static struct cell
start(struct haccp_row *row, enum haccp_cell which)
{
    row->cell[which][0] = '\0';
    return (struct cell){.buf = row->cell[which]};
}

static void
put(struct haccp_row *row, enum haccp_cell which, const char *text, const char *missing)
{
    struct cell cell = start(row, which);
    add(&cell, "%s", text != NULL ? text : missing);
}

/* ---- monitoring ---- */

static void
put_what(struct haccp_row *row, const struct plan_limit *limit)
{
    static const char *const heat = "coldest core temperature of the batch, and for how long";
    const char *what = "temperature of the food's core";
    if (limit->kind == LIMIT_DAYS)
        what = "days since it was made, opened or packed, and whether it was frozen";
    else if (limit->kind == LIMIT_OVEN || limit->kind == LIMIT_MOIST_OVEN)
        what = "temperature of the oven, before the food goes in and while it is in it";
    else if (limit->subject == SUBJECT_SURFACE)
        what = "temperature of the surface, top and bottom";
    else if (limit->subject == SUBJECT_AIR)
        what = "temperature of the air";
    else if (limit->kind == LIMIT_COOL)
        what = "warmest core temperature of the batch, and the time since cooling began";
    else if (limit->kind == LIMIT_ZONE)
        what = "core temperatures of the batch, and the time between cold and hot added up";
    else if (limit->kind == LIMIT_TIME)
        what = limit->has_ceiling
                   ? "time since it left temperature control; warmest temperature meanwhile"
                   : "temperature as it left temperature control, and the time since";
    else if (limit->kind != LIMIT_HOLD_HOT && limit->kind != LIMIT_HOLD_COLD)
        what = heat;
    put(row, HACCP_WHAT, what, NULL);
}

/* "every 5 s", or from the quickest to the slowest of the food probes. */
static void
put_often(struct haccp_row *row, const struct plan *plan, int probe)
{
    int32_t least = INT32_MAX, most = 0;
    char a[32], b[32];
    struct cell cell = start(row, HACCP_OFTEN);
    for (size_t i = 0; i < plan->probe_count; i++) {
        const struct plan_probe *p = &plan->probes[i];
        if (probe >= 0 ? (size_t)probe != i : p->kind != PROBE_FOOD)
            continue;
        least = p->every_ms < least ? p->every_ms : least;
        most = p->every_ms > most ? p->every_ms : most;
    }
    if (most == 0) {
        add(&cell, "whenever a person measures by hand");
        return;
    }
    add(&cell, "continuously: every %s", duration_text(a, sizeof a, least));
    if (most != least)
        add(&cell, " to %s, by probe", duration_text(b, sizeof b, most));
    add(&cell, "; silence for %s is a deviation",
        duration_text(a, sizeof a, plan->tolerances.silent_ms));
}

static void
put_how(struct haccp_row *row, const struct plan *plan, int probe)
{
    struct cell cell = start(row, HACCP_HOW);
    size_t count = 0;
    if (probe >= 0) {
        add(&cell, "probe %s (%s)", plan->probes[probe].name, plan->probes[probe].id);
        return;
    }
    for (size_t i = 0; i < plan->probe_count; i++)
        if (plan->probes[i].kind == PROBE_FOOD)
            add(&cell, "%s%s", count++ == 0 ? "probes put into the food: " : ", ",
                plan->probes[i].id);
    for (size_t i = 0; i < plan->handheld_count; i++)
        add(&cell, "%s%s",
            i > 0        ? ", "
            : count == 0 ? "by hand: "
                         : "; by hand: ",
            plan->handhelds[i].id);
    if (cell.len == 0)
        add(&cell, "MISSING: the plan has no probe and no thermometer for it");
}

static void
put_who(struct haccp_row *row, const struct plan *plan)
{
    struct cell cell = start(row, HACCP_WHO);
    size_t told = 0;
    add(&cell, "Trivet by itself; cooks read and enter by hand: ");
    for (size_t i = 0; i < plan->person_count; i++)
        if (plan->people[i].role == ROLE_COOK || plan->sole_operator != NULL)
            add(&cell, "%s%s", told++ == 0 ? "" : ", ", plan->people[i].initials);
    if (told == 0)
        add(&cell, "all the plan's people");
}

/* ---- the rest ---- */

/* Conditions of which the plan does not say which applies: nothing is judged by them. */
static void
put_ovens(struct cell *cell, const struct plan_limit *limit)
{
    char temp[40];
    add(cell, "; if an oven is used (the plan says none: `oven:`)");
    for (size_t i = 0; i < limit->oven_row_count; i++) {
        const struct plan_oven_row *row = &limit->oven_rows[i];
        add(cell, "%s %s %s %d g %s %s", i == 0 ? ":" : ",", oven_type_phrase(row->type),
            row->under_g > 0 ? "under" : "from", (int)(row->under_g + row->from_g),
            row->is_upper ? "at most" : "at least",
            limit_temp_text(temp, sizeof temp, row->is_upper ? row->most : row->least));
    }
}

static void
put_limit(struct haccp_row *row, const struct plan_limit *limit)
{
    char text[700];
    struct cell cell = start(row, HACCP_LIMIT);
    add(&cell, "%s", plan_limit_text(text, sizeof text, limit));
    if (limit->strict)
        add(&cell, "; exactly at it is outside");
    if (limit->validated_by != NULL)
        add(&cell, "; validated by %s", limit->validated_by);
    if (limit->oven_row_count > 0 && limit->oven == OVEN_UNSAID)
        put_ovens(&cell, limit);
    add(&cell, ". Source: %s", limit->source != NULL ? limit->source : "MISSING (source:)");
}

/* What the plan says in general, and the actions it holds ready. */
static void
put_action(struct haccp_row *row, const struct plan_limit *limit)
{
    struct cell cell = start(row, HACCP_ACTION);
    if (limit->corrective_action != NULL)
        add(&cell, "%s", limit->corrective_action);
    else if (limit->prepared_count == 0)
        add(&cell, "MISSING (corrective_action:)");
    for (size_t i = 0; i < limit->prepared_count; i++)
        add(&cell, "%s%s",
            i > 0                              ? ", "
            : limit->corrective_action == NULL ? "ready to be picked: "
                                               : ". Ready to be picked: ",
            limit->prepared[i].name);
}

static void
put_verification(struct haccp_row *row, const struct plan *plan, const struct plan_limit *limit)
{
    struct cell cell = start(row, HACCP_VERIFICATION);
    size_t told = 0;
    if (limit->verification != NULL)
        add(&cell, "%s%s ", limit->verification,
            limit->verification[strlen(limit->verification) - 1] == '.' ? "" : ".");
    if (plan->sole_operator != NULL) {
        add(&cell, "%s", plan->sole_operator);
        return;
    }
    add(&cell, "Each corrective action is verified by another person: ");
    for (size_t i = 0; i < plan->person_count; i++)
        if (plan->people[i].role != ROLE_COOK)
            add(&cell, "%s%s", told++ == 0 ? "" : ", ", plan->people[i].initials);
}

static void
fill(struct haccp_row *row, const struct plan *plan, const struct plan_limit *limit, int probe)
{
    put(row, HACCP_POINT, limit->ccp, "MISSING (critical_control_point:)");
    put(row, HACCP_HAZARD, limit->hazard, "MISSING (hazard:)");
    put_limit(row, limit);
    put_what(row, limit);
    put_how(row, plan, probe);
    put_often(row, plan, probe);
    put_who(row, plan);
    put_action(row, limit);
    put_verification(row, plan, limit);
    put(row, HACCP_RECORDS,
        "Trivet's chained records: readings, decisions, corrective actions, verifications",
        NULL);
}

/* The oven conditions of a step: one row, for the mass that the plan says. */
static bool
oven_row(const struct plan *plan, const struct plan_product *product,
         const struct plan_step *step, struct haccp_row *row, haccp_visitor *visit, void *arg)
{
    const struct plan_limit *oven = plan_oven_limit(&step->limit, 0);
    int probe = step->place < 0 ? -1 : plan->places[step->place].probe;
    if (oven == NULL)
        return true;
    struct plan_limit shown = step->limit;
    shown.kind = oven->kind;
    shown.subject = SUBJECT_AIR;
    fill(row, plan, &shown, probe);
    char text[700];
    struct cell cell = start(row, HACCP_LIMIT);
    add(&cell, "%s", plan_limit_text(text, sizeof text, oven));
    add(&cell, ". Source: %s",
        step->limit.source != NULL ? step->limit.source : "MISSING (source:)");
    if (probe < 0) {
        put(row, HACCP_HOW, "NOT MEASURED by a probe: read by a person on the oven", NULL);
        put(row, HACCP_OFTEN,
            "as the food goes in and while it is in; asked for when the limit is met or the "
            "step is left",
            NULL);
    }
    cell = start(row, HACCP_WHERE);
    add(&cell, "%s: %s, the oven", product->name, step->name);
    return visit(arg, row);
}

static bool
product_rows(const struct plan *plan, const struct plan_product *product, struct haccp_row *row,
             haccp_visitor *visit, void *arg)
{
    if (product->life.kind != LIMIT_NONE) {
        fill(row, plan, &product->life, -1);
        struct cell cell = start(row, HACCP_WHERE);
        add(&cell, "%s: all steps", product->name);
        if (!visit(arg, row))
            return false;
    }
    if (product->mark.kind != LIMIT_NONE) {
        fill(row, plan, &product->mark, -1);
        put(row, HACCP_HOW, "counted by the site's calendar, from what is entered", NULL);
        put(row, HACCP_OFTEN, "as each business day begins", NULL);
        struct cell cell = start(row, HACCP_WHERE);
        add(&cell, "%s: date mark", product->name);
        if (!visit(arg, row))
            return false;
    }
    for (size_t i = 0; i < product->step_count; i++) {
        const struct plan_step *step = &product->steps[i];
        if (step->limit.kind == LIMIT_NONE)
            continue;
        fill(row, plan, &step->limit, -1);
        if (step->limit.subject == SUBJECT_SURFACE) {
            put(row, HACCP_HOW, "by hand, top and bottom, with a thermometer of the plan",
                NULL);
            put(row, HACCP_OFTEN, "each batch, before it leaves the step", NULL);
        }
        struct cell cell = start(row, HACCP_WHERE);
        add(&cell, "%s: %s", product->name, step->name);
        if (!visit(arg, row) || !oven_row(plan, product, step, row, visit, arg))
            return false;
    }
    return true;
}

bool
haccp_each_row(const struct plan *plan, haccp_visitor *visit, void *arg)
{
    static _Thread_local struct haccp_row row;
    for (size_t i = 0; i < plan->product_count; i++)
        if (!product_rows(plan, &plan->products[i], &row, visit, arg))
            return false;
    for (size_t i = 0; i < plan->place_count; i++) {
        const struct plan_place *place = &plan->places[i];
        if (place->limit.kind == LIMIT_NONE)
            continue;
        fill(&row, plan, &place->limit, place->probe);
        put(&row, HACCP_WHERE, place->name, NULL);
        if (!visit(arg, &row))
            return false;
    }
    return true;
}

char *
haccp_approval(const struct plan *plan, char *buf, size_t size)
{
    const struct plan_person *person = plan_person(plan, plan->approved.by);
    if (plan->approved.by[0] == '\0')
        (void)snprintf(buf, size, "Approved by nobody, as far as the plan says.");
    else
        (void)snprintf(buf, size, "Limits approved by %s (%s, %s) on %s, as the plan says.",
                       plan->approved.by, person == NULL ? "" : person->name,
                       person == NULL ? "" : person_role_word(person->role), plan->approved.on);
    return buf;
}
