/* Model (b): from a state of one container in one dimension to its rates. */
#include "drying/column.h"

#include <string.h>

#define N DF_MAX_COMPONENTS
#define R DF_GAS_CONSTANT
#define LAG 0.02       /* share of the body behind the framework's front over which a pocket opens, as in model (a) */
#define SPREAD 0.05    /* share of the body over which a front other than the framework's is spread, to either side */
#define CLEARANCE 0.01 /* of the pressure at rest: over so much a front that stands still begins to dry */
#define SLOWEST 3.6e4  /* s, of a drying that still counts as fast beside that */
#define THINNEST                                                                                                     \
    2e-5        /* of the body: what a frozen layer's conductance is reckoned with at least, to the end of the ice */
#define CLIMB 4 /* steps of the gas from one front to the next */
#define HEADSPACE 4 /* steps of the gas over the open surface */

/* ---- geometry: a slab, or a shell whose front grows with the square of its radius ------------------------------ */

static double area_at(const df_column *s, double z) {
    double edge = s->side + s->flare * z;
    return edge * edge;
}

static double depth_of(const df_column *s, double share) {
    if (s->flare == 0.0)
        return share * s->thickness;
    double a = s->side;
    return (cbrt(a * a * a + 3.0 * s->flare * s->volume * share) - a) / s->flare;
}

static double resistivity(const df_column *s, double z) {
    double bend = 1.0 + s->c->cake.a2 * z;
    return s->c->cake.a1 / (bend * bend);
}

static double smooth(double x) {
    x = fmin(fmax(x, 0.0), 1.0);
    return x * x * (3.0 - 2.0 * x);
}

/* ---- where things are ------------------------------------------------------------------------------------------ */

/* The front of a species that is not the framework's is spread over `wide` on either side of it (kernel 15/16 (1 - x2)2), less
 * where the body ends. Amount above a face, share that comes from deeper, presence. */
static void spread(double *above, double *below, double *present, double face, double place) {
    double room = place * (1.0 - place), wide = SPREAD * room / (SPREAD + room);
    double turn = SPREAD / (SPREAD + room), x = face - place;
    if (x >= wide || wide < 1e-13) {
        *above = fmax(x, 0.0);
        *below = x >= 0.0 ? 0.0 : 1.0;
        *present = 1.0 - *below;
    } else if (x <= -wide) {
        *above = *present = 0.0;
        *below = 1.0;
    } else {
        x /= wide;
        double x2 = x * x, step = 0.5 + x * (15.0 - 10.0 * x2 + 3.0 * x2 * x2) / 16.0;
        double sum = 5.0 / 32.0 + 0.5 * x + x2 * (7.5 - 2.5 * x2 + 0.5 * x2 * x2) / 16.0;
        *above = wide * sum;
        *present = step;
        *below = 1.0 - step + turn * turn * (1.0 - 2.0 * place) * (sum - x * step);
    }
}

static double enthalpy_at(const df_column *s, size_t j, double bound, double heat, size_t k) {
    double sum = heat * s->path->step * (double)k + bound * s->bound_heat[k];
    for (size_t i = 0; i < s->n; i++)
        if (s->amount[i][j] != 0.0)
            sum += s->amount[i][j] * s->condensed[i][k];
    return sum;
}

/* Bound water in a cell, kg. */
double df_column_bound(const df_column *s, const double *y, size_t j) {
    if (s->q == 1)
        return 0.0;
    return j < s->dry ? y[s->q * j + 1] : s->bound * (s->face[j + 1] - s->face[j]);
}

/* Temperature of a cell from its enthalpy: the tables are straight between nodes; the search starts where the cell above
 * ended. */
static void warm(df_column *s, const double *y, size_t j, size_t *hint) {
    const df_frozen_path *p = s->path;
    double heat = s->heat * (s->face[j + 1] - s->face[j]), bound = df_column_bound(s, y, j), enthalpy = y[s->q * j];
    size_t k = *hint;
    double low = enthalpy_at(s, j, bound, heat, k), high = enthalpy_at(s, j, bound, heat, k + 1);
    while (enthalpy > high && k + 2 < p->points) {
        low = high;
        high = enthalpy_at(s, j, bound, heat, ++k + 1);
    }
    while (enthalpy < low && k > 0) {
        high = low;
        low = enthalpy_at(s, j, bound, heat, --k);
    }
    *hint = k;
    s->capacity[j] = (high - low) / p->step;
    s->temperature[j] = p->lowest + p->step * (double)k + (enthalpy - low) / s->capacity[j];
}

/* From the state: fronts, grid, contents, temperatures. */
void df_column_locate(df_column *s, const double *y) {
    for (size_t i = 0; i < s->n; i++) {
        s->left[i] = y[s->at_mass + i] / s->initial[i];
        s->place[i] = 1.0 - (1.0 - DF_COLUMN_SKIN) * fmin(fmax(s->left[i], 0.0), 1.0);
    }
    s->front = fmin(s->place[s->w], 1.0 - 1e-9);
    s->depth = depth_of(s, s->front);
    double above = s->front / (double)s->dry, under = (1.0 - s->front) / (double)(s->cells - s->dry);
    for (size_t f = 0; f <= s->cells; f++) {
        s->face[f] = f <= s->dry ? above * (double)f : 1.0 - under * (double)(s->cells - f);
        s->face_z[f] = depth_of(s, s->face[f]);
        s->area[f] = area_at(s, s->face_z[f]);
    }
    for (size_t j = 0; j < s->cells; j++) {
        s->centre[j] = 0.5 * (s->face[j] + s->face[j + 1]);
        s->centre_z[j] = depth_of(s, s->centre[j]);
    }
    double framework = s->gone[s->w] ? 0.0 : s->left[s->w];
    for (size_t i = 0; i < s->n; i++) {
        double *below = s->below[i], *present = s->present[i], *amount = s->amount[i];
        double lag = framework > 0.0 ? smooth((s->left[i] - framework) / LAG) : 1.0;
        s->opening[i] = s->share[i] + (i == s->w ? 0.0 : lag * (1.0 - s->share[i]));
        if (i == s->w) {
            for (size_t f = 0; f <= s->cells; f++) {
                below[f] = f <= s->dry ? 1.0 : 0.0;
                present[f] = f <= s->dry ? 0.0 : 1.0;
            }
            for (size_t j = 0; j < s->cells; j++)
                amount[j] = j < s->dry ? 0.0 : y[s->at_mass + i] / (double)(s->cells - s->dry);
            continue;
        }
        double over, last = 0.0;
        for (size_t f = 0; f <= s->cells; f++) {
            spread(&over, &below[f], &present[f], s->face[f], s->place[i]);
            if (f > 0)
                amount[f - 1] = s->initial[i] / (1.0 - DF_COLUMN_SKIN) * (over - last);
            last = over;
        }
    }
    size_t hint = 120;
    for (size_t j = 0; j < s->cells; j++)
        warm(s, y, j, &hint);
}

/* ---- gas ------------------------------------------------------------------------------------------------------- */

/* Temperature of the dried layer at a share of the body. */
static double dry_temperature(const df_column *s, double share, double front_temperature) {
    double at = share / s->front * (double)s->dry - 0.5;
    if (at <= 0.0)
        return s->surface + (s->temperature[0] - s->surface) * (2.0 * at + 1.0);
    size_t j = (size_t)at;
    if (j + 1 >= s->dry) {
        double f = fmin(2.0 * (at - (double)(s->dry - 1)), 1.0);
        return s->temperature[s->dry - 1] + f * (front_temperature - s->temperature[s->dry - 1]);
    }
    return s->temperature[j] + (at - (double)j) * (s->temperature[j + 1] - s->temperature[j]);
}

static void slope_at(double *slope, const df_column *s, const double *p, const double *flow, const double *open,
                     double share, double front_temperature) {
    double flux[DF_MAX_GASES], z = depth_of(s, share), area = area_at(s, z);
    for (size_t i = 0; i <= s->n; i++)
        flux[i] = flow[i] / area;
    if (s->q == 2) { /* what the cake itself gives off */
        double at = fmin(share / s->front, 1.0) * (double)s->dry;
        size_t f = (size_t)at < s->dry ? (size_t)at : s->dry - 1;
        flux[s->w] += (s->risen[f] + (at - (double)f) * (s->risen[f + 1] - s->risen[f])) / area;
    }
    df_dusty_slope(slope, &s->dusty, p, flux, open, resistivity(s, z), dry_temperature(s, share, front_temperature));
    for (size_t i = 0; i <= s->n; i++)
        slope[i] *= s->volume / area;
}

/* Partial pressures p at `from` carried to `to`: Runge and Kutta's fourth order. */
void df_column_climb(double *p, const df_column *s, const double *flow, const double *open, double from, double to,
                     double front_temperature) {
    size_t g = s->n + 1;
    double h = (to - from) / CLIMB, k[4][DF_MAX_GASES], moved[DF_MAX_GASES];
    if (!(h > 1e-14))
        return;
    for (int step = 0; step < CLIMB; step++) {
        double at = from + h * step;
        slope_at(k[0], s, p, flow, open, at, front_temperature);
        for (int r = 1; r < 4; r++) {
            double part = r == 3 ? h : 0.5 * h;
            for (size_t i = 0; i < g; i++)
                moved[i] = p[i] + part * k[r - 1][i];
            slope_at(k[r], s, moved, flow, open, at + part, front_temperature);
        }
        for (size_t i = 0; i < g; i++)
            p[i] += h / 6.0 * (k[0][i] + 2.0 * k[1][i] + 2.0 * k[2][i] + k[3][i]);
    }
}

/* Through the gas that stands between the container's mouth and the open surface: diffusion alone. */
static void through_headspace(double *p, const df_column *s, const double *flow) {
    double flux[DF_MAX_GASES], k1[DF_MAX_GASES], k2[DF_MAX_GASES], moved[DF_MAX_GASES];
    double h = s->b->headspace / HEADSPACE;
    for (size_t i = 0; i <= s->n; i++)
        flux[i] = (flow[i] + (s->q == 2 && i == s->w ? s->risen[0] : 0.0)) / s->area[0];
    for (int step = 0; step < HEADSPACE; step++) { /* Heun's method: what it adds is small where it matters at all */
        df_dusty_slope(k1, &s->free_gas, p, flux, NULL, 0.0, s->surface);
        for (size_t i = 0; i <= s->n; i++)
            moved[i] = p[i] + h * k1[i];
        df_dusty_slope(k2, &s->free_gas, moved, flux, NULL, 0.0, s->surface);
        for (size_t i = 0; i <= s->n; i++)
            p[i] += 0.5 * h * (k1[i] + k2[i]);
    }
}

void df_column_under_surface(double *p, double *open, const df_column *s, const double *flow) {
    double warmth = s->dusty.pores.temperature > 0.0 ? sqrt(s->surface / s->dusty.pores.temperature) : 1.0;
    double first = s->c->cake.r0 / s->area[0] * warmth, passed = smooth(s->front / LAG);
    for (size_t i = 0; i < s->n; i++)
        p[i] = s->around.chamber[i] + flow[i] * s->port[i];
    p[s->n] = s->around.chamber[s->n];
    if (s->q == 2)
        p[s->w] += s->risen[0] * s->port[s->w];
    if (s->b->headspace > 0.0)
        through_headspace(p, s, flow);
    for (size_t i = 0; i < s->n; i++) {
        double skin = s->opening[i];
        if (s->o->local_pockets)
            skin = fmax(skin, s->share[i] + passed * (1.0 - s->share[i]));
        open[i] = s->o->local_pockets ? 1.0 : s->opening[i];
        p[i] += flow[i] * first * s->dusty.root[i] / skin;
    }
    open[s->n] = 1.0;
    if (s->q == 2)
        p[s->w] += s->risen[0] * first;
}

/* From the framework's front on through pockets that have dried before it: one gas alone, with its walls and itself. */
static double through_pockets(const df_column *s, size_t i, double p, double flow, double temperature) {
    static const double weight[5] = {7.0, 32.0, 12.0, 32.0, 7.0}; /* Boole's rule, over 90 */
    double sum = 0.0, length = s->place[i] - s->front;
    for (int k = 0; k < 5; k++) {
        double z = depth_of(s, s->front + 0.25 * k * length), area = area_at(s, z);
        sum += weight[k] / 90.0 * resistivity(s, z) / (area * area);
    }
    const df_dusty *d = &s->dusty;
    double warmth = d->pores.temperature > 0.0 ? sqrt(temperature / d->pores.temperature) : 1.0;
    double rise = flow * sum * length * s->volume * d->root[i] * warmth / s->share[i];
    double viscosity = d->viscosity[i] * exp(d->thinning[i] * log(temperature / 250.0));
    double middle = resistivity(s, depth_of(s, s->front + 0.5 * length)) * warmth;
    double slip = 3.0 * df_dusty_radius(d, middle, temperature) /
                  (16.0 * sqrt(8.0 * R * temperature / (M_PI * d->molar_mass[i])) * viscosity);
    double inner = (1.0 + slip * p) * (1.0 + slip * p) + 2.0 * slip * rise; /* p + slip p2/2 rises by `rise` */
    return !(slip > 1e-9) || !(inner > 0.0) ? p + rise : (sqrt(inner) - 1.0) / slip;
}

/* Pressures at the fronts that the flows need. */
static void rise(df_column *s, const double *flow, double front_temperature, const double *seat) {
    double p[DF_MAX_GASES], open[DF_MAX_GASES], running[DF_MAX_GASES], at = 0.0;
    bool done[N] = {false};
    for (size_t i = 0; i < s->n; i++)
        running[i] = s->gone[i] ? 0.0 : flow[i];
    running[s->n] = 0.0;
    df_column_under_surface(p, open, s, running);
    for (size_t round = 0; round < s->n; round++) {
        size_t next = s->n;
        double stop = 0.0;
        for (size_t i = 0; i < s->n; i++) {
            double mine = i == s->w ? s->front : fmin(s->place[i], s->front);
            if (!done[i] && !s->gone[i] && (next == s->n || mine < stop)) {
                next = i;
                stop = mine;
            }
        }
        if (next == s->n)
            break;
        df_column_climb(p, s, running, open, at, stop, front_temperature);
        at = fmax(at, stop);
        done[next] = true;
        s->pressure[next] = p[next];
        if (next != s->w && s->place[next] > s->front)
            s->pressure[next] =
                through_pockets(s, next, p[next], running[next], 0.5 * (front_temperature + seat[next]));
        running[next] = 0.0;
    }
}

/* Pressure (Pa) that a species' front would have at rest. */
static double rest_pressure(const df_column *s, size_t i, double temperature) {
    df_spot_in at = df_spot_find(s->path, temperature);
    double pressure = exp(df_table_in(s->path->pressure_ln[i], at));
    double framework = s->gone[s->w] ? 0.0 : s->left[s->w];
    if (i != s->w && s->left[i] > framework) {
        double part = framework > 0.0 ? smooth((s->left[i] - framework) / LAG) : 1.0;
        pressure += part * (exp(df_table_in(s->pure_ln[i], at)) - pressure);
    }
    return pressure;
}

/* Nought where either the flow is nought and the pressure above the front too high for it, or the pressure is that at rest
 * (Fischer and Burmeister's function, rounded over CLEARANCE). */
double df_column_gap(const df_column *s, size_t i, double flow, double temperature) {
    double rest = rest_pressure(s, i, temperature), clear = CLEARANCE * rest;
    double a = flow * (s->cake[i] + SLOWEST * rest / s->initial[i]), b = s->pressure[i] - rest;
    return sqrt(a * a + b * b + clear * clear) - a - b;
}

/* Temperature at the front of a species: of the cells that its vapour comes from. */
double df_column_seat(const df_column *s, size_t i, double front_temperature) {
    if (i == s->w)
        return front_temperature;
    double sum = 0.0;
    for (size_t j = 0; j < s->cells; j++) {
        double part = s->below[i][j] - s->below[i][j + 1];
        if (part != 0.0)
            sum += part * s->temperature[j];
    }
    return sum;
}

/* ---- heat ------------------------------------------------------------------------------------------------------- */

/* Heat and temperature at the open surface: from above through what the surroundings give, into the first cell. */
static void top(df_column *s) {
    const df_transient_options *o = s->o;
    double inward = s->k_dry * s->area[0] / s->centre_z[0], t = s->temperature[0];
    double facing = s->around.top, inner = t;
    s->heat_top = 0.0;
    for (int round = 0; round < 4 && (o->top_coefficient > 0.0 || o->top_emissivity > 0.0); round++) {
        double radiation = o->top_emissivity * DF_STEFAN_BOLTZMANN;
        double flux = o->top_coefficient * (facing - t) + radiation * (pow(facing, 4) - pow(t, 4));
        double ease = o->top_coefficient + 4.0 * radiation * t * t * t;
        /* area (flux - ease (x - t)) = inward (x - inner) */
        t = (s->area[0] * (flux + ease * t) + inward * inner) / (s->area[0] * ease + inward);
        s->heat_top = inward * (t - inner);
    }
    s->surface = t;
}

/* W/K through a face of the frozen layer. */
static double frozen_link(const df_column *s, size_t face, double way) {
    return s->k_frozen * s->area[face] / fmax(way, THINNEST * s->thickness);
}

/* What of bound water leaves each dry cell: towards C* of the pressure there, taken to rise with the resistance. What is held
 * tightly does not leave a cake that was never warm, as in model (a). */
static void give_off(df_column *s, double front_temperature) {
    double chamber = s->around.chamber[s->w];
    double deep = s->gone[s->w] ? chamber : fmax(rest_pressure(s, s->w, front_temperature), chamber);
    double r0 = s->c->cake.r0, a1 = s->c->cake.a1, a2 = s->c->cake.a2;
    double whole = r0 + a1 * s->depth / (1.0 + a2 * s->depth);
    const df_sorption *q = &s->c->sorption[s->w];
    for (size_t j = 0; j < s->dry; j++) {
        double z = s->centre_z[j], part = whole > 0.0 ? (r0 + a1 * z / (1.0 + a2 * z)) / whole : 0.0;
        double t = s->temperature[j], p = chamber + part * (deep - chamber), wide = s->face[j + 1] - s->face[j];
        double activity = p / exp(df_table_in(s->bound_saturated, df_spot_find(s->path, t)));
        double tight = q->tight / (1.0 + exp(fmin(t - DF_SORPTION_TIGHT, 50.0)));
        double star = fmax(df_sorption_equilibrium(q, activity), tight);
        /* wetting holds the content on entry */
        s->release[j] = df_sorption_rate(q, t) * (s->wetting[j] - s->solids * wide * star);
    }
}

/* Rates and residuals at the located state. `hold`: the bound water that rises from deeper stays as it was, and only its own
 * release is felt by a cell, and the gas is not followed: for the Jacobian, where others would reach beyond a cell's
 * neighbours. */
void df_column_flows(df_column *s, const double *y, bool hold) {
    const df_frozen_path *p = s->path;
    const double *flow = &y[s->at_flow];
    double ts = y[s->at_front], tw = y[s->at_wall], speed = (1.0 - DF_COLUMN_SKIN) * flow[s->w] / s->initial[s->w];
    size_t dry = s->dry, cells = s->cells;
    if (s->gone[s->w])
        speed = 0.0;
    top(s);
    if (s->q == 2) {
        for (size_t j = 0; j < dry; j++)
            s->wetting[j] = y[2 * j + 1];
        give_off(s, ts);
        if (!hold) {
            memcpy(s->held, s->release, dry * sizeof *s->held);
            s->risen[dry] = 0.0;
            for (size_t j = dry; j-- > 0;)
                s->risen[j] = s->risen[j + 1] + s->release[j];
        }
    }
    double carried_last = 0.0; /* bound water that passes the face above, as the grid moves */
    for (size_t f = 0; f <= cells; f++) {
        double t, up, ride;
        if (f == 0) {
            t = s->surface;
            up = -s->heat_top;
        } else if (f == cells) {
            t = tw;
            up = frozen_link(s, f, s->thickness - s->centre_z[cells - 1]) * (tw - s->temperature[cells - 1]);
        } else if (f == dry) {
            t = ts;
            up = frozen_link(s, f, s->centre_z[f] - s->face_z[f]) * (s->temperature[f] - ts);
            double down = s->k_dry * s->area[f] * (s->temperature[f - 1] - ts) / (s->face_z[f] - s->centre_z[f - 1]);
            df_spot_in at = df_spot_find(p, ts);
            s->balance = up + down;
            if (!s->gone[s->w])
                s->balance -= flow[s->w] * (df_table_in(s->vapour[s->w], at) - df_table_in(s->condensed[s->w], at));
        } else {
            t = 0.5 * (s->temperature[f - 1] + s->temperature[f]);
            double way = s->centre_z[f] - s->centre_z[f - 1];
            up = (f < dry ? s->k_dry * s->area[f] / way : frozen_link(s, f, way)) *
                 (s->temperature[f] - s->temperature[f - 1]);
        }
        df_spot_in at = df_spot_find(p, t);
        /* the face moves down and what it passes goes up: the frozen side's share of it at the front */
        ride = speed * (f <= dry ? (double)f / (double)dry : (double)(cells - f) / (double)(cells - dry));
        double passing = s->heat * (t - p->lowest);
        for (size_t i = 0; i < s->n; i++) {
            double there = i == s->w ? (f >= dry ? 1.0 : 0.0) : s->present[i][f];
            if (there != 0.0)
                passing += s->initial[i] / (1.0 - DF_COLUMN_SKIN) * there * df_table_in(s->condensed[i], at);
            /* the framework's vapour rises above its front, and leaves it as what it was */
            double gas = i == s->w ? (f < dry ? 1.0 : 0.0) : s->below[i][f];
            if (gas != 0.0 && !s->gone[i])
                up += gas * flow[i] * df_table_in(s->vapour[i], at);
        }
        if (s->q == 2) {
            double load = f >= dry ? s->bound
                          : f == 0 ? 0.0
                                   : 0.5 * (y[2 * f - 1] / (s->face[f] - s->face[f - 1]) +
                                            y[2 * f + 1] / (s->face[f + 1] - s->face[f]));
            double carried = ride * load;
            passing += load * df_table_in(s->bound_heat, at);
            if (f <= dry)
                up += s->risen[f] * df_table_in(s->vapour[s->w], at);
            if (f > 0 && f <= dry)
                s->wetting[f - 1] = carried - carried_last - s->release[f - 1];
            carried_last = carried;
        }
        s->up[f] = up + ride * passing;
        if (f > 0)
            s->gain[f - 1] = s->up[f] - s->up[f - 1];
    }
    if (s->q == 2 && hold)
        for (size_t j = 0; j < dry; j++)
            s->gain[j] -=
                (s->release[j] - s->held[j]) * df_table_in(s->vapour[s->w], df_spot_find(p, s->temperature[j]));
    s->released = s->q == 2 ? s->risen[0] : 0.0;
    s->heat_vapour = s->up[0] + s->heat_top;
    double from_shelf = s->around.coefficient * s->b->shelf_area * (s->around.shelf - tw);
    s->heat_wall = from_shelf + s->room_area * df_table_in(s->room_flux, df_spot_find(p, tw));
    s->wall_gain = s->heat_wall - s->up[cells];
    if (hold)
        return;
    double seat[N];
    for (size_t i = 0; i < s->n; i++)
        seat[i] = df_column_seat(s, i, ts);
    rise(s, flow, ts, seat);
    for (size_t i = 0; i < s->n; i++)
        s->gap[i] = s->gone[i] ? -flow[i] * s->cake[i] : df_column_gap(s, i, flow[i], seat[i]);
}
