/* Reports' JSON against Jansson's own writer, byte for byte. */
#include "chance.h"
#include "context.h"

#include "report/parts.h"

static void same(df_context *ctx, json_t *value) {
    char *expected =
        json_dumps(value, JSON_INDENT(2) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(9) | JSON_ENCODE_ANY);
    df_text got = {0};
    assert_non_null(expected);
    assert_int_equal(df_json_finish(ctx, &got, json_incref(value)), DF_OK);
    size_t length = strlen(expected);
    if (got.length != length + 1 || memcmp(got.data, expected, length) != 0 || got.data[length] != '\n')
        fail_msg("'%s' is not '%s'", df_text_string(&got), expected);
    df_text_free(&got);
    free(expected);
    json_decref(value);
}

static void one(df_context *ctx, double value) {
    if (isfinite(value)) {
        same(ctx, json_real(value));
        same(ctx, json_real(-value));
    }
}

static void numbers(void **state) {
    static const double edges[] = {0.0,
                                   1.0,
                                   0.1,
                                   0.5,
                                   1e-4,
                                   9.99999999e-5,
                                   9.999999995e-5,
                                   0.000123456789,
                                   123456789.0,
                                   1e8,
                                   999999999.0,
                                   999999999.4,
                                   999999999.5,
                                   999999999.6,
                                   1e9,
                                   1234567895.0,
                                   1e15,
                                   1e16,
                                   123456789.5,
                                   12345678.25,
                                   99999999.95,
                                   100000000.5,
                                   1e22,
                                   1e23,
                                   1e24,
                                   1e25,
                                   1e100,
                                   1e300,
                                   1e-17,
                                   1e-18,
                                   1e-19,
                                   1e-100,
                                   5e-324,
                                   2.2250738585072014e-308,
                                   1.7976931348623157e308,
                                   0.30000000000000004};
    for (size_t i = 0; i < sizeof edges / sizeof edges[0]; i++) {
        one(*state, edges[i]);
        one(*state, nextafter(edges[i], INFINITY));
        one(*state, nextafter(edges[i], 0.0));
    }
    for (int power = -30; power <= 30; power++)
        one(*state, pow(10.0, power));
    uint64_t dice = seed_of(7);
    for (int i = 0; i < 200000; i++) {
        double u = uniform(&dice), v = uniform(&dice);
        one(*state, pow(10.0, -12.0 + 24.0 * u));
        one(*state, rint(1e6 * u) / 1000.0);                          /* few digits */
        one(*state, (rint(1e9 * u) + 0.5) * pow(2.0, rint(8.0 * v))); /* near the middle between two */
        uint64_t bits;
        double any;
        bits = next_bits(&dice);
        memcpy(&any, &bits, sizeof any);
        one(*state, any);
    }
}

static void documents(void **state) {
    char all[128];
    for (int c = 1; c < 128; c++)
        all[c - 1] = (char)c;
    all[127] = '\0';
    json_t *inner = json_pack("{s:[], s:{}, s:s, s:n, s:b, s:b, s:I}", "empty", "none", "text", all, "null", "yes", 1,
                              "no", 0, "whole", (json_int_t)-123456789012345);
    json_t *root = json_pack("{s:o, s:[f, f, [s, i]], s:s#}", "inner", inner, "µ \"list\"\\", 1.5, -2e-7, "°C ± 3 ×",
                             7, "nul", "a\0b", 3);
    assert_non_null(root);
    for (int depth = 0; depth < 40; depth++) /* deeper than the blanks at hand */
        root = depth % 2 == 0 ? json_pack("[o]", root) : json_pack("{s:o}", "in", root);
    same(*state, root);
}

static void failing(void **state) {
    df_text small = {0};
    df_text_init(&small, 8);
    assert_int_equal(df_json_finish(*state, &small, json_pack("[i, i, i, i]", 1, 2, 3, 4)), DF_E_MEMORY);
    df_text_free(&small);
    assert_int_equal(df_json_finish(*state, &small, NULL), DF_E_MEMORY);
    df_text_free(&small);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers),
        cmocka_unit_test(documents),
        cmocka_unit_test(failing),
    };
    return cmocka_run_group_tests(tests, make_context, drop_context);
}
