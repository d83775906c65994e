/* Logs of any layout: what is read, what is refused with file, line and column, what is remarked; spoilt files. */
#include "chance.h"
#include "context.h"

#include "dryfront/watch.h"

static df_log *read_with(df_context *ctx, const char *text, const df_log_map *map) {
    df_log *log = NULL;
    if (df_log_parse(ctx, &log, text, strlen(text), "l.csv", map) != DF_OK)
        fail_msg("%s\n%s", df_context_message(ctx), text);
    return log;
}

static double value(const df_log *log, df_log_quantity q, size_t index, size_t row) {
    const double *v = df_log_values(log, q, index);
    if (v == NULL)
        fail_msg("no column of %s; not understood: %s", df_log_quantity_name(q), df_log_unknown(log));
    return v[row];
}

/* The same three rows in many layouts: 0, 60, 120 s; 10, 8, 6 Pa; -20, -21, -22.5 °C. */
static const char *const same[] = {
    "time [s],chamber pressure [Pa],shelf [°C]\n0,10,-20\n60,8,-21\n120,6,-22.5\n",
    "time [min];P_ch [mbar];T_shelf [°C]\n0;0,1;-20\n1;0,08;-21\n2;0,06;-22,5\n",
    "Time (h)\tCapacitance/µbar\tshelf degC\r\n0\t100\t-20\r\n0.0166666666666666667\t80\t-21\r\n"
    "0.0333333333333333333\t60\t-22.5\r\n",
    "time,vacuum_mbar,shelf_C\n23:59:30,0.1,-20\n00:00:30,0.08,-21\n00:01:30,0.06,-22.5\n",
    "timestamp,p [Pa],plate temperature in K\n2026-02-28T23:59:30Z,10,253.15\n2026-03-01T00:00:30Z,8,252.15\n"
    "2026-03-01T00:01:30Z,6,250.65\n",
    "timestamp,p [Pa],shelf in °C\n2026-02-28T23:59:30+01:00,10,-20\n2026-02-28T23:00:30+00:00,8,-21\n"
    "2026-03-01 00:01:30+01:00,6,-22.5\n",
    "date;time;chamber pressure, Pa;shelf, °C;shelf set "
    "[°C]\n28.02.2026;23:59:30;10;-20;5\n01.03.2026;00:00:30;8;-21;5\n"
    "01.03.2026;00:01:30;6;-22,5;5\n",
    "\xef\xbb\xbf# exported\n# volume: 72 L\nLogger;serial 12\n\nrun: 7\ntime;chamber pressure;shelf\nmin;mbar;°C\n"
    "0;0,1;-20\n\n# a pause\n1;0,08;-21\n2;0,06;-22,5;\n",
    "\"time [s]\",\"chamber pressure [Pa]\",\"shelf [°C]\",note\n\"0\",\"10\",\"-20\",\"a, "
    "\"\"b\"\"\"\n60,8,-21,\n120,6,"
    "\xe2\x88\x92"
    "22.5,x\n",
    "time [s],chamber pressure [Pa],shelf [\xb0"
    "C]\n0,10,-20\n60,8,-21\n120,6,-22.5\n", /* Latin-1 */
    "elapsed s; Chamber pressure (mTorr) ; shelf (Celsius)\n0; 75.006168270; -20\n60; 60.0049346\n"
    "120;0;0\n" /* mended below */,
};

static void layouts(void **state) {
    for (size_t i = 0; i + 1 < sizeof same / sizeof *same; i++) {
        df_log *log = read_with(*state, same[i], NULL);
        static const double t[] = {0, 60, 120}, p[] = {10, 8, 6}, shelf[] = {253.15, 252.15, 250.65};
        assert_int_equal(df_log_rows(log), 3);
        for (size_t k = 0; k < 3; k++) {
            if (!(fabs(value(log, DF_LOG_TIME, 0, k) - t[k]) < 1e-6 &&
                  fabs(value(log, DF_LOG_CHAMBER_PRESSURE, 0, k) - p[k]) < 1e-9 &&
                  fabs(value(log, DF_LOG_SHELF_TEMPERATURE, 0, k) - shelf[k]) < 1e-9))
                fail_msg("layout %zu, row %zu: %g s, %g Pa, %g K", i, k, value(log, DF_LOG_TIME, 0, k),
                         value(log, DF_LOG_CHAMBER_PRESSURE, 0, k), value(log, DF_LOG_SHELF_TEMPERATURE, 0, k));
        }
        assert_int_equal(df_log_count(log, DF_LOG_SHELF_TEMPERATURE), 1); /* what is set is not what is */
        df_log_free(log);
    }
}

static void columns_by_name(void **state) {
    df_log *log =
        read_with(*state,
                  "time [s],Pirani/µbar,condenser [mbar],coil [°C],product 1 [°C],product 2 [°C],front [°C],"
                  "heater load [W],weight [g],colour\n"
                  "0,1,2,-60,-30,-31,-32,300,12.5,red\n",
                  NULL);
    assert_near(value(log, DF_LOG_PIRANI_PRESSURE, 0, 0), 0.1, 1e-12);
    assert_near(value(log, DF_LOG_TRAP_PRESSURE, 0, 0), 200, 1e-12);
    assert_near(value(log, DF_LOG_TRAP_TEMPERATURE, 0, 0), 213.15, 1e-12);
    assert_int_equal(df_log_count(log, DF_LOG_PRODUCT_TEMPERATURE), 2);
    assert_near(value(log, DF_LOG_PRODUCT_TEMPERATURE, 1, 0), 242.15, 1e-12);
    assert_near(value(log, DF_LOG_FRONT_TEMPERATURE, 0, 0), 241.15, 1e-12);
    assert_near(value(log, DF_LOG_TRAP_LOAD, 0, 0), 300, 1e-12);
    assert_near(value(log, DF_LOG_WEIGHT, 0, 0), 0.0125, 1e-12);
    assert_string_equal(df_log_unknown(log), "'colour'");
    df_log_free(log);
    log = read_with(*state, "vial,position,before [g],after [g]\nA1,edge,12,10\nB2,centre,12.5,11\n", NULL);
    assert_null(df_log_values(log, DF_LOG_TIME, 0));
    assert_string_equal(df_log_words(log, DF_LOG_POSITION, 1), "centre");
    assert_string_equal(df_log_words(log, DF_LOG_CONTAINER, 0), "A1");
    assert_near(value(log, DF_LOG_AFTER, 0, 1), 0.011, 1e-12);
    df_log_free(log);
}

static void columns_by_map(void **state) {
    df_log_map map = {.delimiter = ';',
                      .decimal = ',',
                      .columns = 3,
                      .column = {{"K1", DF_LOG_TIME, "min"},
                                 {"K2", DF_LOG_CHAMBER_PRESSURE, "Torr"},
                                 {"shelf [°C]", DF_LOG_IGNORED, ""}}};
    df_log *log = read_with(*state, "K1;K2;shelf [°C];shelf 2 [°C]\n0;1,5;1;-3\n1;1;1;-4\n", &map);
    assert_near(value(log, DF_LOG_TIME, 0, 1), 60, 1e-12);
    assert_near(value(log, DF_LOG_CHAMBER_PRESSURE, 0, 0), 1.5 * DF_ATMOSPHERE / 760, 1e-12);
    assert_int_equal(df_log_count(log, DF_LOG_SHELF_TEMPERATURE), 1);
    assert_near(value(log, DF_LOG_SHELF_TEMPERATURE, 0, 0), 270.15, 1e-12);
    df_log_free(log);
    assert_int_equal(df_log_parse(*state, &log, "K1;K3\n0;1\n", 10, "l.csv", &map), DF_E_INPUT);
    assert_says(*state, "l.csv:1");
    assert_says(*state, "'K2'");
}

static void notes(void **state) {
    double litres = 0.0;
    df_log *log = read_with(
        *state, "# test: isolation\n#volume : 72 L\n# anything: else\nfrom: 3 min\ntime [s],p [Pa]\n0,1\n", NULL);
    assert_string_equal(df_log_note(log, "test"), "isolation");
    assert_string_equal(df_log_note(log, "from"), "3 min");
    assert_null(df_log_note(log, "anything"));
    assert_int_equal(df_log_note_quantity(*state, &litres, log, "volume", DF_DIM_VOLUME, 0, 1), DF_OK);
    assert_near(litres, 0.072, 1e-12);
    assert_int_equal(df_log_add_note(*state, log, "volume: 7 mbar", "--note"), DF_OK);
    assert_int_equal(df_log_note_quantity(*state, &litres, log, "volume", DF_DIM_VOLUME, 0, 1), DF_E_INPUT);
    assert_says(*state, "l.csv: volume");
    assert_int_equal(df_log_add_note(*state, log, "volum: 7 L", "--note"), DF_E_UNKNOWN_NAME);
    assert_says(*state, "did you mean volume?");
    assert_int_equal(df_log_add_note(*state, log, "volume", "--note"), DF_E_INPUT);
    df_log_free(log);
}

static bool remarks(const df_log *log, const char *part) {
    for (size_t i = 0; df_log_remark(log, i) != NULL; i++)
        if (strstr(df_log_remark(log, i), part) != NULL)
            return true;
    return false;
}

static void oddities(void **state) {
    df_text t = {0};
    df_text_puts(&t, "time [s],p [Pa],product [°C]\n");
    for (int i = 0; i < 100; i++)
        df_text_printf(&t, "%d,%g,%s\n", i < 60 ? 10 * i : 10 * i + 600, i < 50 ? 5.0 + i : 54.0,
                       i == 7 ? "n/a" : "-20");
    df_text_puts(&t, "1590,9,-20\n1500,9,-20\n1601,9,-20\ntime [s],p [Pa],product [°C]\n1610,9,-20\n1620,9");
    df_log *log = read_with(*state, t.data, NULL);
    assert_int_equal(df_log_rows(log), 102);
    assert_true(remarks(log, "1 gap in time, the longest 10.2 min before line 62"));
    assert_true(remarks(log, "1 row with a repeated time left out, the first in line 102"));
    assert_true(remarks(log, "1 row whose time goes back left out, the first in line 103"));
    assert_true(remarks(log, "'p [Pa]' does not move over 51 rows from line 51"));
    assert_true(remarks(log, "'product [°C]' does not move over 94 rows from line 10"));
    assert_true(remarks(log, "1 value missing in 'product [°C]'"));
    assert_true(remarks(log, "header stands again in line 105"));
    assert_true(remarks(log, "last line, 107, is cut off"));
    assert_true(isnan(value(log, DF_LOG_PRODUCT_TEMPERATURE, 0, 7)));
    df_log_free(log);
    df_text_free(&t);
}

static const char *const bad[][3] = {
    {"", "no header row", ""},
    {"\n\n# x\n", "no header row", ""},
    {"1,2\n3,4\n", "no header row", ""},
    {"time [s],p [Pa]\n", "no row of numbers", ""},
    {"time [s],p [Pa]\n0,1\n1\n2,3\n", "l.csv:3", "1 cell, the header has 2"},
    {"time [s],p [Pa]\n0,1\n1,2,3\n", "l.csv:3", "3 cells"},
    {"time [s],p [Pa]\n0,1\n1,x\n", "l.csv:3: p [Pa]", "'x'"},
    {"time [s],p [Pa]\n0,1\n1,0x10\n", "l.csv:3: p [Pa]", "0x10"},
    {"time [s],p [Pa]\n0,1\n1,1e999\n", "l.csv:3: p [Pa]", "1e999"},
    {"time [s],p [Pa]\n0,1\nnan,1\n", "l.csv:3: time [s]", "nan"},
    {"time,p [Pa]\n0,1\n1,1\n", "l.csv:2: time", "no unit"},
    {"time,p [Pa]\nnoon,1\n1,1\n", "l.csv:2: time", "'noon'"},
    {"time,p [Pa]\n3/4/2026 10:00,1\n", "l.csv:2: time", "2026-02-28"},
    {"time,p [Pa]\n10:60,1\n", "l.csv:2: time", "10:60"},
    {"time [s],shelf [°C]\n0,-300\n", "l.csv:2: shelf [°C]", "absolute zero"},
    {"time [s],p [Pa],chamber [mbar]\n0,1,1\n", "l.csv:1", "both read as chamber_pressure"},
    {"time [s],time [min],p [Pa]\n0,1,1\n", "l.csv:1", "both read as time"},
    {"time [s];p [Pa]\n0;1,5\n1;1.5\n", "l.csv:3: p [Pa]", "decimal sign"},
    {"time [s];p [Pa]\n0;1,234.5\n", "l.csv:2: p [Pa]", "decimal sign"},
    {"time [s],p [Pa]\n0,1\n1,\"2\n", "l.csv:3", "quote"},
    {"time [s],p [Pa]\n5,1\n4,1\n3,1\n2,1\n", "l.csv:3: time [s]", "goes back"},
    {"date,clock,time,p [Pa]\n2026-01-01,1:00,1:00,1\n", "l.csv:1", "time"},
    {"date,clock,p [Pa]\n2026-01-01,2026-01-01,1\n", "l.csv:2: clock", "second time"},
};

static void refusals(void **state) {
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        df_log *log = (df_log *)1;
        if (df_log_parse(*state, &log, bad[i][0], strlen(bad[i][0]), "l.csv", NULL) != DF_E_INPUT)
            fail_msg("taken: %s (%s)", bad[i][0], df_context_message(*state));
        assert_null(log);
        assert_says(*state, bad[i][1]);
        assert_says(*state, bad[i][2]);
    }
    df_log *log;
    assert_int_equal(df_log_parse(*state, &log, "time [s]\n\0", 10, "l.csv", NULL), DF_E_INPUT);
    assert_says(*state, "l.csv:2: a NUL");
    df_log_map map = {.columns = 1, .column = {{"a", DF_LOG_WEIGHT, ""}}};
    assert_int_equal(df_log_parse(*state, &log, "a,b\n1,2\n", 8, "l.csv", &map), DF_E_INPUT);
    assert_says(*state, "has no unit");
}

/* Whatever the bytes: a sound log or one sentence; and a sound log has rising times and rows of its lines. */
static void spoilt_files(void **state) {
    size_t sound = 0, refused = 0;
    for (uint64_t number = 0; number < 8000; number++) {
        uint64_t s = seed_of(number);
        size_t layouts_count = sizeof same / sizeof *same,
               which = below(&s, layouts_count + sizeof bad / sizeof *bad);
        const char *base = which < layouts_count ? same[which] : bad[which - layouts_count][0];
        char text[2048];
        size_t length = strlen(base);
        memcpy(text, base, length);
        for (size_t k = below(&s, 6); k > 0 && length > 0; k--) {
            static const char odd[] = "\n\r\t;,\"#:.-+eE0123456789 \xb0\xc2\xff[]()/T";
            size_t at = below(&s, length), way = below(&s, 5);
            if (way == 0) { /* a piece goes */
                size_t n = below(&s, length - at) + 1;
                memmove(text + at, text + at + n, length - at - n);
                length -= n;
            } else if (way == 1 && length < 1000) { /* a piece comes twice */
                size_t n = below(&s, length - at) + 1;
                memmove(text + at + n, text + at, length - at);
                length += n;
            } else
                text[at] = way == 2 ? (char)next_bits(&s) : odd[below(&s, sizeof odd - 1)];
        }
        char *exactly = malloc(length > 0 ? length : 1); /* so that a byte read past the end is noticed */
        memcpy(exactly, text, length);
        df_log *log = NULL;
        df_context_clear(*state);
        df_status status = df_log_parse(*state, &log, exactly, length, "l.csv", NULL);
        free(exactly);
        if (status == DF_OK) {
            const double *t = df_log_values(log, DF_LOG_TIME, 0);
            for (size_t i = 1; i < df_log_rows(log); i++) {
                assert_true(df_log_line(log, i) > df_log_line(log, i - 1));
                assert_true(t == NULL || t[i] > t[i - 1]);
            }
            assert_true(df_log_rows(log) > 0);
            sound++;
        } else {
            assert_int_equal(status, DF_E_INPUT);
            assert_null(log);
            assert_says(*state, "l.csv:");
            refused++;
        }
        df_log_free(log);
    }
    assert_true(sound > 400 && refused > 400);
}

/* A day at one second with ten columns, 4 MB, in well under a second. */
static void long_logs(void **state) {
    df_text t = {0};
    df_text_puts(&t, "time,p [mbar],shelf [°C],trap [°C],product 1 [°C],product 2 [°C]\n");
    for (int i = 0; i < 86400; i++)
        df_text_printf(&t, "%02d:%02d:%02d,%.4f,%.2f,%.2f,%.2f,%.2f\n", i / 3600, i / 60 % 60, i % 60, 0.1 + 1e-6 * i,
                       -20.0, -55.0 - 1e-5 * i, -30.0 + 1e-4 * i, -31.0 + 1e-4 * i);
    df_log *log = read_with(*state, t.data, NULL);
    assert_int_equal(df_log_rows(log), 86400);
    assert_near(value(log, DF_LOG_TIME, 0, 86399), 86399, 1e-15);
    df_log_free(log);
    df_text_free(&t);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(layouts),      cmocka_unit_test(columns_by_name), cmocka_unit_test(columns_by_map),
        cmocka_unit_test(notes),        cmocka_unit_test(oddities),        cmocka_unit_test(refusals),
        cmocka_unit_test(spoilt_files), cmocka_unit_test(long_logs),
    };
    return cmocka_run_group_tests(tests, make_context, drop_context);
}
