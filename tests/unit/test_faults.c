/* Where a failure lies: file, line and field beside the sentence, for jobs, dryers and substances. */
#include "../kit.h"
#include "dryfront/advice.h"

static void place_is(const df_context *ctx, const char *file, size_t line, const char *field) {
    df_fault place = df_context_fault(ctx);
    if (strcmp(place.file, file) != 0 || place.line != line || strcmp(place.field, field) != 0)
        fail_msg("'%s' line %zu field '%s', expected '%s' line %zu field '%s': %s", place.file, place.line,
                 place.field, file, line, field, df_context_message(ctx));
}

static void sentences(void **state) {
    df_context *ctx = ((kit *)*state)->ctx;
    static const struct {
        const char *sentence, *file, *field;
        size_t line;
    } rows[] = {
        {"job.yaml:12: sample.solutes[0].name: no solute is called 'x'", "job.yaml", "sample.solutes[0].name", 12},
        {"job.yaml:7: residual.acetic acid: is not in the sample", "job.yaml", "residual.acetic acid", 7},
        {"job.yaml:7: not valid YAML: mapping values are not allowed", "job.yaml", "", 7},
        {"job.yaml:7: the section 'sample' is missing", "job.yaml", "", 7},
        {"a:b.yaml:3: dryer: no dryer is called 'x'", "a:b.yaml", "dryer", 3},
        {"--port: must be a whole number", "", "", 0},
        {":3: x: y", "", "", 0},
        {"job.yaml:: x: y", "", "", 0},
        {"3: x: y", "", "", 0},
        {"no substance is called 'a:3: b'", "no substance is called 'a", "", 3},
        {"", "", "", 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        df_fail(ctx, DF_E_INPUT, "%s", rows[i].sentence);
        place_is(ctx, rows[i].file, rows[i].line, rows[i].field);
    }
    df_fail(ctx, DF_E_INPUT, "a.yaml:3: b: c");
    df_context_clear(ctx);
    place_is(ctx, "", 0, "");
    place_is(NULL, "", 0, "");
}

static const char job_text[] = "job: a\n"
                               "purpose: archive\n"
                               "dryer: bench-55\n"
                               "sample:\n"
                               "  composition: acetonitrile 30 %v/v, water\n"
                               "  solutes:\n"
                               "    - {name: sucrose, concentration: 20 g/L}\n"
                               "containers:\n"
                               "  - {type: vial_10R, count: 20, fill: 3 mL, place: shelf}\n"
                               "freezing: {means: freezer, temperature: -60 °C}\n"
                               "recipe:\n"
                               "  - {time: 0 h, shelf_temperature: -40 °C}\n"
                               "limits: {margin: 2 K}\n"
                               "residual:\n"
                               "  water: 1 %\n";

/* `text` with `old` replaced once; free it. */
static char *replaced(const char *text, const char *old, const char *new) {
    const char *at = strstr(text, old);
    assert_non_null(at);
    char *out = malloc(strlen(text) + strlen(new) + 1);
    assert_non_null(out);
    sprintf(out, "%.*s%s%s", (int)(at - text), text, new, at + strlen(old));
    return out;
}

static void jobs(void **state) {
    kit *k = *state;
    static const struct {
        const char *old, *new, *field;
        size_t line;
    } rows[] = {
        {"-60 °C}", "-60}", "freezing.temperature", 10},                  /* no unit */
        {"-60 °C}", "60 °C}", "freezing.temperature", 10},                /* out of bounds */
        {"archive", "archives", "purpose", 2},                            /* choice */
        {"purpose: archive\n", "", "purpose", 1},                         /* missing */
        {"count: 20, ", "", "containers[0].count", 9},                    /* missing below */
        {"sucrose", "sucrosse", "sample.solutes[0].name", 7},             /* unknown name */
        {"acetonitrile 30", "acetonitrile 130", "sample.composition", 5}, /* a text of its own form */
        {"vial_10R", "vial_11R", "containers[0].type", 9},
        {"fill: 3 mL", "fill: 30 mL", "containers[0].fill", 9}, /* beyond the brim */
        {"margin", "margn", "limits.margin", 13},               /* see below: the key as written */
        {"water: 1 %", "methanol: 1 %", "residual.methanol", 15},
        {"recipe:\n  - {time: 0 h, shelf_temperature: -40 °C}\n", "", "recipe", 1},
        {"limits: {", "limits: [", "", 13}, /* no YAML */
        {"time: 0 h", "time: 1 h", "recipe[0]", 12},
    };
    df_job *job = malloc(sizeof *job);
    assert_int_equal(df_job_parse(k->ctx, job, k->substances, NULL, job_text, strlen(job_text), "job.yaml"), DF_OK);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char *text = replaced(job_text, rows[i].old, rows[i].new);
        assert_true(df_job_parse(k->ctx, job, k->substances, NULL, text, strlen(text), "job.yaml") < 0);
        place_is(k->ctx, "job.yaml", rows[i].line,
                 strcmp(rows[i].new, "margn") == 0 ? "limits.margn" : rows[i].field);
        free(text);
    }
    free(job);
}

static void dryers(void **state) {
    kit *k = *state;
    size_t length;
    const char *embedded = df_embedded(&length, "dryer_bench-55.yaml");
    char *whole = df_strndup(embedded, length);
    df_dryer *d = malloc(sizeof *d);
    static const struct {
        const char *old, *new, *field;
    } rows[] = {
        {"control:", "contol:", "chamber.contol"},
        {"kind: oil_sealed", "kind: oily", "pump.kind"},
        {"capacity:", "#", "trap.capacity"},
        {"  ultimate_pressure: ", "  ultimate_pressure: 1", "pump.ultimate_pressure"},
        {"duct:", "tube:", "tube"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char *text = replaced(whole, rows[i].old, rows[i].new);
        if (df_dryer_parse(k->ctx, d, NULL, text, strlen(text), "d.yaml") < 0) {
            df_fault place = df_context_fault(k->ctx);
            assert_string_equal(place.field, rows[i].field);
            assert_true(place.line > 0);
        } else
            assert_string_equal(rows[i].field, "pump.ultimate_pressure"); /* still within its bounds */
        free(text);
    }
    free(whole);
    free(d);
}

static void substances(void **state) {
    kit *k = *state;
    static const char text[] = "substances:\n"
                               "  - key: seabrine\n"
                               "    source: invented\n"
                               "    molar_mass_g_mol: 55\n"
                               "    melting_temperature: 180 K\n"
                               "    boiling_temperature: 370\n";
    assert_int_equal(df_substances_extend(k->ctx, k->substances, text, strlen(text), "own.yaml"), DF_E_INPUT);
    place_is(k->ctx, "own.yaml", 6, "substances[0].boiling_temperature");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(sentences), cmocka_unit_test(jobs), cmocka_unit_test(dryers),
                                       cmocka_unit_test(substances)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
