/* What follows, as prediction, for the generic dryers: rules of common practice (no source). The dryers' free constants were
 * chosen so that acetonitrile's two ceilings on the -55 °C dryer fall into the ranges of the first test; all else followed
 * (docs/drying.md). */
#include "kit.h"

#include "dryfront/advice.h"

static df_ceiling ceiling_on(const kit *k, const df_dryer *dryer, const char *solvent) {
    const df_substance *s = kit_substance(k, solvent);
    df_ceiling c;
    if (df_ceilings_find(k->ctx, &c, dryer, k->pairs, kit_substance(k, "water"), &s, 1) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return c;
}

static df_dryer builtin(const kit *k, const char *name) {
    df_dryer d;
    if (df_dryer_builtin(k->ctx, &d, name) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return d;
}

static void acetonitrile_on_a_warm_trap(void **state) {
    df_dryer d = builtin(*state, "bench-55");
    df_ceiling c = ceiling_on(*state, &d, "acetonitrile");
    print_message("acetonitrile, -55 °C: rigid up to %.1f %%, wetted up to %.1f %%\n", 100 * c.rigid, 100 * c.wetted);
    assert_true(c.rigid >= 0.20 && c.rigid <= 0.45);
    assert_true(c.wetted >= 0.40 && c.wetted <= 0.65);
}

static void acetonitrile_on_a_cold_trap(void **state) {
    df_dryer d = builtin(*state, "deep-105");
    df_ceiling c = ceiling_on(*state, &d, "acetonitrile");
    near(c.rigid, 1.0, 1e-12, "acetonitrile at -105 °C");
    near(c.rigid_from, 0.02, 1e-12, "and from the lowest fraction");
}

static void never_rigid(void **state) {
    static const char *const solvents[] = {"ethanol", "2-propanol", "acetone"}, *const dryers[] = {"bench-55",
                                                                                                   "deep-105"};
    for (size_t i = 0; i < 3; i++)
        for (size_t j = 0; j < 2; j++) {
            df_dryer d = builtin(*state, dryers[j]);
            df_ceiling c = ceiling_on(*state, &d, solvents[i]);
            if (!isnan(c.rigid))
                fail_msg("%s rigid on %s up to %.3f", solvents[i], dryers[j], c.rigid);
        }
}

/* Acetone and dichloromethane pass a -55 °C trap: with an oil-sealed pump little is allowed, with a dry one they dry. */
static void a_pump_that_passes_them(void **state) {
    static const char *const solvents[] = {"acetone", "dichloromethane"};
    for (size_t i = 0; i < 2; i++) {
        df_dryer d = builtin(*state, "bench-55");
        df_ceiling oil = ceiling_on(*state, &d, solvents[i]);
        assert_int_equal(oil.wetted_cause, DF_CAUSE_PUMP_SOLVENT);
        d.pump.kind = DF_PUMP_DRY;
        d.pump.solvent_limit = INFINITY;
        df_ceiling dry = ceiling_on(*state, &d, solvents[i]);
        assert_true(dry.wetted > 2.0 * oil.wetted);
    }
}

static df_stand *judge(const kit *k, const char *yaml) {
    df_job job;
    df_stand *s = calloc(1, sizeof *s);
    assert_non_null(s);
    if (df_job_parse(k->ctx, &job, k->substances, NULL, yaml, strlen(yaml), "test.yaml") != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    df_dryer *d = calloc(1, sizeof *d);
    *d = builtin(k, job.dryer);
    if (df_stand_judge(k->ctx, s, &job, d, k->pairs, false) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    free(d);
    return s;
}

/* Frozen as a shell in a turned flask a sample dries at least twice as fast as the same sample frozen as a block. */
static void shell_against_block(void **state) {
    static const char *const text =
        "job: a\npurpose: archive\ndryer: bench-85\n"
        "sample: {composition: water, solutes: [{name: plant_extract, concentration: 20 g/L}]}\n"
        "containers: [{type: flask_500, count: 4, fill: 200 mL, lie: %s, place: manifold}]\n"
        "freezing: {means: dry_ice_bath}\n";
    double time[2], frozen[2];
    static const char *const lies[] = {"shell", "at_rest"};
    for (int i = 0; i < 2; i++) {
        char yaml[512];
        snprintf(yaml, sizeof yaml, text, lies[i]);
        df_stand *s = judge(*state, yaml);
        assert_true(s->simulated && s->run.end == DF_END_DRY);
        time[i] = s->run.time;
        frozen[i] = s->freezing[0].time_to_target;
        df_stand_free(s);
        free(s);
    }
    print_message("shell %.1f h, block %.1f h\n", time[0] / 3600, time[1] / 3600);
    assert_true(time[1] >= 2.0 * time[0]);
    assert_true(frozen[1] > frozen[0]);
}

/* Product and trap differ by about 15-20 °C: an ice-filled manifold on a -55 °C trap in mid-run. */
static void product_over_trap(void **state) {
    df_stand *s =
        judge(*state, "job: a\npurpose: screening\ndryer: bench-55\n"
                      "sample: {composition: \"acetonitrile 5 %v/v, water\"}\n"
                      "containers: [{type: flask_500, count: 6, fill: 150 mL, lie: shell, place: manifold}]\n"
                      "freezing: {means: dry_ice_bath}\n");
    const df_moment *m = &s->run.moment[0];
    for (size_t i = 0; i < s->run.moments && s->run.moment[i].time < 0.5 * s->run.time; i++)
        m = &s->run.moment[i];
    double difference = m->container[0].front - m->trap_surface[0];
    print_message("product %.1f K above the trap\n", difference);
    assert_true(difference > 12.0 && difference < 30.0);
    df_stand_free(s);
    free(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(acetonitrile_on_a_warm_trap),
        cmocka_unit_test(acetonitrile_on_a_cold_trap),
        cmocka_unit_test(never_rigid),
        cmocka_unit_test(a_pump_that_passes_them),
        cmocka_unit_test(shell_against_block),
        cmocka_unit_test(product_over_trap),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
