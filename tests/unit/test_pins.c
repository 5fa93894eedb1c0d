/* PINs: hashed with libsodium, which itself verifies what stands in the file; waits after wrong
 * tries; a file that only its owner reads. */
#include "tests/support/check.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <sodium.h>

#include "daemon/control/pins.h"
#include "tests/support/temp_dir.h"

static struct temp_dir directory;
static struct pins pins;
static char why[600];

static int
set_up(void **state)
{
    (void)state;
    temp_dir_make(&directory);
    assert_true(pins_init(&pins, directory.path));
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    temp_dir_remove(&directory);
    return 0;
}

static char *
file_text(void)
{
    static char text[20000];
    FILE *file = fopen(pins.path, "rb");
    assert_non_null(file);
    size_t len = fread(text, 1, sizeof text - 1, file);
    text[len] = '\0';
    assert_int_equal(fclose(file), 0);
    return text;
}

/* As identity.c does it, once somebody may. */
static int
set(const char *who, const char *fresh)
{
    char hash[PIN_HASH_MAX];
    int code = pins_hash(fresh, hash, why, sizeof why);
    if (code == 200 && !pins_keep(&pins, who, hash, why, sizeof why))
        return 503;
    return code;
}

static void
test_a_pin_is_digits_and_takes_the_place_of_the_old_one(void **state)
{
    (void)state;
    bool known = true;
    assert_int_equal(pins_check(&pins, "JO", "1234", 0, why, sizeof why), 403);
    assert_non_null(strstr(why, "none is set"));
    assert_true(pins_known(&pins, "JO", &known, why, sizeof why));
    assert_false(known);
    static const char *const no_pins[] = {"", "123", "1234567890123", "12a4", " 1234"};
    for (size_t i = 0; i < COUNT_OF(no_pins); i++)
        assert_int_equal(set("JO", no_pins[i]), 400);
    assert_int_equal(set("JO", "1234"), 200);
    assert_int_equal(set("J", "777777"), 200);
    assert_true(pins_known(&pins, "JO", &known, why, sizeof why));
    assert_true(known);
    assert_int_equal(pins_check(&pins, "JO", "1234", 0, why, sizeof why), 200);
    assert_int_equal(pins_check(&pins, "J", "777777", 0, why, sizeof why), 200);
    assert_int_equal(pins_check(&pins, "JO", "1235", 0, why, sizeof why), 403);
    assert_int_equal(pins_check(&pins, "JO", "", 0, why, sizeof why), 401);
    assert_int_equal(set("JO", "9999"), 200);
    assert_int_equal(pins_check(&pins, "JO", "1234", 0, why, sizeof why), 403);
    assert_int_equal(pins_check(&pins, "JO", "9999", 0, why, sizeof why), 200);
    assert_int_equal(pins_check(&pins, "J", "777777", 0, why, sizeof why), 200); /* kept */
}

static void
test_the_file_holds_a_hash_for_its_owner_alone(void **state)
{
    (void)state;
    struct stat status;
    (void)umask(0);
    assert_int_equal(set("JO", "13571357"), 200);
    assert_int_equal(stat(pins.path, &status), 0);
    assert_int_equal(status.st_mode & 07777, 0600);
    char *text = file_text();
    assert_null(strstr(text, "13571357"));
    assert_int_equal(strncmp(text, "JO $argon2id$", 13), 0);
    text[strcspn(text, "\n")] = '\0';
    assert_int_equal(crypto_pwhash_str_verify(text + 3, "13571357", 8), 0);
}

static void
test_wrong_tries_make_one_person_wait(void **state)
{
    (void)state;
    assert_int_equal(set("JO", "1234"), 200);
    assert_int_equal(set("RS", "5678"), 200);
    for (int i = 0; i < 5; i++)
        assert_int_equal(pins_check(&pins, "JO", "0000", 1000, why, sizeof why), 403);
    /* The right one waits as well, to the millisecond; others do not. */
    assert_int_equal(pins_check(&pins, "JO", "1234", 60999, why, sizeof why), 429);
    assert_int_equal(pins_check(&pins, "RS", "5678", 1000, why, sizeof why), 200);
    assert_int_equal(pins_check(&pins, "JO", "0000", 61000, why, sizeof why), 403);
    assert_int_equal(pins_check(&pins, "JO", "1234", 61000 + 119999, why, sizeof why), 429);
    assert_non_null(strstr(why, "wait 1 s"));
    assert_int_equal(pins_check(&pins, "JO", "1234", 61000 + 120000, why, sizeof why), 200);
    /* The right one forgets the wrong ones. */
    assert_int_equal(pins_check(&pins, "JO", "0000", 200000, why, sizeof why), 403);
    assert_int_equal(pins_check(&pins, "JO", "1234", 200000, why, sizeof why), 200);
}

static void
test_a_file_that_cannot_be_read_refuses(void **state)
{
    (void)state;
    assert_int_equal(symlink("/etc/passwd", pins.path), 0); /* never followed */
    assert_int_equal(pins_check(&pins, "JO", "1234", 0, why, sizeof why), 503);
    assert_non_null(strstr(why, "cannot be read"));
    bool known = false;
    assert_false(pins_known(&pins, "JO", &known, why, sizeof why));
    assert_int_equal(set("JO", "1234"), 503);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_a_pin_is_digits_and_takes_the_place_of_the_old_one,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_the_file_holds_a_hash_for_its_owner_alone, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_wrong_tries_make_one_person_wait, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_a_file_that_cannot_be_read_refuses, set_up,
                                        tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
