/* What registers mean: devices of many layouts are simulated, with neighbours, counters and
 * noise; the best guess has to read the device right over a kitchen's temperatures, and has to
 * say so when it is not sure.
 *
 * The devices encode on their own, from the MODBUS Application Protocol V1.1b3 (a register is
 * 16 bits, the high byte first) and IEEE 754; nothing here uses the code under test to make
 * what it is tested with. Layouts, noise and the way a probe warms and cools are invented. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "daemon/cli/find_guess.h"
#include "trivet/reading.h"
#include "trivet/register_reader.h"
#include "trivet/units.h"

#define ROUNDS      10
#define GUESSES_MAX 200
#define SEEDS       100

/* ---- devices ---- */

struct layout {
    const char *name;
    uint8_t function;
    uint16_t reg; /* of the probe, in a block from 0 */
    bool wide, real;
    const char *bytes; /* "ABCD" and so on */
    double scale, offset;
    bool fahrenheit;
    double step_C; /* what a count is worth */
    double r0_ohm; /* what is sent is the resistance of such a platinum probe; 0: degrees */
};

static const struct layout layouts[] = {
    {"int16, 0.1 °C", 4, 3, false, false, "AB", 0.1, 0, false, 0.1, 0},
    {"int16, 0.01 °C", 3, 6, false, false, "AB", 0.01, 0, false, 0.01, 0},
    {"int16, whole °C", 4, 1, false, false, "AB", 1, 0, false, 1, 0},
    {"int16, 1/16 °C", 4, 2, false, false, "AB", 0.0625, 0, false, 0.0625, 0},
    {"int16, 0.1 °F", 4, 5, false, false, "AB", 0.1, 0, true, 0.1, 0},
    {"uint16, 0.1 °C from -40", 4, 4, false, false, "AB", 0.1, -40, false, 0.1, 0},
    {"uint16, 0.1 °C from -100", 3, 7, false, false, "AB", 0.1, -100, false, 0.1, 0},
    {"uint16, 0.01 K", 4, 0, false, false, "AB", 0.01, -273.15, false, 0.01, 0},
    {"int32, 0.001 °C, large part first", 4, 4, true, false, "ABCD", 0.001, 0, false, 0.001, 0},
    {"int32, 0.001 °C, small part first", 4, 2, true, false, "CDAB", 0.001, 0, false, 0.001, 0},
    {"int32, 0.01 °C, bytes backwards", 4, 6, true, false, "DCBA", 0.01, 0, false, 0.01, 0},
    {"float32 °C, large part first", 4, 4, true, true, "ABCD", 1, 0, false, 0.001, 0},
    {"float32 °C, small part first", 3, 6, true, true, "CDAB", 1, 0, false, 0.001, 0},
    {"float32 °C, bytes swapped", 4, 2, true, true, "BADC", 1, 0, false, 0.001, 0},
    {"float32 °C at an odd address", 4, 5, true, true, "ABCD", 1, 0, false, 0.001, 0},
    {"float32 °F, bytes backwards", 4, 8, true, true, "DCBA", 1, 0, true, 0.001, 0},
    {"uint16, 0.1 ohm of a Pt100", 4, 3, false, false, "AB", 0.1, 0, false, 0.26, 100},
    {"int16, 0.01 ohm of a Pt100", 3, 6, false, false, "AB", 0.01, 0, false, 0.026, 100},
    {"uint16, 0.1 ohm of a Pt1000", 4, 5, false, false, "AB", 0.1, 0, false, 0.026, 1000},
    {"int32, 0.001 ohm of a Pt100", 4, 4, true, false, "ABCD", 0.001, 0, false, 0.003, 100},
    {"float32 ohm of a Pt1000", 4, 6, true, true, "CDAB", 1, 0, false, 0.001, 1000},
};

/* xorshift: a test is the same every time. */
static double
noise(uint32_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 17;
    *state ^= *state << 5;
    return *state / 4294967296.0 - 0.5;
}

static int64_t
nearest(double value)
{
    return (int64_t)(value < 0 ? value - 0.5 : value + 0.5);
}

/* IEC 60751:2022, 5.2. */
static double
platinum_ohm(double r0_ohm, double temp_C)
{
    const double below =
        temp_C < 0 ? -4.183e-12 * (temp_C - 100) * temp_C * temp_C * temp_C : 0;
    return r0_ohm * (1 + 3.9083e-3 * temp_C - 5.775e-7 * temp_C * temp_C + below);
}

/* The registers of a temperature. */
static void
encode(const struct layout *layout, double temp_C, uint16_t *at)
{
    const double degrees = layout->r0_ohm > 0   ? platinum_ohm(layout->r0_ohm, temp_C)
                           : layout->fahrenheit ? temp_C * 9 / 5 + 32
                                                : temp_C;
    const double counts = (degrees - layout->offset) / layout->scale;
    uint32_t bits = (uint32_t)(uint64_t)nearest(counts);
    const size_t size = strlen(layout->bytes);
    if (layout->real) {
        const float value = (float)counts;
        memcpy(&bits, &value, sizeof bits);
    }
    for (size_t i = 0; i < size; i += 2) {
        uint32_t word = 0;
        for (size_t j = 0; j < 2; j++) {
            const unsigned place = (unsigned)(size - 1 - (size_t)(layout->bytes[i + j] - 'A'));
            word = word << 8 | (bits >> 8 * place & 0xffU);
        }
        at[i / 2] = (uint16_t)word;
    }
}

/* A probe of the same make in the kitchen's air, in every place but the searched one's, so far
 * as they fit; a counter and a constant at the end. */
static void
round_of(const struct layout *layout, double temp_C, uint32_t *state, uint16_t round,
         uint16_t *ret)
{
    const size_t taken = layout->wide ? 2 : 1;
    for (size_t at = layout->reg % taken; at + taken <= FIND_BLOCK_MAX - 2; at += taken)
        encode(layout, 21.5 + 0.2 * (double)at + 0.1 * noise(state), &ret[at]);
    ret[FIND_BLOCK_MAX - 2] = (uint16_t)(1000 + 17 * round);
    ret[FIND_BLOCK_MAX - 1] = 0x1234;
    encode(layout, temp_C + 0.1 * noise(state), &ret[layout->reg]);
}

/* In the hand it warms from 24 to 33 °C, in ice water it falls to 0.3 °C. */
static struct find_block
device(const struct layout *layout, uint32_t seed)
{
    struct find_block block = {.unit = 7,
                               .function = layout->function,
                               .count = FIND_BLOCK_MAX,
                               .rounds = {ROUNDS, ROUNDS}};
    uint32_t state = seed * 2654435761U + 1;
    double hand_C = 9, ice_C = 24;
    for (uint16_t i = 0; i < ROUNDS; i++) {
        round_of(layout, 33 - hand_C, &state, i, block.word[FIND_HAND][i]);
        round_of(layout, 0.3 + ice_C, &state, (uint16_t)(ROUNDS + i), block.word[FIND_ICE][i]);
        hand_C *= 0.6;
        ice_C *= 0.5;
    }
    return block;
}

/* ---- what is asked of a guess ---- */

/* It reads the device right, from a freezer to a roast, whatever stands beside the value. */
static bool
reads_right(const struct find_guess *guess, const struct layout *layout)
{
    struct plan_probe probe;
    find_guess_probe(guess, &probe);
    probe.plausible_min_mC = -100000;
    probe.plausible_max_mC = 400000;
    if (guess->unit != 7 || guess->function != layout->function)
        return false;
    for (double temp_C = -24.63; temp_C <= 120; temp_C += 4.9) {
        uint16_t block[FIND_BLOCK_MAX + 1];
        int32_t temp_mC;
        for (uint16_t i = 0; i < FIND_BLOCK_MAX + 1; i++)
            block[i] = (uint16_t)(0x5a5a + 977 * i);
        encode(layout, temp_C, &block[layout->reg]);
        if (register_decode(&probe, &block[guess->reg], &temp_mC) != READING_GOOD)
            return false;
        const double off_C = temp_mC / 1000.0 - temp_C, least_C = layout->step_C + 0.01;
        if (off_C > least_C || off_C < -least_C)
            return false;
    }
    return true;
}

/* Whole numbers leave no question. Of floats the small part can be taken from either side; the
 * usual addresses help, and at unusual ones it has to say that it is not sure. */
static void
test_guess_of_every_layout_reads_the_device_right(void **state)
{
    static struct find_guess guess[GUESSES_MAX];
    (void)state;
    for (size_t i = 0; i < COUNT_OF(layouts); i++) {
        const struct layout *layout = &layouts[i];
        const bool odd = layout->real && layout->reg % 2 != 0;
        size_t right = 0, sure = 0;
        for (uint32_t seed = 1; seed <= SEEDS; seed++) {
            const struct find_block block = device(layout, seed);
            const size_t count = find_guesses(&block, 1, guess, GUESSES_MAX);
            const bool is_right = count > 0 && reads_right(&guess[0], layout);
            const bool is_sure = find_sure(guess, count);
            if (is_sure && !is_right)
                fail_msg("%s, seed %u: sure and wrong", layout->name, (unsigned)seed);
            right += is_right;
            sure += is_sure;
        }
        print_message("%-36s right %zu, sure %zu of %d\n", layout->name, right, sure, SEEDS);
        /* The larger the number, the more of it is the small part. */
        const size_t least = odd ? 50 : !layout->real ? 100 : layout->r0_ohm > 0 ? 95 : 99;
        assert_true(right * 100 >= (size_t)SEEDS * least);
        assert_true(layout->real || sure == SEEDS);
    }
}

/* ---- what must not be taken for a probe ---- */

static struct find_block
held(uint16_t (*word)(enum find_phase phase, int round))
{
    struct find_block block = {.unit = 1, .function = 4, .count = 1};
    for (int phase = 0; phase < FIND_PHASES; phase++)
        for (int i = 0; i < ROUNDS; i++)
            block.word[phase][i][0] = word((enum find_phase)phase, i);
    block.rounds[FIND_HAND] = block.rounds[FIND_ICE] = ROUNDS;
    return block;
}

static uint16_t
still(enum find_phase phase, int round)
{
    return (uint16_t)(215 + (phase == FIND_ICE) + round % 2);
}

/* Counts of a bare thermistor go up as it gets colder. */
static uint16_t
rises(enum find_phase phase, int round)
{
    return (uint16_t)(phase == FIND_HAND ? 400 + round : 3000 + round);
}

static uint16_t
jumps(enum find_phase phase, int round)
{
    static const uint16_t values[] = {330, 5, 310, 20, 340, 0, 300, 10, 330, 330};
    return phase == FIND_HAND ? 330 : round == ROUNDS - 1 ? 3 : values[round];
}

/* A switch: 33 and 0 would be whole degrees, but it had been 700 on the way. */
static uint16_t
leaps(enum find_phase phase, int round)
{
    return (uint16_t)(phase == FIND_HAND ? 33 : round == 4 ? 700 : 0);
}

static void
test_guess_of_what_is_no_temperature_is_none(void **state)
{
    uint16_t (*const words[])(enum find_phase, int) = {still, rises, jumps, leaps};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(words); i++) {
        struct find_guess guess[4];
        const struct find_block block = held(words[i]);
        assert_int_equal(find_guesses(&block, 1, guess, 4), 0);
        assert_false(find_sure(guess, 0));
    }
}

static void
test_guess_without_a_phase_is_none(void **state)
{
    struct find_guess guess[4];
    struct find_move move[4];
    struct find_block block = device(&layouts[0], 1);
    (void)state;
    block.rounds[FIND_ICE] = 0;
    assert_int_equal(find_guesses(&block, 1, guess, 4), 0);
    assert_int_equal(find_moves(&block, 1, move, 4), 0);
    block.rounds[FIND_ICE] = 1; /* one round is little, and enough to look at */
    for (size_t at = 0; at < FIND_BLOCK_MAX; at++)
        block.word[FIND_ICE][0][at] = block.word[FIND_ICE][ROUNDS - 1][at];
    assert_true(find_guesses(&block, 1, guess, 4) > 0);
}

static void
test_moves_are_told_even_when_nothing_fits(void **state)
{
    struct find_move move[4];
    const struct find_block blocks[] = {held(still), held(rises)};
    (void)state;
    assert_int_equal(find_moves(blocks, 2, move, 4), 1);
    assert_int_equal(move[0].hand, 408); /* middle of the last third: 406 to 409 */
    assert_int_equal(move[0].ice, 3008);
    assert_int_equal(find_moves(blocks, 2, move, 0), 0);
}

/* ---- ties ---- */

static uint16_t
tenths(enum find_phase phase, int round)
{
    static const uint16_t ice[ROUNDS] = {240, 120, 60, 30, 15, 8, 5, 4, 3, 3};
    return phase == FIND_HAND ? 331 : ice[round];
}

static void
test_tie_of_sign_word_and_function_does_not_matter(void **state)
{
    struct find_guess guess[40];
    struct find_block blocks[2] = {held(tenths), held(tenths)};
    bool tied[FIND_TIES] = {false};
    (void)state;
    for (int b = 0; b < 2; b++) { /* as the small half of an int32 */
        blocks[b].count = 2;
        blocks[b].function = b == 0 ? 4 : 3;
        for (int phase = 0; phase < FIND_PHASES; phase++)
            for (int i = 0; i < ROUNDS; i++) {
                blocks[b].word[phase][i][1] = blocks[b].word[phase][i][0];
                blocks[b].word[phase][i][0] = 0;
            }
    }
    const size_t count = find_guesses(blocks, 2, guess, 40);
    assert_int_equal(guess[0].type, REGISTER_INT16);
    assert_int_equal(guess[0].reg, 1);
    assert_int_equal(guess[0].function, 4); /* measured values are function 4's */
    assert_int_equal(guess[0].scale_micro, 100000);
    assert_int_equal(guess[0].hand_mC, 33100);
    assert_int_equal(guess[0].ice_mC, 400); /* of 0.5, 0.4, 0.3, 0.3: the upper middle */
    for (size_t i = 1; i < count; i++)
        tied[find_tie(&guess[0], &guess[i])] = true;
    assert_true(tied[FIND_TIE_SIGN]);
    assert_true(tied[FIND_TIE_WIDE]);
    assert_true(tied[FIND_TIE_FUNCTION]);
    assert_false(find_tie_matters(FIND_TIE_SIGN));
    assert_false(find_tie_matters(FIND_TIE_WIDE));
    assert_false(find_tie_matters(FIND_TIE_FUNCTION));
}

static void
test_tie_of_another_place_or_unit_is_not_sure(void **state)
{
    struct find_guess guess[40];
    struct find_block blocks[2] = {held(tenths), held(tenths)};
    (void)state;
    blocks[1].first = 9;
    size_t count = find_guesses(blocks, 2, guess, 40);
    assert_false(find_sure(guess, count));
    assert_int_equal(guess[0].reg, 0); /* the first of equals */
    assert_int_equal(find_tie(&guess[0], &guess[1]), FIND_TIE_COPY);
    blocks[1].first = 0;
    blocks[1].unit = 2;
    count = find_guesses(blocks, 2, guess, 40);
    assert_false(find_sure(guess, count));
    assert_int_equal(find_tie(&guess[0], &guess[1]), FIND_TIE_UNIT);
}

static void
test_number_below_zero_takes_a_sign(void **state)
{
    struct find_guess guess[40];
    struct find_block block = held(tenths);
    (void)state;
    for (int i = 6; i < ROUNDS; i++)
        block.word[FIND_ICE][i][0] = 0xfffe; /* -2 */
    const size_t count = find_guesses(&block, 1, guess, 40);
    assert_true(count >= 1);
    assert_int_equal(guess[0].type, REGISTER_INT16);
    assert_int_equal(guess[0].ice_mC, -200);
    for (size_t i = 0; i < count; i++)
        assert_int_not_equal(guess[i].type, REGISTER_UINT16);
}

static void
test_full_table_keeps_the_best(void **state)
{
    struct find_guess all[GUESSES_MAX], few[3];
    const struct find_block block = device(&layouts[0], 5);
    (void)state;
    const size_t count = find_guesses(&block, 1, all, GUESSES_MAX);
    assert_true(count > 1);
    assert_int_equal(find_guesses(&block, 1, few, 1), 1);
    assert_memory_equal(&few[0], &all[0], sizeof few[0]);
    assert_int_equal(find_guesses(&block, 1, few, 0), 0);
    for (size_t i = 1; i < count; i++)
        assert_true(all[i - 1].doubt <= all[i].doubt);
}

/* A value across the border of two blocks is found by the seam, one of its registers is not
 * found twice. */
static void
test_seam_gives_only_values_of_two_registers(void **state)
{
    static struct find_guess guess[GUESSES_MAX];
    const struct layout *layout = &layouts[11];
    struct find_block whole = device(layout, 3), seam = whole;
    (void)state;
    assert_true(layout->real && layout->wide && layout->reg == 4);
    seam.first = layout->reg;
    seam.count = 2;
    seam.seam = true;
    for (int phase = 0; phase < FIND_PHASES; phase++)
        for (int i = 0; i < ROUNDS; i++)
            memmove(seam.word[phase][i], &seam.word[phase][i][layout->reg],
                    2 * sizeof(uint16_t));
    assert_true(find_guesses(&seam, 1, guess, GUESSES_MAX) > 0);
    assert_int_equal(guess[0].type, REGISTER_FLOAT32);
    assert_int_equal(guess[0].reg, layout->reg);
    struct find_move move[4];
    assert_int_equal(find_moves(&seam, 1, move, 4), 0);
    seam = held(tenths);
    seam.seam = true;
    seam.count = 2;
    for (size_t i = find_guesses(&seam, 1, guess, GUESSES_MAX); i > 0; i--)
        assert_int_not_equal(guess[i - 1].type, REGISTER_INT16);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_guess_of_every_layout_reads_the_device_right),
        cmocka_unit_test(test_guess_of_what_is_no_temperature_is_none),
        cmocka_unit_test(test_guess_without_a_phase_is_none),
        cmocka_unit_test(test_moves_are_told_even_when_nothing_fits),
        cmocka_unit_test(test_tie_of_sign_word_and_function_does_not_matter),
        cmocka_unit_test(test_tie_of_another_place_or_unit_is_not_sure),
        cmocka_unit_test(test_number_below_zero_takes_a_sign),
        cmocka_unit_test(test_full_table_keeps_the_best),
        cmocka_unit_test(test_seam_gives_only_values_of_two_registers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
