/* dryfront/secondary.h: what a dried cake still holds, how it leaves, how warm the cake may get, what limits apply. Part of
 * the room drying; docs/secondary.md has the equations, sources and assumptions. */
#ifndef DRYFRONT_SECONDARY_H
#define DRYFRONT_SECONDARY_H

#include "dryfront/sample.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- sorption ------------------------------------------------------------------------------------------------- */

#define DF_SORPTION_REFERENCE 298.15 /* K, of rates and isotherms */

/* What a dried cake holds of one species, per kg of dry solutes. data/sorption.csv. */
typedef struct df_sorption {
    double
        unfrozen; /* kg/kg: water that does not freeze out (Wg'), dissolved in the solutes when the front comes; 0 else */
    double bound; /* kg/kg left in the cake when the front has passed; never more than was there */
    double bound_sigma_ln;
    double tight; /* kg/kg of the above that a cake never warmer than DF_SORPTION_TIGHT was found to keep */
    double rate;  /* 1/s at the reference temperature; 0 where known is false */
    double rate_sigma_ln;
    double activation, activation_sigma; /* J/mol */
    double monolayer, gab_c,
        gab_k;   /* GAB isotherm: kg/kg against activity p/p_liquid(T); monolayer 0: no hold (C* = 0) */
    double heat; /* J/kg over vaporisation of the liquid: R T ln(C K)/M of the first layer, 0 if unknown */
    bool stated; /* set by the caller where the user stated the figures */
    bool known;  /* false: no rate is published: from nothing to all that was caught may be left */
    char grade[16], source[256]; /* the worst grade and the source of what weighs most */
} df_sorption;

#define DF_SORPTION_TIGHT 308.15 /* K: see `tight`; assumption, drying at 25 °C is what was measured */

/* The constants of `species` for a cake of these solutes, weighted by concentration (kg/m3; equal shares where all are 0).
 * Monolayers add (additive isotherms: Foster, Bronlund & Paterson, Int. Dairy J. 15 (2005) 411); C, K and ln k are weighted
 * by what each solute holds. A solute that is not in the table counts as amorphous, or crystalline where it crystallises,
 * with that row's wide band; without any solute nothing is held. DF_E_INTERNAL: a faulty table. */
DF_NODISCARD df_status df_sorption_find(df_context *ctx, df_sorption *out, const df_solute *solute, size_t solutes,
                                        const df_substance *species);

double df_sorption_rate(const df_sorption *sorption, double temperature); /* 1/s, Arrhenius */
/* One standard deviation of ln of it: rate and activation energy together. */
double df_sorption_rate_sigma_ln(const df_sorption *sorption, double temperature);
/* C*, kg/kg, at an activity (taken within 0 and 1): GAB, m C K a/((1 - K a)(1 - K a + C K a)) (Guggenheim, Anderson, de
 * Boer; as in Timmermann, Chirife & Iglesias, J. Food Eng. 48 (2001) 19). K a is held below 0.98. */
double df_sorption_equilibrium(const df_sorption *sorption, double activity);
/* Partial pressure (Pa) over that of the liquid at T, within 0 and 1. */
double df_sorption_activity(const df_substance *species, double pressure, double temperature);

/* dC/dt = -k(T)(C - C*) at constant T and activity: kg/kg left of `start` after `time` (s). */
double df_sorption_left(const df_sorption *sorption, double start, double temperature, double activity, double time);
/* Seconds from `start` to `target`: 0 where it is there already, INFINITY at or below C* or without a rate. */
double df_sorption_time(const df_sorption *sorption, double start, double target, double temperature,
                        double activity);
/* Lowest temperature (K, 150 to 400) at which `target` is reached within `time` at a partial pressure; NAN: none. */
double df_sorption_temperature(const df_sorption *sorption, const df_substance *species, double start, double target,
                               double pressure, double time);

/* A residual with its band of two standard deviations (about 95 %), kg/kg. */
typedef struct df_residual {
    double low, likely, high; /* likely: NAN where no rate is known */
} df_residual;

/* What is left of `start` (kg/kg, what was bound) after an exposure (integral of k dt, no unit) at C* = equilibrium, most of
 * it at `temperature`; `hottest` the cake ever was. ln of what was bound and ln of k vary independently; their ends are
 * taken one by one and added as squares. Never below C* (or `start`, if less). Without a rate: from C* to all that may be
 * caught. `most` (kg/kg) is all that was there: nothing above it. */
void df_sorption_band(df_residual *out, const df_sorption *sorption, double start, double most, double exposure,
                      double equilibrium, double temperature, double hottest);

/* ---- glass ---------------------------------------------------------------------------------------------------- */

/* K, Tg of the amorphous part of a cake with `water` kg per kg of all solutes, by Gordon-Taylor (J. Appl. Chem. 2 (1952)
 * 493) with a weight 1/k for each solute. Crystalline solutes take no part and take up no water. *sigma (may be NULL): one
 * standard deviation, K. NAN where a tenth or more of the amorphous part has no dry glass temperature, or there is none. */
double df_moist_glass(const df_solute *solute, size_t solutes, double water, double *sigma);
/* Water (kg/kg of all solutes) at which that Tg equals `temperature` + margin: drier is rigid. 0 where even the dry glass is
 * softer, NAN where df_moist_glass is. */
double df_glass_water(const df_solute *solute, size_t solutes, double temperature, double margin);

/* Highest constant ramp (K/s) of the product from `start` to `end` (K) under a partial pressure of water (Pa) that keeps the
 * product `margin` below its Tg while it dries from `water` kg/kg. INFINITY: no glass limits it; 0: no ramp does, for the
 * glass is too soft at the start or stays too soft at the end however slowly. */
double df_glass_ramp(const df_solute *solute, size_t solutes, const df_sorption *sorption, const df_substance *water,
                     double amount, double start, double end, double pressure, double margin);

/* One point of the fastest way down. */
typedef struct df_glass_point {
    double time, temperature, water; /* s, K of the product, kg/kg */
} df_glass_point;

/* The fastest drying from `amount` to `target` (kg/kg) that the glass allows: at each moisture the product is as warm as
 * Tg - margin, at most `warmest` (K), under a partial pressure of water (Pa):
 *     t = integral of dC/(k(T)(C - C*)), T = min(Tg(C) - margin, warmest)
 * Writes n >= 2 points evenly spaced in ln(C - C* at the warmest) and returns the time (s); the shelf must follow that way.
 * INFINITY where `target` is not above C* somewhere on the way, or no rate is known; 0 and equal points where it is reached. */
double df_glass_ride(df_glass_point *point, size_t n, const df_solute *solute, size_t solutes,
                     const df_sorption *sorption, const df_substance *water, double amount, double target,
                     double pressure, double warmest, double margin);

/* ---- limits --------------------------------------------------------------------------------------------------- */

typedef enum df_residual_class {
    DF_RESIDUAL_CLASS_1,  /* to be avoided */
    DF_RESIDUAL_CLASS_2,  /* to be limited */
    DF_RESIDUAL_CLASS_3,  /* low toxic potential */
    DF_RESIDUAL_NO_DATA,  /* named by the guideline without a limit: the maker justifies what is left */
    DF_RESIDUAL_UNLISTED, /* not named by the guideline */
    DF_RESIDUAL_STATED    /* the user's own limit */
} df_residual_class;
const char *df_residual_class_name(df_residual_class class_); /* "class 2", "no limit: ...", "stated" */

/* How much of a species may be left, kg per kg of product. data/residual_limits.csv (ICH Q3C). */
typedef struct df_residual_limit {
    df_residual_class class_;
    double limit; /* kg/kg; NAN: none */
    double daily; /* kg a day (PDE); NAN: none */
    char revision[64], grade[16], source[256];
} df_residual_limit;

/* The guideline's limit of a substance; DF_OK with DF_RESIDUAL_UNLISTED where it names none. The limit is that of the
 * guideline's option 1, at 10 g of product a day. DF_E_INTERNAL: a faulty table. */
DF_NODISCARD df_status df_residual_limit_find(df_context *ctx, df_residual_limit *out, const df_substance *substance);
/* The user's own limit (kg/kg, above 0, at most 1) in its place. DF_E_INPUT. */
DF_NODISCARD df_status df_residual_limit_state(df_context *ctx, df_residual_limit *out, double limit,
                                               const char *where);
/* kg/kg at a daily dose (kg of product a day): the PDE over the dose; NAN without a PDE. */
double df_residual_limit_at_dose(const df_residual_limit *limit, double dose);

typedef enum df_residual_verdict { DF_RESIDUAL_BELOW, DF_RESIDUAL_ABOVE, DF_RESIDUAL_UNTOLD } df_residual_verdict;
const char *df_residual_verdict_name(df_residual_verdict verdict); /* "below", "above", "cannot be told" */
/* Below where the whole band is at or under the limit, above where all of it is over it; else, and where anything is not
 * finite, it cannot be told. */
df_residual_verdict df_residual_compare(const df_residual *residual, double limit);

#ifdef __cplusplus
}
#endif
#endif
