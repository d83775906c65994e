/* Runs that go on from where another stood, on random jobs: the same as one run, with every balance closed. */
#include "chance.h"
#include "kit.h"

#include "advice/quest.h"

static uint64_t seed = 0x2545F4914F6CDD1Du;

static double between(double low, double high) {
    return low + (high - low) * uniform(&seed);
}

typedef struct shelf {
    df_mark *mark[DF_MAX_RECIPE];
    size_t n;
} shelf;

static void keep(void *data, df_mark *mark) {
    shelf *s = data;
    s->mark[s->n++] = mark;
}

static const char *const events[] = {"", "events:\n  - {event: power_cut, time: 4.2 h, length: 20 min}\n",
                                     "events:\n  - {event: defrost, time: 7 h, length: 2 h, thaw: 1 h}\n"};

static void make_job(const kit *k, df_ground *g, df_job *job, df_dryer *dryer, int trial) {
    static const char *const solvents[] = {"water 100 %%v/v", "acetonitrile %.1f %%v/v, water",
                                           "tert-butanol %.1f %%v/v, water",
                                           "acetonitrile %.1f %%v/v, trifluoroacetic acid 0.1 %%v/v, water"};
    static const char *const dryers[] = {"bench-55", "bench-85", "deep-105"};
    char composition[100], text[1200];
    snprintf(composition, sizeof composition, solvents[trial % 4], between(3.0, 25.0));
    snprintf(text, sizeof text,
             "job: random %d\npurpose: archive\ndryer: any\nsample:\n  composition: %s\n  solutes:\n"
             "    - {name: sucrose, concentration: %.1f g/L}\n"
             "containers:\n  - {type: vial_20R, count: %ld, edge: 20, fill: %.2f mL, place: shelf}\n"
             "freezing: {means: liquid_nitrogen}\nloading: %d min\n"
             "recipe:\n  - {time: 0 h, shelf_temperature: -45 °C}\n  - {time: %.1f h, shelf_temperature: -45 °C}\n"
             "  - {time: 8 h, shelf_temperature: -30 °C}\n  - {time: 30 h, shelf_temperature: 20 °C}\n"
             "%slimits: {margin: 1 K, time: 300 h}\n",
             trial, composition, between(10.0, 80.0), (long)between(40.0, 400.0), between(1.5, 6.0),
             trial % 2 == 0 ? 0 : 15, between(1.0, 6.0), events[trial % 3]);
    if (df_job_parse(k->ctx, job, k->substances, NULL, text, strlen(text), "job.yaml") != DF_OK ||
        df_dryer_builtin(k->ctx, dryer, dryers[trial % 3]) != DF_OK ||
        df_ground_prepare(k->ctx, g, job, dryer, k->pairs, true) != DF_OK)
        fail_msg("%s\n%s", df_context_message(k->ctx), text);
    memcpy(g->setup.event, job->event, sizeof g->setup.event);
    g->setup.events = job->events;
    g->setup.keep_going = true;
}

static void going_on_is_the_same(void **state) {
    const kit *k = *state;
    df_ground *g = calloc(1, sizeof *g);
    df_job *job = calloc(1, sizeof *job);
    df_dryer *dryer = calloc(1, sizeof *dryer);
    double worst_time = 0.0, worst_margin = 0.0;
    assert_true(g != NULL && job != NULL && dryer != NULL);
    for (int trial = 0; trial < 24; trial++) {
        shelf s = {.n = 0};
        df_run whole;
        make_job(k, g, job, dryer, trial);
        g->setup.mark = keep;
        g->setup.mark_data = &s;
        if (df_run_simulate(k->ctx, &whole, &g->setup) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        assert_true(s.n >= 2);
        g->setup.mark = NULL;
        for (size_t i = 0; i < s.n; i++) {
            df_run later;
            g->setup.from = s.mark[i];
            if (df_run_simulate(k->ctx, &later, &g->setup) != DF_OK)
                fail_msg("%s", df_context_message(k->ctx));
            assert_int_equal(later.end, whole.end);
            near(later.moment[0].time, df_mark_time(s.mark[i]), 0.0, "first moment");
            near(later.time / whole.time, 1.0, 1e-3, "trial %d from %.2f h: time", trial,
                 df_mark_time(s.mark[i]) / 3600.0);
            worst_time = fmax(worst_time, fabs(later.time / whole.time - 1.0));
            for (size_t c = 0; c < whole.class_count; c++) {
                const df_class_run *a = &whole.classes[c], *b = &later.classes[c];
                /* the last look before the solvent counts as gone, where the limit jumps, is no event: its time is a step's */
                near(b->least_margin, a->least_margin, 0.1, "trial %d: margin", trial);
                near(b->least_glass_margin, a->least_glass_margin, 0.05, "trial %d: distance of Tg", trial);
                worst_margin = fmax(worst_margin, fabs(b->least_margin - a->least_margin));
            }
            for (size_t c = 0; c < whole.species; c++) {
                near(df_run_account_error(&later, c), 0.0, 1e-10, "trial %d: account", trial);
                near((later.exhaust[c] - whole.exhaust[c]) / whole.initial[c], 0.0, 1e-3, "trial %d: exhaust", trial);
            }
            near((later.heat_in - later.heat_out - later.heat_stored) / later.heat_in, 0.0, 1e-8, "trial %d: heat",
                 trial);
            for (size_t c = 0; c < whole.notices && whole.notice[c].time < df_mark_time(s.mark[i]); c++)
                assert_memory_equal(&later.notice[c], &whole.notice[c], sizeof whole.notice[c]);
            df_run_free(&later);
            df_mark_free(s.mark[i]);
        }
        df_run_free(&whole);
    }
    if (getenv("DRYFRONT_SHOW") != NULL)
        printf("time %.1e, margin %.1e K\n", worst_time, worst_margin);
    free(g);
    free(job);
    free(dryer);
}

static void others_cannot_go_on(void **state) {
    const kit *k = *state;
    df_ground *g = calloc(1, sizeof *g);
    df_job *job = calloc(1, sizeof *job);
    df_dryer *dryer = calloc(1, sizeof *dryer);
    shelf s = {.n = 0};
    df_run run;
    assert_true(g != NULL && job != NULL && dryer != NULL);
    make_job(k, g, job, dryer, 1);
    g->setup.mark = keep;
    g->setup.mark_data = &s;
    if (df_run_simulate(k->ctx, &run, &g->setup) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    df_run_free(&run);
    g->setup.mark = NULL;
    g->setup.from = s.mark[0];
    g->setup.class_count = 1;
    assert_int_equal(df_run_simulate(k->ctx, &run, &g->setup), DF_E_INPUT);
    for (size_t i = 0; i < s.n; i++)
        df_mark_free(s.mark[i]);
    free(g);
    free(job);
    free(dryer);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(going_on_is_the_same), cmocka_unit_test(others_cannot_go_on)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
