/* dryfront/recipe.h: the fastest set points of a job within its limits, the same in a few holds, and the design space of
 * primary drying. docs/recipe.md has the method, its assumptions and what it was checked against. */
#ifndef DRYFRONT_RECIPE_H
#define DRYFRONT_RECIPE_H

#include "dryfront/advice.h"

#ifdef __cplusplus
extern "C" {
#endif

/* What keeps the shelf from being warmer. */
typedef enum df_bound {
    DF_BOUND_NONE,
    DF_BOUND_PRODUCT,  /* hottest frozen point: its limit less the margin */
    DF_BOUND_GLASS,    /* dried cake: its glass transition less the margin */
    DF_BOUND_CHOKE,    /* sonic flow in the duct */
    DF_BOUND_PRESSURE, /* the framework's vapour alone is above the pressure that is to be held */
    DF_BOUND_SHELF,    /* the warmest that shelf or product may be */
    DF_BOUND_RAMP,     /* the shelf's fastest ramp */
    DF_BOUND_TRAP,     /* the trap is full of solid: no set point changes that */
    DF_BOUND_OIL,      /* the pump's oil takes up more solvent than it stands */
    DF_BOUND_TIME,     /* not dry within the time limit */
    DF_BOUNDS
} df_bound;
const char *df_bound_name(df_bound bound); /* stable word, e.g. "product" */

#define DF_HOLD_CHOKE 0.9     /* share of sonic flow that is the limit: assumption */
#define DF_HOLD_PRESSURE 1.05 /* times the set point up to which it counts as held, as in a run */

/* What is asked. NAN: the default. */
typedef struct df_recipe_task {
    double warmest;  /* K, of the shelf; default: the warmest set point of the job or 25 °C, whichever is more */
    double pressure; /* Pa, held throughout; 0: none; default: searched where the dryer holds one */
    double ramp;     /* K/s, of the ramps between holds; default: 0.5 K/min, or the shelf's where that is slower */
} df_recipe_task;

/* One recipe and what its run gave. */
typedef struct df_recipe_plan {
    df_recipe recipe;
    df_bound bound[DF_MAX_RECIPE]; /* of the path: what rules at each set point */
    double slow;                   /* K/s of a slow ramp to the last set point, behind the holds; 0: none */
    bool kept, dry;                /* every limit is kept; dry, and as dry as asked for, within the job's time */
    df_bound broken;               /* the limit that is not kept */
    double broken_time;            /* s, since when or where by most; NAN: all are kept */
    double time, primary_time;     /* s; primary_time NAN: not reached */
    double margin, glass_margin;   /* K, least over the run: limit less hottest point; INFINITY: none was met */
    double choke;                  /* highest, 0..1 */
    double load;                   /* highest framework's vapour over the set point; 0: none is held */
} df_recipe_plan;

#define DF_MOST_HOLDS 3

typedef struct df_recipe_advice {
    bool wetted;             /* rigid cannot be, the purpose accepts wetted: the framework is what is kept */
    double coldest, warmest; /* K, of the shelf */
    double shelf_ramp, ramp; /* K/s: the shelf's fastest, of the ramps between holds */
    bool searched;           /* the pressure was */
    df_recipe_plan own;      /* the job's recipe as it is */
    bool found;              /* a path was */
    df_recipe_plan path;     /* the fastest */
    df_recipe_plan hold[DF_MOST_HOLDS]; /* in 1, 2, 3 holds; kept and dry where there is one */
    size_t best;       /* of the holds: the fewest that come within DF_HOLD_WORTH of the fastest; 0: none */
    df_bound obstacle; /* where nothing was found */
    char because[400]; /* and why, in one sentence */
    size_t left_out;   /* events of the job that nobody plans (power cuts, vacuum breaks) */
    long runs;
} df_recipe_advice;

#define DF_HOLD_WORTH 0.03 /* of the time: what one more hold has to save: assumption */

/* Finds them. DF_E_INPUT: no container stands on a shelf, a warmest outside what the shelf reaches, a pressure that this dryer
 * cannot hold; errors as df_stand_simulate. That nothing is found is no failure. Results do not depend on the number of
 * threads. */
DF_NODISCARD df_status df_recipe_find(df_context *ctx, df_recipe_advice *advice, const df_job *job,
                                      const df_dryer *dryer, const df_pairs *pairs, const df_recipe_task *task);

/* The set points of a plan that go before its second hold: until the solvent has gone. False where it has but one hold, or the job
 * no solvent. */
bool df_recipe_before(df_recipe *first, const df_recipe_advice *advice, const df_job *job);

/* One recipe of a job, run and held against the same limits as above; `wetted` as in the advice. */
DF_NODISCARD df_status df_recipe_check(df_context *ctx, df_recipe_plan *plan, const df_job *job,
                                       const df_dryer *dryer, const df_pairs *pairs, const df_recipe *recipe,
                                       bool wetted);

/* ---- design space --------------------------------------------------------------------------------------------- */

#define DF_SPACE_MOST 80

/* Primary drying at one shelf temperature and pressure, from the start or behind what goes before. */
typedef struct df_space_cell {
    double time;    /* s, NAN: not dry within the job's time, or the framework is lost */
    double product; /* K, least (limit - margin - hottest point): 0 is the border; -INFINITY: never solid */
    double hottest; /* K, of what is frozen */
    double choke;   /* highest, 0..1 */
    double load;    /* highest framework's vapour over the pressure; 1.05 is the border */
    double trap;    /* K, warmest surface of the first trap */
    bool trap_full, oil_loaded;
    df_bound broken; /* DF_BOUND_NONE: allowed */
} df_space_cell;

typedef struct df_space {
    size_t shelves, pressures;
    double shelf[DF_SPACE_MOST], pressure[DF_SPACE_MOST]; /* K, Pa, ascending */
    df_space_cell *cell;                                  /* [pressure * shelves + shelf]; owned */
    double margin;                                        /* K */
    size_t fastest;                                       /* allowed cell of the shortest time; SIZE_MAX: none */
} df_space;

/* `first` (may be NULL): set points that go before, as until the solvent has gone; then the pressure is the
 * cell's and the shelf goes at its ramp to the temperature of the cell.
 *
 * Runs a grid of shelf temperatures and pressures, in parallel over threads; low and high in K and Pa, temperatures evenly,
 * pressures evenly in the logarithm. DF_E_INPUT: as df_recipe_find; a dryer that holds no pressure; fewer than 2 or more than
 * DF_SPACE_MOST. Free with df_space_free. */
DF_NODISCARD df_status df_space_find(df_context *ctx, df_space *space, const df_job *job, const df_dryer *dryer,
                                     const df_pairs *pairs, size_t shelves, double shelf_low, double shelf_high,
                                     size_t pressures, double pressure_low, double pressure_high,
                                     const df_recipe *first);
void df_space_free(df_space *space); /* takes an empty one */

#ifdef __cplusplus
}
#endif
#endif
