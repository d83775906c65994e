/* How far a liquid can be undercooled before ice forms in it. */
#include "dryfront/mixture.h"

#include <math.h>

#define PURE_WATER 235.35 /* K: Zhang et al., J. Phys. Chem. B 108 (2004) 16717, -37.8 °C in an emulsion */
#define COLDEST 130.0     /* K */

static int ice_of(const df_mixture *m) {
    for (size_t k = 0; k < df_mixture_solids(m); k++) {
        int component = df_mixture_solid(m, k)->component;
        if (component >= 0 && df_mixture_component(m, (size_t)component)->is_water)
            return (int)k;
    }
    return -1;
}

/* Activity of water in the liquid, or in both liquids, without any solid, less that over ice. */
static df_status excess(df_context *ctx, double *out, df_assemblage *a, const df_mixture *m, double t,
                        const double *z, int ice) {
    const bool none[DF_MAX_SOLIDS] = {false};
    df_status status = df_mixture_equilibrium(ctx, a, m, t, z, none, false);
    if (status == DF_OK)
        *out = exp(a->activity_ln[df_mixture_solid(m, (size_t)ice)->component]) -
               exp(df_solid_constant_ln(m, (size_t)ice, t));
    return status;
}

df_status df_mixture_nucleation(df_context *ctx, double *temperature, const df_mixture *m, const double *z) {
    df_assemblage a;
    int ice = ice_of(m);
    *temperature = NAN;
    if (ice < 0)
        return DF_OK;
    double needed = 1.0 - exp(df_solid_constant_ln(m, (size_t)ice, PURE_WATER)), high = PURE_WATER + 1.0, here = 0.0;
    for (double low = PURE_WATER; low >= COLDEST; low -= 4.0) {
        df_status status = excess(ctx, &here, &a, m, low, z, ice);
        if (status != DF_OK)
            return status;
        if (here < needed) {
            high = low;
            continue;
        }
        while (high - low > 1e-3) {
            double middle = 0.5 * (low + high);
            status = excess(ctx, &here, &a, m, middle, z, ice);
            if (status != DF_OK)
                return status;
            *(here >= needed ? &low : &high) = middle;
        }
        *temperature = low;
        return DF_OK;
    }
    return DF_OK;
}
