/* dryfront/substance.h: pure substances: constants, vapour pressure of liquid and solid, densities, heats. */
#ifndef DRYFRONT_SUBSTANCE_H
#define DRYFRONT_SUBSTANCE_H

#include "dryfront/base.h"

#ifdef __cplusplus
extern "C" {
#endif

/* How far a number of a substance is to be trusted, best first. */
typedef enum df_grade { DF_GRADE_MEASURED, DF_GRADE_CORRELATION, DF_GRADE_ESTIMATED, DF_GRADE_MEMORY } df_grade;
const char *df_grade_name(df_grade grade); /* "measured", "correlation", "estimated", "from memory" */

/* Whether the solvent's own crystal forms when a sample is frozen by the usual means. */
typedef enum df_crystallises {
    DF_CRYSTAL_READILY,
    DF_CRYSTAL_RELUCTANTLY,
    DF_CRYSTAL_NOT_IN_PRACTICE
} df_crystallises;
const char *df_crystallises_name(df_crystallises crystallises);

/* The families of property correlations in data/correlations.csv; docs/substance.md has the equations. */
typedef enum df_form {
    DF_FORM_NONE,
    DF_FORM_CONSTANT,
    DF_FORM_LINEAR,
    DF_FORM_POLYNOMIAL, /* DIPPR100, CHEMSEP100, CHEMSEP1, CHEMSEP2 */
    DF_FORM_DIPPR101,
    DF_FORM_DIPPR102,
    DF_FORM_DIPPR105,
    DF_FORM_DIPPR106,
    DF_FORM_DIPPR107,
    DF_FORM_DIPPR114,
    DF_FORM_PPDS10,
    DF_FORM_CHEMSEP16,
    DF_FORM_ZAB_CUBIC,
    DF_FORM_ZAB_QUASI,
    DF_FORM_POLING_CP,
    DF_FORM_ANTOINE_LN,
    DF_FORM_ANTOINE_LOG10,
    DF_FORM_WAGNER25,
    DF_FORM_WAGNER36,
    DF_FORM_IAPWS_SR1_86
} df_form;

typedef struct df_correlation {
    df_form form;
    double c[6];
    double critical_temperature, critical_pressure; /* K, Pa: scaling constants of the form, NAN where it has none */
    double lowest, highest;                         /* K, range in which it holds */
    double scale;                                   /* factor from the form's own unit to SI (mol or kg basis) */
    df_grade grade;
    const char *source;
} df_correlation;

#define DF_MAX_TRANSITIONS 2

/* What a solute without vapour adds: data/solutes.csv. */
typedef struct df_involatile {
    double particles;          /* moles of particles that a mole of formula gives */
    bool anchor_is_glass;      /* the point below is the glass of the freeze-concentrate, not a eutectic */
    double anchor_temperature; /* K, point of the ice branch that fixes the activity of water */
    const char
        *critical_kind; /* what that temperature is for a product that dries: "Tg'", "collapse", "eutectic"; "": it
                                  says nothing of that */
    double anchor_fraction;      /* mass fraction of solute in the liquid there; NAN: to be worked out */
    const char *beside_organics; /* kind of row in data/salting.csv: "salt", "sugar", "ideal" */
    double gordon_taylor;        /* weight of water; NAN: by the rule of Simha and Boyer, or it forms no glass */
    const char *crystal;         /* "" where none is known */
    double crystal_water;        /* moles of water in a formula of the crystal */
    double crystal_enthalpy;     /* J/mol of formula, into the liquid */
    const char *note;
    /* Where it leaves as gases: data/dissociation.csv. */
    const char *gases;              /* "ammonia, carbon dioxide, water"; "" where it does not */
    double gas_moles, water_moles;  /* of all gases for a formula; of these, water */
    double gas_enthalpy, gas_gibbs; /* J/mol of formula at 298.15 K, gases at 1 bar */
    double gas_sigma_ln;            /* one standard deviation of ln of the pressure */
    const char *gas_source;
} df_involatile;

/* One substance. All values SI and per mole unless the name says otherwise. Read only. */
typedef struct df_substance {
    const char *key, *name, *aliases, *cas, *formula, *family; /* aliases separated by ';' */
    double molar_mass;                                         /* kg/mol */
    double melting_temperature;                                /* K, triple point where known */
    double boiling_temperature;                                /* K at 101325 Pa */
    double critical_temperature;                               /* K */
    double critical_pressure;                                  /* Pa */
    double fusion_enthalpy;                                    /* J/mol at the melting temperature */
    struct {
        double temperature, enthalpy; /* K, J/mol */
    } transition[DF_MAX_TRANSITIONS]; /* solid-solid, below the melting temperature */
    size_t transitions;
    double glass_temperature;     /* K, NAN where unknown */
    double flash_point;           /* K, NAN where unknown or none */
    double lower_explosive_limit; /* volume fraction in air, NAN where unknown or none */
    double exposure_limit;        /* volume fraction, 8 h mean, NAN where unknown */
    df_crystallises crystallises;
    const char *crystallises_source;
    bool is_water;
    bool own;           /* the user's own figures, all of them */
    bool is_involatile; /* a solute: no vapour, molar_mass is of a mole of particles */
    df_involatile involatile;
    df_correlation vapour_pressure;                                              /* liquid, Pa */
    df_correlation liquid_density, solid_density;                                /* kg/m3 */
    df_correlation liquid_heat_capacity, solid_heat_capacity, gas_heat_capacity; /* J/(mol K) */
    /* Vapour dimer 2 A = A2: enthalpy and entropy of association (J/mol, J/(mol K)) at 101325 Pa; enthalpy 0 where the
     * vapour does not associate. */
    double dimer_enthalpy, dimer_entropy;
    const char *dimer_source;
    const char *source;
    df_grade worst_grade; /* of the constants and correlations above */
    /* Derived when loaded: continuation of ln p beyond the ends of the correlation, and Tm heat-capacity step. */
    double edge_low, edge_low_ln, edge_low_enthalpy, edge_low_slope; /* K, -, J/mol, J/(mol K) */
    double edge_high, high_a, high_b, high_c;                        /* ln p = a + b/T + c ln T above edge_high */
    double fusion_heat_capacity;                                     /* J/(mol K), liquid less solid, at Tm */
} df_substance;

/* The substances known to a program run: the built-in ones and those of the user's own file. */
typedef struct df_substances df_substances;

/* Loads the built-in data. DF_E_MEMORY; DF_E_INPUT names the row of a faulty data file. */
DF_NODISCARD df_status df_substances_create(df_context *ctx, df_substances **substances);
/* Adds the user's own substances from a YAML text (docs/substance.md); `name` stands in sentences. */
DF_NODISCARD df_status df_substances_extend(df_context *ctx, df_substances *substances, const char *buffer,
                                            size_t length, const char *name);
/* Adds the user's own solutes (docs/mixture.md) in the same way. DF_E_INPUT also where one is called as something is already. */
DF_NODISCARD df_status df_solutes_extend(df_context *ctx, df_substances *substances, const char *buffer,
                                         size_t length, const char *name);
/* A copy that may be extended by itself; what it was made from must outlive it. DF_E_MEMORY. */
DF_NODISCARD df_status df_substances_copy(df_context *ctx, df_substances **copy, const df_substances *substances);
/* Notes that a file of the user's with `name` in it was left out, and why: df_substances_find says so when it is asked for. */
DF_NODISCARD df_status df_substances_leave_out(df_context *ctx, df_substances *substances, const char *name,
                                               const char *why);
/* Why it was; NULL: it was not. */
const char *df_substances_left_out(const df_substances *substances, const char *name);
void df_substances_free(df_substances *substances); /* takes NULL */
size_t df_substances_count(const df_substances *substances);
const df_substance *df_substances_at(const df_substances *substances, size_t index);
/* By key, name or alias; DF_E_UNKNOWN_NAME with the nearest names. `where` (may be NULL) stands before the sentence. */
DF_NODISCARD df_status df_substances_find(df_context *ctx, const df_substance **substance,
                                          const df_substances *substances, const char *name, const char *where);

/* Appends the bytes of all numbers of a substance: those of two substances differ where anything computed from them may. */
void df_substance_key(df_text *key, const df_substance *substance);

/* Value of a correlation, SI; no range check. */
double df_correlation_value(const df_correlation *correlation, double temperature);

/* Vapour pressure of the liquid, Pa, at T in K (valid 100 K to the critical temperature; above: the critical pressure's
 * continuation). Inside its range the correlation; below it ln p continues with
 *     d ln p/dT = h(T)/(R T2),  h(T) = h(T0) + (cp,gas - cp,liquid)(T - T0)      (Clausius-Clapeyron)
 * matching value and slope; above it with ln p = a + b/T + c ln T through value and slope at the edge and the critical
 * point. Water below 273.16 K: the ice equation (IAPWS R14-08) divided by df_solid_liquid_ratio. A solute without
 * vapour: 0 (ln -1000). */
double df_liquid_pressure(const df_substance *substance, double temperature);
double df_liquid_pressure_ln(const df_substance *substance, double temperature);
/* True where df_liquid_pressure rests on a continuation outside the correlation's range. */
bool df_liquid_pressure_extrapolated(const df_substance *substance, double temperature);

/* ln of the fugacity of the crystal over that of the (supercooled) liquid at T, both pure; 0 at the melting point,
 * negative below it, positive above:
 *     -(dHfus/R)(1/T - 1/Tm) + (dcp/R)[Tm/T - 1 - ln(Tm/T)], dcp = cp,liquid - cp,solid at Tm,
 * plus -(dHtr/R)(1/T - 1/Ttr) for each solid-solid transition below its temperature
 * (Prausnitz, Lichtenthaler & Gomes de Azevedo, Molecular Thermodynamics of Fluid-Phase Equilibria, ch. 11). */
double df_solid_liquid_ratio_ln(const df_substance *substance, double temperature);

/* Vapour pressure of the crystal, Pa: liquid pressure times the ratio above, so that they meet at the melting point; where
 * the vapour dimerises the ratio is that of the monomer's pressures and the dimer follows from it.
 * Water: IAPWS R14-08(2011), 50 K to 273.16 K, eq. (6). Above the melting point: the metastable continuation. */
double df_solid_pressure(const df_substance *substance, double temperature);

/* Pressure (Pa) of the gases into which a solute breaks up, over its own dry solid: with K the product of their pressures
 * in bar, p = n K^(1/n), K = exp(-G/(R T0) - (H/R)(1/T - 1/T0)). With a water pressure (Pa) that something else, as ice,
 * holds: of the gases other than water, the water's pressure taken out of K. NAN where it does not break up. */
double df_dissociation_pressure(const df_substance *substance, double temperature, double water_pressure);

/* Glass temperature of water, K: Johari, Hallbrucker & Mayer, Nature 330 (1987) 552 (from memory; 135 K by Inaba & Andersson
 * 2007). */
#define DF_WATER_GLASS 136.0
/* Weight (1/k, water's is 1) in the Gordon-Taylor equation by Simha & Boyer, J. Chem. Phys. 37 (1962) 1003, of a liquid or solute
 * of this density (kg/m3) and glass temperature (K): rho_w Tg_w/(rho Tg). */
double df_glass_weight(double density, double glass_temperature);

/* Of a solute without vapour: the weight of water in its Gordon-Taylor equation, its own or by Simha & Boyer; the mass fraction
 * of solute in the liquid at its anchor, its own, or by Gordon-Taylor (glass) or the ideal ice branch (eutectic); the symmetric
 * Margules term A, ln gamma_water = A x^2, that the anchor gives, and the mole fraction x of its particles there. */
double df_involatile_water_weight(const df_substance *solute);
double df_involatile_anchor_fraction(const df_substance *solute, const df_substance *water);
double df_involatile_margules(double *x, const df_substance *solute, const df_substance *water);

/* Heats, J/mol of formula, consistent with the pressures above by Clapeyron with an ideal (dimerising) vapour. */
double df_vaporisation_enthalpy(const df_substance *substance, double temperature);
double df_fusion_enthalpy(const df_substance *substance, double temperature); /* liquid less crystal, at T */
double df_sublimation_enthalpy(const df_substance *substance, double temperature);

/* Densities, kg/m3, and heat capacities, J/(mol K); outside its range a correlation is held at its end. */
double df_liquid_density(const df_substance *substance, double temperature);
double df_solid_density(const df_substance *substance, double temperature);
double df_liquid_heat_capacity(const df_substance *substance, double temperature);
/* Enthalpy of a liquid over liquid at 273.15 K, J/mol: the integral of the heat capacity above. */
double df_liquid_enthalpy(const df_substance *substance, double temperature);
double df_solid_heat_capacity(const df_substance *substance, double temperature);
double df_gas_heat_capacity(const df_substance *substance, double temperature);

/* Vapour of a substance that may dimerise. K = exp(-(dH - T dS)/(R T))/101325 Pa, in 1/Pa; 0 where there is no dimer. */
double df_dimer_constant(const df_substance *substance, double temperature);
/* Monomer pressure (Pa) at a total pressure of the one substance: p1 + K p1^2 = p. */
double df_monomer_pressure(const df_substance *substance, double temperature, double total_pressure);

#ifdef __cplusplus
}
#endif
#endif
