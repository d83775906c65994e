/* dryfront/mixture.h: activity in liquid mixtures, the phases that freezing makes, the vapour over them. */
#ifndef DRYFRONT_MIXTURE_H
#define DRYFRONT_MIXTURE_H

#include "dryfront/substance.h"

#ifdef __cplusplus
extern "C" {
#endif

#define DF_MAX_COMPONENTS 10
#define DF_MAX_SOLIDS 24
#define DF_MAX_LIQUIDS 4

/* How a pair's activity model was obtained, best first. Carried to the user with every number that rests on it. */
typedef enum df_pair_grade { DF_PAIR_COLD, DF_PAIR_WARM, DF_PAIR_PREDICTED, DF_PAIR_IDEAL } df_pair_grade;
/* "fitted to cold data", "fitted to warm data only", "predicted", "ideal". */
const char *df_pair_grade_name(df_pair_grade grade);

#define DF_COLD_TERMS 3
#define DF_PAIR_PARAMETERS 9

#define DF_PAIR_DRAWS 128

/* Covariance of the parameters a pair was fitted with. They are, with t = 273.15 K/T - 1 and l = ln(T/273.15 K):
 *     tau_ij = v0 + v1 t + v4 l,  tau_ji = v2 + v3 t + v5 l,  cold_k = v(6 + k)
 * Only the n parameters in use stand here. `column` holds a square root of the covariance, column by column:
 * moving the parameters along each of them by one is one standard deviation in n independent directions. `draw`: DF_PAIR_DRAWS
 * differences of all parameters from the fit, drawn by its own objective (docs/trust.md), so that none of them leaves what
 * the measured points allow, as a straight line does; owned by the df_pairs, NULL: none. */
typedef struct df_pair_covariance {
    size_t n;
    int parameter[DF_PAIR_PARAMETERS];
    double column[DF_PAIR_PARAMETERS][DF_PAIR_PARAMETERS]; /* [column][row] */
    const double (*draw)[DF_PAIR_PARAMETERS];              /* [draw][parameter] */
} df_pair_covariance;

/* Parameters of one pair: NRTL with tau = a + b/T + c ln T, G = exp(-alpha tau) (Renon & Prausnitz, AIChE J. 14 (1968)
 * 135; index 0: i over j, 1: j over i), plus a correction of Redlich-Kister form (Ind. Eng. Chem. 40 (1948) 345) that
 * grows in the cold and vanishes at 360 K, so that published warm parameters keep their meaning:
 *     GE/RT += x_i x_j f(T) sum_k cold_k (x_i - x_j)^k,   f = 273.15/T - 273.15/360   (0 above 360 K) */
typedef struct df_nrtl_pair {
    double a[2], b[2], c[2], alpha;
    double cold[DF_COLD_TERMS];
    double lowest, highest; /* K, range of the data behind it; NAN where not stated */
    df_pair_grade grade;
    const char *source;
    const df_pair_covariance *covariance; /* owned by the df_pairs; NULL: the spread that goes with the grade holds */
    bool reversed;                        /* the covariance is that of (j over i) */
    double anchor_x; /* solute with water: its mole fraction at the point that fixes them, otherwise 0 */
} df_nrtl_pair;

/* Pair parameters, group contributions and hydrates known to a program run. */
typedef struct df_pairs df_pairs;
DF_NODISCARD df_status df_pairs_create(df_context *ctx, df_pairs **pairs);
void df_pairs_free(df_pairs *pairs); /* takes NULL */

/* Parameters of the pair (i over j): the fitted row where there is one, otherwise NRTL fitted to modified UNIFAC
 * (Dortmund) between 230 K and 390 K, otherwise ideal. */
void df_pairs_get(df_nrtl_pair *out, const df_pairs *pairs, const df_substance *i, const df_substance *j);
/* ln of the activity coefficients of n substances by modified UNIFAC (Dortmund) (Weidlich & Gmehling, Ind. Eng. Chem.
 * Res. 26 (1987) 1372; Gmehling, Li & Schiller, ibid. 32 (1993) 178). False where a group or an interaction is
 * missing. T in K, x mole fractions. */
bool df_unifac_activity(double *gamma_ln, const df_pairs *pairs, const df_substance *const *substances, size_t n,
                        double temperature, const double *x);

/* A solid that may form: composition in moles of each component for one formula unit. */
typedef struct df_solid {
    char name[64];                                        /* "ice", "acetonitrile", "thf.17H2O" */
    double formula[DF_MAX_COMPONENTS];                    /* moles of each component */
    int component;                                        /* of a pure crystal; -1 for a hydrate */
    double reference_temperature, reference_ln, enthalpy; /* hydrate: ln K at K, J/mol of formula */
    double reference_x;     /* hydrate: solvent in the binary liquid it stands with there; 0: a pure crystal */
    double reference_sigma; /* hydrate: one standard deviation of that temperature, K */
    df_crystallises crystallises;
    const char *source;
} df_solid;

/* A list of components with everything their equilibria need. Read only after creation; may be shared by threads. */
typedef struct df_mixture df_mixture;
DF_NODISCARD df_status df_mixture_create(df_context *ctx, df_mixture **mixture, const df_pairs *pairs,
                                         const df_substance *const *components, size_t n);
void df_mixture_free(df_mixture *mixture); /* takes NULL */
size_t df_mixture_count(const df_mixture *mixture);
const df_substance *df_mixture_component(const df_mixture *mixture, size_t i);
size_t df_mixture_solids(const df_mixture *mixture);
const df_solid *df_mixture_solid(const df_mixture *mixture, size_t k);
const df_nrtl_pair *df_mixture_pair(const df_mixture *mixture, size_t i, size_t j); /* i < j */
/* Appends the bytes of all that the mixture's equilibria, what is measured of them and their spreads rest on. */
void df_mixture_key(df_text *key, const df_mixture *mixture);
/* Replaces the parameters of a pair (for fitting). */
void df_mixture_set_pair(df_mixture *mixture, size_t i, size_t j, const df_nrtl_pair *pair);
/* The worst grade among the mixture's pairs; with mole fractions z (may be NULL) of those that bear on the whole: a pair of
 * which one part is a trace does not. */
df_pair_grade df_mixture_grade(const df_mixture *mixture, const double *z);

/* Which solids may form (allowed[DF_MAX_SOLIDS]): practice: those that do when a sample is simply frozen; equilibrium: all;
 * annealed: also those that form reluctantly, as when a frozen sample is held warm below its melting; quenched: of those in
 * practice only ice and the solvents' own crystals, since hydrates and solutes' crystals need time. */
typedef enum df_freezing_mode {
    DF_FREEZING_PRACTICE,
    DF_FREEZING_EQUILIBRIUM,
    DF_FREEZING_ANNEALED,
    DF_FREEZING_QUENCHED
} df_freezing_mode;
const char *df_freezing_mode_name(df_freezing_mode mode); /* "practice", "equilibrium", "annealed", "quenched" */
void df_mixture_allow(bool *allowed, const df_mixture *mixture, df_freezing_mode mode);
/* Overrides for a solid seen or not seen in a sample: "ice", a hydrate's name ("DMSO.3H2O"), or a component's, which means all
 * solids that hold it. DF_E_UNKNOWN_NAME names those there are. */
DF_NODISCARD df_status df_mixture_allow_solid(df_context *ctx, bool *allowed, const df_mixture *mixture,
                                              const char *name, bool yes);

/* Glass temperature (K) of a liquid of `mixture` (moles of each component): Gordon & Taylor, J. Appl. Chem. 2 (1952) 493,
 *     Tg = sum w_i Tg_i/k_i / sum w_i/k_i,  water Tg = 136 K and k = 1,
 * k of solutes from data/solutes.csv, of solvents by Simha & Boyer, J. Chem. Phys. 37 (1962) 1003, k = rho_i Tg_i/(rho_w
 * Tg_w); a solvent's Tg where none is known: 0.65 Tm (two-thirds rule, Kauzmann 1948; from memory). */
double df_mixture_glass_temperature(const df_mixture *mixture, const double *moles);

/* ln of activity coefficients (the pairs' model above); x mole fractions. With `slope` (n x n, row-major, may be NULL) also
 * d ln gamma_i/d n_j at constant T for n = x (one mole in all). */
void df_mixture_activity(double *gamma_ln, double *slope, const df_mixture *mixture, double temperature,
                         const double *x);

/* ln of the equilibrium constant of solid k: sum over its formula of ln(activity) where it is saturated. */
double df_solid_constant_ln(const df_mixture *mixture, size_t k, double temperature);

/* What is there at a temperature: moles of each solid (formula units) and of each component in each liquid, for one
 * mole of mixture in all, and ln of the activity of each component (pure liquid = 0, -inf where it is absent). */
typedef struct df_assemblage {
    double temperature;
    double solid[DF_MAX_SOLIDS];
    size_t liquids;
    double liquid[DF_MAX_LIQUIDS][DF_MAX_COMPONENTS];
    double activity_ln[DF_MAX_COMPONENTS];
} df_assemblage;

/* The phases of least Gibbs energy at T for the mole fractions z (normalised here), with the allowed solids and up to
 * DF_MAX_LIQUIDS liquids: global by the tangent plane (Michelsen, Fluid Phase Equilib. 9 (1982) 1). From one liquid, what
 * lies under its plane is taken in, solid or liquid, and amounts and compositions are brought to equal potentials by
 * Newton, until nothing lies under the plane; a linear programme over candidate phases takes over where that gets stuck.
 * `assemblage` is in-out: with `warm` it is tried first as a guess (a neighbour on a path) and the result is then
 * verified in the same way. DF_E_CONVERGENCE with the state in the sentence. */
DF_NODISCARD df_status df_mixture_equilibrium(df_context *ctx, df_assemblage *assemblage, const df_mixture *mixture,
                                              double temperature, const double *z, const bool *allowed, bool warm);

/* Amounts derived from an assemblage of `mixture`. */
typedef struct df_assemblage_amounts {
    double solid_mass, liquid_mass;     /* kg per mole of mixture */
    double solid_volume, liquid_volume; /* m3 per mole of mixture, without mixing volumes */
    double enthalpy; /* J per mole of mixture, liquid components at 273.15 K = 0, without heats of mixing */
} df_assemblage_amounts;
void df_assemblage_measure(df_assemblage_amounts *amounts, const df_mixture *mixture,
                           const df_assemblage *assemblage);

/* Highest temperature (K) at which an allowed solid is present, and highest at which no liquid is left; NAN where there
 * is none above `lowest` (a liquid that does not crystallise has no solidus). */
DF_NODISCARD df_status df_mixture_freezing_range(df_context *ctx, double *liquidus, double *solidus,
                                                 const df_mixture *mixture, const double *z, const bool *allowed,
                                                 double lowest);

/* Temperature (K) at which ice forms in the liquid z by itself, with nothing to start it (homogeneous nucleation): where the
 * activity of water exceeds that over ice by what it does in pure water at -37.8 °C. That this excess is the same in every
 * solution is the criterion of Koop et al., Nature 406 (2000) 611; -37.8 °C: Zhang et al., J. Phys. Chem. B 108 (2004) 16717.
 * A lower bound: walls and dust start ice warmer. NAN without water, or where it is colder than 130 K. Errors as
 * df_mixture_equilibrium. */
DF_NODISCARD df_status df_mixture_nucleation(df_context *ctx, double *temperature, const df_mixture *mixture,
                                             const double *z);

/* Where the liquid that is left, or the last of several, becomes a glass on cooling: *temperature (K, NAN where no liquid is left before or above
 * `lowest`) and the assemblage there. Below it the concentrate keeps its composition. */
DF_NODISCARD df_status df_mixture_arrest(df_context *ctx, double *temperature, df_assemblage *at,
                                         const df_mixture *mixture, const double *z, const bool *allowed,
                                         double lowest);

/* Vapour pressure of each component (Pa) at given ln of activity. Acids dimerise: `monomer` and `dimer` (may be NULL)
 * give the two; `pressure` their sum. Returns the total pressure, Pa. */
double df_mixture_vapour(double *pressure, double *monomer, double *dimer, const df_mixture *mixture,
                         double temperature, const double *activity_ln);

/* Temperature (K) at which the stable liquid(s) of composition z boil at `pressure` (Pa), and the composition of the
 * first vapour (apparent mole fractions: a dimer counts twice). DF_E_INPUT where there is none between 150 K and the
 * lowest critical temperature. */
DF_NODISCARD df_status df_mixture_bubble_point(df_context *ctx, double *temperature, double *y,
                                               const df_mixture *mixture, double pressure, const double *z);

/* ---- maps of phases ------------------------------------------------------------------------------------------- */

/* What is there, without amounts: a bit for each solid (1 << k), and how many liquids. */
typedef struct df_phase_mark {
    uint32_t solids, liquids;
} df_phase_mark;
df_phase_mark df_phase_mark_of(const df_mixture *mixture, const df_assemblage *assemblage);
bool df_phase_mark_equal(df_phase_mark a, df_phase_mark b);

/* What is there at each of `rows` temperatures (K) for each of `columns` compositions (moles: z[column * n + i], n
 * the number of components): marks[column * rows + row]. Columns are shared among threads; within one, each
 * temperature starts from the one before. Just where a phase comes or goes an equilibrium may not converge; it is
 * then taken 1 ppm of the temperature beside. Errors as df_mixture_equilibrium. */
DF_NODISCARD df_status df_phase_map(df_context *ctx, df_phase_mark *marks, const df_mixture *mixture,
                                    const bool *allowed, const double *temperature, size_t rows, const double *z,
                                    size_t columns);

#define DF_SECTION_PARTS 16

/* A stretch of composition of a binary at one temperature, in mole fractions of component 0: one liquid all the way,
 * or two phases, which are then the phases at its two ends. */
typedef struct df_section_part {
    double from, to;
    int left, right; /* index of the solid at that end, -1: a liquid */
    bool one;        /* one liquid all the way */
} df_section_part;

/* The parts at one temperature, from 0 to 1 without a gap. */
typedef struct df_section_row {
    double temperature; /* K */
    size_t parts;
    df_section_part part[DF_SECTION_PARTS];
    bool step; /* the phases change between this row and the next, which is 0.1 mK or less above it */
} df_section_row;

/* Temperature against composition of a binary, rows rising in temperature. */
typedef struct df_section {
    size_t rows;
    df_section_row *row;
} df_section;

/* Follows the tie lines of a binary from `lowest` to `highest` (K). Between neighbouring rows of the same parts their
 * ends run straight within 1e-4 (mole fraction) or 0.02 K; changes of parts are closed in on by bisection. `section`
 * is to be released with df_section_free. DF_E_INPUT: not two components; errors as df_mixture_equilibrium. */
DF_NODISCARD df_status df_section_make(df_context *ctx, df_section *section, const df_mixture *mixture,
                                       const bool *allowed, double lowest, double highest);
void df_section_free(df_section *section);
df_phase_mark df_section_mark(const df_section_part *part);

/* A closed line around (counter-clockwise) or inside (clockwise) what has one mark: points first .. first + count - 1
 * of the map, fractions of components 0 and 1 in the basis asked for. */
typedef struct df_ternary_loop {
    df_phase_mark mark;
    size_t first, count;
    double area; /* signed; the whole triangle has 0.5 */
} df_ternary_loop;

/* Three phases together: their compositions are the corners. */
typedef struct df_ternary_triangle {
    df_phase_mark mark;
    double corner[3][2]; /* counter-clockwise */
    int solid[3];        /* which solid that corner is, -1: a liquid */
} df_ternary_triangle;

#define DF_TERNARY_TRIANGLES 24

/* Three components at one temperature. */
typedef struct df_ternary {
    size_t points, loops, ties, triangles;
    double (*point)[2];
    df_ternary_loop *loop;
    double (*tie)[2][2]; /* ends of tie lines between two liquids */
    df_ternary_triangle triangle[DF_TERNARY_TRIANGLES];
} df_ternary;

/* Outlines of the regions of a ternary at a temperature (K), on a grid of `divisions` (10 to 400) along each side:
 * where the marks of neighbours differ the place of change is found by bisection, and corners are set on the liquids
 * of three-phase states. The triangles are exact, the loops of the same marks miss what of their tips is narrower
 * than the grid. `per_mole`: what one mole of each component counts for in the basis of the fractions (1, molar
 * masses or molar volumes). Release with df_ternary_free. DF_E_INPUT: not three components or not such a grid;
 * errors as df_mixture_equilibrium; DF_E_MEMORY. */
DF_NODISCARD df_status df_ternary_make(df_context *ctx, df_ternary *ternary, const df_mixture *mixture,
                                       const bool *allowed, double temperature, const double *per_mole,
                                       size_t divisions);
void df_ternary_free(df_ternary *ternary);

/* ---- strip distillation --------------------------------------------------------------------------------------- */

/* Where a pair boils without changing. */
typedef struct df_azeotrope {
    double x;                     /* mole fraction of the first of the pair, of all that is liquid */
    double temperature, pressure; /* K, Pa */
    bool heterogeneous;           /* two liquids boil together */
    bool maximum;                 /* boils highest: a flask's content tends to it; else away from it */
} df_azeotrope;

#define DF_MAX_AZEOTROPES 4

/* The azeotropes of components i and j of a mixture, without the others, by rising x of i: at a pressure (Pa;
 * temperature NAN) or at a temperature (K; pressure NAN). A change of sign of ln(volatility of i over j) is looked
 * for between mole fractions 1e-6 and 1 - 1e-6, 1/8 apart in ln(x/(1 - x)); two azeotropes closer than that are not
 * told apart. None with a solute without vapour. DF_E_INPUT, DF_E_CONVERGENCE. */
DF_NODISCARD df_status df_azeotropes_find(df_context *ctx, df_azeotrope azeotrope[DF_MAX_AZEOTROPES], size_t *count,
                                          const df_mixture *mixture, size_t i, size_t j, double pressure,
                                          double temperature);

/* One standard deviation of an azeotrope of the components i < j, found again near by in every direction of
 * df_mixture_spread, pure pressures included: of its mole fraction, temperature (K) and ln of pressure, at the same
 * pressure or at the same temperature. NAN where it is lost. Errors as df_azeotropes_find. */
DF_NODISCARD df_status df_azeotrope_spread(df_context *ctx, double *x_sigma, double *temperature_sigma,
                                           double *pressure_sigma_ln, const df_mixture *mixture, size_t i, size_t j,
                                           const df_azeotrope *azeotrope, bool at_pressure);

/* What is held while a flask boils down. */
typedef enum df_strip_hold {
    DF_STRIP_AT_PRESSURE,   /* the temperature follows the bubble point; `temperature` is the bath's: its limit */
    DF_STRIP_AT_TEMPERATURE /* the bath's temperature; the pressure follows; `pressure` is its floor */
} df_strip_hold;

/* What it is boiled down to. */
typedef enum df_strip_aim {
    DF_STRIP_TO_FRACTION, /* the fraction of `component` falls to `target` */
    DF_STRIP_TO_AMOUNT,   /* `target` is left of all together */
    DF_STRIP_TO_DRYNESS   /* DF_STRIP_DRY of the moles is left */
} df_strip_aim;

#define DF_STRIP_DRY 1e-4

typedef struct df_strip_task {
    double amount[DF_MAX_COMPONENTS]; /* moles put into the flask */
    df_strip_hold hold;
    double pressure;    /* Pa: held, or the least that is reached (NAN: any) */
    double temperature; /* K: held, or the most that the flask can reach (NAN: any) */
    df_strip_aim aim;
    size_t component;
    double measure[DF_MAX_COMPONENTS]; /* what a mole counts in the target: 1, kg/mol, m3/mol or other */
    double target;                     /* 0 to 1, or in the unit of `measure` */
} df_strip_task;

typedef enum df_strip_stop {
    DF_STRIP_REACHED,   /* the target */
    DF_STRIP_AZEOTROPE, /* the target lies behind an azeotrope; the path goes on to dryness all the same */
    DF_STRIP_LIMIT,     /* the flask would have to be warmer than the bath, or the pressure lower than its floor */
    DF_STRIP_EMPTY      /* DF_STRIP_DRY left; the target was not met and no azeotrope stood before it */
} df_strip_stop;

/* One instant. A dimer of an acid counts as two moles throughout. */
typedef struct df_strip_point {
    double left[DF_MAX_COMPONENTS];   /* moles in the flask */
    double vapour[DF_MAX_COMPONENTS]; /* mole fractions of what leaves it now */
    double temperature, pressure;     /* K, Pa */
    double heat;                      /* J taken up by evaporation since the start */
    double mass_left, mass_taken;     /* kg */
    double volume_left, volume_taken; /* m3: the pure liquids before mixing, at 20 °C */
    size_t liquids;                   /* in the flask */
} df_strip_point;

typedef struct df_strip {
    df_strip_stop stop;
    df_strip_point *point; /* from the start to the stop */
    size_t points;
    double lowest;      /* least fraction of the target's component on the way; NAN for other aims */
    double lowest_left; /* share of the moles left there */
    /* The azeotrope at which the content ends or stays, where there is one. */
    bool azeotrope, azeotrope_stable; /* not stable: it began there, and the least deviation grows */
    bool azeotrope_heterogeneous;
    double azeotrope_x[DF_MAX_COMPONENTS], azeotrope_temperature, azeotrope_pressure;
    double azeotrope_fraction; /* of the target's component; NAN for other aims */
    double settled_left;       /* share of the moles left from which on it is within 0.002 of x; NAN: never */
} df_strip;

/* Simple (Rayleigh) distillation: vapour in equilibrium with all that is in the flask leaves at once,
 *     d ln n_i/d ln n = y_i/x_i       (Rayleigh, Phil. Mag. 4 (1902) 521, from memory)
 * in moles n of formula, integrated by variable-order BDF in ln n (SUNDIALS CVODE), with one or two liquids in the
 * flask as equilibrium has it. Amounts become small, never negative. Heat of vaporisation only: neither the warming
 * of the flask nor heats of mixing. `point` is freed by df_strip_free. DF_EXTRAPOLATED: a vapour pressure was needed
 * outside its range for a component of more than 0.1 %. DF_E_INPUT: amounts, target or conditions that make no
 * sense, nothing boils; DF_E_CONVERGENCE; DF_E_MEMORY. */
DF_NODISCARD df_status df_strip_run(df_context *ctx, df_strip *out, const df_mixture *mixture,
                                    const df_strip_task *task);
void df_strip_free(df_strip *strip); /* takes one that is all zero */

/* One standard deviation of what a boiling down gives; NAN where there is no such number or where it is not had on
 * either side of what is not known (the run ends otherwise). */
typedef struct df_strip_bands {
    double temperature[2], pressure_ln[2]; /* K, ln Pa; at the start and at the end */
    double mass_left, volume_left;         /* shares of what was put in */
    double left[DF_MAX_COMPONENTS];        /* fractions of what is left */
    double lowest;                         /* of df_strip's */
    double azeotrope_temperature, azeotrope_x[DF_MAX_COMPONENTS];
} df_strip_bands;
/* The run again in mixtures moved along (df_moves_make, from the pressures over the liquid at start, middle and end).
 * `per_mole`: what a mole counts in the fractions of what is left. Errors as df_strip_run. */
DF_NODISCARD df_status df_strip_spread(df_context *ctx, df_strip_bands *bands, const df_strip *strip,
                                       const df_mixture *mixture, const df_strip_task *task, const double *per_mole);

/* ---- trust (docs/trust.md) ------------------------------------------------------------------------------------ */

/* n numbers computed from a mixture; NAN where one does not exist there. Called by several threads at once, with
 * ctx NULL but for the first call: `data` is to be read only. */
typedef df_status (*df_mixture_quantity)(df_context *ctx, double *values, size_t n, const df_mixture *mixture,
                                         void *data);

/* The numbers and one standard deviation of each, from what is not known of the pairs' parameters and of the
 * hydrates' melting temperatures: every direction of spread (a column of a pair's covariance, or what goes with
 * its grade where it has none) is followed by one standard deviation to both sides and half the differences are
 * added as squares; with `pressures` also the vapour pressure of each pure liquid (df_pressure_sigma_ln). What the
 * pairs do to the hydrates' constants goes along. sigma[k] is NAN where value[k] is, and where in some direction
 * neither side had it. Fails where the quantity itself does at the parameters as they stand. */
DF_NODISCARD df_status df_mixture_spread(df_context *ctx, double *value, double *sigma, size_t n,
                                         const df_mixture *mixture, df_mixture_quantity quantity, void *data,
                                         bool pressures);

#define DF_MOST_MOVES 4

/* A few joint moves of all that is not known of a mixture, the pure liquids' pressures included, that carry most of
 * the spread: for results that take too long to be followed in every direction. */
typedef struct df_moves {
    size_t count;
    df_mixture *moved[DF_MOST_MOVES][2]; /* by one standard deviation, up and down */
    double carried;                      /* share of the variance of the n numbers that they carry */
} df_moves;
/* From n quick numbers on which the slow results rest: principal components of what the directions of df_mixture_spread do
 * to them, as many as carry 99 %, at most `most` (up to DF_MOST_MOVES). `weight` NULL: equal changes weigh alike; else one
 * standard deviation of number i weighs weight[i], however large it is. Release with df_moves_free. Errors as
 * df_mixture_spread. */
DF_NODISCARD df_status df_moves_make(df_context *ctx, df_moves *moves, const df_mixture *mixture,
                                     df_mixture_quantity quantity, size_t n, void *data, const double *weight,
                                     size_t most);
void df_moves_free(df_moves *moves); /* takes one that is all zero */
/* One standard deviation of n results of which `value` holds those at the parameters as they stand: half the
 * differences between the two sides of each move, added as squares; where one side has none, the other's distance
 * from the middle. NAN where the value is, or where neither side has it. `sides` (2 count n numbers, may be NULL) gets
 * all of them: up and down of the first move, then the next. DF_E_MEMORY. */
DF_NODISCARD df_status df_moves_spread(df_context *ctx, double *sigma, double *sides, const double *value, size_t n,
                                       const df_moves *moves, df_mixture_quantity quantity, void *data);

/* The phases of `assemblage` (in-out, a guess with amounts) brought into equilibrium with each other at T (K) by
 * Newton, without asking whether others would be more stable: a state and its neighbours in a slightly different
 * mixture. A phase that vanishes on the way is gone. DF_E_CONVERGENCE where they cannot stand together. */
DF_NODISCARD df_status df_mixture_follow(df_context *ctx, df_assemblage *assemblage, const df_mixture *mixture,
                                         double temperature, const double *z);

/* Equilibria at n temperatures (K: `first` and on by `step`, which is small), each from the one before, the first from `from`: into
 * out[n], *done of them. Whether others are more stable is asked at the last; where that is what followed from `from`, so are those
 * between, unless some phase came and went again within the n steps. Otherwise it is asked at each. An error is that of the one after
 * those that are done. */
#define DF_STRIDE 4
DF_NODISCARD df_status df_mixture_stride(df_context *ctx, df_assemblage *out, size_t *done, const df_assemblage *from,
                                         const df_mixture *mixture, double first, double step, size_t n,
                                         const double *z, const bool *allowed);

/* Takes pairs of which one part is a trace in z out of what spreads. */
void df_mixture_fix_traces(df_mixture *mixture, const double *z);

/* A solid that begins to form on cooling: what is there at that temperature without it, and how fast it comes. */
typedef struct df_appearance {
    size_t solid;
    double slope;          /* of its distance from saturation, 1/K */
    df_assemblage without; /* at the temperature where it begins */
} df_appearance;
/* Sets `appearance` up for a solid that begins to form at T (K), to 1 K or so. DF_E_CONVERGENCE where it does not. */
DF_NODISCARD df_status df_mixture_appearing(df_context *ctx, df_appearance *appearance, const df_mixture *mixture,
                                            const double *z, const bool *allowed, size_t solid, double temperature);
/* Temperature (K) at which it begins in a slightly different mixture: secants on its saturation, the other phases
 * followed. NAN where it is not found within 120 K. Errors as df_mixture_follow. */
DF_NODISCARD df_status df_mixture_appearance(df_context *ctx, double *temperature, const df_mixture *mixture,
                                             const double *z, const df_appearance *appearance);

/* The unknowns of a mixture that are independent of each other, the pure pressures included: each pair with a sample is one,
 * each direction of df_mixture_spread otherwise. 0 where there are none, or no memory. */
size_t df_mixture_unknowns(const df_mixture *mixture);
/* A mixture with all of them moved: unknown i to draw[i] of its sample (below DF_PAIR_DRAWS), or by size[i] standard
 * deviations where it has none; of all that `share` (1: the whole). Free with df_mixture_free. DF_E_MEMORY. */
DF_NODISCARD df_status df_mixture_draw(df_context *ctx, df_mixture **out, const df_mixture *mixture,
                                       const size_t *draw, const double *size, double share);

/* Moves the parameters of the pair i < j by `delta` (v0 to v8 of df_pair_covariance, as listed there) and the
 * hydrates' constants along. */
void df_mixture_move_pair(df_mixture *mixture, size_t i, size_t j, const double *delta);

/* One standard deviation of ln of the pure vapour pressure, liquid or crystal, at T (K): by grade inside the
 * range of the correlation; outside it by 2 % of the heat of vaporisation besides. */
double df_pressure_sigma_ln(const df_substance *substance, double temperature, bool crystal);

#ifdef __cplusplus
}
#endif
#endif
