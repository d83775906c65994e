/* What is kept between answers: what goes first, threads, and that a stand's numbers are the same with it and without. */
#include "kit.h"

#include "dryfront/advice.h"
#include "dryfront/report.h"

#include <pthread.h>

static df_text key_of(long number) {
    df_text key = {0};
    df_text_printf(&key, "key %ld", number);
    return key;
}

static void put(df_cache *c, long number, long value) {
    df_text key = key_of(number);
    df_cache_put(c, &value, sizeof value, &key);
    df_text_free(&key);
}

/* The value, or -1. */
static long get(df_cache *c, long number) {
    df_text key = key_of(number);
    long value = -1;
    if (!df_cache_get(c, &value, sizeof value, &key))
        assert_int_equal(value, -1);
    df_text_free(&key);
    return value;
}

static void least_recent(void **state) {
    const kit *k = *state;
    df_cache *c = NULL;
    assert_int_equal(df_cache_create(k->ctx, &c, 4096), DF_OK);
    for (long i = 0; i < 1000; i++) {
        put(c, i, 7 * i);
        assert_int_equal(get(c, 0), 0); /* asked for again and again: it stays */
    }
    assert_int_equal(get(c, 999), 6993);
    assert_int_equal(get(c, 998), 6986);
    assert_int_equal(get(c, 1), -1);
    long kept = 0;
    for (long i = 0; i < 1000; i++)
        kept += get(c, i) >= 0;
    assert_true(kept > 20 && kept < 4096 / 16);
    put(c, 999, 5); /* again under the same key */
    assert_int_equal(get(c, 999), 5);
    /* Another size is another value; what is larger than the whole is not kept; no cache holds nothing. */
    char large[8192] = {0}, small;
    df_text key = key_of(999);
    assert_false(df_cache_get(c, &small, sizeof small, &key));
    df_cache_put(c, large, sizeof large, &key);
    assert_false(df_cache_get(c, large, sizeof large, &key));
    assert_int_equal(get(c, 999), 5);
    df_cache_put(NULL, &small, 1, &key);
    assert_false(df_cache_get(NULL, &small, 1, &key));
    df_text_free(&key);
    df_cache_free(c);
    df_cache_free(NULL);
}

static void *work(void *data) {
    df_cache *c = data;
    size_t wrong = 0;
    for (long i = 0; i < 20000; i++) {
        put(c, i % 50, 3 * (i % 50));
        long other = (7 * i) % 50, value = get(c, other);
        wrong += value != -1 && value != 3 * other;
    }
    return wrong == 0 ? data : NULL;
}

static void threads(void **state) {
    const kit *k = *state;
    df_cache *c = NULL;
    pthread_t thread[4];
    assert_int_equal(df_cache_create(k->ctx, &c, 2048), DF_OK);
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(pthread_create(&thread[i], NULL, work, c), 0);
    for (size_t i = 0; i < 4; i++) {
        void *sound = NULL;
        pthread_join(thread[i], &sound);
        assert_ptr_equal(sound, c);
    }
    df_cache_free(c);
}

/* ---- stands --------------------------------------------------------------------------------------------------- */

#define HEAD "job: invented\npurpose: screening\ndryer: bench-85\nsample:\n"
#define TAIL                                                                                                         \
    "containers:\n  - {type: vial_20R, count: 50, fill: 5 mL, place: shelf}\nfreezing: {means: liquid_nitrogen}\n"   \
    "recipe:\n  - {time: 0 h, shelf_temperature: -45 °C}\n  - {time: 30 h, shelf_temperature: 20 °C}\n"

/* Each differs from the first in one thing that the path, its bands or the deposit rest on, or in one that they do not. */
static const char *const jobs[] = {
    HEAD "  composition: acetonitrile 10 %v/v, water\n" TAIL,
    HEAD "  composition: acetonitrile 10.0001 %v/v, water\n" TAIL,
    HEAD "  composition: water, acetonitrile 10 %v/v\n" TAIL,
    HEAD "  composition: acetonitrile 10 %v/v, trifluoroacetic acid 0.1 %v/v, water\n" TAIL,
    HEAD "  composition: acetonitrile 10 %v/v, trifluoroacetic acid 0.2 %v/v, water\n" TAIL,
    HEAD "  composition: methanol 10 %v/v, water\n" TAIL,
    HEAD "  composition: acetonitrile 10 %v/v, water\n  solutes: [{name: sucrose, concentration: 20 g/L}]\n" TAIL,
    HEAD "  composition: acetonitrile 10 %v/v, water\n  solutes: [{name: sucrose, concentration: 21 g/L}]\n" TAIL,
    HEAD "  composition: acetonitrile 10 %v/v, water\n  solutes: [{name: sucrose, concentration: 20 g/L, "
         "critical_temperature: -40 °C}]\n" TAIL,
    HEAD "  composition: acetonitrile 10 %v/v, water\n  stays_liquid: [acetonitrile]\n" TAIL,
    HEAD "  composition: tert-butanol 20 %v/v, water\n" TAIL,
    HEAD "  composition: tert-butanol 20 %v/v, water\n  stays_liquid: [tert-butanol]\n" TAIL,
    HEAD "  composition: water\n" TAIL,
};
#define JOBS (sizeof jobs / sizeof jobs[0])

typedef struct whole {
    df_job job;
    df_dryer dryer;
    df_stand stand;
} whole;

static void answer(const kit *k, df_text *out, const char *yaml) {
    whole *w = calloc(1, sizeof *w);
    assert_non_null(w);
    if (df_job_parse(k->ctx, &w->job, k->substances, NULL, yaml, strlen(yaml), "job") != DF_OK ||
        df_dryer_builtin(k->ctx, &w->dryer, "bench-85") != DF_OK ||
        df_stand_sketch(k->ctx, &w->stand, &w->job, &w->dryer, k->pairs, NULL) < 0 ||
        df_report_stand_json(k->ctx, out, &w->stand, &w->job, &w->dryer, NULL) != DF_OK)
        fail_msg("%s\n%s", df_context_message(k->ctx), yaml);
    /* What the report rounds, too. */
    df_text_append(out, (const char *)&w->stand.path, sizeof w->stand.path);
    df_text_append(out, (const char *)&w->stand.liquidus_sigma, sizeof(double));
    df_text_append(out, (const char *)&w->stand.solidus_sigma, sizeof(double));
    df_deposit *d = &w->stand.deposit;
    memset(d->substance, 0, sizeof d->substance);
    df_text_append(out, (const char *)d, sizeof *d);
    df_stand_free(&w->stand);
    free(w);
}

static void same_stands(void **state) {
    const kit *k = *state;
    df_cache *c = NULL;
    df_text without[JOBS] = {{0}};
    for (size_t i = 0; i < JOBS; i++)
        answer(k, &without[i], jobs[i]);
    for (size_t i = 0; i < JOBS; i++)
        for (size_t j = 0; j < i; j++)
            assert_false(without[i].length == without[j].length &&
                         memcmp(without[i].data, without[j].data, without[i].length) == 0);
    for (int size = 0; size < 2; size++) { /* one that holds all, and one that holds two or three */
        assert_int_equal(df_cache_create(k->ctx, &c, size == 0 ? (size_t)24 << 20 : (size_t)600000), DF_OK);
        df_context_lend(k->ctx, c);
        for (int round = 0; round < 3; round++)
            for (size_t i = 0; i < JOBS; i++) {
                size_t at = round == 1 ? JOBS - 1 - i : i, before = df_cache_hits(c);
                df_text with = {0};
                answer(k, &with, jobs[at]);
                if (with.length != without[at].length || memcmp(with.data, without[at].data, with.length) != 0)
                    fail_msg("another answer with the cache, round %d:\n%s", round, jobs[at]);
                df_text_free(&with);
                if (size == 0 && round > 0) /* the path, its bands and the deposit, where there is one */
                    assert_int_equal(df_cache_hits(c) - before, at == JOBS - 1 ? 2 : 3);
            }
        df_context_lend(k->ctx, NULL);
        df_cache_free(c);
    }
    for (size_t i = 0; i < JOBS; i++)
        df_text_free(&without[i]);
}

/* ---- stopping ------------------------------------------------------------------------------------------------- */

typedef struct patience {
    long left; /* asks until it stops */
    double share;
    bool fell;
    char texts[400];
} patience;

static bool hear(void *data, double share, const char *what) {
    patience *p = data;
    if (!isnan(share)) {
        p->fell = p->fell || share < p->share || share > 1.0;
        p->share = share;
        if (strlen(p->texts) + strlen(what) + 2 < sizeof p->texts) {
            strcat(p->texts, what);
            strcat(p->texts, ";");
        }
    }
    return p->left-- > 0;
}

static df_status sketch(const kit *k, const char *yaml) {
    whole *w = calloc(1, sizeof *w);
    assert_non_null(w);
    assert_int_equal(df_job_parse(k->ctx, &w->job, k->substances, NULL, yaml, strlen(yaml), "job"), DF_OK);
    assert_int_equal(df_dryer_builtin(k->ctx, &w->dryer, "bench-85"), DF_OK);
    df_status status = df_stand_sketch(k->ctx, &w->stand, &w->job, &w->dryer, k->pairs, NULL);
    if (status >= 0)
        df_stand_free(&w->stand);
    free(w);
    return status;
}

/* Stopped anywhere, a stand says so, and what is kept is what a stand that nobody stopped keeps. */
static void stopped(void **state) {
    const kit *k = *state;
    df_text without = {0};
    df_cache *c = NULL;
    patience all = {.left = 1000000000};
    answer(k, &without, jobs[0]);
    df_context_listen(k->ctx, &(df_listener){hear, &all});
    assert_int_equal(sketch(k, jobs[0]), DF_OK);
    assert_false(all.fell);
    assert_string_equal(all.texts, "freezing;drying;how sure it is;");
    long asks = 1000000000 - all.left;
    assert_true(asks >
                300); /* at each step of the run (some 240) and of what goes before: often enough for 40 places */
    assert_int_equal(df_cache_create(k->ctx, &c, (size_t)24 << 20), DF_OK);
    df_context_lend(k->ctx, c);
    for (long i = 0; i < 40; i++) {
        patience p = {.left = asks * i / 40};
        df_context_listen(k->ctx, &(df_listener){hear, &p});
        df_status status = sketch(k, jobs[0]);
        if (df_cache_hits(c) == 0) /* nothing was known yet: as many asks as without */
            assert_int_equal(status, DF_E_STOPPED);
        assert_true(status == DF_OK || status == DF_E_STOPPED);
        df_text with = {0};
        df_context_listen(k->ctx, NULL);
        answer(k, &with, jobs[0]);
        assert_true(with.length == without.length && memcmp(with.data, without.data, with.length) == 0);
        df_text_free(&with);
        df_context_lend(k->ctx, NULL);
        df_cache_free(c);
        assert_int_equal(df_cache_create(k->ctx, &c, (size_t)24 << 20), DF_OK);
        df_context_lend(k->ctx, c);
    }
    df_context_lend(k->ctx, NULL);
    df_cache_free(c);
    df_text_free(&without);
}

static void shares(void **state) {
    const kit *k = *state;
    patience p = {.left = 1000000};
    df_context *branch = NULL;
    df_context_listen(k->ctx, &(df_listener){hear, &p});
    df_stretch whole_work = df_context_begin(k->ctx, 0.2, 0.6);
    df_stretch part = df_context_begin(k->ctx, 0.5, 1.0);
    assert_true(df_context_tell(k->ctx, 0.5, "half of the second half"));
    near(p.share, 0.5, 1e-15, "share");
    df_tally tally = {.ctx = k->ctx, .what = "pieces", .of = 4};
    for (int i = 0; i < 4; i++)
        assert_true(df_tally_one(&tally));
    near(p.share, 0.6, 1e-15, "all pieces");
    assert_int_equal(df_context_branch(&branch, k->ctx), DF_OK);
    assert_true(df_context_tell(branch, 1.0, "a piece"));
    assert_true(p.share <= 0.6);
    df_context_destroy(branch);
    df_context_end(k->ctx, part);
    assert_true(df_context_tell(k->ctx, 1.0, "the end"));
    near(p.share, 0.6, 1e-15, "end of the outer part");
    df_context_end(k->ctx, whole_work);
    tally = (df_tally){.ctx = k->ctx, .what = "runs", .of = 10, .guess = true};
    p.fell = false;
    p.share = 0.0;
    for (int i = 0; i < 100; i++)
        assert_true(df_tally_one(&tally));
    assert_true(!p.fell && p.share < 1.0 && p.share > 0.99);
    p.left = 0;
    assert_false(df_context_go_on(k->ctx));
    assert_false(df_tally_one(&tally));
    df_context_listen(k->ctx, NULL);
    assert_true(df_context_go_on(k->ctx) && df_context_go_on(NULL) && df_tally_one(NULL));
    assert_true(df_context_tell(NULL, 0.5, "nobody"));
}

/* The same name with other numbers behind it is another key. */
static void other_data(void **state) {
    const kit *k = *state;
    df_text key[2] = {{0}};
    df_substance s = *kit_substance(k, "acetonitrile");
    df_substance_key(&key[0], &s);
    s.fusion_enthalpy = nextafter(s.fusion_enthalpy, 0.0);
    df_substance_key(&key[1], &s);
    assert_int_equal(key[0].length, key[1].length);
    assert_true(memcmp(key[0].data, key[1].data, key[0].length) != 0);
    df_text_free(&key[1]);
    s = *kit_substance(k, "acetonitrile");
    s.source = "elsewhere"; /* the same numbers from another place */
    df_substance_key(&key[1], &s);
    assert_memory_equal(key[0].data, key[1].data, key[0].length);
    df_text_free(&key[0]);
    df_text_free(&key[1]);
    /* A pair's parameters and its covariance. */
    df_mixture *m = kit_binary(k, "acetonitrile");
    df_mixture_key(&key[0], m);
    df_nrtl_pair p = *df_mixture_pair(m, 0, 1);
    assert_non_null(p.covariance);
    df_pair_covariance other = *p.covariance;
    other.column[0][0] *= 1.5;
    p.covariance = &other;
    df_mixture_set_pair(m, 0, 1, &p);
    df_mixture_key(&key[1], m);
    assert_true(memcmp(key[0].data, key[1].data, key[0].length) != 0);
    df_mixture_free(m);
    df_text_free(&key[0]);
    df_text_free(&key[1]);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(least_recent), cmocka_unit_test(threads), cmocka_unit_test(same_stands),
        cmocka_unit_test(other_data),   cmocka_unit_test(stopped), cmocka_unit_test(shares),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
