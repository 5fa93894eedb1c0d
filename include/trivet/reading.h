/* One reading of one probe, as it is queued, judged, stored and exported. */
#ifndef TRIVET_READING_H
#define TRIVET_READING_H

#include <stdbool.h>
#include <stdint.h>

/* The quality column of the store: 0 good, 100 to 199 suspect, 200 to 299 bad. The numbers are
 * part of the stored format (docs/storage.md) and never change their meaning. */
enum reading_quality {
    READING_GOOD = 0,

    /* Suspect: never satisfies a limit, may breach one. Set by the engine, never by a driver.
     */
    SUSPECT_LEFT_FOOD = 100,  /* a rise or fall that no food can make */
    SUSPECT_SETTLING = 101,   /* returned from such a jump, not yet proven to be in food */
    SUSPECT_STUCK = 102,      /* one value for longer than a working probe shows */
    SUSPECT_JUMPED = 103,     /* a jump of an air probe that no other reading confirms */
    SUSPECT_PULLED_OUT = 104, /* it came to the air faster than food can: nobody's temperature,
                                 so unlike the others it breaches nothing either */
    SUSPECT_FAILED_CHECK = 105,  /* its last check left the probe outside its tolerance */
    SUSPECT_COLD_JUNCTION = 106, /* a thermocouple, and the probe at its terminals is suspect */

    /* Bad: no temperature at all. Set by drivers and the poll room. */
    BAD_TIMEOUT = 200,       /* no reply in time */
    BAD_CRC = 201,           /* a reply with a wrong check sum */
    BAD_EXCEPTION = 202,     /* the device answered with a Modbus exception */
    BAD_WRONG_UNIT = 203,    /* a reply of another unit or to another request */
    BAD_FRAME = 204,         /* short, truncated, over-long or otherwise malformed */
    BAD_LINK = 205,          /* adapter unplugged, connection refused or dropped */
    BAD_FAULT_VALUE = 206,   /* a value the plan declares as the device's fault sign */
    BAD_IMPLAUSIBLE = 207,   /* outside the plausible range the plan declares */
    BAD_CONVERSION = 208,    /* not a number, or does not fit */
    BAD_COLD_JUNCTION = 209, /* no fresh temperature of the thermocouple's cold junction */
    BAD_SIGNAL = 210,        /* a signal that no sensor of the plan's kind gives */
};

static inline bool
reading_is_good(int quality)
{
    return quality == READING_GOOD;
}

static inline bool
reading_is_suspect(int quality)
{
    return quality >= 100 && quality < 200;
}

static inline bool
reading_is_bad(int quality)
{
    return quality >= 200;
}

/* A short lower-case word for exports and the page: "good", "left-food", "timeout", ...;
 * "unknown" for a number this version does not know. */
const char *reading_quality_word(int quality);

/* A phrase for people: "no reply in time", ... */
const char *reading_quality_phrase(int quality);

struct reading {
    int64_t at_ms;    /* given by the recorder; never goes back */
    int32_t temp_mC;  /* raw, before calibration; TEMP_NONE when bad */
    uint16_t probe;   /* stored probe number, from 1 (struct plan_probe: number) */
    uint16_t quality; /* enum reading_quality */
};

#endif
