/* A dryer as YAML. */
#include "base/yaml_write.h"
#include "dryfront/dryer.h"

#include <math.h>

static void curve(df_yaml_writer *w, const char *key, const df_curve *c, const char *x, df_dimension x_dimension,
                  const char *y, df_dimension y_dimension) {
    df_yaml_field(w, key);
    df_text_puts(w->out, "\n");
    for (size_t i = 0; i < c->n; i++) {
        df_text_printf(w->out, "    - {%s: ", x);
        df_put_quantity(w->out, c->x[i], x_dimension, NULL);
        df_text_printf(w->out, ", %s: ", y);
        df_put_quantity(w->out, c->y[i], y_dimension, NULL);
        df_text_puts(w->out, "}\n");
    }
}

static void put_trap(df_yaml_writer *w, const df_dryer *d, size_t index) {
    const df_trap *t = &d->trap[index];
    df_yaml_section(w, index == 0 ? "trap" : "second_trap");
    df_text_puts(w->out, "\n");
    if (t->kind == DF_TRAP_FINGER) {
        df_yaml_put_word(w, "coolant", df_coolant_name(t->coolant));
        df_yaml_put_quantity(w, "charge", t->charge, DF_DIM_MASS, NULL);
        df_yaml_put_quantity(w, "loss", t->loss, DF_DIM_POWER, NULL);
    } else
        curve(w, "refrigeration", &t->refrigeration, "temperature", DF_DIM_TEMPERATURE, "power", DF_DIM_POWER);
    df_yaml_put_quantity(w, "area", t->area, DF_DIM_AREA, NULL);
    df_yaml_put_quantity(w, "volume", t->volume, DF_DIM_VOLUME, NULL);
    df_yaml_put_quantity(w, "capacity", t->capacity, DF_DIM_MASS, NULL);
    df_yaml_put_quantity(w, "heat_capacity", t->heat_capacity, DF_DIM_HEAT_CAPACITY, NULL);
    if (!isnan(t->power))
        df_yaml_put_quantity(w, "power", t->power, DF_DIM_POWER, NULL);
    if (index > 0) {
        df_yaml_field(w, "link");
        df_text_puts(w->out, " {diameter: ");
        df_put_quantity(w->out, d->link.diameter, DF_DIM_LENGTH, NULL);
        df_text_puts(w->out, ", length: ");
        df_put_quantity(w->out, d->link.length, DF_DIM_LENGTH, "m");
        df_text_puts(w->out, "}\n");
    }
}

static void put_pump(df_yaml_writer *w, const df_dryer *d) {
    df_yaml_section(w, "pump");
    df_text_puts(w->out, "\n");
    df_yaml_put_word(w, "kind", df_pump_kind_name(d->pump.kind));
    df_yaml_put_quantity(w, "ultimate_pressure", d->pump.ultimate, DF_DIM_PRESSURE, NULL);
    if (d->pump.kind == DF_PUMP_OIL_SEALED) {
        df_yaml_put_quantity(w, "solvent_limit", d->pump.solvent_limit, DF_DIM_MASS, "g");
        df_yaml_put_quantity(w, "oil", d->pump.oil, DF_DIM_MASS, NULL);
        df_yaml_put_quantity(w, "oil_temperature", d->pump.oil_temperature, DF_DIM_TEMPERATURE, NULL);
        df_yaml_put_quantity(w, "ballast", d->pump.ballast, DF_DIM_VOLUME_FLOW, NULL);
    }
    if (!isnan(d->pump.power))
        df_yaml_put_quantity(w, "power", d->pump.power, DF_DIM_POWER, NULL);
    df_yaml_comments(w, "pump.nominal_speed", true, false);
    curve(w, "speed", &d->pump.speed, "pressure", DF_DIM_PRESSURE, "flow", DF_DIM_VOLUME_FLOW);
}

void df_recipe_write(df_text *out, const df_recipe *recipe, const char *indent) {
    bool held = false;
    for (size_t i = 0; i < recipe->n; i++)
        held = held || recipe->pressure[i] > 0.0;
    for (size_t i = 0; i < recipe->n; i++) {
        df_text_printf(out, "%s- {time: ", indent);
        df_put_quantity(out, recipe->time[i], DF_DIM_TIME, NULL);
        df_text_puts(out, ", shelf_temperature: ");
        df_put_quantity(out, recipe->shelf_temperature[i], DF_DIM_TEMPERATURE, NULL);
        if (held) {
            df_text_puts(out, ", chamber_pressure: ");
            df_put_quantity(out, recipe->pressure[i], DF_DIM_PRESSURE, NULL);
        }
        df_text_puts(out, "}\n");
    }
}

static void put_reference(df_yaml_writer *w, const df_reference_load *load) {
    df_yaml_section(w, "reference_load");
    df_text_puts(w->out, "\n");
    df_yaml_put_word(w, "container", load->container.key);
    df_yaml_put_number(w, "count", load->count);
    df_yaml_put_quantity(w, "fill", load->fill, DF_DIM_VOLUME, "mL");
    df_yaml_put_word(w, "place", load->place == DF_PLACE_SHELF ? "shelf" : "manifold");
    df_yaml_put_word(w, "lie", load->lie == DF_LIE_SHELL ? "shell" : "at_rest");
    if (load->recipe.n == 0)
        return;
    df_yaml_field(w, "recipe");
    df_text_puts(w->out, "\n");
    df_recipe_write(w->out, &load->recipe, "    ");
}

static void put_log(df_yaml_writer *w, const df_log_map *log) {
    if (log->delimiter == '\0' && log->decimal == '\0' && log->columns == 0)
        return;
    df_yaml_section(w, "log");
    df_text_puts(w->out, "\n");
    if (log->delimiter != '\0')
        df_yaml_put_word(w, "delimiter",
                         log->delimiter == ','   ? "comma"
                         : log->delimiter == ';' ? "semicolon"
                                                 : "tab");
    if (log->decimal != '\0')
        df_yaml_put_word(w, "decimal", log->decimal == '.' ? "point" : "comma");
    if (log->columns == 0)
        return;
    df_yaml_field(w, "columns");
    df_text_puts(w->out, "\n");
    for (size_t i = 0; i < log->columns; i++) {
        df_text_puts(w->out, "    - {column: ");
        df_put_scalar(w->out, log->column[i].column, true);
        df_text_printf(w->out, ", quantity: %s", df_log_quantity_name(log->column[i].quantity));
        if (log->column[i].unit[0] != '\0') {
            df_text_puts(w->out, ", unit: ");
            df_put_scalar(w->out, log->column[i].unit, true);
        }
        df_text_puts(w->out, "}\n");
    }
}

static void put_history(df_yaml_writer *w, const df_dryer_notes *notes) {
    if (notes->entries == 0)
        return;
    df_yaml_section(w, "history");
    df_text_puts(w->out, "\n");
    for (size_t i = 0; i < notes->entries; i++) {
        const df_history_entry *e = &notes->entry[i];
        const char *const keys[] = {"field", "value", "band", "before", "log"};
        const char *const values[] = {e->field, e->value, e->band, e->before, e->log};
        df_text_printf(w->out, "  - {date: %s", e->date);
        for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
            if (values[k][0] == '\0')
                continue;
            df_text_printf(w->out, ", %s: ", keys[k]);
            df_put_scalar(w->out, values[k], true);
        }
        df_text_printf(w->out, ", bytes: %ld, rows: %ld}\n", e->bytes, e->rows);
    }
}

df_status df_dryer_write(df_context *ctx, df_text *out, const df_dryer *d, const df_dryer_notes *notes,
                         const char *original) {
    static const char *const controls[] = {"none", "bleed", "throttle"};
    df_yaml_writer w;
    df_status status = df_yaml_writer_open(ctx, &w, out, original);
    df_yaml_section(&w, "name");
    df_text_puts(out, " ");
    df_put_scalar(out, d->name, false);
    df_text_puts(out, "\n");
    if (d->description[0] != '\0') {
        df_yaml_section(&w, "description");
        df_text_puts(out, " ");
        df_put_scalar(out, d->description, false);
        df_text_puts(out, "\n");
    }
    df_yaml_section(&w, "chamber");
    df_text_puts(out, "\n");
    df_yaml_put_quantity(&w, "volume", d->chamber.volume, DF_DIM_VOLUME, NULL);
    df_yaml_put_quantity(&w, "room_temperature", d->chamber.room_temperature, DF_DIM_TEMPERATURE, NULL);
    df_yaml_put_quantity(&w, "leak", d->chamber.leak, DF_DIM_LEAK, NULL);
    df_yaml_put_quantity(&w, "degassing", d->chamber.degassing, DF_DIM_LEAK, NULL);
    df_yaml_put_word(&w, "control", controls[d->chamber.control]);
    df_yaml_section(&w, "duct");
    df_text_puts(out, "\n");
    df_yaml_put_quantity(&w, "diameter", d->duct.diameter, DF_DIM_LENGTH, NULL);
    df_yaml_put_quantity(&w, "length", d->duct.length, DF_DIM_LENGTH, "m");
    for (size_t i = 0; i < d->traps; i++)
        put_trap(&w, d, i);
    put_pump(&w, d);
    if (d->shelf.present) {
        df_yaml_section(&w, "shelf");
        df_text_puts(out, "\n");
        df_yaml_put_quantity(&w, "area", d->shelf.area, DF_DIM_AREA, NULL);
        df_yaml_put_quantity(&w, "lowest", d->shelf.lowest, DF_DIM_TEMPERATURE, NULL);
        df_yaml_put_quantity(&w, "highest", d->shelf.highest, DF_DIM_TEMPERATURE, NULL);
        df_yaml_put_quantity(&w, "contact", d->shelf.contact, DF_DIM_HEAT_TRANSFER, NULL);
        df_yaml_put_quantity(&w, "gas", d->shelf.gas, DF_DIM_HEAT_TRANSFER_PER_PRESSURE, NULL);
        df_yaml_put_quantity(&w, "gas_bend", d->shelf.gas_bend, DF_DIM_PER_PRESSURE, NULL);
        df_yaml_put_quantity(&w, "drift", d->shelf.drift, DF_DIM_TIME, NULL);
        df_yaml_put_quantity(&w, "ramp", d->shelf.ramp, DF_DIM_RATE, NULL);
    }
    if (d->manifold.present) {
        df_yaml_section(&w, "manifold");
        df_text_puts(out, "\n");
        df_yaml_put_number(&w, "ports", d->manifold.ports);
        df_yaml_put_quantity(&w, "port_diameter", d->manifold.port_diameter, DF_DIM_LENGTH, NULL);
        df_yaml_put_quantity(&w, "frost", d->manifold.frost, DF_DIM_LENGTH, NULL);
    }
    if (!isnan(d->hood_flow)) {
        df_yaml_section(&w, "hood_flow");
        df_text_puts(out, " ");
        df_put_quantity(out, d->hood_flow, DF_DIM_VOLUME_FLOW, NULL);
        df_text_puts(out, "\n");
    }
    put_reference(&w, &d->reference);
    if (notes != NULL) {
        put_log(&w, &notes->log);
        put_history(&w, notes);
    }
    df_status closed = df_yaml_writer_close(ctx, &w);
    return status != DF_OK ? status : closed;
}
