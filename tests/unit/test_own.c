/* The user's own containers and solutes: read, found beside the built-in ones, and refused with line and field. */
#include "../kit.h"
#include "dryfront/advice.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static char *replaced(const char *text, const char *old, const char *new) {
    const char *at = strstr(text, old);
    assert_non_null(at);
    char *out = malloc(strlen(text) + strlen(new) + 1);
    assert_non_null(out);
    sprintf(out, "%.*s%s%s", (int)(at - text), text, new, at + strlen(old));
    return out;
}

typedef struct wrong {
    const char *old, *new, *field, *says;
} wrong;

static const char vessel[] = "key: reef_40\n"
                             "name: jar of the reef station\n"
                             "kind: vial\n"
                             "inner_diameter: 30 mm\n"
                             "outer_diameter: 33 mm\n"
                             "wall: 1.5 mm\n"
                             "brim_volume: 40 mL\n"
                             "port_diameter: 14 mm\n"
                             "glass_mass: 30 g\n"
                             "source: measured with a calliper\n";

static void containers(void **state) {
    df_context *ctx = ((kit *)*state)->ctx;
    df_containers *set = NULL, *more = NULL;
    df_container c;
    assert_int_equal(df_containers_create(ctx, &set), DF_OK);
    size_t builtin = df_containers_count(set);
    assert_int_equal(df_containers_copy(ctx, &more, set), DF_OK);
    assert_int_equal(df_containers_extend(ctx, more, vessel, strlen(vessel), "reef.yaml"), DF_OK);
    assert_int_equal(df_containers_count(more), builtin + 1);
    assert_int_equal(df_containers_count(set), builtin); /* the copy is its own */
    assert_int_equal(df_container_find(ctx, &c, set, "reef_40", NULL), DF_E_UNKNOWN_NAME);
    assert_int_equal(df_container_find(ctx, &c, NULL, "reef_40", NULL), DF_E_UNKNOWN_NAME);
    assert_int_equal(df_container_find(ctx, &c, more, "Jar of the reef station", NULL), DF_OK);
    assert_string_equal(c.key, "reef_40");
    assert_string_equal(c.source, "measured with a calliper");
    assert_true(c.own && c.kind == DF_VIAL);
    assert_near(c.inner_diameter, 0.030, 1e-12);
    assert_near(c.outer_diameter, 0.033, 1e-12);
    assert_near(c.wall, 0.0015, 1e-12);
    assert_near(c.brim_volume, 40e-6, 1e-12);
    assert_near(c.port_diameter, 0.014, 1e-12);
    assert_near(c.glass_mass, 0.030, 1e-12);
    assert_int_equal(df_container_find(ctx, &c, more, "vial_10R", NULL), DF_OK);
    assert_false(c.own);
    /* A list, defaults: a flask's brim is its sphere, pi/6 d3. */
    static const char two[] =
        "containers:\n"
        "  - {key: ball, kind: flask, inner_diameter: 60 mm, wall: 2 mm, port_diameter: 20 mm, glass_mass: 50 g}\n"
        "  - {key: pan, kind: tray, inner_diameter: 200 mm, wall: 1 mm, brim_volume: 500 mL, glass_mass: 1 kg}\n";
    assert_int_equal(df_containers_extend(ctx, more, two, strlen(two), "two.yaml"), DF_OK);
    assert_int_equal(df_container_find(ctx, &c, more, "ball", NULL), DF_OK);
    assert_near(c.brim_volume, M_PI / 6.0 * 0.06 * 0.06 * 0.06, 1e-12);
    assert_near(c.outer_diameter, 0.064, 1e-12);
    assert_string_equal(c.source, "stated by the user");
    assert_int_equal(df_container_find(ctx, &c, more, "pan", NULL), DF_OK);
    assert_near(c.port_diameter, 0.2, 1e-12);
    static const wrong rows[] = {
        {"key: reef_40", "key: vial_10R", "key", "built-in"},
        {"key: reef_40", "key: VIAL 10r", "key", "letters"},
        {"name: jar of the reef station", "name: injection vial 10R", "name", "built-in"},
        {"key: reef_40\n", "", "key", "key"},
        {"kind: vial", "kind: jar", "kind", "vial, flask, tube or tray"},
        {"inner_diameter: 30 mm", "inner_diameter: 30", "inner_diameter", "unit"},
        {"inner_diameter: 30 mm", "inner_diameter: 3 m", "inner_diameter", "between"},
        {"outer_diameter: 33 mm", "outer_diameter: 40 mm", "outer_diameter", "33 mm"},
        {"port_diameter: 14 mm", "port_diameter: 31 mm", "port_diameter", "wider"},
        {"port_diameter: 14 mm\n", "", "port_diameter", "missing"},
        {"kind: vial", "kind: flask", "brim_volume", "sphere"},
        {"brim_volume: 40 mL", "brim_volume: 10 L", "brim_volume", "high"},
        {"wall:", "walls:", "walls", "wall"},
        {"wall: 1.5 mm", "wall: thin", "wall", "length"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        df_containers *tried = NULL;
        char *text = replaced(vessel, rows[i].old, rows[i].new);
        assert_int_equal(df_containers_copy(ctx, &tried, set), DF_OK);
        if (df_containers_extend(ctx, tried, text, strlen(text), "reef.yaml") != DF_E_INPUT)
            fail_msg("taken: %s", rows[i].new);
        df_fault fault = df_context_fault(ctx);
        if (strcmp(fault.field, rows[i].field) != 0 || fault.line == 0 || strcmp(fault.file, "reef.yaml") != 0)
            fail_msg("line %zu field '%s' for '%s'", fault.line, fault.field, rows[i].new);
        assert_says(ctx, rows[i].says);
        assert_int_equal(df_containers_count(tried), builtin);
        df_containers_free(tried);
        free(text);
    }
    /* All of a file or nothing. */
    static const char half[] =
        "containers:\n"
        "  - {key: pan_2, kind: tray, inner_diameter: 200 mm, wall: 1 mm, brim_volume: 500 mL, glass_mass: 1 kg}\n"
        "  - {key: pan_2, kind: tray, inner_diameter: 200 mm, wall: 1 mm, brim_volume: 500 mL, glass_mass: 1 kg}\n";
    size_t before = df_containers_count(more);
    assert_int_equal(df_containers_extend(ctx, more, half, strlen(half), "half.yaml"), DF_E_INPUT);
    assert_says(ctx, "half.yaml:3: containers[1].key");
    assert_int_equal(df_containers_count(more), before);
    /* What is left out is told when it is asked for. */
    assert_int_equal(df_containers_leave_out(ctx, more, "reef_41", "reef.yaml:3: kind: wrong"), DF_OK);
    assert_int_equal(df_container_find(ctx, &c, more, "REEF 41", "job.yaml:9: containers[0].type"),
                     DF_E_UNKNOWN_NAME);
    assert_says(ctx, "job.yaml:9: containers[0].type: the container 'REEF 41' is left out, its file is unsound: "
                     "reef.yaml:3: kind: wrong");
    assert_string_equal(df_context_fault(ctx).field, "containers[0].type");
    df_containers_free(more);
    df_containers_free(set);
}

static const char sugar[] = "key: kelp_sugar\n"
                            "molar_mass_g_mol: 342.2965\n"
                            "beside_organics: sugar\n"
                            "density: 1580 g/L\n"
                            "heat_capacity_J_gK: 1.25\n"
                            "glass_temperature: 335 K\n"
                            "gordon_taylor_k: 5\n"
                            "anchor_kind: glass\n"
                            "anchor_temperature: 241.15 K\n"
                            "critical_kind: Tg'\n"
                            "source: the figures of sucrose under another name\n";

/* A solute of one's own with a built-in one's figures is that one. */
static void solutes(void **state) {
    kit *k = *state;
    df_substances *set = NULL;
    df_solute mine, known;
    assert_int_equal(df_substances_copy(k->ctx, &set, k->substances), DF_OK);
    assert_int_equal(df_solutes_extend(k->ctx, set, sugar, strlen(sugar), "kelp.yaml"), DF_OK);
    assert_int_equal(df_solute_find(k->ctx, &mine, set, "kelp sugar", NULL), DF_OK);
    assert_int_equal(df_solute_find(k->ctx, &known, set, "sucrose", NULL), DF_OK);
    assert_int_equal(df_solute_find(k->ctx, &mine, k->substances, "kelp sugar", NULL), DF_E_UNKNOWN_NAME);
    assert_int_equal(df_solute_find(k->ctx, &mine, set, "kelp sugar", NULL), DF_OK);
    assert_true(mine.own && mine.known && !known.own);
    assert_string_equal(mine.grade, "estimated");
    assert_near(mine.critical_temperature, known.critical_temperature, 1e-12);
    assert_near(mine.density, known.density, 1e-12);
    assert_near(mine.substance.molar_mass, known.substance.molar_mass, 1e-12);
    assert_near(df_solid_heat_capacity(&mine.substance, 250.0), df_solid_heat_capacity(&known.substance, 250.0),
                1e-12);
    const df_substance *water = kit_substance(k, "water");
    double x[2];
    assert_near(df_involatile_margules(&x[0], &mine.substance, water),
                df_involatile_margules(&x[1], &known.substance, water), 1e-12);
    assert_near(x[0], x[1], 1e-12);
    static const wrong rows[] = {
        {"key: kelp_sugar", "key: sucrose", "key", "built-in"},
        {"key: kelp_sugar", "key: water", "key", "built-in"},
        {"key: kelp_sugar", "key: kelp_sugar\naliases: KS;saccharose", "aliases", "sucrose"},
        {"key: kelp_sugar", "key: kelp_sugar\nname: acetonitrile", "name", "built-in"},
        {"molar_mass_g_mol: 342.2965\n", "", "molar_mass_g_mol", "missing"},
        {"molar_mass_g_mol: 342.2965", "molar_mass_g_mol: 342 g", "molar_mass_g_mol", "plain number"},
        {"density: 1580 g/L", "density: 15 g/L", "density", "between"},
        {"glass_temperature: 335 K\n", "", "glass_temperature", "missing"},
        {"glass_temperature: 335 K", "glass_temperature: 240 K", "anchor_temperature", "below the dry one"},
        {"anchor_kind: glass", "anchor_kind: eutectic", "fusion_enthalpy_J_mol", "missing"},
        {"anchor_temperature: 241.15 K", "anchor_temperature: 241.15 K\nanchor_w: 2 %", "anchor_temperature",
         "anchor_w"},
        {"critical_kind: Tg'", "critical_kind: Tgg", "critical_kind", "collapse"},
        {"beside_organics: sugar", "beside_organics: sweet", "beside_organics", "salt"},
    };
    size_t count = df_substances_count(k->substances);
    for (size_t i = 0; i < COUNT(rows); i++) {
        df_substances *tried = NULL;
        char *text = replaced(sugar, rows[i].old, rows[i].new);
        assert_int_equal(df_substances_copy(k->ctx, &tried, k->substances), DF_OK);
        if (df_solutes_extend(k->ctx, tried, text, strlen(text), "kelp.yaml") != DF_E_INPUT)
            fail_msg("taken: %s", rows[i].new);
        df_fault fault = df_context_fault(k->ctx);
        if (strcmp(fault.field, rows[i].field) != 0 || fault.line == 0)
            fail_msg("line %zu field '%s' for '%s': %s", fault.line, fault.field, rows[i].new,
                     df_context_message(k->ctx));
        assert_says(k->ctx, rows[i].says);
        assert_int_equal(df_substances_count(tried), count);
        df_substances_free(tried);
        free(text);
    }
    assert_int_equal(df_substances_leave_out(k->ctx, set, "kelp_salt", "kelp.yaml:2: wrong"), DF_OK);
    assert_int_equal(df_solute_find(k->ctx, &mine, set, "kelp salt", NULL), DF_E_UNKNOWN_NAME);
    assert_says(k->ctx, "the solute 'kelp salt' is left out, its file is unsound: kelp.yaml:2: wrong");
    assert_int_equal(df_substances_find(k->ctx, &water, set, "kelp_salt", "x"), DF_E_UNKNOWN_NAME);
    assert_says(k->ctx, "x: 'kelp_salt' is left out");
    df_substances_free(set);
}

/* Every built-in solute keeps the rule that is asked of one's own. */
static void builtin_anchors(void **state) {
    kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    size_t met = 0;
    for (size_t i = 0; i < df_substances_count(k->substances); i++) {
        const df_substance *s = df_substances_at(k->substances, i);
        double x;
        if (!s->is_involatile)
            continue;
        double a = df_involatile_margules(&x, s, water);
        if (!(a >= -15.0 && a <= 2.0))
            fail_msg("%s: Margules term %.3g", s->key, a);
        met++;
    }
    assert_true(met >= 19);
}

static void jobs(void **state) {
    kit *k = *state;
    static const char text[] = "job: a\npurpose: archive\ndryer: bench-55\n"
                               "sample: {composition: 'acetonitrile 5 %v/v, water', solutes: [{name: kelp_sugar, "
                               "concentration: 20 g/L}]}\n"
                               "containers:\n  - {type: reef_40, count: 20, fill: 3 mL, place: shelf}\n"
                               "freezing: {means: freezer}\n"
                               "recipe: [{time: 0 h, shelf_temperature: -40 °C}]\n";
    df_containers *containers = NULL;
    df_substances *set = NULL;
    df_job *job = malloc(sizeof *job);
    assert_int_equal(df_containers_create(k->ctx, &containers), DF_OK);
    assert_int_equal(df_substances_copy(k->ctx, &set, k->substances), DF_OK);
    assert_int_equal(df_containers_extend(k->ctx, containers, vessel, strlen(vessel), "reef.yaml"), DF_OK);
    assert_int_equal(df_job_parse(k->ctx, job, set, containers, text, strlen(text), "a.yaml"), DF_E_UNKNOWN_NAME);
    assert_string_equal(df_context_fault(k->ctx).field, "sample.solutes[0].name");
    assert_int_equal(df_solutes_extend(k->ctx, set, sugar, strlen(sugar), "kelp.yaml"), DF_OK);
    assert_int_equal(df_job_parse(k->ctx, job, set, containers, text, strlen(text), "a.yaml"), DF_OK);
    assert_true(job->group[0].container.own && job->solute[0].own && job->containers == containers);
    assert_int_equal(df_job_parse(k->ctx, job, set, NULL, text, strlen(text), "a.yaml"), DF_E_UNKNOWN_NAME);
    assert_string_equal(df_context_fault(k->ctx).field, "containers[0].type");
    free(job);
    df_containers_free(containers);
    df_substances_free(set);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(containers), cmocka_unit_test(solutes),
                                       cmocka_unit_test(builtin_anchors), cmocka_unit_test(jobs)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
