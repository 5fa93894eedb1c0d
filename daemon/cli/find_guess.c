/* What registers mean. See find_guess.h.
 *
 * Every way of reading is tried on every place. One that fits shows a hand's temperature, then
 * ice water's, and no nonsense between. Those that fit are put in order by doubt, thousandths
 * of the whole movement or points for what is unusual, added up:
 *  - how far the two temperatures lie from what a hand and ice water usually give;
 *  - how much the value went back and forth beyond its way down: a wrong small part, or noise;
 *  - what devices seldom do (numbers marked below: common practice, no source). */
#include "daemon/cli/find_guess.h"

#include <assert.h>
#include <string.h>

#include "trivet/reading.h"
#include "trivet/register_reader.h"

/* ---- what is tried ---- */

#define DEGREE_MICRO 1000000

/* Degrees per count. 1/16 is what 12-bit digital sensors count in. Common practice, no source.
 */
static const int64_t scales_micro[] = {100000, 10000, 1000000, 62500, 1000};
#define SCALES (sizeof scales_micro / sizeof *scales_micro)

/* Added to keep what is sent above zero, or because kelvin are sent. Common practice, no
 * source; 273.15 is the kelvin's definition (SI Brochure, 9th edition, 2.3.1). */
static const int64_t offsets_micro[] = {0,
                                        -40LL * DEGREE_MICRO,
                                        -50LL * DEGREE_MICRO,
                                        -100LL * DEGREE_MICRO,
                                        -200LL * DEGREE_MICRO,
                                        -273150000LL};
#define OFFSETS (sizeof offsets_micro / sizeof *offsets_micro)

/* What a module gives that leaves the rest to others: the ohms of a platinum probe. Counts are
 * those of a Pt100: a Pt1000 in whole ohms is the same temperature as a Pt100 in tenths.
 * Thermocouples are not tried: without the temperature of their terminals a voltage means
 * nothing. Common practice, no source. */
static const struct {
    const char *sensor;
    int64_t scale_micro; /* ohm per count */
    bool is_float;
} ohms[] = {{"pt100", 100000, false},
            {"pt100", 10000, false},
            {"pt100", 1000, false},
            {"pt100", DEGREE_MICRO, true},
            {"pt1000", DEGREE_MICRO, true}};
#define OHMS (sizeof ohms / sizeof *ohms)

static const enum byte_order orders[] = {ORDER_ABCD, ORDER_CDAB, ORDER_BADC, ORDER_DCBA};
#define ORDERS (sizeof orders / sizeof *orders)

static const enum register_type types[] = {REGISTER_INT16, REGISTER_UINT16, REGISTER_FLOAT32,
                                           REGISTER_INT32, REGISTER_UINT32, REGISTER_FLOAT64};
#define TYPES (sizeof types / sizeof *types)

/* ---- what fits ---- */

/* A closed hand warms a tip to somewhere below skin and blood; a cold or gloved one stays
 * lower. Ice water is 0 °C when stirred; a slow or thick probe is still on its way. Common
 * practice, no source; the outer limits leave room for a thermometer that is a little wrong. */
#define HAND_LEAST_MC   20000
#define HAND_LOW_MC     25000
#define HAND_HIGH_MC    37000
#define HAND_MOST_MC    40000
#define ICE_LEAST_MC    (-3000)
#define ICE_LOW_MC      (-1000)
#define ICE_HIGH_MC     2000
#define ICE_MOST_MC     8000
#define FALL_LEAST_MC   12000
#define SAMPLE_LEAST_MC (-30000)
#define SAMPLE_MOST_MC  60000

struct look {
    const struct find_block *block;
    size_t at;
};

static const uint16_t *
words(const struct look *look, enum find_phase phase, size_t round)
{
    return &look->block->word[phase][round][look->at];
}

/* Ascending; few. */
static void
sort(int32_t *values, size_t count)
{
    for (size_t i = 1; i < count; i++)
        for (size_t j = i; j > 0 && values[j] < values[j - 1]; j--) {
            const int32_t swapped = values[j];
            values[j] = values[j - 1];
            values[j - 1] = swapped;
        }
}

/* Middle of the last third: the probe has got there by then. */
static int32_t
settled(const int32_t *values, size_t count)
{
    int32_t last[FIND_ROUNDS_MAX];
    const size_t taken = (count + 2) / 3;
    assert(count >= 1 && count <= FIND_ROUNDS_MAX);
    memcpy(last, values + count - taken, taken * sizeof *last);
    sort(last, taken);
    return last[taken / 2];
}

/* Way gone beyond the way between the ends. */
static int64_t
roughness(const int32_t *values, size_t count)
{
    int64_t way = 0;
    for (size_t i = 1; i < count; i++) {
        const int64_t step = (int64_t)values[i] - values[i - 1];
        way += step < 0 ? -step : step;
    }
    const int64_t net = (int64_t)values[count - 1] - values[0];
    return way - (net < 0 ? -net : net);
}

/* How much the pace changes. What probes do changes it for every way of reading alike; a small
 * part that is another value's adds to it at every step. */
static int64_t
unsteadiness(const int32_t *values, size_t count)
{
    int64_t changes = 0;
    for (size_t i = 2; i < count; i++) {
        const int64_t change = (int64_t)values[i] - 2 * (int64_t)values[i - 1] + values[i - 2];
        changes += change < 0 ? -change : change;
    }
    return changes;
}

static bool
within(int32_t value, int32_t least, int32_t most)
{
    return value >= least && value <= most;
}

static bool
read_phase(const struct look *look, const struct plan_probe *probe, enum find_phase phase,
           int32_t *ret_temp_mC)
{
    for (size_t i = 0; i < look->block->rounds[phase]; i++)
        if (register_decode(probe, words(look, phase, i), &ret_temp_mC[i]) != READING_GOOD)
            return false;
    return true;
}

/* Points for what is unusual. Common practice, no source. */

static int32_t
doubt_of_type(const struct find_guess *guess)
{
    static const int32_t by_order[] = {
        [ORDER_ABCD] = 0, [ORDER_CDAB] = 3, [ORDER_BADC] = 8, [ORDER_DCBA] = 8};
    const int32_t odd = guess->reg % 2 != 0 ? 8 : 0; /* pairs begin at even addresses mostly */
    switch (guess->type) {
    case REGISTER_INT16:
        return 0;
    case REGISTER_UINT16:
        return guess->offset_micro == 0 ? 10 : 4; /* blind below zero */
    case REGISTER_FLOAT32:
    case REGISTER_FLOAT64:
        return by_order[guess->order] + odd;
    case REGISTER_INT32:
        return 12 + by_order[guess->order] + odd;
    case REGISTER_UINT32:
    case REGISTER_INT64: /* these two are not tried: a longer way to write the others */
    case REGISTER_UINT64:
        return 20 + by_order[guess->order] + odd;
    }
    return 0;
}

/* A 16-bit number of small degrees ends where cooking begins. */
static int32_t
doubt_of_range(const struct find_guess *guess)
{
    const int64_t most = guess->type == REGISTER_INT16 ? 32767 : 65535;
    if (guess->sensor != NULL)
        return 0; /* a range too narrow does not reach the hand's ohms */
    const bool narrow = register_type_count(guess->type) == 1 &&
                        most * guess->scale_micro + guess->offset_micro < 100LL * DEGREE_MICRO;
    return narrow ? 40 : 0;
}

static int32_t
doubt_of_degrees(const struct find_guess *guess)
{
    int32_t doubt = guess->function == 3 ? 2 : 0; /* measured values are function 4's */
    doubt += guess->offset_micro != 0 ? 20 : 0;
    doubt += guess->sensor != NULL ? 20 : 0;
    doubt += guess->reads == TEMP_F ? 5 : 0;
    doubt += guess->scale_micro == 62500 || guess->scale_micro == 1000 ? 5 : 0;
    return doubt;
}

static int32_t
beyond(int32_t value, int32_t low, int32_t high)
{
    return value < low ? low - value : value > high ? value - high : 0;
}

static int32_t
size_of(int32_t value)
{
    return value < 0 ? -value : value;
}

static int32_t
doubt_of_temps(const struct find_guess *guess)
{
    return beyond(guess->hand_mC, HAND_LOW_MC, HAND_HIGH_MC) / 20 +
           beyond(guess->ice_mC, ICE_LOW_MC, ICE_HIGH_MC) / 20 + size_of(guess->ice_mC) / 100 +
           size_of(guess->hand_mC - 33000) / 500;
}

/* How often a word is another than in the round before. */
static size_t
changes_of(const struct look *look, size_t part)
{
    size_t changes = 0;
    const uint16_t *before = words(look, FIND_HAND, 0);
    for (int phase = 0; phase < FIND_PHASES; phase++)
        for (size_t i = 0; i < look->block->rounds[phase]; i++) {
            const uint16_t *now = words(look, (enum find_phase)phase, i);
            changes += now[part] != before[part];
            before = now;
        }
    return changes;
}

/* A small part that stays while the large one moves on and on belongs to something else; zero
 * all the time, it may be that of a value sent in whole steps. */
static int32_t
doubt_of_small_part(const struct look *look, const struct find_guess *guess)
{
    const size_t small = guess->order == ORDER_ABCD || guess->order == ORDER_BADC;
    if (guess->type != REGISTER_FLOAT32 || changes_of(look, small) > 0)
        return 0;
    if (words(look, FIND_HAND, 0)[small] == 0)
        return 10;
    return changes_of(look, 1 - small) >= 3 ? 20 : 0;
}

/* Fits: writes temperatures and doubt. */
static bool
judge(const struct look *look, struct find_guess *guess)
{
    struct plan_probe probe;
    int32_t hand_mC[FIND_ROUNDS_MAX], ice_mC[FIND_ROUNDS_MAX];
    const size_t hands = look->block->rounds[FIND_HAND], ices = look->block->rounds[FIND_ICE];
    find_guess_probe(guess, &probe);
    if (!read_phase(look, &probe, FIND_HAND, hand_mC) ||
        !read_phase(look, &probe, FIND_ICE, ice_mC))
        return false;
    guess->hand_mC = settled(hand_mC, hands);
    guess->ice_mC = settled(ice_mC, ices);
    const int32_t fall_mC = guess->hand_mC - guess->ice_mC;
    if (!within(guess->hand_mC, HAND_LEAST_MC, HAND_MOST_MC) ||
        !within(guess->ice_mC, ICE_LEAST_MC, ICE_MOST_MC) || fall_mC < FALL_LEAST_MC)
        return false;
    const int64_t rough_mC = roughness(hand_mC, hands) + roughness(ice_mC, ices);
    if (rough_mC > fall_mC) /* no way down: it jumps about */
        return false;
    const int64_t unsteady_mC = unsteadiness(hand_mC, hands) + unsteadiness(ice_mC, ices);
    guess->doubt = doubt_of_temps(guess) + (int32_t)(unsteady_mC * 1000 / fall_mC) +
                   doubt_of_type(guess) + doubt_of_range(guess) + doubt_of_degrees(guess) +
                   doubt_of_small_part(look, guess);
    return true;
}

/* ---- the table of guesses ---- */

struct table {
    struct find_guess *guess;
    size_t count, max;
};

/* Least doubt first; what came first stays first. */
static void
put(struct table *table, const struct find_guess *guess)
{
    size_t at = table->count;
    while (at > 0 && table->guess[at - 1].doubt > guess->doubt)
        at--;
    if (at == table->max)
        return;
    if (table->count < table->max)
        table->count++;
    memmove(&table->guess[at + 1], &table->guess[at],
            (table->count - 1 - at) * sizeof *table->guess);
    table->guess[at] = *guess;
}

static void
try_degrees(const struct look *look, struct find_guess *guess, struct table *table)
{
    const bool is_float = guess->type == REGISTER_FLOAT32 || guess->type == REGISTER_FLOAT64;
    const size_t scales = is_float ? 1 : SCALES;
    for (size_t s = 0; s < scales; s++) {
        guess->scale_micro = scales == 1 ? DEGREE_MICRO : scales_micro[s];
        guess->reads = TEMP_C;
        for (size_t o = 0; o < OFFSETS; o++) {
            guess->offset_micro = offsets_micro[o];
            if (judge(look, guess))
                put(table, guess);
        }
        guess->offset_micro = 0;
        guess->reads = TEMP_F;
        if (judge(look, guess))
            put(table, guess);
    }
}

static void
try_ohms(const struct look *look, struct find_guess *guess, struct table *table)
{
    const bool is_float = guess->type == REGISTER_FLOAT32 || guess->type == REGISTER_FLOAT64;
    guess->reads = TEMP_C;
    guess->offset_micro = 0;
    for (size_t i = 0; i < OHMS; i++) {
        guess->sensor = ohms[i].sensor;
        guess->scale_micro = ohms[i].scale_micro;
        if (ohms[i].is_float == is_float && judge(look, guess))
            put(table, guess);
    }
    guess->sensor = NULL;
}

static void
try_place(const struct look *look, struct table *table)
{
    const struct find_block *block = look->block;
    struct find_guess guess = {.unit = block->unit,
                               .function = block->function,
                               .reg = (uint16_t)(block->first + look->at)};
    for (size_t t = 0; t < TYPES; t++) {
        const size_t taken = register_type_count(types[t]);
        if (look->at + taken > block->count || (block->seam && taken == 1))
            continue;
        guess.type = types[t];
        for (size_t o = 0; o < (taken == 1 ? 1 : ORDERS); o++) {
            guess.order = orders[o];
            try_degrees(look, &guess, table);
            try_ohms(look, &guess, table);
        }
    }
}

static bool
measured(const struct find_block *block)
{
    return block->rounds[FIND_HAND] > 0 && block->rounds[FIND_ICE] > 0;
}

size_t
find_guesses(const struct find_block *blocks, size_t count, struct find_guess *ret, size_t max)
{
    struct table table = {.guess = ret, .max = max};
    for (size_t i = 0; i < count; i++) {
        assert(blocks[i].count >= 1 && blocks[i].count <= FIND_BLOCK_MAX);
        if (!measured(&blocks[i]))
            continue;
        for (size_t at = 0; at < blocks[i].count; at++)
            try_place(&(struct look){&blocks[i], at}, &table);
    }
    return table.count;
}

void
find_guess_probe(const struct find_guess *guess, struct plan_probe *ret)
{
    memset(ret, 0, sizeof *ret);
    ret->unit = guess->unit;
    ret->function = guess->function;
    ret->reg = guess->reg;
    ret->type = guess->type;
    ret->order = guess->order;
    ret->reads = guess->reads;
    ret->sensor = guess->sensor;
    ret->signal = guess->sensor != NULL ? SIGNAL_OHM : SIGNAL_TEMP;
    ret->cold_probe = -1;
    ret->cold_mC = TEMP_NONE;
    ret->scale_micro = guess->scale_micro;
    ret->offset_micro = guess->offset_micro;
    ret->plausible_min_mC = SAMPLE_LEAST_MC;
    ret->plausible_max_mC = SAMPLE_MOST_MC;
}

/* ---- what moved ---- */

static int32_t
spread(const int32_t *values, size_t count)
{
    int32_t least = values[0], most = values[0];
    for (size_t i = 1; i < count; i++) {
        least = values[i] < least ? values[i] : least;
        most = values[i] > most ? values[i] : most;
    }
    return most - least;
}

/* Signed, so that a crossing of zero is no leap. */
static int32_t
count_of(uint16_t word)
{
    return word < 0x8000 ? word : word - 0x10000;
}

static bool
moved(const struct look *look, struct find_move *ret)
{
    int32_t middle[FIND_PHASES], jitter = 0;
    for (int phase = 0; phase < FIND_PHASES; phase++) {
        int32_t values[FIND_ROUNDS_MAX] = {0};
        const size_t rounds = look->block->rounds[phase];
        for (size_t i = 0; i < rounds; i++)
            values[i] = count_of(words(look, (enum find_phase)phase, i)[0]);
        middle[phase] = settled(values, rounds);
        if (phase == FIND_HAND)
            jitter = spread(values, rounds);
    }
    ret->hand = (uint16_t)middle[FIND_HAND];
    ret->ice = (uint16_t)middle[FIND_ICE];
    return size_of(middle[FIND_HAND] - middle[FIND_ICE]) > 4 + 2 * jitter;
}

size_t
find_moves(const struct find_block *blocks, size_t count, struct find_move *ret, size_t max)
{
    size_t found = 0;
    for (size_t i = 0; i < count; i++)
        for (size_t at = 0; at < blocks[i].count && found < max; at++) {
            ret[found] = (struct find_move){.unit = blocks[i].unit,
                                            .function = blocks[i].function,
                                            .reg = (uint16_t)(blocks[i].first + at)};
            if (!blocks[i].seam && measured(&blocks[i]) &&
                moved(&(struct look){&blocks[i], at}, &ret[found]))
                found++;
        }
    return found;
}
