/* Ceilings of solvents on a dryer. */
#include "base/utf8.h"
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const grade_words[] = {"cold", "warm", "pred.", "ideal"};

/* "30±2", "60-100" where it starts only at a fraction, "none", right-aligned in 7 columns. Rounded to the safe side. */
static const char *range_words(char *out, size_t size, double up_to, double from, double sigma) {
    char plain[32], band[32] = "";
    if (isnan(up_to))
        snprintf(plain, sizeof plain, "none");
    else if (from > 0.021)
        snprintf(plain, sizeof plain, "%.0f-%.0f", ceil(100.0 * from - 1e-6), floor(100.0 * up_to + 1e-6));
    else
        snprintf(plain, sizeof plain, "%.0f", floor(100.0 * up_to + 1e-6));
    if (!isnan(sigma) && strlen(plain) < 5)
        snprintf(band, sizeof band, "±%.0f", fmax(100.0 * sigma, 1.0));
    else if (isnan(sigma) && up_to < 0.995)
        snprintf(band, sizeof band, "±?");
    size_t width = strlen(plain) + df_utf8_width(band);
    snprintf(out, size, "%*s%s%s", width < 7 ? (int)(7 - width) : 0, "", plain, band);
    return out;
}

static const char *how_it_lies(const df_reference_load *load) {
    if (load->lie == DF_LIE_SHELL)
        return "frozen as a shell, ";
    return load->container.kind == DF_FLASK ? "frozen at rest, " : "";
}

static void dryer_lines(df_text *out, const df_dryer *d) {
    df_text line = {0};
    const df_reference_load *load = &d->reference;
    df_layout_printf(out, "dryer", "trap %.0f °C without load, holds %.3g kg; %s",
                     df_celsius(df_trap_no_load(&d->trap[0])), d->trap[0].capacity, df_part_pump(d));
    df_text_printf(&line, "%ld x %s, %.3g mL each, %son the %s", load->count, load->container.name, 1e6 * load->fill,
                   how_it_lies(load), load->place == DF_PLACE_SHELF ? "shelf" : "manifold");
    for (size_t i = 0; i < load->recipe.n; i++) {
        df_text_printf(&line, "%s%.3g h %.0f °C", i == 0 ? "; shelf " : ", ", load->recipe.time[i] / 3600.0,
                       df_celsius(load->recipe.shelf_temperature[i]));
        if (load->recipe.pressure[i] > 0.0)
            df_text_printf(&line, " %.3g mbar", load->recipe.pressure[i] / 100.0);
    }
    if (load->place == DF_PLACE_MANIFOLD)
        df_text_printf(&line, "; heat from the room at %.0f °C", df_celsius(d->chamber.room_temperature));
    df_layout_paragraph(out, "load", df_text_string(&line));
    out->failed = out->failed || line.failed;
    df_text_free(&line);
}

static void caution_lines(df_text *out, const df_ceiling *ceiling, size_t n) {
    df_text flammable = {0};
    for (size_t i = 0; i < n; i++) {
        const df_substance *s = ceiling[i].solvent;
        /* A flash point under 60 °C is what the EU's classification calls a flammable liquid. */
        if (isfinite(s->flash_point) && s->flash_point <= 333.15)
            df_text_printf(&flammable, "%s%s", flammable.length > 0 ? ", " : "", s->key);
    }
    const char *label = "caution";
    if (flammable.length > 0) {
        df_layout_printf(out, label,
                         "flammable: %.900s. What the trap does not hold leaves through the pump: lead the "
                         "exhaust into a hood, no ignition source",
                         df_text_string(&flammable));
        label = "";
    }
    df_layout_paragraph(out, label,
                        "many of these are toxic or harmful ('dryfront substances NAME' for each); local "
                        "rules, safety data sheets and qualified people come first");
    out->failed = out->failed || flammable.failed;
    df_text_free(&flammable);
}

df_status df_report_ceilings_text(df_context *ctx, df_text *out, const df_ceiling *ceiling, size_t n,
                                  const df_dryer *d) {
    char a[80], b[80];
    bool used[DF_PAIR_IDEAL + 1] = {false}, ranges = false;
    df_text_printf(out, "Ceilings of solvents in water on %s\n\n", d->name);
    df_text_printf(out, "%-20s%7s%7s  %-18s %-18s %s\n", "", "rigid", "wetted", "binds above:", "", "based");
    df_text_printf(out, "%-20s%7s%7s  %-18s %-18s %s\n", "solvent", "% v/v", "% v/v", "rigid", "wetted", "on");
    for (size_t i = 0; i < n; i++) {
        const df_ceiling *c = &ceiling[i];
        df_text_printf(out, "%-20s%s%s  %-18s %-18s %s\n", c->solvent->key,
                       range_words(a, sizeof a, c->rigid, c->rigid_from, c->rigid_sigma),
                       range_words(b, sizeof b, c->wetted, c->wetted_from, c->wetted_sigma),
                       df_part_cause(c->rigid_cause), df_part_cause(c->wetted_cause), grade_words[c->grade]);
        used[c->grade] = true;
        ranges = ranges || c->rigid_from > 0.021 || c->wetted_from > 0.021;
    }
    df_text_puts(out, "\n");
    df_layout_printf(out, "reads",
                     "highest fraction of one solvent in water at which the load below still stands; none: "
                     "not at 2 %% either%s. %% v/v: volumes of the liquids before mixing, at 20 °C",
                     ranges ? "; 60-100: only between the two" : "");
    df_layout_paragraph(
        out, "",
        "±: one standard deviation of the thermodynamics (pairs with water, pure pressures), at least "
        "1; cake resistance, heat transfer and fill are not in it. Without ±: nothing binds, or it is "
        "never reached; ±?: it could not be followed");
    df_layout_paragraph(out, "",
                        "rigid: every phase solid, with the margin asked for; wetted: a crystal framework "
                        "stands with liquid in it (for some purposes acceptable)");
    dryer_lines(out, d);
    if (d->reference.container.own)
        df_layout_printf(out, "", "%s: your own figures of this container, not checked here; source: %s",
                         d->reference.container.key, d->reference.container.source);
    df_layout_paragraph(out, "",
                        "no solute: one that collapses sooner sets a lower ceiling. More load, another "
                        "container or another recipe moves the ceilings: 'dryfront stand' judges a sample "
                        "as it is");
    df_layout_paragraph(out, "thumb",
                        "product and trap should differ by about 15 to 20 °C (common practice, no "
                        "source); the ceilings are computed, not taken from it");
    const char *label = "trust";
    static const char *const meaning[] = {
        "cold: activity in water fitted to cold data",
        "warm: activity in water fitted to warm data only; below 0 °C it is carried on",
        "pred.: activity in water predicted from groups (modified UNIFAC)",
        "ideal: no data and no prediction: taken as ideal, do not rely on it",
    };
    for (int grade = 0; grade <= DF_PAIR_IDEAL; grade++)
        if (used[grade]) {
            df_layout_paragraph(out, label, meaning[grade]);
            label = "";
        }
    caution_lines(out, ceiling, n);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large") : DF_OK;
}

static json_t *load_json(const df_dryer *d) {
    const df_reference_load *load = &d->reference;
    json_t *o = json_object(), *recipe = json_array();
    df_json_put(o, "container", df_json_text(load->container.key));
    df_json_put(o, "count", json_integer(load->count));
    df_json_put(o, "fill_mL", df_json_number(1e6 * load->fill));
    df_json_put(o, "place", df_json_text(load->place == DF_PLACE_SHELF ? "shelf" : "manifold"));
    df_json_put(o, "lie", df_json_text(load->lie == DF_LIE_SHELL ? "shell" : "at_rest"));
    for (size_t i = 0; i < load->recipe.n; i++) {
        json_t *p = json_object();
        df_json_put(p, "time_h", df_json_number(load->recipe.time[i] / 3600.0));
        df_json_put(p, "shelf_C", df_json_number(df_celsius(load->recipe.shelf_temperature[i])));
        df_json_put(p, "chamber_pressure_mbar",
                    load->recipe.pressure[i] > 0.0 ? df_json_number(load->recipe.pressure[i] / 100.0) : json_null());
        json_array_append_new(recipe, p);
    }
    df_json_put(o, "recipe", recipe);
    return o;
}

static json_t *ceilings_json(const df_ceiling *ceiling, size_t n, const df_dryer *d) {
    json_t *root = json_object(), *list = json_array();
    df_json_put(root, "dryer", df_json_text(d->name));
    df_json_put(root, "trap_no_load_C", df_json_number(df_celsius(df_trap_no_load(&d->trap[0]))));
    df_json_put(root, "trap_capacity_kg", df_json_number(d->trap[0].capacity));
    df_json_put(root, "pump", df_json_text(df_pump_kind_name(d->pump.kind)));
    df_json_put(root, "reference_load", load_json(d));
    df_json_put(root, "volumes", df_json_text("of the liquids before mixing, at 20 °C"));
    for (size_t i = 0; i < n; i++) {
        const df_ceiling *c = &ceiling[i];
        char caution[400];
        json_t *o = json_object();
        df_json_put(o, "solvent", df_json_text(c->solvent->key));
        df_json_put(o, "rigid_up_to_percent_v_v", df_json_number(100.0 * c->rigid));
        df_json_put(o, "rigid_sigma_percent_v_v", df_json_number(100.0 * c->rigid_sigma));
        df_json_put(o, "rigid_from_percent_v_v", df_json_number(100.0 * c->rigid_from));
        df_json_put(o, "rigid_binds", df_json_text(df_cause_name(c->rigid_cause)));
        df_json_put(o, "wetted_up_to_percent_v_v", df_json_number(100.0 * c->wetted));
        df_json_put(o, "wetted_sigma_percent_v_v", df_json_number(100.0 * c->wetted_sigma));
        df_json_put(o, "wetted_from_percent_v_v", df_json_number(100.0 * c->wetted_from));
        df_json_put(o, "wetted_binds", df_json_text(df_cause_name(c->wetted_cause)));
        df_json_put(o, "grade", df_json_text(df_pair_grade_name(c->grade)));
        df_report_caution(caution, sizeof caution, c->solvent);
        df_json_put(o, "caution", df_json_text(caution));
        json_array_append_new(list, o);
    }
    df_json_put(root, "ceilings", list);
    return root;
}

df_status df_report_ceilings_json(df_context *ctx, df_text *out, const df_ceiling *ceiling, size_t n,
                                  const df_dryer *d) {
    return df_json_finish(ctx, out, ceilings_json(ceiling, n, d));
}

/* ---- several dryers side by side ------------------------------------------------------------------------------ */

#define ABREAST 4 /* dryers in a line */

/* A path without its folders. */
static const char *short_name(const char *name) {
    const char *slash = strrchr(name, '/');
    return slash != NULL ? slash + 1 : name;
}

df_status df_report_ceilings_beside_text(df_context *ctx, df_text *out, const df_ceiling *ceiling, size_t n,
                                         const df_dryer *dryer, const char *const *name, size_t m) {
    char a[80], b[80];
    df_text_puts(out, "Ceilings of solvents in water, % v/v: rigid, wetted\n");
    for (size_t from = 0; from < m; from += ABREAST) {
        size_t to = from + ABREAST < m ? from + ABREAST : m;
        df_text_printf(out, "\n%-18s", "");
        for (size_t j = from; j < to; j++)
            df_text_printf(out, " %14.14s", short_name(name[j]));
        df_text_printf(out, "\n%-18s", "solvent");
        for (size_t j = from; j < to; j++)
            df_text_printf(out, " %7s%7s", "rigid", "wetted");
        df_text_puts(out, "\n");
        for (size_t i = 0; i < n; i++) {
            df_text_printf(out, "%-18.18s", ceiling[i].solvent->key);
            for (size_t j = from; j < to; j++) {
                const df_ceiling *c = &ceiling[j * n + i];
                df_text_printf(out, " %s%s", range_words(a, sizeof a, c->rigid, c->rigid_from, c->rigid_sigma),
                               range_words(b, sizeof b, c->wetted, c->wetted_from, c->wetted_sigma));
            }
            df_text_puts(out, "\n");
        }
    }
    df_text_puts(out, "\n");
    for (size_t j = 0; j < m; j++) {
        df_layout_printf(out, j == 0 ? "dryers" : "", "%s: %s", short_name(name[j]), dryer[j].name);
        dryer_lines(out, &dryer[j]);
    }
    df_layout_paragraph(out, "reads",
                        "highest fraction of one solvent in water at which the dryer's own reference load still "
                        "stands; none: not at 2 % either; ±: one standard deviation of the thermodynamics. The loads "
                        "differ: a ceiling belongs to its load. What binds: 'dryfront ceilings' of one dryer");
    caution_lines(out, ceiling, n);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large") : DF_OK;
}

df_status df_report_ceilings_beside_json(df_context *ctx, df_text *out, const df_ceiling *ceiling, size_t n,
                                         const df_dryer *dryer, size_t m) {
    json_t *root = json_object(), *list = json_array();
    for (size_t j = 0; j < m; j++)
        json_array_append_new(list, ceilings_json(&ceiling[j * n], n, &dryer[j]));
    df_json_put(root, "dryers", list);
    return df_json_finish(ctx, out, root);
}
