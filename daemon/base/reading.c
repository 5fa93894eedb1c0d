/* The words for a reading's quality: one table for exports, the page and the command. Any
 * thread. */
#include "trivet/reading.h"

#include <stddef.h>

static const struct {
    int quality;
    const char *word;
    const char *phrase;
} qualities[] = {
    {READING_GOOD, "good", "good"},
    {SUSPECT_LEFT_FOOD, "left-food", "suspect: changed faster than food can"},
    {SUSPECT_SETTLING, "settling", "suspect: not yet proven to be back in the food"},
    {SUSPECT_STUCK, "stuck", "suspect: one value for longer than a working probe shows"},
    {SUSPECT_JUMPED, "jumped", "suspect: a jump that no other reading confirms"},
    {SUSPECT_PULLED_OUT, "pulled-out", "suspect: pulled out of the food, shows the air"},
    {SUSPECT_FAILED_CHECK, "failed-check",
     "suspect: its last check left the probe outside its tolerance"},
    {SUSPECT_COLD_JUNCTION, "doubted-junction",
     "suspect: the probe at its cold junction is suspect"},
    {BAD_TIMEOUT, "timeout", "no reply in time"},
    {BAD_CRC, "crc", "a reply with a wrong check sum"},
    {BAD_EXCEPTION, "exception", "the device refused the request"},
    {BAD_WRONG_UNIT, "wrong-unit", "a reply of another unit or to another request"},
    {BAD_FRAME, "frame", "a short or malformed reply"},
    {BAD_LINK, "link", "the line or connection is down"},
    {BAD_FAULT_VALUE, "fault-value", "the device signals a sensor fault"},
    {BAD_IMPLAUSIBLE, "implausible", "outside the plausible range"},
    {BAD_CONVERSION, "conversion", "not a number"},
    {BAD_COLD_JUNCTION, "cold-junction", "no fresh temperature of the cold junction"},
    {BAD_SIGNAL, "signal", "a signal that no such sensor gives"},
};

const char *
reading_quality_word(int quality)
{
    for (size_t i = 0; i < sizeof qualities / sizeof qualities[0]; i++)
        if (qualities[i].quality == quality)
            return qualities[i].word;
    return "unknown";
}

const char *
reading_quality_phrase(int quality)
{
    for (size_t i = 0; i < sizeof qualities / sizeof qualities[0]; i++)
        if (qualities[i].quality == quality)
            return qualities[i].phrase;
    return "of a kind this version does not know";
}
