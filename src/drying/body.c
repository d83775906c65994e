/* One class of containers in model (a): fronts, heat, what is bound in the dried cake. docs/drying.md. */
#include "base/bernoulli.h"
#include "drying/system.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LAG 0.02           /* fraction behind the framework's front over which a pocket opens */
#define LEAST_CONTACT 0.02 /* of the heated wall: the last of the cake still touches the glass */
#define AIR_DIFFUSION                                                                                                \
    1.713e-5          /* m2/s of water vapour in air at 240 K and one atmosphere: Fuller, Schettler & Giddings, Ind. \
                                * Eng. Chem. 58 (1966) no. 5, 18; others by sqrt(Mw/M) */
#define FLUX_STRIDE 4 /* rows from one computed heat flux of the room to the next */
#define CORNER 0.005  /* of a solvent's pressure, and */
#define CORNER_LEAST 0.02 /* Pa: width of the corner where it stops to leave */
#define FILM (DF_GAS_CONSTANT * 240.0 / (AIR_DIFFUSION * DF_ATMOSPHERE)) /* s/mol per m of way and m2 */
#define OPENNESS 0.6     /* porosity over tortuosity of the dried layer: assumption, as in model (b) */
#define LEAST_TOTAL 1e-3 /* Pa */
#define MOST_PECLET 50.0
#define LEAST_PECLET -3.0 /* vapour that comes back is not drawn in faster than this */
#define ROUNDS 3
#define CLOSE 1e-4 /* of a Peclet number: what a straight line over so much leaves out is 1e-9 of the flow */

int df_species_index(df_system *s, const df_substance *substance) {
    for (size_t i = 0; i < s->species; i++)
        if (s->substance[i] == substance)
            return (int)i;
    if (s->species == SPECIES)
        return -1;
    s->substance[s->species] = substance;
    return (int)s->species++;
}

/* A table of the load's pure substances (by 1 K) at T. */
static double of_load(const double *table, double t) {
    return df_table_at(table, t - DF_DEPOSIT_FIRST, DF_DEPOSIT_POINTS);
}

enum { OVER, PURE, VAPOUR, STORED, FIELDS }; /* of a component in a row */
enum { LIQUID_LN, LIQUID, FREED, HELD };     /* of a bound component */

/* Components that the cake holds. */
static void find_bound(df_body *b, const df_class *c) {
    for (size_t i = 0; i < b->n; i++) {
        double all = b->initial[i], caught = fmin(c->sorption[i].bound * c->solids, DF_MOST_CAUGHT * all);
        if (!(caught > 0.0))
            continue;
        b->caught[i] = caught;
        b->initial[i] = all - caught;
        b->held[b->bound++] = i;
    }
}

/* Whether two classes can share their rows. */
static bool alike(const df_body *a, const df_body *b) {
    const df_class *p = a->c, *q = b->c;
    bool same = p->path == q->path && a->bound == b->bound && p->place == q->place &&
                p->container.outer_diameter == q->container.outer_diameter &&
                (p->room_area > 0.0) == (q->room_area > 0.0);
    for (size_t i = 0; same && i < a->n; i++)
        same = a->map[i] == b->map[i];
    for (size_t j = 0; same && j < a->bound; j++)
        same = a->held[j] == b->held[j] && p->sorption[a->held[j]].heat == q->sorption[b->held[j]].heat;
    return same;
}

static void fill_rows(df_body *b, const df_system *s) {
    const df_class *c = b->c;
    const df_frozen_path *p = c->path;
    const df_deposit *d = s->deposit;
    for (size_t k = 0; k < p->points; k++) {
        double t = p->lowest + p->step * (double)k, *row = &b->table[k * b->row], *held = row + FIELDS * b->n;
        for (size_t i = 0; i < b->n; i++) {
            size_t j = s->in_deposit[b->map[i]];
            double *r = row + FIELDS * i, share = p->species_liquid[i][k];
            r[OVER] = p->pressure_ln[i][k];
            r[PURE] = of_load(d->pressure_ln[j], t);
            r[STORED] = p->species_enthalpy[i][k];
            /* liquid enthalpy plus heat of vaporisation, so that crystal -> vapour costs the heat of sublimation */
            r[VAPOUR] = r[STORED] + of_load(d->vaporisation[j], t) + (1.0 - share) * of_load(d->fusion[j], t);
        }
        for (size_t h = 0; h < b->bound; h++) {
            size_t i = b->held[h], j = s->in_deposit[b->map[i]];
            held[HELD * h + LIQUID_LN] = of_load(d->liquid_ln[j], t);
            held[HELD * h + LIQUID] = of_load(d->liquid_enthalpy[j], t);
            held[HELD * h + FREED] = held[HELD * h + LIQUID] + of_load(d->vaporisation[j], t) + c->sorption[i].heat;
        }
    }
    bool hangs = c->place == DF_PLACE_MANIFOLD;
    if (!hangs && !(c->room_area > 0.0))
        return; /* no wall sees the room */
    double *flux = b->table + b->row - 1;
    for (size_t k = 0; k < p->points; k += FLUX_STRIDE)
        flux[k * b->row] =
            df_room_heat_flux(s->dryer->chamber.room_temperature, p->lowest + p->step * (double)k,
                              hangs ? c->container.outer_diameter : 0.0, hangs ? s->dryer->manifold.frost : 0.0);
    for (size_t k = 0; k < p->points; k++) {
        size_t low = k / FLUX_STRIDE * FLUX_STRIDE, rest = k - low;
        if (rest > 0)
            flux[k * b->row] = flux[low * b->row] +
                               (flux[(low + FLUX_STRIDE) * b->row] - flux[low * b->row]) * (double)rest / FLUX_STRIDE;
    }
}

static df_status make_rows(df_context *ctx, df_system *s, size_t k) {
    df_body *b = &s->body[k];
    b->row = FIELDS * b->n + HELD * b->bound + 1;
    for (size_t i = 0; i < k; i++)
        if (alike(&s->body[i], b)) {
            b->table = s->body[i].table;
            return DF_OK;
        }
    b->table = malloc(b->c->path->points * b->row * sizeof *b->table);
    if (b->table == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    b->own_table = true;
    fill_rows(b, s);
    return DF_OK;
}

void df_body_release(df_body *b) {
    if (b->own_table)
        free(b->table);
}

df_status df_body_prepare(df_context *ctx, df_system *s, size_t at) {
    const df_class *c = &s->setup->classes[at];
    const df_frozen_path *p = c->path;
    df_body *b = &s->body[at];
    double fractions[SPECIES], conductivity = 0.0, water_mass = 0.0180152675;
    df_composition_fractions(fractions, &c->composition, DF_BASIS_MASS);
    b->c = c;
    b->n = p->n;
    b->hint = &s->hint[at];
    double headspace = (c->container.brim_volume - c->shape.volume) / c->shape.free_area; /* m */
    b->film = FILM * fmax(headspace, 0.0) / c->shape.free_area;
    b->last_film = FILM / OPENNESS * c->shape.thickness / c->shape.free_area;
    for (size_t i = 0; i < p->n; i++) {
        const df_substance *sub = c->composition.component[i];
        b->per_mass[i] = 1.0 / sub->molar_mass;
        b->map[i] = df_species_index(s, sub);
        b->initial[i] = c->mass * fractions[i];
        b->open[i] = sqrt(sub->molar_mass / water_mass);
        b->conductance[i] = pow(p->volume_fraction[i], s->setup->pore_exponent) * b->open[i];
        if (p->volume_fraction[i] > p->volume_fraction[b->framework])
            b->framework = i;
        if (c->place == DF_PLACE_MANIFOLD)
            b->past_port[i] =
                1.0 / df_port_conductance(fmin(s->dryer->manifold.port_diameter, c->container.port_diameter), 0.05,
                                          sub->molar_mass, s->gas_temperature);
        conductivity += p->volume_fraction[i] * log(df_solid_conductivity(sub));
    }
    if (s->setup->secondary && c->solids > 0.0)
        find_bound(b, c);
    b->side = b->n + b->bound + 1;
    double outer = c->container.outer_diameter, inner = c->container.inner_diameter;
    if (c->place == DF_PLACE_MANIFOLD)
        b->wall_ratio = outer * outer / (inner * inner);
    else
        b->kv_area = c->kv_factor * (c->container.kind == DF_FLASK ? c->shape.contact[DF_SHAPE_POINTS - 1]
                                                                   : M_PI / 4.0 * outer * outer);
    b->conductivity = c->conductivity > 0.0 ? c->conductivity : exp(conductivity);
    b->rest = df_wetted_glass(&c->container, c->shape.volume) + c->solids * DF_SOLUTE_HEAT;
    b->solidus = df_effective_solidus(p, s->setup->trace_liquid);
    return make_rows(ctx, s, at);
}

/* Enthalpy of a container at node k of its path, over that of glass and solutes at the path's lowest temperature, J. */
static double enthalpy_at(const df_body *b, const double *own, size_t k) {
    const double *row = &b->table[k * b->row], *held = row + FIELDS * b->n;
    double sum = b->rest * b->c->path->step * (double)k;
    for (size_t i = 0; i < b->n; i++)
        sum += own[i] * row[FIELDS * i + STORED];
    for (size_t j = 0; j < b->bound; j++)
        sum += own[b->n + j] * held[HELD * j + LIQUID];
    return sum;
}

double df_body_enthalpy(const df_body *b, const double *own, double temperature) {
    const df_frozen_path *p = b->c->path;
    double at = (temperature - p->lowest) / p->step;
    size_t k = at > 0.0 ? (size_t)at : 0;
    if (k + 1 >= p->points)
        k = p->points - 2;
    double low = enthalpy_at(b, own, k);
    return low + (at - (double)k) * (enthalpy_at(b, own, k + 1) - low);
}

/* Where on the path's grid a container is, from its enthalpy: the tables are straight between nodes, so the cell is found
 * (from where it was last, then by bisection) and inverted exactly; beyond the ends the last cell goes on. */
static double place_of(const df_body *b, const double *own, double enthalpy) {
    size_t last = b->c->path->points - 2, low = *b->hint, high;
    double below = enthalpy_at(b, own, low), above = enthalpy_at(b, own, low + 1);
    if (enthalpy < below || enthalpy > above) {
        bool up = enthalpy > above;
        if (up ? low + 1 <= last : low > 0) { /* the cell beside it, as a rule */
            low = up ? low + 1 : low - 1;
            *(up ? &below : &above) = up ? above : below;
            *(up ? &above : &below) = enthalpy_at(b, own, up ? low + 1 : low);
        }
        if ((enthalpy < below && low > 0) || (enthalpy > above && low < last)) {
            high = up ? last + 1 : *b->hint;
            low = up ? low : 0;
            while (high - low > 1) {
                size_t middle = (low + high) / 2;
                *(enthalpy_at(b, own, middle) > enthalpy ? &high : &low) = middle;
            }
            below = enthalpy_at(b, own, low);
            above = enthalpy_at(b, own, low + 1);
        }
        *b->hint = low;
    }
    return (double)low + (enthalpy - below) / (above - below);
}

double df_body_others(const df_body *b, const double *own) {
    double framed = df_body_framed(b, own), other = 0.0;
    for (size_t i = 0; i < b->n; i++)
        if (i != b->framework && !b->gone[i])
            other += fmin(own[i], framed * b->initial[i]);
    double all = other + framed * b->initial[b->framework];
    return other != 0.0 && all > 0.0 ? other / all : 0.0;
}

/* Largest excursion of enthalpy that can still be a state of nature; false beyond it. */
static bool physical(const df_body *b, const double *own, double enthalpy) {
    double coldest = enthalpy_at(b, own, 0), warmest = enthalpy_at(b, own, b->c->path->points - 1);
    double slack = 0.2 * (warmest - coldest);
    return enthalpy > coldest - slack && enthalpy < warmest + slack;
}

/* The weight of the upper end lies within 0 and 1 beyond the ends, too. */
static inline df_cell cell_at(const df_body *b, double at) {
    size_t last = b->c->path->points - 2, k = at > 0.0 ? (size_t)at : 0;
    if (k > last)
        k = last;
    double up = df_within(at - (double)k, 0.0, 1.0);
    return (df_cell){&b->table[k * b->row], &b->table[(k + 1) * b->row], up};
}

static double in_cell(const df_cell *c, size_t field) {
    return c->low[field] + c->up * (c->high[field] - c->low[field]);
}

static double equilibrium(const df_sorption *q, double liquid_ln, double temperature, double pressure) {
    double activity = fmin(fmax(pressure / exp(liquid_ln), 0.0), 1.0);
    /* what is held tightly does not leave a cake that was never warm */
    double floor = q->tight > 0.0 ? q->tight / (1.0 + exp(fmin(temperature - DF_SORPTION_TIGHT, 50.0))) : 0.0;
    return fmax(df_sorption_equilibrium(q, activity), floor);
}

double df_body_equilibrium(const df_body *b, size_t j, double temperature, double pressure) {
    const df_frozen_path *p = b->c->path;
    df_cell here = cell_at(b, (temperature - p->lowest) / p->step);
    return equilibrium(&b->c->sorption[b->held[j]], in_cell(&here, FIELDS * b->n + HELD * j + LIQUID_LN), temperature,
                       pressure);
}

/* What leaves the dried part of the cake, or is taken up by it: dB/dt = -k (B - B0 f - C* m (1 - f)). */
static void look_bound(df_look *out, const df_body *b, const double *own, const double *chamber, double framed,
                       const df_cell *here) {
    double t = out->front, frozen = fmin(fmax(framed, 0.0), 1.0);
    for (size_t j = 0; j < b->bound; j++) {
        size_t i = b->held[j], field = FIELDS * b->n + HELD * j;
        const df_sorption *q = &b->c->sorption[i];
        out->release[j] = 0.0;
        if (!q->known)
            continue;
        double rest =
            b->caught[i] * frozen +
            equilibrium(q, in_cell(here, field + LIQUID_LN), t, chamber[b->map[i]]) * b->c->solids * (1.0 - frozen);
        out->release[j] = df_sorption_rate(q, t) * (own[b->n + j] - rest);
        out->heat_out += out->release[j] * in_cell(here, field + FREED);
    }
}

/* How much warmer the wall is than the front, K: shelf and room to the wall, through the frozen layer to the front.
 *     kv (shelf - wall) + room_area flux(wall) = through (wall - front)
 * The flux is straight between two nodes, so that an answer in the cell it was sought in is exact. */
static double lift_of(const df_body *b, const df_inside *in, double kv, double room_area, double shelf) {
    double step = b->c->path->step, lift = 0.0, from_shelf = kv * (shelf - in->front);
    size_t field = b->row - 1;
    df_cell here = cell_at(b, in->at);
    for (int round = 0;; round++) {
        double flux = in_cell(&here, field), slope = (here.low[field] - here.high[field]) / step;
        double u_room = room_area * (slope > 0.0 ? slope : 0.0); /* W/K */
        lift = (from_shelf + room_area * flux + u_room * lift) / (kv + u_room + in->through);
        df_cell next = cell_at(b, in->at + lift / step);
        if (round == 2 || next.low == here.low)
            return lift;
        here = next;
    }
}

/* Flow of each species out of the sample, kg/s: through the cake by its conductance, then through the pores of the dried layer
 * and the head of the container by diffusion and convection in the gas that is there (Stefan's tube; Bird, Stewart &
 * Lightfoot, Transport Phenomena, ch. 18):
 *     N_i = g_i (p_i - s_i) = K_i [B(-Pe_i) s_i - B(Pe_i) q_i],  B(x) = x/(e^x - 1),  Pe_i = N/(K_i P),  K_i = K sqrt(Mw/M_i)
 * s_i at the sample's side, q_i in the chamber, N the sum, from its balance in Pe = N/(K P) by a step of Halley's method from
 * where nothing flows (B = 1, B' = 1/2, B'' = 1/6), then at most three of Newton's: a function of the state, without memory. A
 * strong flow sweeps the other gas away and meets the whole pressure of the chamber; a weak one meets its own through gas that
 * stands. */
static void carried(double *flow, const df_body *b, const df_inside *in, const double *chamber, double total) {
    double g[SPECIES], h[SPECIES], q[SPECIES]; /* mol/(s Pa), the same over K_i; Pa in the chamber */
    double out[SPECIES], rise[SPECIES];        /* B(-Pe_i) and its slope over Pe */
    double through = in->film * (total > LEAST_TOTAL ? total : LEAST_TOTAL), still = 0.0, drag = 0.0, bend = 0.0;
    size_t n = in->leaving;
    for (size_t k = 0; k < n; k++) {
        size_t i = in->which[k];
        q[k] = chamber[b->map[i]];
        g[k] = in->conductance[i] * b->per_mass[i];
        double slow = b->open[i];
        h[k] = g[k] * slow * through;
        double part = 1.0 / (h[k] + 1.0), d = g[k] * part, drive = in->pressure[i] - q[k];
        still += d * drive;
        drag += d * slow * (q[k] + 0.5 * drive * (1.0 - part));
        bend += d * slow * slow * (drive * (1.0 / 6.0 * (1.0 - part) - 0.5 * part * (1.0 - part)) - part * q[k]);
    }
    drag = 1.0 - in->film * drag;
    drag = drag > 0.2 ? drag : 0.2;
    double peclet = in->film * still / drag;
    double curved = 1.0 - 0.5 * peclet * in->film * bend / drag;
    peclet /= curved > 0.5 ? curved : 0.5;
    for (int round = 0;; round++) {
        peclet = df_within(peclet, LEAST_PECLET, MOST_PECLET);
        for (size_t k = 0; k < n; k++) {
            double slow = b->open[in->which[k]];
            out[k] = df_bernoulli(slow * peclet, &rise[k]);
            rise[k] *= slow;
        }
        if (round == ROUNDS)
            break;
        double sum = 0.0, slope = 0.0;
        for (size_t k = 0; k < n; k++) {
            size_t i = in->which[k];
            double p = in->pressure[i], part = 1.0 / (h[k] + out[k]), d = g[k] * part;
            double mole = d * (out[k] * (p - q[k]) + b->open[i] * peclet * q[k]);
            sum += mole;
            slope += d * (b->open[i] * q[k] + rise[k] * (p - q[k])) - mole * rise[k] * part;
        }
        slope = in->film * slope - 1.0;
        double step = -(in->film * sum - peclet) / (slope < -0.2 ? slope : -0.2);
        peclet += step;
        if (fabs(step) < CLOSE && peclet > LEAST_PECLET && peclet < MOST_PECLET) {
            for (size_t k = 0; k < n; k++)
                out[k] += rise[k] * step;
            break;
        }
    }
    for (size_t k = 0; k < n; k++) {
        size_t i = in->which[k];
        flow[i] =
            in->conductance[i] / (h[k] + out[k]) * (out[k] * (in->pressure[i] - q[k]) + b->open[i] * peclet * q[k]);
    }
}

bool df_body_inside(df_inside *in, const df_body *b, const double *own) {
    const df_class *c = b->c;
    const df_frozen_path *p = c->path;
    double enthalpy = own[b->side - 1], largest = 0.0, inside = b->last_film;
    in->at = place_of(b, own, enthalpy);
    in->front = p->lowest + p->step * in->at;
    in->here = cell_at(b, in->at);
    in->framed = df_body_framed(b, own);
    in->leaving = 0;
    for (size_t i = 0; i < b->n; i++) {
        if (b->gone[i])
            continue;
        in->which[in->leaving++] = i;
        double rest = own[i] / b->initial[i], left = df_within(rest, 0.0, 1.0);
        largest = left > largest ? left : largest;
        double u = left * (DF_SHAPE_POINTS - 1);
        double depth = df_table_at(c->shape.depth, u, DF_SHAPE_POINTS),
               area = df_table_at(c->shape.area, u, DF_SHAPE_POINTS);
        double open = b->conductance[i], pressure = exp(in_cell(&in->here, FIELDS * i + OVER));
        if (i != b->framework && (rest > in->framed || b->gone[b->framework])) {
            /* what the framework's front has passed lies in the open cake, as the pure substance; once it is gone, all, to the
             * last of it and below: what stopped at nought would stop a Newton step */
            double lag = rest - in->framed, w = lag < LAG && !b->gone[b->framework] ? lag / LAG : 1.0;
            w = w * w * (3.0 - 2.0 * w);
            open += w * (b->open[i] - open);
            pressure += w * (exp(in_cell(&in->here, FIELDS * i + PURE)) - pressure);
        }
        double bend = 1.0 + c->cake.a2 * depth;
        double conductance = area * open * bend / (c->cake.r0 * bend + c->cake.a1 * depth);
        in->pressure[i] = pressure;
        in->conductance[i] = conductance / (1.0 + conductance * b->past_port[i]);
        if (i == b->framework)
            inside = FILM / OPENNESS * depth / (area > 1e-9 ? area : 1e-9);
    }
    in->film = b->film + inside;
    double u = largest * (DF_SHAPE_POINTS - 1);
    double path = df_table_at(c->shape.path, u, DF_SHAPE_POINTS), least = LEAST_CONTACT * c->shape.heated_area;
    in->contact = df_table_at(c->shape.contact, u, DF_SHAPE_POINTS);
    in->contact = in->contact > least ? in->contact : least;
    in->through = b->conductivity * in->contact / (path > 1e-9 ? path : 1e-9);
    in->facing = 0.0;
    if (c->top_coefficient > 0.0) {
        double v = in->framed * (DF_SHAPE_POINTS - 1), depth = df_table_at(c->shape.depth, v, DF_SHAPE_POINTS);
        double area = in->framed > 0.0 ? df_table_at(c->shape.area, v, DF_SHAPE_POINTS) : c->shape.free_area;
        in->facing = area / (1.0 / c->top_coefficient + depth / c->dry_conductivity);
    }
    bool on_table = in->at >= 0.0 && in->at <= (double)(p->points - 1);
    return on_table || physical(b, own, enthalpy);
}

void df_body_look(df_look *out, const df_system *s, const df_body *b, const df_inside *in, const double *own,
                  const double *chamber, double total, double shelf) {
    const df_class *c = b->c;
    double t = in->front;
    out->front = t;
    out->heat_out = 0.0;
    for (size_t i = 0; i < b->n; i++)
        out->flow[i] = 0.0;
    if (in->leaving > 0)
        carried(out->flow, b, in, chamber, total);
    for (size_t k = 0; k < in->leaving; k++) {
        size_t i = in->which[k];
        if (i != b->framework) { /* vapour comes back to the framework's own substance alone; no corner at nought */
            double width = in->conductance[i] * (CORNER * in->pressure[i] + CORNER_LEAST), z = out->flow[i] / width;
            out->flow[i] = z > 30.0 ? out->flow[i] : z < -30.0 ? 0.0 : width * log1p(exp(z));
        }
        out->heat_out += out->flow[i] * in_cell(&in->here, FIELDS * i + VAPOUR);
    }
    if (b->bound > 0)
        look_bound(out, b, own, chamber, in->framed, &in->here);
    double kv = b->kv_area > 0.0 ? b->kv_area * df_shelf_coefficient(s->dryer, total) : 0.0;
    double room_area = c->room_area + in->contact * b->wall_ratio;
    double lift = room_area > 0.0 ? lift_of(b, in, kv, room_area, shelf) : kv * (shelf - t) / (kv + in->through);
    out->wall = t + lift;
    out->heat = in->through * lift;
    out->top = in->facing * ((b->wall_ratio > 0.0 ? s->dryer->chamber.room_temperature : shelf) - t);
}

void df_body_rates(double *own_rate, double *gas, double *heat, const df_system *s, const df_body *b,
                   const df_inside *in, const double *own, const double *chamber, double total, double shelf) {
    double count = (double)b->c->count;
    df_look l;
    df_body_look(&l, s, b, in, own, chamber, total, shelf);
    for (size_t i = 0; i < b->n; i++) {
        own_rate[i] = -l.flow[i];
        gas[b->map[i]] += count * l.flow[i];
    }
    for (size_t j = 0; j < b->bound; j++) {
        own_rate[b->n + j] = -l.release[j];
        gas[b->map[b->held[j]]] += count * l.release[j];
    }
    own_rate[b->side - 1] = l.heat + l.top - l.heat_out;
    heat[0] += count * (l.heat + l.top);
    heat[1] += count * l.heat_out;
}

double df_body_let_go(double *own, double *vapour, const df_body *b, const df_look *l, double within) {
    df_cell here = cell_at(b, (l->front - b->c->path->lowest) / b->c->path->step);
    double heat = 0.0;
    for (size_t i = 0; i < b->n; i++) {
        vapour[i] = !b->gone[i] && own[i] < within * l->flow[i] ? own[i] : 0.0;
        heat += vapour[i] * in_cell(&here, FIELDS * i + VAPOUR);
        own[i] -= vapour[i];
    }
    own[b->side - 1] -= heat;
    return heat;
}

void df_class_defaults(df_class *c) {
    memset(c, 0, sizeof *c);
    c->critical_temperature = NAN;
    c->kv_factor = 1.0;
    c->dry_conductivity = DF_DRY_CONDUCTIVITY;
    c->on_time = -INFINITY;
    c->off_time = INFINITY;
}

static const char *const spots[] = {"centre", "edge", "corner", "door"};
const char *df_spot_name(df_spot spot) {
    return spots[spot];
}
double df_spot_view(df_spot spot) {
    static const double view[] = {0.0, 0.5, 0.75, 0.6};
    return view[spot];
}

df_status df_class_bind(df_context *ctx, df_class *c, const df_solute *solute, size_t solutes) {
    const df_sorption *water = NULL;
    for (size_t i = 0; i < c->composition.n; i++) {
        const df_substance *sub = c->composition.component[i];
        df_status status = df_sorption_find(ctx, &c->sorption[i], solute, solutes, sub);
        if (status != DF_OK)
            return status;
        if (sub->is_water)
            water = &c->sorption[i];
    }
    c->glass_water = 0.0;
    if (water == NULL || isnan(df_moist_glass(solute, solutes, 0.0, NULL)))
        return DF_OK;
    c->glass_water = fmax(water->bound, 0.02);
    for (size_t k = 0; k < DF_GLASS_POINTS; k++)
        c->glass[k] = df_moist_glass(solute, solutes, c->glass_water * (double)k / (DF_GLASS_POINTS - 1), NULL);
    return DF_OK;
}
