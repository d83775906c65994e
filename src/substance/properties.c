/* Property functions of pure substances. Equations and sources stand in include/dryfront/substance.h. */
#include "dryfront/substance.h"

#include <math.h>

#define R DF_GAS_CONSTANT
#define WATER_TRIPLE 273.16           /* K */
#define WATER_TRIPLE_PRESSURE 611.657 /* Pa, IAPWS R14-08(2011) */

/* IAPWS SR1-86(1992), eq. (1): saturation pressure of water, 273.16 K to 647.096 K. Pa. */
static double iapws_saturation_ln(double temperature) {
    static const double a[6] = {-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502};
    const double tc = 647.096, pc = 22.064e6;
    double t = 1.0 - temperature / tc;
    if (t < 0.0)
        t = 0.0;
    double t15 = t * sqrt(t), t3 = t * t * t, t35 = t3 * sqrt(t);
    double sum = a[0] * t + a[1] * t15 + a[2] * t3 + a[3] * t35 + a[4] * t3 * t + a[5] * t35 * t3 * t;
    return log(pc) + tc / temperature * sum;
}

/* What brings the saturation curve (611.65709 Pa at 273.16 K) to the triple point of the ice equation. */
#define IAPWS_JOIN_LN (-1.14018981812e-07)

/* IAPWS SR1-86(1992), eq. (2): density of saturated liquid water, kg/m3. */
static double iapws_density(double temperature) {
    static const double b[6] = {1.99274064, 1.09965342, -0.510839303, -1.75493479, -45.5170352, -674694.45};
    double t = 1.0 - temperature / 647.096;
    return 322.0 * (1.0 + b[0] * pow(t, 1.0 / 3) + b[1] * pow(t, 2.0 / 3) + b[2] * pow(t, 5.0 / 3) +
                    b[3] * pow(t, 16.0 / 3) + b[4] * pow(t, 43.0 / 3) + b[5] * pow(t, 110.0 / 3));
}

/* IAPWS R14-08(2011), eq. (6): sublimation pressure of ice Ih, 50 K to 273.16 K; ln(p/Pa). */
static double iapws_sublimation_ln(double temperature) {
    static const double a[3] = {-21.2144006, 27.3203819, -6.1059813};
    static const double b[3] = {0.00333333333, 1.20666667, 1.70333333};
    double theta = temperature / WATER_TRIPLE, sum = 0.0;
    for (int i = 0; i < 3; i++)
        sum += a[i] * pow(theta, b[i]);
    return log(WATER_TRIPLE_PRESSURE) + sum / theta;
}

/* d ln p/dT of the ice equation, 1/K. */
static double iapws_sublimation_slope(double temperature) {
    static const double a[3] = {-21.2144006, 27.3203819, -6.1059813};
    static const double b[3] = {0.00333333333, 1.20666667, 1.70333333};
    double theta = temperature / WATER_TRIPLE, sum = 0.0;
    for (int i = 0; i < 3; i++)
        sum += a[i] * (b[i] - 1.0) * pow(theta, b[i] - 2.0);
    return sum / WATER_TRIPLE;
}

static double polynomial(const double c[6], double t) {
    return c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))));
}

/* ln p of the vapour-pressure forms; NAN for others. */
static double pressure_ln(const df_correlation *k, double temperature) {
    const double *c = k->c;
    double t = 1.0 - temperature / k->critical_temperature;
    switch (k->form) {
    case DF_FORM_DIPPR101:
        return c[0] + c[1] / temperature + c[2] * log(temperature) +
               (c[3] == 0.0 ? 0.0 : c[3] * pow(temperature, c[4]));
    case DF_FORM_ANTOINE_LN:
        return c[0] - c[1] / (temperature + c[2]);
    case DF_FORM_ANTOINE_LOG10:
        return M_LN10 * (c[0] - c[1] / (temperature + c[2]));
    case DF_FORM_WAGNER25:
        t = t < 0.0 ? 0.0 : t;
        return log(k->critical_pressure) +
               k->critical_temperature / temperature *
                   (c[0] * t + c[1] * t * sqrt(t) + c[2] * t * t * sqrt(t) + c[3] * pow(t, 5));
    case DF_FORM_WAGNER36:
        t = t < 0.0 ? 0.0 : t;
        return log(k->critical_pressure) + k->critical_temperature / temperature *
                                               (c[0] * t + c[1] * t * sqrt(t) + c[2] * t * t * t + c[3] * pow(t, 6));
    case DF_FORM_IAPWS_SR1_86:
        return iapws_saturation_ln(temperature) + IAPWS_JOIN_LN;
    default:
        return NAN;
    }
}

double df_correlation_value(const df_correlation *k, double temperature) {
    const double *c = k->c;
    double tr = temperature / k->critical_temperature, t = 1.0 - tr, value;
    switch (k->form) {
    case DF_FORM_CONSTANT:
        value = c[0];
        break;
    case DF_FORM_LINEAR:
        value = c[0] + c[1] * temperature;
        break;
    case DF_FORM_POLYNOMIAL:
        value = polynomial(c, temperature);
        break;
    case DF_FORM_DIPPR102:
        value = c[0] * pow(temperature, c[1]) / (1.0 + c[2] / temperature + c[3] / (temperature * temperature));
        break;
    case DF_FORM_DIPPR105:
        value = c[0] / pow(c[1], 1.0 + pow(fmax(0.0, 1.0 - temperature / c[2]), c[3]));
        break;
    case DF_FORM_DIPPR106:
        value = c[0] * pow(fmax(t, 0.0), c[1] + tr * (c[2] + tr * (c[3] + tr * c[4])));
        break;
    case DF_FORM_DIPPR107: {
        double u = c[2] / temperature, v = c[4] / temperature;
        double su = u / sinh(u), sv = v / cosh(v);
        value = c[0] + c[1] * su * su + c[3] * sv * sv;
        break;
    }
    case DF_FORM_DIPPR114:
        value = c[0] * c[0] / t + c[1] - 2.0 * c[0] * c[2] * t - c[0] * c[3] * t * t - c[2] * c[2] * t * t * t / 3.0 -
                c[2] * c[3] * pow(t, 4) / 2.0 - c[3] * c[3] * pow(t, 5) / 5.0;
        break;
    case DF_FORM_PPDS10:
        t = fmax(t, 0.0);
        value = c[0] + c[1] * pow(t, 0.35) + c[2] * pow(t, 2.0 / 3) + c[3] * t + c[4] * pow(t, 4.0 / 3);
        break;
    case DF_FORM_CHEMSEP16:
        value = c[0] + exp(c[1] / temperature + c[2] + temperature * (c[3] + temperature * c[4]));
        break;
    case DF_FORM_ZAB_CUBIC:
        value = R * polynomial(c, temperature / 100.0);
        break;
    case DF_FORM_ZAB_QUASI:
        value = R * (c[0] * log(t) + c[1] / t + c[2] + tr * (c[3] + tr * (c[4] + tr * c[5])));
        break;
    case DF_FORM_POLING_CP:
        value = R * polynomial(c, temperature);
        break;
    case DF_FORM_IAPWS_SR1_86:
        value = iapws_density(temperature);
        break;
    default:
        value = exp(pressure_ln(k, temperature));
        break;
    }
    return value * k->scale;
}

/* A correlation held at the ends of its range. */
static double held(const df_correlation *k, double temperature) {
    return df_correlation_value(k, fmin(fmax(temperature, k->lowest), k->highest));
}

double df_liquid_density(const df_substance *s, double temperature) {
    return held(&s->liquid_density, temperature);
}
double df_solid_density(const df_substance *s, double temperature) {
    return held(&s->solid_density, temperature);
}
double df_liquid_heat_capacity(const df_substance *s, double temperature) {
    return held(&s->liquid_heat_capacity, temperature);
}
double df_solid_heat_capacity(const df_substance *s, double temperature) {
    return held(&s->solid_heat_capacity, temperature);
}
double df_gas_heat_capacity(const df_substance *s, double temperature) {
    return held(&s->gas_heat_capacity, temperature);
}

double df_solid_liquid_ratio_ln(const df_substance *s, double temperature) {
    if (s->is_involatile)
        return 0.0; /* its crystal, if any, is held against the liquid by its anchor (mixture room) */
    double tm = s->melting_temperature, ratio = tm / temperature;
    double value = -s->fusion_enthalpy / R * (1.0 / temperature - 1.0 / tm) +
                   s->fusion_heat_capacity / R * (ratio - 1.0 - log(ratio));
    for (size_t i = 0; i < s->transitions; i++)
        if (temperature < s->transition[i].temperature)
            value -= s->transition[i].enthalpy / R * (1.0 / temperature - 1.0 / s->transition[i].temperature);
    return value;
}

double df_liquid_pressure_ln(const df_substance *s, double temperature) {
    if (s->is_involatile)
        return -1000.0;
    if (s->is_water && temperature < WATER_TRIPLE)
        return iapws_sublimation_ln(temperature) - df_solid_liquid_ratio_ln(s, temperature);
    if (temperature < s->edge_low) {
        double t0 = s->edge_low, slope = s->edge_low_slope;
        return s->edge_low_ln + (s->edge_low_enthalpy - slope * t0) / R * (1.0 / t0 - 1.0 / temperature) +
               slope / R * log(temperature / t0);
    }
    if (temperature > s->edge_high)
        return s->high_a + s->high_b / temperature + s->high_c * log(temperature);
    return pressure_ln(&s->vapour_pressure, temperature);
}

double df_liquid_pressure(const df_substance *s, double temperature) {
    return exp(df_liquid_pressure_ln(s, temperature));
}

bool df_liquid_pressure_extrapolated(const df_substance *s, double temperature) {
    if (s->is_involatile)
        return false;
    if (s->is_water)
        return temperature < 235.0; /* homogeneous nucleation: no liquid water was ever measured below it */
    return temperature < s->edge_low || temperature > s->edge_high;
}

double df_dissociation_pressure(const df_substance *s, double temperature, double water_pressure) {
    const double bar = 1e5, standard = 298.15;
    const df_involatile *v = &s->involatile;
    if (!s->is_involatile || v->gases[0] == '\0')
        return NAN;
    double product_ln = -v->gas_gibbs / (DF_GAS_CONSTANT * standard) -
                        v->gas_enthalpy / DF_GAS_CONSTANT * (1.0 / temperature - 1.0 / standard);
    double moles = v->gas_moles;
    if (!isnan(water_pressure) && v->water_moles > 0.0) {
        product_ln -= v->water_moles * log(water_pressure / bar);
        moles -= v->water_moles;
    }
    return bar * moles * exp(product_ln / moles);
}

double df_solid_pressure(const df_substance *s, double temperature) {
    if (s->is_water && temperature <= WATER_TRIPLE)
        return exp(iapws_sublimation_ln(temperature));
    double ratio = df_solid_liquid_ratio_ln(s, temperature);
    if (s->dimer_enthalpy == 0.0)
        return exp(df_liquid_pressure_ln(s, temperature) + ratio);
    double p1 = exp(ratio) * df_monomer_pressure(s, temperature, df_liquid_pressure(s, temperature));
    return p1 + df_dimer_constant(s, temperature) * p1 * p1; /* the ratio is that of the monomer's pressures */
}

double df_fusion_enthalpy(const df_substance *s, double temperature) {
    if (s->is_involatile)
        return 0.0;
    double h = s->fusion_enthalpy + s->fusion_heat_capacity * (temperature - s->melting_temperature);
    for (size_t i = 0; i < s->transitions; i++)
        if (temperature < s->transition[i].temperature)
            h += s->transition[i].enthalpy;
    return h;
}

/* Moles of vapour particles for one mole of formula at saturation: 1 without association, towards 1/2 for dimers. */
static double particles(const df_substance *s, double temperature) {
    double k = df_dimer_constant(s, temperature);
    if (k == 0.0)
        return 1.0;
    double p1 = df_monomer_pressure(s, temperature, df_liquid_pressure(s, temperature)), p2 = k * p1 * p1;
    return (p1 + p2) / (p1 + 2.0 * p2);
}

double df_vaporisation_enthalpy(const df_substance *s, double temperature) {
    double h;
    if (s->is_involatile)
        return 0.0;
    if (s->is_water && temperature < WATER_TRIPLE)
        return R * temperature * temperature * iapws_sublimation_slope(temperature) -
               df_fusion_enthalpy(s, temperature);
    if (temperature < s->edge_low)
        h = s->edge_low_enthalpy + s->edge_low_slope * (temperature - s->edge_low);
    else if (temperature > s->edge_high)
        h = R * (s->high_c * temperature - s->high_b);
    else {
        double d = 1e-4 * temperature;
        h = R * temperature * temperature *
            (pressure_ln(&s->vapour_pressure, temperature + d) - pressure_ln(&s->vapour_pressure, temperature - d)) /
            (2.0 * d);
    }
    return h * particles(s, temperature);
}

double df_sublimation_enthalpy(const df_substance *s, double temperature) {
    return df_vaporisation_enthalpy(s, temperature) + df_fusion_enthalpy(s, temperature);
}

double df_dimer_constant(const df_substance *s, double temperature) {
    if (s->dimer_enthalpy == 0.0)
        return 0.0;
    return exp(-(s->dimer_enthalpy - temperature * s->dimer_entropy) / (R * temperature)) / DF_ATMOSPHERE;
}

double df_monomer_pressure(const df_substance *s, double temperature, double total) {
    double k = df_dimer_constant(s, temperature);
    if (k == 0.0)
        return total;
    return 2.0 * total / (1.0 + sqrt(1.0 + 4.0 * k * total)); /* the root of K p1^2 + p1 - p that does not cancel */
}

/* Integral of a correlation held at the ends of its range: Gauss and Legendre's five points inside, constant beyond. */
static double held_integral(const df_correlation *k, double from, double to) {
    static const double node[3] = {0.0, 0.53846931010568309, 0.90617984593866399};
    static const double weight[3] = {128.0 / 225.0, 0.47862867049936647, 0.23692688505618909};
    double a = fmin(fmax(from, k->lowest), k->highest), b = fmin(fmax(to, k->lowest), k->highest);
    double middle = 0.5 * (a + b), half = 0.5 * (b - a), sum = 0.0;
    if (half != 0.0)
        sum = weight[0] * df_correlation_value(k, middle);
    for (int i = 1; i < 3 && half != 0.0; i++)
        sum += weight[i] *
               (df_correlation_value(k, middle - half * node[i]) + df_correlation_value(k, middle + half * node[i]));
    sum *= half;
    if (from != a)
        sum += df_correlation_value(k, a) * (a - from);
    if (to != b)
        sum += df_correlation_value(k, b) * (to - b);
    return sum;
}

double df_liquid_enthalpy(const df_substance *s, double temperature) {
    return held_integral(&s->liquid_heat_capacity, DF_ZERO_CELSIUS, temperature);
}
