/* See plan_rig.h. */
#include "tests/support/plan_rig.h"

#include <string.h>

#include "tests/support/check.h"

#define FILE_NAME "/etc/trivet/plan.yaml"

static const char *
all_of(const struct plan_faults *faults)
{
    static char text[8000];
    plan_faults_text(faults, "plan", text, sizeof text);
    return text;
}

struct plan *
plan_rig_load(const char *text)
{
    static struct plan_faults faults;
    struct plan *plan = plan_load_text(FILE_NAME, text, strlen(text), &faults);
    if (plan == NULL)
        fail_msg("%s in\n%s", all_of(&faults), text);
    return plan;
}

static bool
says_what_to_do(const char *text)
{
    static const char *const words[] = {"write ",       "did you mean", "delete ",
                                        "name another", "look it up",   "choose "};
    for (size_t i = 0; i < COUNT_OF(words); i++)
        if (strstr(text, words[i]) != NULL)
            return true;
    return false;
}

void
plan_rig_must_tell(const struct plan_wrong *wrong)
{
    static struct plan_faults faults;
    struct plan *plan = plan_load_text(FILE_NAME, wrong->text, strlen(wrong->text), &faults);
    if (plan != NULL)
        fail_msg("accepted:\n%s", wrong->text);
    for (size_t i = 0; i < faults.count; i++)
        if (faults.fault[i].line == wrong->line &&
            (wrong->column == 0 || faults.fault[i].column == wrong->column) &&
            strstr(faults.fault[i].text, wrong->says) != NULL) {
            assert_int_equal(faults.count, 1);
            if (!says_what_to_do(faults.fault[i].text))
                fail_msg("does not say what to write: %s", faults.fault[i].text);
            return;
        }
    fail_msg("'%s' is not told at %d:%d but:\n%s", wrong->says, wrong->line, wrong->column,
             all_of(&faults));
}
