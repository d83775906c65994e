/* Maps of phases against single equilibria, and the figures drawn from them. */
#include "kit.h"

#include <ctype.h>
#include <dirent.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "dryfront/report.h"

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
    if (df_report_phase_figure(k->ctx, &out, k->pairs, &c, temperature, mode) < 0)
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
    assert_int_equal(df_report_pressure_figure(k->ctx, &out, k->pairs, &c, &dryer, DF_FREEZING_PRACTICE), DF_OK);
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
    assert_int_equal(df_report_pressure_figure(k->ctx, &out, k->pairs, &c, NULL, DF_FREEZING_PRACTICE), DF_OK);
    check_well_formed(out.data);
    check_numbers(out.data);
    assert_labelled(out.data, "trifluoroacetic acid");
    assert_null(strstr(description(out.data), "\nsucrose\n"));
    df_text_free(&out);
}

static void figures_refuse(void **state) {
    const kit *k = *state;
    df_text out = {0};
    df_composition c = compose(k, "acetonitrile 30 %v/v, methanol 10 %v/v, water");
    assert_int_equal(df_report_phase_figure(k->ctx, &out, k->pairs, &c, NAN, DF_FREEZING_PRACTICE), DF_E_INPUT);
    assert_non_null(strstr(df_context_message(k->ctx), "--temperature"));
    c = compose(k, "water");
    assert_int_equal(df_report_phase_figure(k->ctx, &out, k->pairs, &c, NAN, DF_FREEZING_PRACTICE), DF_E_INPUT);
    assert_non_null(strstr(df_context_message(k->ctx), "two or three components"));
    c = compose(k, "acetonitrile 30 %v/v, methanol 10 %v/v, dmso 1 %v/v, water");
    assert_int_equal(df_report_phase_figure(k->ctx, &out, k->pairs, &c, 243.15, DF_FREEZING_PRACTICE), DF_E_INPUT);
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
        cmocka_unit_test(figures_refuse),
        cmocka_unit_test(program_writes_figures),
    };
    return cmocka_run_group_tests_name("figure", tests, kit_open, kit_close);
}
