/* The drawing kit: page, text, axes, marks, labels. */
#include "report/figure.h"

#include <cairo-svg.h>
#include <math.h>
#include <pango/pangocairo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FAMILIES "Liberation Sans, DejaVu Sans, sans-serif"
#define MOST_LINES 6
#define FAR 1e3        /* points: further than anything on a page */
#define LEAST_SEEN 0.2 /* points from its middle to its edge: a region thinner than that looks like a line */

struct df_figure {
    PangoFontMap *fonts;
    PangoContext *pango;
    cairo_surface_t *surface;
    cairo_t *cairo;
    df_text svg, words;
    char title[160];
};

/* ---- page ----------------------------------------------------------------------------------------------------- */

df_status df_figure_create(df_context *ctx, df_figure **figure) {
    *figure = NULL;
    df_figure *f = calloc(1, sizeof *f);
    if (f == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    /* A font map of our own: nothing is shared between threads, nothing is left behind. */
    f->fonts = pango_cairo_font_map_new();
    if (f->fonts != NULL) {
        pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(f->fonts), 72.0);
        f->pango = pango_font_map_create_context(f->fonts);
    }
    if (f->pango == NULL) {
        df_figure_free(f);
        return df_fail(ctx, DF_E_INTERNAL, "no fonts can be set up to draw with");
    }
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(f->pango, options);
    pango_context_set_round_glyph_positions(f->pango, FALSE);
    pango_context_set_language(f->pango, pango_language_from_string("en"));
    cairo_font_options_destroy(options);
    *figure = f;
    return DF_OK;
}

void df_figure_free(df_figure *f) {
    if (f == NULL)
        return;
    if (f->cairo != NULL)
        cairo_destroy(f->cairo);
    if (f->surface != NULL)
        cairo_surface_destroy(f->surface);
    if (f->pango != NULL)
        g_object_unref(f->pango);
    if (f->fonts != NULL)
        g_object_unref(f->fonts);
    df_text_free(&f->svg);
    df_text_free(&f->words);
    free(f);
}

static cairo_status_t take_bytes(void *closure, const unsigned char *bytes, unsigned int length) {
    df_text *text = closure;
    df_text_append(text, (const char *)bytes, length);
    return text->failed ? CAIRO_STATUS_WRITE_ERROR : CAIRO_STATUS_SUCCESS;
}

df_status df_figure_page(df_context *ctx, df_figure *f, double width, double height, const char *title) {
    f->surface = cairo_svg_surface_create_for_stream(take_bytes, &f->svg, width, height);
    cairo_svg_surface_restrict_to_version(f->surface, CAIRO_SVG_VERSION_1_1);
    f->cairo = cairo_create(f->surface);
    if (cairo_status(f->cairo) != CAIRO_STATUS_SUCCESS)
        return df_fail(ctx, DF_E_INTERNAL, "a figure cannot be begun: %s",
                       cairo_status_to_string(cairo_status(f->cairo)));
    snprintf(f->title, sizeof f->title, "%s", title);
    df_figure_ink(f, DF_INK_WHITE);
    cairo_paint(f->cairo);
    cairo_set_line_join(f->cairo, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_cap(f->cairo, CAIRO_LINE_CAP_ROUND);
    return DF_OK;
}

static void put_escaped(df_text *out, const char *text) {
    for (; *text != '\0'; text++)
        if (*text == '&')
            df_text_puts(out, "&amp;");
        else if (*text == '<')
            df_text_puts(out, "&lt;");
        else if (*text == '>')
            df_text_puts(out, "&gt;");
        else if ((unsigned char)*text >= 0x20 || *text == '\n')
            df_text_append(out, text, 1);
}

/* Cairo numbers surfaces through the whole life of the program; here the numbers begin anew. */
static void put_renumbered(df_text *out, const char *svg) {
    static const char word[] = "surface";
    char seen[16][16];
    size_t count = 0;
    for (const char *next; (next = strstr(svg, word)) != NULL;) {
        const char *number = next + sizeof word - 1;
        size_t digits = strspn(number, "0123456789"), k = 0;
        df_text_append(out, svg, (size_t)(number - svg));
        svg = number;
        if (digits == 0 || digits >= sizeof seen[0])
            continue;
        while (k < count && (strlen(seen[k]) != digits || strncmp(seen[k], number, digits) != 0))
            k++;
        if (k == sizeof seen / sizeof seen[0])
            continue;
        if (k == count)
            snprintf(seen[count++], sizeof seen[0], "%.*s", (int)digits, number);
        df_text_printf(out, "%zu", k + 1);
        svg = number + digits;
    }
    df_text_puts(out, svg);
}

df_status df_figure_finish(df_context *ctx, df_text *out, df_figure *f) {
    cairo_status_t drawn = cairo_status(f->cairo);
    cairo_surface_finish(f->surface);
    if (drawn == CAIRO_STATUS_SUCCESS)
        drawn = cairo_surface_status(f->surface);
    if (f->svg.failed || f->words.failed || drawn == CAIRO_STATUS_NO_MEMORY)
        return df_fail(ctx, DF_E_MEMORY, "out of memory, or the figure grew too large");
    const char *svg = df_text_string(&f->svg), *root = strstr(svg, "<svg"), *end = root ? strchr(root, '>') : NULL;
    if (drawn != CAIRO_STATUS_SUCCESS || end == NULL)
        return df_fail(ctx, DF_E_INTERNAL, "the figure could not be drawn: %s", cairo_status_to_string(drawn));
    df_text_append(out, svg, (size_t)(end - svg));
    df_text_puts(out, " role=\"img\">\n<title>");
    put_escaped(out, f->title);
    df_text_puts(out, "</title>\n<desc>");
    put_escaped(out, df_text_string(&f->words));
    df_text_puts(out, "</desc>");
    put_renumbered(out, end + 1);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the figure grew too large") : DF_OK;
}

cairo_t *df_figure_cairo(df_figure *f) {
    return f->cairo;
}

void df_figure_ink(df_figure *f, df_ink ink) {
    cairo_set_source_rgb(f->cairo, ink.red, ink.green, ink.blue);
}

void df_figure_line_style(df_figure *f, double width, const double *dash, int dashes) {
    cairo_set_line_width(f->cairo, width);
    cairo_set_dash(f->cairo, dash, dashes, 0.0);
}

/* ---- text ----------------------------------------------------------------------------------------------------- */

static PangoLayout *lay_out(const df_figure *f, const char *text, df_text_style style) {
    PangoLayout *layout = pango_layout_new(f->pango);
    PangoFontDescription *font = pango_font_description_from_string(FAMILIES);
    pango_font_description_set_absolute_size(font, style.size * PANGO_SCALE);
    if (style.bold)
        pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    if (style.wrap > 0.0) {
        pango_layout_set_width(layout, (int)(style.wrap * PANGO_SCALE));
        pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    }
    pango_layout_set_text(layout, text, -1);
    return layout;
}

void df_figure_text_extent(const df_figure *f, double *width, double *height, const char *text, df_text_style style) {
    int w = 0, h = 0;
    PangoLayout *layout = lay_out(f, text, style);
    pango_layout_get_size(layout, &w, &h);
    g_object_unref(layout);
    *width = (double)w / PANGO_SCALE;
    *height = (double)h / PANGO_SCALE;
}

void df_figure_text(df_figure *f, double x, double y, double across, double down, double angle, const char *text,
                    df_text_style style) {
    int w = 0, h = 0;
    PangoLayout *layout = lay_out(f, text, style);
    PangoAlignment alignment = across > 0.7   ? PANGO_ALIGN_RIGHT
                               : across > 0.3 ? PANGO_ALIGN_CENTER
                                              : PANGO_ALIGN_LEFT;
    if (style.wrap <= 0.0)
        pango_layout_set_alignment(layout, alignment);
    pango_layout_get_size(layout, &w, &h);
    cairo_save(f->cairo);
    cairo_translate(f->cairo, x, y);
    if (angle != 0.0)
        cairo_rotate(f->cairo, angle);
    cairo_move_to(f->cairo, -across * (double)w / PANGO_SCALE, -down * (double)h / PANGO_SCALE);
    if (style.halo) {
        pango_cairo_layout_path(f->cairo, layout);
        df_figure_ink(f, DF_INK_WHITE);
        df_figure_line_style(f, 2.2, NULL, 0);
        cairo_stroke(f->cairo);
        cairo_move_to(f->cairo, -across * (double)w / PANGO_SCALE, -down * (double)h / PANGO_SCALE);
    }
    df_figure_ink(f, style.ink);
    pango_cairo_show_layout(f->cairo, layout);
    cairo_new_path(f->cairo);
    cairo_restore(f->cairo);
    g_object_unref(layout);
    for (const char *c = text; *c != '\0'; c++) /* a line each in the description */
        if (strncmp(c, "\u00a0", 2) == 0) {
            df_text_puts(&f->words, " ");
            c++;
        } else
            df_text_append(&f->words, *c == '\n' ? " " : c, 1);
    df_text_puts(&f->words, "\n");
}

const char *df_figure_number(char *out, size_t size, double value, int decimals) {
    double unit = pow(10.0, -decimals);
    if (fabs(value) < 0.5 * unit)
        value = 0.0; /* no minus nought */
    snprintf(out, size, "%s%.*f", value < 0.0 ? "\u2212" : "", decimals, fabs(value));
    return out;
}

const char *df_figure_formula(char *out, size_t size, const char *name) {
    static const char *const low[] = {"\u2080", "\u2081", "\u2082", "\u2083", "\u2084",
                                      "\u2085", "\u2086", "\u2087", "\u2088", "\u2089"};
    size_t used = 0;
    bool after_dot = false;
    for (size_t i = 0; name[i] != '\0' && used + 4 < size; i++) {
        bool digit = name[i] >= '0' && name[i] <= '9';
        if (name[i] == '.' && i > 0 && (name[i + 1] == 'H' || (name[i + 1] >= '0' && name[i + 1] <= '9'))) {
            used += (size_t)snprintf(out + used, size - used, "\u00b7");
            after_dot = true;
        } else if (digit && after_dot && ((name[i - 1] >= 'A' && name[i - 1] <= 'Z')))
            used += (size_t)snprintf(out + used, size - used, "%s", low[name[i] - '0']);
        else
            out[used++] = name[i] == '_' ? ' ' : name[i];
    }
    out[used] = '\0';
    return out;
}

/* ---- axes ----------------------------------------------------------------------------------------------------- */

double df_axis_at(const df_axis *a, double value) {
    return a->page_low + (value - a->low) / (a->high - a->low) * (a->page_high - a->page_low);
}

double df_axis_step(const df_axis *a, int most) {
    static const double nice[] = {1.0, 2.0, 5.0, 10.0};
    double rough = (a->high - a->low) / most, power = pow(10.0, floor(log10(rough)));
    for (size_t i = 0; i < sizeof nice / sizeof nice[0]; i++)
        if (nice[i] * power >= rough * (1.0 - 1e-9))
            return nice[i] * power;
    return 10.0 * power;
}

static void tick(df_figure *f, double x, double y, double dx, double dy) {
    cairo_move_to(f->cairo, x, y);
    cairo_rel_line_to(f->cairo, dx, dy);
    cairo_stroke(f->cairo);
}

void df_figure_axis_x(df_figure *f, const df_axis *x, double bottom, double step, const char *title) {
    const df_text_style numbers = {.size = 8.0, .ink = DF_INK_BLACK}, titles = {.size = 8.5, .ink = DF_INK_BLACK};
    char word[64];
    for (double value = ceil(x->low / step - 1e-9) * step; value <= x->high + 1e-9 * step; value += step) {
        df_figure_ink(f, DF_INK_BLACK);
        df_figure_line_style(f, 0.6, NULL, 0);
        tick(f, df_axis_at(x, value), bottom, 0.0, 3.0);
        if (value + 0.5 * step < x->high)
            tick(f, df_axis_at(x, value + 0.5 * step), bottom, 0.0, 1.8);
        if (title != NULL)
            df_figure_text(f, df_axis_at(x, value), bottom + 4.0, 0.5, 0.0, 0.0,
                           df_figure_number(word, sizeof word, value, step < 1.0 ? 1 : 0), numbers);
    }
    if (title != NULL)
        df_figure_text(f, 0.5 * (x->page_low + x->page_high), bottom + 15.5, 0.5, 0.0, 0.0, title, titles);
}

void df_figure_axis_y(df_figure *f, double left, const df_axis *y, bool decades, int most, double apart,
                      const char *title) {
    const df_text_style numbers = {.size = 8.0, .ink = DF_INK_BLACK}, titles = {.size = 8.5, .ink = DF_INK_BLACK};
    char power[64];
    double widest = 0.0, step = decades ? 1.0 : df_axis_step(y, most);
    for (double value = ceil(y->low / step - 1e-9) * step; value <= y->high + 1e-9 * step; value += step) {
        double width, height;
        df_figure_ink(f, DF_INK_BLACK);
        df_figure_line_style(f, 0.6, NULL, 0);
        tick(f, left, df_axis_at(y, value), -3.0, 0.0);
        for (int k = 2; decades && k < 10 && value + log10(k) < y->high; k++)
            tick(f, left, df_axis_at(y, value + log10(k)), -1.8, 0.0);
        if (!decades && value + 0.5 * step < y->high)
            tick(f, left, df_axis_at(y, value + 0.5 * step), -1.8, 0.0);
        if (decades) /* 0.001, 0.01 ... 1000 read faster than powers */
            snprintf(power, sizeof power, "%.*f", value < -0.5 ? (int)lround(-value) : 0, pow(10.0, value));
        else
            df_figure_number(power, sizeof power, value, step < 1.0 ? 1 : 0);
        df_figure_text_extent(f, &width, &height, power, numbers);
        widest = fmax(widest, width);
        df_figure_text(f, left - 4.5, df_axis_at(y, value), 1.0, 0.5, 0.0, power, numbers);
    }
    df_figure_text(f, left - (apart > 0.0 ? apart : 8.0 + widest), 0.5 * (y->page_low + y->page_high), 0.5, 1.0,
                   -M_PI / 2.0, title, titles);
}

void df_figure_frame(df_figure *f, const df_axis *x, const df_axis *y, bool decades, const char *x_title,
                     const char *y_title) {
    df_figure_ink(f, DF_INK_BLACK);
    df_figure_line_style(f, 0.8, NULL, 0);
    cairo_rectangle(f->cairo, x->page_low, y->page_high, x->page_high - x->page_low, y->page_low - y->page_high);
    cairo_stroke(f->cairo);
    df_figure_axis_x(f, x, y->page_low, df_axis_step(x, 7), x_title);
    df_figure_axis_y(f, x->page_low, y, decades, 8, 0.0, y_title);
}

/* ---- marks ---------------------------------------------------------------------------------------------------- */

void df_figure_mark(df_figure *f, double x, double y, df_mark_shape shape, df_mark_fill fill) {
    cairo_t *c = f->cairo;
    cairo_new_path(c);
    switch (shape) {
    case DF_MARK_CIRCLE:
        cairo_arc(c, x, y, 1.75, 0.0, 2.0 * M_PI);
        break;
    case DF_MARK_SQUARE:
        cairo_rectangle(c, x - 1.6, y - 1.6, 3.2, 3.2);
        break;
    case DF_MARK_DIAMOND:
        cairo_move_to(c, x - 2.4, y);
        cairo_line_to(c, x, y - 2.4);
        cairo_line_to(c, x + 2.4, y);
        cairo_line_to(c, x, y + 2.4);
        break;
    case DF_MARK_POINTER:
        cairo_move_to(c, x, y);
        cairo_line_to(c, x + 4.2, y - 2.1);
        cairo_line_to(c, x + 4.2, y + 2.1);
        break;
    }
    cairo_close_path(c);
    df_figure_ink(f, fill == DF_MARK_FULL   ? DF_INK_BLACK
                     : fill == DF_MARK_HALF ? (df_ink){0.68, 0.68, 0.68}
                                            : DF_INK_WHITE);
    cairo_fill_preserve(c);
    df_figure_ink(f, DF_INK_BLACK);
    df_figure_line_style(f, 0.6, NULL, 0);
    cairo_stroke(c);
}

void df_figure_hatch(df_figure *f, double x, double y, double width, double height, double apart, df_ink ink) {
    df_figure_ink(f, ink);
    df_figure_line_style(f, 0.4, NULL, 0);
    double first = floor((x + y) / apart) * apart; /* on one lattice, so that neighbours' lines meet */
    for (double s = first; s < x + width + y + height; s += apart) {
        double x1 = fmax(x, s - y - height), x2 = fmin(x + width, s - y);
        if (x2 <= x1)
            continue;
        cairo_move_to(f->cairo, x1, s - x1);
        cairo_line_to(f->cairo, x2, s - x2);
    }
    cairo_stroke(f->cairo);
}

double df_figure_legend(df_figure *f, double x, double y, double width, const df_legend_entry *entry, size_t count,
                        bool draw) {
    const df_text_style style = {.size = 7.5, .ink = DF_INK_BLACK};
    double at = x, row = 0.0, line = 11.5;
    for (size_t i = 0; i < count; i++) {
        double w, h, lead = entry[i].mark ? 9.0 : 0.0;
        df_figure_text_extent(f, &w, &h, entry[i].text, style);
        if (at > x && at + lead + w > x + width) {
            at = x;
            row += line;
        }
        if (draw && entry[i].mark)
            df_figure_mark(f, at + (entry[i].shape == DF_MARK_POINTER ? 1.0 : 3.0), y + row + 0.5 * line,
                           entry[i].shape, entry[i].fill);
        if (draw)
            df_figure_text(f, at + lead, y + row + 0.5 * line, 0.0, 0.5, 0.0, entry[i].text, style);
        at += lead + w + 12.0;
    }
    return count > 0 ? row + line : 0.0;
}

/* ---- obstacles ------------------------------------------------------------------------------------------------ */

static void *room_for(void *data, size_t *room, size_t count, size_t size, bool *failed) {
    if (count < *room)
        return data;
    size_t more = *room > 0 ? 2 * *room : 64;
    void *grown = realloc(data, more * size);
    if (grown == NULL) {
        *failed = true;
        return data;
    }
    *room = more;
    return grown;
}

void df_obstacles_line(df_obstacles *o, double x1, double y1, double x2, double y2) {
    o->line = room_for(o->line, &o->line_room, o->lines, sizeof *o->line, &o->failed);
    if (o->lines < o->line_room)
        memcpy(o->line[o->lines++], (const double[]){x1, y1, x2, y2}, sizeof *o->line);
}

void df_obstacles_box(df_obstacles *o, df_box box) {
    o->box = room_for(o->box, &o->box_room, o->boxes, sizeof *o->box, &o->failed);
    if (o->boxes < o->box_room)
        o->box[o->boxes++] = box;
}

void df_obstacles_free(df_obstacles *o) {
    free(o->line);
    free(o->box);
    memset(o, 0, sizeof *o);
}

static bool overlap(df_box a, df_box b) {
    return a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;
}

static double point_to_line(double x, double y, const double *l) {
    double dx = l[2] - l[0], dy = l[3] - l[1], length = dx * dx + dy * dy;
    double t = length > 0.0 ? fmin(1.0, fmax(0.0, ((x - l[0]) * dx + (y - l[1]) * dy) / length)) : 0.0;
    return hypot(x - l[0] - t * dx, y - l[1] - t * dy);
}

/* Whether a line touches a box (Liang and Barsky, ACM Trans. Graph. 3 (1984) 1, citation from memory). */
static bool touches(const double *l, df_box b) {
    double t0 = 0.0, t1 = 1.0, dx = l[2] - l[0], dy = l[3] - l[1];
    const double p[4] = {-dx, dx, -dy, dy};
    const double q[4] = {l[0] - b.x, b.x + b.width - l[0], l[1] - b.y, b.y + b.height - l[1]};
    for (int k = 0; k < 4; k++) {
        if (p[k] == 0.0) {
            if (q[k] < 0.0)
                return false;
        } else if (p[k] < 0.0)
            t0 = fmax(t0, q[k] / p[k]);
        else
            t1 = fmin(t1, q[k] / p[k]);
    }
    return t0 <= t1;
}

static double box_to_point(df_box b, double x, double y) {
    return hypot(fmax(fmax(b.x - x, x - b.x - b.width), 0.0), fmax(fmax(b.y - y, y - b.y - b.height), 0.0));
}

static double box_to_line(df_box b, const double *l) {
    if (touches(l, b))
        return 0.0;
    double nearest = fmin(box_to_point(b, l[0], l[1]), box_to_point(b, l[2], l[3]));
    for (int k = 0; k < 4; k++)
        nearest = fmin(nearest, point_to_line(b.x + (k & 1 ? b.width : 0.0), b.y + (k & 2 ? b.height : 0.0), l));
    return nearest;
}

/* Distance of a box from all lines; stops looking once it is below `enough`, and looks no further than `far`. */
static double clearance(const df_obstacles *o, df_box b, double enough, double far, bool cross_soft) {
    double nearest = far;
    for (size_t i = 0; i < o->lines && nearest >= enough; i++) {
        const double *l = o->line[i];
        if (cross_soft && i + 1 == o->soft)
            continue;
        if (fmin(l[0], l[2]) > b.x + b.width + nearest || fmax(l[0], l[2]) < b.x - nearest ||
            fmin(l[1], l[3]) > b.y + b.height + nearest || fmax(l[1], l[3]) < b.y - nearest)
            continue;
        nearest = fmin(nearest, box_to_line(b, l));
    }
    return nearest;
}

static bool off_boxes(const df_obstacles *o, df_box b) {
    for (size_t i = 0; i < o->boxes; i++)
        if (overlap(b, o->box[i]))
            return false;
    return true;
}

static bool within(df_box b, df_box bounds) {
    return b.x >= bounds.x && b.y >= bounds.y && b.x + b.width <= bounds.x + bounds.width &&
           b.y + b.height <= bounds.y + bounds.height;
}

bool df_obstacles_clear(const df_obstacles *o, df_box box, df_box bounds, double clear) {
    return within(box, bounds) && off_boxes(o, box) && clearance(o, box, clear, clear, false) >= clear;
}

/* ---- regions -------------------------------------------------------------------------------------------------- */

void df_region_begin(df_region *r) {
    r->ring = room_for(r->ring, &r->ring_room, r->rings, sizeof *r->ring, &r->failed);
    if (r->rings < r->ring_room)
        r->ring[r->rings++] = r->points;
}

void df_region_add(df_region *r, double x, double y) {
    r->point = room_for(r->point, &r->point_room, r->points, sizeof *r->point, &r->failed);
    if (r->points < r->point_room)
        memcpy(r->point[r->points++], (const double[]){x, y}, sizeof *r->point);
}

void df_region_free(df_region *r) {
    free(r->point);
    free(r->ring);
    memset(r, 0, sizeof *r);
}

static size_t ring_end(const df_region *r, size_t ring) {
    return ring + 1 < r->rings ? r->ring[ring + 1] : r->points;
}

void df_region_path(df_figure *f, const df_region *r) {
    cairo_new_path(f->cairo);
    for (size_t ring = 0; ring < r->rings; ring++) {
        for (size_t i = r->ring[ring]; i < ring_end(r, ring); i++)
            if (i == r->ring[ring])
                cairo_move_to(f->cairo, r->point[i][0], r->point[i][1]);
            else
                cairo_line_to(f->cairo, r->point[i][0], r->point[i][1]);
        cairo_close_path(f->cairo);
    }
}

df_box df_region_extent(const df_region *r) {
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < r->points; i++)
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], r->point[i][k]);
            high[k] = fmax(high[k], r->point[i][k]);
        }
    return (df_box){low[0], low[1], high[0] - low[0], high[1] - low[1]};
}

bool df_region_inside(const df_region *r, double x, double y) {
    bool in = false;
    for (size_t ring = 0; ring < r->rings; ring++) {
        size_t first = r->ring[ring], end = ring_end(r, ring);
        for (size_t i = first; i < end; i++) {
            const double *a = r->point[i], *b = r->point[i + 1 < end ? i + 1 : first];
            if ((a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
                in = !in;
        }
    }
    return in;
}

/* The point of the region furthest from every line, looked for on rows through it; returns its distance. */
static double heart(double *at, const df_region *r, const df_obstacles *o) {
    double best = 0.0;
    df_box e = df_region_extent(r);
    for (int row = 0; row < 97; row++) {
        double y = e.y + e.height * (row + 0.5) / 97.0, cut[64];
        size_t cuts = 0;
        for (size_t ring = 0; ring < r->rings; ring++) {
            size_t first = r->ring[ring], end = ring_end(r, ring);
            for (size_t i = first; i < end && cuts < 64; i++) {
                const double *a = r->point[i], *b = r->point[i + 1 < end ? i + 1 : first];
                if ((a[1] > y) == (b[1] > y))
                    continue;
                double x = a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
                size_t k = cuts++;
                for (; k > 0 && cut[k - 1] > x; k--)
                    cut[k] = cut[k - 1];
                cut[k] = x;
            }
        }
        for (size_t k = 0; k + 1 < cuts; k += 2)
            for (int part = 1; part < 8; part++) {
                double x = cut[k] + (cut[k + 1] - cut[k]) * part / 8.0;
                double free = clearance(o, (df_box){x, y, 0.0, 0.0}, best, FAR, false);
                if (free > best) {
                    best = free;
                    at[0] = x;
                    at[1] = y;
                }
            }
    }
    return best;
}

/* The name on `lines` lines as even as they come, broken at spaces but not before a plus sign; false where it has
 * not that many parts. */
static bool break_name(char *out, size_t size, const char *name, int lines) {
    size_t at[16], count = 0, length = strlen(name), used = 0;
    for (size_t i = 0; i < length && count < 16; i++)
        if (name[i] == ' ' && name[i + 1] != '+')
            at[count++] = i;
    if ((size_t)lines > count + 1 || length + 1 > size)
        return false;
    memcpy(out, name, length + 1);
    for (int line = 1; line < lines; line++) {
        size_t wish = length * (size_t)line / (size_t)lines, best = used;
        size_t last = count - (size_t)(lines - 1 - line); /* leave breaks for the lines that follow */
        for (size_t k = used; k < last; k++) {
            /* after a plus sign rather than within a part, where that is nearly as even */
            long off = labs((long)at[k] - (long)wish) + (name[at[k] - 1] == '+' ? 0 : 6);
            long best_off = labs((long)at[best] - (long)wish) + (name[at[best] - 1] == '+' ? 0 : 6);
            if (off < best_off)
                best = k;
        }
        out[at[best]] = '\n';
        used = best + 1;
    }
    return true;
}

/* The box that the letters of a text fill, a little less high than its lines. */
static df_box letters(double x, double y, double width, double height) {
    return (df_box){x - 0.5 * width, y - 0.5 * height + 1.2, width, height - 2.4};
}

static void take_box(df_obstacles *o, df_box b) {
    df_obstacles_box(o, (df_box){b.x - 4.0, b.y - 5.0, b.width + 8.0, b.height + 10.0});
}

/* Names a region inside itself; false where there is no room for it. */
static bool name_inside(df_figure *f, df_obstacles *o, const df_region *r, df_box bounds, df_text_style style,
                        const double *centre, bool cross_soft) {
    char text[sizeof r->name], best_text[sizeof r->name] = "";
    df_box extent = df_region_extent(r), best = {0};
    double best_score = -INFINITY;
    for (int lines = 1; lines <= MOST_LINES; lines++) {
        double width, height;
        if (!break_name(text, sizeof text, r->name, lines))
            break;
        df_figure_text_extent(f, &width, &height, text, style);
        for (double y = extent.y + 0.5 * height - 1.0; y < extent.y + extent.height - 0.5 * height + 1.0; y += 1.5)
            for (double x = extent.x + 0.5 * width; x < extent.x + extent.width - 0.5 * width; x += 3.0) {
                df_box box = letters(x, y, width, height);
                /* What can still be had here; most places fall at this. */
                double rest = -0.02 * hypot(x - centre[0], y - centre[1]) - 1.5 * (lines - 1);
                if (rest + 9.0 <= best_score || !within(box, bounds) || !df_region_inside(r, x, y) ||
                    !off_boxes(o, box))
                    continue;
                double free = clearance(o, box, 1.0, 9.0, cross_soft);
                if (free >= 1.0 && free + rest > best_score) {
                    best_score = free + rest;
                    best = box;
                    memcpy(best_text, text, sizeof text);
                }
            }
    }
    if (best_score == -INFINITY)
        return false;
    style.halo = style.halo || cross_soft;
    df_figure_text(f, best.x + 0.5 * best.width, best.y + 0.5 * best.height, 0.5, 0.5, 0.0, best_text, style);
    take_box(o, best);
    return true;
}

/* Names a region from beside it, with a line to `target` in it. */
static void name_beside(df_figure *f, df_obstacles *o, const df_region *r, df_box bounds, df_text_style style,
                        const double *target) {
    char text[sizeof r->name], best_text[sizeof r->name] = "";
    df_box best = {0};
    double best_cost = INFINITY, best_line[4] = {0};
    for (int lines = 1; lines <= 3; lines++) {
        double width, height;
        if (!break_name(text, sizeof text, r->name, lines))
            break;
        df_figure_text_extent(f, &width, &height, text, style);
        for (double y = bounds.y + 0.5 * height; y + 0.5 * height < bounds.y + bounds.height; y += 2.0)
            for (double x = bounds.x + 0.5 * width + 1.0; x + 0.5 * width < bounds.x + bounds.width; x += 3.0) {
                df_box box = letters(x, y, width, height);
                double end[2] = {fmin(fmax(target[0], box.x), box.x + box.width),
                                 fmin(fmax(target[1], box.y), box.y + box.height)};
                double length = hypot(target[0] - end[0], target[1] - end[1]);
                double line[4] = {end[0], end[1], target[0], target[1]}, cost = length + 3.0 * (lines - 1);
                if (length < 7.0 || cost >= best_cost || !off_boxes(o, box) ||
                    clearance(o, box, 1.0, 1.0, false) < 1.0)
                    continue;
                for (size_t k = 0; k < o->boxes; k++)
                    if (touches(line, o->box[k]))
                        cost += 60.0;
                if (cost < best_cost) {
                    best_cost = cost;
                    best = box;
                    memcpy(best_text, text, sizeof text);
                    memcpy(best_line, line, sizeof line);
                }
            }
    }
    if (best_cost == INFINITY)
        return; /* no room at all on this page */
    double length = hypot(best_line[2] - best_line[0], best_line[3] - best_line[1]);
    df_figure_ink(f, DF_INK_GREY);
    df_figure_line_style(f, 0.5, NULL, 0);
    cairo_move_to(f->cairo, best_line[0] + (best_line[2] - best_line[0]) / length,
                  best_line[1] + (best_line[3] - best_line[1]) / length);
    cairo_line_to(f->cairo, best_line[2], best_line[3]);
    cairo_stroke(f->cairo);
    cairo_arc(f->cairo, best_line[2], best_line[3], 0.9, 0.0, 2.0 * M_PI);
    cairo_fill(f->cairo);
    df_figure_text(f, best.x + 0.5 * best.width, best.y + 0.5 * best.height, 0.5, 0.5, 0.0, best_text, style);
    take_box(o, best);
    for (int k = 0; k <= 16; k++) /* other names keep off the line */
        df_obstacles_box(o, (df_box){best_line[0] + (best_line[2] - best_line[0]) * k / 16.0 - 0.7,
                                     best_line[1] + (best_line[3] - best_line[1]) * k / 16.0 - 0.7, 1.4, 1.4});
}

typedef struct naming {
    df_region *region;
    double heart[2];
} naming;

/* The tightest first. */
static int smaller_region(const void *a, const void *b) {
    const naming *p = a, *q = b;
    return p->region->area != q->region->area ? (p->region->area < q->region->area ? -1 : 1)
                                              : strcmp(p->region->name, q->region->name);
}

/* From left to right: lines to the names then cross least. */
static int further_left(const void *a, const void *b) {
    const naming *p = a, *q = b;
    return p->heart[0] != q->heart[0] ? (p->heart[0] < q->heart[0] ? -1 : 1) : smaller_region(a, b);
}

/* The regions that want a name still, each with its middle; returns how many, with *list to be freed. */
static size_t unnamed(naming **list, const df_obstacles *o, df_region *region, size_t count) {
    size_t n = 0;
    *list = calloc(count + 1, sizeof **list);
    for (size_t i = 0; *list != NULL && i < count; i++) {
        naming *own = &(*list)[n];
        own->region = &region[i];
        if (region[i].named || region[i].name[0] == '\0')
            continue;
        if (heart(own->heart, own->region, o) >= LEAST_SEEN)
            n++;
    }
    return n;
}

void df_figure_name_inside(df_figure *f, df_obstacles *o, df_region *region, size_t count, df_box bounds,
                           df_text_style style) {
    naming *list;
    size_t n = unnamed(&list, o, region, count);
    if (list == NULL) {
        o->failed = true;
        return;
    }
    qsort(list, n, sizeof *list, smaller_region);
    for (int crossing = 0; crossing <= (o->soft > 0 ? 1 : 0); crossing++)
        for (size_t i = 0; i < n; i++)
            if (!list[i].region->named)
                list[i].region->named =
                    name_inside(f, o, list[i].region, bounds, style, list[i].heart, crossing != 0);
    free(list);
}

void df_figure_name_beside(df_figure *f, df_obstacles *o, df_text *key, df_region *region, size_t count,
                           df_box bounds, df_text_style style, size_t most) {
    naming *list;
    size_t n = unnamed(&list, o, region, count);
    if (list == NULL) {
        o->failed = true;
        return;
    }
    qsort(list, n, sizeof *list, further_left);
    for (size_t i = 0; i < n; i++) {
        df_region *r = list[i].region;
        bool numbered = n > most, placed = false;
        if (numbered) {
            df_text_printf(key, "%s%zu\u00a0 %s", i > 0 ? ";  " : "", i + 1, r->name);
            snprintf(r->name, sizeof r->name, "%zu", i + 1);
            style.bold = true;
            placed = name_inside(f, o, r, bounds, style, list[i].heart, true);
        }
        if (!placed)
            name_beside(f, o, r, bounds, style, list[i].heart);
        r->named = true;
    }
    free(list);
}
