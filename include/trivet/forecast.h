/* What the food will do next: the contract between the forecasting room and whoever asks.
 *
 * A forecaster watches one batch: a core temperature, the air around it if there is a probe for
 * it, and what people report.  Asked at any moment, it gives ranges for what comes, or the
 * reason why it cannot.  It uses nothing after the newest reading it was fed. A forecast
 * advises.  It never decides: only measurements do.
 *
 * Pure: no clock, no input or output, no globals, no allocation; the same feed gives the same
 * answers. One forecaster belongs to one thread.  Temperatures in degrees Celsius, times in
 * seconds from any origin. */
#ifndef TRIVET_FORECAST_H
#define TRIVET_FORECAST_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

enum {
    FORECASTER_BYTES = 208 * 1024,
    FORECAST_LIMITS = 2,
    FORECAST_UNKNOWNS = 12,
    FORECAST_REASON_BYTES = 120,
    FORECAST_ROWS = 40, /* of a time and temperature table */
};

enum forecast_kind { FORECAST_COOK, FORECAST_COOLING };

/* What a person reports, or a log says, beside the readings. */
enum forecast_event {
    FORECAST_NO_EVENT,
    FORECAST_START,
    FORECAST_REMOVED,
    FORECAST_MOVED,
    FORECAST_SETPOINT,
    FORECAST_DOOR,
    FORECAST_STIRRED, /* means nothing to a forecast, nor does the next */
    FORECAST_END_OF_COOKING,
};

/* A temperature to reach; for a cooling, within a time counted from the first fall to
 * `clock_from_C`. */
struct forecast_limit {
    double temp_C;
    double within_s; /* 0: no deadline */
};

/* What earlier batches of the product taught: for each unknown of the model (in its own scale,
 * where a batch of no known product is 0 with a spread of 1) a mean and a spread.  All zero
 * means nothing is known. */
struct forecast_prior {
    double mean[FORECAST_UNKNOWNS];
    double spread[FORECAST_UNKNOWNS]; /* 0: as for a batch of no known product */
};

/* NAN where nothing is known. */
struct forecast_setup {
    enum forecast_kind kind;
    struct forecast_limit
        limit[FORECAST_LIMITS]; /* one or two: rising in a cook, falling in a cooling */
    int limits;
    double clock_from_C; /* coolings: NAN starts the clock with the first reading */
    double oven_C;
    double room_C;
    struct forecast_prior prior;
};

struct forecast_reading {
    double time_s;
    double core_C; /* NAN: missing */
    double air_C;  /* NAN: missing, or no probe */
    enum forecast_event event;
};

/* What a heating limit asks for beyond a temperature: any one row's temperature held unbroken
 * for its time, or, without rows, an equivalent time at a reference temperature (Bigelow). With
 * what was earned so far. */
struct forecast_row {
    double temp_C;
    double hold_s;
    double held_s; /* below 0: not on this row now */
};

struct forecast_earning {
    int rows;
    struct forecast_row row[FORECAST_ROWS];
    double reference_C, z_K, target_s, earned_s;
};

/* A change to try out: what would come of it if it were made now.  All members are neutral in
 * FORECAST_AS_IT_IS. */
struct forecast_change {
    double medium_C;    /* temperature of the surroundings from now on; NAN: as it is */
    double film_factor; /* how much better (above 1) the surroundings carry heat */
    double size_factor; /* depth or radius against the present one */
    double wet_factor;  /* evaporation against the present: 0 covered */
    bool stir;          /* evened out now */
};

#define FORECAST_AS_IT_IS ((struct forecast_change){NAN, 1, 1, 1, false})

/* A median and the range that should hold nine of ten outcomes.  INFINITY in a time means "not
 * at all, as things stand". */
struct forecast_range {
    double p05;
    double p50;
    double p95;
};

enum forecast_refusal {
    FORECAST_GIVEN,         /* no refusal */
    FORECAST_NO_CORE,       /* no core reading yet */
    FORECAST_TOO_EARLY,     /* wait_s more of readings are needed */
    FORECAST_CORE_LOST,     /* the last core reading is too old */
    FORECAST_READS_THE_AIR, /* hotter than food can be inside: the probe is not in it */
};

struct forecast {
    enum forecast_refusal refusal;
    double wait_s; /* with FORECAST_TOO_EARLY */
    double time_s; /* the moment of the newest reading; times below count from here */
    bool reached[FORECAST_LIMITS];
    struct forecast_range eta_s[FORECAST_LIMITS];
    struct forecast_range earned_s; /* when what is to be earned will be; NAN: nothing is */
    struct forecast_range
        peak_C; /* cooks: highest core if taken out now (or since, if taken out) */
    double miss_chance[FORECAST_LIMITS]; /* coolings with a deadline; NAN otherwise */
    double clock_began_s;                /* coolings: first fall to clock_from_C; NAN before */
    double models; /* effective number of model candidates behind the figures */
};

/* Storage for one forecaster; the contents belong to daemon/thermal. */
struct forecaster {
    union {
        max_align_t align;
        unsigned char bytes[FORECASTER_BYTES];
    } room;
};

/* Starts a forecaster.  False, with *reterr_reason a sentence, when the setup makes no sense (a
 * target outside -40 to 300 C, a second limit that is not beyond the first). */
bool forecaster_init(struct forecaster *forecaster, const struct forecast_setup *setup,
                     const char **reterr_reason);

/* Takes one reading.  False, and nothing is taken, when its time is not after the last one's
 * (equal is allowed for an event without readings), or a value is infinite or outside -90 to
 * 1000 C. */
bool forecaster_feed(struct forecaster *forecaster, const struct forecast_reading *reading);

/* Tells what is to be earned and what was so far, for the next question; NULL: nothing. */
void forecaster_expect(struct forecaster *forecaster, const struct forecast_earning *earning);

/* The forecast as of the newest reading; `change` may be NULL. */
void forecaster_ask(const struct forecaster *forecaster, const struct forecast_change *change,
                    struct forecast *ret_forecast);

/* What the model has learned about this batch, to start the next one of the product from. False
 * while refusing. */
bool forecaster_learned(const struct forecaster *forecaster, struct forecast_prior *ret_prior);

/* What is known of a kind of dish by its name: "roast", "flat", "loaf", "wrapped" for cooks,
 * "pan", "liquid", "joint" for coolings.  False for any other name. */
bool forecast_product_prior(enum forecast_kind kind, const char *name,
                            struct forecast_prior *ret_prior);

/* The refusal in words, for example "too early: another 6 min of readings". */
void forecast_reason(const struct forecast *forecast, char ret_text[FORECAST_REASON_BYTES]);

#endif
