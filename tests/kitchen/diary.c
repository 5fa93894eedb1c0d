/* See diary.h. People, dishes and troubles are invented. */
#include "tests/kitchen/diary.h"

#define AT(hour, minute) ((hour)*60 + (minute))

static const struct happening roast[] = {
    {AT(7, 30), ACT_OVEN_ON, ENTRY_NONE, DISH_NONE, NULL},
    {AT(8, 0), ACT_ROAST_IN, ENTRY_NONE, DISH_NONE, NULL},
    {AT(8, 2), ACT_NONE, ENTRY_BEGIN, DISH_ROAST,
     "{\"who\":\"AB\",\"product\":\"pork-loin\",\"probes\":[\"roast-core-a\",\"roast-core-b\"],"
     "\"place\":\"oven\",\"mass_g\":2400}"},
    {AT(9, 52), ACT_NONE, ENTRY_HAND, DISH_ROAST,
     "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":0,\"batch\":1}"},
    {AT(9, 54), ACT_ROAST_REST, ENTRY_MOVE, DISH_ROAST,
     "{\"who\":\"AB\",\"batch\":1,\"step\":\"rest\"}"},
    {AT(9, 58), ACT_OVEN_OFF, ENTRY_NONE, DISH_NONE, NULL},
    {AT(10, 20), ACT_ROAST_SERVE, ENTRY_MOVE, DISH_ROAST,
     "{\"who\":\"LM\",\"batch\":1,\"step\":\"serve\",\"place\":\"hot-cupboard\"}"},
    {AT(12, 40), ACT_NONE, ENTRY_END, DISH_ROAST,
     "{\"who\":\"LM\",\"batch\":1,\"outcome\":\"served\"}"},
    {AT(12, 45), ACT_ROAST_OUT, ENTRY_NONE, DISH_NONE, NULL},
};

static const struct happening filling[] = {
    {AT(10, 30), ACT_FILLING_IN, ENTRY_NONE, DISH_NONE, NULL},
    {AT(10, 32), ACT_NONE, ENTRY_BEGIN, DISH_FILLING,
     "{\"who\":\"LM\",\"product\":\"lentil-filling\",\"probes\":[\"filling-core\"],"
     "\"step\":\"cool\",\"place\":\"chiller\",\"mass_g\":9000,\"thickness_mm\":60}"},
    {AT(14, 30), ACT_NONE, ENTRY_MOVE, DISH_FILLING,
     "{\"who\":\"LM\",\"batch\":1,\"step\":\"store\",\"place\":\"walk-in\"}"},
    {AT(14, 40), ACT_NONE, ENTRY_HAND, DISH_FILLING,
     "{\"who\":\"LM\",\"thermometer\":\"blue-pen\",\"temp_mC\":0,\"batch\":1}"},
    {AT(15, 30), ACT_NONE, ENTRY_END, DISH_FILLING,
     "{\"who\":\"LM\",\"batch\":1,\"outcome\":\"stored\",\"text\":\"Walk-in, left shelf\"}"},
};

/* The filling of the day before leaves the walk-in. */
static const struct happening used_up[] = {
    {AT(9, 20), ACT_NONE, ENTRY_END, DISH_FILLING,
     "{\"who\":\"LM\",\"batch\":1,\"outcome\":\"served\",\"text\":\"For today's lunch\"}"},
};

/* One day's filling is kept for later: it goes to the freezer and is still there. */
static const struct happening frozen[] = {
    {AT(15, 50), ACT_NONE, ENTRY_MOVE, DISH_FILLING,
     "{\"who\":\"LM\",\"batch\":1,\"place\":\"freezer\"}"},
};

/* Both sides of a steak that is served undercooked. */
static const struct happening steak[] = {
    {AT(12, 5), ACT_NONE, ENTRY_BEGIN, DISH_STEAK,
     "{\"who\":\"AB\",\"product\":\"beef-steak\"}"},
    {AT(12, 9), ACT_NONE, ENTRY_HAND, DISH_STEAK,
     "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":0,\"batch\":1,\"side\":"
     "\"bottom\"}"},
    {AT(12, 11), ACT_NONE, ENTRY_HAND, DISH_STEAK,
     "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":0,\"batch\":1,\"side\":\"top\"}"},
    {AT(12, 13), ACT_NONE, ENTRY_END, DISH_STEAK,
     "{\"who\":\"AB\",\"batch\":1,\"outcome\":\"served\"}"},
};

/* The cooling that misses its second stage. */
static const struct happening late_cooling[] = {
    {AT(10, 25), ACT_CHILLER_WARM, ENTRY_NONE, DISH_NONE, NULL},
    {AT(10, 30), ACT_FILLING_IN, ENTRY_NONE, DISH_NONE, NULL},
    {AT(10, 32), ACT_NONE, ENTRY_BEGIN, DISH_FILLING,
     "{\"who\":\"LM\",\"product\":\"lentil-filling\",\"probes\":[\"filling-core\"],"
     "\"step\":\"cool\",\"place\":\"chiller\",\"mass_g\":9000,\"thickness_mm\":60}"},
    {AT(16, 10), ACT_NONE, ENTRY_NOTE, DISH_FILLING,
     "{\"who\":\"LM\",\"batch\":1,\"text\":\"Chiller sounds busy and is not getting "
     "colder.\"}"},
    {AT(17, 20), ACT_NONE, ENTRY_ACTION, DISH_FILLING,
     "{\"who\":\"AB\",\"deviation\":1,\"found\":\"The chiller's thermostat had been knocked to "
     "8 "
     "degrees when the shelves were cleaned.\",\"done\":\"Set it right and threw the filling "
     "away.\",\"disposition\":\"discard\",\"prevent\":\"A cover over the dial; looking at it "
     "is on "
     "the opening list.\",\"quantity\":\"9 kg, six trays\"}"},
    {AT(17, 21), ACT_CHILLER_RIGHT, ENTRY_NONE, DISH_NONE, NULL},
    {AT(17, 25), ACT_NONE, ENTRY_END, DISH_FILLING,
     "{\"who\":\"AB\",\"batch\":1,\"outcome\":\"discarded\",\"text\":\"Not cold in time\"}"},
    {AT(17, 55), ACT_NONE, ENTRY_VERIFY, DISH_FILLING,
     "{\"who\":\"RS\",\"deviation\":1,\"text\":\"Saw the empty trays and the dial.\"}"},
};

static const struct happening door_left_open[] = {
    {AT(14, 5), ACT_WALK_IN_OPEN, ENTRY_NONE, DISH_NONE, NULL},
    {AT(14, 55), ACT_WALK_IN_SHUT, ENTRY_NONE, DISH_NONE, NULL},
    {AT(15, 0), ACT_NONE, ENTRY_HAND, DISH_NONE,
     "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":0,\"place\":\"walk-in\"}"},
    {AT(15, 5), ACT_NONE, ENTRY_ACTION, DISH_NONE,
     "{\"who\":\"AB\",\"deviation\":1,\"found\":\"The door was wedged open during the "
     "delivery.\",\"done\":\"Shut it and took the core of the front trays with the red pen.\","
     "\"disposition\":\"use\",\"prevent\":\"Deliveries go in by the trolley, the wedge is "
     "gone.\",\"quantity\":\"All of the front shelf\"}"},
    {AT(16, 20), ACT_NONE, ENTRY_VERIFY, DISH_NONE,
     "{\"who\":\"JO\",\"deviation\":1,\"text\":\"Hand reading seen, door closes by itself.\"}"},
};

/* The same trouble again, with nobody yet to verify what was done. */
static const struct happening door_again[] = {
    {AT(18, 5), ACT_WALK_IN_OPEN, ENTRY_NONE, DISH_NONE, NULL},
    {AT(18, 50), ACT_WALK_IN_SHUT, ENTRY_NONE, DISH_NONE, NULL},
    {AT(19, 15), ACT_NONE, ENTRY_ACTION, DISH_NONE,
     "{\"who\":\"LM\",\"deviation\":1,\"found\":\"Door ajar, a crate in the "
     "way.\",\"done\":\"Moved "
     "the crate and shut the door.\",\"disposition\":\"use\"}"},
};

static const struct happening probe_unplugged[] = {
    {AT(16, 40), ACT_PROBE_OUT, ENTRY_NONE, DISH_NONE, NULL},
    {AT(16, 58), ACT_PROBE_IN, ENTRY_NONE, DISH_NONE, NULL},
    {AT(17, 5), ACT_NONE, ENTRY_ACTION, DISH_NONE,
     "{\"who\":\"LM\",\"deviation\":1,\"found\":\"The plug was out while the fridge was being "
     "cleaned.\",\"done\":\"Plugged it in again; the fridge was empty.\","
     "\"disposition\":\"no-food\"}"},
    {AT(17, 30), ACT_NONE, ENTRY_VERIFY, DISH_NONE, "{\"who\":\"JO\",\"deviation\":1}"},
};

static const struct happening opening[] = {
    {AT(7, 10), ACT_NONE, ENTRY_HAND, DISH_NONE,
     "{\"who\":\"AB\",\"thermometer\":\"blue-pen\",\"temp_mC\":0,\"place\":\"walk-in\"}"},
};

/* Whose day it is: the one before. */
static const struct happening reviewed[] = {
    {AT(9, 30), ACT_NONE, ENTRY_REVIEW, DISH_NONE, "{\"who\":\"RS\",\"day\":\"2000-01-01\"}"},
};

/* A check at one point: ice in water, or side by side with the reference thermometer. */
#define ICE(minute, which, found)                                                              \
    {                                                                                          \
        AT(7, minute), ACT_NONE, ENTRY_CALIBRATE, DISH_NONE,                                   \
            "{\"who\":\"JO\"," which                                                           \
            ",\"correction\":\"keep\",\"points\":[{\"method\":\"ice\","                        \
            "\"found_mC\":" #found ",\"reference_mC\":0,\"uncertainty_mK\":100}]}"             \
    }
#define BESIDE(minute, which, found, right)                                                    \
    {                                                                                          \
        AT(7, minute), ACT_NONE, ENTRY_CALIBRATE, DISH_NONE,                                   \
            "{\"who\":\"JO\"," which ",\"correction\":\"keep\",\"reference\":\"lab-stick\","   \
            "\"points\":[{\"method\":\"reference\",\"found_mC\":" #found                       \
            ",\"reference_mC\":" #right ",\"uncertainty_mK\":100}]}"                           \
    }

static const struct happening checks[] = {
    ICE(5, "\"probe\":\"roast-core-a\"", 200),
    ICE(8, "\"probe\":\"roast-core-b\"", -100),
    ICE(11, "\"probe\":\"filling-core\"", 100),
    BESIDE(15, "\"probe\":\"walk-in-air\"", 3100, 3000),
    BESIDE(18, "\"probe\":\"counter-fridge-air\"", 2000, 2200),
    BESIDE(21, "\"probe\":\"chiller-air\"", 1400, 1300),
    BESIDE(24, "\"probe\":\"hot-cupboard-air\"", 68600, 68300),
    BESIDE(27, "\"probe\":\"oven-air\"", 21400, 21100),
    BESIDE(30, "\"probe\":\"freezer-air\"", -20900, -21100),
};

static const struct happening pens[] = {
    ICE(20, "\"thermometer\":\"red-pen\"", 100),
    ICE(22, "\"thermometer\":\"blue-pen\"", 0),
};

static const struct happening cleaning[] = {
    {AT(16, 0), ACT_NONE, ENTRY_NOTE, DISH_NONE,
     "{\"who\":\"LM\",\"place\":\"walk-in\",\"text\":\"Walk-in cleaned, shelves out for ten "
     "minutes.\"}"},
};

static const struct happening fat_left_on[] = {
    {AT(8, 40), ACT_NONE, ENTRY_NOTE, DISH_ROAST,
     "{\"who\":\"AB\",\"batch\":1,\"text\":\"Fat left on, \\\"thick end\\\" to the door; a bit "
     "< 2.4 kg "
     "after trimming & tying.\"}"},
};

#define EPISODE(day, list)                                                                     \
    {                                                                                          \
        day, NO_DAY, NO_DAY, list, sizeof(list) / sizeof *(list)                               \
    }
#define DAILY_BUT(except, nor, list)                                                           \
    {                                                                                          \
        DIARY_EVERY_DAY, except, nor, list, sizeof(list) / sizeof *(list)                      \
    }
#define NO_DAY (-2)

const struct episode diary[] = {
    EPISODE(DIARY_EVERY_DAY, opening),
    EPISODE(DIARY_EVERY_DAY, reviewed),
    EPISODE(DIARY_EVERY_DAY, roast),
    DAILY_BUT(1, 3, used_up), /* of the day before, nothing was kept, or it was frozen */
    DAILY_BUT(2, NO_DAY, filling),
    EPISODE(2, late_cooling),
    EPISODE(1, door_again),
    EPISODE(4, frozen),
    EPISODE(DIARY_EVERY_DAY, steak),
    EPISODE(5, door_left_open),
    EPISODE(8, probe_unplugged),
    EPISODE(11, door_left_open),
    EPISODE(12, checks),
    EPISODE(10, pens),
    EPISODE(3, pens),
    EPISODE(3, fat_left_on),
    EPISODE(4, cleaning),
    EPISODE(12, cleaning),
};
const size_t diary_count = sizeof diary / sizeof *diary;
