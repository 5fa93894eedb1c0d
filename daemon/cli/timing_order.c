/* Dishes as they are told, and on the clock. See timing.h. Pure. */
#include "daemon/cli/timing.h"

#include <math.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "trivet/typed.h"

enum { PART_BYTES = 64 };

/* ---- as told ---- */

static bool
temp_part(const char *text, double *ret_C, char *reterr, size_t err_size)
{
    int32_t temp_mC;
    if (!amount_temp(text, false, &temp_mC, reterr, err_size))
        return false;
    *ret_C = temp_mC / 1000.0;
    return true;
}

static bool
word_part(const char *part, struct dish *dish)
{
    static const struct {
        const char *word;
        enum dish_shape shape;
        enum dish_wrap wrap;
    } WORDS[] = {
        {"oval", DISH_OVAL, DISH_NO_WRAP},     {"roll", DISH_ROLL, DISH_NO_WRAP},
        {"flat", DISH_FLAT, DISH_NO_WRAP},     {"long", DISH_LONG, DISH_NO_WRAP},
        {"dough", DISH_ANY_SHAPE, DISH_DOUGH}, {"fat", DISH_ANY_SHAPE, DISH_FAT},
    };
    for (size_t i = 0; i < sizeof WORDS / sizeof *WORDS; i++) {
        if (strcmp(WORDS[i].word, part) != 0)
            continue;
        if (WORDS[i].shape != DISH_ANY_SHAPE)
            dish->shape = WORDS[i].shape;
        if (WORDS[i].wrap != DISH_NO_WRAP)
            dish->wrap = WORDS[i].wrap;
        return true;
    }
    return false;
}

static bool
read_part(const char *part, struct timing_dish *ret, char *reterr, size_t err_size)
{
    char ignored[200], shown[PART_BYTES];
    int32_t amount;
    if (strncmp(part, "to ", 3) == 0) {
        ret->target_told = true;
        return temp_part(part + 3, &ret->dish.target_C, reterr, err_size);
    }
    if (strncmp(part, "from ", 5) == 0) {
        ret->start_told = true;
        return temp_part(part + 5, &ret->dish.start_C, reterr, err_size);
    }
    if (word_part(part, &ret->dish))
        return true;
    if (amount_mass(part, &amount, ignored, sizeof ignored)) {
        ret->dish.mass_g = amount;
        return true;
    }
    if (amount_length(part, &amount, ignored, sizeof ignored)) {
        ret->dish.thickness_mm = amount;
        return true;
    }
    (void)snprintf(reterr, err_size,
                   "'%s' says nothing of a dish; write its mass (2.4kg) or thickness (60mm), "
                   "'to 66C', 'from 6C', oval, roll, flat or long, dough or fat",
                   typed_shown(shown, sizeof shown, part));
    return false;
}

bool
timing_dish_read(const char *word, char ret_product[PLAN_NAME_MAX + 1], struct timing_dish *ret,
                 char *reterr, size_t err_size)
{
    size_t length = strcspn(word, ",");
    *ret = (struct timing_dish){
        .dish =
            {.mass_g = NAN, .thickness_mm = NAN, .start_C = 5, .oven_C = NAN, .target_C = NAN},
        .least_C = NAN,
        .put_in_ms = TIME_NONE,
        .usual_ms = TIME_NONE,
    };
    if (length == 0 || length > PLAN_NAME_MAX) {
        (void)snprintf(reterr, err_size, "a dish begins with its product: pork-loin,2.4kg");
        return false;
    }
    (void)snprintf(ret_product, PLAN_NAME_MAX + 1, "%.*s", (int)length, word);
    (void)snprintf(ret->name, sizeof ret->name, "%s", ret_product);
    while (word[length] != '\0') {
        char part[PART_BYTES];
        word += length + 1;
        while (*word == ' ')
            word++;
        length = strcspn(word, ",");
        (void)snprintf(part, sizeof part, "%.*s", (int)length, word);
        if (length >= sizeof part || !read_part(part, ret, reterr, err_size)) {
            if (length >= sizeof part)
                (void)snprintf(reterr, err_size, "a part of a dish is longer than %d letters",
                               PART_BYTES - 1);
            return false;
        }
    }
    return true;
}

/* ---- on the clock ---- */

static int64_t
ms_of(double seconds)
{
    return isfinite(seconds) ? (int64_t)(seconds * 1000) : 0;
}

/* What rests longest leaves the oven first; of the rest, the slower. */
static bool
goes_before(const struct timing_dish *a, const struct timing_dish *b)
{
    double rest_s = a->planned.rest_s.p50 - b->planned.rest_s.p50;
    if (fabs(rest_s) > 60)
        return rest_s > 0;
    return a->planned.target_s.p50 > b->planned.target_s.p50;
}

static void
sort(struct timing_dish *dish, size_t count)
{
    for (size_t i = 1; i < count; i++)
        for (size_t at = i; at > 0 && goes_before(&dish[at], &dish[at - 1]); at--) {
            struct timing_dish keep = dish[at];
            dish[at] = dish[at - 1];
            dish[at - 1] = keep;
        }
}

void
timing_backward(struct timing_dish *dish, size_t count, int64_t serve_ms, bool apart)
{
    int64_t free_ms = INT64_MAX;
    sort(dish, count);
    for (size_t i = count; i > 0; i--) {
        struct timing_dish *d = &dish[i - 1];
        int64_t out_ms = serve_ms - ms_of(d->planned.rest_s.p50);
        if (apart && out_ms > free_ms)
            out_ms = free_ms;
        d->put_in_ms = out_ms - ms_of(d->planned.target_s.p95);
        d->usual_ms = out_ms - ms_of(d->planned.target_s.p50);
        free_ms = d->put_in_ms;
    }
}

void
timing_forward(struct timing_dish *dish, size_t count, int64_t at_ms, bool apart)
{
    sort(dish, count);
    for (size_t i = 0; i < count; i++) {
        dish[i].put_in_ms = at_ms;
        dish[i].usual_ms = TIME_NONE;
        if (apart)
            at_ms += ms_of(dish[i].planned.target_s.p95);
    }
}
