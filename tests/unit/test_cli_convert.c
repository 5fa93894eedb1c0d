/* `trivet convert` and `trivet boiling-point` as a person meets them: what is printed, and what
 * is refused with which words. Values: NIST SRD 60, IEC 60751, IAPWS R7-97, ISO 2533, as in
 * tests/unit/data/, and the examples of test_convert_*.c. */
#include "tests/unit/convert_check.h"

#include <assert.h>
#include <locale.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <jansson.h>

#include "daemon/cli/convert.h"
#include "tests/support/temp_dir.h"
#include "trivet/typed.h"

#define WORDS_MAX 8

struct outcome {
    int code;
    char out[4096], err[1024];
};

static int
redirect(FILE *file, int to_fd)
{
    fflush(NULL);
    int saved = dup(to_fd);
    assert_true(saved >= 0 && dup2(fileno(file), to_fd) == to_fd);
    return saved;
}

static void
restore(FILE *file, int saved, int to_fd, char *ret_text, size_t size)
{
    assert_true(dup2(saved, to_fd) == to_fd);
    close(saved);
    rewind(file);
    size_t len = fread(ret_text, 1, size - 1, file);
    ret_text[len] = '\0';
    fclose(file);
}

/* Runs a subcommand on words separated by '|'. */
static struct outcome
run(int (*command)(int, char **), const char *words)
{
    struct outcome outcome;
    char line[512], *argv[WORDS_MAX + 2] = {NULL};
    static char name[] = "subcommand";
    int argc = 0;
    argv[argc++] = name;
    assert_true((size_t)snprintf(line, sizeof(line), "%s", words) < sizeof(line));
    for (char *at = line; at != NULL && words[0] != '\0' && argc <= WORDS_MAX;) {
        char *bar = strchr(at, '|');
        if (bar != NULL)
            *bar++ = '\0';
        argv[argc++] = at;
        at = bar;
    }
    FILE *out = tmpfile(), *err = tmpfile();
    assert_non_null(out);
    assert_non_null(err);
    int saved_out = redirect(out, STDOUT_FILENO), saved_err = redirect(err, STDERR_FILENO);
    outcome.code = command(argc, argv);
    fflush(NULL);
    restore(out, saved_out, STDOUT_FILENO, outcome.out, sizeof(outcome.out));
    restore(err, saved_err, STDERR_FILENO, outcome.err, sizeof(outcome.err));
    return outcome;
}

static void
check_says(int (*command)(int, char **), const char *words, const char *first_line)
{
    struct outcome got = run(command, words);
    if (got.code != 0 || strncmp(got.out, first_line, strlen(first_line)) != 0 ||
        got.out[strlen(first_line)] != '\n' || got.err[0] != '\0')
        fail_msg("'%s' wanted '%s', exit %d, said '%s' and '%s'", words, first_line, got.code,
                 got.out, got.err);
}

/* A refusal: exit 2, nothing on stdout, one line on stderr that holds the wanted words. */
static void
check_refused(int (*command)(int, char **), const char *words, const char *wanted)
{
    struct outcome got = run(command, words);
    char *newline = strchr(got.err, '\n');
    if (got.code != 2 || got.out[0] != '\0' || strstr(got.err, wanted) == NULL ||
        newline == NULL || newline[1] != '\0')
        fail_msg("'%s' wanted refusal '%s', exit %d, said '%s' and '%s'", words, wanted,
                 got.code, got.out, got.err);
}

static void
test_convert_voltage_prints_temperature(void **state)
{
    (void)state;
    check_says(cli_convert, "tc-k|4.096mV",
               "99.9944 degC"); /* 4.096 and 4.138: 0.0414 mV a degree */
    check_says(cli_convert, "tc-k|2.119410mV|--cold-junction|23.5", "75.0000 degC");
    check_says(cli_convert, "tc-t|-1.613899mV|--cold-junction|23.5C", "-18.0000 degC");
    check_says(cli_convert, "--cold-junction=30|tc-j|4.883899mV", "121.1000 degC");
    check_says(cli_convert, "tc-k|0mV", "0.0000 degC");
    check_says(cli_convert, "tc-k|-6.458mV",
               "-270.0000 degC"); /* as the table prints the end */
    check_says(cli_convert, "TC-E|68.786591mV", "900.0000 degC");
    check_says(cli_convert, "tc-n|47.512772mV", "1300.0000 degC");
}

static void
test_convert_temperature_prints_output(void **state)
{
    (void)state;
    check_says(cli_convert, "tc-k|100C", "4.096230 mV"); /* NIST reference function */
    check_says(cli_convert, "tc-k|75C|--cold-junction|23.5", "2.119410 mV");
    check_says(cli_convert, "pt100|100degC", "138.5055 ohm");
    check_says(cli_convert, "pt1000|100\u00b0C", "1385.0550 ohm");
    check_says(cli_convert, "pt100|-200C", "18.5201 ohm");
    check_says(cli_convert, "rtd:500ohm|0C", "500.0000 ohm");
    check_says(cli_convert, "ntc-beta:10kohm@25C,3950|25C", "10000.0000 ohm");
    check_says(cli_convert, "ntc-beta:10kohm@25C,3950|-50C",
               "858612.8245 ohm"); /* 858612.824502, in 40-digit decimals */
}

static void
test_convert_resistance_prints_temperature(void **state)
{
    (void)state;
    check_says(cli_convert, "pt100|138.5055ohm", "100.0000 degC");
    check_says(cli_convert, "pt1000|1kohm", "0.0000 degC");
    check_says(cli_convert, "ntc-sh:1.129148e-3,2.34125e-4,8.76741e-8|2000ohm", "66.1540 degC");
    check_says(cli_convert, "ntc-3pt:25kohm@5C,10kohm@25C,4kohm@45C|5312ohm", "38.8247 degC");
    check_says(cli_convert, "ntc-3pt:4kohm@45C,25kohm@5C,10kohm@25C|5312ohm", "38.8247 degC");
    check_says(cli_convert, "ntc-beta:10k@25\u00b0C,3977K|10000R", "25.0000 degC");
}

static void
test_convert_unit_spellings_taken(void **state)
{
    (void)state;
    static const char *const volts[] = {"4.096230mV",      "4096.230uV",
                                        "4096.230\u00b5V", "4096.230\u03bcV",
                                        "0.004096230V",    "4.096230 mV",
                                        "+4.096230mV",     "4096230e-6mV",
                                        "4.096230mv",      "04.0962300000000000000000001mV"};
    static const char *const ohms[] = {"0.1385055kohm",   "138.5055\u03a9",   "138.5055\u2126",
                                       "138.5055Ohm",     "0.1385055k\u03a9", "138.5055 ohms",
                                       "0.0001385055Mohm"};
    char words[96];
    for (size_t i = 0; i < COUNT(volts); i++) {
        snprintf(words, sizeof(words), "tc-k|%s", volts[i]);
        check_says(cli_convert, words, "100.0000 degC");
    }
    for (size_t i = 0; i < COUNT(ohms); i++) {
        snprintf(words, sizeof(words), "pt100|%s", ohms[i]);
        check_says(cli_convert, words, "100.0000 degC");
    }
}

static void
test_convert_numbers_not_decimal_refused(void **state)
{
    (void)state;
    check_refused(cli_convert, "tc-k|4,096mV", "write a point, not a comma: 4.096mV");
    check_refused(cli_convert, "tc-k|-,5mV", "write a point, not a comma: -.5mV");
    check_refused(cli_convert, "tc-k|1,234.5uV", "nothing between thousands");
    check_refused(cli_convert, "tc-k|0x10mV", "VALUE '0x10mV'");
    check_refused(cli_convert, "tc-k|infmV", "is not a number");
    check_refused(cli_convert, "tc-k|nanmV", "is not a number");
    check_refused(cli_convert, "tc-k|-infinityC", "no option");
    check_refused(cli_convert, "tc-k|mV", "is not a number");
    check_refused(cli_convert, "tc-k|", "is empty");
    check_refused(cli_convert, "tc-k|.mV", "is not a number");
    check_refused(cli_convert, "tc-k|1.2.3mV", "two points");
    check_refused(cli_convert, "tc-k|1e400mV", "far too large");
    check_refused(cli_convert, "tc-k|1e99999999999999999999mV", "far too large");
    check_refused(cli_convert, "tc-k|4.096mVx", "'mVx', which is no unit known here");
    check_refused(cli_convert, "tc-k|4.096mV ", "no unit known here");
    check_refused(
        cli_convert,
        "tc-k|1234567890123456789012345678901234567890123456789012345678901234567890mV",
        "too long");
    check_refused(cli_convert, "tc-k|1\x1b[31mmV",
                  "'1?[31mmV'"); /* nothing reaches the terminal */
    check_refused(cli_convert, "tc-k|1\xff\xc2\x9bmV", "'1???mV'");
}

static void
test_convert_units_wrong_refused_with_right_one(void **state)
{
    (void)state;
    check_refused(cli_convert, "tc-k|4.096", "write 4.096mV for the probe's side, or 4.096C");
    check_refused(cli_convert, "pt100|100", "write 100ohm for the probe's side, or 100C");
    check_refused(cli_convert, "tc-k|4.096ohm", "a type K thermocouple gives mV");
    check_refused(cli_convert, "pt100|4.096mV", "a Pt100 gives ohm");
    check_refused(cli_convert, "tc-k|212F", "write degrees Celsius, 100.0000C");
    check_refused(cli_convert, "tc-k|1e300\u00b0F", "write degrees Celsius");
    check_refused(cli_convert, "tc-k|4.096MV", "for millivolts write mV");
    check_refused(cli_convert, "tc-k|4.096|mV", "'mV' is one word too many");
}

static void
test_convert_out_of_range_refused_with_range(void **state)
{
    (void)state;
    check_refused(cli_convert, "tc-k|80mV",
                  "too high for a type K thermocouple: it gives -6.458 to 54.886 mV");
    check_refused(cli_convert, "tc-k|54.887mV", "too high");
    check_refused(cli_convert, "tc-k|54mV|--cold-junction|25", "it gives -7.458 to 53.886 mV");
    check_refused(cli_convert, "tc-t|-6.259mV", "too low");
    check_refused(cli_convert, "tc-j|-210.1C",
                  "too cold for a type J thermocouple: it is defined from -210 to 1200");
    check_refused(cli_convert, "tc-j|1200.1C", "too warm");
    check_refused(cli_convert, "tc-k|1mV|--cold-junction|-300",
                  "--cold-junction is outside the range");
    check_refused(cli_convert, "pt100|500ohm", "it gives 18.520 to 390.481 ohm");
    check_refused(cli_convert, "pt100|-200.5C", "too cold for a Pt100");
    check_refused(cli_convert, "ntc-beta:10k@25C,3950|0ohm", "short circuit");
    check_refused(cli_convert, "ntc-beta:10k@25C,3950|200Mohm", "broken wire");
    check_refused(cli_convert, "ntc-beta:10k@25C,3950|301C", "too warm");
}

static void
test_convert_cold_junction_wrong_refused(void **state)
{
    (void)state;
    check_refused(cli_convert, "pt100|100ohm|--cold-junction|20",
                  "a Pt100 has no cold junction");
    check_refused(cli_convert, "tc-k|1mV|--cold-junction", "needs a temperature after it");
    check_refused(cli_convert, "tc-k|1mV|--cold-junction|23,5",
                  "write a point, not a comma: 23.5");
    check_refused(cli_convert, "tc-k|1mV|--cold-junction|1mV", "is no temperature");
    check_refused(cli_convert, "tc-k|1mV|--cold-junction|warm", "'warm' is not a number");
}

static void
test_convert_kind_wrong_refused_naming_part(void **state)
{
    (void)state;
    check_refused(cli_convert, "tc-q|1mV", "KIND 'tc-q': no sensor of that name: write tc-k");
    check_refused(cli_convert, "|1mV", "no sensor of that name");
    check_refused(cli_convert, "rtd:|1ohm", "nominal resistance '' is empty");
    check_refused(cli_convert, "rtd:0ohm|1ohm", "1 ohm to 1 Mohm");
    check_refused(cli_convert, "rtd:100|1ohm", "nominal resistance '100' has no unit");
    check_refused(cli_convert, "ntc-beta:10,5kohm@25C,3950|1kohm", "there are 3 parts");
    check_refused(cli_convert, "ntc-beta:10kohm,3950|1kohm", "write resistance@temperature");
    check_refused(cli_convert, "ntc-beta:10kohm@25,3950|1kohm", "temperature '25' has no unit");
    check_refused(cli_convert, "ntc-beta:10mV@25C,3950|1kohm",
                  "resistance '10mV' has the wrong unit");
    check_refused(cli_convert, "ntc-beta:10kohm@25C,-3950|1kohm", "describe no NTC thermistor");
    check_refused(cli_convert, "ntc-beta:10kohm@25C,39x|1kohm", "beta '39x' ends in 'x'");
    check_refused(cli_convert, "ntc-sh:1e-3,2e-4|1kohm", "there are 2 parts");
    check_refused(cli_convert, "ntc-sh:1e-3,,1e-7|1kohm", "coefficient B '' is empty");
    check_refused(cli_convert, "ntc-sh:1e-3,-2e-4,1e-7|1kohm", "describe no NTC thermistor");
    check_refused(cli_convert, "ntc-3pt:1k@25C,1k@25C,2k@5C|1kohm",
                  "three different temperatures");
    check_refused(cli_convert, "ntc-3pt:1k@25C,2k@5C|1kohm", "there are 2 parts");
    check_refused(cli_convert, "ntc-3pt:1k@25C,2k@5C,3k@-1C,4k@-9C|1kohm", "there are 4 parts");
    char long_kind[300] = "ntc-sh:";
    memset(long_kind + 7, '1', sizeof(long_kind) - 8);
    check_refused(cli_convert, long_kind, "the value is missing");
    memcpy(long_kind + 290, "|1kohm", 7);
    check_refused(cli_convert, long_kind, "too long for a sensor");
}

static void
test_convert_usage_wrong_refused(void **state)
{
    (void)state;
    check_refused(cli_convert, "", "trivet convert tc-k 4.096mV");
    check_refused(cli_convert, "tc-k", "the value is missing");
    check_refused(cli_convert, "--frob", "no option '--frob'");
    check_refused(cli_convert, "tc-k|1mV|-x", "no option '-x'");
}

static json_t *
json_of(int (*command)(int, char **), const char *words)
{
    struct outcome got = run(command, words);
    assert_int_equal(got.code, 0);
    json_error_t error;
    json_t *root = json_loads(got.out, JSON_REJECT_DUPLICATES, &error);
    if (root == NULL)
        fail_msg("'%s' is no JSON: %s", got.out, error.text);
    return root;
}

static void
check_number(const json_t *object, const char *key, double wanted, double tolerance)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    assert_near(json_number_value(value), wanted, tolerance);
}

static void
test_convert_json_holds_both_sides(void **state)
{
    (void)state;
    json_t *root = json_of(cli_convert, "tc-k|2.119410mV|--cold-junction|23.5|--json");
    assert_string_equal(json_string_value(json_object_get(root, "kind")), "tc-k");
    assert_string_equal(json_string_value(json_object_get(root, "result")), "temp_C");
    check_number(root, "temp_C", 75.0, 1e-9);
    check_number(root, "measured_mV", 2.11941, 1e-9);
    check_number(root, "cold_junction_C", 23.5, 1e-9);
    json_decref(root);

    root = json_of(cli_convert, "--json|pt100|100C");
    assert_string_equal(json_string_value(json_object_get(root, "result")), "resistance_ohm");
    check_number(root, "resistance_ohm", 138.5055, 1e-9);
    assert_null(json_object_get(root, "cold_junction_C"));
    const json_t *tolerance = json_object_get(root, "wire_tolerance_C");
    check_number(tolerance, "A", 0.35, 1e-9);
    check_number(tolerance, "B", 0.8, 1e-9);
    json_decref(root);

    root = json_of(cli_convert, "pt100|500C|--json"); /* beyond classes AA and A */
    tolerance = json_object_get(root, "wire_tolerance_C");
    assert_null(json_object_get(tolerance, "A"));
    check_number(tolerance, "B", 2.8, 1e-9);
    json_decref(root);

    root = json_of(cli_convert, "ntc-sh:1.129148e-3,2.34125e-4,8.76741e-8|10k\u03a9|--json");
    check_number(root, "temp_C", 24.9997, 1e-9);
    json_decref(root);
}

static void
test_convert_text_names_sensor_and_assumption(void **state)
{
    (void)state;
    struct outcome got = run(cli_convert, "tc-k|4.096mV");
    assert_non_null(strstr(got.out, "type K thermocouple giving 4.096000 mV"));
    assert_non_null(strstr(got.out, "--cold-junction not given"));
    got = run(cli_convert, "tc-k|4.096mV|--cold-junction|0");
    assert_null(strstr(got.out, "not given"));
    got = run(cli_convert, "pt100|100C");
    assert_non_null(strstr(got.out, "A 0.35, B 0.80"));
    got = run(cli_convert, "pt100|700C"); /* no class holds */
    assert_null(strstr(got.out, "may be off"));
}

static void
test_boiling_pressure_prints_temperature(void **state)
{
    (void)state;
    check_says(cli_boiling_point, "--pressure-kpa|101.325", "99.9743 degC");
    check_says(cli_boiling_point, "--pressure-kpa=100", "99.6059 degC");
    check_says(cli_boiling_point, "--pressure-kpa|1013.25hPa", "99.9743 degC");
    check_says(cli_boiling_point, "--pressure-kpa|1.01325bar", "99.9743 degC");
    check_says(cli_boiling_point, "--pressure-kpa|0.611213", "0.0000 degC");
    struct outcome got = run(cli_boiling_point, "--pressure-kpa|101.325");
    assert_non_null(strstr(got.out, "not a weather report's"));
    got = run(cli_boiling_point, "--pressure-kpa|1013");
    assert_non_null(strstr(got.out, "write 1013hPa"));
}

static void
test_boiling_altitude_prints_temperature_and_caution(void **state)
{
    (void)state;
    check_says(cli_boiling_point, "--altitude-m|0", "99.9743 degC");
    check_says(cli_boiling_point, "--altitude-m|1000",
               "96.6493 degC"); /* ISO 2533: 89.8763 kPa */
    check_says(cli_boiling_point, "--altitude-m=3000m", "89.9770 degC");
    struct outcome got = run(cli_boiling_point, "--altitude-m|0");
    assert_non_null(strstr(got.out, "about 3 kPa, and that moves it by about 0.8 degC"));
    got = run(cli_boiling_point, "--altitude-m|-400");
    assert_int_equal(got.code, 0);
}

static void
test_boiling_json_holds_pressure_and_uncertainty(void **state)
{
    (void)state;
    json_t *root = json_of(cli_boiling_point, "--altitude-m|1000|--json");
    check_number(root, "altitude_m", 1000.0, 1e-9);
    check_number(root, "pressure_kPa", 89.8763, 1e-9);
    check_number(root, "boiling_C", 96.6493, 1e-9);
    check_number(root, "weather_C", 0.9, 0.05);
    json_decref(root);
    root = json_of(cli_boiling_point, "--json|--pressure-kpa|101.325");
    check_number(root, "boiling_C", 99.9743, 1e-9);
    assert_null(json_object_get(root, "weather_C"));
    json_decref(root);
}

static void
test_boiling_usage_wrong_refused(void **state)
{
    (void)state;
    check_refused(cli_boiling_point, "", "give one of the two");
    check_refused(cli_boiling_point, "--altitude-m|1|--pressure-kpa|100",
                  "only one of the two");
    check_refused(cli_boiling_point, "--altitude-m", "--altitude-m needs a number after it");
    check_refused(cli_boiling_point, "--altitude-m|1|--altitude-m|2", "comes twice");
    check_refused(cli_boiling_point, "--altitude-mm|1", "'--altitude-mm' is not understood");
    check_refused(cli_boiling_point, "650", "'650' is not understood");
    check_refused(cli_boiling_point, "--altitude-m|650ft", "write metres");
    check_refused(cli_boiling_point, "--altitude-m|650kPa", "wrong unit: write metres");
    check_refused(cli_boiling_point, "--pressure-kpa|650m", "wrong unit: write kPa");
    check_refused(cli_boiling_point, "--pressure-kpa|101,3",
                  "write a point, not a comma: 101.3");
    check_refused(cli_boiling_point, "--pressure-kpa|nan", "is not a number");
    check_refused(cli_boiling_point, "--pressure-kpa|0", "too low for boiling water");
    check_refused(cli_boiling_point, "--pressure-kpa|-5", "too low for boiling water");
    check_refused(cli_boiling_point, "--pressure-kpa|22065", "too high for boiling water");
    check_refused(cli_boiling_point, "--altitude-m|11020", "too high");
    check_refused(cli_boiling_point, "--altitude-m|-5000", "too low");
}

static void
test_help_names_every_kind_and_option(void **state)
{
    (void)state;
    static const char *const words[] = {
        "tc-k tc-t tc-j tc-e tc-n", "pt100 pt1000", "rtd:", "ntc-beta:", "ntc-sh:", "ntc-3pt:",
        "--cold-junction",          "--json"};
    struct outcome got = run(cli_convert, "--help");
    assert_int_equal(got.code, 0);
    for (size_t i = 0; i < COUNT(words); i++)
        assert_non_null(strstr(got.out, words[i]));
    got = run(cli_boiling_point, "-h");
    assert_int_equal(got.code, 0);
    assert_non_null(strstr(got.out, "--altitude-m") != NULL ? strstr(got.out, "--pressure-kpa")
                                                            : NULL);
}

/* A locale with a decimal comma, made for the test (Debian: locales): nothing read or printed
 * may change. */
static void
test_locale_with_comma_changes_nothing(void **state)
{
    (void)state;
    struct temp_dir dir;
    char make[400];
    temp_dir_make(&dir);
    (void)snprintf(make, sizeof make, "localedef -i de_DE -f UTF-8 %s/de_DE.UTF-8", dir.path);
    assert_int_equal(system(make), 0);
    assert_int_equal(setenv("LOCPATH", dir.path, 1), 0);
    assert_non_null(setlocale(LC_ALL, "de_DE.UTF-8"));
    assert_string_equal(localeconv()->decimal_point, ",");
    check_says(cli_convert, "tc-k|4.096mV", "99.9944 degC");
    check_refused(cli_convert, "tc-k|4,096mV", "write a point, not a comma");
    assert_non_null(setlocale(LC_ALL, "C"));
    assert_int_equal(unsetenv("LOCPATH"), 0);
    temp_dir_remove(&dir);
}

static void
test_stdout_full_tells_and_fails(void **state)
{
    (void)state;
    FILE *full = fopen("/dev/full", "w");
    assert_non_null(full);
    char word[] = "convert", kind[] = "tc-k", value[] = "1mV",
         *argv[] = {word, kind, value, NULL};
    FILE *err = tmpfile();
    assert_non_null(err);
    char text[1024];
    int saved_out = redirect(full, STDOUT_FILENO), saved_err = redirect(err, STDERR_FILENO);
    int code = cli_convert(3, argv);
    clearerr(stdout);
    assert_true(dup2(saved_out, STDOUT_FILENO) == STDOUT_FILENO);
    close(saved_out);
    fclose(full);
    restore(err, saved_err, STDERR_FILENO, text, sizeof(text));
    assert_int_equal(code, 1);
    assert_non_null(strstr(text, "could not be written"));
}

/* What a terminal must not get: the Unicode Standard 15, sections 3.9 (well-formed UTF-8), 23.7
 * (noncharacters) and UAX #9 (marks that change direction). Found by tests/fuzz/fuzz_convert.c.
 */
static void
test_shown_text_is_clean_whatever_was_typed(void **state)
{
    static const struct {
        const char *typed, *shown;
    } cases[] = {
        {"4.1 \xc2\xb5V", "4.1 \xc2\xb5V"},
        {"\xe2\x84\xa6", "\xe2\x84\xa6"},
        {"\xed\xa5\xa5", "???"} /* surrogate */,
        {"\xe0\x80\xaf", "???"} /* overlong */,
        {"\xd8\x9c", "??"} /* Arabic mark */,
        {"\xe2\x80\xae", "???"} /* override */,
        {"\xef\xb7\x90", "???"} /* no character */,
        {"\xe2\x84", "??"} /* cut off */,
        {"a\x1b[31m", "a?[31m"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++) {
        char buf[40];
        assert_string_equal(typed_shown(buf, sizeof(buf), cases[i].typed), cases[i].shown);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_convert_voltage_prints_temperature),
        cmocka_unit_test(test_convert_temperature_prints_output),
        cmocka_unit_test(test_convert_resistance_prints_temperature),
        cmocka_unit_test(test_convert_unit_spellings_taken),
        cmocka_unit_test(test_convert_numbers_not_decimal_refused),
        cmocka_unit_test(test_convert_units_wrong_refused_with_right_one),
        cmocka_unit_test(test_convert_out_of_range_refused_with_range),
        cmocka_unit_test(test_convert_cold_junction_wrong_refused),
        cmocka_unit_test(test_convert_kind_wrong_refused_naming_part),
        cmocka_unit_test(test_convert_usage_wrong_refused),
        cmocka_unit_test(test_convert_json_holds_both_sides),
        cmocka_unit_test(test_convert_text_names_sensor_and_assumption),
        cmocka_unit_test(test_boiling_pressure_prints_temperature),
        cmocka_unit_test(test_boiling_altitude_prints_temperature_and_caution),
        cmocka_unit_test(test_boiling_json_holds_pressure_and_uncertainty),
        cmocka_unit_test(test_boiling_usage_wrong_refused),
        cmocka_unit_test(test_help_names_every_kind_and_option),
        cmocka_unit_test(test_locale_with_comma_changes_nothing),
        cmocka_unit_test(test_stdout_full_tells_and_fails),
        cmocka_unit_test(test_shown_text_is_clean_whatever_was_typed),
    };
    return cmocka_run_group_tests_name("cli convert", tests, NULL, NULL);
}
