/* The verbs that record something, as a table. See enter.h. */
#include <string.h>

#include "daemon/cli/enter.h"

#define WHO                                                                                    \
    {                                                                                          \
        "who", 'w', ENTER_WHO, ENTER_NEEDED, "Who are you?", "your initials", NULL, NULL       \
    }
#define BATCH                                                                                  \
    {                                                                                          \
        "batch", 'b', ENTER_BATCH, ENTER_NEEDED, "Which batch?", "its number", NULL, NULL      \
    }

static const struct enter_verb verbs[] = {
    {.name = "begin",
     .kind = ENTRY_BEGIN,
     .does = "begin a batch of a product",
     .example = "trivet begin pork-loin --probes core-1 --mass 2.4kg --who AB",
     .positional = 1,
     .fields =
         {
             {"product", 'p', ENTER_PRODUCT, ENTER_NEEDED, "Which product?", "its id or name",
              NULL, NULL},
             {"probes", 'P', ENTER_PROBES, ENTER_OFFERED, "Which probes are in it?",
              "ids, with commas between them", NULL, NULL},
             {"mass", 'm', ENTER_MASS, ENTER_OFFERED, "How heavy is it? (2.4kg, 800g)",
              "weight with its unit: 2.4kg, 800g, 5lb", NULL, NULL},
             {"thickness", 't', ENTER_LENGTH, ENTER_OFFERED,
              "How thick at its thickest? (60mm)", "with its unit: 60mm, 6cm, 2.5in", NULL,
              NULL},
             WHO,
             {"step", 's', ENTER_STEP, ENTER_SILENT, "Which step does it begin with?",
              "id of the step it begins with, if not its first", NULL, NULL},
             {"place", 'l', ENTER_PLACE, ENTER_SILENT, "Where is it?", "id of the place", NULL,
              NULL},
             {"made", 'M', ENTER_LINE, ENTER_SILENT, "On which day was it made?",
              "of dated food, if not today: 2026-03-01", NULL, NULL},
             {"until", 'U', ENTER_LINE, ENTER_SILENT, "Until which day, by its maker?",
              "of dated food: its maker's own last day", NULL, NULL},
             {"text", 'n', ENTER_TEXT, ENTER_SILENT, "A note?", "a note to go with it", NULL,
              NULL},
         }},
    {.name = "next",
     .kind = ENTRY_MOVE,
     .does = "move a batch to its next step",
     .example = "trivet next 4 --who AB",
     .positional = 2,
     .fields =
         {
             BATCH,
             {"step", 's', ENTER_STEP, ENTER_OFFERED, "Which step comes now?",
              "id of the step, if not the following one", NULL, NULL},
             WHO,
             {"place", 'l', ENTER_PLACE, ENTER_SILENT, "Where is it now?", "id of the place",
              NULL, NULL},
             {"probes", 'P', ENTER_PROBES, ENTER_SILENT, "Which probes are in it now?",
              "ids of the probes in it from now on, with commas", NULL, NULL},
         }},
    {.name = "end",
     .kind = ENTRY_END,
     .does = "end a batch: served, stored or discarded",
     .example = "trivet end 4 stored --place walk-in --who AB",
     .positional = 2,
     .fields =
         {
             BATCH,
             {"outcome", 'o', ENTER_OUTCOME, ENTER_NEEDED, "What became of it?",
              "served, stored or discarded", NULL, NULL},
             {"place", 'l', ENTER_PLACE, ENTER_OFFERED, "Stored where?", "id of the place",
              "outcome", "stored"},
             {"text", 'n', ENTER_TEXT, ENTER_OFFERED, "Why is it discarded?",
              "why it was discarded, or a note", "outcome", "discarded"},
             WHO,
         }},
    {.name = "take",
     .kind = ENTRY_HAND,
     .does = "record a reading taken with a hand-held thermometer",
     .example = "trivet take 63.4C --thermometer red-pen --batch 4 --who AB",
     .positional = 1,
     .fields =
         {
             {"temp", 'T', ENTER_TEMP, ENTER_NEEDED, "What does it read? (63.4C or 145F)",
              "temperature with its unit: 63.4C or 145F", NULL, NULL},
             {"thermometer", 't', ENTER_THERMOMETER, ENTER_NEEDED, "Which thermometer?",
              "id of the thermometer", NULL, NULL},
             {"batch", 'b', ENTER_BATCH, ENTER_OFFERED, "Of which batch? (Enter: of a place)",
              "number of the batch it was taken of", "place", ""},
             {"place", 'l', ENTER_PLACE, ENTER_NEEDED, "Of which place?",
              "id of the place it was taken of, unless --batch", "batch", ""},
             {"side", 's', ENTER_LINE, ENTER_SILENT, "Which side?",
              "of a surface: top or bottom", NULL, NULL},
             WHO,
         }},
    {.name = "cooked",
     .kind = ENTRY_COOKED,
     .does = "say when cooking ended, or food left its temperature control",
     .example = "trivet cooked 4 --at \"10 min ago\" --who AB",
     .positional = 2,
     .fields =
         {
             BATCH,
             {"at", 'a', ENTER_WHEN, ENTER_NEEDED,
              "When did cooking end? (14:05 or 10 min ago)",
              "14:05, \"10 min ago\", \"yesterday 22:30\"", NULL, NULL},
             WHO,
         }},
    {.name = "note",
     .kind = ENTRY_NOTE,
     .does = "write a note into the record",
     .example = "trivet note \"second tray, oven door was open\" --batch 4 --who AB",
     .positional = 1,
     .fields =
         {
             {"text", 'n', ENTER_TEXT, ENTER_NEEDED, "What should be noted?", "the note", NULL,
              NULL},
             WHO,
             {"batch", 'b', ENTER_BATCH, ENTER_SILENT, "About which batch?",
              "number of the batch", NULL, NULL},
             {"place", 'l', ENTER_PLACE, ENTER_SILENT, "About which place?", "id of the place",
              NULL, NULL},
         }},
    {.name = "correct",
     .kind = ENTRY_CORRECT,
     .does = "correct an earlier entry; the old one stays on record",
     .example = "trivet correct 812 --temp 64.3C --reason \"misread the dial\" --who AB",
     .positional = 1,
     .fields =
         {
             {"record", 'r', ENTER_NUMBER, ENTER_NEEDED,
              "Which record? (the number shown when it was recorded)", "number of the record",
              NULL, NULL},
             {"temp", 'T', ENTER_TEMP, ENTER_OFFERED,
              "What temperature should it read? (63.4C or 145F)",
              "the temperature as it should read", "text", ""},
             {"text", 'n', ENTER_TEXT, ENTER_NEEDED, "What should its text read?",
              "the text as it should read, unless --temp, --at or --withdraw", "temp", ""},
             {"at", 'a', ENTER_WHEN, ENTER_SILENT, "When did its cooling begin?",
              "of a step that began by itself: when its cooling began", NULL, NULL},
             {"withdraw", 'x', ENTER_FLAG, ENTER_SILENT, "Did it not begin?",
              "of a step that began by itself: it did not", NULL, NULL},
             {"reason", 'R', ENTER_TEXT, ENTER_NEEDED, "Why is it corrected?", "why", NULL,
              NULL},
             WHO,
         }},
    {.name = "confirm",
     .kind = ENTRY_CONFIRM,
     .does = "confirm, or decline, a correction that waits (by another)",
     .example = "trivet confirm 4 accept --who CD",
     .positional = 2,
     .fields =
         {
             BATCH,
             {"accept", 'y', ENTER_ACCEPT, ENTER_NEEDED, "Is the correction right?",
              "accept (it is right) or reject (it is not)", NULL, NULL},
             {"text", 'n', ENTER_TEXT, ENTER_SILENT, "Anything to add?", "a remark", NULL,
              NULL},
             WHO,
         }},
    {.name = "act",
     .kind = ENTRY_ACTION,
     .does = "record the corrective action taken on a deviation",
     .example =
         "trivet act 2 --found \"door open\" --done \"closed it\" --disposition use -w AB",
     .positional = 1,
     .fields =
         {
             {"deviation", 'd', ENTER_DEVIATION, ENTER_NEEDED, "Which deviation?", "its number",
              NULL, NULL},
             {"prepared", 'p', ENTER_PREPARED, ENTER_OFFERED,
              "Is it one that the plan has ready? (Enter: none of them)",
              "number of an action that the plan has ready for this", NULL, NULL},
             {"found", 'f', ENTER_TEXT, ENTER_NEEDED, "What was the cause?", "what was found",
              NULL, NULL},
             {"done", 'D', ENTER_TEXT, ENTER_NEEDED, "What was done to remove it?",
              "what was done about it", NULL, NULL},
             {"control", 'c', ENTER_TEXT, ENTER_OFFERED,
              "How was control restored, and what shows it?", "how control was restored", NULL,
              NULL},
             {"food", 'F', ENTER_FOODS, ENTER_OFFERED, "What becomes of each batch?",
              "what becomes of each batch: \"3 discard 4 kg, 5 use\"", NULL, NULL},
             {"disposition", 'o', ENTER_DISPOSITION, ENTER_NEEDED, "What becomes of the food?",
              "use, use-at-once, cook-on, reheat, cool-again, hold, divert, discard or no-food",
              "food", ""},
             {"quantity", 'q', ENTER_LINE, ENTER_OFFERED, "How much food?",
              "how much food: \"4 kg\"", "disposition", "discard"},
             {"prevent", 'v', ENTER_TEXT, ENTER_OFFERED,
              "What will keep it from happening again?", "what keeps it from happening again",
              NULL, NULL},
             {"safe", 'S', ENTER_TEXT, ENTER_OFFERED,
              "How do you know that no unsafe food was served?",
              "how you know that no unsafe food was served", NULL, NULL},
             WHO,
         }},
    {.name = "heard",
     .kind = ENTRY_HEARD,
     .does = "say that you have heard an alarm, or a warning",
     .example = "trivet heard 2 --who AB",
     .positional = 1,
     .fields =
         {
             {"deviation", 'd', ENTER_DEVIATION, ENTER_NEEDED, "Which deviation?",
              "its number, unless --batch", "batch", ""},
             {"batch", 'b', ENTER_BATCH, ENTER_SILENT, "Which batch?",
              "number of the batch whose forecast warns", NULL, NULL},
             WHO,
             {"text", 'n', ENTER_TEXT, ENTER_SILENT, "Anything to add?", "a remark", NULL,
              NULL},
         }},
    {.name = "shelve",
     .kind = ENTRY_SHELVE,
     .does = "keep an alarm quiet for a while, with the reason",
     .example = "trivet shelve 2 --for 30min --reason \"engineer is here\" --who AB",
     .positional = 1,
     .fields =
         {
             {"deviation", 'd', ENTER_DEVIATION, ENTER_NEEDED, "Which deviation?",
              "its number, unless --place", "place", ""},
             {"place", 'l', ENTER_PLACE, ENTER_SILENT, "Which place?",
              "id of the place whose alarms are shelved", NULL, NULL},
             {"end", 'e', ENTER_FLAG, ENTER_SILENT, "Is it over?",
              "it is over: told again from now on", NULL, NULL},
             {"for", 'f', ENTER_SPAN, ENTER_NEEDED, "For how long? (30min, 1h)",
              "how long: 30min, 1h, unless --end", "end", ""},
             {"reason", 'R', ENTER_LINE, ENTER_NEEDED, "Why?", "why, unless --end", "end", ""},
             WHO,
         }},
    {.name = "verify",
     .kind = ENTRY_VERIFY,
     .does = "verify that the action on a deviation was right (by another)",
     .example = "trivet verify 2 --who CD",
     .positional = 1,
     .fields =
         {
             {"deviation", 'd', ENTER_DEVIATION, ENTER_NEEDED, "Which deviation?", "its number",
              NULL, NULL},
             {"text", 'n', ENTER_TEXT, ENTER_OFFERED, "Anything to add?", "a remark", NULL,
              NULL},
             WHO,
         }},
    {.name = "decide",
     .kind = ENTRY_DECIDE,
     .does = "decide what the readings alone could not, with a reason",
     .example = "trivet decide 4 accept --reason \"hand reading 66 C\" --who CD",
     .positional = 2,
     .fields =
         {
             {"batch", 'b', ENTER_BATCH, ENTER_NEEDED, "Which batch?", "its number", "probe",
              ""},
             {"accept", 'y', ENTER_ACCEPT, ENTER_NEEDED, "Was the limit met?",
              "accept (it was met) or reject (it was not)", NULL, NULL},
             {"reason", 'R', ENTER_TEXT, ENTER_NEEDED, "How do you know?", "how you know", NULL,
              NULL},
             {"probe", 'P', ENTER_LINE, ENTER_SILENT, "Which probe?",
              "id of a probe with hot food on it that is none (reject)", NULL, NULL},
             WHO,
         }},
    {.name = "quiet",
     .kind = ENTRY_QUIET,
     .does = "suspend a place's limit for a while, with the reason",
     .example = "trivet quiet walk-in --for 30min --why defrosting --who AB",
     .positional = 1,
     .fields =
         {
             {"place", 'l', ENTER_PLACE, ENTER_NEEDED, "Which place?", "id of the place", NULL,
              NULL},
             {"end", 'e', ENTER_FLAG, ENTER_SILENT, "Is it over?",
              "it is over: the limit holds again from now on", NULL, NULL},
             {"for", 'f', ENTER_SPAN, ENTER_NEEDED, "For how long? (30min, 1h)",
              "how long: 30min, 2h, \"1 h 30 min\", unless --end", "end", ""},
             {"why", 'y', ENTER_WHY, ENTER_NEEDED, "Why?",
              "off, empty, defrosting or cleaning (unless --end)", "end", ""},
             WHO,
         }},
};

const struct enter_verb *
enter_verb(const char *name)
{
    for (size_t i = 0; i < enter_verb_count(); i++)
        if (strcmp(verbs[i].name, name) == 0)
            return &verbs[i];
    return NULL;
}

size_t
enter_verb_count(void)
{
    return sizeof verbs / sizeof *verbs;
}

const struct enter_verb *
enter_verb_at(size_t index)
{
    return &verbs[index];
}
