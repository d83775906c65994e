/* The base room: status, text, units, tables, YAML, numerics, embedded data. */
#include <float.h>
#include <locale.h>

#include "base/bernoulli.h"
#include "base/utf8.h"
#include "context.h"

#define COUNT(array) (sizeof(array) / sizeof *(array))

/* ---- status and context --------------------------------------------------------------------------------------- */

static void status_names_and_exits(void **state) {
    (void)state;
    assert_string_equal(df_status_name(DF_OK), "ok");
    assert_string_equal(df_status_name(DF_E_UNKNOWN_NAME), "unknown_name");
    assert_string_equal(df_status_name((df_status)77), "?");
    assert_int_equal(df_status_exit(DF_EXTRAPOLATED), 0);
    assert_int_equal(df_status_exit(DF_E_INPUT), 2);
    assert_int_equal(df_status_exit(DF_E_CONVERGENCE), 3);
    assert_int_equal(df_status_exit((df_status)77), 3);
}

static void context_keeps_one_sentence(void **state) {
    df_context *ctx = *state;
    assert_string_equal(df_context_message(ctx), "");
    assert_int_equal(df_fail(ctx, DF_E_IO, "cannot read %s", "a.csv"), DF_E_IO);
    assert_string_equal(df_context_message(ctx), "cannot read a.csv");
    assert_int_equal(df_fail(ctx, DF_E_INPUT, "job: %s", df_context_message(ctx)), DF_E_INPUT);
    assert_string_equal(df_context_message(ctx), "job: cannot read a.csv");
    df_context_clear(ctx);
    assert_string_equal(df_context_message(ctx), "");
    assert_int_equal(df_fail(NULL, DF_E_INPUT, "nobody listens"), DF_E_INPUT);
    assert_string_equal(df_context_message(NULL), "");
    df_context_clear(NULL);
    df_context_destroy(NULL);
}

static void sentence_is_cut_and_clean(void **state) {
    df_context *ctx = *state;
    char text[2101];
    for (size_t i = 0; i < 2100; i += 2)
        memcpy(text + i, "\u00b5", 2); /* two bytes each: 1023 bytes cut one in half */
    text[2100] = '\0';
    (void)df_fail(ctx, DF_E_INPUT, "%s", text);
    assert_int_equal(strlen(df_context_message(ctx)), 1022);
    (void)df_fail(ctx, DF_E_INPUT,
                  "a\nb\xff"
                  "c\u00b0");
    assert_string_equal(df_context_message(ctx), "a b?c\u00b0");
}

/* ---- text ----------------------------------------------------------------------------------------------------- */

static void text_grows(void **state) {
    (void)state;
    df_text text = {0};
    assert_string_equal(df_text_string(&text), "");
    for (int i = 0; i < 1000; i++)
        df_text_printf(&text, "%d,", i);
    assert_false(text.failed);
    assert_int_equal(text.length, 10 * 2 + 90 * 3 + 900 * 4);
    assert_memory_equal(text.data, "0,1,2,", 6);
    df_text_free(&text);
    df_text_puts(&text, "again");
    assert_string_equal(df_text_string(&text), "again");
    df_text_free(&text);
}

static void text_stops_at_its_limit(void **state) {
    (void)state;
    df_text text;
    df_text_init(&text, 8);
    df_text_puts(&text, "12345678");
    assert_false(text.failed);
    df_text_puts(&text, "");
    assert_false(text.failed);
    df_text_append(&text, "9", 1);
    assert_true(text.failed);
    df_text_puts(&text, "");
    assert_string_equal(df_text_string(&text), "12345678");
    df_text_free(&text);
    assert_int_equal(text.limit, 8);
    df_text_printf(&text, "%s", "123456789");
    assert_true(text.failed);
    df_text_free(&text);
}

static void utf8_is_measured(void **state) {
    (void)state;
    assert_int_equal(df_utf8_width("30 \u00b0C"), 5);
    assert_int_equal(df_utf8_width("\u2212\U0001F600"), 2);
    assert_int_equal(df_utf8_length("a", 1), 1);
    assert_int_equal(df_utf8_length("\u00b0", 2), 2);
    assert_int_equal(df_utf8_length("\u00b0", 1), 0);
    assert_int_equal(df_utf8_length("\xc0\x80", 2), 0);         /* overlong */
    assert_int_equal(df_utf8_length("\xe0\x80\x80", 3), 0);     /* overlong */
    assert_int_equal(df_utf8_length("\xed\xa0\x80", 3), 0);     /* surrogate */
    assert_int_equal(df_utf8_length("\xf4\x90\x80\x80", 4), 0); /* past U+10FFFF */
    assert_int_equal(df_utf8_length("\x80", 1), 0);
    assert_int_equal(df_utf8_length("", 0), 0);
}

static void names_are_compared(void **state) {
    (void)state;
    assert_true(df_name_equal("Acetic-Acid", "acetic_acid"));
    assert_true(df_name_equal("tert butanol", "tert-Butanol"));
    assert_false(df_name_equal("dmso", "dms"));
    assert_false(df_name_equal("dms", "dmso"));
    assert_true(df_name_equal("", ""));
}

static void nearest_names(void **state) {
    (void)state;
    static const char *const names[] = {"water",    "acetonitrile", "acetone",    "ethanol",
                                        "methanol", "Ethanol",      "1-propanol", "dmso"};
    char out[128];
    df_suggest(out, sizeof out, "acetonitril", names, COUNT(names));
    assert_string_equal(out, "acetonitrile");
    df_suggest(out, sizeof out, "ETHANOLL", names, COUNT(names));
    assert_string_equal(out, "ethanol or methanol");
    df_suggest(out, sizeof out, "wtaer", names, COUNT(names)); /* neighbours swapped */
    assert_string_equal(out, "water");
    df_suggest(out, sizeof out, "zzzzzzzzzz", names, COUNT(names));
    assert_string_equal(out, "");
    df_suggest(out, sizeof out, "", names, COUNT(names));
    assert_string_equal(out, "");
    static const char *const close[] = {"aaaa1", "aaaa22", "aaaa", "aaa", "aaaab"};
    df_suggest(out, sizeof out, "aaaa", close, COUNT(close));
    assert_string_equal(out, "aaaa, aaaa1 or aaa");
    df_suggest(out, 12, "aaaa", close, COUNT(close));
    assert_string_equal(out, "aaaa, aaaa1");
    df_suggest(out, sizeof out, "q", close, 0);
    assert_string_equal(out, "");
}

static void strings_are_copied(void **state) {
    (void)state;
    char *copy = df_strndup("abcdef", 3);
    assert_string_equal(copy, "abc");
    free(copy);
    copy = df_strdup("");
    assert_string_equal(copy, "");
    free(copy);
}

/* ---- units ---------------------------------------------------------------------------------------------------- */

static void every_unit(void **state) {
    df_context *ctx = *state;
    static const struct {
        const char *text;
        df_dimension dimension;
        double si;
    } rows[] = {
        {"-30 \u00b0C", DF_DIM_TEMPERATURE, 243.15},
        {"\u221230\u00b0C", DF_DIM_TEMPERATURE, 243.15},
        {"\u201330 degC", DF_DIM_TEMPERATURE, 243.15}, /* en dash */
        {"-30 degC", DF_DIM_TEMPERATURE, 243.15},
        {"-30 C", DF_DIM_TEMPERATURE, 243.15},
        {"243.15 K", DF_DIM_TEMPERATURE, 243.15},
        {"-30\u00a0\u2103", DF_DIM_TEMPERATURE, 243.15},
        {"0 K", DF_DIM_TEMPERATURE, 0.0},
        {"2 K", DF_DIM_TEMPERATURE_STEP, 2},
        {"2 \u00b0C", DF_DIM_TEMPERATURE_STEP, 2},
        {"-1.5 K", DF_DIM_TEMPERATURE_STEP, -1.5},
        {"10 Pa", DF_DIM_PRESSURE, 10},
        {"1 hPa", DF_DIM_PRESSURE, 100},
        {"1 kPa", DF_DIM_PRESSURE, 1000},
        {"0.5mbar", DF_DIM_PRESSURE, 50},
        {"1e-2 mbar", DF_DIM_PRESSURE, 1},
        {"1e\u22122 mbar", DF_DIM_PRESSURE, 1},
        {"1E+2 mbar", DF_DIM_PRESSURE, 1e4},
        {"5 \u00b5bar", DF_DIM_PRESSURE, 0.5},
        {"5 \u03bcbar", DF_DIM_PRESSURE, 0.5},
        {"5 ubar", DF_DIM_PRESSURE, 0.5},
        {"1 bar", DF_DIM_PRESSURE, 1e5},
        {"1 Torr", DF_DIM_PRESSURE, 133.32236842105263}, /* 101325/760, by definition */
        {"760 Torr", DF_DIM_PRESSURE, 101325},
        {"100 mTorr", DF_DIM_PRESSURE, 13.332236842105263},
        {"1 mmHg", DF_DIM_PRESSURE, 133.322387415},
        {"1 atm", DF_DIM_PRESSURE, 101325},
        {"100 \u00b5m", DF_DIM_LENGTH, 1e-4},
        {"3 mm", DF_DIM_LENGTH, 3e-3},
        {"3 cm", DF_DIM_LENGTH, 3e-2},
        {"3 m", DF_DIM_LENGTH, 3},
        {"40 cm2", DF_DIM_AREA, 4e-3},
        {"40 cm\u00b2", DF_DIM_AREA, 4e-3},
        {"40 cm^2", DF_DIM_AREA, 4e-3},
        {"4 mm2", DF_DIM_AREA, 4e-6},
        {".5 m2", DF_DIM_AREA, 0.5},
        {"20 \u00b5L", DF_DIM_VOLUME, 2e-8},
        {"3 mL", DF_DIM_VOLUME, 3e-6},
        {"3 ml", DF_DIM_VOLUME, 3e-6},
        {"3. L", DF_DIM_VOLUME, 3e-3},
        {"3 cm3", DF_DIM_VOLUME, 3e-6},
        {"3 m\u00b3", DF_DIM_VOLUME, 3},
        {"50 mg", DF_DIM_MASS, 5e-5},
        {"50 g", DF_DIM_MASS, 0.05},
        {"50 kg", DF_DIM_MASS, 50},
        {"90 s", DF_DIM_TIME, 90},
        {"90 min", DF_DIM_TIME, 5400},
        {"36 h", DF_DIM_TIME, 129600},
        {"2 d", DF_DIM_TIME, 172800},
        {"500 W", DF_DIM_POWER, 500},
        {"1.5 kW", DF_DIM_POWER, 1500},
        {"1.5 kJ/s", DF_DIM_POWER, 1500},
        {"36 m3/h", DF_DIM_VOLUME_FLOW, 0.01},
        {"36 m\u00b3 / h", DF_DIM_VOLUME_FLOW, 0.01},
        {"0.01 m3/s", DF_DIM_VOLUME_FLOW, 0.01},
        {"600 L/min", DF_DIM_VOLUME_FLOW, 0.01},
        {"10 L/s", DF_DIM_VOLUME_FLOW, 0.01},
        {"50 g/L", DF_DIM_MASS_CONCENTRATION, 50},
        {"50 mg/mL", DF_DIM_MASS_CONCENTRATION, 50},
        {"50 kg/m3", DF_DIM_MASS_CONCENTRATION, 50},
        {"12 W/m2/K", DF_DIM_HEAT_TRANSFER, 12},
        {"12 W/(m2 K)", DF_DIM_HEAT_TRANSFER, 12},
        {"12 W/(m\u00b2\u00b7K)", DF_DIM_HEAT_TRANSFER, 12},
        {"12 W m-2 K-1", DF_DIM_HEAT_TRANSFER, 12},
        {"12 W m\u207b\u00b2 K\u207b\u00b9", DF_DIM_HEAT_TRANSFER, 12},
        {"0.9 W/m2/K/Pa", DF_DIM_HEAT_TRANSFER_PER_PRESSURE, 0.9},
        {"0.04 1/Pa", DF_DIM_PER_PRESSURE, 0.04},
        {"2.2 W/m/K", DF_DIM_CONDUCTIVITY, 2.2},
        {"5e4 m/s", DF_DIM_RESISTANCE, 5e4},
        {"1 cm2 Torr h/g", DF_DIM_RESISTANCE, 1e-4 * 101325.0 / 760 * 3600 / 1e-3},
        {"1 cm\u00b2\u00b7Torr\u00b7h/g", DF_DIM_RESISTANCE, 1e-4 * 101325.0 / 760 * 3600 / 1e-3},
        {"1 cm Torr h/g", DF_DIM_RESISTANCE_SLOPE, 1e-2 * 101325.0 / 760 * 3600 / 1e-3},
        {"7 1/s", DF_DIM_RESISTANCE_SLOPE, 7},
        {"3 1/m", DF_DIM_PER_LENGTH, 3},
        {"3 1/cm", DF_DIM_PER_LENGTH, 300},
        {"3 1/mm", DF_DIM_PER_LENGTH, 3000},
        {"3 cm-1", DF_DIM_PER_LENGTH, 300},
        {"1 mbar L/s", DF_DIM_LEAK, 0.1},
        {"1 Pa m3/s", DF_DIM_LEAK, 1},
        {"0.6 K/min", DF_DIM_RATE, 0.01},
        {"0.6 \u00b0C/min", DF_DIM_RATE, 0.01},
        {"36 K/h", DF_DIM_RATE, 0.01},
        {"0.01 K/s", DF_DIM_RATE, 0.01},
        {"500 J/K", DF_DIM_HEAT_CAPACITY, 500},
        {"0.5 kJ/K", DF_DIM_HEAT_CAPACITY, 500},
        {" +0.75 ", DF_DIM_NUMBER, 0.75},
        {"30 %", DF_DIM_PERCENT, 0.3},
        {"30%", DF_DIM_PERCENT, 0.3},
    };
    bool seen[DF_DIM_COUNT] = {false};
    for (size_t i = 0; i < COUNT(rows); i++) {
        double si = -99;
        df_status status = df_quantity_parse(ctx, &si, rows[i].text, rows[i].dimension, NULL);
        if (status != DF_OK)
            fail_msg("'%s': %s", rows[i].text, df_context_message(ctx));
        if (!(fabs(si - rows[i].si) <= 4 * DBL_EPSILON * fabs(rows[i].si)))
            fail_msg("'%s' gave %.17g, expected %.17g", rows[i].text, si, rows[i].si);
        seen[rows[i].dimension] = true;
    }
    for (int d = 0; d < DF_DIM_COUNT; d++) {
        assert_true(seen[d]);
        assert_true(strlen(df_unit_list((df_dimension)d)) > 0);
    }
    assert_string_equal(df_unit_list(DF_DIM_COUNT), "?");
}

/* Every unit that a sentence offers to the user is read. */
static void listed_units_are_read(void **state) {
    df_context *ctx = *state;
    for (int d = 0; d < DF_DIM_NUMBER; d++) {
        char list[128], text[160];
        (void)snprintf(list, sizeof list, "%s", df_unit_list((df_dimension)d));
        char *at = list;
        while (at) {
            char *comma = strstr(at, ", "), *last = strstr(at, " or ");
            char *end = comma ? comma : last;
            char *next = comma ? comma + 2 : last ? last + 4 : NULL;
            if (end)
                *end = '\0';
            (void)snprintf(text, sizeof text, "1 %s", at);
            double si = 0;
            if (df_quantity_parse(ctx, &si, text, (df_dimension)d, NULL) != DF_OK)
                fail_msg("%s", df_context_message(ctx));
            assert_true(si > 0);
            at = next;
        }
    }
}

static void resistance_by_hand(void **state) {
    /* 1e-4 m2 x 133.322 Pa x 3600 s / 1e-3 kg = 4.800e4 m/s: the usual unit of published cake resistances. */
    double si = 0;
    assert_int_equal(df_quantity_parse(*state, &si, "1 cm2 Torr h/g", DF_DIM_RESISTANCE, NULL), DF_OK);
    assert_near(si, 4.800e4, 5e-4);
}

static void wrong_quantities(void **state) {
    df_context *ctx = *state;
    static const struct {
        const char *text;
        df_dimension dimension;
        const char *says;
    } rows[] = {
        {"", DF_DIM_VOLUME, "nothing is written"},
        {"  ", DF_DIM_VOLUME, "nothing is written"},
        {"mL", DF_DIM_VOLUME, "finite number"},
        {"NaN mL", DF_DIM_VOLUME, "finite number"},
        {"nan", DF_DIM_NUMBER, "finite number"},
        {"inf mL", DF_DIM_VOLUME, "finite number"},
        {"-Infinity mL", DF_DIM_VOLUME, "finite number"},
        {"1e999 mL", DF_DIM_VOLUME, "finite number"},
        {"1e306 kPa", DF_DIM_PRESSURE, "too large"},
        {"0x10 mL", DF_DIM_VOLUME, "not known"},
        {"3", DF_DIM_VOLUME, "has no unit; write \u00b5L, mL, L, cm3 or m3"},
        {"0.3", DF_DIM_PERCENT, "has no unit; write %"},
        {"3 mbar", DF_DIM_VOLUME, "is a pressure where a volume is wanted"},
        {"3 mL", DF_DIM_PRESSURE, "is a volume where a pressure is wanted"},
        {"3 K", DF_DIM_PERCENT, "is a temperature where a percentage is wanted"},
        {"30 %", DF_DIM_VOLUME, "is a percentage where a volume is wanted"},
        {"30 %", DF_DIM_NUMBER, "plain number"},
        {"3 m", DF_DIM_NUMBER, "plain number"},
        {"3 furlong", DF_DIM_LENGTH, "not known"},
        {"3 mbarx", DF_DIM_PRESSURE, "not known"},
        {"3 MBAR", DF_DIM_PRESSURE, "not known"},
        {"0,5 mbar", DF_DIM_PRESSURE, "decimal comma"},
        {"-300 \u00b0C", DF_DIM_TEMPERATURE, "absolute zero"},
        {"-1 K", DF_DIM_TEMPERATURE, "absolute zero"},
        {"- 30 \u00b0C", DF_DIM_TEMPERATURE, "finite number"},
        {"3 m2/m", DF_DIM_AREA, "is a length where an area is wanted"},
        {"3 kg m", DF_DIM_MASS, "does not measure a mass"},
        {"3 W/m2 K", DF_DIM_HEAT_TRANSFER, "does not measure"},
        {"3 W/(m2 K", DF_DIM_HEAT_TRANSFER, "not known"},
        {"3 W/((m2 K))", DF_DIM_HEAT_TRANSFER, "not known"},
        {"3 W)", DF_DIM_POWER, "not known"},
        {"3 /s", DF_DIM_RESISTANCE_SLOPE, "not known"},
        {"3 m//s", DF_DIM_RESISTANCE, "not known"},
        {"3 m0", DF_DIM_LENGTH, "not known"},
        {"3 m22", DF_DIM_LENGTH, "not known"},
        {"3 W", DF_DIM_LEAK, "is a power where a leak rate is wanted"},
        {"3 mbar L/s", DF_DIM_POWER, "is a leak rate where a power is wanted"},
        {"3 \u20ac", DF_DIM_MASS, "not known"},
        {"3 \u00b0C \u00b0C", DF_DIM_TEMPERATURE, "does not measure"},
        {"3 K/K K", DF_DIM_TEMPERATURE, NULL}, /* silly but sound */
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        double si = -99;
        df_context_clear(ctx);
        df_status status = df_quantity_parse(ctx, &si, rows[i].text, rows[i].dimension, "job.yaml:12: fill");
        if (!rows[i].says) {
            assert_int_equal(status, DF_OK);
            continue;
        }
        if (status != DF_E_INPUT)
            fail_msg("'%s' gave %d, %g", rows[i].text, status, si);
        assert_true(si == -99);
        assert_says(ctx, rows[i].says);
        assert_memory_equal(df_context_message(ctx), "job.yaml:12: fill: ", 19);
    }
    double si;
    assert_int_equal(df_quantity_parse(ctx, &si, "3 m", DF_DIM_COUNT, NULL), DF_E_INTERNAL);
}

static void numbers_are_scanned(void **state) {
    (void)state;
    double value = 0;
    const char *rest = NULL;
    assert_true(df_number_scan(&value, &rest, "  -2.5e-3  abc"));
    assert_true(value == -2.5e-3);
    assert_string_equal(rest, "abc");
    assert_true(df_number_scan(&value, &rest, "3elephants"));
    assert_true(value == 3);
    assert_string_equal(rest, "elephants");
    assert_true(df_number_scan(&value, NULL, "0.1"));
    assert_true(value == 0.1);
    assert_true(df_number_scan(&value, NULL, "1e-400")); /* underflow is zero */
    assert_true(value == 0);
    value = 7;
    assert_false(df_number_scan(&value, &rest, "-"));
    assert_false(df_number_scan(&value, &rest, "."));
    assert_false(df_number_scan(&value, &rest, "e5"));
    assert_false(df_number_scan(&value, &rest, "--3"));
    assert_false(df_number_scan(&value, &rest, ""));
    char longest[2000];
    memset(longest, '9', sizeof longest - 1);
    longest[sizeof longest - 1] = '\0';
    assert_false(df_number_scan(&value, &rest, longest));
    assert_true(value == 7);
}

/* ---- CSV ------------------------------------------------------------------------------------------------------ */

static df_csv *table(df_context *ctx, const char *text) {
    df_csv *csv = NULL;
    df_status status = df_csv_parse(ctx, &csv, text, strlen(text), "t.csv");
    if (status != DF_OK)
        fail_msg("%s", df_context_message(ctx));
    return csv;
}

static void csv_is_read(void **state) {
    df_context *ctx = *state;
    df_csv *csv = table(ctx, "\xef\xbb\xbf# a note, with a comma\n\nname,value,\"odd, name\"\r\n"
                             "a,1.5,\"say \"\"hi\"\"\"\n# between\n\"two\nlines\",,x\r\n\rb,\u22122,");
    assert_int_equal(df_csv_rows(csv), 3);
    assert_int_equal(df_csv_columns(csv), 3);
    assert_string_equal(df_csv_name(csv), "t.csv");
    assert_string_equal(df_csv_column_name(csv, 2), "odd, name");
    assert_string_equal(df_csv_column_name(csv, 3), "");
    assert_int_equal(df_csv_find(csv, "value"), 1);
    assert_int_equal(df_csv_find(csv, "Value"), -1);
    assert_string_equal(df_csv_cell(csv, 0, 2), "say \"hi\"");
    assert_string_equal(df_csv_cell(csv, 1, 0), "two\nlines");
    assert_string_equal(df_csv_cell(csv, 1, -1), "");
    assert_string_equal(df_csv_cell(csv, 9, 0), "");
    assert_string_equal(df_csv_cell(csv, 2, 2), "");
    assert_int_equal(df_csv_line(csv, 0), 4);
    assert_int_equal(df_csv_line(csv, 1), 6);
    assert_int_equal(df_csv_line(csv, 2), 9);
    assert_int_equal(df_csv_line(csv, 3), 0);

    double value = 0;
    assert_int_equal(df_csv_number(ctx, &value, csv, 0, 1, NAN), DF_OK);
    assert_true(value == 1.5);
    assert_int_equal(df_csv_number(ctx, &value, csv, 2, 1, NAN), DF_OK);
    assert_true(value == -2);
    assert_int_equal(df_csv_number(ctx, &value, csv, 1, 1, NAN), DF_OK);
    assert_true(isnan(value));
    assert_int_equal(df_csv_number(ctx, &value, csv, 1, -1, 4), DF_OK);
    assert_true(value == 4);
    assert_int_equal(df_csv_number(ctx, &value, csv, 1, 2, 4), DF_E_INPUT);
    assert_string_equal(df_context_message(ctx), "t.csv:6: odd, name: 'x' is not a finite number");
    assert_true(value == 4);

    static const char *const columns[] = {"name", "valeu"};
    assert_int_equal(df_csv_require(ctx, csv, columns, 1), DF_OK);
    assert_int_equal(df_csv_require(ctx, csv, columns, 2), DF_E_INPUT);
    assert_string_equal(df_context_message(ctx), "t.csv:3: the column 'valeu' is missing; is it value?");
    df_csv_free(csv);
    df_csv_free(NULL);
}

static void csv_without_rows(void **state) {
    df_csv *csv = table(*state, "a,b");
    assert_int_equal(df_csv_rows(csv), 0);
    assert_int_equal(df_csv_columns(csv), 2);
    df_csv_free(csv);
}

static void wrong_tables(void **state) {
    df_context *ctx = *state;
    static const struct {
        const char *text, *says;
    } rows[] = {
        {"", "t.csv: the table is empty"},
        {"# nothing\n\n", "t.csv: the table is empty"},
        {"a,b\n1,2\n1\n", "t.csv:3: this row has 1 cell, the header has 2"},
        {"a,b\n\n# x\n1,2,3\n", "t.csv:4: this row has 3 cells, the header has 2"},
        {"a,b\n1,2\n3,\"x\n\n", "t.csv:3: a quote is opened here and never closed"},
        {"a,b,a\n", "t.csv:1: two columns are named 'a'"},
        {"#\na,,c\n", "t.csv:2: column 2 has no name"},
        {"a,b\n\"1\"x,2\n", "t.csv:2: text follows a closing quote in cell 1"},
        {"a,b\n1,2\"\n", "t.csv:2: a quote stands inside cell 2"},
        {"a,b\n\n1,\xb0\n", "t.csv:3: a byte here is no UTF-8"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        df_csv *csv = (df_csv *)&csv;
        if (df_csv_parse(ctx, &csv, rows[i].text, strlen(rows[i].text), "t.csv") != DF_E_INPUT)
            fail_msg("accepted: %s", rows[i].text);
        assert_null(csv);
        assert_says(ctx, rows[i].says);
    }
    df_csv *csv;
    assert_int_equal(df_csv_parse(ctx, &csv, "a\n1\n\0\n", 6, "t.csv"), DF_E_INPUT);
    assert_says(ctx, "t.csv:3: a NUL byte");
}

/* ---- YAML ----------------------------------------------------------------------------------------------------- */

static const char job[] = "# a job\n"
                          "name: island water\n"
                          "containers:\n"
                          "  - fill: 3 mL\n"
                          "    count: 12\n"
                          "  - fill: 250 \u00b5L\n"
                          "    half: yes\n"
                          "limits:\n"
                          "  shelf: -20 \u00b0C\n"
                          "  share: 29 %\n"
                          "  kind: Shell_Frozen\n"
                          "  nothing:\n"
                          "  text: ''\n";

static df_yaml *document(df_context *ctx, const char *text) {
    df_yaml *yaml = NULL;
    if (df_yaml_parse(ctx, &yaml, text, strlen(text), "job.yaml") != DF_OK)
        fail_msg("%s", df_context_message(ctx));
    return yaml;
}

static void yaml_is_read(void **state) {
    df_context *ctx = *state;
    df_yaml *yaml = document(ctx, job);
    const df_yaml_node *root = df_yaml_root(yaml);
    assert_int_equal(df_yaml_node_kind(root), DF_YAML_MAP);
    assert_string_equal(df_yaml_node_path(root), "");
    assert_int_equal(df_yaml_count(root), 3);
    assert_string_equal(df_yaml_key(root, 1), "containers");
    assert_null(df_yaml_key(root, 3));
    const df_yaml_node *containers = df_yaml_get(root, "containers");
    assert_int_equal(df_yaml_node_kind(containers), DF_YAML_LIST);
    assert_int_equal(df_yaml_node_line(containers), 3);
    assert_null(df_yaml_key(containers, 0));
    assert_null(df_yaml_get(containers, "fill"));
    assert_null(df_yaml_scalar(containers));
    assert_null(df_yaml_item(containers, 2));
    const df_yaml_node *fill = df_yaml_get(df_yaml_item(containers, 1), "fill");
    assert_string_equal(df_yaml_scalar(fill), "250 \u00b5L");
    assert_int_equal(df_yaml_node_line(fill), 6);
    assert_int_equal(df_yaml_count(fill), 0);
    assert_string_equal(df_yaml_node_path(fill), "containers[1].fill");
    char where[64];
    assert_string_equal(df_yaml_where(where, sizeof where, fill), "job.yaml:6: containers[1].fill");
    assert_string_equal(df_yaml_where(where, sizeof where, root), "job.yaml:2");
    assert_int_equal(df_yaml_fail(ctx, fill, "is %d too many", 3), DF_E_INPUT);
    assert_string_equal(df_context_message(ctx), "job.yaml:6: containers[1].fill: is 3 too many");
    assert_null(df_yaml_get(root, "absent"));
    assert_null(df_yaml_get(NULL, "absent"));
    df_yaml_free(yaml);
    df_yaml_free(NULL);
}

static void yaml_fields(void **state) {
    df_context *ctx = *state;
    df_yaml *yaml = document(ctx, job);
    const df_yaml_node *root = df_yaml_root(yaml), *limits = df_yaml_get(root, "limits");
    const df_yaml_node *first = df_yaml_item(df_yaml_get(root, "containers"), 0);
    const df_yaml_node *second = df_yaml_item(df_yaml_get(root, "containers"), 1);

    double value = 7;
    assert_int_equal(df_yaml_quantity(ctx, &value, first, "fill", DF_DIM_VOLUME, true), DF_OK);
    assert_near(value, 3e-6, 1e-15);
    assert_int_equal(df_yaml_quantity(ctx, &value, first, "absent", DF_DIM_VOLUME, false), DF_OK);
    assert_near(value, 3e-6, 1e-15);
    assert_int_equal(df_yaml_quantity(ctx, &value, first, "absent", DF_DIM_VOLUME, true), DF_E_INPUT);
    assert_string_equal(df_context_message(ctx), "job.yaml:4: containers[0]: the key 'absent' is missing; it takes a "
                                                 "volume in \u00b5L, mL, L, cm3 or m3");
    assert_int_equal(df_yaml_quantity(ctx, &value, first, "fill", DF_DIM_PRESSURE, true), DF_E_INPUT);
    assert_says(ctx, "job.yaml:4: containers[0].fill: '3 mL' is a volume where a pressure is wanted; write Pa");
    assert_int_equal(df_yaml_quantity(ctx, &value, limits, "nothing", DF_DIM_PRESSURE, true), DF_E_INPUT);
    assert_says(ctx, "job.yaml:12: limits.nothing: a pressure is wanted here");
    assert_int_equal(df_yaml_quantity(ctx, &value, root, "containers", DF_DIM_PRESSURE, true), DF_E_INPUT);
    assert_says(ctx, "job.yaml:3: containers: a list stands here; a pressure in");
    assert_int_equal(df_yaml_quantity(ctx, &value, df_yaml_get(root, "containers"), "fill", DF_DIM_VOLUME, false),
                     DF_E_INPUT);
    assert_says(ctx, "job.yaml:3: containers: a map with the key 'fill' is wanted here");
    assert_near(value, 3e-6, 1e-15);

    assert_int_equal(df_yaml_quantity_in(ctx, &value, limits, "shelf", DF_DIM_TEMPERATURE, true, 233.15, 253.15),
                     DF_OK);
    assert_near(value, 253.15, 1e-15);
    assert_int_equal(df_yaml_quantity_in(ctx, &value, limits, "shelf", DF_DIM_TEMPERATURE, true, 213.15, 233.15),
                     DF_E_INPUT);
    assert_string_equal(df_context_message(ctx),
                        "job.yaml:9: limits.shelf: must lie between -60 \u00b0C and -40 \u00b0C, not -20 \u00b0C");
    assert_int_equal(df_yaml_quantity_in(ctx, &value, limits, "shelf", DF_DIM_TEMPERATURE, true, 273.15, INFINITY),
                     DF_E_INPUT);
    assert_says(ctx, "must be at least 0 \u00b0C, not -20 \u00b0C");
    assert_int_equal(df_yaml_quantity_in(ctx, &value, second, "fill", DF_DIM_VOLUME, true, -INFINITY, 1e-7),
                     DF_E_INPUT);
    assert_says(ctx, "must be at most 100 \u00b5L, not 250 \u00b5L");
    assert_near(value, 253.15, 1e-15);
    assert_int_equal(df_yaml_quantity_in(ctx, &value, limits, "share", DF_DIM_PERCENT, true, 0, 0.29), DF_OK);
    assert_true(value == 0.29);

    long count = 5;
    assert_int_equal(df_yaml_integer(ctx, &count, first, "count", true, 1, 12), DF_OK);
    assert_int_equal(count, 12);
    assert_int_equal(df_yaml_integer(ctx, &count, first, "count", true, 1, 11), DF_E_INPUT);
    assert_says(ctx, "job.yaml:5: containers[0].count: must be a whole number between 1 and 11, not '12'");
    assert_int_equal(df_yaml_integer(ctx, &count, first, "fill", true, 1, 11), DF_E_INPUT);
    assert_int_equal(df_yaml_integer(ctx, &count, limits, "nothing", true, 0, 11), DF_E_INPUT);

    bool half = false;
    assert_int_equal(df_yaml_bool(ctx, &half, second, "half", true), DF_OK);
    assert_true(half);
    assert_int_equal(df_yaml_bool(ctx, &half, first, "half", false), DF_OK);
    assert_true(half);
    assert_int_equal(df_yaml_bool(ctx, &half, first, "count", true), DF_E_INPUT);
    assert_says(ctx, "must be yes or no, not '12'");

    char *name = df_strdup("old");
    assert_int_equal(df_yaml_string(ctx, &name, root, "name", true), DF_OK);
    assert_string_equal(name, "island water");
    assert_int_equal(df_yaml_string(ctx, &name, limits, "text", true), DF_E_INPUT);
    assert_int_equal(df_yaml_string(ctx, &name, limits, "absent", true), DF_E_INPUT);
    assert_int_equal(df_yaml_string(ctx, &name, limits, "absent", false), DF_OK);
    assert_string_equal(name, "island water");
    free(name);

    static const char *const kinds[] = {"slab", "shell frozen", "tube"};
    int kind = 9;
    assert_int_equal(df_yaml_choice(ctx, &kind, limits, "kind", true, kinds, COUNT(kinds)), DF_OK);
    assert_int_equal(kind, 1);
    assert_int_equal(df_yaml_choice(ctx, &kind, root, "name", true, kinds, COUNT(kinds)), DF_E_INPUT);
    assert_string_equal(df_context_message(ctx),
                        "job.yaml:2: name: must be slab, shell frozen or tube, not 'island water'");
    assert_int_equal(kind, 1);
    df_yaml_free(yaml);
}

static void yaml_unknown_keys(void **state) {
    df_context *ctx = *state;
    df_yaml *yaml = document(ctx, "fill: 3 mL\nnested:\n  colour: red\n  presure: 1 Pa\n");
    const df_yaml_node *root = df_yaml_root(yaml);
    static const char *const keys[] = {"fill", "nested", "pressure", "colour"};
    assert_int_equal(df_yaml_check_keys(ctx, root, keys, 2), DF_OK);
    assert_int_equal(df_yaml_check_keys(ctx, df_yaml_get(root, "nested"), keys, 4), DF_E_INPUT);
    assert_string_equal(df_context_message(ctx),
                        "job.yaml:4: nested.presure: this key is not known; did you mean pressure?");
    assert_int_equal(df_yaml_check_keys(ctx, df_yaml_get(root, "nested"), keys, 3), DF_E_INPUT);
    assert_string_equal(df_context_message(ctx),
                        "job.yaml:3: nested.colour: this key is not known; known here: fill, nested or pressure");
    assert_int_equal(df_yaml_check_keys(ctx, df_yaml_get(root, "fill"), keys, 4), DF_E_INPUT);
    assert_says(ctx, "job.yaml:1: fill: a map of keys and values is wanted here");
    df_yaml_free(yaml);
}

static void yaml_aliases(void **state) {
    df_context *ctx = *state;
    df_yaml *yaml = document(ctx, "base: &b\n  fill: 3 mL\n  list: [1, {a: 2}]\nagain: *b\n");
    const df_yaml_node *again = df_yaml_get(df_yaml_root(yaml), "again");
    const df_yaml_node *a = df_yaml_get(df_yaml_item(df_yaml_get(again, "list"), 1), "a");
    assert_string_equal(df_yaml_scalar(a), "2");
    assert_string_equal(df_yaml_node_path(a), "again.list[1].a");
    assert_int_equal(df_yaml_node_line(a), 4);
    df_yaml_free(yaml);
}

static void refused(df_context *ctx, const char *text, size_t length, df_status expected, const char *says) {
    df_yaml *yaml = (df_yaml *)&yaml;
    df_status status = df_yaml_parse(ctx, &yaml, text, length, "job.yaml");
    if (status != expected)
        fail_msg("got %d (%s) for: %.200s", status, df_context_message(ctx), text);
    assert_null(yaml);
    assert_says(ctx, says);
}

static void wrong_documents(void **state) {
    df_context *ctx = *state;
    static const struct {
        const char *text, *says;
    } rows[] = {
        {"", "job.yaml:1: the document is empty"},
        {"# only a note\n", "job.yaml:1: the document is empty"},
        {"---\n", "job.yaml:1: the document is empty"},
        {"a: 1\nb: 2\na: 3\n", "job.yaml:3: a: this key was already given on line 1"},
        {"x:\n  - b: 2\n    \"b\": 3\n", "job.yaml:3: x[0].b: this key was already given on line 2"},
        {"a: 1\n---\nb: 2\n", "job.yaml:2: a second document begins here"},
        {"a: 1\nb: [1, 2\nc: 3\n", "job.yaml:3: not valid YAML"},
        {"a: 1\n\tb: 2\n", "job.yaml:2: not valid YAML"},
        {"a: 1\nb: \xff\n", "not valid YAML"},
        {"a: *b\n", "job.yaml:1: the alias '*b' refers to nothing"},
        {"a: &b [1, *b]\n", "job.yaml:1: the alias '*b' refers to nothing"},
        {"a: 1\n[1, 2]: 2\n", "job.yaml:2: a key must be a plain word"},
        {"a: \"x\\0y\"\n", "job.yaml:1: a NUL character"},
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        refused(ctx, rows[i].text, strlen(rows[i].text), DF_E_INPUT, rows[i].says);
}

static void hostile_documents(void **state) {
    df_context *ctx = *state;
    df_text text = {0};
    /* Nesting: 32 levels pass, 33 do not. */
    for (int levels = 32; levels <= 33; levels++) {
        df_text_free(&text);
        for (int i = 1; i < levels; i++)
            df_text_puts(&text, "[");
        df_text_puts(&text, "1");
        for (int i = 1; i < levels; i++)
            df_text_puts(&text, "]");
        if (levels == 33)
            refused(ctx, text.data, text.length, DF_E_INPUT, "job.yaml:1: lists and maps nest deeper than 32 levels");
        else
            df_yaml_free(document(ctx, text.data));
    }
    df_text_free(&text);
    for (int i = 0; i < 200000; i++)
        df_text_puts(&text, "[");
    refused(ctx, text.data, text.length, DF_E_INPUT, "nest deeper than 32 levels");

    /* Aliases of aliases: 9^9 entries from a few lines. */
    df_text_free(&text);
    df_text_puts(&text, "a0: &a0 [x]\n");
    for (int i = 1; i < 10; i++) {
        df_text_printf(&text, "a%d: &a%d [", i, i);
        for (int k = 0; k < 9; k++)
            df_text_printf(&text, "%s*a%d", k ? "," : "", i - 1);
        df_text_puts(&text, "]\n");
    }
    refused(ctx, text.data, text.length, DF_E_MEMORY, "more than 100000 entries");

    /* Each alias one level deeper. */
    df_text_free(&text);
    df_text_puts(&text, "a0: &a0 [x]\n");
    for (int i = 1; i < 40; i++)
        df_text_printf(&text, "a%d: &a%d [*a%d]\n", i, i, i - 1);
    refused(ctx, text.data, text.length, DF_E_INPUT, "nest deeper than 32 levels");

    /* Many keys, one of them twice. */
    df_text_free(&text);
    for (int i = 0; i < 20000; i++)
        df_text_printf(&text, "k%d: 1\n", i);
    df_text_puts(&text, "k5: 2\n");
    refused(ctx, text.data, text.length, DF_E_INPUT, "job.yaml:20001: k5: this key was already given on line 6");

    df_text_free(&text);
    df_text_puts(&text, "? ");
    for (int i = 0; i < 300; i++)
        df_text_puts(&text, "k");
    df_text_puts(&text, "\n: 1\n");
    refused(ctx, text.data, text.length, DF_E_INPUT, "longer than 256 bytes");
    df_text_free(&text);

    size_t large = ((size_t)4 << 20) + 1;
    char *bytes = malloc(large);
    assert_non_null(bytes);
    memset(bytes, ' ', large);
    refused(ctx, bytes, large, DF_E_MEMORY, "larger than 4 MiB");
    free(bytes);
}

/* ---- numerics ------------------------------------------------------------------------------------------------- */

typedef struct counted {
    int calls, which;
} counted;

static double curves(double x, void *data) {
    counted *c = data;
    c->calls++;
    switch (c->which) {
    case 0:
        return cos(x) - x;
    case 1:
        return x * x * x - 2 * x - 5; /* Wallis, 1685 */
    case 2:
        return exp(-1 / (x * x + 1e-300)) * (x > 0 ? 1 : -1); /* flat at its root */
    case 3:
        return x < 1 ? -1 : 1; /* a step */
    case 4:
        return x * x + 1;
    case 5:
        return x > 0.4 && x < 0.6 ? (double)NAN : x - 0.3;
    default:
        return log(x / 611.0);
    }
}

static void roots_are_found(void **state) {
    (void)state;
    counted c = {0, 0};
    double root = 0;
    assert_true(df_find_root(&root, 0, 1, 1e-14, curves, &c));
    assert_true(fabs(root - 0.73908513321516064) < 1e-14); /* Dottie number */
    assert_true(c.calls < 14);
    c = (counted){0, 1};
    assert_true(df_find_root(&root, 3, 2, 1e-14, curves, &c)); /* ends may come either way round */
    assert_true(fabs(root - 2.0945514815423265) < 1e-14);
    c = (counted){0, 3};
    assert_true(df_find_root(&root, -10, 10, 1e-9, curves, &c));
    assert_true(fabs(root - 1) <= 1e-9);
    c = (counted){0, 6};
    assert_true(df_find_root(&root, 1e-6, 1e9, 1e-9, curves, &c));
    assert_near(root, 611.0, 1e-11);
    assert_true(c.calls < 100);
    c = (counted){0, 2};
    assert_true(df_find_root(&root, -1, 1.5, 1e-12, curves, &c));
    assert_true(fabs(root) < 0.1);
    c = (counted){0, 0};
    double exact = 0.73908513321516064;
    assert_true(df_find_root(&root, exact, exact, 0, curves, &c) || fabs(root - exact) < 1e-15);
}

static void roots_are_missed(void **state) {
    (void)state;
    counted c = {0, 4};
    double root = 0;
    assert_false(df_find_root(&root, -1, 3, 1e-9, curves, &c));
    assert_true(root == -1); /* the better end */
    c = (counted){0, 5};
    assert_false(df_find_root(&root, 0.5, 1, 1e-9, curves, &c));
    assert_true(root == 1);
    assert_false(df_find_root(&root, 0, 0.5, 1e-9, curves, &c));
    assert_true(root == 0);
}

static void linear_systems(void **state) {
    (void)state;
    double a[9] = {0, 2, 1, 1, 1, 1, 2, 0, -1}, b[3] = {7, 6, -1};
    assert_true(df_solve_linear(a, b, 3)); /* the first pivot is zero */
    assert_near(b[0], 1, 1e-14);
    assert_near(b[1], 2, 1e-14);
    assert_near(b[2], 3, 1e-14);

    double singular[9] = {1, 2, 3, 4, 5, 6, 7, 8, 9}, s[3] = {1, 2, 3};
    assert_false(df_solve_linear(singular, s, 3));
    double tenths[4] = {0.1, 0.2, 0.3, 0.6}, t[2] = {1, 2}; /* singular but for rounding */
    assert_false(df_solve_linear(tenths, t, 2));
    double zero[4] = {0, 0, 1, 1}, z[2] = {0, 1};
    assert_false(df_solve_linear(zero, z, 2));
    double bad[1] = {NAN}, n[1] = {1};
    assert_false(df_solve_linear(bad, n, 1));
    static double wide[65 * 65], w[65];
    assert_false(df_solve_linear(wide, w, 65));

    /* Rows of very different size are no singularity. */
    double scaled[4] = {1e-20, 2e-20, 3e12, 4e12}, y[2] = {5e-20, 11e12};
    assert_true(df_solve_linear(scaled, y, 2));
    assert_near(y[0], 1, 1e-13);
    assert_near(y[1], 2, 1e-13);

    /* 64 unknowns against a known answer. */
    static double m[64 * 64], x[64];
    uint32_t seed = 1;
    for (size_t i = 0; i < 64; i++)
        for (size_t j = 0; j < 64; j++) {
            seed = seed * 1664525u + 1013904223u;
            m[i * 64 + j] = (double)seed / 4294967296.0 - 0.5;
            x[i] += m[i * 64 + j] * (double)(j + 1);
        }
    assert_true(df_solve_linear(m, x, 64));
    for (size_t j = 0; j < 64; j++)
        assert_near(x[j], (double)(j + 1), 1e-9);
}

static void tridiagonal_systems(void **state) {
    (void)state;
    /* -u'' = 2 on 0..1 with u = 0 at both ends: u = x (1 - x) exactly, also on the grid. */
    enum { N = 49 };
    double lower[N], diagonal[N], upper[N], x[N], h = 1.0 / (N + 1);
    for (size_t i = 0; i < N; i++) {
        lower[i] = upper[i] = -1;
        diagonal[i] = 2;
        x[i] = 2 * h * h;
    }
    df_solve_tridiagonal(lower, diagonal, upper, x, N);
    for (size_t i = 0; i < N; i++) {
        double at = (double)(i + 1) * h;
        assert_near(x[i], at * (1 - at), 1e-12);
    }
    double d1[1] = {4}, x1[1] = {2};
    df_solve_tridiagonal(lower, d1, upper, x1, 1);
    assert_true(x1[0] == 0.5);
    df_solve_tridiagonal(lower, d1, upper, x1, 0);
    /* Unsymmetric, by hand: [2 1 0; 3 8 1; 0 4 5] (1, 2, 3) = (4, 22, 23). */
    double l3[3] = {99, 3, 4}, d3[3] = {2, 8, 5}, u3[3] = {1, 1, 99}, x3[3] = {4, 22, 23};
    df_solve_tridiagonal(l3, d3, u3, x3, 3);
    for (size_t i = 0; i < 3; i++)
        assert_near(x3[i], (double)(i + 1), 1e-14);
}

static void interpolation(void **state) {
    (void)state;
    static const double x[] = {0, 1, 3, 7}, y[] = {10, 20, 0, 8};
    assert_true(df_interpolate(x, y, 4, -5) == 10);
    assert_true(df_interpolate(x, y, 4, 0) == 10);
    assert_true(df_interpolate(x, y, 4, 0.25) == 12.5);
    assert_true(df_interpolate(x, y, 4, 1) == 20);
    assert_true(df_interpolate(x, y, 4, 2) == 10);
    assert_true(df_interpolate(x, y, 4, 5) == 4);
    assert_true(df_interpolate(x, y, 4, 7) == 8);
    assert_true(df_interpolate(x, y, 4, 70) == 8);
    assert_true(isnan(df_interpolate(x, y, 4, NAN)));
}

/* ---- embedded data -------------------------------------------------------------------------------------------- */

static void embedded_files_are_found(void **state) {
    (void)state;
    size_t length = 7;
    assert_null(df_embedded(&length, "no-such-table.csv"));
    assert_int_equal(length, 0);
    assert_null(df_embedded(NULL, ""));
    size_t names = 0, found = 0;
    for (const char *name; (name = df_embedded_name(names)) != NULL; names++) {
        assert_non_null(df_embedded(NULL, name));
        found += strcmp(name, "substances.csv") == 0;
    }
    assert_true(names > 10 && found == 1);
    assert_null(df_embedded_name(names));
    /* The file on disk and the one compiled in are the same. */
    FILE *file = fopen(DRYFRONT_SOURCE_DIR "/data/substances.csv", "rb");
    assert_non_null(file);
    const char *bytes = df_embedded(&length, "substances.csv");
    assert_non_null(bytes);
    char *disk = malloc(length + 1);
    assert_non_null(disk);
    size_t got = fread(disk, 1, length + 1, file);
    (void)fclose(file);
    assert_int_equal(got, length);
    assert_memory_equal(disk, bytes, length);
    assert_true(bytes[length] == '\0');
    free(disk);
}

/* A program around the library may have set a locale with a decimal comma. */
static void locale_does_not_matter(void **state) {
    static const char *const names[] = {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "nl_NL.UTF-8"};
    bool set = false;
    for (size_t i = 0; i < COUNT(names) && !set; i++)
        set = setlocale(LC_NUMERIC, names[i]) != NULL;
    if (!set)
        skip();
    double si = 0;
    df_status status = df_quantity_parse(*state, &si, "1.5 Pa", DF_DIM_PRESSURE, NULL);
    (void)setlocale(LC_NUMERIC, "C");
    assert_int_equal(status, DF_OK);
    assert_true(si == 1.5);
}

/* x/(1 - e^-x) by the C library's expm1, and its slope by central differences, over the seams of the two ways it is reckoned. */
static void convection_weight(void **state) {
    (void)state;
    double slope, before, after, none;
    for (double x = -40.0; x < 60.0; x += 0.0137) {
        double value = df_bernoulli(x, &slope), step = 1e-5 * fmax(fabs(x), 1.0);
        before = df_bernoulli(x - step, &none);
        after = df_bernoulli(x + step, &none);
        assert_true(fabs(value - x / -expm1(-x)) <= 1e-12 * fmax(fabs(value), 1e-3));
        assert_true(fabs(slope - (after - before) / (2.0 * step)) < 1e-8);
    }
    assert_true(df_bernoulli(0.0, &slope) == 1.0 && slope == 0.5);
    assert_true(df_bernoulli(-1e4, &slope) == 0.0 && slope == 0.0);
    assert_true(df_bernoulli(1e4, &slope) == 1e4 && slope == 1.0);
}

int main(void) {
#define TEST(function) cmocka_unit_test_setup_teardown(function, make_context, drop_context)
    const struct CMUnitTest tests[] = {
        TEST(convection_weight),
        TEST(status_names_and_exits),
        TEST(context_keeps_one_sentence),
        TEST(sentence_is_cut_and_clean),
        TEST(text_grows),
        TEST(text_stops_at_its_limit),
        TEST(utf8_is_measured),
        TEST(names_are_compared),
        TEST(nearest_names),
        TEST(strings_are_copied),
        TEST(every_unit),
        TEST(listed_units_are_read),
        TEST(resistance_by_hand),
        TEST(wrong_quantities),
        TEST(numbers_are_scanned),
        TEST(csv_is_read),
        TEST(csv_without_rows),
        TEST(wrong_tables),
        TEST(yaml_is_read),
        TEST(yaml_fields),
        TEST(yaml_unknown_keys),
        TEST(yaml_aliases),
        TEST(wrong_documents),
        TEST(hostile_documents),
        TEST(roots_are_found),
        TEST(roots_are_missed),
        TEST(linear_systems),
        TEST(tridiagonal_systems),
        TEST(interpolation),
        TEST(embedded_files_are_found),
        TEST(locale_does_not_matter),
    };
    return cmocka_run_group_tests_name("base", tests, NULL, NULL);
}
