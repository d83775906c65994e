/* Secondary drying: what a cake holds, how it leaves, and the glass that limits how warm it may get. */
#include "dryfront/secondary.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define WATER_GLASS_SIGMA 3.0    /* K: 135 to 138 K are reported (data/solutes.csv and docs/mixture.md) */
#define DRY_GLASS_SIGMA 7.0      /* K: assumption; reports for sucrose spread from 60 to 75 °C */
#define GENERIC_GLASS_SIGMA 25.0 /* K: assumption, for a dry glass that was estimated by analogy */
#define GORDON_TAYLOR_SIGMA 0.15 /* of k: assumption; 4.7 to 5.5 for sucrose, 5.2 to 7.0 for lactose */
#define ESTIMATED_SIGMA 0.3      /* of a k by Simha and Boyer: assumption */
#define LARGEST_KA 0.98          /* of K a: the isotherm has its pole at 1 */

/* ---- the table ------------------------------------------------------------------------------------------------ */

static const char *const columns[] = {"solute",
                                      "species",
                                      "unfrozen_kg_kg",
                                      "bound_kg_kg",
                                      "bound_sigma_ln",
                                      "tight_kg_kg",
                                      "rate_per_s",
                                      "rate_sigma_ln",
                                      "activation_J_mol",
                                      "activation_sigma_J_mol",
                                      "monolayer_kg_kg",
                                      "gab_c",
                                      "gab_k",
                                      "grade",
                                      "source"};

/* Row of a solute and a species by their keys; -1: none. */
static long find_row(const df_csv *csv, const char *solute, const char *species) {
    int a = df_csv_find(csv, "solute"), b = df_csv_find(csv, "species");
    for (size_t row = 0; row < df_csv_rows(csv); row++)
        if (df_name_equal(df_csv_cell(csv, row, a), solute) && df_name_equal(df_csv_cell(csv, row, b), species))
            return (long)row;
    return -1;
}

/* The row for a solute: its own, else that of its kind; for its species, else for any solvent. */
static long choose_row(const df_csv *csv, const df_solute *solute, const df_substance *species) {
    const char *who[2] = {solute->key[0] != '\0' ? solute->key : solute->name,
                          solute->crystallises ? "crystalline" : "amorphous"};
    const char *what[2] = {species->key, "solvent"};
    for (int i = 0; i < 2; i++)
        for (int k = 0; k < (species->is_water ? 1 : 2); k++) {
            long row = find_row(csv, who[i], what[k]);
            if (row >= 0)
                return row;
        }
    return -1;
}

static df_status read_row(df_context *ctx, df_sorption *s, const df_csv *csv, size_t row,
                          const df_substance *species) {
    const struct {
        double *value;
        const char *column;
    } fields[] = {{&s->unfrozen, "unfrozen_kg_kg"},
                  {&s->bound, "bound_kg_kg"},
                  {&s->bound_sigma_ln, "bound_sigma_ln"},
                  {&s->tight, "tight_kg_kg"},
                  {&s->rate, "rate_per_s"},
                  {&s->rate_sigma_ln, "rate_sigma_ln"},
                  {&s->activation, "activation_J_mol"},
                  {&s->activation_sigma, "activation_sigma_J_mol"},
                  {&s->monolayer, "monolayer_kg_kg"},
                  {&s->gab_c, "gab_c"},
                  {&s->gab_k, "gab_k"}};
    memset(s, 0, sizeof *s);
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        df_status status = df_csv_number(ctx, fields[i].value, csv, row, df_csv_find(csv, fields[i].column), 0.0);
        if (status != DF_OK)
            return status;
        if (!(*fields[i].value >= 0.0))
            return df_fail(ctx, DF_E_INTERNAL, "%s:%zu: %s should not be negative", df_csv_name(csv),
                           df_csv_line(csv, row), fields[i].column);
    }
    if (!(s->bound > 0.0) || (s->monolayer > 0.0 && !(s->gab_c > 0.0 && s->gab_k > 0.0)))
        return df_fail(ctx, DF_E_INTERNAL, "%s:%zu: bound, C and K should be above 0", df_csv_name(csv),
                       df_csv_line(csv, row));
    s->known = s->rate > 0.0;
    double first = s->gab_c * s->gab_k; /* exp of the first layer's heat over that of the liquid, per R T */
    s->heat = s->monolayer > 0.0 && first > 1.0
                  ? DF_GAS_CONSTANT * DF_SORPTION_REFERENCE * log(first) / species->molar_mass
                  : 0.0;
    snprintf(s->grade, sizeof s->grade, "%s", df_csv_cell(csv, row, df_csv_find(csv, "grade")));
    snprintf(s->source, sizeof s->source, "%s", df_csv_cell(csv, row, df_csv_find(csv, "source")));
    return DF_OK;
}

/* Place of a grade's word in the order of trust, best first. */
static int grade_rank(const char *grade) {
    static const char *const order[] = {"measured", "correlation", "secondary", "estimated", "from memory"};
    int i = 0;
    while (i < 4 && strcmp(order[i], grade) != 0)
        i++;
    return i;
}

/* ---- sorption ------------------------------------------------------------------------------------------------- */

/* Adds a share of one solute's constants: amounts add, the rest is weighted by them (finish() divides). */
static void add(df_sorption *sum, const df_sorption *s, double share, double *heaviest) {
    double bound = share * s->bound, layer = share * s->monolayer;
    sum->unfrozen += share * s->unfrozen;
    sum->tight += share * s->tight;
    sum->bound += bound;
    sum->bound_sigma_ln += bound * s->bound_sigma_ln;
    sum->rate += s->known ? bound * log(s->rate) : 0.0;
    sum->rate_sigma_ln += bound * s->rate_sigma_ln;
    sum->activation += bound * s->activation;
    sum->activation_sigma += bound * s->activation_sigma;
    sum->monolayer += layer;
    sum->gab_c += layer * s->gab_c;
    sum->gab_k += layer * s->gab_k;
    sum->heat += bound * s->heat;
    sum->known = sum->known && s->known;
    if (sum->grade[0] == '\0' || grade_rank(s->grade) > grade_rank(sum->grade))
        memcpy(sum->grade, s->grade, sizeof sum->grade);
    if (bound > *heaviest) {
        *heaviest = bound;
        memcpy(sum->source, s->source, sizeof sum->source);
    }
}

static void finish(df_sorption *s) {
    double bound = s->bound > 0.0 ? s->bound : 1.0, layer = s->monolayer > 0.0 ? s->monolayer : 1.0;
    s->bound_sigma_ln /= bound;
    s->rate = s->known ? exp(s->rate / bound) : 0.0;
    s->rate_sigma_ln /= bound;
    s->activation /= bound;
    s->activation_sigma /= bound;
    s->heat /= bound;
    s->gab_c /= layer;
    s->gab_k /= layer;
}

df_status df_sorption_find(df_context *ctx, df_sorption *out, const df_solute *solute, size_t solutes,
                           const df_substance *species) {
    df_csv *csv;
    df_status status = df_csv_builtin(ctx, &csv, "sorption.csv");
    if (status != DF_OK)
        return status;
    status = df_csv_require(ctx, csv, columns, sizeof columns / sizeof columns[0]);
    double total = 0.0, heaviest = 0.0;
    for (size_t i = 0; i < solutes; i++)
        total += solute[i].concentration;
    df_sorption sum = {.known = true};
    for (size_t i = 0; i < solutes && status == DF_OK; i++) {
        double share = total > 0.0 ? solute[i].concentration / total : 1.0 / (double)solutes;
        long row = choose_row(csv, &solute[i], species);
        df_sorption one;
        if (row < 0)
            status = df_fail(ctx, DF_E_INTERNAL, "%s: no row for %s in an amorphous or crystalline cake",
                             df_csv_name(csv), species->name);
        else
            status = read_row(ctx, &one, csv, (size_t)row, species);
        if (status == DF_OK && share > 0.0)
            add(&sum, &one, share, &heaviest);
    }
    df_csv_free(csv);
    if (status != DF_OK)
        return status;
    finish(&sum);
    *out = sum;
    return DF_OK;
}

double df_sorption_rate(const df_sorption *s, double temperature) {
    return s->rate * exp(-s->activation / DF_GAS_CONSTANT * (1.0 / temperature - 1.0 / DF_SORPTION_REFERENCE));
}

double df_sorption_rate_sigma_ln(const df_sorption *s, double temperature) {
    double away = s->activation_sigma / DF_GAS_CONSTANT * (1.0 / temperature - 1.0 / DF_SORPTION_REFERENCE);
    return hypot(s->rate_sigma_ln, away);
}

double df_sorption_equilibrium(const df_sorption *s, double activity) {
    double ka = fmin(s->gab_k * fmin(fmax(activity, 0.0), 1.0), LARGEST_KA);
    return s->monolayer * s->gab_c * ka / ((1.0 - ka) * (1.0 - ka + s->gab_c * ka));
}

double df_sorption_activity(const df_substance *species, double pressure, double temperature) {
    return fmin(fmax(pressure, 0.0) / df_liquid_pressure(species, temperature), 1.0);
}

double df_sorption_left(const df_sorption *s, double start, double temperature, double activity, double time) {
    double rest = df_sorption_equilibrium(s, activity);
    return rest + (start - rest) * exp(-df_sorption_rate(s, temperature) * time);
}

double df_sorption_time(const df_sorption *s, double start, double target, double temperature, double activity) {
    double rest = df_sorption_equilibrium(s, activity), rate = df_sorption_rate(s, temperature);
    if (start <= target)
        return 0.0;
    if (target <= rest || !(rate > 0.0))
        return INFINITY;
    return log((start - rest) / (target - rest)) / rate;
}

typedef struct wanted {
    const df_sorption *sorption;
    const df_substance *species;
    double start, target, pressure, time;
} wanted;

static double over_target(double temperature, void *data) {
    const wanted *w = data;
    double activity = df_sorption_activity(w->species, w->pressure, temperature);
    return df_sorption_left(w->sorption, w->start, temperature, activity, w->time) - w->target;
}

double df_sorption_temperature(const df_sorption *s, const df_substance *species, double start, double target,
                               double pressure, double time) {
    wanted w = {s, species, start, target, pressure, time};
    double root;
    if (start <= target)
        return 150.0;
    return df_find_root(&root, 150.0, 400.0, 1e-6, over_target, &w) ? root : NAN;
}

void df_sorption_band(df_residual *out, const df_sorption *s, double start, double most, double exposure,
                      double equilibrium, double temperature, double hottest) {
    double rest = fmin(equilibrium, start), above = start - rest, spread = 2.0 * s->bound_sigma_ln;
    if (!s->known) {
        out->low = rest;
        out->likely = NAN;
        out->high = fmin(rest + above * exp(spread), fmax(most, start));
        return;
    }
    double factor = exp(2.0 * df_sorption_rate_sigma_ln(s, temperature));
    double slower = exposure * (1.0 - 1.0 / factor), faster = exposure * (factor - 1.0);
    out->likely = rest + above * exp(-exposure);
    out->high = rest + above * exp(-exposure + hypot(spread, slower));
    out->low = rest + above * exp(-exposure - hypot(spread, faster));
    if (hottest <= DF_SORPTION_TIGHT)
        out->high = fmax(out->high, s->tight);
    out->high = fmin(out->high, fmax(most, start));
}

/* ---- glass ---------------------------------------------------------------------------------------------------- */

/* The dry glass of the amorphous solutes, water's weight being 1: Tg = sum(w g Tg)/sum(w g), g = 1/k. */
typedef struct dry_glass {
    double amorphous;   /* share of the solutes, by mass */
    double weight, sum; /* per kg of amorphous solutes: of g and of g Tg */
    double weight_sigma, sum_sigma;
} dry_glass;

static bool dry_glass_of(dry_glass *out, const df_solute *solute, size_t solutes) {
    double total = 0.0, amorphous = 0.0, known = 0.0;
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < solutes; i++)
        total += solute[i].concentration;
    for (size_t i = 0; i < solutes; i++) {
        const df_solute *s = &solute[i];
        double share = total > 0.0 ? s->concentration / total : 1.0 / (double)solutes, tg = s->glass_temperature;
        if (s->crystallises)
            continue;
        amorphous += share;
        if (!(tg > 0.0))
            continue;
        bool fitted = s->gordon_taylor > 0.0;
        double weight = share * (fitted ? 1.0 / s->gordon_taylor : df_glass_weight(s->density, tg));
        bool generic = strcmp(s->grade, "estimated") == 0;
        known += share;
        out->weight += weight;
        out->sum += weight * tg;
        out->weight_sigma += weight * (fitted ? GORDON_TAYLOR_SIGMA : ESTIMATED_SIGMA);
        out->sum_sigma += weight * (generic ? GENERIC_GLASS_SIGMA : DRY_GLASS_SIGMA);
    }
    if (!(known > 0.9 * amorphous))
        return false;
    out->amorphous = amorphous;
    out->weight /= known;
    out->sum /= known;
    out->weight_sigma /= known;
    out->sum_sigma /= known;
    return true;
}

/* Tg of the dry glass with `wet` kg of water per kg of amorphous solutes. */
static double moist(const dry_glass *g, double wet) {
    return (g->sum + wet * DF_WATER_GLASS) / (g->weight + wet);
}

double df_moist_glass(const df_solute *solute, size_t solutes, double water, double *sigma) {
    dry_glass g;
    if (!dry_glass_of(&g, solute, solutes)) {
        if (sigma != NULL)
            *sigma = NAN;
        return NAN;
    }
    double wet = fmax(water, 0.0) / g.amorphous, tg = moist(&g, wet), all = g.weight + wet;
    if (sigma != NULL) {
        /* A change of all weights moves Tg by (mean dry Tg - Tg) w/(w + wet). */
        double of_k = (g.sum / g.weight - tg) * g.weight_sigma / all, of_dry = g.sum_sigma / all;
        *sigma = hypot(hypot(of_k, of_dry), WATER_GLASS_SIGMA * wet / all);
    }
    return tg;
}

double df_glass_water(const df_solute *solute, size_t solutes, double temperature, double margin) {
    dry_glass g;
    double t = temperature + margin;
    if (!dry_glass_of(&g, solute, solutes))
        return NAN;
    if (t <= DF_WATER_GLASS)
        return INFINITY;
    return fmax(0.0, (g.sum - g.weight * t) / (t - DF_WATER_GLASS)) * g.amorphous;
}

#define RAMP_STEPS 400

/* Whether the glass stays `margin` above the product on a ramp of `rate` K/s. */
static bool ramp_holds(const dry_glass *g, const df_sorption *s, const df_substance *water, double amount,
                       double start, double end, double pressure, double margin, double rate) {
    double step = (end - start) / RAMP_STEPS, left = amount;
    if (moist(g, left / g->amorphous) < start + margin)
        return false;
    for (int i = 0; i < RAMP_STEPS; i++) {
        double middle = start + ((double)i + 0.5) * step;
        left = df_sorption_left(s, left, middle, df_sorption_activity(water, pressure, middle), step / rate);
        if (moist(g, left / g->amorphous) < start + (double)(i + 1) * step + margin)
            return false;
    }
    return true;
}

double df_glass_ramp(const df_solute *solute, size_t solutes, const df_sorption *s, const df_substance *water,
                     double amount, double start, double end, double pressure, double margin) {
    dry_glass g;
    double low = log(1e-9), high = log(1.0); /* K/s: a kelvin in 30 years; a kelvin a second is no limit */
    if (end <= start || !dry_glass_of(&g, solute, solutes) ||
        ramp_holds(&g, s, water, amount, start, end, pressure, margin, exp(high)))
        return INFINITY;
    if (!ramp_holds(&g, s, water, amount, start, end, pressure, margin, exp(low)))
        return 0.0;
    while (high - low > 1e-4) {
        double middle = 0.5 * (low + high);
        *(ramp_holds(&g, s, water, amount, start, end, pressure, margin, exp(middle)) ? &low : &high) = middle;
    }
    return exp(low);
}

/* Seconds for each kg/kg at a moisture, the product as warm as it may be. NAN at or below C*. */
static double pace(double *temperature, const dry_glass *g, bool glassy, const df_sorption *s,
                   const df_substance *water, double left, double pressure, double warmest, double margin) {
    *temperature = glassy ? fmin(moist(g, left / g->amorphous) - margin, warmest) : warmest;
    double above = left - df_sorption_equilibrium(s, df_sorption_activity(water, pressure, *temperature));
    return above > 0.0 ? 1.0 / (df_sorption_rate(s, *temperature) * above) : NAN;
}

#define RIDE_STEPS 64 /* between two points, Simpson's rule */

double df_glass_ride(df_glass_point *point, size_t n, const df_solute *solute, size_t solutes, const df_sorption *s,
                     const df_substance *water, double amount, double target, double pressure, double warmest,
                     double margin) {
    dry_glass g;
    bool glassy = dry_glass_of(&g, solute, solutes);
    double rest = df_sorption_equilibrium(s, df_sorption_activity(water, pressure, warmest)), time = 0.0, t = NAN;
    if (target < amount && (target <= rest || !s->known))
        time = INFINITY;
    double span = target < amount && isfinite(time) ? log((target - rest) / (amount - rest)) : 0.0;
    for (size_t i = 0; i < n; i++) {
        double from = i > 0 ? span * (double)(i - 1) / (double)(n - 1) : 0.0, to = span * (double)i / (double)(n - 1),
               sum = 0.0;
        for (int j = 0; i > 0 && span < 0.0 && j <= RIDE_STEPS; j++) {
            double above = (amount - rest) * exp(from + (to - from) * j / RIDE_STEPS);
            double weight = j == 0 || j == RIDE_STEPS ? 1.0 : j % 2 == 1 ? 4.0 : 2.0;
            sum += weight * above * pace(&t, &g, glassy, s, water, rest + above, pressure, warmest, margin);
        }
        time += sum * (from - to) / (3.0 * RIDE_STEPS);
        if (isnan(time))
            time = INFINITY;
        point[i].water = rest + (amount - rest) * exp(to);
        (void)pace(&point[i].temperature, &g, glassy, s, water, point[i].water, pressure, warmest, margin);
        point[i].time = time;
    }
    return time;
}
