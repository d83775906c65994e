/* Dried cakes of any solutes: what must hold whatever is in them. */
#include "kit.h"

#include "chance.h"
#include "dryfront/secondary.h"

#define CAKES 3000

static const char *const names[] = {
    "sucrose",  "trehalose", "lactose", "raffinose",      "dextran",         "pvp",
    "mannitol", "glycine",   "peptide", "small_molecule", "sodium chloride", "sorbitol"};
static const char *const liquids[] = {"water", "tert-butanol", "acetonitrile", "dmso", "ethanol", "acetic acid"};

static double between(uint64_t *seed, double low, double high) {
    return low + (high - low) * uniform(seed);
}

static size_t any_cake(const kit *k, df_solute *s, uint64_t *seed) {
    size_t n = 1 + below(seed, 3);
    for (size_t i = 0; i < n; i++) {
        if (df_solute_find(k->ctx, &s[i], k->substances, names[below(seed, sizeof names / sizeof names[0])], NULL) !=
            DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        s[i].concentration = between(seed, 0.0, 100.0);
    }
    return n;
}

/* Decay stays between its ends, faster the warmer; bands stand in order and within what was there; shares do not depend on the
 * unit of concentration nor on the order of the solutes. */
static void kinetics(void **state) {
    const kit *k = *state;
    for (uint64_t number = 0; number < CAKES; number++) {
        uint64_t seed = seed_of(number);
        df_solute cake[3];
        df_sorption s, same;
        size_t n = any_cake(k, cake, &seed);
        const df_substance *liquid = kit_substance(k, liquids[below(&seed, 6)]);
        assert_int_equal(df_sorption_find(k->ctx, &s, cake, n, liquid), DF_OK);
        assert_true(s.known == liquid->is_water && s.bound > 0.0 && s.bound < 1.0);
        double a = uniform(&seed), c = between(&seed, 0.0, 0.3), t = between(&seed, 220.0, 330.0),
               time = exp(between(&seed, 0.0, 14.0)), rest = df_sorption_equilibrium(&s, a),
               left = df_sorption_left(&s, c, t, a, time), warmer = df_sorption_left(&s, c, t + 5.0, a, time);
        assert_true(left >= fmin(c, rest) - 1e-12 && left <= fmax(c, rest) + 1e-12);
        assert_true(fabs(warmer - rest) <= fabs(left - rest) + 1e-12);
        if (c > rest && s.known && left - rest > 1e-6 * (c - rest))
            assert_near(df_sorption_time(&s, c, left, t, a), time, 1e-4);
        df_residual r;
        double most = c + between(&seed, 0.0, 0.2), exposure = df_sorption_rate(&s, t) * time;
        df_sorption_band(&r, &s, c, most, exposure, rest, t, t);
        assert_true(r.low >= 0.0 && r.low <= r.high && r.high <= fmax(most, c) + 1e-12);
        assert_true(s.known ? r.low <= r.likely + 1e-12 && r.likely <= r.high + 1e-12 : isnan(r.likely));
        df_residual later;
        df_sorption_band(&later, &s, c, most, 1.5 * exposure, rest, t, t);
        assert_true(later.high <= r.high + 1e-12 && later.low <= r.low + 1e-12);
        df_solute other[3];
        for (size_t i = 0; i < n; i++) {
            other[i] = cake[n - 1 - i];
            other[i].concentration *= 7.0;
        }
        assert_int_equal(df_sorption_find(k->ctx, &same, other, n, liquid), DF_OK);
        near(same.bound, s.bound, 1e-12, "bound");
        near(same.rate, s.rate, 1e-12 * s.rate, "rate");
        near(df_sorption_equilibrium(&same, a), rest, 1e-9 * rest, "isotherm");
    }
}

/* A glass between its parts, softer the wetter, its inverse, and the fastest ramp held against a plain integration. */
static void glass(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    size_t limited = 0, ridden = 0;
    for (uint64_t number = 0; number < CAKES; number++) {
        uint64_t seed = seed_of(number + 77777);
        df_solute cake[3];
        df_sorption s;
        size_t n = any_cake(k, cake, &seed);
        double w = between(&seed, 0.0, 0.2), sigma, tg = df_moist_glass(cake, n, w, &sigma), low = INFINITY,
               high = -INFINITY;
        for (size_t i = 0; i < n; i++)
            if (!cake[i].crystallises) {
                low = fmin(low, cake[i].glass_temperature);
                high = fmax(high, cake[i].glass_temperature);
            }
        if (!(low < INFINITY)) {
            assert_true(isnan(tg) && isnan(sigma));
            continue;
        }
        double dry = df_moist_glass(cake, n, 0.0, NULL);
        assert_true(dry >= low - 1e-9 && dry <= high + 1e-9);
        assert_true(tg > 136.0 && tg <= dry && sigma > 1.0 && sigma < 60.0);
        assert_true(df_moist_glass(cake, n, w + 0.01, NULL) < tg);
        near(df_glass_water(cake, n, tg, 0.0), w, 1e-9, "water");
        assert_int_equal(df_sorption_find(k->ctx, &s, cake, n, water), DF_OK);
        double start = between(&seed, 230.0, 260.0), end = between(&seed, 280.0, 320.0),
               margin = between(&seed, 0.0, 6.0), pressure = between(&seed, 1.0, 40.0),
               rate = df_glass_ramp(cake, n, &s, water, w, start, end, pressure, margin);
        assert_true(rate >= 0.0);
        if (number % 10 == 0 && isfinite(rate) && rate > 0.0) {
            double c = w, least = INFINITY, step = (end - start) / 2000.0;
            for (int i = 0; i < 2000; i++) {
                double t = start + (i + 0.5) * step;
                c = df_sorption_left(&s, c, t, df_sorption_activity(water, pressure, t), step / rate);
                least = fmin(least, df_moist_glass(cake, n, c, NULL) - (t + 0.5 * step));
            }
            near(least, margin, 0.3, "margin of cake %llu", (unsigned long long)number);
            limited++;
        }
        df_glass_point way[9];
        double target = 0.3 * w, time = df_glass_ride(way, 9, cake, n, &s, water, w, target, pressure, end, margin);
        double warmest = df_sorption_time(&s, w, target, end, df_sorption_activity(water, pressure, end));
        assert_true(time >= warmest * (1.0 - 1e-6));
        ridden += isfinite(time) && time > warmest * 1.01;
    }
    assert_true(limited > 20 && ridden > 200);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(kinetics), cmocka_unit_test(glass)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
