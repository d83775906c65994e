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
        cmocka_unit_test(least_recent),
        cmocka_unit_test(threads),
        cmocka_unit_test(same_stands),
        cmocka_unit_test(other_data),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
