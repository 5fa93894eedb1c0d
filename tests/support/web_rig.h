/* A web server over real sockets before the sample kitchen and a store with a morning in it,
 * for tests. */
#ifndef SUPPORT_WEB_RIG_H
#define SUPPORT_WEB_RIG_H

#include "tests/support/check.h"

#include "tests/support/http_client.h"
#include "tests/support/sample_kitchen.h"
#include "trivet/store.h"
#include "trivet/web.h"

struct web_rig {
    struct sample_kitchen kitchen;
    struct board *board;
    struct web *web;
    uint16_t port;
    uint64_t version;
    char directory[64];
};

int web_rig_set_up(void **state); /* cmocka's; *state is the rig, started */
int web_rig_tear_down(void **state);

/* What the clock shows from now on; two seconds after the sample's instant at first. */
void web_rig_set_now(int64_t at_ms);
void web_rig_publish(struct web_rig *f, struct snapshot *snapshot); /* given */
void web_rig_status(struct web_rig *f, const char *target, int status);
void web_rig_contains(const struct http_reply *reply, const char *text);

#define WEB_TEST(name) cmocka_unit_test_setup_teardown(name, web_rig_set_up, web_rig_tear_down)

#endif
