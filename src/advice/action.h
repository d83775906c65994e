/* Shared by the files that look for routes: what work takes and costs, liquids made ready, actions put onto a job. */
#ifndef DRYFRONT_ADVICE_ACTION_H
#define DRYFRONT_ADVICE_ACTION_H

#include "advice/stand.h"
#include "dryfront/routes.h"

/* data/efforts.csv, in SI; costs in hours of a machine. */
typedef struct df_efforts {
    double strip_charge, strip_area, strip_coefficient, strip_bath, strip_approach, strip_floor, strip_condenser,
        strip_escape;
    double minutes_strip_load, minutes_strip_hour, minutes_make_up, minutes_vial, minutes_flask, minutes_tray,
        minutes_load, minutes_shell, minutes_nitrogen, minutes_recipe, minutes_refill, minutes_oil; /* s */
    double hours_refill, hours_turn;                                                                /* s */
    double finger_charge, ballast, trap_first, trap_second;
    double cost_hands_on, cost_vented, cost_margin, margin_enough, cost_wetted, cost_trap, cost_second_trap,
        cost_pump, cost_dryer, cost_container, cost_solvent, cost_nitrogen;
    double other_sigma;
} df_efforts;
df_status df_efforts_read(df_context *ctx, df_efforts *out);

/* A job's liquid after dilution, boiling down or exchange, ready to freeze. */
typedef struct df_liquid {
    bool possible;
    char why[160]; /* it is not */
    df_action action;
    df_composition composition;
    df_solute solute[DF_MAX_SOLUTES];
    double target[DF_MAX_COMPONENTS];
    df_residual_limit limit[DF_MAX_COMPONENTS];
    double volume; /* of the job's, liquids before mixing */
    df_boiling boiling[DF_ROUTE_BOILINGS];
    size_t boilings;
    const df_substance *boiled[DF_MAX_COMPONENTS];                  /* what was in the flask */
    double distilled[DF_MAX_COMPONENTS], vented[DF_MAX_COMPONENTS]; /* kg of each of them */
    size_t boileds;
    double time, hands_on; /* s */
    double added;          /* m3 of the added solvent */
    unsigned warns;
    df_frozen_path path;
    df_deposit deposit;
} df_liquid;

/* Makes the liquid of an action (NULL: as it is). What cannot be done is told in `why`, without an error. DF_E_MEMORY. */
df_status df_liquid_make(df_context *ctx, df_liquid *out, const df_action *action, const df_job *job,
                         const df_efforts *efforts, const df_substance *water, const df_pairs *pairs);

#define DF_MOST_ACTIONS 48

/* Line of the list of kinds: a route takes one of each. */
int df_action_slot(df_action_kind kind);
/* What is known of a job before actions are chosen: what cannot help is not offered. */
typedef struct df_offer {
    const df_substance *butanol;
    bool freezing; /* as loaded something is liquid still */
    bool glass;    /* the dried cake comes closer to its Tg than the margin, or nothing is known of it */
    bool pump;     /* solvent reaches the pump, or nothing is known of it */
} df_offer;
/* All that may be done with a job here; returns how many. */
size_t df_actions_list(df_action list[DF_MOST_ACTIONS], const df_routes_task *task, const df_efforts *efforts,
                       const df_offer *offer);

/* A job with some actions done. */
typedef struct df_plan {
    df_job job;
    df_dryer dryer;
    df_action action[DF_ROUTE_ACTIONS];
    size_t actions;
    const df_liquid *liquid;
    double hold; /* K; NAN: none. Its length is still to be found */
    long loads;
    double hands_on; /* s, but for what grows with the length of the run */
    double purchase; /* h */
    long more_containers;
    unsigned buys, warns;
    bool refills;
} df_plan;

/* Puts `n` actions onto the task's job. False where that cannot be done here. `liquid`: of the action on the liquid among
 * them, or as it is. */
bool df_plan_make(df_plan *out, const df_routes_task *task, const df_efforts *efforts, const df_liquid *liquid,
                  const df_action *const *action, size_t n);

#endif
