/* What the files of model (b) share: one container in one dimension, its grid and what follows from a state.
 *
 * Unknowns, all amounts where a balance holds for them, so that sums of them are conserved by the integrator to rounding:
 *   each cell: enthalpy (J), and bound water (kg) where it is followed
 *   mass of each species (kg), its flow (kg/s, algebraic); temperature of the framework's front (algebraic) and of the wall
 *   accounts: vapour of each species, of bound water (kg); heat through wall and surface, carried off (J)
 * The grid is even in volume on both sides of the framework's front and moves with it. The gas in the pores is taken as in
 * steady state and followed from the open surface down to each front. docs/transient.md has the equations. */
#ifndef DRYFRONT_DRYING_COLUMN_H
#define DRYFRONT_DRYING_COLUMN_H

#include "dryfront/transient.h"

#include <math.h>

enum { DF_COLUMN_CELLS = 2000 }; /* most */
#define DF_COLUMN_SKIN 1e-4      /* share of the body that is dry at the start: a front has two sides */

typedef struct df_column {
    const df_class *c;
    const df_frozen_path *path;
    const df_transient_boundary *b;
    const df_transient_options *o;
    df_dusty dusty, free_gas;              /* in the pores; over the open surface */
    size_t n, w, dry, cells, q;            /* species, framework, dry cells, cells, unknowns of a cell */
    double volume, thickness, side, flare; /* area(z) = (side + flare z)^2 */
    double initial[DF_MAX_COMPONENTS], share[DF_MAX_COMPONENTS];
    double solids, heat, glass; /* kg; J/K of the whole body's solids; J/K of the glass */
    double bound;               /* kg of bound water in the whole body at the start */
    double k_frozen, k_dry;
    double contact, room_area;      /* m2 */
    double port[DF_MAX_COMPONENTS]; /* Pa s/kg */
    double cake[DF_MAX_COMPONENTS]; /* Pa s/kg: a measure of the whole dried layer */
    double condensed[DF_MAX_COMPONENTS][DF_PATH_POINTS],
        vapour[DF_MAX_COMPONENTS][DF_PATH_POINTS]; /* J/kg; condensed: rising everywhere */
    double pure_ln[DF_MAX_COMPONENTS][DF_PATH_POINTS], bound_heat[DF_PATH_POINTS];
    double room_flux[DF_PATH_POINTS];
    double bound_saturated[DF_PATH_POINTS]; /* ln Pa over liquid water */
    bool gone[DF_MAX_COMPONENTS];
    size_t states, at_mass, at_flow, at_front, at_wall, at_vapour, at_bound, at_heat; /* heat: wall, top, vapour */
    df_around around;
    /* what follows from a state; faces are one more than cells */
    double left[DF_MAX_COMPONENTS], place[DF_MAX_COMPONENTS]; /* share left; share of the body above the front */
    double front, depth;                                      /* of the framework: share of the body above it, m */
    double opening[DF_MAX_COMPONENTS];                /* share of the pores that a species' vapour finds open */
    double *face, *face_z, *area, *centre_z, *centre; /* share of the body, m, m2, m, share */
    double *amount[DF_MAX_COMPONENTS];                /* kg in a cell */
    double *below[DF_MAX_COMPONENTS],
        *present
            [DF_MAX_COMPONENTS]; /* at a face: share of the species' vapour that comes from deeper; share present */
    double *temperature, *capacity; /* K, J/K */
    double surface;                 /* K */
    double *up;                     /* W through a face, upwards */
    double *release, *held; /* kg/s of bound water from a cell, and as it was when `flows` last looked at all */
    double *risen;          /* kg/s of bound water through a face */
    double *gain, *wetting; /* rates of the cells' unknowns */
    double gap[DF_MAX_COMPONENTS], balance; /* residuals of the fronts, Pa and W */
    double wall_gain, heat_wall, heat_top, heat_vapour, released;
    double pressure[DF_MAX_COMPONENTS]; /* at the fronts, Pa */
    double *store;
    long factorings;
} df_column;

/* A place in the path's tables; their first and last stretch go on beyond the ends. */
typedef struct df_spot_in {
    size_t k;
    double f;
} df_spot_in;

static inline df_spot_in df_spot_find(const df_frozen_path *p, double t) {
    double at = (t - p->lowest) / p->step;
    size_t k = at > 0.0 ? (size_t)fmin(at, 1e6) : 0;
    if (k > p->points - 2)
        k = p->points - 2;
    return (df_spot_in){k, at - (double)k};
}

static inline double df_table_in(const double *table, df_spot_in s) {
    return table[s.k] + s.f * (table[s.k + 1] - table[s.k]);
}

/* From the state: fronts, grid, contents, temperatures. */
void df_column_locate(df_column *s, const double *y);
/* Rates and residuals at the located state. `hold`: the bound water that rises from deeper stays as it was, only its own
 * release is felt by a cell, and the gas is not followed: for the Jacobian, where others would reach beyond a cell's
 * neighbours. */
void df_column_flows(df_column *s, const double *y, bool hold);
/* Bound water in a cell, kg. */
double df_column_bound(const df_column *s, const double *y, size_t cell);
/* Temperature at the front of a species: of the cells that its vapour comes from. */
double df_column_seat(const df_column *s, size_t species, double front_temperature);
/* Pa: nought where either the flow is nought and the pressure above the front too high for it, or the pressure is that at
 * rest (Fischer and Burmeister's function, rounded). */
double df_column_gap(const df_column *s, size_t species, double flow, double temperature);
/* Partial pressures right under the open surface, and how far the pores are open to each gas. */
void df_column_under_surface(double *p, double *open, const df_column *s, const double *flow);
/* Partial pressures p at the share `from` of the body carried to `to`. */
void df_column_climb(double *p, const df_column *s, const double *flow, const double *open, double from, double to,
                     double front_temperature);

#endif
