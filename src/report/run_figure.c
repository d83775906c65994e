/* A run over time: panels over one axis of hours. */
#include "report/figure_parts.h"
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PAGE_WIDTH (170.0 * 72.0 / 25.4)
#define PLOT_LEFT 48.0
#define PLOT_RIGHT 112.0 /* for the names of the curves */
#define PLOT_TOP 17.0    /* the numbers of what happens stand above */
#define GAP 7.0
#define TITLE_APART 34.0
#define MOST_CURVES 24
#define MOST_CLASSES 3  /* shown, nearest to their limits first */
#define LEAST_STEP 0.25 /* points on the page: closer moments are one */
#define LEAST_MBAR -4.0 /* decades of the pressure axis and of what is left, at most */
#define LEAST_LEFT -2.0
#define TRACE 1e-12
#define LEAST_DRIED 0.02 /* of the depth: less is no cake yet; and more than DRIED nothing frozen that counts */
#define DRIED 0.99
#define RINGS 12
#define FIRST 0.02   /* of the run, that does not stretch the axes: warming up, evacuation */
#define KEY_LINES 18 /* what happens, each on a line of its own; more run on */

typedef struct picture picture;

/* A curve of a panel: its value at moment i, NAN where there is none. */
typedef struct trace {
    double (*at)(const picture *p, size_t moment, size_t index);
    size_t index;
    char name[80];
    df_ink ink;
    int pattern; /* of patterns[] */
    double width;
    bool band; /* broad and light under the others */
} trace;

typedef struct panel {
    const char *title;
    double height;
    bool decades;
    df_axis y;
    trace curve[MOST_CURVES];
    size_t curves;
} panel;

typedef struct event_mark {
    size_t notice, more; /* index in the run; further ones that it stands for */
    bool alarm, warning;
} event_mark;

enum { TEMPERATURES, PRESSURES, LEFT, DEPTHS, LOADS, TRAPS, PANELS };

struct picture {
    const df_stand *stand;
    const df_run *run;
    size_t shown[MOST_CLASSES], classes; /* classes drawn */
    event_mark mark[DF_MAX_NOTICES];
    size_t marks;
    df_axis x;
    panel panel[PANELS];
    df_text notes, key;
};

/* Lines that are told apart without colour: unbroken, dashes, dots, dash and dot, long dashes, dash and two dots. */
static const double patterns[][6] = {
    {0}, {4.5, 2.2}, {1.0, 1.8}, {5.0, 1.8, 1.0, 1.8}, {9.0, 2.4}, {5.0, 1.6, 1.0, 1.6, 1.0, 1.6}};
static const int pattern_length[] = {0, 2, 2, 4, 2, 6};
enum { PATTERNS = sizeof pattern_length / sizeof pattern_length[0] };

/* ---- curves --------------------------------------------------------------------------------------------------- */

static double shelf_at(const picture *p, size_t i, size_t index) {
    (void)index;
    return df_celsius(p->run->moment[i].shelf);
}

static double hottest_at(const picture *p, size_t i, size_t k) {
    return df_celsius(p->run->moment[i].container[k].hottest);
}

static double depth_at(const picture *p, size_t i, size_t k) {
    return 1e3 * p->run->moment[i].container[k].depth;
}

static double dried_share(const picture *p, size_t i, size_t k) {
    return p->run->moment[i].container[k].depth / p->stand->setup.classes[k].shape.thickness;
}

/* Colder than the hottest point while there is something frozen. */
static double front_at(const picture *p, size_t i, size_t k) {
    return dried_share(p, i, k) < DRIED ? df_celsius(p->run->moment[i].container[k].front) : NAN;
}

/* Once there is a dried layer worth the name. */
static double glass_at(const picture *p, size_t i, size_t k) {
    return dried_share(p, i, k) > LEAST_DRIED ? df_celsius(p->run->moment[i].container[k].glass) : NAN;
}

/* Of the frozen part: the solidus until the solvent has gone, then the framework's melting point; the solute's critical
 * temperature where that is lower. */
static double limit_at(const picture *p, size_t i, size_t k) {
    const df_moment *m = &p->run->moment[i];
    const df_class_run *r = &p->run->classes[k];
    const df_class *c = &p->stand->setup.classes[k];
    size_t framework = 0;
    if (dried_share(p, i, k) >= DRIED)
        return NAN;
    for (size_t j = 1; j < c->composition.n; j++)
        if (c->path->volume_fraction[j] > c->path->volume_fraction[framework])
            framework = j;
    double limit = m->time < r->solvent_time || isnan(r->solvent_time)
                       ? p->stand->effective_solidus
                       : c->composition.component[framework]->melting_temperature;
    return df_celsius(isnan(c->critical_temperature) ? limit : fmin(limit, c->critical_temperature));
}

static double log_mbar(double pascal) {
    return pascal > TRACE ? log10(pascal / 100.0) : NAN;
}

static double total_at(const picture *p, size_t i, size_t index) {
    (void)index;
    return log_mbar(df_part_total(&p->run->moment[i], p->run->species));
}

static double partial_at(const picture *p, size_t i, size_t species) {
    return log_mbar(p->run->moment[i].chamber[species]);
}

static double wanted_at(const picture *p, size_t i, size_t index) {
    (void)index;
    return log_mbar(p->run->moment[i].wanted);
}

/* What the classes still hold of a species, free and bound, log10 of % of all. */
static double left_at(const picture *p, size_t i, size_t species) {
    const df_setup *setup = &p->stand->setup;
    double left = 0.0, all = 0.0;
    for (size_t k = 0; k < setup->class_count; k++) {
        const df_class *c = &setup->classes[k];
        double fraction[DF_MAX_COMPONENTS];
        df_composition_fractions(fraction, &c->composition, DF_BASIS_MASS);
        for (size_t j = 0; j < c->composition.n; j++)
            if (c->composition.component[j] == p->run->substance[species]) {
                double mass = (double)c->count * c->mass * fraction[j];
                all += mass;
                left += mass * fmax(p->run->moment[i].container[k].left[j], 0.0);
            }
    }
    return left > TRACE * all ? log10(100.0 * left / all) : NAN;
}

static double load_at(const picture *p, size_t i, size_t species) {
    return 1e3 * fmax(p->run->moment[i].deposit[species], 0.0);
}

static double surface_at(const picture *p, size_t i, size_t trap) {
    return df_celsius(p->run->moment[i].trap_surface[trap]);
}

static double coil_at(const picture *p, size_t i, size_t trap) {
    return df_celsius(p->run->moment[i].coil[trap]);
}

static trace *add(panel *n, double (*at)(const picture *, size_t, size_t), size_t index, df_ink ink, int pattern,
                  double width) {
    trace *t = &n->curve[n->curves < MOST_CURVES - 1 ? n->curves++ : MOST_CURVES - 1];
    *t = (trace){.at = at, .index = index, .ink = ink, .pattern = pattern % PATTERNS, .width = width};
    return t;
}

static const char *class_words(char *out, size_t size, const picture *p, size_t k) {
    snprintf(out, size, "%.60s", p->run->class_count > 1 ? p->stand->setup.classes[k].name : "hottest point");
    return out;
}

/* The classes that come nearest to their limits. */
static void choose_classes(picture *p) {
    const df_run *run = p->run;
    bool taken[DF_MAX_CLASSES] = {false};
    while (p->classes < MOST_CLASSES && p->classes < run->class_count) {
        size_t best = DF_MAX_CLASSES;
        for (size_t k = 0; k < run->class_count; k++)
            if (!taken[k] &&
                (best == DF_MAX_CLASSES || run->classes[k].least_margin < run->classes[best].least_margin))
                best = k;
        taken[best] = true;
        p->shown[p->classes++] = best;
    }
}

static void make_curves(picture *p) {
    const df_run *run = p->run;
    const df_dryer *dryer = p->stand->setup.dryer;
    const df_ink black = DF_INK_BLACK, grey = DF_INK_GREY;
    panel *n = &p->panel[TEMPERATURES];
    char name[64];
    size_t worst = p->shown[0];
    bool glass = false, on_shelf = false;
    *n = (panel){.title = "temperature, °C", .height = 132.0};
    for (size_t k = 0; k < run->class_count; k++)
        on_shelf = on_shelf || p->stand->setup.classes[k].place == DF_PLACE_SHELF;
    if (on_shelf)
        snprintf(add(n, shelf_at, 0, grey, 1, 0.8)->name, 80, "shelf");
    for (size_t c = 0; c < p->classes; c++)
        snprintf(add(n, hottest_at, p->shown[c], df_figure_curve_ink(c), c == 0 ? 0 : (int)c + 2, 1.2)->name, 80,
                 "%s", class_words(name, sizeof name, p, p->shown[c]));
    snprintf(add(n, front_at, worst, df_figure_curve_ink(0), 2, 0.8)->name, 80, "front%s%.60s",
             run->class_count > 1 ? ", " : "", run->class_count > 1 ? p->stand->setup.classes[worst].name : "");
    snprintf(add(n, limit_at, worst, black, 3, 1.0)->name, 80, "limit of what is frozen");
    for (size_t i = 0; i < run->moments; i++)
        glass = glass || isfinite(run->moment[i].container[worst].glass);
    if (glass)
        snprintf(add(n, glass_at, worst, black, 5, 1.0)->name, 80, "Tg of the dried cake");

    n = &p->panel[PRESSURES];
    *n = (panel){.title = "chamber, mbar", .height = 96.0, .decades = true};
    trace *total = add(n, total_at, 0, grey, 0, 3.2);
    total->band = true;
    snprintf(total->name, 80, "total");
    snprintf(add(n, wanted_at, 0, grey, 1, 0.8)->name, 80, "set point");
    for (size_t i = 0; i < run->species; i++)
        snprintf(add(n, partial_at, i, df_figure_curve_ink(i), i == 0 ? 0 : (int)i + 2, 1.0)->name, 80, "%.60s",
                 run->substance[i]->name);
    snprintf(add(n, partial_at, run->species, grey, 4, 0.7)->name, 80, "air");

    n = &p->panel[LEFT];
    *n = (panel){.title = "left, % of load", .height = 84.0, .decades = true};
    for (size_t i = 0; i < run->species; i++)
        snprintf(add(n, left_at, i, df_figure_curve_ink(i), i == 0 ? 0 : (int)i + 2, 1.1)->name, 80, "%.60s",
                 run->substance[i]->name);

    n = &p->panel[DEPTHS];
    *n = (panel){.title = "dried, mm", .height = 62.0};
    for (size_t c = 0; c < p->classes; c++)
        snprintf(add(n, depth_at, p->shown[c], df_figure_curve_ink(c), c == 0 ? 0 : (int)c + 2, 1.1)->name, 80,
                 "%.60s", run->class_count > 1 ? class_words(name, sizeof name, p, p->shown[c]) : "framework");

    n = &p->panel[LOADS];
    *n = (panel){.title = "in traps, g", .height = 68.0};
    for (size_t i = 0; i < run->species; i++)
        snprintf(add(n, load_at, i, df_figure_curve_ink(i), i == 0 ? 0 : (int)i + 2, 1.1)->name, 80, "%.60s",
                 run->substance[i]->name);

    n = &p->panel[TRAPS];
    *n = (panel){.title = "traps, °C", .height = 62.0};
    for (size_t j = 0; j < dryer->traps; j++) {
        snprintf(add(n, surface_at, j, df_figure_curve_ink(j), j == 0 ? 0 : 3, 1.1)->name, 80, "%s, surface",
                 df_part_trap(dryer, j));
        snprintf(add(n, coil_at, j, df_figure_curve_ink(j), j == 0 ? 2 : 5, 0.8)->name, 80, "%s, %s",
                 df_part_trap(dryer, j), dryer->trap[j].kind == DF_TRAP_FINGER ? "finger" : "coil");
    }
}

/* ---- axes ----------------------------------------------------------------------------------------------------- */

/* Hours between numbers, so that days are seen: 24, 12, 6 ... */
static double hour_step(const df_axis *x) {
    static const double steps[] = {0.1, 0.2, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0, 120.0, 240.0};
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        if ((x->high - x->low) / steps[i] <= 12.0)
            return steps[i];
    return df_axis_step(x, 10);
}

/* s, until when a moment counts as the run's beginning. */
static double beginning(const picture *p) {
    double start = p->run->moment[0].time;
    return start + FIRST * (p->run->time - start);
}

static void set_axes(picture *p) {
    const df_run *run = p->run;
    double top = PLOT_TOP;
    p->x = (df_axis){run->moment[0].time / 3600.0, fmax(run->time, run->moment[0].time + 60.0) / 3600.0, PLOT_LEFT,
                     PAGE_WIDTH - PLOT_RIGHT};
    for (int k = 0; k < PANELS; k++) {
        panel *n = &p->panel[k];
        double low = INFINITY, high = -INFINITY;
        for (size_t c = 0; c < n->curves; c++)
            for (size_t i = 0; i < run->moments; i++) {
                double y = n->curve[c].at(p, i, n->curve[c].index);
                if (isnan(y) || n->curve[c].at == glass_at || /* dry, it is far off */
                    (k <= PRESSURES && run->moment[i].time < beginning(p)))
                    continue;
                low = fmin(low, y);
                high = fmax(high, y);
            }
        if (!(low <= high)) /* nothing to show */
            low = high = 0.0;
        if (n->decades) {
            low = k == LEFT ? fmax(LEAST_LEFT, floor(low)) : fmax(LEAST_MBAR, floor(low));
            high = k == LEFT ? 2.1 : fmax(ceil(high - 0.05), low + 2.0);
            low = fmin(low, high - 1.0);
        } else {
            double pad = fmax(0.06 * (high - low), 1.0);
            low = k == DEPTHS || k == LOADS ? 0.0 : low - pad;
            high += pad;
        }
        n->y = (df_axis){low, high, top + n->height, top};
        top += n->height + GAP;
    }
}

/* ---- drawing -------------------------------------------------------------------------------------------------- */

static void set_style(df_figure *f, const trace *t) {
    const df_ink light = {0.70, 0.70, 0.70};
    df_figure_ink(f, t->band ? light : t->ink);
    df_figure_line_style(f, t->width, patterns[t->pattern], pattern_length[t->pattern]);
    cairo_set_line_cap(df_figure_cairo(f), CAIRO_LINE_CAP_BUTT);
}

static void draw_trace(df_figure *f, const picture *p, const panel *n, const trace *t, df_obstacles *o) {
    cairo_t *cairo = df_figure_cairo(f);
    double x0 = NAN, y0 = NAN;
    set_style(f, t);
    for (size_t i = 0; i < p->run->moments; i++) {
        double value = t->at(p, i, t->index);
        double x = df_axis_at(&p->x, p->run->moment[i].time / 3600.0), y = df_axis_at(&n->y, value);
        if (isnan(value)) {
            x0 = NAN;
            continue;
        }
        y = fmin(fmax(y, n->y.page_high - 20.0), n->y.page_low + 20.0); /* clipped, but not without bounds */
        if (isnan(x0))
            cairo_move_to(cairo, x, y);
        else if (fabs(x - x0) < LEAST_STEP && fabs(y - y0) < LEAST_STEP)
            continue;
        else {
            cairo_line_to(cairo, x, y);
            df_obstacles_line(o, x0, y0, x, y);
        }
        x0 = x;
        y0 = y;
    }
    cairo_stroke(cairo);
    cairo_set_line_cap(cairo, CAIRO_LINE_CAP_ROUND);
}

/* The last moment at which a curve is within its panel; false where it never is. */
static bool last_seen(size_t *moment, const picture *p, const panel *n, const trace *t) {
    for (size_t i = p->run->moments; i-- > 0;) {
        double y = t->at(p, i, t->index);
        if (isfinite(y) && y >= n->y.low && y <= n->y.high) {
            *moment = i;
            return true;
        }
    }
    return false;
}

/* Names a curve that ends or leaves its panel: close beside it, from its last point backwards; else with a line to that. */
static void name_inside(df_figure *f, const picture *p, const panel *n, const trace *t, size_t last, df_box bounds,
                        df_obstacles *o) {
    const df_text_style style = {.size = 7.5, .ink = t->ink, .halo = true};
    for (int rings = 2; rings <= RINGS; rings += RINGS - 2)
        for (size_t i = last; i > 0; i--) {
            double y = t->at(p, i, t->index);
            if (!(y >= n->y.low && y <= n->y.high) || p->run->moment[i].time < beginning(p))
                continue;
            if (df_figure_put_free(f, o, bounds, df_axis_at(&p->x, p->run->moment[i].time / 3600.0),
                                   df_axis_at(&n->y, y), t->name, style, rings))
                return;
        }
}

/* Names at the right ends; of a curve that ends or leaves before, beside its last point. */
static void name_traces(df_figure *f, const picture *p, const panel *n, df_obstacles *o) {
    df_end_label label[MOST_CURVES];
    size_t labels = 0, last;
    df_box bounds = {p->x.page_low + 2.0, n->y.page_high + 1.0, p->x.page_high - p->x.page_low - 4.0,
                     n->y.page_low - n->y.page_high - 2.0};
    for (size_t c = 0; c < n->curves; c++) {
        const trace *t = &n->curve[c];
        if (!last_seen(&last, p, n, t))
            continue;
        double x = df_axis_at(&p->x, p->run->moment[last].time / 3600.0);
        double y = df_axis_at(&n->y, t->at(p, last, t->index));
        if (x > p->x.page_high - 1.0)
            label[labels++] = (df_end_label){y, 0.0, t->name, t->ink, t->band};
        else
            name_inside(f, p, n, t, last, bounds, o);
    }
    df_figure_name_ends(f, label, labels, p->x.page_high, n->y.page_high, n->y.page_low, PLOT_RIGHT - 16.0);
}

static void draw_panel(df_figure *f, const picture *p, const panel *n, double step, bool last) {
    cairo_t *cairo = df_figure_cairo(f);
    double left = p->x.page_low, width = p->x.page_high - left, top = n->y.page_high, height = n->y.page_low - top;
    const df_ink faint = {0.88, 0.88, 0.88};
    df_obstacles o = {0};
    df_figure_ink(f, faint);
    df_figure_line_style(f, 0.5, NULL, 0);
    for (double hour = ceil(p->x.low / step) * step; hour <= p->x.high; hour += step) {
        cairo_move_to(cairo, df_axis_at(&p->x, hour), top);
        cairo_line_to(cairo, df_axis_at(&p->x, hour), top + height);
    }
    cairo_stroke(cairo);
    cairo_save(cairo);
    cairo_rectangle(cairo, left, top, width, height);
    cairo_clip(cairo);
    for (size_t c = 0; c < n->curves; c++)
        draw_trace(f, p, n, &n->curve[c], &o);
    cairo_restore(cairo);
    df_figure_ink(f, DF_INK_BLACK);
    df_figure_line_style(f, 0.8, NULL, 0);
    cairo_rectangle(cairo, left, top, width, height);
    cairo_stroke(cairo);
    df_figure_axis_y(f, left, &n->y, n->decades, n->height > 100.0 ? 6 : 4, TITLE_APART, n->title);
    df_figure_axis_x(f, &p->x, top + height, step, last ? "time since the pump was started, h" : NULL);
    name_traces(f, p, n, &o);
    df_obstacles_free(&o);
}

/* ---- what happens --------------------------------------------------------------------------------------------- */

/* All notices; where they are many, of those of containers the first of each kind alone. */
static void choose_marks(picture *p) {
    const df_run *run = p->run;
    bool all = run->notices <= KEY_LINES;
    for (size_t i = 0; i < run->notices; i++) {
        size_t first = p->marks;
        for (size_t k = 0; k < p->marks && !all && run->notice[i].class_ >= 0 && first == p->marks; k++)
            if (run->notice[p->mark[k].notice].kind == run->notice[i].kind)
                first = k;
        if (first == p->marks)
            p->mark[p->marks++] = (event_mark){.notice = i};
        else
            p->mark[first].more++;
    }
}

/* Words for each mark, into the key; and whether it is an alarm. */
static df_status write_key(df_context *ctx, picture *p) {
    const df_run *run = p->run;
    for (size_t k = 0; k < p->marks; k++) {
        const df_notice *n = &run->notice[p->mark[k].notice];
        df_notice_text text;
        char hour[32], class_[80] = "", more[32] = "";
        df_status status = df_notice_lookup(ctx, &text, n->kind);
        if (status != DF_OK)
            return status;
        p->mark[k].alarm = strcmp(text.weight, "alarm") == 0;
        p->mark[k].warning = strcmp(text.weight, "warning") == 0;
        if (n->class_ >= 0 && run->class_count > 1)
            snprintf(class_, sizeof class_, "%.60s: ", p->stand->setup.classes[n->class_].name);
        if (p->mark[k].more > 0)
            snprintf(more, sizeof more, " (first of %zu)", p->mark[k].more + 1);
        df_text_printf(&p->key, "%s%zu\u00a0%s%s\u00a0h %s%s%s",
                       k == 0                 ? ""
                       : p->marks > KEY_LINES ? "; "
                                              : "\n",
                       k + 1,
                       p->mark[k].alarm     ? "!!\u00a0"
                       : p->mark[k].warning ? "!\u00a0"
                                            : "",
                       df_figure_number(hour, sizeof hour, n->time / 3600.0, n->time < 36000.0 ? 2 : 1), class_,
                       text.what, more);
    }
    return DF_OK;
}

/* A line through all panels for each mark, and its number above, pushed apart from the others. */
static void draw_marks(df_figure *f, const picture *p, double bottom) {
    static const double dash[] = {1.0, 2.0};
    cairo_t *cairo = df_figure_cairo(f);
    double x[DF_MAX_NOTICES], at[DF_MAX_NOTICES], half[DF_MAX_NOTICES], height;
    char number[16];
    for (size_t k = 0; k < p->marks; k++) {
        const df_text_style style = {.size = 7.0, .bold = p->mark[k].alarm || p->mark[k].warning};
        snprintf(number, sizeof number, "%zu", k + 1);
        df_figure_text_extent(f, &half[k], &height, number, style);
        half[k] = 0.5 * half[k] + 1.2;
        x[k] = df_axis_at(&p->x, p->run->notice[p->mark[k].notice].time / 3600.0);
        at[k] = fmax(x[k], k > 0 ? at[k - 1] + half[k - 1] + half[k] : 0.0);
    }
    for (size_t k = p->marks; k-- > 0;)
        at[k] = fmin(at[k], k + 1 < p->marks ? at[k + 1] - half[k + 1] - half[k] : PAGE_WIDTH - half[k]);
    for (size_t k = 0; k < p->marks; k++) {
        bool alarm = p->mark[k].alarm;
        df_figure_ink(f, DF_INK_GREY);
        df_figure_line_style(f, alarm ? 0.9 : 0.5, dash, alarm ? 0 : 2);
        cairo_move_to(cairo, x[k], PLOT_TOP - 2.0);
        cairo_line_to(cairo, x[k], bottom);
        cairo_stroke(cairo);
        df_figure_line_style(f, 0.4, NULL, 0);
        cairo_move_to(cairo, x[k], PLOT_TOP - 2.0);
        cairo_line_to(cairo, at[k], PLOT_TOP - 6.0);
        cairo_stroke(cairo);
        snprintf(number, sizeof number, "%zu", k + 1);
        df_figure_text(f, at[k], PLOT_TOP - 6.0, 0.5, 1.0, 0.0, number,
                       (df_text_style){.size = 7.0, .bold = alarm || p->mark[k].warning, .ink = DF_INK_BLACK});
    }
}

/* ---- the page ------------------------------------------------------------------------------------------------- */

static void write_notes(picture *p) {
    const df_run *run = p->run;
    df_text_puts(
        &p->notes,
        "Temperatures of containers: hottest point, of the frozen part while there is one, then of the cake; "
        "limit: solidus until the solvent has gone, then the melting point of what is left, or the solute's "
        "critical temperature where that is lower. Left: free and bound. In traps: also what was drained. "
        "Numbers: what happens, ! warning, !! alarm; lines of alarms are unbroken.");
    if (p->classes < run->class_count)
        df_text_printf(&p->notes, " Of %zu kinds of containers the %zu that come nearest to their limits are shown.",
                       run->class_count, p->classes);
    df_text_printf(&p->notes,
                   " Activity in the mixture: %s (worst pair). Cake resistance: %s. Computed, not measured.",
                   df_pair_grade_name(p->stand->path.grade),
                   p->stand->setup.classes[0].cake.stated ? "stated in the job" : "assumed from the share of solids");
}

static df_status draw(df_context *ctx, df_figure *f, picture *p, df_text *out, const df_job *job) {
    char below[400], title[200];
    const df_stand *s = p->stand;
    snprintf(title, sizeof title, "Run of %s over time", job->name);
    snprintf(below, sizeof below, "%s; %ld containers; %s, %s %.1f h", s->setup.dryer->name, s->containers,
             df_standing_name(s->standing), s->run.end == DF_END_DRY ? "dry after" : "not dry; followed until",
             s->run.time / 3600.0);
    choose_marks(p);
    df_status status = write_key(ctx, p);
    if (status < 0)
        return status;
    write_notes(p);
    double bottom = p->panel[PANELS - 1].y.page_low, step = hour_step(&p->x);
    df_sheet sheet = {.heading = job->name,
                      .subheading = below,
                      .title = title,
                      .key = df_text_string(&p->key),
                      .notes = df_text_string(&p->notes),
                      .width = PAGE_WIDTH,
                      .picture = bottom + 32.0};
    status = df_sheet_begin(ctx, f, &sheet);
    if (status < 0)
        return status;
    cairo_translate(df_figure_cairo(f), 0.0, sheet.top);
    draw_marks(f, p, bottom);
    for (int k = 0; k < PANELS; k++)
        draw_panel(f, p, &p->panel[k], step, k == PANELS - 1);
    return p->notes.failed || p->key.failed ? df_fail(ctx, DF_E_MEMORY, "out of memory")
                                            : df_figure_finish(ctx, out, f);
}

df_status df_report_run_figure(df_context *ctx, df_text *out, const df_stand *s, const df_job *job) {
    df_figure *figure = NULL;
    if (!s->simulated)
        return df_fail(ctx, DF_E_INPUT, "the sample is liquid when it is loaded: there is no run to draw");
    picture *p = calloc(1, sizeof *p);
    if (p == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    p->stand = s;
    p->run = &s->run;
    choose_classes(p);
    make_curves(p);
    set_axes(p);
    df_status status = df_figure_create(ctx, &figure);
    if (status >= 0)
        status = draw(ctx, figure, p, out, job);
    df_figure_free(figure);
    df_text_free(&p->notes);
    df_text_free(&p->key);
    free(p);
    return status;
}
