/* Who may say what in whose name. See identity.h.
 *
 * Whoever could set the first PIN of another could sign in that name ever after. So the first
 * of all PINs is a matter of the machine's administrator, and every later person's first one of
 * a supervisor who has one already. */
#include "daemon/control/identity.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

#include <sodium.h>

#include "trivet/log.h"

bool
identity_init(struct identity *identity, const char *directory, int64_t own_uid)
{
    memset(identity, 0, sizeof *identity);
    identity->own_uid = own_uid;
    return pins_init(&identity->pins, directory);
}

/* ---- a person's first PIN ---- */

/* Supervisors of the plan who have a PIN, in words; "" = none. 200, or 503 with why. */
static int
find_vouchers(struct identity *identity, const struct plan *plan, char *ret, size_t size,
              char *reterr, size_t err_size)
{
    size_t len = 0;
    ret[0] = '\0';
    for (size_t i = 0; i < plan->person_count; i++) {
        const struct plan_person *person = &plan->people[i];
        bool known = false;
        if (person->role != ROLE_SUPERVISOR)
            continue;
        if (!pins_known(&identity->pins, person->initials, &known, reterr, err_size))
            return 503;
        if (known && len + PLAN_INITIALS_MAX + 4 < size)
            len += (size_t)snprintf(ret + len, size - len, "%s%s", len == 0 ? "" : " or ",
                                    person->initials);
    }
    return 200;
}

static int
check_voucher(struct identity *identity, const struct plan *plan, const struct request *request,
              const char *vouchers, int64_t now_ms, char *reterr, size_t err_size)
{
    const char *who = request->entry.who, *by = request->entry.by;
    const struct plan_person *voucher = plan_person(plan, by);
    bool known = false;
    if (by[0] != '\0' && voucher != NULL && voucher->role == ROLE_SUPERVISOR &&
        !pins_known(&identity->pins, by, &known, reterr, err_size))
        return 503;
    if (!known) {
        (void)snprintf(reterr, err_size,
                       "the first PIN of %s is set beside a supervisor who has one (%.200s): "
                       "nothing was changed; `trivet pin %s --by INITIALS` asks for both",
                       who, vouchers, who);
        return 403;
    }
    return pins_check(&identity->pins, by, request->by_pin, now_ms, reterr, err_size);
}

static int
check_first(struct identity *identity, const struct plan *plan, const struct request *request,
            int64_t peer_uid, int64_t now_ms, char *reterr, size_t err_size)
{
    char vouchers[256];
    int code = find_vouchers(identity, plan, vouchers, sizeof vouchers, reterr, err_size);
    if (code != 200)
        return code;
    if (vouchers[0] != '\0')
        return check_voucher(identity, plan, request, vouchers, now_ms, reterr, err_size);
    if (request->entry.by[0] != '\0') {
        (void)snprintf(reterr, err_size,
                       "no supervisor has a PIN yet, so nobody can vouch with one: nothing was "
                       "changed; leave out --by");
        return 403;
    }
    if (peer_uid == 0 || (peer_uid >= 0 && peer_uid == identity->own_uid))
        return 200;
    (void)snprintf(reterr, err_size,
                   "no supervisor has a PIN yet, so the first is set by the administrator of "
                   "the machine: nothing was changed; run `trivet pin %s` as root or as the "
                   "user that trivetd runs as",
                   request->entry.who);
    return 403;
}

/* ---- new PINs ---- */

static int
check_new(struct identity *identity, const struct plan *plan, const struct request *request,
          int64_t peer_uid, int64_t now_ms, char ret_hash[PIN_HASH_MAX], char *reterr,
          size_t err_size)
{
    struct pins *pins = &identity->pins;
    const char *who = request->entry.who;
    bool known = false;
    int code = 200;
    if (!pins_known(pins, who, &known, reterr, err_size))
        return 503;
    if (known && request->entry.by[0] != '\0') {
        (void)snprintf(reterr, err_size,
                       "%s has a PIN, and changes it with that alone: nothing was changed; "
                       "leave out --by",
                       who);
        return 400;
    }
    if (known)
        code = pins_check(pins, who, request->pin, now_ms, reterr, err_size);
    else
        code = check_first(identity, plan, request, peer_uid, now_ms, reterr, err_size);
    return code == 200 ? pins_hash(request->new_pin, ret_hash, reterr, err_size) : code;
}

int
identity_check(struct identity *identity, const struct plan *plan,
               const struct request *request, int64_t peer_uid, int64_t now_ms,
               char ret_hash[PIN_HASH_MAX], char *reterr, size_t err_size)
{
    const struct plan_person *person =
        plan == NULL ? NULL : plan_person(plan, request->entry.who);
    int code = 200;
    if (request->kind == REQUEST_PIN && person == NULL) {
        (void)snprintf(reterr, err_size, "nobody with these initials is in the plan in force");
        return 404;
    }
    if (request->kind == REQUEST_PIN)
        code = check_new(identity, plan, request, peer_uid, now_ms, ret_hash, reterr, err_size);
    else if (person != NULL && plan_needs_pin(plan, person))
        code = pins_check(&identity->pins, person->initials, request->pin, now_ms, reterr,
                          err_size);
    if (code == 403 || code == 429)
        log_line(LOG_WARN, "control", "a PIN of %s was refused", person->initials);
    return code;
}

/* ---- while the record is on its way ---- */

bool
identity_wait(struct identity *identity, uint64_t ticket, const char *who, const char *hash)
{
    assert(ticket != 0);
    for (size_t i = 0; i < CONTROL_CONNECTIONS_MAX; i++) {
        struct identity_waiting *waiting = &identity->waiting[i];
        if (waiting->ticket != 0)
            continue;
        waiting->ticket = ticket;
        (void)snprintf(waiting->who, sizeof waiting->who, "%s", who);
        (void)snprintf(waiting->hash, sizeof waiting->hash, "%s", hash);
        return true;
    }
    return false;
}

void
identity_answered(struct identity *identity, uint64_t ticket, struct entry_answer *answer)
{
    for (size_t i = 0; i < CONTROL_CONNECTIONS_MAX; i++) {
        struct identity_waiting *waiting = &identity->waiting[i];
        if (waiting->ticket != ticket)
            continue;
        char why[sizeof answer->say];
        if (answer->code == 200 &&
            !pins_keep(&identity->pins, waiting->who, waiting->hash, why, sizeof why)) {
            log_line(LOG_ERROR, "control", "a PIN of %s is on record and was not kept",
                     waiting->who);
            answer->code = 503;
            (void)snprintf(answer->say, sizeof answer->say, "%s", why);
        }
        sodium_memzero(waiting, sizeof *waiting);
    }
}
