/* dump_equilibrium NAME: writes one phase equilibrium as JSON to standard output: what the activity model and the
 * solids are at this temperature, so that the peer can look for the phases by itself, and what ours are and took.
 * ours.warm and `guess` are for the start from the phases half a kelvin above, as on a cooling path. */
#include "cases.h"
#include "dryfront/mixture.h"
#include "json.h"

#include <string.h>

#define REPEATS 4001
#define N DF_MAX_COMPONENTS
#define NEIGHBOUR 0.5 /* K above */

/* Every solid of the components may form. THF, methanol and tert-butanol bring four hydrates beside four crystals. */
static const struct {
    const char *name, *composition;
    double temperature;
} cases[] = {
    {"equilibrium_binary", "acetonitrile 30 %v/v, water", 250.0},
    {"equilibrium_ternary", "acetonitrile 25 %w/w, tert-butanol 8 %w/w, water", 259.0},
    {"equilibrium_four", "thf 20 %w/w, methanol 8 %w/w, tert-butanol 15 %w/w, water", 212.0},
    {"equilibrium_gap", "acetonitrile 30 %w/w, methanol 5 %w/w, tert-butanol 10 %w/w, water", 230.0},
};

/* A list of rows of n numbers each. */
static void table(const char *name, const double (*v)[N], size_t rows, size_t n) {
    key(name);
    open_with('[');
    for (size_t i = 0; i < rows; i++) {
        printf(i == 0 ? "[" : ", [");
        for (size_t j = 0; j < n; j++) {
            printf(j == 0 ? "" : ", ");
            value(v[i][j]);
        }
        printf("]");
    }
    close_with("]");
}

/* The pairs at this temperature; cold_k, for i < j, with their factor f(T). */
static void model(const df_mixture *m, size_t n, double temperature) {
    double tau[N][N] = {{0}}, alpha[N][N] = {{0}}, cold[DF_COLD_TERMS][N][N] = {{{0}}};
    double fade = fmax(0.0, DF_ZERO_CELSIUS / temperature - DF_ZERO_CELSIUS / 360.0);
    char name[] = "cold_0";
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++) {
            const df_nrtl_pair *p = df_mixture_pair(m, i, j);
            tau[i][j] = p->a[0] + p->b[0] / temperature + p->c[0] * log(temperature);
            tau[j][i] = p->a[1] + p->b[1] / temperature + p->c[1] * log(temperature);
            alpha[i][j] = alpha[j][i] = p->alpha;
            for (size_t k = 0; k < DF_COLD_TERMS; k++)
                cold[k][i][j] = fade * p->cold[k];
        }
    table("tau", (const double(*)[N])tau, n, n);
    table("alpha", (const double(*)[N])alpha, n, n);
    for (size_t k = 0; k < DF_COLD_TERMS; k++) {
        name[5] = (char)('0' + k);
        table(name, (const double(*)[N])cold[k], n, n);
    }
}

/* Amounts of the solids in the order of `solids`, of the components in each liquid. */
static void phases(const df_assemblage *a, size_t n, size_t solids) {
    list("solid", a->solid, solids);
    table("liquid", (const double(*)[N])a->liquid, a->liquids, n);
}

/* G/RT of one mole, pure liquids = 0, from the amounts and their own potentials. */
static double energy(const df_mixture *m, const df_assemblage *a, double temperature) {
    size_t n = df_mixture_count(m);
    double g = 0.0, gamma[N];
    for (size_t k = 0; k < df_mixture_solids(m); k++)
        g += a->solid[k] * df_solid_constant_ln(m, k, temperature);
    for (size_t l = 0; l < a->liquids; l++) {
        double total = 0.0, x[N];
        for (size_t i = 0; i < n; i++)
            total += a->liquid[l][i];
        for (size_t i = 0; i < n; i++)
            x[i] = a->liquid[l][i] / total;
        df_mixture_activity(gamma, NULL, m, temperature, x);
        for (size_t i = 0; i < n; i++)
            if (x[i] > 0.0)
                g += a->liquid[l][i] * (log(x[i]) + gamma[i]);
    }
    return g;
}

static double timed(const bench_data *data, df_assemblage *out, const df_mixture *m, double temperature,
                    const df_composition *c, const bool *allowed, const df_assemblage *guess) {
    static double times[REPEATS];
    for (size_t i = 0; i < REPEATS; i++) {
        if (guess != NULL)
            *out = *guess;
        double start = bench_now();
        df_status status = df_mixture_equilibrium(data->ctx, out, m, temperature, c->x, allowed, guess != NULL);
        times[i] = bench_now() - start;
        bench_check(data, status);
    }
    return bench_median(times, REPEATS);
}

int main(int count, char **words) {
    size_t which = 0, n_cases = sizeof cases / sizeof cases[0];
    while (which < n_cases && count == 2 && strcmp(cases[which].name, words[1]) != 0)
        which++;
    if (count != 2 || which == n_cases) {
        fputs("usage: dump_equilibrium NAME, one of", stderr);
        for (size_t i = 0; i < n_cases; i++)
            fprintf(stderr, " %s", cases[i].name);
        fputs("\n", stderr);
        return 2;
    }
    bench_data data;
    df_composition c;
    df_mixture *m;
    df_assemblage cold, warm, guess;
    bool allowed[DF_MAX_SOLIDS];
    double temperature = cases[which].temperature;
    bench_open(&data);
    bench_check(&data, df_composition_parse(data.ctx, &c, data.substances, cases[which].composition, NULL));
    bench_check(&data, df_mixture_create(data.ctx, &m, data.pairs, c.component, c.n));
    df_mixture_allow(allowed, m, DF_FREEZING_EQUILIBRIUM);
    bench_check(&data, df_mixture_equilibrium(data.ctx, &guess, m, temperature + NEIGHBOUR, c.x, allowed, false));
    size_t n = df_mixture_count(m), solids = df_mixture_solids(m);
    double cold_seconds = timed(&data, &cold, m, temperature, &c, allowed, NULL);
    double warm_seconds = timed(&data, &warm, m, temperature, &c, allowed, &guess);

    open_with('{');
    word("case", words[1]);
    number("temperature", temperature);
    key("components");
    open_with('[');
    for (size_t i = 0; i < n; i++)
        printf("%s\"%s\"", i == 0 ? "" : ", ", df_mixture_component(m, i)->key);
    close_with("]");
    list("z", c.x, n);
    model(m, n, temperature);
    key("solids");
    open_with('[');
    for (size_t k = 0; k < solids; k++) {
        const df_solid *s = df_mixture_solid(m, k);
        item();
        word("name", s->name);
        number("allowed", allowed[k]);
        number("constant_ln", df_solid_constant_ln(m, k, temperature));
        list("formula", s->formula, n);
        close_with("}");
    }
    close_with("]");
    key("guess");
    open_with('{');
    phases(&guess, n, solids);
    close_with("}");
    key("ours");
    open_with('{');
    number("cold", cold_seconds);
    number("warm", warm_seconds);
    number("energy", energy(m, &cold, temperature));
    number("energy_warm", energy(m, &warm, temperature));
    phases(&cold, n, solids);
    list("activity_ln", cold.activity_ln, n);
    close_with("}");
    puts("}");
    df_mixture_free(m);
    bench_close(&data);
    return ferror(stdout) != 0 ? 3 : 0;
}
