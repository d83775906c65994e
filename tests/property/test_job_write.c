/* A job written and read again is the same job: by chance, with all digits in every field, and the examples. */
#include "chance.h"
#include "kit.h"

#include "advice/action.h"

#include <dirent.h>

#define JOBS 400

static df_job *job_of(const kit *k, const char *text, const char *name) {
    df_job *job = calloc(1, sizeof *job);
    assert_non_null(job);
    if (df_job_parse(k->ctx, job, k->substances, NULL, text, strlen(text), name) != DF_OK)
        fail_msg("%s\n%s", df_context_message(k->ctx), text);
    return job;
}

/* Field by field: a struct has gaps between its members. */
static void same_double(double a, double b, const char *what) {
    if (!(a == b || (isnan(a) && isnan(b))))
        fail_msg("%s: %.17g became %.17g", what, a, b);
}
#define SAME(field) same_double(a->field, b->field, #field)
#define EQUAL(field) assert_int_equal(a->field, b->field)
#define ALIKE(field) assert_string_equal(a->field, b->field)

static void same_composition(const df_composition *a, const df_composition *b) {
    EQUAL(n);
    EQUAL(basis);
    for (size_t i = 0; i < a->n; i++) {
        assert_ptr_equal(a->component[i], b->component[i]);
        EQUAL(seen[i]);
        SAME(x[i]);
    }
}

static void same_job(const df_job *a, const df_job *b) {
    ALIKE(name);
    ALIKE(dryer);
    EQUAL(purpose);
    same_composition(&a->composition, &b->composition);
    EQUAL(solutes);
    for (size_t i = 0; i < a->solutes; i++) {
        ALIKE(solute[i].name);
        ALIKE(solute[i].key);
        ALIKE(solute[i].critical_kind);
        EQUAL(solute[i].known);
        SAME(solute[i].concentration);
        SAME(solute[i].critical_temperature);
        SAME(solute[i].density);
        SAME(solute[i].substance.involatile.anchor_temperature);
    }
    EQUAL(groups);
    for (size_t i = 0; i < a->groups; i++) {
        ALIKE(group[i].container.key);
        EQUAL(group[i].count);
        for (int spot = 0; spot < DF_SPOTS; spot++)
            EQUAL(group[i].at[spot]);
        SAME(group[i].on);
        SAME(group[i].off);
        SAME(group[i].fill);
        EQUAL(group[i].lie);
        EQUAL(group[i].place);
    }
    EQUAL(cooling.means);
    SAME(cooling.temperature);
    EQUAL(recipe_given);
    EQUAL(recipe.n);
    for (size_t i = 0; i < a->recipe.n; i++) {
        SAME(recipe.time[i]);
        SAME(recipe.shelf_temperature[i]);
        SAME(recipe.pressure[i]);
    }
    EQUAL(events);
    for (size_t i = 0; i < a->events; i++) {
        EQUAL(event[i].kind);
        EQUAL(event[i].trap);
        SAME(event[i].time);
        SAME(event[i].length);
        SAME(event[i].thaw);
    }
    SAME(loading);
    SAME(start_pressure);
    EQUAL(cake.stated);
    SAME(cake.r0);
    SAME(cake.a1);
    SAME(cake.a2);
    SAME(top_coefficient);
    SAME(dry_conductivity);
    for (size_t i = 0; i < a->composition.n; i++) {
        SAME(target[i]);
        SAME(limit[i].limit);
        EQUAL(limit[i].class_);
    }
    SAME(margin);
    SAME(time_limit);
    SAME(product_temperature);
    EQUAL(others);
    for (size_t i = 0; i < a->others; i++)
        ALIKE(other[i]);
    SAME(pore_exponent);
    SAME(least_framework);
    SAME(trace_liquid);
    EQUAL(mode);
    for (size_t i = 0; i < DF_UNCERTAINS; i++) {
        EQUAL(uncertain[i].spread_stated);
        EQUAL(uncertain[i].correlation_stated);
        EQUAL(uncertain[i].distribution_stated);
        SAME(uncertain[i].spread);
        SAME(uncertain[i].correlation);
        EQUAL(uncertain[i].distribution);
    }
}

static void round_trip(const kit *k, const df_job *job, const char *original) {
    df_text text = {0}, again = {0};
    if (df_job_write(k->ctx, &text, job, original, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    df_job *back = job_of(k, df_text_string(&text), "again");
    same_job(job, back);
    assert_int_equal(df_job_write(k->ctx, &again, back, df_text_string(&text), NULL), DF_OK);
    assert_string_equal(df_text_string(&text), df_text_string(&again));
    free(back);
    df_text_free(&text);
    df_text_free(&again);
}

/* ---- jobs by chance ------------------------------------------------------------------------------------------- */

static double between(uint64_t *s, double low, double high) {
    return low + (high - low) * uniform(s);
}

/* A number as people write it, or with all its digits. */
static const char *number(uint64_t *s, double low, double high) {
    static char text[8][40];
    static size_t next;
    char *out = text[next++ % 8];
    snprintf(out, 40, "%.*g", below(s, 3) == 0 ? 17 : (int)below(s, 4) + 2, between(s, low, high));
    return out;
}

static bool chance(uint64_t *s, double share) {
    return uniform(s) < share;
}

/* Components with amounts in one unit; one may take the rest. */
static size_t put_composition(df_text *out, uint64_t *s, const char *chosen[4]) {
    static const char *const names[] = {"acetonitrile", "1,4-dioxane", "tert-butanol", "acetic acid", "dmf", "TFA"};
    static const char *const units[] = {"%v/v", "%w/w", "mol%"};
    const char *unit = units[below(s, 3)];
    size_t n = below(s, 4), first = below(s, 6);
    df_text_puts(out, "  composition: \"");
    for (size_t i = 0; i < n; i++) {
        chosen[i] = names[(first + i) % 6];
        df_text_printf(out, "%s %s %s, ", chosen[i], number(s, 0.01, 30.0), unit);
    }
    df_text_puts(out, "water\"\n");
    return n;
}

static void put_recipe(df_text *out, uint64_t *s) {
    static const char *const units[] = {"h", "min", "s"};
    bool held = chance(s, 0.5);
    size_t n = 1 + below(s, 6);
    double time = 0.0;
    df_text_puts(out, "recipe:\n");
    for (size_t i = 0; i < n; i++) {
        df_text_printf(out, "  - {time: %.*g %s, shelf_temperature: %s %s", chance(s, 0.3) ? 17 : 6, time,
                       units[below(s, 3) * (i == 0)], number(s, -55.0, 30.0), "°C");
        if (held && chance(s, 0.7))
            df_text_printf(out, ", chamber_pressure: %s mbar", number(s, 0.0, 1.0));
        df_text_puts(out, "}\n");
        time += between(s, 0.1, 20.0);
    }
}

static void put_rest(df_text *out, uint64_t *s, const char *const *chosen, size_t n) {
    static const char *const uncertain[] = {
        "cake_r0: 12.5 %", "cake_a1: {spread: 20 %, distribution: lognormal, correlation: -0.25}",
        "trap_temperature: 1.7 K", "thermodynamics: {spread: 0.5}", "fill: {distribution: uniform}"};
    if (chance(s, 0.5))
        df_text_printf(out, "loading: %s min\n", number(s, 0.0, 90.0));
    if (chance(s, 0.5))
        df_text_printf(out,
                       "events:\n  - {event: power_cut, time: %s h, length: %s min}\n"
                       "  - {event: defrost, time: %s h, length: 3 h, thaw: %s h, trap: 2}\n"
                       "  - {event: defrost, time: 50 h, length: %s h}\n"
                       "  - {event: refill, time: %s h, trap: 2}\n",
                       number(s, 0.0, 9.0), number(s, 0.0, 90.0), number(s, 0.0, 90.0), number(s, 0.0, 3.0),
                       number(s, 0.0, 3.0), number(s, 0.0, 90.0));
    if (chance(s, 0.5)) {
        df_text_printf(out, "residual:\n  water: %s %%\n", number(s, 0.1, 5.0));
        if (n > 0)
            df_text_printf(out, "  %s: %s ppm\n", chosen[0], number(s, 10.0, 5000.0));
    }
    if (chance(s, 0.4))
        df_text_puts(out, "dryers: [bench-85, \"dryers/the 'old' one.yaml\"]\n");
    if (chance(s, 0.5))
        df_text_printf(out, "limits: {margin: %s K, time: %s d, product_temperature: %s °C}\n", number(s, 0.0, 9.0),
                       number(s, 0.1, 9.0), number(s, 10.0, 60.0));
    if (chance(s, 0.5))
        df_text_printf(out,
                       chance(s, 0.5) ? "cake: {r0: %s m/s, a1: %s 1/s, a2: %s 1/m}\n"
                                      : "cake: {r0: %s cm2 Torr h/g, a1: %s cm Torr h/g, a2: %s 1/mm}\n",
                       number(s, 1.0, 9.0), number(s, 0.0, 40.0), number(s, 0.0, 9.0));
    if (chance(s, 0.5))
        df_text_printf(out,
                       "model:\n  solids: %s\n  least_framework: %s %%\n  trace_liquid: %s %%\n"
                       "  top_coefficient: %s W/m2/K\n  dry_conductivity: %s W/m/K\n  pore_exponent: %s\n",
                       df_freezing_mode_name((df_freezing_mode)below(s, 4)), number(s, 0.0, 99.0),
                       number(s, 0.0, 19.0), number(s, 0.0, 9.0), number(s, 0.01, 1.0), number(s, 0.0, 5.0));
    if (chance(s, 0.5)) {
        df_text_puts(out, "uncertainty:\n");
        for (size_t i = below(s, 3); i < sizeof uncertain / sizeof uncertain[0]; i += 1 + below(s, 3))
            df_text_printf(out, "  %s\n", uncertain[i]);
    }
}

static void put_job(df_text *out, uint64_t *s) {
    static const char *const purposes[] = {"intermediate", "screening", "archive", "release"};
    static const char *const names[] = {"plain", "\"a: b # c\"", "'it''s 12 %'", "Größe 7", "\"yes\"", "\"- x\""};
    static const char *const means[] = {"freezer", "dry_ice_bath", "liquid_nitrogen", "shelf"};
    const char *chosen[4] = {NULL};
    df_text_printf(out, "job: %s\npurpose: %s\ndryer: %s\nsample:\n", names[below(s, 6)], purposes[below(s, 4)],
                   chance(s, 0.5) ? "deep-105" : "\"dryers/a, b.yaml\"");
    size_t n = put_composition(out, s, chosen);
    df_text_printf(out, "  solutes:\n    - {name: sucrose, concentration: %s g/L}\n", number(s, 0.0, 100.0));
    if (chance(s, 0.5))
        df_text_printf(
            out, "    - {name: mannitol, concentration: %s mg/mL, critical_temperature: %s °C, density: %s g/L}\n",
            number(s, 0.0, 100.0), number(s, -90.0, 9.0), number(s, 900.0, 2000.0));
    if (chance(s, 0.5))
        df_text_printf(out, "    - {name: \"mine, own\", concentration: 1 g/L, critical_temperature: %s K}\n",
                       number(s, 200.0, 300.0));
    if (n > 1 && chance(s, 0.5))
        df_text_printf(out, "  crystallises: [water, \"%s\"]\n  stays_liquid: [\"%s\"]\n", chosen[0], chosen[1]);
    df_text_printf(out,
                   "containers:\n  - {type: vial_20R, count: %zu, edge: 3, door: %zu, fill: %s mL, place: shelf}\n",
                   10 + below(s, 200), below(s, 5), number(s, 0.5, 12.0));
    if (chance(s, 0.5))
        df_text_printf(out,
                       "  - {type: flask_500, count: 3, fill: %s mL, lie: shell, place: manifold, on: %s min, off: "
                       "%s h}\n",
                       number(s, 20.0, 150.0), number(s, 0.0, 50.0), number(s, 1.0, 50.0));
    df_text_printf(out, "freezing: {means: %s", means[below(s, 4)]);
    if (chance(s, 0.5))
        df_text_printf(out, ", temperature: %s %s", number(s, 80.0, 270.0), "K");
    df_text_puts(out, "}\n");
    put_recipe(out, s);
    put_rest(out, s, chosen, n);
}

static void any_job(void **state) {
    const kit *k = *state;
    for (uint64_t i = 0; i < JOBS; i++) {
        uint64_t s = seed_of(i);
        df_text text = {0};
        put_job(&text, &s);
        df_job *job = job_of(k, df_text_string(&text), "chance");
        round_trip(k, job, NULL);
        round_trip(k, job, df_text_string(&text));
        free(job);
        df_text_free(&text);
    }
}

/* Values that no text was read to, as a route makes them: up to ten mole fractions are the hard part. */
static void any_numbers(void **state) {
    const kit *k = *state;
    static const char start[] =
        "job: a\npurpose: archive\ndryer: bench-55\nsample: {composition: water}\ncontainers:\n"
        "  - {type: vial_20R, count: 4, fill: 1 mL, place: shelf}\n"
        "freezing: {means: freezer}\nrecipe:\n  - {time: 0 h, shelf_temperature: -20 °C}\n";
    size_t n = df_substances_count(k->substances);
    df_job *job = job_of(k, start, "start");
    for (uint64_t i = 0; i < JOBS; i++) {
        uint64_t s = seed_of(i);
        df_text text = {0};
        const df_substance *component[DF_MAX_COMPONENTS] = {kit_substance(k, "water")};
        double fraction[DF_MAX_COMPONENTS];
        size_t parts = 1 + below(&s, DF_MAX_COMPONENTS), m = 1;
        while (m < parts) {
            const df_substance *one = df_substances_at(k->substances, below(&s, n));
            bool again = one->is_involatile;
            for (size_t j = 0; j < m; j++)
                again = again || component[j] == one;
            if (!again)
                component[m++] = one;
        }
        for (size_t j = 0; j < m; j++)
            fraction[j] = i % 3 == 0 && j == 0 && m > 1 ? 0.0 : uniform(&s);
        df_composition_set(&job->composition, component, fraction, m, (df_basis)below(&s, 3));
        job->group[0].fill = between(&s, 1e-7, 9e-6);
        job->cooling.temperature = between(&s, 78.0, 270.0);
        job->margin = between(&s, 0.0, 9.0);
        job->time_limit = between(&s, 100.0, 1e7);
        job->recipe.n = 2;
        job->recipe.time[1] = between(&s, 1.0, 1e6);
        job->recipe.shelf_temperature[1] = between(&s, 200.0, 320.0);
        job->recipe.pressure[1] = between(&s, 0.0, 200.0);
        assert_int_equal(df_job_write(k->ctx, &text, job, NULL, NULL), DF_OK);
        df_job *back = job_of(k, df_text_string(&text), "again");
        for (size_t j = 0; j < job->composition.n; j++)
            job->limit[j] = back->limit[j];
        same_job(job, back);
        free(back);
        df_text_free(&text);
    }
    free(job);
}

/* ---- the examples --------------------------------------------------------------------------------------------- */

static char *file_text(const char *path) {
    FILE *f = fopen(path, "rb");
    char *text = calloc(1, 1 << 16);
    assert_true(f != NULL && text != NULL);
    assert_true(fread(text, 1, (1 << 16) - 1, f) > 0);
    fclose(f);
    return text;
}

/* As people write: no number is longer than seven characters. */
static void short_numbers(const char *text) {
    for (const char *at = text, *digits = text; *at != '\0'; at++) {
        digits = (*at >= '0' && *at <= '9') || *at == '.' ? digits : at + 1;
        if (at - digits >= 8)
            fail_msg("'%.30s' in\n%s", digits, text);
    }
}

static void examples(void **state) {
    const kit *k = *state;
    DIR *folder = opendir(DRYFRONT_SOURCE_DIR "/examples");
    size_t seen = 0;
    assert_non_null(folder);
    for (struct dirent *entry; (entry = readdir(folder)) != NULL;) {
        char path[600];
        size_t length = strlen(entry->d_name);
        if (length < 5 || strcmp(entry->d_name + length - 5, ".yaml") != 0)
            continue;
        snprintf(path, sizeof path, "%s/examples/%s", DRYFRONT_SOURCE_DIR, entry->d_name);
        char *text = file_text(path);
        df_job *job = job_of(k, text, entry->d_name);
        df_text out = {0};
        round_trip(k, job, NULL);
        round_trip(k, job, text);
        assert_int_equal(df_job_write(k->ctx, &out, job, text, NULL), DF_OK);
        short_numbers(df_text_string(&out));
        assert_non_null(strstr(df_text_string(&out), "# Invented"));
        seen++;
        df_text_free(&out);
        free(job);
        free(text);
    }
    closedir(folder);
    assert_true(seen >= 3);
}

static void comments_stay(void **state) {
    const kit *k = *state;
    static const char text[] = "# pool of Tuesday\n\njob: a # renamed\npurpose: archive\ndryer: bench-55\nsample:\n"
                               "  # by HPLC\n  composition: acetonitrile 30 %v/v, water 70 %v/v\ncontainers:\n"
                               "  - type: vial_20R\n    count: 4 # four left over\n    fill: 1 mL\n    place: shelf\n"
                               "freezing: {means: freezer} # the old one\nrecipe: # slow\n  - {time: 0 h, "
                               "shelf_temperature: -20 °C} # start\n"
                               "limits:\n  margin: 1 K # usual\n# last\n";
    df_job *job = job_of(k, text, "a.yaml");
    df_text out = {0};
    assert_int_equal(df_job_write(k->ctx, &out, job, text, "boil off\nthen \x01 freeze"), DF_OK);
    assert_string_equal(df_text_string(&out),
                        "# pool of Tuesday\n# renamed\n# boil off\n# then   freeze\njob: a\npurpose: archive\n"
                        "dryer: bench-55\nsample:\n  # by HPLC\n  composition: acetonitrile 30 %v/v, water\n"
                        "# four left over\ncontainers:\n  - {type: vial_20R, count: 4, fill: 1 mL, place: shelf}\n"
                        "# the old one\nfreezing:\n  means: freezer\n"
                        "# slow\n# start\nrecipe:\n  - {time: 0 h, shelf_temperature: -20 °C}\n"
                        "limits:\n  # usual\n  margin: 1 K\n# last\n");
    df_text_free(&out);
    free(job);
}

/* Every substance by the name that is written, also those with commas and digits in it. */
static void every_substance(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    for (size_t i = 0; i < df_substances_count(k->substances); i++) {
        const df_substance *pair[2] = {df_substances_at(k->substances, i), water};
        const double fraction[2] = {0.25, 0.75};
        df_composition c, back;
        df_text text = {0};
        if (pair[0] == water || pair[0]->is_involatile)
            continue;
        df_composition_set(&c, pair, fraction, 2, DF_BASIS_VOLUME);
        df_composition_write(&text, &c);
        assert_int_equal(df_composition_parse(k->ctx, &back, k->substances, df_text_string(&text), NULL), DF_OK);
        same_composition(&c, &back);
        df_composition_set(&c, pair, fraction, 1, DF_BASIS_MASS);
        df_text_free(&text);
        df_composition_write(&text, &c); /* without any water */
        assert_int_equal(df_composition_parse(k->ctx, &back, k->substances, df_text_string(&text), NULL), DF_OK);
        same_composition(&c, &back);
        df_text_free(&text);
    }
}

/* ---- what routes and remedies make of a job ------------------------------------------------------------------- */

static void same_dryer(const df_dryer *a, const df_dryer *b) {
    ALIKE(name);
    EQUAL(traps);
    for (size_t i = 0; i < a->traps; i++) {
        EQUAL(trap[i].kind);
        EQUAL(trap[i].refrigeration.n);
        for (size_t j = 0; j < a->trap[i].refrigeration.n; j++) {
            SAME(trap[i].refrigeration.x[j]);
            SAME(trap[i].refrigeration.y[j]);
        }
        SAME(trap[i].area);
        SAME(trap[i].volume);
        SAME(trap[i].capacity);
        SAME(trap[i].heat_capacity);
        if (a->trap[i].kind == DF_TRAP_FINGER)
            SAME(trap[i].temperature);
        SAME(trap[i].charge);
        SAME(trap[i].loss);
    }
    SAME(link.diameter);
    SAME(link.length);
    EQUAL(pump.kind);
    SAME(pump.solvent_limit);
    SAME(pump.ballast);
    SAME(pump.ultimate);
}

static void comes_back(const kit *k, const df_job *job, const df_dryer *dryer, bool own, const char *original) {
    df_text text = {0}, file = {0};
    df_dryer back;
    round_trip(k, job, NULL);
    round_trip(k, job, original);
    assert_int_equal(df_job_write(k->ctx, &text, job, original, NULL), DF_OK);
    short_numbers(df_text_string(&text));
    assert_int_equal(df_dryer_write(k->ctx, &file, dryer, NULL, NULL), DF_OK);
    if (df_dryer_parse(k->ctx, &back, NULL, file.data, file.length, "own") != DF_OK)
        fail_msg("%s\n%s", df_context_message(k->ctx), df_text_string(&file));
    same_dryer(dryer, &back);
    if (own)
        short_numbers(df_text_string(&file));
    df_text_free(&text);
    df_text_free(&file);
}

static const char island[] =
    "job: pool\npurpose: archive\ndryer: bench-55\nsample:\n  composition: acetonitrile 35 %v/v, TFA 0.1 %v/v, "
    "water\n  solutes:\n    - {name: plant_extract, concentration: 4 g/L, critical_temperature: -28 "
    "°C}\ncontainers:\n"
    "  - {type: vial_20R, count: 240, edge: 60, fill: 6 mL, place: shelf}\nfreezing: {means: freezer}\nrecipe:\n"
    "  - {time: 0 h, shelf_temperature: -38 °C, chamber_pressure: 0.1 mbar}\n  - {time: 7 h, shelf_temperature: "
    "-31.7 "
    "°C, chamber_pressure: 0.07 mbar}\ndryers: [deep-105]\n";
static const char kelp[] =
    "job: flasks\npurpose: archive\ndryer: bench-55\nsample: {composition: \"tert-butanol 20 %w/w, water\"}\n"
    "containers:\n  - {type: flask_500, count: 6, fill: 150 mL, place: manifold}\nfreezing: {means: freezer}\n";

static const char sugar[] =
    "job: sugar\npurpose: archive\ndryer: bench-55\nsample:\n  composition: water\n  solutes:\n"
    "    - {name: sucrose, concentration: 50 g/L}\ncontainers:\n"
    "  - {type: vial_20R, count: 240, fill: 4 mL, place: shelf}\nfreezing: {means: freezer}\nrecipe:\n"
    "  - {time: 0 h, shelf_temperature: -38 °C}\n  - {time: 40 h, shelf_temperature: -38 °C}\n"
    "  - {time: 42 h, shelf_temperature: -10 °C}\n  - {time: 43.5 h, shelf_temperature: 21.3 °C}\n"
    "  - {time: 50 h, shelf_temperature: 21.3 °C}\nresidual: {water: 2 %}\n";

/* Each action on each job: the texts read back to the job and the dryer that the route runs. */
static void every_action(void **state) {
    const kit *k = *state;
    static const char *const names[] = {"deep-105", NULL};
    const char *const texts[] = {island, kelp, sugar};
    bool seen[DF_ACTIONS] = {false};
    df_efforts e;
    assert_int_equal(df_efforts_read(k->ctx, &e), DF_OK);
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        df_job *job = job_of(k, texts[i], "job"), *taken = calloc(1, sizeof *taken);
        df_dryer own_dryer, other[2], *dryer = calloc(1, sizeof *dryer);
        df_action list[DF_MOST_ACTIONS];
        df_liquid *liquid = calloc(1, sizeof *liquid);
        assert_true(taken != NULL && dryer != NULL && liquid != NULL);
        assert_int_equal(df_dryer_builtin(k->ctx, &own_dryer, "bench-55"), DF_OK);
        assert_int_equal(df_dryer_builtin(k->ctx, &other[0], "deep-105"), DF_OK);
        assert_int_equal(df_dryer_builtin(k->ctx, &other[1], "bench-85"), DF_OK);
        df_routes_task task = {
            .job = job, .dryer = &own_dryer, .other = other, .other_name = names, .others = 2, .text = texts[i]};
        df_offer offer = {.butanol = kit_substance(k, "tert-butanol"), .freezing = true, .glass = true, .pump = true};
        size_t n = df_actions_list(list, &task, &e, &offer);
        for (size_t a = 0; a < n; a++) {
            const df_action *one = &list[a];
            df_plan plan;
            bool own;
            if (df_liquid_make(k->ctx, liquid, df_action_slot(one->kind) == 0 ? one : NULL, job, &e,
                               kit_substance(k, "water"), k->pairs) != DF_OK)
                fail_msg("%s", df_context_message(k->ctx));
            if (!df_plan_make(&plan, &task, &e, liquid, &one, 1))
                continue;
            seen[one->kind] = true;
            if (one->kind == DF_ACTION_HOLD)
                assert_true(df_hold_put(&plan.job.recipe, plan.hold, 5.0 * 3600.0));
            df_route *route = calloc(1, sizeof *route);
            assert_non_null(route);
            route->job = plan.job;
            route->dryer = plan.dryer;
            route->action[route->actions++] = plan.action[0];
            df_route_take(taken, dryer, &own, route, &task);
            comes_back(k, taken, dryer, own, texts[i]);
            bool changed = one->kind >= DF_ACTION_TRAP && (one->kind != DF_ACTION_DRYER || one->dryer == 1);
            assert_int_equal(own, changed);
            if (one->kind == DF_ACTION_DRYER && one->dryer == 0) {
                assert_string_equal(taken->dryer, "deep-105");
                assert_true(job->others == 0 || strcmp(taken->other[0], "bench-55") == 0);
            } else if (!own)
                assert_string_equal(taken->dryer, "bench-55");
            else
                assert_true(strcmp(taken->dryer, "bench-55") != 0 && strchr(taken->dryer, ' ') == NULL);
            free(route);
        }
        free(job);
        free(taken);
        free(dryer);
        free(liquid);
    }
    for (int kind = 0; kind < DF_ACTIONS; kind++)
        if (!seen[kind])
            fail_msg("no job takes the action %s", df_action_name((df_action_kind)kind));
}

static void every_remedy(void **state) {
    const kit *k = *state;
    static const df_remedy list[] = {
        {.lever = DF_LEVER_FRACTION, .to = 0.123}, {.lever = DF_LEVER_TRAP, .to = 206.15},
        {.lever = DF_LEVER_SHELF, .to = 226.15},   {.lever = DF_LEVER_HOLD, .to = 226.15, .hold_hours = 4.0},
        {.lever = DF_LEVER_FILL, .to = 0.37},      {.lever = DF_LEVER_DRY_PUMP, .to = NAN},
        {.lever = DF_LEVER_FREEZE, .to = 201.15},
    };
    df_job *job = job_of(k, island, "job"), *taken = calloc(1, sizeof *taken);
    assert_non_null(taken);
    for (size_t i = 0; i < sizeof list / sizeof list[0]; i++) {
        df_dryer dryer;
        bool own;
        *taken = *job;
        assert_int_equal(df_dryer_builtin(k->ctx, &dryer, "bench-55"), DF_OK);
        assert_true(df_remedy_apply(taken, &dryer, &own, &list[i]));
        comes_back(k, taken, &dryer, own, island);
        assert_int_equal(own, list[i].lever == DF_LEVER_TRAP || list[i].lever == DF_LEVER_DRY_PUMP);
        assert_int_equal(own, strcmp(taken->dryer, "bench-55") != 0);
        if (list[i].lever == DF_LEVER_TRAP)
            assert_string_equal(taken->dryer, "bench-55-trap-67");
    }
    free(job);
    free(taken);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_job),       cmocka_unit_test(any_numbers),     cmocka_unit_test(examples),
        cmocka_unit_test(comments_stay), cmocka_unit_test(every_substance), cmocka_unit_test(every_action),
        cmocka_unit_test(every_remedy),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
