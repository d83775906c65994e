/* What a solute without vapour and water are to each other. */
#include "dryfront/substance.h"

#include <math.h>

#define WATER_DENSITY 1000.0 /* kg/m3, for the rule of Simha and Boyer */

double df_glass_weight(double density, double glass_temperature) {
    return WATER_DENSITY * DF_WATER_GLASS / (density * glass_temperature);
}

/* Mole fraction of particles from a mass fraction of solute in water. */
static double particle_fraction(const df_substance *solute, const df_substance *water, double w) {
    double a = w / solute->molar_mass, b = (1.0 - w) / water->molar_mass;
    return a / (a + b);
}

double df_involatile_water_weight(const df_substance *s) {
    double k = s->involatile.gordon_taylor;
    return k > 0.0 ? k : 1.0 / df_glass_weight(df_solid_density(s, 293.15), s->glass_temperature);
}

double df_involatile_anchor_fraction(const df_substance *s, const df_substance *water) {
    const df_involatile *v = &s->involatile;
    if (!isnan(v->anchor_fraction))
        return v->anchor_fraction;
    if (v->anchor_is_glass) { /* Gordon-Taylor solved for the water at Tg = anchor: w1 (Tg1 - T) = k w2 (T - Tg2) */
        double up = s->glass_temperature - v->anchor_temperature,
               down = df_involatile_water_weight(s) * (v->anchor_temperature - DF_WATER_GLASS);
        return down / (up + down);
    }
    double x = 1.0 - exp(df_solid_liquid_ratio_ln(water, v->anchor_temperature)); /* the ideal ice branch */
    return x * s->molar_mass / (x * s->molar_mass + (1.0 - x) * water->molar_mass);
}

double df_involatile_margules(double *x, const df_substance *solute, const df_substance *water) {
    double w = df_involatile_anchor_fraction(solute, water);
    *x = particle_fraction(solute, water, w);
    return (df_solid_liquid_ratio_ln(water, solute->involatile.anchor_temperature) - log1p(-*x)) / (*x * *x);
}
