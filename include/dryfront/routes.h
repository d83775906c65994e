/* dryfront/routes.h: ways that bring a job to a dry product, weighed against each other; jobs and dryers side by side. */
#ifndef DRYFRONT_ROUTES_H
#define DRYFRONT_ROUTES_H

#include "dryfront/advice.h"

#ifdef __cplusplus
extern "C" {
#endif

#define DF_ROUTE_ACTIONS 3  /* most actions in one route */
#define DF_ROUTE_BOILINGS 3 /* most boilings down in one route */
#define DF_ROUTE_LARGEST 8  /* routes that are worked out in full */
#define DF_ROUTE_REFUSALS 8

/* What may be changed. A route takes at most one action of each line. */
typedef enum df_action_kind {
    DF_ACTION_DILUTE,
    DF_ACTION_STRIP,
    DF_ACTION_EXCHANGE, /* the liquid */
    DF_ACTION_FREEZE,
    DF_ACTION_SHELL, /* freezing */
    DF_ACTION_SPREAD,
    DF_ACTION_CONTAINER, /* what it is filled into */
    DF_ACTION_HOLD,
    DF_ACTION_SHELF,
    DF_ACTION_VACUUM,
    DF_ACTION_ONTO_SHELF, /* settings */
    DF_ACTION_RISE,       /* the last rise of the shelf */
    DF_ACTION_TRAP,
    DF_ACTION_SECOND_TRAP,
    DF_ACTION_DRY_PUMP,
    DF_ACTION_BALLAST,
    DF_ACTION_DRYER,
    DF_ACTIONS
} df_action_kind;
const char *df_action_name(df_action_kind kind); /* stable word, e.g. "second_trap" */

/* One action with its strength, in SI, as it came out in its route. */
typedef struct df_action {
    df_action_kind kind;
    /* Solvents together, volume fraction (dilute, exchange), or that of the main solvent (strip); K of coolant, shelf or trap;
     * m3 in a container (spread); Pa (vacuum); K/s (rise). */
    double from, to;
    double strength;           /* where `to` follows from the dryer: 0 at the far end of what it can do, to 1 */
    double hold;               /* s that a hold lasts */
    long passes;               /* of an exchange */
    const df_substance *added; /* by an exchange, beside water */
    df_means means;            /* of freezing */
    df_coolant coolant;        /* of a second trap */
    df_container container;    /* the larger one */
    size_t dryer;              /* of those offered */
} df_action;

/* One boiling down in a rotating flask. Time: heat over U A (bath - flask) along Rayleigh's path (df_strip_run). */
typedef struct df_boiling {
    double bath, flask;            /* K: the flask is held there by lowering the pressure */
    double pressure, end_pressure; /* Pa, at the start and at the end */
    double put_in, left;           /* kg, of all loads together: the weight at which to stop is `left` over `loads` */
    double volume, volume_left;    /* m3, liquids before mixing at 20 °C */
    double solvent_from, solvent_to; /* solvents together, volume fraction */
    double made_up;                  /* m3 of water (and what else is added) put in afterwards */
    double added;                    /* m3 of it that is the added solvent */
    double time;                     /* s, all loads one after the other */
    long loads;
} df_boiling;

/* Where a species went, kg over all loads. distilled: into the receiver of the rotating flask. */
typedef struct df_route_share {
    const df_substance *substance;
    double vented, trapped, oil, distilled;
} df_route_share;

/* What has to be had for a route; bits. */
enum {
    DF_BUY_TRAP = 1,
    DF_BUY_SECOND_TRAP = 2,
    DF_BUY_PUMP = 4,
    DF_BUY_CONTAINERS = 8,
    DF_BUY_SOLVENT = 16,
    DF_BUY_NITROGEN = 32,
    DF_BUY_DRYER = 64
};
/* What a route has to be warned of beside the sample's own cautions; bits. */
enum {
    DF_WARN_BOILING = 1,    /* solvent vapour, glass under vacuum */
    DF_WARN_PEROXIDE = 2,   /* peroxide formers are concentrated */
    DF_WARN_NITROGEN = 4,   /* liquid nitrogen: cold, takes the place of air, condenses oxygen */
    DF_WARN_EXHAUST = 8,    /* solvent leaves by the pump's exhaust */
    DF_WARN_CONDENSER = 16, /* boils too cold for the condenser that is assumed */
    DF_WARN_WETTED = 32,
    DF_WARN_LOADS = 64 /* one run after the other: what waits has to stay frozen */
};

typedef struct df_route {
    df_action action[DF_ROUTE_ACTIONS];
    size_t actions;
    df_boiling boiling[DF_ROUTE_BOILINGS];
    size_t boilings;
    df_job job; /* one load as it is run */
    df_dryer dryer;
    long loads; /* runs one after the other */
    df_standing standing;
    df_cause cause;
    char because[400];
    bool acceptable; /* for the purpose */
    double margin;   /* K, least (limit - hottest point); -INFINITY: it is never solid; NAN: no run */
    double run_time, strip_time, time; /* s: of one run; of boiling; all with what lies between loads */
    double hands_on;                   /* s */
    df_route_share share[DF_MAX_COMPONENTS];
    size_t shares;
    double vented; /* kg of solvents in all */
    double margin_sigma,
        chance;              /* K; of staying under the limit in all containers' worst class; NAN where it has none */
    df_standing best, worst; /* as in df_stand */
    unsigned buys, warns;
    long more_containers;
    double purchase, cost; /* h, see data/efforts.csv */
} df_route;

/* What a route misses by, if it does. */
typedef enum df_miss {
    DF_MISS_NONE,
    DF_MISS_MARGIN,
    DF_MISS_LIQUID,
    DF_MISS_FRAMEWORK,
    DF_MISS_DRY,
    DF_MISS_TRAP,
    DF_MISS_OIL
} df_miss;

/* What was to be done with the liquid and cannot be. */
typedef struct df_refusal {
    df_action action;
    char why[160];
} df_refusal;

/* What routes are weighed by: data/efforts.csv. Costs in hours of a machine. */
typedef struct df_route_weights {
    double hands_on, vented, margin, wetted; /* for an hour, a kg, a K that is missing, a run */
    double enough, other_sigma;              /* K */
} df_route_weights;

typedef struct df_routes {
    df_route_weights weights;
    df_route *route; /* by rising cost */
    size_t count;
    df_route *nearest; /* where there is no route: what comes nearest; NULL otherwise */
    df_miss miss;
    double missing; /* K; share by mass of liquid; share by volume of framework; share of the load left; kg; kg */
    df_standing as_it_is;
    df_cause as_it_is_cause;
    bool as_it_is_acceptable;
    df_refusal refusal[DF_ROUTE_REFUSALS];
    size_t refusals;
    size_t actions, combinations, runs; /* offered; looked at; simulated */
    size_t impossible;                  /* combinations that cannot be done here (place, brim, azeotrope, bath) */
    size_t unsolved;                    /* of them the simulation failed */
    size_t serving, dominated,
        alike; /* minimal routes found; dropped as dominated; as another strength of a cheaper one */
} df_routes;

typedef struct df_routes_task {
    const df_job *job;
    const df_dryer *dryer;
    const df_dryer *other;         /* more dryers that may be used */
    const char *const *other_name; /* as a job's file names them; NULL, or NULL for one: it has no such name */
    size_t others;
    const char *text; /* of the job's file, for its comments; NULL: none */
    bool exhaustive;  /* simulate every combination, for tests: the answer is the same */
    size_t most;      /* routes worked out in full and kept; 0: DF_ROUTE_LARGEST */
} df_routes_task;

/* Routes of a job. An action more is taken only where it brings a better standing: a combination counts where no part of
 * it does as well. Of those the dominated are dropped (time, hands on, solvent vented, margin up to what is enough, purchase;
 * a better standing is dominated by none worse), of the same actions in several strengths the cheapest is kept, and the
 * rest ranked by cost. Run by several threads; the answer does not depend on how many. Free with df_routes_free. DF_E_INPUT
 * where the job as it is cannot be run for a reason that no action mends; errors as df_stand_simulate. */
DF_NODISCARD df_status df_routes_find(df_context *ctx, df_routes *routes, const df_routes_task *task,
                                      const df_substances *substances, const df_pairs *pairs);
void df_routes_free(df_routes *routes); /* takes one that is all zero */

/* The job of a route with its dryer as they are to be written: the job names it. *own: it is another than any that has a name (its
 * trap or pump was changed), and takes a file of the name in the job, with .yaml. */
void df_route_take(df_job *job, df_dryer *dryer, bool *own, const df_route *route, const df_routes_task *task);

/* A job put onto another dryer: set points are brought into what its shelf reaches, pressures that it cannot hold are left
 * out, and so are events of traps that it has not. True where something had to be changed. */
bool df_job_adapt(df_job *job, const df_dryer *dryer);

/* One job on one dryer. */
typedef struct df_comparison {
    bool fits, adapted, simulated, acceptable;
    df_standing standing;
    df_cause cause;
    char because[400];           /* or why it does not fit */
    double time, primary_time;   /* s, NAN */
    double margin, margin_sigma; /* K */
    double vented;               /* kg of solvent */
} df_comparison;

/* Each of n jobs on each of m dryers (cell[job * m + dryer]), in parallel. Errors as df_stand_simulate, other than not fitting. */
DF_NODISCARD df_status df_compare(df_context *ctx, df_comparison *cell, const df_job *job, size_t n,
                                  const df_dryer *dryer, size_t m, const df_pairs *pairs);

#ifdef __cplusplus
}
#endif
#endif
