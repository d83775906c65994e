/* Dryers from YAML, and those that ship with the program. */
#include "dryer/notes.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const builtin[] = {"bench-55", "bench-85", "deep-105"};

const char *df_dryer_builtin_name(size_t index) {
    return index < sizeof builtin / sizeof builtin[0] ? builtin[index] : NULL;
}

/* A list of {x_key: quantity, y_key: quantity} with ascending x. */
static df_status read_curve(df_context *ctx, df_curve *out, const df_yaml_node *map, const char *key,
                            const char *x_key, df_dimension x_dimension, const char *y_key,
                            df_dimension y_dimension) {
    const df_yaml_node *list = df_yaml_get(map, key);
    if (list == NULL)
        return df_yaml_missing(ctx, map, key, "%s is missing; give a list of points with %s and %s", key, x_key,
                               y_key);
    size_t n = df_yaml_count(list);
    if (df_yaml_node_kind(list) != DF_YAML_LIST || n < 1 || n > DF_CURVE_POINTS)
        return df_yaml_fail(ctx, list, "should be a list of 1 to %d points with %s and %s", DF_CURVE_POINTS, x_key,
                            y_key);
    const char *const keys[] = {x_key, y_key};
    out->n = n;
    for (size_t i = 0; i < n; i++) {
        const df_yaml_node *point = df_yaml_item(list, i);
        df_status status = df_yaml_check_keys(ctx, point, keys, 2);
        if (status == DF_OK)
            status = df_yaml_quantity(ctx, &out->x[i], point, x_key, x_dimension, true);
        if (status == DF_OK)
            status = df_yaml_quantity_in(ctx, &out->y[i], point, y_key, y_dimension, true, 0.0, 1e9);
        if (status != DF_OK)
            return status;
        if (i > 0 && !(out->x[i] > out->x[i - 1]))
            return df_yaml_fail(ctx, point, "%s should rise from point to point", x_key);
    }
    return DF_OK;
}

static df_status section(df_context *ctx, const df_yaml_node **out, const df_yaml_node *root, const char *key,
                         bool required, const char *const *keys, size_t count) {
    *out = df_yaml_get(root, key);
    if (*out == NULL)
        return required ? df_yaml_missing(ctx, root, key, "the section '%s' is missing", key) : DF_OK;
    return df_yaml_check_keys(ctx, *out, keys, count);
}

#define STEP(call)                                                                                                   \
    do {                                                                                                             \
        if (status == DF_OK)                                                                                         \
            status = (call);                                                                                         \
    } while (0)
#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static df_status read_refrigeration(df_context *ctx, df_trap *t, const df_yaml_node *map) {
    df_status status = read_curve(ctx, &t->refrigeration, map, "refrigeration", "temperature", DF_DIM_TEMPERATURE,
                                  "power", DF_DIM_POWER);
    if (status != DF_OK)
        return status;
    const df_curve *c = &t->refrigeration;
    bool rises = c->n >= 2 && c->y[0] == 0.0;
    for (size_t i = 1; i < c->n; i++)
        rises = rises && c->y[i] > c->y[i - 1];
    if (!rises)
        return df_yaml_fail(ctx, df_yaml_get(map, "refrigeration"),
                            "should start at the no-load temperature with 0 W and rise in power from point to point");
    if (c->x[0] < 100.0 || c->x[c->n - 1] > 300.0)
        return df_yaml_fail(ctx, df_yaml_get(map, "refrigeration"),
                            "temperatures should lie between -173 °C and 27 °C");
    return DF_OK;
}

static df_status read_tube(df_context *ctx, df_tube *tube, const df_yaml_node *map) {
    df_status status = df_yaml_quantity_in(ctx, &tube->diameter, map, "diameter", DF_DIM_LENGTH, true, 1e-3, 5.0);
    STEP(df_yaml_quantity_in(ctx, &tube->length, map, "length", DF_DIM_LENGTH, true, 1e-3, 50.0));
    return status;
}

/* The section 'trap', or 'second_trap' with the tube that leads to it. Either has a refrigeration curve or a coolant. */
static df_status read_trap(df_context *ctx, df_dryer *d, const df_yaml_node *root, const char *key) {
    static const char *const keys[] = {"refrigeration", "area",    "volume", "capacity", "heat_capacity",
                                       "power",         "coolant", "charge", "loss",     "link"};
    static const char *const tube_keys[] = {"diameter", "length"};
    const df_yaml_node *map, *link;
    bool second = d->traps > 0;
    df_status status = section(ctx, &map, root, key, !second, keys, COUNT(keys));
    if (status != DF_OK || map == NULL)
        return status;
    df_trap *t = &d->trap[d->traps++];
    t->power = NAN;
    t->heat_capacity = 8000.0;
    const df_yaml_node *coolant = df_yaml_get(map, "coolant");
    if (coolant != NULL && df_yaml_get(map, "refrigeration") != NULL)
        return df_yaml_fail(ctx, coolant, "a trap has a refrigeration curve or a coolant, not both");
    if (coolant != NULL) {
        const char *const coolants[] = {df_coolant_name(DF_COOLANT_DRY_ICE), df_coolant_name(DF_COOLANT_NITROGEN)};
        int choice = 0;
        t->kind = DF_TRAP_FINGER;
        t->heat_capacity = 500.0;
        STEP(df_yaml_choice(ctx, &choice, map, "coolant", true, coolants, 2));
        t->coolant = (df_coolant)choice;
        t->temperature = df_coolant_temperature(t->coolant);
        STEP(df_yaml_quantity_in(ctx, &t->charge, map, "charge", DF_DIM_MASS, true, 1e-3, 1e3));
        STEP(df_yaml_quantity_in(ctx, &t->loss, map, "loss", DF_DIM_POWER, true, 0.0, 1e4));
    } else
        STEP(read_refrigeration(ctx, t, map));
    STEP(df_yaml_quantity_in(ctx, &t->area, map, "area", DF_DIM_AREA, true, 1e-3, 100.0));
    STEP(df_yaml_quantity_in(ctx, &t->volume, map, "volume", DF_DIM_VOLUME, true, 1e-4, 10.0));
    STEP(df_yaml_quantity_in(ctx, &t->capacity, map, "capacity", DF_DIM_MASS, true, 1e-3, 1e4));
    STEP(df_yaml_quantity_in(ctx, &t->heat_capacity, map, "heat_capacity", DF_DIM_HEAT_CAPACITY, false, 100.0, 1e7));
    STEP(df_yaml_quantity_in(ctx, &t->power, map, "power", DF_DIM_POWER, false, 0.0, 1e6));
    for (size_t i = 7; i < 9 && status == DF_OK && coolant == NULL; i++)
        if (df_yaml_get(map, keys[i]) != NULL)
            return df_yaml_fail(ctx, df_yaml_get(map, keys[i]), "belongs to a trap with a coolant");
    if (status == DF_OK && !second && df_yaml_get(map, "link") != NULL)
        return df_yaml_fail(ctx, df_yaml_get(map, "link"), "the way to the first trap is the section 'duct'");
    if (second) {
        STEP(section(ctx, &link, map, "link", true, tube_keys, COUNT(tube_keys)));
        STEP(read_tube(ctx, &d->link, link));
    }
    return status;
}

static df_status read_pump(df_context *ctx, df_dryer *d, const df_yaml_node *root) {
    static const char *const keys[] = {"kind",          "speed", "nominal_speed",   "ultimate_pressure",
                                       "solvent_limit", "oil",   "oil_temperature", "ballast",
                                       "power"};
    const char *kinds[] = {df_pump_kind_name(DF_PUMP_OIL_SEALED), df_pump_kind_name(DF_PUMP_DRY),
                           df_pump_kind_name(DF_PUMP_SCROLL), df_pump_kind_name(DF_PUMP_DIAPHRAGM)};
    const df_yaml_node *map;
    int kind = 0;
    double nominal = NAN;
    df_status status = section(ctx, &map, root, "pump", true, keys, COUNT(keys));
    STEP(df_yaml_choice(ctx, &kind, map, "kind", true, kinds, COUNT(kinds)));
    if (status != DF_OK)
        return status;
    d->pump.kind = (df_pump_kind)kind;
    bool oil = kind == DF_PUMP_OIL_SEALED;
    d->pump.solvent_limit = INFINITY;
    d->pump.oil = 0.8;
    d->pump.oil_temperature = 343.15;
    d->pump.power = NAN;
    const df_yaml_node *points = df_yaml_get(map, "speed"), *one = df_yaml_get(map, "nominal_speed");
    if (points != NULL && one != NULL)
        return df_yaml_fail(ctx, one, "give the pump's curve under 'speed' or its nominal_speed, not both");
    if (one != NULL) {
        STEP(df_yaml_quantity_in(ctx, &nominal, map, "nominal_speed", DF_DIM_VOLUME_FLOW, true, 1e-7, 100.0));
        df_pump_generic(d, nominal);
    } else
        STEP(read_curve(ctx, &d->pump.speed, map, "speed", "pressure", DF_DIM_PRESSURE, "flow", DF_DIM_VOLUME_FLOW));
    if (status == DF_OK && !(d->pump.speed.x[0] > 0.0))
        return df_yaml_fail(ctx, points, "pressures should be above zero");
    STEP(df_yaml_quantity_in(ctx, &d->pump.ultimate, map, "ultimate_pressure", DF_DIM_PRESSURE, true, 1e-5, 1e4));
    STEP(df_yaml_quantity_in(ctx, &d->pump.power, map, "power", DF_DIM_POWER, false, 0.0, 1e6));
    static const size_t of_oil[] = {4, 5, 6, 7};
    for (size_t i = 0; i < COUNT(of_oil) && status == DF_OK && !oil; i++)
        if (df_yaml_get(map, keys[of_oil[i]]) != NULL)
            return df_yaml_fail(ctx, df_yaml_get(map, keys[of_oil[i]]), "a dry pump has no oil to keep solvent from");
    if (oil) {
        STEP(df_yaml_quantity_in(ctx, &d->pump.solvent_limit, map, "solvent_limit", DF_DIM_MASS, true, 0.0, 1e3));
        STEP(df_yaml_quantity_in(ctx, &d->pump.oil, map, "oil", DF_DIM_MASS, false, 0.01, 1e3));
        STEP(df_yaml_quantity_in(ctx, &d->pump.oil_temperature, map, "oil_temperature", DF_DIM_TEMPERATURE, false,
                                 290.0, 400.0));
        STEP(df_yaml_quantity_in(ctx, &d->pump.ballast, map, "ballast", DF_DIM_VOLUME_FLOW, false, 0.0, 1.0));
    }
    return status;
}

static df_status read_shelf(df_context *ctx, df_dryer *d, const df_yaml_node *root) {
    static const char *const keys[] = {"area", "lowest", "highest", "contact", "gas", "gas_bend", "drift", "ramp"};
    const df_yaml_node *map;
    df_status status = section(ctx, &map, root, "shelf", false, keys, COUNT(keys));
    if (status != DF_OK || map == NULL)
        return status;
    d->shelf.present = true;
    STEP(df_yaml_quantity_in(ctx, &d->shelf.area, map, "area", DF_DIM_AREA, true, 1e-3, 1e3));
    STEP(df_yaml_quantity_in(ctx, &d->shelf.lowest, map, "lowest", DF_DIM_TEMPERATURE, true, 150.0, 330.0));
    STEP(df_yaml_quantity_in(ctx, &d->shelf.highest, map, "highest", DF_DIM_TEMPERATURE, true, 200.0, 400.0));
    STEP(df_yaml_quantity_in(ctx, &d->shelf.contact, map, "contact", DF_DIM_HEAT_TRANSFER, true, 0.0, 1e3));
    STEP(df_yaml_quantity_in(ctx, &d->shelf.gas, map, "gas", DF_DIM_HEAT_TRANSFER_PER_PRESSURE, true, 0.0, 1e2));
    STEP(df_yaml_quantity_in(ctx, &d->shelf.gas_bend, map, "gas_bend", DF_DIM_PER_PRESSURE, true, 0.0, 1e2));
    d->shelf.drift = 7200.0;
    STEP(df_yaml_quantity_in(ctx, &d->shelf.drift, map, "drift", DF_DIM_TIME, false, 1.0, 1e7));
    d->shelf.ramp = DF_SHELF_RAMP;
    STEP(df_yaml_quantity_in(ctx, &d->shelf.ramp, map, "ramp", DF_DIM_RATE, false, 1e-5, 1.0));
    if (status == DF_OK && !(d->shelf.highest > d->shelf.lowest))
        return df_yaml_fail(ctx, df_yaml_get(map, "highest"), "highest should lie above lowest");
    return status;
}

static df_status read_manifold(df_context *ctx, df_dryer *d, const df_yaml_node *root) {
    static const char *const keys[] = {"ports", "port_diameter", "frost"};
    const df_yaml_node *map;
    df_status status = section(ctx, &map, root, "manifold", false, keys, COUNT(keys));
    if (status != DF_OK || map == NULL)
        return status;
    d->manifold.present = true;
    d->manifold.frost = 0.001;
    STEP(df_yaml_integer(ctx, &d->manifold.ports, map, "ports", true, 1, 1000));
    STEP(df_yaml_quantity_in(ctx, &d->manifold.port_diameter, map, "port_diameter", DF_DIM_LENGTH, true, 1e-3, 1.0));
    STEP(df_yaml_quantity_in(ctx, &d->manifold.frost, map, "frost", DF_DIM_LENGTH, false, 0.0, 0.1));
    return status;
}

df_status df_recipe_parse(df_context *ctx, df_recipe *recipe, const df_yaml_node *list) {
    static const char *const keys[] = {"time", "shelf_temperature", "chamber_pressure"};
    size_t n = df_yaml_count(list);
    if (df_yaml_node_kind(list) != DF_YAML_LIST || n == 0 || n > DF_MAX_RECIPE)
        return df_yaml_fail(ctx, list,
                            "should be a list of 1 to %d set points with time, shelf_temperature and "
                            "chamber_pressure",
                            DF_MAX_RECIPE);
    double shelf = 258.15, pressure = 0.0;
    for (size_t i = 0; i < n; i++) {
        const df_yaml_node *map = df_yaml_item(list, i);
        double time = 0.0;
        df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
        STEP(df_yaml_quantity_in(ctx, &time, map, "time", DF_DIM_TIME, i > 0, 0.0, 1e8));
        STEP(df_yaml_quantity_in(ctx, &shelf, map, "shelf_temperature", DF_DIM_TEMPERATURE, false, 150.0, 400.0));
        STEP(df_yaml_quantity_in(ctx, &pressure, map, "chamber_pressure", DF_DIM_PRESSURE, false, 0.0, 1e5));
        if (status != DF_OK)
            return status;
        if (i == 0 && time != 0.0)
            return df_yaml_fail(ctx, map, "the first set point should be at time 0");
        if (i > 0 && !(time > recipe->time[i - 1]))
            return df_yaml_fail(ctx, map, "times should rise from set point to set point");
        recipe->time[i] = time;
        recipe->shelf_temperature[i] = shelf;
        recipe->pressure[i] = pressure;
    }
    recipe->n = n;
    return DF_OK;
}

static df_status read_reference(df_context *ctx, df_dryer *d, const df_yaml_node *root) {
    static const char *const keys[] = {"container", "count", "fill", "place", "lie", "recipe"};
    static const char *const places[] = {"shelf", "manifold"}, *const lies[] = {"at_rest", "shell"};
    const df_yaml_node *map;
    df_status status = section(ctx, &map, root, "reference_load", true, keys, COUNT(keys));
    char container[48] = "", where[200];
    int place = 0, lie = 0;
    STEP(df_yaml_text(ctx, container, sizeof container, map, "container", true));
    STEP(df_container_find(ctx, &d->reference.container, d->containers, container,
                           df_yaml_where(where, sizeof where, df_yaml_get(map, "container"))));
    STEP(df_yaml_integer(ctx, &d->reference.count, map, "count", true, 1, 100000));
    STEP(df_yaml_quantity_in(ctx, &d->reference.fill, map, "fill", DF_DIM_VOLUME, true, 1e-9, 1.0));
    STEP(df_yaml_choice(ctx, &place, map, "place", true, places, 2));
    STEP(df_yaml_choice(ctx, &lie, map, "lie", false, lies, 2));
    d->reference.place = (df_place)place;
    d->reference.lie = (df_lie)lie;
    const df_yaml_node *recipe = df_yaml_get(map, "recipe");
    if (status == DF_OK && place == DF_PLACE_SHELF && recipe == NULL)
        return df_yaml_missing(ctx, map, "recipe",
                               "containers stand on a shelf, but there is no 'recipe' with its temperature");
    if (recipe != NULL)
        STEP(df_recipe_parse(ctx, &d->reference.recipe, recipe));
    if (status == DF_OK && place == DF_PLACE_SHELF && !d->shelf.present)
        return df_yaml_fail(ctx, df_yaml_get(map, "place"), "place is 'shelf', but the dryer has no section 'shelf'");
    if (status == DF_OK && place == DF_PLACE_MANIFOLD && !d->manifold.present)
        return df_yaml_fail(ctx, df_yaml_get(map, "place"),
                            "place is 'manifold', but the dryer has no section 'manifold'");
    return status;
}

df_status df_dryer_parse(df_context *ctx, df_dryer *d, const df_containers *containers, const char *buffer,
                         size_t length, const char *name) {
    static const char *const keys[] = {"name",        "description", "chamber",  "duct",      "trap",
                                       "pump",        "shelf",       "manifold", "hood_flow", "reference_load",
                                       "second_trap", "log",         "history"};
    static const char *const chamber_keys[] = {"volume", "room_temperature", "leak", "degassing", "control"};
    static const char *const duct_keys[] = {"diameter", "length"};
    static const char *const controls[] = {"none", "bleed", "throttle"};
    df_yaml *yaml = NULL;
    df_status status = df_yaml_parse(ctx, &yaml, buffer, length, name);
    if (status != DF_OK)
        return status;
    memset(d, 0, sizeof *d);
    d->containers = containers;
    d->hood_flow = NAN;
    const df_yaml_node *root = df_yaml_root(yaml), *map = NULL;
    int control = 0;
    STEP(df_yaml_check_keys(ctx, root, keys, COUNT(keys)));
    STEP(df_yaml_text(ctx, d->name, sizeof d->name, root, "name", true));
    STEP(df_yaml_text(ctx, d->description, sizeof d->description, root, "description", false));
    STEP(section(ctx, &map, root, "chamber", true, chamber_keys, COUNT(chamber_keys)));
    STEP(df_yaml_quantity_in(ctx, &d->chamber.volume, map, "volume", DF_DIM_VOLUME, true, 1e-5, 1e3));
    STEP(df_yaml_quantity_in(ctx, &d->chamber.room_temperature, map, "room_temperature", DF_DIM_TEMPERATURE, true,
                             250, 330));
    STEP(df_yaml_quantity_in(ctx, &d->chamber.leak, map, "leak", DF_DIM_LEAK, true, 0.0, 1e3));
    STEP(df_yaml_quantity_in(ctx, &d->chamber.degassing, map, "degassing", DF_DIM_LEAK, false, 0.0, 1e3));
    STEP(df_yaml_choice(ctx, &control, map, "control", false, controls, 3));
    d->chamber.control = (df_pressure_control)control;
    STEP(section(ctx, &map, root, "duct", true, duct_keys, COUNT(duct_keys)));
    STEP(read_tube(ctx, &d->duct, map));
    STEP(read_trap(ctx, d, root, "trap"));
    STEP(read_trap(ctx, d, root, "second_trap"));
    STEP(read_pump(ctx, d, root));
    STEP(read_shelf(ctx, d, root));
    STEP(read_manifold(ctx, d, root));
    STEP(df_yaml_quantity_in(ctx, &d->hood_flow, root, "hood_flow", DF_DIM_VOLUME_FLOW, false, 1e-6, 1e3));
    if (status == DF_OK && !d->shelf.present && !d->manifold.present)
        status = df_yaml_fail(ctx, root, "a dryer needs a section 'shelf' or 'manifold' or both");
    STEP(read_reference(ctx, d, root));
    STEP(df_dryer_notes_read(ctx, NULL, root));
    df_yaml_free(yaml);
    return status;
}

df_status df_dryer_builtin(df_context *ctx, df_dryer *d, const char *name) {
    for (size_t i = 0; i < COUNT(builtin); i++) {
        if (!df_name_equal(builtin[i], name))
            continue;
        char file[64];
        size_t length = 0;
        snprintf(file, sizeof file, "dryer_%s.yaml", builtin[i]);
        const char *text = df_embedded(&length, file);
        if (text == NULL)
            return df_fail(ctx, DF_E_INTERNAL, "the built-in dryer %s is missing", file);
        return df_dryer_parse(ctx, d, NULL, text, length, file);
    }
    return df_fail(ctx, DF_E_UNKNOWN_NAME,
                   "no dryer is called '%s'; those that ship are bench-55, bench-85 and deep-105, "
                   "or give the path of a YAML file",
                   name);
}
