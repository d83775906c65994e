/* How far a liquid can be undercooled before ice forms in it. */
#include "dryfront/mixture.h"

#include <math.h>

#define PURE_WATER 235.35 /* K: Zhang et al., J. Phys. Chem. B 108 (2004) 16717, -37.8 °C in an emulsion */
#define STEP 4.0          /* K */
#define COLDEST 130.0     /* K */

static int ice_of(const df_mixture *m) {
    for (size_t k = 0; k < df_mixture_solids(m); k++) {
        int component = df_mixture_solid(m, k)->component;
        if (component >= 0 && df_mixture_component(m, (size_t)component)->is_water)
            return (int)k;
    }
    return -1;
}

typedef struct undercooled {
    const df_mixture *mixture;
    const double *z;
    size_t ice;
    double needed; /* excess of water's activity */
} undercooled;

/* Whether the activity of water in the liquid, or in both liquids, without any solid, exceeds that over ice by what is needed. */
static df_status nucleates(df_context *ctx, int *yes, double t, void *data) {
    static const bool none[DF_MAX_SOLIDS] = {false};
    const undercooled *u = data;
    df_assemblage a;
    df_status status = df_mixture_equilibrium(ctx, &a, u->mixture, t, u->z, none, false);
    if (status == DF_OK)
        *yes = exp(a.activity_ln[df_mixture_solid(u->mixture, u->ice)->component]) -
                   exp(df_solid_constant_ln(u->mixture, u->ice, t)) >=
               u->needed;
    return status;
}

df_status df_mixture_nucleation(df_context *ctx, double *temperature, const df_mixture *m, const double *z) {
    int ice = ice_of(m);
    *temperature = NAN;
    if (ice < 0)
        return DF_OK;
    undercooled u = {m, z, (size_t)ice, 1.0 - exp(df_solid_constant_ln(m, (size_t)ice, PURE_WATER))};
    return df_highest_with(ctx, temperature, COLDEST, PURE_WATER + STEP, STEP, nucleates, &u);
}
