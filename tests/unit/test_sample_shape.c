/* Containers, solutes, shapes and the means of freezing. */
#include "context.h"
#include "dryfront/sample.h"

#define LAST (DF_SHAPE_POINTS - 1)

static df_container flask(double inner_diameter) {
    df_container c = {"round", "a round flask", DF_FLASK, inner_diameter, inner_diameter + 4e-3, 0, 2e-3, 0.2,
                      0.02,    false,           ""};
    c.brim_volume = M_PI / 6.0 * pow(inner_diameter, 3.0);
    return c;
}

/* What must hold in every shape: ends, order, and front area times depth making up the volume. */
static void check_identities(const df_shape *s) {
    assert_near(s->depth[0], s->thickness, 1e-9);
    assert_true(fabs(s->depth[LAST]) < 1e-12);
    assert_true(s->path[0] >= 0.0 && s->path[0] < 1e-12);
    assert_near(s->contact[LAST], s->heated_area, 1e-9);
    assert_near(s->area[LAST], s->free_area, 1e-9);
    double volume = 0.0;
    for (size_t k = LAST; k-- > 0;) {
        double down = s->depth[k] - s->depth[k + 1], a0 = s->area[k], a1 = s->area[k + 1];
        assert_true(down > 0.0);
        assert_true(s->path[k] < s->path[k + 1]);
        assert_true(s->contact[k] <= s->contact[k + 1] * (1.0 + 1e-12));
        volume += 0.5 * (a0 + a1) * down;
        double gone = 1.0 - (double)k / LAST;
        if (fabs(volume - gone * s->volume) > 1e-3 * s->volume)
            fail_msg("volume %.6g above the front, expected %.6g", volume, gone * s->volume);
    }
}

static void test_every_container(void **state) {
    df_containers *all = NULL;
    assert_int_equal(df_containers_create(*state, &all), DF_OK);
    assert_true(df_containers_count(all) >= 10);
    for (size_t i = 0; i < df_containers_count(all); i++) {
        df_container c;
        assert_int_equal(df_container_find(*state, &c, all, df_containers_at(all, i)->key, NULL), DF_OK);
        assert_string_equal(c.key, df_containers_at(all, i)->key);
        assert_true(c.outer_diameter > c.inner_diameter && c.wall < 0.01 && c.glass_mass < 5.0);
        assert_true(c.brim_volume > 1e-6 && c.brim_volume < 0.02);
        for (int lie = 0; lie <= (c.kind == DF_FLASK); lie++)
            for (double part = 0.02; part < 0.7; part += 0.11) {
                df_shape s;
                assert_int_equal(df_shape_make(*state, &s, &c, part * 0.95 * c.brim_volume, (df_lie)lie, NULL),
                                 DF_OK);
                assert_int_equal(s.lie, lie);
                assert_int_equal(s.kind, c.kind);
                check_identities(&s);
            }
    }
    df_containers_free(all);
}

static void test_container_values(void **state) {
    df_container c;
    assert_int_equal(df_container_find(*state, &c, NULL, "Flask 500", NULL),
                     DF_OK); /* case and space do not matter */
    assert_string_equal(c.key, "flask_500");
    assert_int_equal(c.kind, DF_FLASK);
    assert_near(c.brim_volume, 650e-6, 1e-9);
    assert_near(c.inner_diameter, 0.1075, 1e-9);
    assert_near(c.wall, 1.8e-3, 1e-9);
    assert_near(c.glass_mass, 0.151, 1e-9);
    assert_near(c.port_diameter, 0.025, 1e-9);
    assert_int_equal(df_container_find(*state, &c, NULL, "flask_50O", "job.yaml:3: containers[0].type"),
                     DF_E_UNKNOWN_NAME);
    assert_says(*state, "job.yaml:3: containers[0].type: no container is called 'flask_50O'; did you mean flask_50");
    assert_int_equal(df_container_find(*state, &c, NULL, "bathtub-for-elephants", NULL), DF_E_UNKNOWN_NAME);
    assert_says(*state, "no container is called 'bathtub-for-elephants'");
}

static void test_solutes(void **state) {
    df_solute s;
    df_substances *set = NULL;
    assert_int_equal(df_substances_create(*state, &set), DF_OK);
    assert_int_equal(df_solute_find(*state, &s, set, "sucrose", NULL), DF_OK);
    assert_near(s.critical_temperature, 241.15, 1e-6);
    assert_string_equal(s.critical_kind, "Tg'");
    assert_true(s.concentration == 0.0);
    assert_true(s.density > 1500.0 && s.density < 1650.0);
    /* Its source is longer than the field: what is from memory still says so. */
    assert_int_equal(df_solute_find(*state, &s, set, "trehalose", NULL), DF_OK);
    assert_non_null(strstr(s.source, "from memory"));
    assert_int_equal(df_solute_find(*state, &s, set, "sucrosse", "job.yaml:9: solutes[0].name"), DF_E_UNKNOWN_NAME);
    assert_says(*state, "job.yaml:9: solutes[0].name: no solute is called 'sucrosse'; did you mean sucrose?");
    /* By an alias; a critical temperature that is stated moves the glass along, where one can lie there. */
    assert_int_equal(df_solute_find(*state, &s, set, "saccharose", NULL), DF_OK);
    df_solute_state_critical(&s, 245.0);
    assert_true(s.known && s.substance.involatile.anchor_temperature == 245.0 && s.critical_temperature == 245.0);
    df_solute_state_critical(&s, 290.0);
    assert_true(!s.known && s.critical_temperature == 290.0);
    assert_int_equal(df_solute_find(*state, &s, set, "NaCl", NULL), DF_OK);
    df_solute_state_critical(&s, 240.0); /* a eutectic stays where it is */
    assert_true(s.known && s.substance.involatile.anchor_temperature == 252.05);
    df_substances_free(set);
}

static void test_segment_of_sphere(void **state) {
    df_container c = flask(0.2);
    df_shape s;
    double sphere = 4.0 / 3.0 * M_PI * 1e-3;
    assert_int_equal(df_shape_make(*state, &s, &c, sphere / 2.0, DF_LIE_REST, NULL), DF_OK);
    assert_near(s.thickness, 0.1, 1e-12);
    assert_near(s.heated_area, 2.0 * M_PI * 0.01, 1e-12);
    assert_near(s.free_area, M_PI * 0.01, 1e-12);
    /* Half the hemisphere left: for radius 1, z^2 (3 - z) = 1, so z = 1 - 2 sin(pi/18). */
    assert_near(s.depth[LAST / 2], 0.1 * 2.0 * sin(M_PI / 18.0), 1e-12);
    assert_near(s.contact[LAST / 2], 2.0 * M_PI * 0.01 * (1.0 - 2.0 * sin(M_PI / 18.0)), 1e-12);
    assert_near(s.path[LAST / 2], s.volume / 2.0 / s.contact[LAST / 2], 1e-12);
    /* A thin cap is a paraboloid: V = pi R z^2. */
    assert_int_equal(df_shape_make(*state, &s, &c, 1e-12, DF_LIE_REST, NULL), DF_OK);
    assert_near(s.thickness, sqrt(1e-12 / (M_PI * 0.1)), 1e-4);
    /* Almost full. */
    assert_int_equal(df_shape_make(*state, &s, &c, sphere * (1.0 - 1e-9), DF_LIE_REST, NULL), DF_OK);
    assert_near(s.thickness, 0.2, 1e-4);
    assert_near(s.heated_area, 4.0 * M_PI * 0.01, 1e-4);
}

static void test_shell(void **state) {
    df_container c = flask(0.2);
    df_shape s;
    double volume = 0.7 * 4.0 / 3.0 * M_PI * (1e-3 - 0.729e-3); /* a film of 10 mm */
    assert_int_equal(df_shape_make(*state, &s, &c, volume, DF_LIE_SHELL, NULL), DF_OK);
    assert_near(s.thickness, 0.01, 1e-9);
    assert_near(s.heated_area, 0.7 * 4.0 * M_PI * 0.01, 1e-12);
    assert_near(s.free_area, 0.7 * 4.0 * M_PI * 0.0081, 1e-9);
    assert_near(s.contact[0], s.heated_area, 1e-12); /* the film lies on the same glass until it is gone */
    assert_near(s.path[LAST / 2] + s.depth[LAST / 2], 0.01, 1e-9);
    assert_true(s.area[0] > s.area[LAST]); /* the front recedes outwards and grows */
    check_identities(&s);
}

static void test_slab(void **state) {
    df_container c = flask(0.02);
    c.kind = DF_VIAL;
    df_shape s;
    assert_int_equal(df_shape_make(*state, &s, &c, 3e-6, DF_LIE_REST, NULL), DF_OK);
    assert_near(s.thickness, 3e-6 / (M_PI * 1e-4), 1e-12);
    assert_near(s.path[LAST / 4], s.thickness / 4.0, 1e-12);
    assert_near(s.contact[LAST / 4], M_PI * 1e-4, 1e-12);
}

/* A turned tube: V = pi (R2 - r2) H; the front's area grows with its radius, and the volume left is its integral. */
static void test_hollow_cylinder(void **state) {
    df_container c;
    df_shape s;
    assert_int_equal(df_container_find(*state, &c, NULL, "tube_50", NULL), DF_OK);
    double volume = 10e-6, radius = c.inner_diameter / 2.0, length = 0.9 * c.brim_volume / (M_PI * radius * radius);
    assert_int_equal(df_shape_make(*state, &s, &c, volume, DF_LIE_SHELL, NULL), DF_OK);
    double inner = radius - s.thickness;
    assert_near(M_PI * (radius * radius - inner * inner) * length / volume, 1.0, 1e-12);
    assert_near(s.free_area, 2.0 * M_PI * inner * length, 1e-12);
    assert_near(s.contact[1], 2.0 * M_PI * radius * length, 1e-12);
    double left = 0.0; /* integral of area over depth, from the wall inwards */
    for (size_t k = 1; k <= LAST; k++) {
        left += 0.5 * (s.area[k] + s.area[k - 1]) * (s.depth[k - 1] - s.depth[k]);
        assert_near(left / volume, (double)k / LAST, 1e-9);
        assert_near(s.path[k] + s.depth[k], s.thickness, 1e-12);
    }
    assert_int_equal(df_shape_make(*state, &s, &c, 55e-6, DF_LIE_SHELL, NULL), DF_E_INPUT);
}

static void test_refusals(void **state) {
    df_container c;
    df_shape s;
    const char *where = "job.yaml:12: containers[0].fill";
    assert_int_equal(df_container_find(*state, &c, NULL, "flask_500", NULL), DF_OK);
    assert_int_equal(df_shape_make(*state, &s, &c, 700e-6, DF_LIE_REST, where), DF_E_INPUT);
    assert_string_equal(df_context_message(*state),
                        "job.yaml:12: containers[0].fill: 700 mL does not fit into flask_500, "
                        "which holds 650 mL to the brim");
    assert_int_equal(df_shape_make(*state, &s, &c, 500e-6, DF_LIE_SHELL, where), DF_E_INPUT);
    assert_says(*state, "500 mL is too much for a shell in flask_500");
    double bad[] = {0.0, -1e-6, NAN, INFINITY};
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(df_shape_make(*state, &s, &c, bad[i], DF_LIE_REST, NULL), DF_E_INPUT);
    assert_int_equal(df_container_find(*state, &c, NULL, "vial_10R", NULL), DF_OK);
    assert_int_equal(df_shape_make(*state, &s, &c, 2e-6, DF_LIE_SHELL, where), DF_E_INPUT);
    assert_says(*state, "vial_10R is a vial; only a flask or a tube can be turned");
}

static void test_means(void **state) {
    static const char *const names[] = {"freezer", "dry_ice_bath", "liquid_nitrogen", "shelf"};
    df_container c;
    assert_int_equal(df_container_find(*state, &c, NULL, "flask_250", NULL), DF_OK);
    for (int m = 0; m < 4; m++) {
        df_cooling cooling = {(df_means)m, df_means_temperature((df_means)m)};
        assert_string_equal(df_means_name((df_means)m), names[m]);
        assert_true(cooling.temperature > 77.0 && cooling.temperature < 263.0);
        for (double wall = cooling.temperature; wall < 300.0; wall += 0.5) {
            double h = df_cooling_coefficient(&cooling, &c, wall),
                   next = df_cooling_coefficient(&cooling, &c, wall + 0.5);
            assert_true(h > 2.0 && h < 2000.0);
            assert_true(fabs(next - h) < 0.1 * h ||
                        cooling.means == DF_MEANS_FREEZER); /* no jumps on the boiling curve */
        }
    }
    df_cooling nitrogen = {DF_MEANS_LIQUID_NITROGEN, 77.35}, freezer = {DF_MEANS_FREEZER, 253.15};
    /* Under a film of vapour heat leaves some ten times slower than where the liquid wets the wall. */
    double film = df_cooling_coefficient(&nitrogen, &c, 250.0), wet = df_cooling_coefficient(&nitrogen, &c, 90.0);
    assert_true(film > 80.0 && film < 180.0 && wet > 5.0 * film);
    /* Still air: convection falls with the temperature difference, radiation stays. */
    assert_true(df_cooling_coefficient(&freezer, &c, 293.0) > df_cooling_coefficient(&freezer, &c, 258.0));
    assert_true(df_cooling_coefficient(&freezer, &c, 253.2) > 3.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_container),
        cmocka_unit_test(test_container_values),
        cmocka_unit_test(test_solutes),
        cmocka_unit_test(test_segment_of_sphere),
        cmocka_unit_test(test_shell),
        cmocka_unit_test(test_hollow_cylinder),
        cmocka_unit_test(test_slab),
        cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_means),
    };
    return cmocka_run_group_tests(tests, make_context, drop_context);
}
