/* Vapour pressures against temperature: each component, the mixture on its cooling path, and of a dryer trap, pump and
 * how warm the product gets. */
#include "report/figure_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define WARMEST 30.0        /* °C */
#define USUAL_COLDEST -90.0 /* °C */
#define STEP 0.5            /* K between points of a curve */
#define MOST_STEPS 512
#define COUNTS 0.05 /* share of the pressure from which on a component's extrapolation makes the sum one */
#define PLOT_LEFT 52.0
#define PLOT_RIGHT 84.0 /* for the names of the curves */
#define PLOT_TOP 6.0
#define PLOT_HEIGHT 250.0
#define RINGS 12 /* how far from its point a name may stand */

static const double extrapolated_dash[] = {3.2, 2.4};

typedef struct curve {
    size_t n;
    double temperature[MOST_STEPS], pressure_ln[MOST_STEPS]; /* K, ln Pa */
    bool extrapolated[MOST_STEPS];
} curve;

typedef struct pressure_picture {
    const df_composition *composition;
    const df_dryer *dryer;
    df_mixture *mixture;
    bool allowed[DF_MAX_SOLIDS];
    double liquidus, solidus; /* K */
    double product,
        surface;    /* K, hottest frozen point and warmest trap surface with the reference load; NAN: no run */
    char load[200]; /* what was run, "" where nothing was */
    curve crystal[DF_MAX_COMPONENTS], liquid[DF_MAX_COMPONENTS], undercooled[DF_MAX_COMPONENTS], whole;
    df_axis x, y;
    df_text notes;
} pressure_picture;

static double log_mbar(double pressure_ln) {
    return (pressure_ln - log(100.0)) / log(10.0);
}

static void add_point(curve *c, double temperature, double pressure, bool extrapolated) {
    if (c->n == MOST_STEPS || !(pressure > 0.0))
        return;
    c->temperature[c->n] = temperature;
    c->pressure_ln[c->n] = log(pressure);
    c->extrapolated[c->n++] = extrapolated;
}

static void follow_component(pressure_picture *p, size_t i, double coldest, double warmest) {
    const df_substance *s = p->composition->component[i];
    double melting = s->melting_temperature;
    if (s->is_involatile)
        return;
    for (double t = coldest; t < warmest + 0.5 * STEP; t += STEP) {
        bool far = df_liquid_pressure_extrapolated(s, t);
        if (t < melting) {
            add_point(&p->crystal[i], t, df_solid_pressure(s, t), far && !s->is_water);
            add_point(&p->undercooled[i], t, df_liquid_pressure(s, t), far);
        } else {
            if (p->liquid[i].n == 0) { /* all three meet at the melting point */
                add_point(&p->crystal[i], melting, df_solid_pressure(s, melting), far && !s->is_water);
                add_point(&p->undercooled[i], melting, df_liquid_pressure(s, melting), far);
                add_point(&p->liquid[i], melting, df_liquid_pressure(s, melting), far);
            }
            add_point(&p->liquid[i], t, df_liquid_pressure(s, t), far);
        }
    }
}

static df_status whole_at(df_context *ctx, pressure_picture *p, df_assemblage *a, double t, bool warm) {
    double partial[DF_MAX_COMPONENTS];
    df_status status = df_mixture_equilibrium(ctx, a, p->mixture, t, p->composition->x, p->allowed, warm);
    if (status < 0)
        return status;
    double total = df_mixture_vapour(partial, NULL, NULL, p->mixture, t, a->activity_ln);
    bool far = false;
    for (size_t i = 0; i < p->composition->n; i++)
        far = far || (partial[i] > COUNTS * total && df_part_extrapolated(p->mixture, a, t, i));
    add_point(&p->whole, t, total, far);
    return DF_OK;
}

static df_status follow_mixture(df_context *ctx, pressure_picture *p, double coldest, double warmest) {
    df_assemblage a;
    df_status status = DF_OK;
    const double corner[2] = {p->solidus, p->liquidus};
    for (double t = coldest; t < warmest + 0.5 * STEP && status >= 0; t += STEP) {
        status = whole_at(ctx, p, &a, t, t > coldest);
        for (int k = 0; k < 2 && status >= 0; k++)
            if (corner[k] > t && corner[k] < t + STEP)
                status = whole_at(ctx, p, &a, corner[k], true);
    }
    return status;
}

/* Pressure of a curve at a temperature, ln Pa; NAN outside it. */
static double curve_at(const curve *c, double temperature) {
    if (c->n < 2 || temperature < c->temperature[0] || temperature > c->temperature[c->n - 1])
        return NAN;
    return df_interpolate(c->temperature, c->pressure_ln, c->n, temperature);
}

static void draw_curve(df_figure *f, const pressure_picture *p, const curve *c, df_ink ink, double width,
                       df_obstacles *o) {
    cairo_t *cairo = df_figure_cairo(f);
    df_figure_ink(f, ink);
    for (size_t i = 0; i + 1 < c->n;) {
        size_t from = i;
        bool far = c->extrapolated[i];
        df_figure_line_style(f, width, extrapolated_dash, far ? 2 : 0);
        cairo_set_line_cap(cairo, CAIRO_LINE_CAP_BUTT);
        for (; i < c->n; i++) {
            double x = df_axis_at(&p->x, df_celsius(c->temperature[i])),
                   y = df_axis_at(&p->y, log_mbar(c->pressure_ln[i]));
            if (i == from)
                cairo_move_to(cairo, x, y);
            else {
                cairo_line_to(cairo, x, y);
                df_obstacles_line(o, df_axis_at(&p->x, df_celsius(c->temperature[i - 1])),
                                  df_axis_at(&p->y, log_mbar(c->pressure_ln[i - 1])), x, y);
            }
            if (i > from && c->extrapolated[i] != far)
                break; /* the next stretch begins here */
        }
        cairo_stroke(cairo);
        cairo_set_line_cap(cairo, CAIRO_LINE_CAP_ROUND);
    }
}

static void mark_corner(df_figure *f, const pressure_picture *p, df_obstacles *o, df_box bounds, double temperature,
                        const char *words) {
    const df_text_style style = {.size = 7.0, .ink = DF_INK_BLACK, .halo = true};
    char text[96], number[32];
    double ln = curve_at(&p->whole, temperature);
    if (isnan(ln))
        return;
    double x = df_axis_at(&p->x, df_celsius(temperature)), y = df_axis_at(&p->y, log_mbar(ln));
    df_figure_mark(f, x, y, DF_MARK_CIRCLE, DF_MARK_FULL);
    df_obstacles_box(o, (df_box){x - 2.5, y - 2.5, 5.0, 5.0});
    snprintf(text, sizeof text, "%s %s °C", words,
             df_figure_number(number, sizeof number, df_celsius(temperature), 1));
    df_figure_put_free(f, o, bounds, x, y, text, style, RINGS);
}

/* A level or upright line through the plot with its name on it. */
static void rule(df_figure *f, df_obstacles *o, df_box b, bool upright, double at, const char *text) {
    const df_text_style style = {.size = 7.0, .ink = DF_INK_BLACK, .halo = true};
    static const double dash[] = {6.0, 2.0, 1.0, 2.0};
    cairo_t *c = df_figure_cairo(f);
    double width, height;
    df_figure_ink(f, DF_INK_GREY);
    df_figure_line_style(f, 0.8, dash, 4);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_BUTT);
    if (upright) {
        cairo_move_to(c, at, b.y + b.height);
        cairo_line_to(c, at, b.y);
    } else {
        cairo_move_to(c, b.x, at);
        cairo_line_to(c, b.x + b.width, at);
    }
    cairo_stroke(c);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    df_figure_text_extent(f, &width, &height, text, style);
    for (int try = 0; try < 160; try++) { /* in the end across other lines */
        double slide = 4.0 * (try % 80 / 2);
        bool other = try & 1;
        df_box box = upright ? (df_box){other ? at + 2.0 : at - 2.0 - height, b.y + 4.0 + slide, height, width}
                             : (df_box){b.x + b.width - 5.0 - width - slide, other ? at + 1.5 : at - 1.5 - height,
                                        width, height};
        if (!df_obstacles_clear(o, box, b, try < 80 ? 1.0 : 0.0))
            continue;
        if (upright)
            df_figure_text(f, box.x, box.y + width, 0.0, 0.0, -M_PI / 2.0, text, style);
        else
            df_figure_text(f, box.x, box.y, 0.0, 0.0, 0.0, text, style);
        df_obstacles_box(o, box);
        break;
    }
    if (upright)
        df_obstacles_line(o, at, b.y, at, b.y + b.height);
    else
        df_obstacles_line(o, b.x, at, b.x + b.width, at);
}

static void draw_dryer(df_figure *f, const pressure_picture *p, df_obstacles *o, df_box bounds) {
    char text[120], a[32];
    double trap = df_celsius(df_trap_no_load(&p->dryer->trap[0])), ultimate = p->dryer->pump.ultimate;
    if (trap > p->x.low && trap < p->x.high) {
        snprintf(text, sizeof text, "trap, no load: %s °C", df_figure_number(a, sizeof a, trap, 0));
        rule(f, o, bounds, true, df_axis_at(&p->x, trap), text);
    }
    if (df_celsius(p->surface) > p->x.low && df_celsius(p->surface) < p->x.high) {
        snprintf(text, sizeof text, "trap, loaded: %s °C", df_figure_number(a, sizeof a, df_celsius(p->surface), 0));
        rule(f, o, bounds, true, df_axis_at(&p->x, df_celsius(p->surface)), text);
    }
    if (df_celsius(p->product) > p->x.low && df_celsius(p->product) < p->x.high) {
        snprintf(text, sizeof text, "product, hottest: %s °C",
                 df_figure_number(a, sizeof a, df_celsius(p->product), 0));
        rule(f, o, bounds, true, df_axis_at(&p->x, df_celsius(p->product)), text);
    }
    if (ultimate > 0.0 && log_mbar(log(ultimate)) > p->y.low) {
        snprintf(text, sizeof text, "pump, ultimate: %.3g mbar", ultimate / 100.0);
        rule(f, o, bounds, false, df_axis_at(&p->y, log_mbar(log(ultimate))), text);
    }
}

static void draw_picture(df_figure *f, pressure_picture *p, df_obstacles *o, const char *x_title) {
    cairo_t *c = df_figure_cairo(f);
    df_box bounds = {p->x.page_low, p->y.page_high, p->x.page_high - p->x.page_low, p->y.page_low - p->y.page_high};
    const df_ink band = {0.66, 0.66, 0.66};
    df_end_label label[DF_MAX_COMPONENTS + 1];
    size_t labels = 0, n = p->composition->n;
    cairo_save(c);
    cairo_rectangle(c, bounds.x, bounds.y, bounds.width, bounds.height);
    cairo_clip(c);
    draw_curve(f, p, &p->whole, band, 3.2, o); /* a band under the lines, which often run along it */
    for (size_t i = 0; i < n; i++) {
        df_ink ink = df_figure_curve_ink(i);
        draw_curve(f, p, &p->undercooled[i], ink, 0.45, o);
        draw_curve(f, p, &p->crystal[i], ink, 1.0, o);
        draw_curve(f, p, &p->liquid[i], ink, 1.0, o);
    }
    for (size_t i = 0; i < n; i++)
        if (p->liquid[i].n > 0)
            df_figure_mark(f, df_axis_at(&p->x, df_celsius(p->liquid[i].temperature[0])),
                           df_axis_at(&p->y, log_mbar(p->liquid[i].pressure_ln[0])), DF_MARK_CIRCLE, DF_MARK_OPEN);
    cairo_restore(c);
    for (size_t i = 0; i <= n; i++) {
        const curve *own = i == n ? &p->whole : p->liquid[i].n > 0 ? &p->liquid[i] : &p->crystal[i];
        if (own->n == 0)
            continue;
        double y = df_axis_at(&p->y, log_mbar(own->pressure_ln[own->n - 1]));
        if (y > p->y.page_low)
            continue;
        label[labels++] = (df_end_label){fmax(y, p->y.page_high + 2.0), 0.0,
                                         i == n ? "this mixture" : p->composition->component[i]->name,
                                         i == n ? DF_INK_GREY : df_figure_curve_ink(i), i == n};
    }
    df_figure_frame(f, &p->x, &p->y, true, x_title, "pressure, mbar");
    const df_axis *y = &p->y;
    df_figure_name_ends(f, label, labels, p->x.page_high, y->page_high, y->page_low, PLOT_RIGHT - 16.0);
    if (p->dryer != NULL)
        draw_dryer(f, p, o, bounds);
    mark_corner(f, p, o, bounds, p->liquidus, "first solid");
    mark_corner(f, p, o, bounds, p->solidus, "all solid");
}

/* Runs the dryer's reference load with the mixture in it. What cannot be run leaves the two lines out. */
static df_status run_load(df_context *ctx, pressure_picture *p, const df_pairs *pairs, df_freezing_mode mode) {
    p->product = p->surface = NAN;
    for (size_t i = 0; i < p->composition->n; i++)
        if (p->dryer == NULL || p->composition->component[i]->is_involatile)
            return DF_OK;
    df_stand *stand = calloc(1, sizeof *stand);
    df_job *job = calloc(1, sizeof *job);
    df_status status = stand == NULL || job == NULL ? df_fail(ctx, DF_E_MEMORY, "out of memory") : DF_OK;
    if (status == DF_OK) {
        df_job_reference(job, p->dryer, p->composition);
        job->mode = mode;
        status = df_stand_judge(ctx, stand, job, p->dryer, pairs, false);
        if (status == DF_OK && stand->simulated) {
            p->product = stand->run.classes[0].hottest;
            p->surface = stand->run.highest_trap_surface;
            snprintf(p->load, sizeof p->load, "%ld x %s, %.3g mL (%s)", job->group[0].count,
                     job->group[0].container.name, 1e6 * job->group[0].fill, df_standing_name(stand->standing));
        }
        df_stand_free(stand);
    }
    free(stand);
    free(job);
    return status;
}

static void write_notes(pressure_picture *p) {
    df_text_puts(&p->notes,
                 "Grey band: total over the mixture on its cooling path. Lines: crystal below and liquid above the "
                 "melting point (open circle), and finer still the undercooled liquid. Dashed: continued "
                 "outside the range of the source.");
    if (p->load[0] != '\0')
        df_text_printf(
            &p->notes,
            " Product and loaded trap: hottest frozen point and warmest surface of the coil in a run of the "
            "dryer's reference load, %s.",
            p->load);
    for (size_t i = 0; i < p->composition->n; i++) {
        const df_substance *s = p->composition->component[i];
        if (s->is_involatile)
            continue;
        df_text_printf(&p->notes, " %s: %s, %s%s.", s->name, df_grade_name(s->vapour_pressure.grade),
                       s->vapour_pressure.source, s->is_water ? "; ice by IAPWS R14-08 (2011)" : "");
    }
    df_figure_trust(&p->notes, " Liquid: ", p->mixture, p->allowed, DF_BASIS_MOLE);
}

static df_status draw(df_context *ctx, df_figure *f, pressure_picture *p, df_text *out, df_freezing_mode mode) {
    char heading[300], below[500], title[340], words[160], percent[32];
    double fraction[DF_MAX_COMPONENTS];
    df_text line = {0};
    df_figure_mixture_name(heading, sizeof heading, p->composition);
    snprintf(title, sizeof title, "Vapour pressures of %s", heading);
    df_composition_fractions(fraction, p->composition, p->composition->basis);
    for (size_t i = 0; i < p->composition->n; i++)
        df_text_printf(&line, "%s%s %s", i > 0 ? ", " : "", p->composition->component[i]->name,
                       df_part_percent(percent, sizeof percent, fraction[i]));
    snprintf(below, sizeof below, "%s (%s)%s%s; %s", df_text_string(&line), df_figure_unit(p->composition->basis),
             p->dryer != NULL ? "; dryer: " : "", p->dryer != NULL ? p->dryer->name : "",
             df_figure_mode_words(words, sizeof words, p->composition, mode));
    df_text_free(&line);
    write_notes(p);
    df_sheet sheet = {.heading = heading,
                      .subheading = below,
                      .title = title,
                      .notes = df_text_string(&p->notes),
                      .picture = PLOT_TOP + PLOT_HEIGHT + 33.0};
    df_status status = df_sheet_begin(ctx, f, &sheet);
    if (status < 0)
        return status;
    cairo_translate(df_figure_cairo(f), 0.0, sheet.top);
    df_obstacles o = {0};
    draw_picture(f, p, &o, "temperature, °C");
    bool failed = o.failed || p->notes.failed;
    df_obstacles_free(&o);
    return failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : df_figure_finish(ctx, out, f);
}

static void write_curve(df_text *csv, const char *kind, const char *name, size_t number, const curve *c) {
    for (size_t i = 0; i < c->n; i++) {
        df_figure_csv_row(csv, kind, name, number);
        df_part_csv_number(csv, df_celsius(c->temperature[i]));
        df_part_csv_number(csv, exp(c->pressure_ln[i]) / 100.0);
        df_text_puts(csv, c->extrapolated[i] ? ",yes\r\n" : ",no\r\n");
    }
}

static void write_point(df_text *csv, const char *kind, const char *name, double temperature, double pressure) {
    if (isnan(temperature) && isnan(pressure))
        return;
    df_figure_csv_row(csv, kind, name, 0);
    df_part_csv_number(csv, df_celsius(temperature));
    df_part_csv_number(csv, pressure / 100.0);
    df_text_puts(csv, ",\r\n");
}

/* The same curves and marks as a table. */
static void write_numbers(df_text *csv, const pressure_picture *p) {
    size_t number = 0;
    df_figure_csv_begin(csv);
    df_text_puts(csv, ",temperature_C,pressure_mbar,continued_outside_source\r\n");
    for (size_t i = 0; i < p->composition->n; i++) {
        const curve *const own[] = {&p->crystal[i], &p->liquid[i], &p->undercooled[i]};
        static const char *const kind[] = {"crystal", "liquid", "undercooled liquid"};
        for (int k = 0; k < 3; k++)
            if (own[k]->n > 0)
                write_curve(csv, kind[k], p->composition->component[i]->name, ++number, own[k]);
    }
    write_curve(csv, "this mixture", "", ++number, &p->whole);
    for (size_t i = 0; i < p->composition->n; i++)
        if (p->liquid[i].n > 0)
            write_point(csv, "melting point", p->composition->component[i]->name, p->liquid[i].temperature[0],
                        exp(p->liquid[i].pressure_ln[0]));
    write_point(csv, "first solid", "", p->liquidus, exp(curve_at(&p->whole, p->liquidus)));
    write_point(csv, "all solid", "", p->solidus, exp(curve_at(&p->whole, p->solidus)));
    if (p->dryer == NULL)
        return;
    write_point(csv, "trap", "no load", df_trap_no_load(&p->dryer->trap[0]), NAN);
    write_point(csv, "trap", "loaded", p->surface, NAN);
    write_point(csv, "product", "hottest", p->product, NAN);
    if (p->dryer->pump.ultimate > 0.0)
        write_point(csv, "pump", "ultimate", NAN, p->dryer->pump.ultimate);
}

df_status df_report_pressure_figure(df_context *ctx, df_text *svg, df_text *csv, const df_pairs *pairs,
                                    const df_composition *c, const df_dryer *dryer, df_freezing_mode mode) {
    pressure_picture *p = calloc(1, sizeof *p);
    df_figure *figure = NULL;
    if (p == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    p->composition = c;
    p->dryer = dryer;
    double coldest = USUAL_COLDEST, lowest = -4.0; /* log10 mbar */
    if (dryer != NULL) {
        coldest = fmin(coldest, 10.0 * floor((df_celsius(df_trap_no_load(&dryer->trap[0])) - 5.0) / 10.0));
        lowest = fmin(lowest, floor(log_mbar(log(fmax(dryer->pump.ultimate, 1e-6))) - 0.3));
    }
    p->x = (df_axis){coldest, WARMEST, PLOT_LEFT, DF_FIGURE_WIDTH - PLOT_RIGHT};
    p->y = (df_axis){lowest, 3.0, PLOT_TOP + PLOT_HEIGHT, PLOT_TOP};
    double from = DF_ZERO_CELSIUS + coldest, to = DF_ZERO_CELSIUS + WARMEST;
    df_status status = df_mixture_create(ctx, &p->mixture, pairs, c->component, c->n);
    if (status >= 0)
        status = df_composition_allow(ctx, p->allowed, p->mixture, c, mode);
    if (status >= 0)
        status =
            df_mixture_freezing_range(ctx, &p->liquidus, &p->solidus, p->mixture, c->x, p->allowed, DF_PART_LOWEST);
    for (size_t i = 0; i < c->n && status >= 0; i++)
        follow_component(p, i, from, to);
    if (status >= 0)
        status = follow_mixture(ctx, p, from, to);
    if (status >= 0)
        status = run_load(ctx, p, pairs, mode);
    if (status >= 0 && csv != NULL)
        write_numbers(csv, p);
    if (status >= 0 && csv != NULL && csv->failed)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status >= 0 && svg != NULL)
        status = df_figure_create(ctx, &figure);
    if (status >= 0 && svg != NULL)
        status = draw(ctx, figure, p, svg, mode);
    df_figure_free(figure);
    df_mixture_free(p->mixture);
    df_text_free(&p->notes);
    free(p);
    return status;
}
