/* Shared by the search for recipes: runs of one job under other set points, and how far they stay within the limits. */
#ifndef DRYFRONT_ADVICE_QUEST_H
#define DRYFRONT_ADVICE_QUEST_H

#include "advice/stand.h"
#include "dryfront/recipe.h"

#define DF_QUEST_ROUGH 1e-4 /* tolerance of trial runs */
#define DF_QUEST_GUARD 0.03 /* K by which trials stay within a limit, so that the finer run does, too */

/* More margin while evacuation and warming go on, where the quasi-steady model has its wall up to 2 K colder than model (b): the
 * limit of DF_QUEST_EARLY_TIME (s) is an assumption. */
#define DF_QUEST_EARLY 2.5 /* K */
#define DF_QUEST_EARLY_TIME 3600.0

/* A run need not go to the minute as computed: in trials the shelf is not raised for this share of the time, or this long, after a
 * class's solvent or framework has gone: 3 % is within what models (a) and (b) agree on. */
#define DF_QUEST_LATE 0.03
#define DF_QUEST_WAIT 600.0 /* s */

/* What all searches of a job share. Borrowed by its quests. */
typedef struct df_ground {
    df_context *ctx; /* of the quests' contexts the parent */
    df_tally *tally; /* of their runs; NULL: not counted */
    const df_job *job;
    const df_dryer *dryer;
    df_frozen_path path;
    df_deposit deposit;
    df_setup setup; /* on to the targets; events that nobody plans left out */
    size_t left_out;
    size_t framework;       /* of the composition's components */
    double framework_limit; /* K, highest at which the framework still stands in its liquid; NAN: none */
} df_ground;

/* How far the tightest limit is away. Not all are in K: choke and pressure are scaled so that a tenth counts as 1 K. */
typedef struct df_slack {
    double kelvin;
    df_bound bound;
    double time;
} df_slack;

/* Where the shelf was when what held it down last changed: when a class's solvent or framework had gone. */
typedef struct df_wait {
    double until, held; /* s, K */
    double shelf;       /* K, at the moment before; 0: there was none */
    bool wet, frozen;
} df_wait;

/* A run against the limits, followed moment by moment. */
typedef struct df_watch {
    double from;           /* s */
    df_slack slack, whole; /* tightest after `from`, and of all */
    double load;           /* highest framework's vapour over the set point */
    df_wait wait[DF_MAX_CLASSES];
    bool break_off, broken_off; /* stop at the first limit that is not kept; so it was */
    bool sound;                 /* false: the integration gave up, or broke off; there is no run */
} df_watch;

#define DF_QUEST_STOPS 64

/* Where a run of a quest stood at a corner of its recipe: a later one that is the same until then goes on from there. */
typedef struct df_quest_stop {
    df_mark *mark; /* NULL: none */
    df_recipe recipe;
    df_watch watch;
    double tolerance, guard, early, choke;
    bool wetted;
    long used; /* runs so far when it was last of use */
} df_quest_stop;

/* A search with its own context and setup, for one thread. */
typedef struct df_quest {
    df_context *ctx;
    const df_ground *ground;
    df_setup *setup;
    double coldest, warmest, ramp; /* K, K/s of the shelf */
    double guard;                  /* K */
    double early;                  /* K more in the first hour, of trials */
    double choke;                  /* share of sonic flow that is the limit */
    bool wetted;
    long runs;
    const df_run *run;   /* at hand */
    df_watch watch;      /* of it */
    df_quest_stop *stop; /* DF_QUEST_STOPS */
} df_quest;

df_status df_ground_prepare(df_context *ctx, df_ground *ground, const df_job *job, const df_dryer *dryer,
                            const df_pairs *pairs, bool whole);
/* A quest with a context of its own; DF_E_MEMORY. Close it in any case. */
df_status df_quest_open(df_quest *quest, const df_ground *ground);
void df_quest_close(df_quest *quest);

/* Runs a recipe until `until` (s), as far as it can from where an earlier run stood; quest->watch tells what became of the limits,
 * its slack from `from` (s, -INFINITY: the start) on. DF_E_CONVERGENCE counts as a run that breaks a limit: watch.sound is
 * false then, as where it broke off, and there is nothing to free. `tolerance` 0: the usual. The run has its first and
 * last moments alone. */
df_status df_quest_run(df_quest *quest, df_run *run, const df_recipe *recipe, double from, double until,
                       double tolerance, bool break_off);
/* The run of a recipe until `until` (s) at most against the limits with this guard (K); `tolerance` 0: the usual. A trial, with
 * another, breaks off where a limit is not kept. */
df_status df_quest_plan(df_quest *quest, df_recipe_plan *plan, double until, double tolerance, double guard);

/* ride.c: the fastest path at one pressure, and at `later` once no class has solvent left. plan->kept false and `worst` where there
 * is none. */
df_status df_quest_ride(df_quest *quest, df_recipe_plan *plan, df_slack *worst, double pressure, double later);

/* holds.c: the same in 1 to 3 holds at a pressure near that of the path. */
df_status df_quest_holds(df_quest *quest, df_recipe_plan hold[DF_MOST_HOLDS], const df_recipe_plan *path, double ramp,
                         bool free_pressure);

#endif
