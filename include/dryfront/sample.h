/* dryfront/sample.h: what is in the containers, their shapes, how they are frozen and what freezing makes of them. */
#ifndef DRYFRONT_SAMPLE_H
#define DRYFRONT_SAMPLE_H

#include "dryfront/mixture.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- composition ---------------------------------------------------------------------------------------------- */

typedef enum df_basis { DF_BASIS_VOLUME, DF_BASIS_MASS, DF_BASIS_MOLE } df_basis; /* %v/v, %w/w, mol% */
const char *df_basis_name(df_basis basis);
/* What one mole counts in a basis: m3/mol of the pure liquid at 20 °C, kg/mol or 1. */
double df_basis_measure(const df_substance *substance, df_basis basis);

/* A liquid composition. Volumes are of the pure liquids before mixing, at 20 °C. */
typedef struct df_composition {
    size_t n;
    const df_substance *component[DF_MAX_COMPONENTS];
    double x[DF_MAX_COMPONENTS]; /* mole fractions, sum 1; a component of amount 0 is left out */
    df_basis basis;              /* as written */
    /* What was seen in this very sample: 1 its crystal (and hydrates) did form, -1 it stayed liquid, 0 as usual. */
    signed char seen[DF_MAX_COMPONENTS];
} df_composition;

/* Reads "acetonitrile 30 %v/v, trifluoroacetic acid 0.1 %v/v, water": one part may go without a number and takes the
 * rest. Water must be named ("water 0 %v/v" where there is none). `where` (may be NULL) stands before the sentence.
 * DF_E_INPUT: no parts, negative or non-finite number, mixed bases, sum not 100 % (within 0.01 %), no water, named
 * twice; DF_E_UNKNOWN_NAME with near names. */
DF_NODISCARD df_status df_composition_parse(df_context *ctx, df_composition *out, const df_substances *substances,
                                            const char *text, const char *where);
/* Writes a composition in its basis, water taking the rest, so that it reads back to the same mole fractions: with the fewest digits
 * that do, else with all seventeen after some trial; where none is found (not seen yet) to 1e-15. */
void df_composition_write(df_text *out, const df_composition *composition);
/* Rounds the amounts to so many significant digits of its basis; water, or what there is most of, takes the rest. */
void df_composition_round(df_composition *composition, int digits);
/* From fractions of the basis (normalised; parts of 0 are left out). */
void df_composition_set(df_composition *out, const df_substance *const *component, const double *fraction, size_t n,
                        df_basis basis);
/* Solids that may form in `mixture` (made of the composition's components in their order): by mode, then as seen. */
DF_NODISCARD df_status df_composition_allow(df_context *ctx, bool *allowed, const df_mixture *mixture,
                                            const df_composition *composition, df_freezing_mode mode);
/* Notes that a component (by any of its names) did crystallise in the sample, or stayed liquid. DF_E_UNKNOWN_NAME where the
 * composition does not hold it. */
DF_NODISCARD df_status df_composition_note(df_context *ctx, df_composition *composition,
                                           const df_substances *substances, const char *name, bool crystallised,
                                           const char *where);
/* Fractions of the basis, summing to 1. */
void df_composition_fractions(double *fraction, const df_composition *composition, df_basis basis);
/* kg in one m3 of the liquids before mixing at 20 °C (of all components together). */
double df_composition_density(const df_composition *composition);
double df_composition_molar_mass(const df_composition *composition); /* kg/mol, mean */

/* ---- solutes -------------------------------------------------------------------------------------------------- */

#define DF_MAX_SOLUTES 6
#define DF_SOLUTE_DENSITY 1400.0 /* kg/m3 of one that the user describes and gives no density: assumption */

/* What is to be dried. Named in data/solutes.csv or described by the user. */
typedef struct df_solute {
    char name[48];
    bool known; /* to the thermodynamics of freezing; `substance` then holds its row */
    df_substance substance;
    double concentration;        /* kg per m3 of fill */
    double critical_temperature; /* K: collapse, Tg' or eutectic of the frozen solute; NAN where unknown */
    char critical_kind[16];      /* "collapse", "Tg'", "eutectic", "stated", "" */
    double density;              /* kg/m3 */
    char key[32];                /* in data/solutes.csv; "" where the user described it */
    bool own;                    /* the user's own figures, from a file of theirs */
    bool crystallises;           /* its own crystal forms on freezing or drying; false: amorphous, or not known */
    double glass_temperature;    /* K, of the dry glass; NAN or 0 where unknown */
    double gordon_taylor;        /* weight of water in its Gordon-Taylor equation; NAN or 0 where unknown */
    char grade[16];     /* of the facts above: "measured" ... "from memory"; "" where the user described it */
    const char *source; /* of the critical temperature; owned by the set of substances, or a constant */
} df_solute;

/* Fills `out` from the solutes of the set (data/solutes.csv) by name; concentration 0. DF_E_UNKNOWN_NAME with near
 * names. */
DF_NODISCARD df_status df_solute_find(df_context *ctx, df_solute *out, const df_substances *substances,
                                      const char *name, const char *where);
/* Takes over a critical temperature (K) that the user states. The glass of a solute that does not crystallise is put there;
 * where none can lie there it is no longer `known`. */
void df_solute_state_critical(df_solute *solute, double temperature);

/* The mixture that freezes: the components of the composition in their order, then the solutes that are known and there,
 * as many as a mixture has room for; z (DF_MAX_COMPONENTS) gets the mole fractions. Errors as df_mixture_create. */
DF_NODISCARD df_status df_frozen_mixture(df_context *ctx, df_mixture **mixture, double *z, const df_pairs *pairs,
                                         const df_composition *composition, const df_solute *solutes, size_t n);

/* ---- containers ----------------------------------------------------------------------------------------------- */

typedef enum df_container_kind { DF_VIAL, DF_FLASK, DF_TUBE, DF_TRAY } df_container_kind;

const char *df_container_kind_name(df_container_kind kind); /* "vial", "flask", "tube", "tray" */

/* A container type: data/containers.csv, or the user's own. */
typedef struct df_container {
    char key[32], name[64];
    df_container_kind kind;
    double inner_diameter, outer_diameter; /* m; of the sphere for a flask; equivalent circle for a tray */
    double brim_volume;                    /* m3 */
    double wall;                           /* m */
    double glass_mass;                     /* kg, of the empty container */
    double port_diameter;                  /* m, narrowest opening towards the chamber */
    bool own;                              /* the user's own figures */
    char source[160];
} df_container;

/* The containers known to a program run: the built-in ones and the user's own. Read only once it is made. */
typedef struct df_containers df_containers;

/* Loads data/containers.csv. DF_E_MEMORY; DF_E_INPUT names the row of a faulty data file. */
DF_NODISCARD df_status df_containers_create(df_context *ctx, df_containers **containers);
/* A copy that may be extended by itself. DF_E_MEMORY. */
DF_NODISCARD df_status df_containers_copy(df_context *ctx, df_containers **copy, const df_containers *containers);
/* Adds the user's own from a YAML text (docs/sample.md); `name` stands in sentences. All of them or none. DF_E_INPUT, also where
 * a key or name is one that is there already. */
DF_NODISCARD df_status df_containers_extend(df_context *ctx, df_containers *containers, const char *buffer,
                                            size_t length, const char *name);
/* Notes that a file of the user's with `name` in it was left out, and why: df_container_find says so when it is asked for. */
DF_NODISCARD df_status df_containers_leave_out(df_context *ctx, df_containers *containers, const char *name,
                                               const char *why);
void df_containers_free(df_containers *containers); /* takes NULL */
size_t df_containers_count(const df_containers *containers);
const df_container *df_containers_at(const df_containers *containers, size_t index);
/* By key or name, among the built-in ones alone where `containers` is NULL. DF_E_UNKNOWN_NAME with the nearest names; `where`
 * (may be NULL) stands before the sentence. */
DF_NODISCARD df_status df_container_find(df_context *ctx, df_container *out, const df_containers *containers,
                                         const char *name, const char *where);

/* How the sample lies in the container. */
typedef enum df_lie {
    DF_LIE_REST,
    DF_LIE_SHELL
} df_lie; /* at rest: slab or spherical segment; shell: turned flask or tube */

#define DF_SHAPE_POINTS 65

/* A frozen body that dries from its free surface. Tables over the fraction of the volume that is left, evenly spaced
 * from 0 to 1 (index DF_SHAPE_POINTS - 1 = all left). */
typedef struct df_shape {
    df_lie lie;
    df_container_kind kind;
    double volume;                   /* m3 */
    double thickness;                /* m, greatest depth from the free surface to the heated wall */
    double heated_area;              /* m2, of wall behind the full body */
    double free_area;                /* m2, surface it dries from at the start */
    double depth[DF_SHAPE_POINTS];   /* m, of the front below the free surface */
    double area[DF_SHAPE_POINTS];    /* m2, of the front */
    double path[DF_SHAPE_POINTS];    /* m, mean way of heat from wall to front */
    double contact[DF_SHAPE_POINTS]; /* m2, of wall behind what is left */
} df_shape;

/* Shape of `volume` (m3, frozen) in a container. Slab: vial, tube, tray (dries from its top; in freezing
 * an upright vial or tube off a shelf counts as a cylinder where that is the faster way); spherical segment: flask at rest; spherical
 * shell of even thickness over 70 % of the sphere: turned flask (coverage: common practice, no source); hollow cylinder over
 * 90 % of the length: turned tube (assumption). DF_E_INPUT: volume not positive, more than the brim, a shell asked of a vial
 * or a tray. */
DF_NODISCARD df_status df_shape_make(df_context *ctx, df_shape *out, const df_container *container, double volume,
                                     df_lie lie, const char *where);

/* ---- freezing ------------------------------------------------------------------------------------------------- */

typedef enum df_means { DF_MEANS_FREEZER, DF_MEANS_DRY_ICE_BATH, DF_MEANS_LIQUID_NITROGEN, DF_MEANS_SHELF } df_means;
const char *df_means_name(df_means means); /* "freezer", "dry_ice_bath", "liquid_nitrogen", "shelf" */

/* How heat leaves the container's outside. */
typedef struct df_cooling {
    df_means means;
    double temperature; /* K, of the air, bath, boiling nitrogen or shelf */
} df_cooling;

/* Usual temperature of a means, K: freezer -20 °C... see docs/sample.md. */
double df_means_temperature(df_means means);
/* Outer heat-transfer coefficient (W/(m2 K)) at a wall temperature (K): freezer: natural convection and radiation; bath:
 * liquid convection; nitrogen: film boiling above, nucleate boiling below the wall temperature where the film breaks;
 * shelf: contact. Sources in docs/sample.md. */
double df_cooling_coefficient(const df_cooling *cooling, const df_container *container, double wall_temperature);

#define DF_PATH_POINTS 281

/* The frozen sample against temperature, evenly spaced upwards from `lowest` by `step`. Built once for a composition;
 * `liquid` is what is still (or again) liquid. All per kg of volatiles in the original composition; of solutes only what
 * they do to the volatiles, the heat of their crystals and their volume in the share of solid are in it. */
typedef struct df_frozen_path {
    size_t n;            /* components that have a vapour */
    int water;           /* which of them is water, -1: none */
    double lowest, step; /* K */
    size_t points;
    double liquidus, solidus;           /* K, NAN where none */
    double enthalpy[DF_PATH_POINTS];    /* J/kg, liquid at 273.15 K = 0 */
    double liquid_mass[DF_PATH_POINTS]; /* of the volatiles, by mass; a liquid below its glass temperature is solid */
    double solid_volume[DF_PATH_POINTS];                   /* fraction of the body's volume that is solid framework */
    double pressure_ln[DF_MAX_COMPONENTS][DF_PATH_POINTS]; /* ln Pa of formula pressure: p1 + 2 p2 for an acid */
    double species_enthalpy[DF_MAX_COMPONENTS][DF_PATH_POINTS]; /* J/kg condensed, liquid at 273.15 K = 0 */
    double species_liquid[DF_MAX_COMPONENTS][DF_PATH_POINTS];   /* fraction of the species that is liquid */
    double volume_fraction[DF_MAX_COMPONENTS];                  /* of the frozen body at its coldest point */
    double frozen_density; /* kg of volatiles per m3 of frozen body at its coldest point */
    df_pair_grade grade;
} df_frozen_path;

/* Follows the composition between 160 K and 300 K with the solids that form in practice (or all), in a mixture of
 * df_frozen_mixture with mole fractions z. */
DF_NODISCARD df_status df_frozen_path_follow(df_context *ctx, df_frozen_path *out, const df_mixture *mixture,
                                             const double *z, const df_composition *composition,
                                             df_freezing_mode mode);
/* The same without solutes. */
DF_NODISCARD df_status df_frozen_path_make(df_context *ctx, df_frozen_path *out, const df_pairs *pairs,
                                           const df_composition *composition, df_freezing_mode mode);

#define DF_AT_ONCE 2.0 /* K between liquidus and solidus: for their bands both are looked for anew, not followed */
/* One standard deviation (K) of a path's liquidus and of its effective solidus `solidus` (K), carried through from the
 * pairs (df_mixture_spread); NAN where there is none or it could not be followed. Errors as df_frozen_path_make. */
DF_NODISCARD df_status df_frozen_path_spread(df_context *ctx, double *liquidus_sigma, double *solidus_sigma,
                                             const df_frozen_path *path, const df_mixture *mixture, const double *z,
                                             const df_composition *composition, df_freezing_mode mode,
                                             double solidus);
/* Joint moves for what a run of the dryer rests on: the effective solidus `solidus` (K, NAN: none), and at two temperatures
 * 10 K apart, from the solidus on or from 228 K, the pressure in all and the share of liquid. Errors as df_moves_make. */
DF_NODISCARD df_status df_frozen_moves(df_context *ctx, df_moves *moves, const df_mixture *mixture, const double *z,
                                       const df_composition *composition, df_freezing_mode mode, double solidus,
                                       size_t most);
/* Linear interpolation in a table of the path at T (held at its ends). */
double df_frozen_path_at(const df_frozen_path *path, const double *table, double temperature);

/* Result of freezing one container. */
typedef struct df_freezing_result {
    double time_to_solid;     /* s until the slowest point is below the liquidus by 1 K */
    double time_to_target;    /* s until the slowest point is at the target */
    double target;            /* K */
    double reached;           /* K, coldest the slowest point can get */
    double outer_coefficient; /* W/(m2 K) at the start */
    bool complete;            /* the target lies above the coolant */
} df_freezing_result;

/* Time to freeze by the enthalpy method in one dimension: implicit finite volumes over the body's thickness (slab cooled
 * from one side, shell cooled from outside, segment as the slab of equal volume and wall area), temperature-dependent
 * frozen fraction from the path, frozen and liquid conductivity mixed by volume, glass wall in series with the outer
 * coefficient. Checked against the Neumann solution. start and target in K. */
DF_NODISCARD df_status df_freeze(df_context *ctx, df_freezing_result *out, const df_frozen_path *path,
                                 const df_container *container, const df_shape *shape, const df_cooling *cooling,
                                 double start, double target);

/* The solver under df_freeze, for any body: `nodes` cells of a slab (curvature 0), cylinder (1) or sphere (2) between
 * inner radius (or 0) and outer radius (m), insulated inside, cooled outside through `resistance`(m2 K/W) to `coolant`.
 * Tables of enthalpy (J/m3, strictly rising) and conductivity (W/(m K)) against temperature. Runs until the inner cell
 * is at `target` or `limit` seconds; gives the time and the final temperatures (nodes, may be NULL). */
typedef double (*df_coolant_resistance)(double wall_temperature, void *data);
DF_NODISCARD df_status df_freeze_body(df_context *ctx, double *time, double *temperatures, size_t nodes,
                                      int curvature, double inner, double outer, const double *table_temperature,
                                      const double *table_enthalpy, const double *table_conductivity, size_t points,
                                      double start, double target, double coolant, double limit,
                                      df_coolant_resistance resistance, void *data);

#ifdef __cplusplus
}
#endif
#endif
