/* Who may set whose PIN: the first of all, a later first one, a change; and that none is kept
 * whose record was not committed. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "daemon/control/identity.h"
#include "tests/support/temp_dir.h"

#define OWN_UID 996 /* the daemon's, no root */

static struct temp_dir directory;
static struct identity identity;
static struct plan plan;
static char why[600];

static int
set_up(void **state)
{
    static const char *const no_roles[] = {"supervisor", NULL};
    static const struct plan_person people[] = {
        {.initials = "AB", .name = "Ana Brandt", .role = ROLE_COOK},
        {.initials = "JO", .name = "Jun Okada", .role = ROLE_SUPERVISOR},
        {.initials = "LM", .name = "Luis Marchetti", .role = ROLE_SUPERVISOR},
        {.initials = "RS", .name = "Ruth Sandoval", .role = ROLE_VERIFIER},
    };
    (void)state;
    temp_dir_make(&directory);
    memset(&plan, 0, sizeof plan);
    plan.people = (struct plan_person *)(uintptr_t)people; /* nobody writes there */
    plan.person_count = COUNT_OF(people);
    memcpy(plan.duties.pins, no_roles, sizeof no_roles);
    assert_true(identity_init(&identity, directory.path, OWN_UID));
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    temp_dir_remove(&directory);
    return 0;
}

/* Asks for a PIN as `uid`, and keeps it as if its record was answered with `answered`. */
static int
ask(int64_t uid, int answered, const char *who, const char *old, const char *fresh,
    const char *by, const char *by_pin)
{
    static uint64_t ticket;
    struct request request = {.kind = REQUEST_PIN};
    struct entry_answer answer = {.code = answered};
    char hash[PIN_HASH_MAX];
    entry_clear(&request.entry, ENTRY_PIN);
    (void)snprintf(request.entry.who, sizeof request.entry.who, "%s", who);
    (void)snprintf(request.entry.by, sizeof request.entry.by, "%s", by);
    (void)snprintf(request.pin, sizeof request.pin, "%s", old);
    (void)snprintf(request.new_pin, sizeof request.new_pin, "%s", fresh);
    (void)snprintf(request.by_pin, sizeof request.by_pin, "%s", by_pin);
    int code = identity_check(&identity, &plan, &request, uid, 0, hash, why, sizeof why);
    if (code != 200)
        return code;
    assert_true(identity_wait(&identity, ++ticket, who, hash));
    identity_answered(&identity, ticket + 1000, &answer); /* another's */
    identity_answered(&identity, ticket, &answer);
    return answer.code;
}

static int
sign(const char *who, const char *pin)
{
    struct request request = {.kind = REQUEST_ENTRY};
    char unused[PIN_HASH_MAX];
    entry_clear(&request.entry, ENTRY_NOTE);
    (void)snprintf(request.entry.who, sizeof request.entry.who, "%s", who);
    (void)snprintf(request.pin, sizeof request.pin, "%s", pin);
    return identity_check(&identity, &plan, &request, 1000, 0, unused, why, sizeof why);
}

static void
test_the_first_of_all_is_set_by_the_administrator_alone(void **state)
{
    (void)state;
    assert_int_equal(ask(1000, 200, "JO", "", "1234", "", ""), 403);
    assert_non_null(strstr(why, "as root or as the user that trivetd runs as"));
    assert_int_equal(ask(-1, 200, "JO", "", "1234", "", ""), 403); /* nobody knows who */
    assert_int_equal(ask(1000, 200, "JO", "", "1234", "LM", "1234"), 403);
    assert_int_equal(ask(1000, 200, "JO", "", "1234", "JO", "1234"), 403);
    assert_int_equal(sign("JO", "1234"), 403); /* none is set */
    assert_int_equal(ask(OWN_UID, 200, "JO", "", "1234", "", ""), 200);
    assert_int_equal(sign("JO", "1234"), 200);
}

static void
test_root_may_set_the_first_and_a_cooks_does_not_count_as_one(void **state)
{
    (void)state;
    assert_int_equal(ask(0, 200, "AB", "", "5555", "", ""), 200);
    assert_int_equal(ask(1000, 200, "JO", "", "1234", "AB", "5555"), 403);
    assert_int_equal(ask(1000, 200, "JO", "", "1234", "", ""), 403);
    assert_int_equal(ask(0, 200, "JO", "", "1234", "", ""), 200);
}

static void
test_a_later_first_pin_is_set_beside_a_supervisor_who_has_one(void **state)
{
    (void)state;
    assert_int_equal(ask(0, 200, "JO", "", "1234", "", ""), 200);
    /* The administrator of the machine is no exception any more. */
    assert_int_equal(ask(0, 200, "RS", "", "5678", "", ""), 403);
    assert_non_null(strstr(why, "(JO)"));
    assert_non_null(strstr(why, "--by"));
    assert_int_equal(ask(1000, 200, "RS", "", "5678", "JO", ""), 401);
    assert_int_equal(ask(1000, 200, "RS", "", "5678", "JO", "1235"), 403);
    assert_int_equal(ask(1000, 200, "RS", "", "5678", "LM", "5678"), 403); /* has none */
    assert_int_equal(ask(1000, 200, "RS", "", "5678", "AB", "5678"), 403);
    assert_int_equal(ask(1000, 200, "RS", "", "5678", "RS", "5678"), 403);
    assert_int_equal(ask(1000, 200, "RS", "", "5678", "ZZ", "5678"), 403);
    assert_int_equal(ask(1000, 200, "RS", "", "56", "JO", "1234"), 400);
    bool known = true;
    assert_true(pins_known(&identity.pins, "RS", &known, why, sizeof why));
    assert_false(known);
    assert_int_equal(ask(1000, 200, "RS", "", "5678", "JO", "1234"), 200);
    assert_int_equal(pins_check(&identity.pins, "RS", "5678", 0, why, sizeof why), 200);
    /* A verifier with a PIN vouches for nobody. */
    assert_int_equal(ask(1000, 200, "LM", "", "9999", "RS", "5678"), 403);
}

static void
test_guessing_a_supervisors_pin_makes_wait(void **state)
{
    (void)state;
    assert_int_equal(ask(0, 200, "JO", "", "1234", "", ""), 200);
    for (int i = 0; i < PIN_TRIES; i++)
        assert_int_equal(ask(1000, 200, "RS", "", "5678", "JO", "0000"), 403);
    assert_int_equal(ask(1000, 200, "RS", "", "5678", "JO", "1234"), 429);
}

static void
test_a_pin_that_there_is_changes_with_the_old_one_alone(void **state)
{
    (void)state;
    assert_int_equal(ask(0, 200, "JO", "", "1234", "", ""), 200);
    assert_int_equal(ask(1000, 200, "AB", "", "4444", "JO", "1234"), 200);
    assert_int_equal(ask(0, 200, "AB", "", "9999", "", ""), 401);
    assert_int_equal(ask(1000, 200, "AB", "4445", "9999", "", ""), 403);
    assert_int_equal(ask(1000, 200, "AB", "", "9999", "JO", "1234"), 400);
    assert_int_equal(pins_check(&identity.pins, "AB", "4444", 0, why, sizeof why), 200);
    assert_int_equal(ask(1000, 200, "AB", "4444", "9999", "", ""), 200);
    assert_int_equal(pins_check(&identity.pins, "AB", "9999", 0, why, sizeof why), 200);
    assert_int_equal(ask(0, 200, "ZZ", "", "9999", "", ""), 404);
}

static void
test_a_pin_without_its_record_is_not_kept(void **state)
{
    (void)state;
    bool known = true;
    assert_int_equal(ask(0, 503, "JO", "", "1234", "", ""), 503);
    assert_true(pins_known(&identity.pins, "JO", &known, why, sizeof why));
    assert_false(known);
    for (size_t i = 0; i < CONTROL_CONNECTIONS_MAX; i++)
        assert_true(identity_wait(&identity, 5000 + i, "JO", "x"));
    assert_false(identity_wait(&identity, 6000, "JO", "x"));
}

static void
test_a_pin_that_cannot_be_kept_is_told(void **state)
{
    (void)state;
    struct entry_answer answer = {.code = 200};
    struct temp_dir elsewhere = directory;
    assert_true(identity_wait(&identity, 7, "JO", "x"));
    temp_dir_remove(&elsewhere);
    identity_answered(&identity, 7, &answer);
    assert_int_equal(answer.code, 503);
    assert_non_null(strstr(answer.say, "could not be kept in"));
    temp_dir_make(&directory);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_the_first_of_all_is_set_by_the_administrator_alone),
        TEST(test_root_may_set_the_first_and_a_cooks_does_not_count_as_one),
        TEST(test_a_later_first_pin_is_set_beside_a_supervisor_who_has_one),
        TEST(test_guessing_a_supervisors_pin_makes_wait),
        TEST(test_a_pin_that_there_is_changes_with_the_old_one_alone),
        TEST(test_a_pin_without_its_record_is_not_kept),
        TEST(test_a_pin_that_cannot_be_kept_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
