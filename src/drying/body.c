/* One class of containers in model (a): fronts, heat, what is bound in the dried cake. docs/drying.md. */
#include "drying/system.h"

#include <math.h>
#include <string.h>

#define GLASS_HEAT 830.0   /* J/(kg K), borosilicate glass, common practice */
#define SOLUTE_HEAT 1250.0 /* J/(kg K), sugars and peptides, common practice */
#define LAG 0.02           /* fraction behind the framework's front over which a pocket opens */
#define LEAST_CONTACT 0.02 /* of the heated wall: the last of the cake still touches the glass */
#define MOST_CAUGHT 0.9    /* of a species in a container that the cake may hold */
#define AIR_DIFFUSION                                                                                                \
    2.0e-5            /* m2/s of water vapour in air at 250 K and one atmosphere; others by sqrt(Mw/M): from memory */
#define AIR_WIDTH 1.0 /* Pa over which air at the surface fades out */

int df_species_index(df_system *s, const df_substance *substance) {
    for (size_t i = 0; i < s->species; i++)
        if (s->substance[i] == substance)
            return (int)i;
    if (s->species == SPECIES)
        return -1;
    s->substance[s->species] = substance;
    return (int)s->species++;
}

/* W/(m K) of a species in the frozen body: ice by the usual 488/T at 240 K, organic solids and liquids 0.25
 * (Poling, Prausnitz & O'Connell give 0.1 to 0.25 for organic liquids; solids near twice that). */
static double solid_conductivity(const df_substance *substance) {
    return substance->is_water ? 2.0 : 0.25;
}

/* A table of the load's pure substances (by 1 K) at T. */
static double of_load(const double *table, double t) {
    return df_table_at(table, t - DF_DEPOSIT_FIRST, DF_DEPOSIT_POINTS);
}

/* Components that the cake holds, and their tables. */
static void prepare_bound(df_body *b, const df_class *c) {
    const df_frozen_path *p = c->path;
    for (size_t i = 0; i < p->n; i++) {
        const df_substance *sub = c->composition.component[i];
        const df_sorption *q = &c->sorption[i];
        double all = b->initial[i];
        b->caught[i] = fmin(q->bound * c->solids, MOST_CAUGHT * all);
        if (!(b->caught[i] > 0.0)) {
            b->caught[i] = 0.0;
            continue;
        }
        b->initial[i] = all - b->caught[i];
        b->held[b->bound++] = i;
        for (size_t k = 0; k < p->points; k++) {
            double t = p->lowest + p->step * (double)k;
            b->liquid_ln[i][k] = df_liquid_pressure_ln(sub, t);
            b->liquid_enthalpy[i][k] = df_liquid_enthalpy(sub, t) / sub->molar_mass;
            b->free_enthalpy[i][k] =
                b->liquid_enthalpy[i][k] + df_vaporisation_enthalpy(sub, t) / sub->molar_mass + q->heat;
        }
    }
}

void df_body_prepare(df_body *b, df_system *s, const df_class *c) {
    const df_frozen_path *p = c->path;
    double fractions[SPECIES], conductivity = 0.0, water_mass = 0.0180152675;
    df_composition_fractions(fractions, &c->composition, DF_BASIS_MASS);
    b->c = c;
    b->n = p->n;
    double headspace = (c->container.brim_volume - c->shape.volume) / c->shape.free_area; /* m */
    for (size_t i = 0; i < p->n; i++) {
        const df_substance *sub = c->composition.component[i];
        size_t j = 0;
        while (s->deposit->substance[j] != sub)
            j++;
        b->map[i] = df_species_index(s, sub);
        b->initial[i] = c->mass * fractions[i];
        b->open[i] = sqrt(sub->molar_mass / water_mass);
        b->conductance[i] = pow(p->volume_fraction[i], s->setup->pore_exponent) * b->open[i];
        if (p->volume_fraction[i] > p->volume_fraction[b->framework])
            b->framework = i;
        b->port[i] = c->place == DF_PLACE_MANIFOLD
                         ? df_port_conductance(fmin(s->dryer->manifold.port_diameter, c->container.port_diameter),
                                               0.05, sub->molar_mass, s->gas_temperature)
                         : INFINITY;
        /* R T d p_air/(M D P0), Stefan's tube with the air's pressure halfway */
        b->air_resistance[i] = DF_GAS_CONSTANT * 250.0 * fmax(headspace, 0.0) /
                               (sub->molar_mass * AIR_DIFFUSION / b->open[i] * DF_ATMOSPHERE);
        conductivity += p->volume_fraction[i] * log(solid_conductivity(sub));
        for (size_t k = 0; k < p->points; k++) {
            double t = p->lowest + p->step * (double)k, share = p->species_liquid[i][k];
            b->pure_ln[i][k] = of_load(s->deposit->pressure_ln[j], t);
            /* liquid enthalpy plus heat of vaporisation, so that crystal -> vapour costs the heat of sublimation */
            b->vapour_enthalpy[i][k] =
                p->species_enthalpy[i][k] +
                (df_vaporisation_enthalpy(sub, t) + (1.0 - share) * df_fusion_enthalpy(sub, t)) / sub->molar_mass;
        }
    }
    if (s->setup->secondary && c->solids > 0.0)
        prepare_bound(b, c);
    b->side = b->n + b->bound + 1;
    bool hangs = c->place == DF_PLACE_MANIFOLD;
    for (size_t k = 0; k < p->points; k++)
        b->room_flux[k] =
            df_room_heat_flux(s->dryer->chamber.room_temperature, p->lowest + p->step * (double)k,
                              hangs ? c->container.outer_diameter : 0.0, hangs ? s->dryer->manifold.frost : 0.0);
    double outer = c->container.outer_diameter, inner = c->container.inner_diameter;
    if (hangs)
        b->wall_ratio = outer * outer / (inner * inner);
    else
        b->kv_area = c->kv_factor * (c->container.kind == DF_FLASK ? c->shape.contact[DF_SHAPE_POINTS - 1]
                                                                   : M_PI / 4.0 * outer * outer);
    b->conductivity = c->conductivity > 0.0 ? c->conductivity : exp(conductivity);
    double wetted_glass = fmin(1.0, c->shape.volume / c->container.brim_volume + 0.1);
    b->rest = c->container.glass_mass * wetted_glass * GLASS_HEAT + c->solids * SOLUTE_HEAT;
    b->solidus = df_effective_solidus(p, s->setup->trace_liquid);
}

/* Enthalpy of a container at node k of its path, over that of glass and solutes at the path's lowest temperature, J. */
static double enthalpy_at(const df_body *b, const double *own, size_t k) {
    const df_frozen_path *p = b->c->path;
    double sum = b->rest * p->step * (double)k;
    for (size_t i = 0; i < b->n; i++)
        sum += own[i] * p->species_enthalpy[i][k];
    for (size_t j = 0; j < b->bound; j++)
        sum += own[b->n + j] * b->liquid_enthalpy[b->held[j]][k];
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

/* Temperature of a container from its enthalpy: the tables are straight between nodes, so the cell is found by
 * bisection and inverted exactly; beyond the ends the last cell goes on. */
static double temperature_of(const df_body *b, const double *own, double enthalpy) {
    const df_frozen_path *p = b->c->path;
    size_t low = 0, high = p->points - 1;
    double below = enthalpy_at(b, own, low), above = enthalpy_at(b, own, high);
    if (enthalpy <= below)
        above = enthalpy_at(b, own, high = 1);
    else if (enthalpy >= above)
        below = enthalpy_at(b, own, low = high - 1);
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        double value = enthalpy_at(b, own, middle);
        if (value > enthalpy) {
            high = middle;
            above = value;
        } else {
            low = middle;
            below = value;
        }
    }
    return p->lowest + p->step * ((double)low + (enthalpy - below) / (above - below));
}

bool df_body_physical(const df_body *b, const double *own) {
    double coldest = enthalpy_at(b, own, 0), warmest = enthalpy_at(b, own, b->c->path->points - 1);
    double slack = 0.2 * (warmest - coldest), enthalpy = own[b->side - 1];
    return enthalpy > coldest - slack && enthalpy < warmest + slack;
}

double df_body_equilibrium(const df_body *b, size_t i, double temperature, double pressure) {
    const df_sorption *q = &b->c->sorption[i];
    const df_frozen_path *p = b->c->path;
    double at = (temperature - p->lowest) / p->step;
    double activity = fmin(fmax(pressure / exp(df_table_at(b->liquid_ln[i], at, p->points)), 0.0), 1.0);
    /* what is held tightly does not leave a cake that was never warm */
    double floor = q->tight / (1.0 + exp(fmin((temperature - DF_SORPTION_TIGHT) / 1.0, 50.0)));
    return fmax(df_sorption_equilibrium(q, activity), floor);
}

/* What leaves the dried part of the cake, or is taken up by it: dB/dt = -k (B - B0 f - C* m (1 - f)). */
static void look_bound(df_look *out, const df_body *b, const double *own, const double *chamber, double framed) {
    const df_frozen_path *p = b->c->path;
    double t = out->front, at = (t - p->lowest) / p->step, dried = 1.0 - fmin(fmax(framed, 0.0), 1.0);
    for (size_t j = 0; j < b->bound; j++) {
        size_t i = b->held[j];
        const df_sorption *q = &b->c->sorption[i];
        out->release[j] = 0.0;
        if (!q->known)
            continue;
        double rest =
            b->caught[i] * (1.0 - dried) + df_body_equilibrium(b, i, t, chamber[b->map[i]]) * b->c->solids * dried;
        out->release[j] = df_sorption_rate(q, t) * (own[b->n + j] - rest);
        out->heat_out += out->release[j] * df_table_at(b->free_enthalpy[i], at, p->points);
    }
}

void df_body_look(df_look *out, const df_system *s, const df_body *b, const double *own, const double *chamber,
                  double total, double shelf) {
    const df_class *c = b->c;
    const df_frozen_path *p = c->path;
    double t = temperature_of(b, own, own[b->side - 1]), at = (t - p->lowest) / p->step;
    double largest = 0.0, framed = df_body_framed(b, own), over = 0.0, pressure[SPECIES], conductance[SPECIES];
    out->front = t;
    out->heat_out = 0.0;
    for (size_t i = 0; i < b->n; i++) {
        out->flow[i] = 0.0;
        if (b->gone[i])
            continue;
        double left = own[i] / b->initial[i];
        left = fmin(fmax(left, 0.0), 1.0);
        largest = fmax(largest, left);
        double u = left * (DF_SHAPE_POINTS - 1);
        double depth = df_table_at(c->shape.depth, u, DF_SHAPE_POINTS),
               area = df_table_at(c->shape.area, u, DF_SHAPE_POINTS);
        double open = b->conductance[i];
        pressure[i] = exp(df_table_at(p->pressure_ln[i], at, p->points));
        if (i != b->framework && left > framed) {
            /* what the framework's front has passed lies in the open cake, as the pure substance */
            double w = fmin((left - framed) / LAG, 1.0);
            w = w * w * (3.0 - 2.0 * w);
            open += w * (b->open[i] - open);
            pressure[i] += w * (exp(df_table_at(b->pure_ln[i], at, p->points)) - pressure[i]);
        }
        over += pressure[i];
        double resistance = c->cake.r0 + c->cake.a1 * depth / (1.0 + c->cake.a2 * depth);
        conductance[i] = area * open / resistance;
    }
    /* Gas stands over the surface while the chamber's pressure is above the sample's own. */
    double air = 0.0, standing = total - over;
    if (standing > -30.0 * AIR_WIDTH) {
        double there = standing > 30.0 * AIR_WIDTH ? standing : AIR_WIDTH * log1p(exp(standing / AIR_WIDTH));
        air = sqrt(there * total);
    }
    for (size_t i = 0; i < b->n; i++) {
        if (b->gone[i])
            continue;
        double drive = pressure[i] - chamber[b->map[i]];
        if (drive > 0.0) {
            double back = 1.0 / b->port[i] + b->air_resistance[i] * air / c->shape.free_area;
            out->flow[i] = conductance[i] / (1.0 + conductance[i] * back) * drive;
            out->heat_out += out->flow[i] * df_table_at(b->vapour_enthalpy[i], at, p->points);
        }
    }
    if (b->bound > 0)
        look_bound(out, b, own, chamber, framed);
    /* Heat: shelf and room to the wall, through the frozen layer to the front. */
    double u = largest * (DF_SHAPE_POINTS - 1);
    double path = df_table_at(c->shape.path, u, DF_SHAPE_POINTS),
           contact = df_table_at(c->shape.contact, u, DF_SHAPE_POINTS);
    contact = fmax(contact, LEAST_CONTACT * c->shape.heated_area);
    double through = b->conductivity * contact / fmax(path, 1e-9);
    double kv = b->kv_area > 0.0 ? b->kv_area * df_shelf_coefficient(s->dryer, total) : 0.0;
    double room_area = c->room_area + contact * b->wall_ratio, lift = 0.0; /* lift: wall less front */
    if (room_area > 0.0)
        for (int round = 0; round < 3; round++) {
            double w = (t + lift - p->lowest) / p->step;
            double flux = df_table_at(b->room_flux, w, p->points);
            double slope = (flux - df_table_at(b->room_flux, w + 1.0, p->points)) / p->step; /* positive */
            double u_room = room_area * fmax(slope, 0.0);
            /* kv (shelf - wall) + room_area flux(wall) = through (wall - t), flux taken straight around the last wall */
            lift = (kv * (shelf - t) + room_area * flux + u_room * lift) / (kv + u_room + through);
        }
    else
        lift = kv * (shelf - t) / (kv + through);
    out->wall = t + lift;
    out->heat = through * lift;
    out->top = 0.0;
    if (c->top_coefficient > 0.0) {
        double v = framed * (DF_SHAPE_POINTS - 1), depth = df_table_at(c->shape.depth, v, DF_SHAPE_POINTS);
        double facing = b->wall_ratio > 0.0 ? s->dryer->chamber.room_temperature : shelf;
        double area = framed > 0.0 ? df_table_at(c->shape.area, v, DF_SHAPE_POINTS) : c->shape.free_area;
        out->top = area * (facing - t) / (1.0 / c->top_coefficient + depth / c->dry_conductivity);
    }
}

void df_body_rates(double *own_rate, double *gas, double *heat, const df_system *s, const df_body *b,
                   const double *own, const double *chamber, double total, double shelf) {
    double count = (double)b->c->count;
    df_look l;
    df_body_look(&l, s, b, own, chamber, total, shelf);
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
