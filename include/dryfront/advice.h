/* dryfront/advice.h: jobs, how they stand on a dryer, why, and the ceilings of solvents. */
#ifndef DRYFRONT_ADVICE_H
#define DRYFRONT_ADVICE_H

#include "dryfront/drying.h"

#ifdef __cplusplus
extern "C" {
#endif

#define DF_MAX_GROUPS 8
#define DF_MAX_OTHERS 8 /* dryers that a job names beside its own */

/* What the dry product is for: decides whether a wetted run is acceptable. */
typedef enum df_purpose {
    DF_PURPOSE_INTERMEDIATE,
    DF_PURPOSE_SCREENING,
    DF_PURPOSE_ARCHIVE,
    DF_PURPOSE_RELEASE
} df_purpose;
const char *df_purpose_name(df_purpose purpose);
/* Whether a wetted run may be accepted for it: common practice, no source (docs/advice.md). */
bool df_purpose_accepts_wetted(df_purpose purpose);

/* A group of containers that are filled alike. */
typedef struct df_group {
    df_container container;
    long count;
    long at[DF_SPOTS]; /* of them at each spot of a shelf; they sum to count */
    double on, off;    /* s on a manifold: put on and taken off; -INFINITY and INFINITY where always on */
    double fill;       /* m3 each */
    df_lie lie;
    df_place place;
    char where[160]; /* file:line: field, for sentences */
} df_group;

/* What is not sure of a job: rows of data/uncertain.csv, in its order (dryfront/uncertain.h, docs/uncertainty.md). */
typedef enum df_uncertain_id {
    DF_UNCERTAIN_CAKE_R0,
    DF_UNCERTAIN_CAKE_A1,
    DF_UNCERTAIN_SHELF_CONTACT,
    DF_UNCERTAIN_SHELF_GAS,
    DF_UNCERTAIN_FROST,
    DF_UNCERTAIN_FILL,
    DF_UNCERTAIN_CRITICAL,
    DF_UNCERTAIN_THERMODYNAMICS,
    DF_UNCERTAIN_SHELF,
    DF_UNCERTAIN_PRESSURE,
    DF_UNCERTAIN_TRAP,
    DF_UNCERTAIN_TRAP_POWER,
    DF_UNCERTAIN_LEAK,
    DF_UNCERTAIN_ROOM,
    DF_UNCERTAIN_BOUND,
    DF_UNCERTAIN_RATE,
    DF_UNCERTAIN_ACTIVATION,
    DF_UNCERTAINS
} df_uncertain_id;
typedef enum df_distribution { DF_NORMAL, DF_LOGNORMAL, DF_UNIFORM } df_distribution;
const char *df_distribution_name(df_distribution distribution); /* "normal", "lognormal", "uniform" */

/* What a job states of one of them in place of the table. */
typedef struct df_uncertain_stated {
    bool spread_stated, correlation_stated, distribution_stated;
    double spread; /* of a factor; K; standard deviations */
    double correlation;
    df_distribution distribution;
} df_uncertain_stated;

/* One sample in its containers on one dryer, with its purpose and its limits. */
typedef struct df_job {
    char name[96], dryer[256]; /* name or path of the dryer as written */
    char dryer_where[160];
    df_purpose purpose;
    const df_containers *containers; /* that it was read with; NULL: the built-in ones */
    df_composition composition;
    df_solute solute[DF_MAX_SOLUTES];
    size_t solutes;
    df_group group[DF_MAX_GROUPS];
    size_t groups;
    df_cooling cooling;
    df_recipe recipe;
    bool recipe_given;
    char recipe_where[160]; /* file:line: field, for sentences */
    df_event event[DF_MAX_EVENTS];
    size_t events;
    double loading;        /* s in the dryer at one atmosphere before the pump starts */
    double start_pressure; /* Pa when it starts */
    df_cake cake;
    double top_coefficient, dry_conductivity; /* W/(m2 K), W/(m K): heat from above, see df_class */
    /* How dry the product has to be, kg per kg of dry solutes; the run goes on until then. 0: not asked for. */
    double target[DF_MAX_COMPONENTS];           /* by component of the composition */
    df_residual_limit limit[DF_MAX_COMPONENTS]; /* what the product is held against at the end */
    double margin, time_limit;                  /* K, s */
    double product_temperature;     /* K that the product stands while solvent is boiled off; 0: not stated */
    char other[DF_MAX_OTHERS][256]; /* dryers that it may go to, as written */
    size_t others;
    char others_where[160];
    double pore_exponent, least_framework, trace_liquid;
    df_freezing_mode mode;
    df_uncertain_stated uncertain[DF_UNCERTAINS];
} df_job;

/* Reads a job from YAML (docs/job.md). The dryer it names is not opened here. `containers` NULL: the built-in ones. Both sets
 * must outlive the job. */
DF_NODISCARD df_status df_job_parse(df_context *ctx, df_job *job, const df_substances *substances,
                                    const df_containers *containers, const char *buffer, size_t length,
                                    const char *name);
/* The job as YAML, sections and fields in the order of docs/job.md; a field that says what holds anyhow is left out unless
 * `original` states it. Every number reads back to the same double, in the unit that people write where one has such digits.
 * `original` (may be NULL) is an older text of the job: its comments go before the fields they stood at, those of a list before
 * the list, what has lost its field to the end. `note` (may be NULL): lines, without '#', that become comments before the first
 * field, behind those that stand there. DF_E_MEMORY. */
DF_NODISCARD df_status df_job_write(df_context *ctx, df_text *out, const df_job *job, const char *original,
                                    const char *note);

/* The dryer's reference load with `composition` in it, frozen in a dry-ice bath (liquid nitrogen where a component melts
 * lower than 20 K above the bath), default margin, 60 days. */
void df_job_reference(df_job *job, const df_dryer *dryer, const df_composition *composition);

/* The four standings, in order of falling comfort. */
typedef enum df_standing { DF_RIGID, DF_WETTED, DF_AFLOAT, DF_UNHELD } df_standing;
const char *df_standing_name(df_standing standing); /* "rigid", "wetted", "afloat", "unheld" */
const char *df_standing_meaning(df_standing standing);

/* What binds. */
typedef enum df_cause {
    DF_CAUSE_NONE,
    DF_CAUSE_SOLIDUS,     /* hottest point passes the solidus */
    DF_CAUSE_MARGIN,      /* below the solidus, but by less than the margin asked for */
    DF_CAUSE_SOLUTE,      /* hottest point passes the solute's critical temperature */
    DF_CAUSE_NEVER_SOLID, /* a component does not crystallise in practice */
    DF_CAUSE_NOT_FROZEN,  /* the means of freezing is not cold enough */
    DF_CAUSE_FRAMEWORK,   /* too little is solid: even cold (afloat), or as warm as the sample gets (in a ceiling) */
    DF_CAUSE_TRAP,        /* trap surface too warm for the vapour */
    DF_CAUSE_TRAP_FULL,
    DF_CAUSE_DUCT,
    DF_CAUSE_PORT,
    DF_CAUSE_PUMP,         /* pump too small for what passes the trap */
    DF_CAUSE_PUMP_SOLVENT, /* oil-sealed pump takes more solvent than it stands */
    DF_CAUSE_HEAT,         /* shelf or room gives more heat than the vapour's way can carry */
    DF_CAUSE_GLASS,        /* the dried cake passes its glass transition */
    DF_CAUSE_TIME          /* not dry within the time limit */
} df_cause;
const char *df_cause_name(df_cause cause); /* stable word, e.g. "trap_full" */

/* A change that would bring the job to a better standing. */
typedef enum df_lever {
    DF_LEVER_FRACTION, /* solvents together, volume fraction: dilute or strip to */
    DF_LEVER_TRAP,     /* no-load temperature of the trap, K */
    DF_LEVER_SHELF,    /* shelf temperature throughout, K */
    DF_LEVER_HOLD,     /* shelf temperature until the solvent has gone, K; then an hour's ramp to the recipe */
    DF_LEVER_FILL,     /* fill of each container as a fraction of what it is now, the rest in further runs */
    DF_LEVER_DRY_PUMP, /* a pump that passes solvent to an exhaust */
    DF_LEVER_FREEZE    /* coolant temperature, K */
} df_lever;

typedef struct df_remedy {
    df_lever lever;
    double from, to;      /* in SI, by lever; NAN where it has no number */
    df_standing standing; /* reached with it */
    double hours;         /* of drying with it */
    double hold_hours;    /* DF_LEVER_HOLD: length of the hold; NAN otherwise */
} df_remedy;

/* Puts a remedy onto a job and its dryer. *own: the dryer is another now; it and the job's name of it say what was changed, and it
 * takes a file of that name with .yaml. False where the job cannot hold it: no water, more set points than a recipe has. */
bool df_remedy_apply(df_job *job, df_dryer *dryer, bool *own, const df_remedy *remedy);

#define DF_MAX_REMEDIES 7

typedef struct df_stand {
    df_standing standing;
    df_cause cause;
    char because[400]; /* one sentence: what binds, with numbers */
    bool acceptable;   /* for the purpose */
    df_remedy remedy[DF_MAX_REMEDIES];
    size_t remedies;
    df_frozen_path path;
    df_freezing_result freezing[DF_MAX_GROUPS];
    double effective_solidus;             /* K, NAN: liquid never goes */
    double liquidus_sigma, solidus_sigma; /* K, one standard deviation from the pairs; NAN: not known */
    double hottest_sigma, margin_sigma,
        time_sigma;              /* K, K, s: the same of the hottest point where the margin is least, of
                                                       that margin and of the time of drying */
    df_standing best, worst;     /* standings met when the thermodynamics is moved by one standard deviation */
    double critical_temperature; /* K of the solutes, NAN: none known */
    bool solute_freezes[DF_MAX_SOLUTES]; /* it is in the thermodynamics of freezing */
    double start_temperature;            /* K at which containers are loaded */
    bool simulated;
    df_deposit deposit;
    df_run run;     /* owned */
    df_setup setup; /* as simulated; its paths and tables point into this struct */
    double mass;    /* kg of volatiles in all */
    long containers;
} df_stand;

/* Asked as a run goes on, with the share of the load that has left and the time (s); false stops it (DF_E_STOPPED). */
typedef struct df_progress {
    bool (*tell)(void *data, double share, double time);
    void *data;
} df_progress;

/* Freezes a job, runs it as it is, judges it, finds what binds and how sure it is; no remedies. `progress` may be NULL. Free with
 * df_stand_free. The struct must not be moved while in use (the setup points into it). Errors as df_run_simulate. */
DF_NODISCARD df_status df_stand_simulate(df_context *ctx, df_stand *stand, const df_job *job, const df_dryer *dryer,
                                         const df_pairs *pairs, const df_progress *progress);
/* The same without how sure it is: bands are NAN, best and worst as the standing. For an answer while one types. */
DF_NODISCARD df_status df_stand_sketch(df_context *ctx, df_stand *stand, const df_job *job, const df_dryer *dryer,
                                       const df_pairs *pairs, const df_progress *progress);
/* df_stand_simulate, and with `remedies`, where it does not stand rigid, what would have to change. */
DF_NODISCARD df_status df_stand_judge(df_context *ctx, df_stand *stand, const df_job *job, const df_dryer *dryer,
                                      const df_pairs *pairs, bool remedies);
/* Whether the run comes to a dry product on this dryer: simulated, dry, and not unheld. */
bool df_stand_dries(const df_stand *stand);
void df_stand_free(df_stand *stand);

/* Highest volume fraction (liquids before mixing, 20 °C) of one solvent in water up to which a standing is reached with the
 * dryer's reference load, from the lowest fraction at which it is; NAN where it is not reached at 2 % or above. */
typedef struct df_ceiling {
    const df_substance *solvent;
    double rigid, wetted; /* 0..1, NAN: never */
    double rigid_from,
        wetted_from; /* lowest fraction tried at which it is reached, for a standing that needs a minimum */
    double rigid_sigma,
        wetted_sigma; /* one standard deviation from the thermodynamics; NAN: not had (nothing binds, never) */
    df_cause rigid_cause, wetted_cause; /* what binds just above */
    df_pair_grade grade;
    df_status status; /* of this solvent */
    char message[200];
} df_ceiling;

/* Ceilings of n solvents, in parallel over threads. Results do not depend on the number of threads. */
DF_NODISCARD df_status df_ceilings_find(df_context *ctx, df_ceiling *ceiling, const df_dryer *dryer,
                                        const df_pairs *pairs, const df_substance *water,
                                        const df_substance *const *solvents, size_t n);

#ifdef __cplusplus
}
#endif
#endif
