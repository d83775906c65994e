/* A dryer's file: written and read again, its comments, its log section and its history. */
#include "chance.h"
#include "context.h"

#include "dryfront/dryer.h"

static df_dryer builtin(df_context *ctx, const char *name) {
    df_dryer d;
    if (df_dryer_builtin(ctx, &d, name) != DF_OK)
        fail_msg("%s", df_context_message(ctx));
    return d;
}

/* Field by field: a struct has gaps between its members. */
static void same_double(double a, double b, const char *what) {
    if (!(a == b || (isnan(a) && isnan(b))))
        fail_msg("%s: %.17g became %.17g", what, a, b);
}
#define SAME(field) same_double(a->field, b->field, #field)

static void same_curve(const df_curve *a, const df_curve *b) {
    assert_int_equal(a->n, b->n);
    for (size_t i = 0; i < a->n; i++) {
        SAME(x[i]);
        SAME(y[i]);
    }
}

static void same_dryer(const df_dryer *a, const df_dryer *b) {
    assert_string_equal(a->name, b->name);
    assert_string_equal(a->description, b->description);
    SAME(chamber.volume);
    SAME(chamber.room_temperature);
    SAME(chamber.leak);
    SAME(chamber.degassing);
    assert_int_equal(a->chamber.control, b->chamber.control);
    SAME(duct.diameter);
    SAME(duct.length);
    SAME(link.diameter);
    SAME(link.length);
    assert_int_equal(a->traps, b->traps);
    for (size_t i = 0; i < a->traps; i++) {
        assert_int_equal(a->trap[i].kind, b->trap[i].kind);
        same_curve(&a->trap[i].refrigeration, &b->trap[i].refrigeration);
        SAME(trap[i].area);
        SAME(trap[i].volume);
        SAME(trap[i].capacity);
        SAME(trap[i].heat_capacity);
        SAME(trap[i].power);
        assert_int_equal(a->trap[i].coolant, b->trap[i].coolant);
        SAME(trap[i].temperature);
        SAME(trap[i].charge);
        SAME(trap[i].loss);
    }
    assert_int_equal(a->pump.kind, b->pump.kind);
    same_curve(&a->pump.speed, &b->pump.speed);
    SAME(pump.ultimate);
    SAME(pump.solvent_limit);
    SAME(pump.oil);
    SAME(pump.oil_temperature);
    SAME(pump.ballast);
    SAME(pump.power);
    assert_int_equal(a->shelf.present, b->shelf.present);
    SAME(shelf.area);
    SAME(shelf.lowest);
    SAME(shelf.highest);
    SAME(shelf.contact);
    SAME(shelf.gas);
    SAME(shelf.gas_bend);
    SAME(shelf.drift);
    SAME(shelf.ramp);
    assert_int_equal(a->manifold.present, b->manifold.present);
    assert_int_equal(a->manifold.ports, b->manifold.ports);
    SAME(manifold.port_diameter);
    SAME(manifold.frost);
    SAME(hood_flow);
    assert_string_equal(a->reference.container.key, b->reference.container.key);
    assert_int_equal(a->reference.count, b->reference.count);
    SAME(reference.fill);
    assert_int_equal(a->reference.place, b->reference.place);
    assert_int_equal(a->reference.lie, b->reference.lie);
    assert_int_equal(a->reference.recipe.n, b->reference.recipe.n);
    for (size_t i = 0; i < a->reference.recipe.n; i++) {
        SAME(reference.recipe.time[i]);
        SAME(reference.recipe.shelf_temperature[i]);
        SAME(reference.recipe.pressure[i]);
    }
}

static df_dryer round_trip(df_context *ctx, const df_dryer *d) {
    df_text text = {0};
    df_dryer back;
    if (df_dryer_write(ctx, &text, d, NULL, NULL) != DF_OK ||
        df_dryer_parse(ctx, &back, NULL, text.data, text.length, "again") != DF_OK)
        fail_msg("%s\n%s", df_context_message(ctx), df_text_string(&text));
    df_text_free(&text);
    return back;
}

static void builtins_come_back(void **state) {
    for (size_t i = 0; df_dryer_builtin_name(i) != NULL; i++) {
        df_dryer d = builtin(*state, df_dryer_builtin_name(i)), back = round_trip(*state, &d);
        same_dryer(&d, &back);
    }
}

/* Numbers by chance, with all their digits, in every field. */
static void any_numbers_come_back(void **state) {
    for (uint64_t number = 0; number < 300; number++) {
        uint64_t s = seed_of(number);
        df_dryer d = builtin(*state, df_dryer_builtin_name(below(&s, 3)));
        if (number % 3 == 0) { /* a second trap that is a finger */
            df_trap *t = &d.trap[d.traps++];
            t->kind = DF_TRAP_FINGER;
            t->coolant = number % 2 == 0 ? DF_COOLANT_NITROGEN : DF_COOLANT_DRY_ICE;
            t->temperature = df_coolant_temperature(t->coolant);
            t->charge = 5.0 * uniform(&s);
            t->loss = 80.0 * uniform(&s);
            t->area = 0.1 * uniform(&s) + 0.01;
            t->volume = 1e-3 * (1.0 + uniform(&s));
            t->capacity = 3.0 * uniform(&s) + 0.1;
            t->heat_capacity = 500.0 * (1.0 + uniform(&s));
            t->power = NAN;
            d.link.diameter = 0.1 * uniform(&s) + 0.01;
            d.link.length = uniform(&s) + 0.1;
        }
        d.chamber.volume *= 0.5 + uniform(&s);
        d.chamber.room_temperature = 285.0 + 20.0 * uniform(&s);
        d.chamber.leak = uniform(&s) * 1e-3;
        d.chamber.degassing = uniform(&s) * 1e-2;
        d.duct.length *= 0.5 + uniform(&s);
        for (size_t i = 1; i < d.trap[0].refrigeration.n; i++)
            d.trap[0].refrigeration.y[i] *= 1.0 + 0.01 * (double)i * uniform(&s);
        for (size_t i = 0; i < d.trap[0].refrigeration.n; i++)
            d.trap[0].refrigeration.x[i] += uniform(&s);
        d.trap[0].power = number % 2 == 0 ? NAN : 1000.0 * uniform(&s);
        d.pump.ultimate *= uniform(&s) + 0.1;
        for (size_t i = 0; i < d.pump.speed.n; i++) {
            d.pump.speed.x[i] *= 0.5 + uniform(&s);
            d.pump.speed.y[i] *= 0.5 + uniform(&s);
        }
        d.shelf.contact *= 2.0 * uniform(&s);
        d.shelf.gas *= 2.0 * uniform(&s);
        d.shelf.gas_bend *= 2.0 * uniform(&s);
        d.shelf.drift *= 0.5 + uniform(&s);
        d.shelf.ramp *= 0.5 + uniform(&s);
        d.hood_flow = number % 5 == 0 ? NAN : uniform(&s);
        d.reference.fill = 1e-6 * (1.0 + uniform(&s));
        d.reference.recipe.pressure[1] = number % 2 == 0 ? 0.0 : 20.0 * uniform(&s);
        df_dryer back = round_trip(*state, &d);
        same_dryer(&d, &back);
    }
}

static void any_words_come_back(void **state) {
    static const char *const words[] = {
        "a: b",       "# no comment", "- x",   "it's \"so\" \\ here", "[1, 2]",   "yes", "tab\there",
        "ends with:", "x #y",         " lead", "Größe -55 °C",        "a, b {c}", "~",   "'single'"};
    df_dryer d = builtin(*state, "bench-55");
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        snprintf(d.name, sizeof d.name, "%s", words[i]);
        snprintf(d.description, sizeof d.description, "%s", words[i]);
        df_dryer back = round_trip(*state, &d);
        same_dryer(&d, &back);
    }
}

static void comments_stay(void **state) {
    size_t length;
    const char *text = df_embedded(&length, "dryer_bench-55.yaml");
    char *old = df_strndup(text, length);
    df_text changed = {0}, out = {0};
    for (const char *at = old; *at != '\0'; at++) {
        if (strncmp(at, "  leak:", 7) == 0)
            df_text_puts(&changed, "  # measured by Wednesday's test\n");
        if (strncmp(at, "duct: {", 7) == 0)
            df_text_puts(&changed, "# the wide one\n");
        if (strncmp(at, "\n  capacity:", 12) == 0)
            df_text_puts(&changed, "  # round the coil");
        df_text_append(&changed, at, 1);
    }
    df_text_puts(&changed, "# the end\n");
    df_dryer d = builtin(*state, "bench-55");
    assert_int_equal(df_dryer_write(*state, &out, &d, NULL, df_text_string(&changed)), DF_OK);
    const char *all = df_text_string(&out);
    assert_int_equal(strncmp(all, "# A generic dryer", 17), 0);
    assert_non_null(strstr(all, "  # measured by Wednesday's test\n  leak: 0.01 mbar L/s\n"));
    assert_non_null(strstr(all, "# the wide one\nduct:\n"));
    assert_non_null(strstr(all, "  # round the coil\n  volume: 12 L\n"));
    assert_string_equal(all + strlen(all) - 10, "# the end\n");
    df_dryer back;
    assert_int_equal(df_dryer_parse(*state, &back, NULL, out.data, out.length, "again"), DF_OK);
    same_dryer(&d, &back);
    df_text_free(&changed);
    df_text_free(&out);
    free(old);
}

static void history_and_log_come_back(void **state) {
    static const char text[] =
        "log:\n  delimiter: semicolon\n  decimal: comma\n  columns:\n"
        "    - {column: \"PT 101\", quantity: chamber_pressure, unit: mbar}\n"
        "    - {column: clock, quantity: time}\n"
        "history:\n"
        "  - {date: 2026-02-28, field: chamber.leak, value: 0.0103 mbar L/s, band: 0.0002 mbar L/s,"
        " before: 0.01 mbar L/s, log: \"night, 2.csv\", bytes: 2345, rows: 99}\n";
    df_dryer_notes a, b;
    df_text out = {0};
    df_dryer d = builtin(*state, "bench-85");
    assert_int_equal(df_dryer_notes_parse(*state, &a, text, strlen(text), "a.yaml"), DF_OK);
    assert_int_equal(a.entries, 1);
    assert_int_equal(a.log.columns, 2);
    assert_int_equal(df_dryer_notes_add(*state, &a, &a.entry[0]), DF_OK);
    assert_int_equal(df_dryer_write(*state, &out, &d, &a, NULL), DF_OK);
    assert_int_equal(df_dryer_parse(*state, &d, NULL, out.data, out.length, "b.yaml"), DF_OK);
    assert_int_equal(df_dryer_notes_parse(*state, &b, out.data, out.length, "b.yaml"), DF_OK);
    assert_memory_equal(&a.log, &b.log, sizeof a.log);
    assert_int_equal(b.entries, 2);
    for (size_t i = 0; i < 2; i++)
        assert_memory_equal(&a.entry[0], &b.entry[i], sizeof a.entry[0]);
    df_dryer_notes_free(&a);
    df_dryer_notes_free(&b);
    df_text_free(&out);
}

static void bad_notes_are_refused(void **state) {
    static const char *const bad[][2] = {
        {"log: {delimiter: dot}\n", "log.delimiter"},
        {"log: {delimiter: comma, decimal: comma}\n", "log.decimal"},
        {"log: {columns: []}\n", "log.columns"},
        {"log: {columns: [{column: a, quantity: presure}]}\n", "log.columns[0].quantity"},
        {"log: {columns: [{column: a, quantity: weight, unit: mbar}]}\n", "log.columns[0].unit"},
        {"log: {columns: [{column: a, quantity: position, unit: g}]}\n", "log.columns[0].unit"},
        {"log: {columns: [{column: a, quantity: time}, {column: a, quantity: weight, unit: g}]}\n", "named twice"},
        {"log: {rows: 3}\n", "rows"},
        {"history: {}\n", "history"},
        {"history: [{date: 2026-13-01, field: a, value: 1, band: 1, log: b}]\n", "history[0].date"},
        {"history: [{date: 26-1-1, field: a, value: 1, band: 1, log: b}]\n", "history[0].date"},
        {"history: [{date: 2026-01-01, field: a, value: high, band: 1, log: b}]\n", "history[0].value"},
        {"history: [{date: 2026-01-01, field: a, value: 1, log: b}]\n", "band"},
        {"history: [{date: 2026-01-01, field: a, value: 1, band: 1, log: b, rows: -1}]\n", "history[0].rows"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        df_dryer_notes notes;
        df_dryer d = builtin(*state, "bench-55");
        df_text all = {0};
        assert_int_equal(df_dryer_notes_parse(*state, &notes, bad[i][0], strlen(bad[i][0]), "n.yaml"), DF_E_INPUT);
        assert_says(*state, "n.yaml:1");
        assert_says(*state, bad[i][1]);
        assert_int_equal(df_dryer_write(*state, &all, &d, NULL, NULL), DF_OK);
        df_text_puts(&all, bad[i][0]);
        assert_int_equal(df_dryer_parse(*state, &d, NULL, all.data, all.length, "d.yaml"), DF_E_INPUT);
        assert_says(*state, bad[i][1]);
        df_text_free(&all);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(builtins_come_back),        cmocka_unit_test(any_numbers_come_back),
        cmocka_unit_test(any_words_come_back),       cmocka_unit_test(comments_stay),
        cmocka_unit_test(history_and_log_come_back), cmocka_unit_test(bad_notes_are_refused),
    };
    return cmocka_run_group_tests(tests, make_context, drop_context);
}
