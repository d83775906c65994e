/* dryfront/transient.h: model (b) of drying: one container in one dimension, transient, with the flow of gases through the
 * dried layer. The reference that model (a) (dryfront/drying.h) is tested against. docs/transient.md. */
#ifndef DRYFRONT_TRANSIENT_H
#define DRYFRONT_TRANSIENT_H

#include "dryfront/drying.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- gases in a porous body ----------------------------------------------------------------------------------- */

#define DF_MAX_GASES (DF_MAX_COMPONENTS + 1)

/* A gas. Viscosity: a Lennard-Jones molecule from its critical point, diameter 2.44 A (Tc/Pc)^(1/3) with Pc in atm, well
 * 0.77 Tc (Bird, Stewart & Lightfoot, Transport Phenomena, 2nd ed. 2006, section 1.4). Diffusion: Fuller's volume, of the
 * atoms in its formula. Water and air by themselves, docs/transient.md. */
typedef struct df_gas {
    double molar_mass; /* kg/mol */
    double diameter;   /* m */
    double well;       /* K, depth over Boltzmann's constant */
    double volume;     /* cm3/mol */
} df_gas;

df_gas df_gas_of(const df_substance *substance);
df_gas df_gas_air(void);
/* Pa s at T (K), Chapman-Enskog: 5/16 sqrt(M R T/pi)/(N_A d2 Omega), Omega by Neufeld, Janzen & Aziz, J. Chem. Phys. 57
 * (1972) 1100. */
double df_gas_viscosity(const df_gas *gas, double temperature);
/* Binary diffusivity times pressure, m2 Pa/s: 0.00143 T^1.75/(sqrt(M) (va^(1/3) + vb^(1/3))^2) cm2 bar/s, M = 2/(1/Ma + 1/Mb)
 * in g/mol (Fuller, Schettler & Giddings, Ind. Eng. Chem. 58 (1966) no. 5, 18, as in Poling, Prausnitz & O'Connell ch. 11). */
double df_gas_diffusivity(const df_gas *a, const df_gas *b, double temperature);

/* The pores of a dried layer beside its resistance to water vapour (df_cake). */
typedef struct df_pores {
    double radius; /* m, mean; it decides the viscous flow: 0 none */
    double
        openness; /* porosity over tortuosity, for the diffusion of one gas in another; INFINITY: they pass freely */
    double
        temperature; /* K at which the resistance is as stated: it grows with the root of T; 0: the same at every T */
} df_pores;

/* A set of gases with their transport properties, made once: powers of T through 200 and 300 K. */
typedef struct df_dusty {
    size_t n;
    df_pores pores;
    double molar_mass[DF_MAX_GASES], root[DF_MAX_GASES];    /* kg/mol; sqrt(Mw/M) */
    double viscosity[DF_MAX_GASES], thinning[DF_MAX_GASES]; /* Pa s at 250 K, exponent of T/250 K */
    double diffusivity[DF_MAX_GASES][DF_MAX_GASES];         /* m2 Pa/s at 250 K, times openness */
} df_dusty;

void df_dusty_make(df_dusty *out, const df_gas *gas, size_t n, const df_pores *pores);

/* m: the radius of round pores of that openness which have the resistivity (1/s, of water's mass flux at T) in the Knudsen
 * limit, D_K = 2/3 radius openness speed, at most the largest that the pores are said to have. */
double df_dusty_radius(const df_dusty *dusty, double resistivity, double temperature);

/* Slope of the partial pressures, Pa/m, against the direction of the mass fluxes (kg/(m2 s)) in a porous body: the
 * dusty-gas model (Mason & Malinauskas, Gas Transport in Porous Media: The Dusty-Gas Model, 1983)
 *     N_i/D_iK + sum_j (x_j N_i - x_i N_j)/D_ij = (1/(R T)) (dp_i/dz + p_i B0/(mu D_iK) dP/dz)
 * with D_iK = R T/(M_i r_i), r_i = resistivity sqrt(Mw/M_i) sqrt(T/T0)/share_i (resistivity, 1/s: of water's mass flux) and
 * B0 = 3 radius D_K/(16 mean speed), as in round pores of one radius. Thermal diffusion is left out.
 * share (may be NULL, ones): the share of the pores that is open to a gas. */
void df_dusty_slope(double *slope, const df_dusty *dusty, const double *pressure, const double *flux,
                    const double *share, double resistivity, double temperature);

/* ---- one container -------------------------------------------------------------------------------------------- */

/* What surrounds the container at one time. */
typedef struct df_around {
    double shelf, top;            /* K; top: what faces the open surface */
    double coefficient;           /* W/(m2 K) from the shelf, on shelf_area */
    double chamber[DF_MAX_GASES]; /* Pa, of the class's species in the order of its composition, air last */
} df_around;

typedef void (*df_surroundings)(df_around *out, double time, void *data);

typedef struct df_transient_boundary {
    df_surroundings at;
    void *data;
    const double *corner; /* s, ascending: where the surroundings bend sharply; no step passes over one */
    size_t corners;
    double shelf_area;                                  /* m2 */
    double room_area;                                   /* m2 of wall that the room warms */
    double room_temperature, room_diameter, room_frost; /* as of df_room_heat_flux */
    double port_diameter;                               /* m, as of df_port_conductance; 0: open */
    double
        headspace; /* m of gas between the mouth of the container and the open surface, through which vapour diffuses */
} df_transient_boundary;

typedef struct df_transient_options {
    size_t dry_cells, frozen_cells; /* even in volume: above the framework's front and below */
    double tolerance;               /* relative, of the time integration */
    double time_limit;              /* s */
    double pore_exponent;           /* m of phi^m */
    bool local_pockets; /* phi^m only where the framework still stands; else on the whole way, as in model (a) */
    df_pores pores;
    double dry_conductivity;                /* W/(m K) of the dried layer */
    double top_coefficient, top_emissivity; /* W/(m2 K); of radiation from `top` to the open surface */
    bool
        secondary; /* water that the class's solids hold (df_class.sorption) is followed, where ice is the framework */
    const double *profile; /* s, ascending: times at which profiles are kept */
    size_t profiles;
} df_transient_options;

/* 60 and 60 cells, 1e-4, 30 days, m 1.5, pores of 30 um and openness 0.6 with the resistance as stated at 245 K,
 * DF_DRY_CONDUCTIVITY, no heat from above, nothing bound: assumptions, docs/transient.md. */
void df_transient_defaults(df_transient_options *options);

typedef struct df_transient_moment {
    double time;                    /* s */
    double front, wall, surface;    /* K: framework's front, inside of the heated wall, open surface */
    double hottest;                 /* K, of what is frozen; the wall's once nothing is */
    double depth;                   /* m of the framework's front */
    double left[DF_MAX_COMPONENTS]; /* share of each species */
    double flow[DF_MAX_COMPONENTS]; /* kg/s from the species' front */
    double bound;                   /* kg per kg of solids, mean of the whole */
    double heat, top_heat;          /* W through the wall and through the open surface */
} df_transient_moment;

/* Middle of each cell at one time, from the open surface down. */
typedef struct df_transient_profile {
    double time;
    size_t points, dry; /* dry: how many lie above the framework's front */
    double *depth, *temperature;
    double *bound;                  /* kg per kg of solids */
    double *pressure[DF_MAX_GASES]; /* Pa in the pores of the dried layer, air last; 0 below the front */
} df_transient_profile;

typedef enum df_transient_end { DF_TRANSIENT_DRY, DF_TRANSIENT_TIME_LIMIT } df_transient_end;

typedef struct df_transient {
    df_transient_end end;
    double time;                            /* s */
    size_t species, framework;              /* framework: the species whose front is followed by the grid */
    double species_time[DF_MAX_COMPONENTS]; /* s until a species was gone, NAN: not reached */
    double time_dry;                        /* s until the last of them was */
    double hottest, hottest_time;           /* K, s; while a hundredth of the framework is there */
    double initial[DF_MAX_COMPONENTS], product[DF_MAX_COMPONENTS],
        vapour[DF_MAX_COMPONENTS];                        /* kg, bound water apart */
    double bound_initial, bound_product, bound_vapour;    /* kg */
    double heat_wall, heat_top, heat_vapour, heat_stored; /* J: in, in, carried off, gained by what is there */
    size_t moments;
    df_transient_moment *moment;
    size_t profiles;
    df_transient_profile *profile;
    double *profile_values; /* behind the profiles */
    long steps, evaluations, factorings;
} df_transient;

/* Dries one container of `class_` under the boundary until every species is gone (to 1e-5 of it) or the time limit.
 * DF_E_INPUT: a body that is not one-dimensional (a flask at rest), nothing volatile, cells or figures that cannot be;
 * DF_E_CONVERGENCE; DF_E_MEMORY. Free with df_transient_free. */
DF_NODISCARD df_status df_transient_run(df_context *ctx, df_transient *out, const df_class *class_,
                                        const df_transient_boundary *boundary, const df_transient_options *options);
void df_transient_free(df_transient *transient); /* takes NULL and an empty one */

/* Class `index` of a setup under what it met in a finished run of it: shelf and partial pressures from the start of the pump
 * on, when the class is as warm as the run found it. Times count from there. Takes pore exponent, time limit, what is bound
 * and the heat from above from the setup, and states the resistance at the run's mean front temperature; the rest comes from
 * `options`. Past the run's end its last moment holds; where bound water is followed, the replay ends with the run.
 * DF_E_INPUT also for a container that was put on or taken off on the way, and for a run without moments. */
DF_NODISCARD df_status df_transient_replay(df_context *ctx, df_transient *out, const df_setup *setup,
                                           const df_run *run, size_t index, const df_transient_options *options);

/* ---- where the two models agree ------------------------------------------------------------------------------- */

#define DF_RANGE_TIME 0.03       /* share of the drying time within which the models count as agreeing */
#define DF_RANGE_TEMPERATURE 0.5 /* K of the front */

/* How far model (b) would part from a run of model (a), estimated from that run without integrating anew: the resistances that
 * one has and the other has not, in shares of the whole, at the moment when half of the framework has left. Positive:
 * (b) has more. docs/transient.md has the estimate, and how it compares with what (b) gives. */
typedef struct df_transient_range {
    double headspace; /* diffusion through the gas between cake and mouth */
    double friction;  /* diffusion through that gas inside the cake */
    double viscous;   /* viscous flow in the pores: negative */
    double shape;     /* area that the vapour has on its way, against the front's alone */
    double ease;      /* share of such a resistance that reaches the rate: the rest is made good by a warmer front */
    double time, temperature; /* (b) over (a) less 1; K of the front, (b) less (a) */
    double solvent_time
        [DF_MAX_COMPONENTS]; /* the same for the time a component needs; NAN: not one that leaves before */
    double biot;             /* heat transfer to the wall times thickness over conductivity of the frozen layer */
    double warming;          /* time that heat needs through the frozen layer over the time of drying */
    bool agrees;             /* time and temperature are estimated within DF_RANGE_TIME and DF_RANGE_TEMPERATURE */
    bool solvents_agree;     /* and the times of what leaves before the framework */
    char reason[256];        /* a sentence on what parts them most; empty where nothing does */
} df_transient_range;

/* DF_E_INPUT: no such class, a run without moments or one that did not get half-way, a body that is not one-dimensional. */
DF_NODISCARD df_status df_transient_range_find(df_context *ctx, df_transient_range *out, const df_setup *setup,
                                               const df_run *run, size_t index, const df_pores *pores);

#ifdef __cplusplus
}
#endif
#endif
