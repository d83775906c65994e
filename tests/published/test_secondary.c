/* Secondary drying: kinetics, isotherms, glasses of moist cakes, limits. */
#include "kit.h"

#include "chance.h"
#include "dryfront/secondary.h"

static df_solute solute(const kit *k, const char *name, double concentration) {
    df_solute s;
    if (df_solute_find(k->ctx, &s, k->substances, name, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    s.concentration = concentration;
    return s;
}

static df_sorption sorption(const kit *k, const df_solute *solutes, size_t n, const char *species) {
    df_sorption s;
    if (df_sorption_find(k->ctx, &s, solutes, n, kit_substance(k, species)) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return s;
}

static df_sorption sorption_of(const kit *k, const char *name, const char *species) {
    df_solute s = solute(k, name, 50.0);
    return sorption(k, &s, 1, species);
}

/* First-order decay: the closed form against its own differential equation, and its inverses. */
static void first_order(void **state) {
    df_sorption s = sorption_of(*state, "sucrose", "water");
    double t = 303.15, a = 0.05, rest = df_sorption_equilibrium(&s, a), c = 0.1, k = df_sorption_rate(&s, t);
    const int steps = 20000;
    const double span = 6.0 * 3600.0, h = span / steps;
    for (int i = 0; i < steps; i++) { /* Heun */
        double d = -k * (c - rest);
        c += 0.5 * h * (d - k * (c + h * d - rest));
    }
    assert_near(df_sorption_left(&s, 0.1, t, a, span), c, 1e-6);
    double half = df_sorption_left(&s, 0.1, t, a, 0.4 * span);
    assert_near(df_sorption_left(&s, half, t, a, 0.6 * span), c, 1e-6);
    assert_near(df_sorption_time(&s, 0.1, c, t, a), span, 1e-5);
    assert_near(df_sorption_time(&s, 0.1 + rest, 0.05 + rest, t, a), M_LN2 / k, 1e-12);
    assert_true(isinf(df_sorption_time(&s, 0.1, 0.99 * rest, t, a)));
    assert_true(df_sorption_time(&s, 0.01, 0.02, t, a) == 0.0);
    /* It takes up moisture where it starts below C*. */
    assert_true(df_sorption_left(&s, 0.0, t, a, span) > 0.0 && df_sorption_left(&s, 0.0, t, a, span) < rest);
    /* Arrhenius: the slope of ln k against 1/T is -E/R. */
    double slope = log(df_sorption_rate(&s, 310.0) / df_sorption_rate(&s, 260.0)) / (1.0 / 310.0 - 1.0 / 260.0);
    assert_near(-slope * DF_GAS_CONSTANT, s.activation, 1e-9);
    assert_near(df_sorption_rate(&s, DF_SORPTION_REFERENCE), s.rate, 1e-12);
    assert_near(df_sorption_rate_sigma_ln(&s, DF_SORPTION_REFERENCE), s.rate_sigma_ln, 1e-12);
    assert_true(df_sorption_rate_sigma_ln(&s, 250.0) > df_sorption_rate_sigma_ln(&s, 280.0));
    /* Lowest temperature for a target in time. */
    const df_substance *water = kit_substance(*state, "water");
    double need = df_sorption_temperature(&s, water, 0.1, 0.01, 10.0, 5.0 * 3600.0);
    near(df_sorption_time(&s, 0.1, 0.01, need, df_sorption_activity(water, 10.0, need)), 5.0 * 3600.0, 1.0, "time");
    assert_true(isnan(df_sorption_temperature(&s, water, 0.1, 0.01, 10.0, 1.0)));
    /* Common practice: an amorphous cake needs some hours at 40 °C. */
    double practice = df_sorption_time(&s, 0.1, 0.01, 313.15, df_sorption_activity(water, 10.0, 313.15));
    if (!(practice > 2.0 * 3600.0 && practice < 15.0 * 3600.0))
        fail_msg("10 %% to 1 %% at 40 °C takes %.1f h", practice / 3600.0);
}

/* Moisture taken up in 24 h at 22 °C and 34 % relative humidity by freeze-dried trehalose 7 %, lactose 8 %, albumin 8 %, none by
 * mannitol: abstract on dried materials in ampoules with capillary leak plugs (stored listing of abstracts; read). The isotherms
 * are from memory or analogy; they are held to these within 30 %. */
static void published_moisture(void **state) {
    static const struct {
        const char *solute;
        double percent;
    } rows[] = {{"trehalose", 7.0}, {"lactose", 8.0}, {"bovine serum albumin", 8.0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        df_sorption s = sorption_of(*state, rows[i].solute, "water");
        double c = df_sorption_equilibrium(&s, 0.34), wet = 100.0 * c / (1.0 + c);
        near(wet, rows[i].percent, 0.3 * rows[i].percent, "%s", rows[i].solute);
    }
    df_sorption mannitol = sorption_of(*state, "mannitol", "water");
    assert_true(df_sorption_equilibrium(&mannitol, 0.34) < 0.002);
    /* Unfrozen water is about a fifth of the amorphous phase: PMC3066344 (read). What the front leaves is less. */
    df_sorption sucrose = sorption_of(*state, "sucrose", "water");
    near(sucrose.unfrozen / (1.0 + sucrose.unfrozen), 0.20, 0.03, "unfrozen water in sucrose");
    assert_true(sucrose.bound < sucrose.unfrozen);
}

/* Limits of GAB: Henry's law at the dry end, BET at K = 1, rising throughout. */
static void isotherm(void **state) {
    static const char *const names[] = {"sucrose", "pvp", "dextran", "bovine serum albumin", "glycine"};
    for (size_t i = 0; i < 5; i++) {
        df_sorption s = sorption_of(*state, names[i], "water");
        assert_near(df_sorption_equilibrium(&s, 1e-7), s.monolayer * s.gab_c * s.gab_k * 1e-7, 1e-5);
        assert_true(df_sorption_equilibrium(&s, 0.0) == 0.0);
        double before = 0.0;
        for (int j = 1; j <= 100; j++) {
            double c = df_sorption_equilibrium(&s, 0.01 * j);
            assert_true(isfinite(c) && c >= before);
            before = c;
        }
        s.gab_k = 1.0;
        double a = 0.3, bet = s.monolayer * s.gab_c * a / ((1.0 - a) * (1.0 + (s.gab_c - 1.0) * a));
        assert_near(df_sorption_equilibrium(&s, a), bet, 1e-12);
    }
    /* Mixed cakes lie by the sum of their parts (Foster, Bronlund & Paterson 2005). */
    const kit *k = *state;
    df_solute both[2] = {solute(k, "lactose", 30.0), solute(k, "bovine serum albumin", 10.0)};
    df_sorption mixed = sorption(k, both, 2, "water"), one = sorption(k, both, 1, "water"),
                other = sorption(k, both + 1, 1, "water");
    for (double a = 0.02; a < 0.6; a += 0.05) {
        double sum = 0.75 * df_sorption_equilibrium(&one, a) + 0.25 * df_sorption_equilibrium(&other, a);
        near(df_sorption_equilibrium(&mixed, a) / sum, 1.0, 0.12, "sum at %.2f", a);
    }
    near(mixed.bound, 0.75 * one.bound + 0.25 * other.bound, 1e-12, "bound");
    assert_true(mixed.rate >= fmin(one.rate, other.rate) - 1e-18 && mixed.rate <= fmax(one.rate, other.rate) + 1e-18);
}

/* Which constants a cake gets. */
static void choice(void **state) {
    const kit *k = *state;
    df_solute unknown = {.name = "compound 17", .concentration = 5.0, .density = 1400.0};
    df_sorption s = sorption(k, &unknown, 1, "water"), sucrose = sorption_of(k, "sucrose", "water");
    assert_true(s.known && s.bound > 0.05 && s.bound_sigma_ln >= sucrose.bound_sigma_ln);
    assert_true(s.rate_sigma_ln >= sucrose.rate_sigma_ln);
    df_sorption salt = sorption_of(k, "potassium chloride", "water");
    assert_true(salt.bound < 0.1 * s.bound && salt.monolayer < 0.1 * s.monolayer);
    df_sorption butanol = sorption_of(k, "sucrose", "tert-butanol"),
                other = sorption_of(k, "sucrose", "acetonitrile"),
                crystal = sorption_of(k, "mannitol", "tert-butanol");
    assert_true(!butanol.known && !other.known && butanol.rate == 0.0 && butanol.bound > 0.0);
    assert_true(other.bound_sigma_ln > butanol.bound_sigma_ln);
    /* A crystalline cake freeze-dried from pure tert-butanol held less than 0.001 % of it: Ni et al., Int. J. Pharm. 226 (2001) 39
     * (abstract, read); within two standard deviations. */
    assert_true(crystal.bound * exp(-2.0 * crystal.bound_sigma_ln) <= 1e-5);
    assert_true(crystal.bound < 0.1 * butanol.bound);
    /* Without solutes nothing is held; a concentration of nought weighs nothing. */
    df_sorption none = sorption(k, NULL, 0, "water");
    assert_true(none.bound == 0.0 && df_sorption_equilibrium(&none, 0.5) == 0.0);
    df_solute two[2] = {solute(k, "sucrose", 50.0), solute(k, "mannitol", 0.0)};
    df_sorption same = sorption(k, two, 2, "water");
    near(same.bound, sucrose.bound, 1e-15, "bound");
    assert_string_equal(same.grade, sucrose.grade);
    two[1] = solute(k, "trehalose", 50.0); /* a mixture is trusted as its least trusted part */
    assert_string_equal(sorption(k, two, 2, "water").grade, "from memory");
    assert_string_equal(sorption(k, two + 1, 1, "water").grade, "estimated");
    /* By hand for one part of sucrose and three of pvp (data/sorption.csv): amounts by mass, the isotherm's shape by monolayers. */
    df_solute three[2] = {solute(k, "sucrose", 10.0), solute(k, "pvp", 30.0)};
    df_sorption mixed = sorption(k, three, 2, "water");
    double a = 0.25 * 0.051, b = 0.75 * 0.12;
    near(mixed.bound, 0.25 * 0.1 + 0.75 * 0.15, 1e-12, "bound");
    near(mixed.tight, 0.25 * 0.015, 1e-12, "tight");
    near(mixed.monolayer, a + b, 1e-12, "monolayer");
    near(mixed.gab_c, (a * 4.5 + b * 5.0) / (a + b), 1e-12, "C");
    near(mixed.gab_k, (a * 1.18 + b * 0.95) / (a + b), 1e-12, "K");
    assert_true(sucrose.heat > 5e4 && sucrose.heat < 1e6);
}

/* Dry sucrose 60 °C, dry trehalose 106 °C, mixtures between, a little trehalose raising it little: Roe & Labuza, Int. J. Food
 * Prop. 8 (2005) 559 (abstract, read). At about 0.7 % of moisture 64 and 101 °C: Pharm. Dev. Technol. 2 (1997) 257 (read). */
static void published_glasses(void **state) {
    const kit *k = *state;
    static const struct {
        const char *solute;
        double moisture, celsius;
    } rows[] = {
        {"sucrose", 0.0, 60.0}, {"trehalose", 0.0, 106.0}, {"sucrose", 0.007, 64.0}, {"trehalose", 0.007, 101.0}};
    for (size_t i = 0; i < 4; i++) {
        df_solute s = solute(k, rows[i].solute, 50.0);
        double sigma, tg = df_moist_glass(&s, 1, rows[i].moisture / (1.0 - rows[i].moisture), &sigma);
        assert_true(sigma > 3.0 && sigma < 12.0);
        near(tg - 273.15, rows[i].celsius, 2.0 * sigma, "%s at %.3f", rows[i].solute, rows[i].moisture);
    }
    df_solute both[2] = {solute(k, "sucrose", 45.0), solute(k, "trehalose", 5.0)};
    double sucrose = df_moist_glass(both, 1, 0.0, NULL), trehalose = df_moist_glass(both + 1, 1, 0.0, NULL),
           mixed = df_moist_glass(both, 2, 0.0, NULL);
    assert_true(mixed > sucrose && mixed < trehalose && mixed < sucrose + 6.0);
    /* The same equation as in the freezing diagram, with a dry glass that may differ by 2 K there. */
    static const char *const names[] = {"sucrose", "trehalose", "lactose", "pvp"};
    for (size_t i = 0; i < 4; i++)
        for (double w = 0.05; w < 0.3; w += 0.1) {
            const df_substance *part[2] = {kit_substance(k, names[i]), kit_substance(k, "water")};
            df_mixture *m = NULL;
            assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, part, 2), DF_OK);
            double moles[2] = {(1.0 - w) / part[0]->molar_mass, w / part[1]->molar_mass};
            df_solute s = solute(k, names[i], 50.0);
            near(df_moist_glass(&s, 1, w / (1.0 - w), NULL), df_mixture_glass_temperature(m, moles), 2.5, "%s %.2f",
                 names[i], w);
            df_mixture_free(m);
        }
}

/* Limits of Gordon-Taylor and who takes part. */
static void glass_limits(void **state) {
    const kit *k = *state;
    df_solute s[2] = {solute(k, "sucrose", 10.0), solute(k, "mannitol", 40.0)};
    near(df_moist_glass(s, 1, 1e9, NULL), 136.0, 1e-3, "water");
    near(df_moist_glass(s, 1, 0.0, NULL), s[0].glass_temperature, 1e-9, "dry");
    double before = INFINITY;
    for (double w = 0.0; w < 0.5; w += 0.01) {
        double tg = df_moist_glass(s, 1, w, NULL);
        assert_true(tg < before);
        before = tg;
        near(df_glass_water(s, 1, tg - 5.0, 5.0), w, 1e-9, "inverse");
    }
    /* A dry glass is as sure as its own Tg: 7 K, 25 K of one by analogy; water's own 3 K come with the water. */
    double spread;
    df_moist_glass(s, 1, 0.0, &spread);
    near(spread, 7.0, 1e-9, "spread of a dry glass");
    df_solute like = s[0];
    snprintf(like.grade, sizeof like.grade, "estimated");
    df_moist_glass(&like, 1, 0.0, &spread);
    near(spread, 25.0, 1e-9, "by analogy");
    df_moist_glass(s, 1, 1e9, &spread);
    near(spread, 3.0, 1e-6, "of water");
    /* All water sits in the amorphous fifth of a cake that is mostly crystals. */
    near(df_moist_glass(s, 2, 0.02, NULL), df_moist_glass(s, 1, 0.10, NULL), 1e-9, "beside crystals");
    near(df_glass_water(s, 2, 273.15, 3.0), 0.2 * df_glass_water(s, 1, 273.15, 3.0), 1e-12, "beside crystals");
    assert_true(df_glass_water(s, 1, 400.0, 0.0) == 0.0);
    double sigma = 0.0;
    df_solute unknown = {.name = "compound 17", .concentration = 10.0, .density = 1400.0};
    df_solute salt = solute(k, "sodium chloride", 5.0);
    assert_true(isnan(df_moist_glass(&unknown, 1, 0.0, &sigma)) && isnan(sigma));
    assert_true(isnan(df_moist_glass(&salt, 1, 0.0, NULL)) && isnan(df_glass_water(&salt, 1, 273.15, 0.0)));
    assert_true(isnan(df_moist_glass(NULL, 0, 0.0, NULL)));
}

/* The ramp against a fourth-order integration of its own equation: the margin is kept and used up. */
static void ramps(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    df_solute s = solute(k, "sucrose", 50.0);
    df_sorption hold = sorption(k, &s, 1, "water");
    const double start = 243.15, end = 313.15, pressure = 10.0, margin = 3.0, amount = 0.1;
    double rate = df_glass_ramp(&s, 1, &hold, water, amount, start, end, pressure, margin);
    assert_true(isfinite(rate) && rate > 0.0);
    double least = INFINITY, c = amount;
    const int steps = 20000;
    const double h = (end - start) / steps;
    for (int i = 0; i < steps; i++) {
        double d[4], t = start + h * i;
        for (int j = 0; j < 4; j++) {
            double shift = j == 0 ? 0.0 : j == 3 ? h : 0.5 * h, at = t + shift;
            double cj = c + (j == 0 ? 0.0 : shift * d[j - 1]);
            double rest = df_sorption_equilibrium(&hold, df_sorption_activity(water, pressure, at));
            d[j] = -df_sorption_rate(&hold, at) * (cj - rest) / rate;
        }
        c += h / 6.0 * (d[0] + 2.0 * d[1] + 2.0 * d[2] + d[3]);
        least = fmin(least, df_moist_glass(&s, 1, c, NULL) - (t + h));
    }
    near(least, margin, 0.05, "margin at %.3g K/min", 60.0 * rate);
    assert_true(df_glass_ramp(&s, 1, &hold, water, amount, start, end, pressure, 2.0 * margin) < rate);
    assert_true(df_glass_ramp(&s, 1, &hold, water, 1.2 * amount, start, end, pressure, margin) < rate);
    assert_true(df_glass_ramp(&s, 1, &hold, water, 0.2 * amount, start, end, pressure, margin) > rate);
    /* Too soft at the start, too warm at the end, no glass at all. */
    assert_true(df_glass_ramp(&s, 1, &hold, water, 0.3, start, end, pressure, margin) == 0.0);
    assert_true(df_glass_ramp(&s, 1, &hold, water, amount, start, 340.0, pressure, margin) == 0.0);
    df_solute crystal = solute(k, "mannitol", 50.0);
    df_sorption little = sorption(k, &crystal, 1, "water");
    assert_true(isinf(df_glass_ramp(&crystal, 1, &little, water, 0.01, start, end, pressure, margin)));
}

/* Riding the glass: the closed form where it does not limit; else faster than any safe ramp, and at the margin all the way. */
static void rides(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    df_glass_point p[41];
    df_solute s = solute(k, "sucrose", 50.0);
    df_sorption hold = sorption(k, &s, 1, "water");
    double free = df_glass_ride(p, 41, &s, 1, &hold, water, 0.02, 0.01, 10.0, 293.15, 3.0);
    assert_near(free, df_sorption_time(&hold, 0.02, 0.01, 293.15, df_sorption_activity(water, 10.0, 293.15)), 1e-6);
    double time = df_glass_ride(p, 41, &s, 1, &hold, water, 0.1, 0.01, 10.0, 313.15, 3.0);
    assert_true(time > df_sorption_time(&hold, 0.1, 0.01, 313.15, df_sorption_activity(water, 10.0, 313.15)));
    near(p[0].water, 0.1, 1e-12, "start");
    near(p[40].water, 0.01, 1e-12, "end");
    near(p[40].time, time, 1e-9, "end");
    for (size_t i = 0; i < 41; i++) {
        near(p[i].temperature, fmin(df_moist_glass(&s, 1, p[i].water, NULL) - 3.0, 313.15), 1e-9, "point %zu", i);
        assert_true(i == 0 || (p[i].time > p[i - 1].time && p[i].temperature >= p[i - 1].temperature));
    }
    /* Holding each temperature of the way until its moisture is reached can only be slower, and tends to it. */
    double held[2] = {0.0, 0.0};
    for (int fine = 0; fine < 2; fine++) {
        double c = 0.1;
        int steps = fine ? 4000 : 40;
        for (int i = 0; i < steps; i++) {
            double next = 0.1 * pow(0.1, (i + 1.0) / steps);
            double t = fmin(df_moist_glass(&s, 1, c, NULL) - 3.0, 313.15);
            held[fine] += df_sorption_time(&hold, c, next, t, df_sorption_activity(water, 10.0, t));
            c = next;
        }
    }
    assert_true(held[0] > held[1] && held[1] > time);
    assert_near(held[1], time, 2e-3);
    /* A safe constant ramp over the same way, then a hold. */
    double start = p[0].temperature - 1.0, ramp = df_glass_ramp(&s, 1, &hold, water, 0.1, start, 313.15, 10.0, 3.0);
    double c = 0.1, spent = 0.0, h = (313.15 - start) / 4000.0;
    for (int i = 0; i < 4000 && c > 0.01; i++) {
        double t = start + (i + 0.5) * h;
        c = df_sorption_left(&hold, c, t, df_sorption_activity(water, 10.0, t), h / ramp);
        spent += h / ramp;
    }
    spent += df_sorption_time(&hold, c, 0.01, 313.15, df_sorption_activity(water, 10.0, 313.15));
    assert_true(time < spent);
    /* Nothing to do, and what cannot be done. */
    assert_true(df_glass_ride(p, 41, &s, 1, &hold, water, 0.01, 0.02, 10.0, 313.15, 3.0) == 0.0 &&
                p[40].water == 0.01);
    assert_true(isinf(df_glass_ride(p, 41, &s, 1, &hold, water, 0.1, 1e-5, 10.0, 313.15, 3.0)));
    df_sorption butanol = sorption(k, &s, 1, "tert-butanol");
    assert_true(isinf(df_glass_ride(p, 41, &s, 1, &butanol, water, 0.02, 0.01, 10.0, 313.15, 3.0)));
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double gauss(uint64_t *seed) {
    return sqrt(-2.0 * log(uniform(seed))) * cos(2.0 * M_PI * uniform(seed));
}

/* The band against the quantiles of 40 000 draws of what was bound and of k (independent, log-normal). */
static void band(void **state) {
    enum { DRAWS = 40000 };
    static double left[DRAWS];
    df_sorption s = sorption_of(*state, "sucrose", "water");
    s.tight = 0.0;
    uint64_t seed = seed_of(17);
    static const double exposures[] = {0.05, 0.5, 1.0, 2.0, 4.0};
    for (size_t e = 0; e < 5; e++) {
        const double rest = 5e-4, start = 0.1;
        df_residual r;
        df_sorption_band(&r, &s, start, 1.0, exposures[e], rest, 298.15, 310.0);
        size_t inside = 0;
        for (size_t i = 0; i < DRAWS; i++) {
            double z = s.bound_sigma_ln * gauss(&seed), k = exp(s.rate_sigma_ln * gauss(&seed));
            left[i] = rest + (start - rest) * exp(z - k * exposures[e]);
            inside += left[i] >= r.low && left[i] <= r.high;
        }
        qsort(left, DRAWS, sizeof left[0], ascending);
        near((double)inside / DRAWS, 0.954, 0.035, "share inside at exposure %.2f", exposures[e]);
        near(r.likely, left[DRAWS / 2], 0.1 * left[DRAWS / 2] + 1e-4, "median");
        near(r.high, left[(size_t)(0.977 * DRAWS)], 0.35 * r.high, "upper end");
        assert_true(r.low >= rest && r.low < r.likely && r.likely < r.high);
    }
    /* Sugars freeze-dried and kept a week over a drying agent at 25 °C still held 1 to 2 %: doi
     * 10.1111/j.1365-2621.1997.tb15437.x (abstract, read). First-order decay alone would leave nothing. */
    s = sorption_of(*state, "sucrose", "water");
    df_residual week;
    df_sorption_band(&week, &s, 0.1, 1.0, df_sorption_rate(&s, 298.15) * 7.0 * 86400.0, 0.0, 298.15, 298.15);
    assert_true(week.high >= 0.01 && week.high <= 0.02 && week.low < 0.01);
    /* Without a rate: from nothing to all that was caught, and never more than there was. */
    df_sorption butanol = sorption_of(*state, "sucrose", "tert-butanol");
    df_residual r;
    df_sorption_band(&r, &butanol, butanol.bound, 0.03, 2.0, 0.0, 298.15, 298.15);
    assert_true(isnan(r.likely) && r.low == 0.0);
    near(r.high, 0.03, 1e-12, "all there was");
}

/* ICH Q3C as tabulated in J. Cannabis Res. 4 (2022) 22, table 1 (read); DMSO, acids and propanol on a contract laboratory's
 * list of class 3 (read); ethylene glycol 620 ppm and 6.2 mg a day on the European Medicines Agency's page (read). */
static void limits(void **state) {
    const kit *k = *state;
    static const struct {
        const char *name;
        int class_;
        double ppm;
    } rows[] = {
        {"acetonitrile", 2, 410}, {"methanol", 2, 3000},    {"1,4-dioxane", 2, 380},     {"thf", 2, 720},
        {"cyclohexane", 2, 3880}, {"toluene", 2, 890},      {"dichloromethane", 2, 600}, {"benzene", 1, 2},
        {"ethanol", 3, 5000},     {"acetone", 3, 5000},     {"ethyl acetate", 3, 5000},  {"2-propanol", 3, 5000},
        {"dmso", 3, 5000},        {"acetic acid", 3, 5000}, {"ethylene glycol", 2, 620}, {"tert-butanol", 2, 3500}};
    df_residual_limit l;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(df_residual_limit_find(k->ctx, &l, kit_substance(k, rows[i].name)), DF_OK);
        assert_int_equal(l.class_, DF_RESIDUAL_CLASS_1 + rows[i].class_ - 1);
        near(l.limit, 1e-6 * rows[i].ppm, 1e-12, "%s", rows[i].name);
        assert_true(l.source[0] != '\0' && l.revision[0] != '\0');
        if (rows[i].class_ != 1) /* option 1 of the guideline: 10 g a day */
            near(df_residual_limit_at_dose(&l, 0.010), l.limit, 1e-12, "%s at 10 g", rows[i].name);
    }
    assert_int_equal(df_residual_limit_find(k->ctx, &l, kit_substance(k, "trifluoroacetic acid")), DF_OK);
    assert_true(l.class_ == DF_RESIDUAL_NO_DATA && isnan(l.limit));
    assert_int_equal(df_residual_limit_find(k->ctx, &l, kit_substance(k, "water")), DF_OK);
    assert_true(l.class_ == DF_RESIDUAL_UNLISTED && isnan(l.limit) && isnan(df_residual_limit_at_dose(&l, 0.01)));
    assert_int_equal(df_residual_limit_state(k->ctx, &l, 0.0, "job.yaml:9: limit"), DF_E_INPUT);
    assert_says(k->ctx, "job.yaml:9: limit");
    assert_int_equal(df_residual_limit_state(k->ctx, &l, 0.002, NULL), DF_OK);
    assert_true(l.class_ == DF_RESIDUAL_STATED && l.limit == 0.002);
    static const struct {
        df_residual residual;
        df_residual_verdict verdict;
    } cases[] = {{{0.0, 0.0005, 0.002}, DF_RESIDUAL_BELOW},
                 {{0.0, 0.0005, 0.0021}, DF_RESIDUAL_UNTOLD},
                 {{0.003, 0.01, 0.02}, DF_RESIDUAL_ABOVE},
                 {{0.0, NAN, 0.001}, DF_RESIDUAL_BELOW},
                 {{0.0, NAN, NAN}, DF_RESIDUAL_UNTOLD}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_int_equal(df_residual_compare(&cases[i].residual, l.limit), cases[i].verdict);
    assert_int_equal(df_residual_compare(&cases[0].residual, NAN), DF_RESIDUAL_UNTOLD);
    assert_string_equal(df_residual_verdict_name(DF_RESIDUAL_UNTOLD), "cannot be told");
    assert_string_equal(df_residual_class_name(DF_RESIDUAL_STATED), "stated");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(first_order),
                                       cmocka_unit_test(published_moisture),
                                       cmocka_unit_test(isotherm),
                                       cmocka_unit_test(choice),
                                       cmocka_unit_test(published_glasses),
                                       cmocka_unit_test(glass_limits),
                                       cmocka_unit_test(ramps),
                                       cmocka_unit_test(rides),
                                       cmocka_unit_test(band),
                                       cmocka_unit_test(limits)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
