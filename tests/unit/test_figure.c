/* Maps of phases against single equilibria, and the figures drawn from them. */
#include "kit.h"

#include <ctype.h>
#include <dirent.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "dryfront/report.h"
#include "report/parts.h"

/* ---- maps ----------------------------------------------------------------------------------------------------- */

static df_phase_mark mark_at(const kit *k, const df_mixture *m, const bool *allowed, double t, const double *z) {
    df_assemblage a;
    if (df_mixture_equilibrium(k->ctx, &a, m, t, z, allowed, false) < 0)
        fail_msg("%s", df_context_message(k->ctx));
    return df_phase_mark_of(m, &a);
}

/* In the middle of every stretch of a row a single equilibrium finds the same phases, with liquids at its ends. */
static void check_section(const kit *k, const char *solvent, df_freezing_mode mode) {
    df_mixture *m = kit_binary(k, solvent);
    bool allowed[DF_MAX_SOLIDS];
    df_section s;
    df_mixture_allow(allowed, m, mode);
    if (df_section_make(k->ctx, &s, m, allowed, 165.0, 300.0) < 0)
        fail_msg("%s", df_context_message(k->ctx));
    assert_true(s.rows > 100);
    size_t steps = 0;
    for (size_t i = 0; i < s.rows; i++) {
        const df_section_row *row = &s.row[i];
        steps += row->step;
        near(row->part[0].from, 0.0, 0.0, "%s %.3f K begins", solvent, row->temperature);
        near(row->part[row->parts - 1].to, 1.0, 1e-9, "%s %.3f K ends", solvent, row->temperature);
        for (size_t p = 0; p + 1 < row->parts; p++)
            near(row->part[p].to, row->part[p + 1].from, 1e-8, "%s %.3f K gap", solvent, row->temperature);
        if (i + 1 < s.rows) {
            assert_true(s.row[i + 1].temperature > row->temperature);
            if (row->step)
                near(s.row[i + 1].temperature, row->temperature, 1.001e-4, "%s change", solvent);
        }
        if (i % 7 != 0 || row->step || (i > 0 && s.row[i - 1].step))
            continue; /* within 0.1 mK of a change there is nothing to compare */
        for (size_t p = 0; p < row->parts; p++) {
            const df_section_part *part = &row->part[p];
            double x = 0.5 * (part->from + part->to), z[2] = {x, 1.0 - x};
            if (part->to - part->from < 1e-4)
                continue;
            df_assemblage a;
            assert_int_equal(df_mixture_equilibrium(k->ctx, &a, m, row->temperature, z, allowed, false), DF_OK);
            if (!df_phase_mark_equal(df_phase_mark_of(m, &a), df_section_mark(part)))
                fail_msg("%s at %.3f K, x = %.4f: other phases", solvent, row->temperature, x);
            for (size_t l = 0; l < a.liquids && !part->one; l++) {
                double end = a.liquid[l][0] / (a.liquid[l][0] + a.liquid[l][1]);
                near(fmin(fabs(end - part->from), fabs(end - part->to)), 0.0, 1e-8, "%s %.3f K liquid", solvent,
                     row->temperature);
            }
        }
    }
    assert_true(steps >= 1 && steps < 12);
    df_section_free(&s);
    df_mixture_free(m);
}

static void sections_agree_with_equilibria(void **state) {
    check_section(*state, "acetonitrile", DF_FREEZING_PRACTICE);
    check_section(*state, "tert-butanol", DF_FREEZING_PRACTICE);
    check_section(*state, "thf", DF_FREEZING_PRACTICE);
    check_section(*state, "methanol", DF_FREEZING_EQUILIBRIUM);
    check_section(*state, "dmso", DF_FREEZING_EQUILIBRIUM);
    check_section(*state, "glycerol", DF_FREEZING_PRACTICE);
}

/* The eutectic of the section is where the last liquid of a mixture goes. */
static void eutectic_is_the_solidus(void **state) {
    const kit *k = *state;
    df_mixture *m = kit_binary(k, "acetonitrile");
    bool allowed[DF_MAX_SOLIDS];
    double z[2] = {0.3, 0.7}, liquidus, solidus, eutectic = NAN;
    df_section s;
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    assert_int_equal(df_section_make(k->ctx, &s, m, allowed, 200.0, 280.0), DF_OK);
    for (size_t i = 0; i + 1 < s.rows; i++)
        if (s.row[i].step && df_section_mark(&s.row[i].part[0]).liquids == 0)
            eutectic = s.row[i].temperature;
    assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, z, allowed, 150.0), DF_OK);
    near(eutectic, solidus, 2e-3, "eutectic");
    df_section_free(&s);
    df_mixture_free(m);
}

static void grid_agrees_with_equilibria(void **state) {
    const kit *k = *state;
    df_mixture *m = kit_binary(k, "acetonitrile");
    bool allowed[DF_MAX_SOLIDS];
    enum { ROWS = 40, COLUMNS = 30 };
    double t[ROWS], z[COLUMNS][2];
    df_phase_mark marks[ROWS * COLUMNS];
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    for (int i = 0; i < ROWS; i++)
        t[i] = 282.0 - 1.7 * i;
    for (int i = 0; i < COLUMNS; i++) {
        z[i][0] = (i + 0.5) / COLUMNS;
        z[i][1] = 1.0 - z[i][0];
    }
    assert_int_equal(df_phase_map(k->ctx, marks, m, allowed, t, ROWS, &z[0][0], COLUMNS), DF_OK);
    for (int c = 0; c < COLUMNS; c++)
        for (int r = 0; r < ROWS; r++)
            if (!df_phase_mark_equal(marks[c * ROWS + r], mark_at(k, m, allowed, t[r], z[c])))
                fail_msg("other phases at %.2f K, x = %.4f", t[r], z[c][0]);
    z[3][0] = NAN;
    assert_int_equal(df_phase_map(k->ctx, marks, m, allowed, t, ROWS, &z[0][0], COLUMNS), DF_E_INPUT);
    assert_non_null(strstr(df_context_message(k->ctx), "not a number"));
    df_mixture_free(m);
}

static bool in_loops(const df_ternary *t, df_phase_mark mark, double x, double y) {
    bool in = false;
    for (size_t l = 0; l < t->loops; l++)
        for (size_t i = 0; i < t->loop[l].count && df_phase_mark_equal(t->loop[l].mark, mark); i++) {
            const double *a = t->point[t->loop[l].first + i],
                         *b = t->point[t->loop[l].first + (i + 1) % t->loop[l].count];
            if ((a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
                in = !in;
        }
    return in;
}

static void check_ternary(const kit *k, const char *first, const char *second, double temperature) {
    const df_substance *three[3] = {kit_substance(k, first), kit_substance(k, second), kit_substance(k, "water")};
    double mass[3] = {three[0]->molar_mass, three[1]->molar_mass, three[2]->molar_mass}, area = 0.0;
    bool allowed[DF_MAX_SOLIDS];
    df_mixture *m;
    df_ternary t;
    assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, three, 3), DF_OK);
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    if (df_ternary_make(k->ctx, &t, m, allowed, temperature, mass, 60) < 0)
        fail_msg("%s", df_context_message(k->ctx));
    for (size_t l = 0; l < t.loops; l++)
        area += t.loop[l].area;
    near(area, 0.5, 1e-5, "regions of %s, %s and water fill the triangle", first, second);
    /* Random places away from a line lie in the outline of what an equilibrium finds there. */
    uint32_t seed = 12345;
    int wrong = 0, looked = 0;
    for (int n = 0; n < 400; n++) {
        double f[2];
        for (int i = 0; i < 2; i++) {
            seed = seed * 1664525u + 1013904223u;
            f[i] = 0.002 + 0.996 * (seed >> 8) / 16777216.0;
        }
        if (f[0] + f[1] > 0.998)
            continue;
        looked++;
        double z[3] = {f[0] / mass[0], f[1] / mass[1], (1.0 - f[0] - f[1]) / mass[2]};
        if (!in_loops(&t, mark_at(k, m, allowed, temperature, z), f[0], f[1]))
            wrong++;
    }
    if (wrong * 50 > looked) /* the narrow tips of triangles fall through the grid */
        fail_msg("%d of %d places lie in another region", wrong, looked);
    /* The three phases of a triangle are those in its middle. */
    for (size_t i = 0; i < t.triangles; i++) {
        double(*c)[2] = t.triangle[i].corner;
        double x = (c[0][0] + c[1][0] + c[2][0]) / 3.0, y = (c[0][1] + c[1][1] + c[2][1]) / 3.0;
        double z[3] = {x / mass[0], y / mass[1], (1.0 - x - y) / mass[2]};
        assert_true(df_phase_mark_equal(mark_at(k, m, allowed, temperature, z), t.triangle[i].mark));
    }
    /* Ends of a tie line have equal activities. */
    for (size_t i = 0; i < t.ties; i++) {
        double g[2][3], x[2][3];
        for (int e = 0; e < 2; e++) {
            const double *p = t.tie[i][e];
            double moles[3] = {p[0] / mass[0], p[1] / mass[1], (1.0 - p[0] - p[1]) / mass[2]};
            for (int c = 0; c < 3; c++)
                x[e][c] = moles[c] / (moles[0] + moles[1] + moles[2]);
            df_mixture_activity(g[e], NULL, m, temperature, x[e]);
        }
        for (int c = 0; c < 3; c++)
            near(log(x[0][c]) + g[0][c], log(x[1][c]) + g[1][c], 1e-7, "tie line %zu", i);
    }
    df_ternary_free(&t);
    df_mixture_free(m);
}

static void ternaries_agree_with_equilibria(void **state) {
    check_ternary(*state, "acetonitrile", "methanol", 243.15);
    check_ternary(*state, "tert-butanol", "dmso", 243.15);
    check_ternary(*state, "acetonitrile", "dmso", 243.15);
    check_ternary(*state, "ethanol", "glycerol", 253.15);
}

static void maps_refuse(void **state) {
    const kit *k = *state;
    df_mixture *m = kit_binary(k, "ethanol");
    bool allowed[DF_MAX_SOLIDS];
    double one[3] = {1.0, 1.0, 1.0};
    df_ternary t;
    df_section s;
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    assert_int_equal(df_ternary_make(k->ctx, &t, m, allowed, 250.0, one, 60), DF_E_INPUT);
    assert_int_equal(df_section_make(k->ctx, &s, m, allowed, 250.0, 240.0), DF_E_INPUT);
    assert_null(s.row);
    df_mixture_free(m);
}

/* ---- figures -------------------------------------------------------------------------------------------------- */

/* A small check that every tag is closed in order and every '&' begins an entity. */
static void check_well_formed(const char *xml) {
    char stack[64][32];
    size_t depth = 0, roots = 0;
    for (const char *c = xml; *c != '\0'; c++) {
        if (*c == '&' && strncmp(c, "&amp;", 5) != 0 && strncmp(c, "&lt;", 4) != 0 && strncmp(c, "&gt;", 4) != 0)
            fail_msg("a bare '&': %.40s", c);
        if (*c != '<')
            continue;
        if (c[1] == '?') {
            c = strstr(c, "?>");
            assert_non_null(c);
            c++;
            continue;
        }
        bool closing = c[1] == '/';
        const char *name = c + 1 + closing, *end = name;
        while (isalnum((unsigned char)*end) || *end == ':' || *end == '_')
            end++;
        size_t length = (size_t)(end - name);
        assert_in_range(length, 1, 31);
        bool quoted = false;
        for (; *end != '\0' && (quoted || *end != '>'); end++) {
            if (*end == '"')
                quoted = !quoted;
            if (*end == '<')
                fail_msg("a '<' in a tag: %.60s", c);
        }
        assert_int_equal(*end, '>');
        if (closing) {
            assert_true(depth > 0);
            depth--;
            if (strlen(stack[depth]) != length || strncmp(stack[depth], name, length) != 0)
                fail_msg("</%.*s> closes <%s>", (int)length, name, stack[depth]);
        } else if (end[-1] != '/') {
            roots += depth == 0;
            assert_true(depth < 64);
            snprintf(stack[depth++], sizeof stack[0], "%.*s", (int)length, name);
        }
        c = end;
    }
    assert_int_equal(depth, 0);
    assert_int_equal(roots, 1);
}

/* Numbers that are none would stand as nan or inf in paths. */
static void check_numbers(const char *svg) {
    for (const char *c = strstr(svg, "</desc>"); c != NULL && *c != '\0'; c++)
        if (strncmp(c, "nan", 3) == 0 || strncmp(c, "inf", 3) == 0)
            fail_msg("no number: %.60s", c - 20);
}

static const char *description(const char *svg) {
    const char *from = strstr(svg, "<desc>");
    assert_non_null(from);
    return from;
}

static void assert_labelled(const char *svg, const char *label) {
    char line[256];
    snprintf(line, sizeof line, "\n%s\n", label);
    if (strstr(description(svg), line) == NULL)
        fail_msg("no label '%s' in: %.1500s", label, description(svg));
}

static df_composition compose(const kit *k, const char *text) {
    df_composition c;
    if (df_composition_parse(k->ctx, &c, k->substances, text, NULL) < 0)
        fail_msg("%s", df_context_message(k->ctx));
    return c;
}

static char *draw(const kit *k, const char *mixture, double temperature, df_freezing_mode mode) {
    df_composition c = compose(k, mixture);
    df_text out = {0};
    if (df_report_phase_figure(k->ctx, &out, NULL, k->pairs, &c, temperature, mode) < 0)
        fail_msg("%s: %s", mixture, df_context_message(k->ctx));
    check_well_formed(out.data);
    check_numbers(out.data);
    return out.data;
}

static void acetonitrile_is_drawn(void **state) {
    char *svg = draw(*state, "acetonitrile 30 %v/v, water", NAN, DF_FREEZING_PRACTICE);
    assert_labelled(svg, "liquid");
    assert_labelled(svg, "two liquids");
    assert_labelled(svg, "ice + liquid");
    assert_labelled(svg, "ice + acetonitrile crystal");
    assert_labelled(svg, "acetonitrile crystal + liquid");
    assert_labelled(svg, "30 % v/v");
    assert_labelled(svg, "acetonitrile, % v/v");
    assert_labelled(svg, "temperature, °C");
    /* The eutectic: -45.71 °C (Che et al., Huaxue Xuebao 54 (1996) 859). */
    const char *minus = description(svg);
    bool found = false;
    while (!found && (minus = strstr(minus, "\n\u221245.")) != NULL) {
        near(-strtod(minus + 4, NULL), -45.71, 0.5, "eutectic");
        found = strncmp(minus + 1 + strcspn(minus + 1, "\n") - 4, " °C", 4) == 0;
        minus++;
    }
    assert_true(found);
    free(svg);
}

static void same_input_same_bytes(void **state) {
    for (int kind = 0; kind < 2; kind++) {
        const char *mixture =
            kind == 0 ? "acetonitrile 30 %v/v, water" : "acetonitrile 30 %v/v, methanol 10 %v/v, water";
        char *a = draw(*state, mixture, 243.15, DF_FREEZING_PRACTICE);
        char *b = draw(*state, mixture, 243.15, DF_FREEZING_PRACTICE);
        assert_string_equal(a, b);
        free(a);
        free(b);
    }
}

static void hydrates_are_named(void **state) {
    char *svg = draw(*state, "tert-butanol 20 %w/w, water", NAN, DF_FREEZING_PRACTICE);
    assert_labelled(svg, "ice + tert-butanol·7H₂O");
    assert_labelled(svg, "tert-butanol·7H₂O + liquid");
    assert_labelled(svg, "tert-butanol, % w/w");
    free(svg);
    svg = draw(*state, "methanol 40 mol%, water", NAN, DF_FREEZING_EQUILIBRIUM);
    assert_labelled(svg, "ice + methanol·H₂O");
    assert_labelled(svg, "methanol crystal + liquid");
    free(svg);
    svg = draw(*state, "methanol 40 mol%, water", NAN, DF_FREEZING_PRACTICE);
    assert_null(strstr(description(svg), "\nice + methanol"));
    free(svg);
}

static void other_pairs_are_drawn(void **state) {
    static const char *const mixtures[] = {"ethanol 40 %w/w, water",  "thf 15 mol%, water",
                                           "dmso 40 %v/v, water",     "mtbe 30 %w/w, water",
                                           "glycerol 5 %w/w, water",  "dichloromethane 1 %w/w, water",
                                           "acetone 99.9 %w/w, water"};
    for (size_t i = 0; i < sizeof mixtures / sizeof mixtures[0]; i++) {
        char *svg = draw(*state, mixtures[i], NAN, DF_FREEZING_PRACTICE);
        assert_labelled(svg, "ice + liquid");
        free(svg);
    }
}

static void triangle_is_drawn(void **state) {
    char *svg = draw(*state, "acetonitrile 30 %v/v, methanol 10 %v/v, water", 243.15, DF_FREEZING_PRACTICE);
    assert_labelled(svg, "ice + two liquids");
    assert_labelled(svg, "two liquids");
    assert_labelled(svg, "ice + liquid");
    assert_labelled(svg, "this mixture");
    assert_labelled(svg, "at \u221230 °C; solids that form in practice");
    free(svg);
    /* More names than there is room for: numbers, and a key to them. */
    svg = draw(*state, "tert-butanol 30 %w/w, dmso 10 %w/w, water", 243.15, DF_FREEZING_PRACTICE);
    assert_labelled(svg, "1");
    assert_non_null(strstr(description(svg), "\n1  ice + tert-butanol·7H₂O + liquid;"));
    free(svg);
}

static void pressures_are_drawn(void **state) {
    const kit *k = *state;
    df_composition c = compose(k, "acetonitrile 30 %v/v, water");
    df_dryer dryer;
    df_text out = {0};
    assert_int_equal(df_dryer_builtin(k->ctx, &dryer, "bench-55"), DF_OK);
    assert_int_equal(df_report_pressure_figure(k->ctx, &out, NULL, k->pairs, &c, &dryer, DF_FREEZING_PRACTICE),
                     DF_OK);
    check_well_formed(out.data);
    check_numbers(out.data);
    assert_labelled(out.data, "this mixture");
    assert_labelled(out.data, "acetonitrile");
    assert_labelled(out.data, "trap, no load: \u221255 °C");
    assert_non_null(strstr(description(out.data), "\npump, ultimate: "));
    assert_non_null(strstr(description(out.data), "\ntrap, loaded: "));
    assert_non_null(strstr(description(out.data), "\nproduct, hottest: "));
    assert_non_null(strstr(description(out.data), "\nall solid \u221245."));
    df_text_free(&out);
    /* Every component, many of them, and a solute without vapour. */
    c = compose(k, "acetonitrile 20 %w/w, methanol 5 %w/w, dmso 5 %w/w, tfa 0.1 %w/w, sucrose 2 %w/w, water");
    assert_int_equal(df_report_pressure_figure(k->ctx, &out, NULL, k->pairs, &c, NULL, DF_FREEZING_PRACTICE), DF_OK);
    check_well_formed(out.data);
    check_numbers(out.data);
    assert_labelled(out.data, "trifluoroacetic acid");
    assert_null(strstr(description(out.data), "\nsucrose\n"));
    df_text_free(&out);
}

/* ---- numbers of figures --------------------------------------------------------------------------------------- */

static df_csv *numbers(const kit *k, const df_text *text) {
    df_csv *csv = NULL;
    if (df_csv_parse(k->ctx, &csv, text->data, text->length, "numbers") < 0)
        fail_msg("%s", df_context_message(k->ctx));
    return csv;
}

static const char *cell(const df_csv *csv, size_t row, const char *column) {
    if (df_csv_find(csv, column) < 0)
        fail_msg("no column '%s'", column);
    return df_csv_cell(csv, row, df_csv_find(csv, column));
}

/* NAN where the cell is empty. */
static double value(const df_csv *csv, size_t row, const char *column) {
    const char *text = cell(csv, row, column);
    return text[0] == '\0' ? (double)NAN : strtod(text, NULL);
}

static bool row_is(const df_csv *csv, size_t row, const char *kind, const char *name) {
    return strcmp(cell(csv, row, "kind"), kind) == 0 && (name == NULL || strcmp(cell(csv, row, "name"), name) == 0);
}

/* Whether what is there at a temperature is what a region's name says. */
static bool is_region(const kit *k, const df_mixture *m, const bool *allowed, double t, double x, const char *name,
                      size_t length) {
    const double z[2] = {x, 1.0 - x};
    df_assemblage a;
    char region[200];
    assert_true(length < sizeof region);
    memcpy(region, name, length);
    region[length] = '\0';
    assert_true(df_mixture_equilibrium(k->ctx, &a, m, t, z, allowed, false) >= 0);
    size_t liquids = strstr(region, "two liquids") != NULL ? 2 : strstr(region, "liquid") != NULL ? 1 : 0;
    bool ice = false, crystal = false;
    for (size_t s = 0; s < df_mixture_solids(m); s++)
        if (a.solid[s] > 0.0) {
            char solid[96];
            bool own = strstr(df_part_solid_name(solid, sizeof solid, m, s), "ice") != NULL;
            ice = ice || own;
            crystal = crystal || !own;
        }
    return a.liquids == liquids && ice == (strstr(region, "ice") != NULL) &&
           crystal == (strstr(region, "crystal") != NULL);
}

/* On both sides of each boundary a single equilibrium finds what its name says; its ends are melting points, its level lines the
 * eutectic and the monotectic. */
static void numbers_of_phases(void **state) {
    const kit *k = *state;
    const char *const x_name = "acetonitrile_percent_v_v";
    df_composition c = compose(k, "acetonitrile 30 %v/v, water");
    df_text text = {0}, svg = {0};
    assert_int_equal(df_report_phase_figure(k->ctx, &svg, &text, k->pairs, &c, NAN, DF_FREEZING_PRACTICE), DF_OK);
    char *alone = draw(k, "acetonitrile 30 %v/v, water", NAN, DF_FREEZING_PRACTICE);
    assert_string_equal(svg.data, alone);
    free(alone);
    df_csv *csv = numbers(k, &text);
    df_mixture *m = kit_binary(k, "acetonitrile");
    bool allowed[DF_MAX_SOLIDS];
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    double left = INFINITY, right = -INFINITY, at_left = NAN, at_right = NAN, liquidus, solidus, widest[2] = {0};
    double invariant[2] = {NAN, NAN};
    size_t checked = 0, points = 0;
    const double own[2] = {c.x[0], c.x[1]};
    double per_mole[2] = {df_basis_measure(c.component[0], c.basis), df_basis_measure(c.component[1], c.basis)};
    size_t solvent = c.component[0]->is_water ? 1 : 0;
    assert_int_equal(solvent, 0);
    assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, own, allowed, 150.0), DF_OK);
    for (size_t row = 0; row + 1 < df_csv_rows(csv); row++) { /* the two longest level lines */
        double width = row_is(csv, row, "level line", NULL) && row_is(csv, row + 1, "level line", NULL) &&
                               strcmp(cell(csv, row, "curve"), cell(csv, row + 1, "curve")) == 0
                           ? value(csv, row + 1, x_name) - value(csv, row, x_name)
                           : 0.0;
        int shorter = widest[0] < widest[1] ? 0 : 1;
        if (width > widest[shorter]) {
            widest[shorter] = width;
            invariant[shorter] = value(csv, row, "temperature_C") + DF_ZERO_CELSIUS;
        }
    }
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        double x = value(csv, row, x_name) / 100.0, t = value(csv, row, "temperature_C") + DF_ZERO_CELSIUS;
        const char *name = cell(csv, row, "name"), *bar = strstr(name, " | ");
        if (row_is(csv, row, "this mixture", NULL))
            near(x, 0.30, 1e-12, "own fraction");
        points += row_is(csv, row, "point", NULL) && cell(csv, row, "source")[0] != '\0';
        if (!row_is(csv, row, "boundary", NULL))
            continue;
        assert_non_null(bar);
        if (strcmp(name, "ice + liquid | liquid") == 0 && x < left) {
            left = x;
            at_left = t;
        }
        if (strcmp(name, "liquid | acetonitrile crystal + liquid") == 0 && x > right) {
            right = x;
            at_right = t;
        }
        if (row % 5 != 0 || x < 0.01 || x > 0.985)
            continue; /* too near to a pure component to look on both sides */
        double mole = x / per_mole[0] / (x / per_mole[0] + (1.0 - x) / per_mole[1]);
        bool between = true;
        for (int i = 0; i < 2; i++) /* within 0.05 K of a change of phases there is more beside it */
            between = between && !(fabs(t - invariant[i]) < 0.05);
        if (!between || fabs(t - solidus) < 0.05 || t > 272.5)
            continue;
        if (!is_region(k, m, allowed, t, mole - 1e-3, name, (size_t)(bar - name)) ||
            !is_region(k, m, allowed, t, mole + 1e-3, bar + 3, strlen(bar + 3)))
            fail_msg("%s at %.3f K, %.4f: other phases", name, t, x);
        checked++;
    }
    assert_true(checked > 30);
    assert_true(points > 10);
    /* Ice melts at 273.15 K (ITS-90: 273.16 K in vacuum), acetonitrile at 229.3 K (data/substances.csv). */
    near(left, 0.0, 1e-3, "the boundary of ice begins at water");
    near(at_left, 273.155, 0.006, "melting point of ice");
    near(right, 1.0, 1e-3, "the boundary of the crystal ends at acetonitrile");
    near(at_right, c.component[0]->melting_temperature, 0.01, "melting point");
    near(fmin(invariant[0], invariant[1]), solidus, 2e-3, "eutectic");
    near(fmin(invariant[0], invariant[1]), DF_ZERO_CELSIUS - 45.71, 0.5, "eutectic, Che et al. (1996)");
    df_csv_free(csv);
    df_text_free(&text);
    df_text_free(&svg);
    df_mixture_free(m);
}

/* Outlines come back to where they begin; the liquids of three phases are those that a single equilibrium finds inside. */
static void numbers_of_triangle(void **state) {
    const kit *k = *state;
    static const char *const column[3] = {"acetonitrile_percent_v_v", "methanol_percent_v_v", "water_percent_v_v"};
    df_composition c = compose(k, "acetonitrile 30 %v/v, methanol 10 %v/v, water");
    df_text text = {0};
    assert_int_equal(df_report_phase_figure(k->ctx, NULL, &text, k->pairs, &c, 243.15, DF_FREEZING_PRACTICE), DF_OK);
    df_csv *csv = numbers(k, &text);
    df_mixture *m = NULL;
    bool allowed[DF_MAX_SOLIDS];
    assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, c.component, 3), DF_OK);
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    size_t three = 0, first = 0, ties = 0;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        double sum = 0.0;
        for (int i = 0; i < 3; i++)
            sum += value(csv, row, column[i]);
        near(sum, 100.0, 1e-6, "row %zu", row);
        near(value(csv, row, "temperature_C"), -30.0, 1e-9, "row %zu", row);
        ties += row_is(csv, row, "tie line", NULL);
        if (row_is(csv, row, "this mixture", NULL)) {
            near(value(csv, row, column[0]), 30.0, 1e-9, "own");
            near(value(csv, row, column[1]), 10.0, 1e-9, "own");
        }
        if (!row_is(csv, row, "outline", NULL))
            continue;
        if (strcmp(cell(csv, row, "curve"), cell(csv, first, "curve")) != 0)
            first = row;
        bool ends = !row_is(csv, row + 1, "outline", NULL) ||
                    strcmp(cell(csv, row, "curve"), cell(csv, row + 1, "curve")) != 0;
        if (!ends)
            continue;
        for (int i = 0; i < 3; i++)
            near(value(csv, row, column[i]), value(csv, first, column[i]), 0.0, "outline %s",
                 cell(csv, row, "curve"));
        if (!row_is(csv, row, "outline", "ice + two liquids"))
            continue;
        double z[3], total = 0.0;
        df_assemblage a;
        three++;
        assert_int_equal(row - first, 3);
        for (int i = 0; i < 3; i++) {
            z[i] = 0.0;
            for (size_t corner = first; corner < row; corner++)
                z[i] += value(csv, corner, column[i]) / 3.0 / df_basis_measure(c.component[i], c.basis);
            total += z[i];
        }
        for (int i = 0; i < 3; i++)
            z[i] /= total;
        assert_int_equal(df_mixture_equilibrium(k->ctx, &a, m, 243.15, z, allowed, false), DF_OK);
        assert_int_equal(a.liquids, 2);
        for (size_t l = 0; l < 2; l++) {
            double share[3], all = 0.0, nearest = INFINITY;
            for (int i = 0; i < 3; i++)
                all += share[i] = a.liquid[l][i] * df_basis_measure(c.component[i], c.basis);
            for (size_t corner = first; corner < row; corner++) {
                double off = 0.0;
                for (int i = 0; i < 3; i++)
                    off = fmax(off, fabs(100.0 * share[i] / all - value(csv, corner, column[i])));
                nearest = fmin(nearest, off);
            }
            near(nearest, 0.0, 0.01, "liquid %zu of three phases, %% v/v", l);
        }
    }
    assert_int_equal(three, 1);
    assert_true(ties > 4 && ties % 2 == 0);
    df_csv_free(csv);
    df_text_free(&text);
    df_mixture_free(m);
}

static void numbers_of_pressures(void **state) {
    const kit *k = *state;
    df_composition c = compose(k, "acetonitrile 30 %v/v, water");
    df_dryer dryer;
    df_text text = {0};
    assert_int_equal(df_dryer_builtin(k->ctx, &dryer, "bench-55"), DF_OK);
    assert_int_equal(df_report_pressure_figure(k->ctx, NULL, &text, k->pairs, &c, &dryer, DF_FREEZING_PRACTICE),
                     DF_OK);
    df_csv *csv = numbers(k, &text);
    double melting[2] = {NAN, NAN}, ice = NAN;
    bool trap = false, pump = false, whole = false;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        double t = value(csv, row, "temperature_C"), p = value(csv, row, "pressure_mbar");
        if (row_is(csv, row, "melting point", "water")) {
            melting[0] = t;
            melting[1] = p;
        }
        /* IAPWS R14-08 (2011), table of check values: 8.947 352 740e-6 MPa at 230 K, -43.15 °C. */
        if (row_is(csv, row, "crystal", "water") && t <= -43.15) {
            double next = value(csv, row + 1, "temperature_C"), q = value(csv, row + 1, "pressure_mbar");
            ice = exp(log(p) + (-43.15 - t) / (next - t) * log(q / p));
        }
        if (row_is(csv, row, "trap", "no load")) {
            near(t, -55.0, 1e-9, "trap");
            trap = cell(csv, row, "pressure_mbar")[0] == '\0';
        }
        if (row_is(csv, row, "pump", "ultimate")) {
            near(p, dryer.pump.ultimate / 100.0, 1e-9, "pump");
            pump = cell(csv, row, "temperature_C")[0] == '\0';
        }
        if (row_is(csv, row, "this mixture", NULL) && fabs(t + 60.0) < 1e-9) { /* both crystals: the sum of theirs */
            double sum = 0.0;
            for (size_t i = 0; i < 2; i++)
                sum += df_solid_pressure(c.component[i], DF_ZERO_CELSIUS - 60.0);
            near(p, sum / 100.0, 1e-6 * p, "over both crystals");
            whole = true;
        }
    }
    near(melting[0], 0.01, 1e-6, "triple point of water");
    near(melting[1], 6.11657, 1e-4, "its pressure, IAPWS");
    near(ice, 0.08947352740, 5e-6, "ice at 230 K");
    assert_true(trap && pump && whole);
    df_csv_free(csv);
    df_text_free(&text);
}

static void figures_refuse(void **state) {
    const kit *k = *state;
    df_text out = {0};
    df_composition c = compose(k, "acetonitrile 30 %v/v, methanol 10 %v/v, water");
    assert_int_equal(df_report_phase_figure(k->ctx, &out, NULL, k->pairs, &c, NAN, DF_FREEZING_PRACTICE), DF_E_INPUT);
    assert_non_null(strstr(df_context_message(k->ctx), "--temperature"));
    c = compose(k, "water");
    assert_int_equal(df_report_phase_figure(k->ctx, &out, NULL, k->pairs, &c, NAN, DF_FREEZING_PRACTICE), DF_E_INPUT);
    assert_non_null(strstr(df_context_message(k->ctx), "two or three components"));
    c = compose(k, "acetonitrile 30 %v/v, methanol 10 %v/v, dmso 1 %v/v, water");
    assert_int_equal(df_report_phase_figure(k->ctx, &out, NULL, k->pairs, &c, 243.15, DF_FREEZING_PRACTICE),
                     DF_E_INPUT);
    assert_int_equal(out.length, 0);
    df_text_free(&out);
}

/* ---- through the program -------------------------------------------------------------------------------------- */

/* Runs the program in a shell; its exit status, and what it said on stderr (or stdout). */
static int run(char *said, size_t size, const char *arguments) {
    char command[1024];
    snprintf(command, sizeof command, "\"%s\" %s 2>&1 >/dev/null", getenv("DRYFRONT_PROGRAM"), arguments);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    size_t got = fread(said, 1, size - 1, pipe);
    said[got] = '\0';
    int status = pclose(pipe);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static void assert_one_sentence(const char *said, const char *part) {
    const char *newline = strchr(said, '\n');
    if (strncmp(said, "dryfront: ", 10) != 0 || newline == NULL || newline[1] != '\0' || strstr(said, part) == NULL)
        fail_msg("not one sentence with '%s': %s", part, said);
}

static size_t files_in(const char *folder) {
    DIR *d = opendir(folder);
    assert_non_null(d);
    size_t n = 0;
    for (struct dirent *e; (e = readdir(d)) != NULL;)
        n += e->d_name[0] != '.';
    closedir(d);
    return n;
}

static void program_writes_figures(void **state) {
    (void)state;
    char folder[] = "/tmp/dryfront_figure_XXXXXX", said[2048], line[700], path[64], first[64] = "";
    if (getenv("DRYFRONT_PROGRAM") == NULL)
        skip();
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/a.svg", folder);
    snprintf(line, sizeof line, "phases \"ethanol 40 %%w/w, water\" --figure %s", path);
    assert_int_equal(run(said, sizeof said, line), 0);
    assert_string_equal(said, "");
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    assert_non_null(fgets(first, sizeof first, file));
    fclose(file);
    assert_non_null(strstr(first, "<?xml"));
    assert_int_equal(run(said, sizeof said, line), 0); /* over the old one */
    assert_int_equal(files_in(folder), 1);             /* and nothing beside it */

    static const struct {
        const char *arguments, *says;
    } bad[] = {
        {"phases \"ethanol 40 %%w/w, water\" --figure %s/none/b.svg", "there is no such folder"},
        {"phases \"ethanol 40 %%w/w, water\" --figure %s/a.svg/b.svg", "no folder"},
        {"phases \"ethanol 40 %%w/w, water\" --figure %s/b.png", "does not end in .svg"},
        {"phases \"ethanol 40 %%w/w, water\" --figure \"%s/\"", "does not end in .svg"},
        {"phases \"ethanol 40 %%w/w, water\" --figure %s/b.svg --figure-kind pie", "phases or pressure"},
        {"phases \"ethanol 40 %%w/w, water\" --figure %s/b.svg --dryer bench-55", "--figure-kind pressure"},
        {"phases \"ethanol 40 %%w/w, water\" --figure %s/b.svg --figure-kind pressure --dryer bench-56", "bench-55"},
        {"phases \"ethanol 40 %%w/w, dmso 2 %%w/w, water\" --figure %s/b.svg", "--temperature"},
        {"phases \"ethanol 40 %%w/w, dmso 2 %%w/w, water\" --figure %s/b.svg --temperature \"-30 °C\" --temperature "
         "\"-20 °C\"",
         "--temperature once"},
        {"phases \"water\" --figure %s/b.svg", "two or three components"},
        {"phases \"ethanol 40 %%w/w, water\" --dryer bench-55", "--figure FILE.svg"},
        {"phases \"ethanol 40 %%w/w, water\" --csv %s/b.txt", "does not end in .csv"},
        {"phases \"water\" --csv %s/b.csv", "two or three components"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char *mark;
        snprintf(line, sizeof line, "%s", bad[i].arguments);
        while ((mark = strstr(line, "%%")) != NULL)
            memmove(mark, mark + 1, strlen(mark));
        mark = strstr(line, "%s");
        if (mark != NULL) {
            char rest[300];
            snprintf(rest, sizeof rest, "%s", mark + 2);
            snprintf(mark, sizeof line - (size_t)(mark - line), "%s%s", folder, rest);
        }
        if (run(said, sizeof said, line) != 2)
            fail_msg("%s: exit status is not 2: %s", line, said);
        assert_one_sentence(said, bad[i].says);
    }
    /* A folder that stands in the file's way, and one that may not be written into (root may write everywhere). */
    snprintf(path, sizeof path, "%s/c.svg", folder);
    assert_int_equal(mkdir(path, 0700), 0);
    snprintf(line, sizeof line, "phases \"ethanol 40 %%w/w, water\" --figure %s", path);
    assert_int_equal(run(said, sizeof said, line), 2);
    assert_one_sentence(said, "this is a folder");
    if (geteuid() != 0) {
        assert_int_equal(chmod(path, 0500), 0);
        snprintf(line, sizeof line, "phases \"ethanol 40 %%w/w, water\" --figure %s/d.svg", path);
        assert_int_equal(run(said, sizeof said, line), 2);
        assert_one_sentence(said, "permissions");
    }
    assert_int_equal(run(said, sizeof said, "phases \"ethanol 40 %w/w, water\" --figure /proc/dryfront.svg"), 2);
    assert_one_sentence(said, "/proc/dryfront.svg");
    assert_int_equal(files_in(folder), 2);
    rmdir(path);
    snprintf(path, sizeof path, "%s/a.svg", folder);
    unlink(path);
    rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sections_agree_with_equilibria),
        cmocka_unit_test(eutectic_is_the_solidus),
        cmocka_unit_test(grid_agrees_with_equilibria),
        cmocka_unit_test(ternaries_agree_with_equilibria),
        cmocka_unit_test(maps_refuse),
        cmocka_unit_test(acetonitrile_is_drawn),
        cmocka_unit_test(same_input_same_bytes),
        cmocka_unit_test(hydrates_are_named),
        cmocka_unit_test(other_pairs_are_drawn),
        cmocka_unit_test(triangle_is_drawn),
        cmocka_unit_test(pressures_are_drawn),
        cmocka_unit_test(numbers_of_phases),
        cmocka_unit_test(numbers_of_triangle),
        cmocka_unit_test(numbers_of_pressures),
        cmocka_unit_test(figures_refuse),
        cmocka_unit_test(program_writes_figures),
    };
    return cmocka_run_group_tests_name("figure", tests, kit_open, kit_close);
}
