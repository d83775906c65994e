/* What both models take a frozen body, its glass and its solutes to be. */
#include "drying/material.h"

#include <math.h>

#define GLASS_HEAT 830.0

double df_wetted_glass(const df_container *container, double volume) {
    return container->glass_mass * fmin(1.0, volume / container->brim_volume + 0.1) * GLASS_HEAT;
}

double df_solid_conductivity(const df_substance *substance) {
    return substance->is_water ? 2.0 : 0.25;
}

double df_condensed_ln(const df_substance *s, double t) {
    bool solid = s->crystallises == DF_CRYSTAL_READILY && t < s->melting_temperature;
    double total = solid ? df_solid_pressure(s, t) : df_liquid_pressure(s, t);
    return log(2.0 * total - df_monomer_pressure(s, t, total));
}
