/* What freezing makes of a mixture, along temperature. */
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TABLE_TOP 293.15    /* K, of the table where no temperatures are asked for */
#define TABLE_BOTTOM 173.15 /* K */
#define TABLE_STEP 10.0     /* K */
#define SCAN_STEP 2.0       /* K: changes of phases are looked for between points as near as this */
#define SCAN_TOLERANCE 1e-3 /* K */
#define JUMP 0.05           /* mole fraction by which the one liquid may differ from point to point */
#define FURTHEST 120.0      /* K that a change may move to be followed */
#define MOST_CHANGES 32
#define MOST_ROWS 128

/* Which solids are there (a bit each), how many liquids, and what the one liquid is where there is one: past a
 * monotectic another liquid takes the place of the first without a change in number. */
typedef struct signature {
    unsigned solids;
    size_t liquids;
    double x[DF_MAX_COMPONENTS];
} signature;

typedef struct change {
    double temperature; /* K */
    signature above, below;
    bool glass; /* what is liquid becomes a glass */
    int solid;  /* one that appears, -1: none does */
    df_appearance appearing;
    df_assemblage without; /* where a liquid goes: what is there beside the change, with it */
    size_t liquid;         /* that one */
    double sigma;          /* K, NAN: not known */
} change;

typedef struct phases {
    df_mixture *mixture;
    const double *z;
    bool allowed[DF_MAX_SOLIDS];
    double liquidus, solidus, lowest; /* K */
    double nucleation;                /* K, ice by itself; NAN: not above 130 K */
    double arrest;                    /* K, where what is liquid becomes a glass; NAN: not above `lowest` */
    df_assemblage arrested;           /* what is there at `arrest`, and colder */
    change change[MOST_CHANGES];      /* from the warm end down */
    size_t changes;
    double row[MOST_ROWS]; /* K, falling */
    size_t rows;
    df_assemblage there[MOST_ROWS]; /* at each row, or where what is liquid became a glass */
    df_part_bands band[MOST_ROWS];
    df_assemblage coldest; /* at `lowest`, or where what is liquid becomes a glass */
} phases;

static signature sign(const df_mixture *m, const df_assemblage *a) {
    signature s = {.liquids = a->liquids};
    for (size_t k = 0; k < df_mixture_solids(m); k++)
        if (a->solid[k] > 0.0)
            s.solids |= 1u << k;
    double total = 0.0;
    for (size_t i = 0; i < df_mixture_count(m) && a->liquids == 1; i++)
        total += s.x[i] = a->liquid[0][i];
    for (size_t i = 0; i < df_mixture_count(m) && a->liquids == 1; i++)
        s.x[i] /= total;
    return s;
}

static bool same(signature a, signature b) {
    for (size_t i = 0; i < DF_MAX_COMPONENTS; i++)
        if (fabs(a.x[i] - b.x[i]) > JUMP)
            return false;
    return a.solids == b.solids && a.liquids == b.liquids;
}

static df_status at(df_context *ctx, signature *out, const phases *p, double temperature) {
    df_assemblage a;
    df_status status = df_mixture_equilibrium(ctx, &a, p->mixture, temperature, p->z, p->allowed, false);
    if (status >= 0)
        *out = sign(p->mixture, &a);
    return status;
}

/* Finds the changes between two temperatures that differ in their phases, the warm ones first. */
static df_status find_between(df_context *ctx, phases *p, double cold, signature below, double warm,
                              signature above) {
    if (same(below, above) || p->changes == MOST_CHANGES)
        return DF_OK;
    if (warm - cold < SCAN_TOLERANCE) {
        p->change[p->changes++] =
            (change){.temperature = 0.5 * (cold + warm), .above = above, .below = below, .solid = -1, .sigma = NAN};
        return DF_OK;
    }
    double middle = 0.5 * (cold + warm);
    signature here;
    df_status status = at(ctx, &here, p, middle);
    if (status >= 0)
        status = find_between(ctx, p, middle, here, warm, above);
    if (status >= 0)
        status = find_between(ctx, p, cold, below, middle, here);
    return status;
}

static df_status find_changes(df_context *ctx, phases *p, double warmest, double coldest) {
    signature above, below;
    df_status status = at(ctx, &above, p, warmest);
    for (double warm = warmest; status >= 0 && warm > coldest;) {
        double cold = fmax(warm - SCAN_STEP, coldest);
        status = at(ctx, &below, p, cold);
        if (status >= 0)
            status = find_between(ctx, p, cold, below, warm, above);
        warm = cold;
        above = below;
    }
    return status;
}

static int falling(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? 1 : x > y ? -1 : 0;
}

static void phases_free(phases *p) {
    if (p != NULL) {
        df_mixture_free(p->mixture);
        free(p);
    }
}

/* ---- spreads -------------------------------------------------------------------------------------------------- */

static double apart(signature a, signature b) {
    double sum = 0.0;
    for (size_t i = 0; i < DF_MAX_COMPONENTS; i++)
        sum += fabs(a.x[i] - b.x[i]);
    return sum;
}

/* Whether `s` is like `one` and not like `other`, where small differences between liquids do not count. */
static bool like(signature s, signature one, signature other) {
    return s.solids == one.solids && s.liquids == one.liquids && apart(s, one) <= apart(s, other);
}

/* The same for a change where a liquid comes or goes: on the side that has it, its amount at two temperatures
 * leads to nought. */
static df_status liquid_goes_at(df_context *ctx, double *temperature, const phases *p, const df_mixture *m,
                                const change *c) {
    double inward = c->below.liquids > c->above.liquids ? -1.0 : 1.0, end = c->temperature;
    *temperature = NAN;
    for (int step = 0; step < 4; step++) {
        double t[2], amount[2];
        for (int k = 0; k < 2; k++) {
            df_assemblage a = c->without;
            t[k] = end + inward * (k + 1) * (step == 0 ? 0.5 : 0.25);
            amount[k] = 0.0;
            if (df_mixture_follow(ctx, &a, m, t[k], p->z) < 0 || a.liquids != c->without.liquids)
                return DF_OK;
            for (size_t i = 0; i < df_mixture_count(m); i++)
                amount[k] += a.liquid[c->liquid][i];
        }
        double next = t[0] - amount[0] * (t[1] - t[0]) / (amount[1] - amount[0]);
        if (!(fabs(next - c->temperature) < FURTHEST))
            return DF_OK;
        if (fabs(next - end) < 0.02) {
            *temperature = next;
            return DF_OK;
        }
        end = next;
    }
    return DF_OK;
}

/* The same where nothing is to be followed (one liquid gives way to another): bisection between what is above and
 * what is below. */
static df_status gives_way_at(df_context *ctx, double *temperature, const phases *p, const df_mixture *m,
                              const change *c) {
    *temperature = NAN;
    for (double wide = 1.0; wide < 20.0; wide *= 4.0) {
        double low = c->temperature - wide, high = c->temperature + wide;
        df_assemblage a;
        df_status status = df_mixture_equilibrium(ctx, &a, m, low, p->z, p->allowed, false);
        if (status < 0)
            return status;
        signature cold = sign(m, &a);
        status = df_mixture_equilibrium(ctx, &a, m, high, p->z, p->allowed, false);
        if (status < 0)
            return status;
        signature warm = sign(m, &a);
        bool by_above = like(warm, c->above, c->below) && !like(cold, c->above, c->below);
        bool by_below = like(cold, c->below, c->above) && !like(warm, c->below, c->above);
        if (!by_above && !by_below)
            continue;
        while (status >= 0 && high - low > 0.05) {
            double middle = 0.5 * (low + high);
            status = df_mixture_equilibrium(ctx, &a, m, middle, p->z, p->allowed, false);
            signature here = sign(m, &a);
            bool above = by_above ? like(here, c->above, c->below) : !like(here, c->below, c->above);
            *(above ? &high : &low) = middle;
        }
        *temperature = 0.5 * (low + high);
        return status;
    }
    return DF_OK;
}

/* Whether a row has something that can spread: a single liquid that is all there is has the composition of the
 * whole. */
static bool spreads(const phases *p, size_t row) {
    const df_assemblage *a = &p->there[row];
    return a->liquids > 1 || (a->liquids == 1 && sign(p->mixture, a).solids != 0);
}

/* Temperatures of the changes, then mass fractions in the liquids of each row. */
static df_status numbers(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const phases *p = data;
    size_t parts = df_mixture_count(m), used = 0;
    for (size_t i = 0; i < p->changes; i++, used++) {
        const change *c = &p->change[i];
        df_status status = DF_OK;
        if (c->glass)
            values[used] = NAN;
        else
            status = c->solid >= 0            ? df_mixture_appearance(ctx, &values[used], m, p->z, &c->appearing)
                     : c->without.liquids > 1 ? liquid_goes_at(ctx, &values[used], p, m, c)
                                              : gives_way_at(ctx, &values[used], p, m, c);
        if (status < 0)
            values[used] = NAN;
    }
    for (size_t row = 0; row < p->rows; row++) {
        if (!spreads(p, row))
            continue;
        df_assemblage a = p->there[row];
        signature base = sign(m, &a);
        df_status status = df_mixture_follow(ctx, &a, m, a.temperature, p->z);
        signature here = sign(m, &a);
        bool kept = status >= 0 && here.solids == base.solids && here.liquids == base.liquids;
        for (size_t l = 0; l < p->there[row].liquids; l++)
            for (size_t i = 0; i < parts; i++, used++) {
                values[used] = kept ? df_part_liquid_share(m, &a, l, i) : NAN;
                if (fabs(values[used] - df_part_liquid_share(m, &p->there[row], l, i)) > 0.3)
                    values[used] = NAN; /* another liquid */
            }
    }
    return used == n ? DF_OK : df_fail(ctx, DF_E_INTERNAL, "the numbers of a report changed in number");
}

/* Fills in the sigmas of changes and rows. Pairs that bear on nothing, for want of one of the two, are left out. */
static df_status find_spreads(df_context *ctx, phases *p) {
    size_t parts = df_mixture_count(p->mixture), n = p->changes;
    df_mixture_fix_traces(p->mixture, p->z);
    for (size_t i = 0; i < p->changes; i++) {
        change *c = &p->change[i];
        unsigned come = c->below.solids & ~c->above.solids;
        for (size_t k = 0; k < df_mixture_solids(p->mixture) && c->solid < 0 && !c->glass; k++)
            if ((come >> k) & 1u)
                c->solid = (int)k;
        if (c->solid >= 0 && df_mixture_appearing(ctx, &c->appearing, p->mixture, p->z, p->allowed, (size_t)c->solid,
                                                  c->temperature) < 0)
            c->solid = -1;
        if (c->solid < 0 && !c->glass && c->above.liquids != c->below.liquids) {
            double inward = c->below.liquids > c->above.liquids ? -0.5 : 0.5;
            if (df_mixture_equilibrium(ctx, &c->without, p->mixture, c->temperature + inward, p->z, p->allowed,
                                       false) < 0)
                c->without.liquids = 0;
            double least = INFINITY;
            for (size_t l = 0; l < c->without.liquids; l++) {
                double amount = 0.0;
                for (size_t j = 0; j < parts; j++)
                    amount += c->without.liquid[l][j];
                if (amount < least) {
                    least = amount;
                    c->liquid = l;
                }
            }
        }
    }
    for (size_t row = 0; row < p->rows; row++)
        n += spreads(p, row) ? p->there[row].liquids * parts : 0;
    double *value = malloc((2 * n + 1) * sizeof *value), *sigma = value + n;
    if (value == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_status status = df_mixture_spread(ctx, value, sigma, n, p->mixture, numbers, p, false);
    size_t used = 0;
    for (size_t i = 0; i < p->changes; i++, used++)
        p->change[i].sigma = status >= 0 ? sigma[used] : NAN;
    for (size_t row = 0; row < p->rows; row++)
        for (size_t l = 0; l < p->there[row].liquids && spreads(p, row); l++)
            for (size_t i = 0; i < parts; i++, used++)
                p->band[row].share[l][i] = status >= 0 ? sigma[used] : NAN;
    free(value);
    return status;
}

/* The sigma of a temperature that is one of the changes', K. */
static change *change_at(phases *p, double temperature) {
    change *nearest = NULL;
    double distance = 0.01;
    for (size_t i = 0; i < p->changes; i++)
        if (fabs(p->change[i].temperature - temperature) < distance) {
            nearest = &p->change[i];
            distance = fabs(nearest->temperature - temperature);
        }
    return nearest;
}
static double sigma_at(phases *p, double temperature) {
    const change *c = change_at(p, temperature);
    return c != NULL ? c->sigma : NAN;
}

static df_status both_ends(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const phases *p = data;
    (void)n;
    return df_mixture_freezing_range(ctx, &values[0], &values[1], m, p->z, p->allowed, p->lowest);
}

/* Where liquidus and solidus are so close that either solid may be the first, both looked for anew, as df_frozen_path_spread. */
static df_status spread_ends(df_context *ctx, phases *p) {
    double value[2], sigma[2], at[2] = {p->liquidus, p->solidus};
    if (!(p->liquidus - p->solidus < DF_AT_ONCE))
        return DF_OK;
    df_status status = df_mixture_spread(ctx, value, sigma, 2, p->mixture, both_ends, p, false);
    for (int i = 0; i < 2 && status >= 0; i++) {
        change *c = change_at(p, at[i]);
        if (c != NULL)
            c->sigma = sigma[i];
    }
    return status;
}

/* What is there at T: below the glass temperature what was there when the liquid set. */
static df_status there_at(df_context *ctx, df_assemblage *out, const phases *p, double temperature) {
    if (temperature <= p->arrest) {
        *out = p->arrested;
        return DF_OK;
    }
    return df_mixture_equilibrium(ctx, out, p->mixture, temperature, p->z, p->allowed, false);
}

static df_status phases_make(df_context *ctx, phases **out, const df_pairs *pairs, const df_composition *c,
                             const double *temperatures, size_t n, df_freezing_mode mode) {
    *out = NULL;
    phases *p = calloc(1, sizeof *p);
    if (p == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_status status = df_mixture_create(ctx, &p->mixture, pairs, c->component, c->n);
    if (status >= 0) {
        p->z = c->x;
        p->lowest = DF_PART_LOWEST;
        status = df_composition_allow(ctx, p->allowed, p->mixture, c, mode);
    }
    if (status >= 0)
        status = df_mixture_freezing_range(ctx, &p->liquidus, &p->solidus, p->mixture, p->z, p->allowed, p->lowest);
    if (status >= 0)
        status = df_mixture_nucleation(ctx, &p->nucleation, p->mixture, p->z);
    if (status >= 0)
        status = df_mixture_arrest(ctx, &p->arrest, &p->arrested, p->mixture, p->z, p->allowed, p->lowest);
    for (size_t i = 0; i < n && i < MOST_ROWS; i++)
        p->row[p->rows++] = temperatures[i];
    for (double t = TABLE_TOP; n == 0 && t > TABLE_BOTTOM - 0.1; t -= TABLE_STEP)
        p->row[p->rows++] = t;
    qsort(p->row, p->rows, sizeof p->row[0], falling);
    if (status >= 0) {
        double top = fmax(TABLE_TOP, isnan(p->liquidus) ? 0.0 : p->liquidus + 1.0);
        double bottom = fmin(TABLE_BOTTOM, isnan(p->solidus) ? TABLE_BOTTOM : p->solidus - 0.1);
        if (!isnan(p->arrest))
            bottom = fmax(bottom, p->arrest);
        status = find_changes(ctx, p, top, bottom);
    }
    if (status >= 0 && !isnan(p->arrest) && p->changes < MOST_CHANGES) {
        signature there = sign(p->mixture, &p->arrested);
        p->change[p->changes++] = (change){
            .temperature = p->arrest, .above = there, .below = there, .glass = true, .solid = -1, .sigma = NAN};
    }
    if (status >= 0 && isnan(p->arrest))
        status = df_mixture_equilibrium(ctx, &p->coldest, p->mixture, p->lowest, p->z, p->allowed, false);
    if (!isnan(p->arrest)) { /* what would go on below it in time does not */
        p->coldest = p->arrested;
        p->solidus = NAN;
    }
    for (size_t row = 0; status >= 0 && row < p->rows; row++)
        status = there_at(ctx, &p->there[row], p, p->row[row]);
    if (status >= 0)
        status = find_spreads(ctx, p);
    if (status >= 0)
        status = spread_ends(ctx, p);
    if (status < 0) {
        phases_free(p);
        return status;
    }
    *out = p;
    return DF_OK;
}

/* "ice appears; the last liquid is gone", read on cooling. */
static const char *change_words(char *out, size_t size, const phases *p, const change *c) {
    char name[80];
    size_t used = 0;
    out[0] = '\0';
    if (c->glass)
        snprintf(out, size, "what is liquid becomes a glass");
    for (size_t k = 0; k < df_mixture_solids(p->mixture) && used < size; k++) {
        bool before = (c->above.solids >> k) & 1u, after = (c->below.solids >> k) & 1u;
        if (before != after)
            used +=
                (size_t)snprintf(out + used, size - used, "%s%s %s", used > 0 ? "; " : "",
                                 df_part_solid_name(name, sizeof name, p->mixture, k), after ? "appears" : "goes");
    }
    const char *liquids = "";
    size_t richer = 0;
    for (size_t i = 1; i < df_mixture_count(p->mixture); i++)
        if (c->below.x[i] - c->above.x[i] > c->below.x[richer] - c->above.x[richer])
            richer = i;
    if (c->below.liquids == 1 && c->above.liquids == 1 && c->below.x[richer] - c->above.x[richer] > JUMP &&
        used < size)
        used += (size_t)snprintf(out + used, size - used, "%sa liquid richer in %s takes the place of the first",
                                 used > 0 ? "; " : "", df_mixture_component(p->mixture, richer)->key);
    if (c->below.liquids > c->above.liquids)
        liquids = c->above.liquids == 0 ? "liquid appears" : "the liquid splits";
    else if (c->below.liquids < c->above.liquids)
        liquids = c->below.liquids == 0 ? (c->above.liquids == 1 ? "the last liquid goes" : "the liquids go")
                                        : "one of the liquids goes";
    if (liquids[0] != '\0' && used < size)
        snprintf(out + used, size - used, "%s%s", used > 0 ? "; " : "", liquids);
    return out;
}

/* The solid that is there just below the liquidus. */
static const char *first_solid(char *out, size_t size, const phases *p) {
    for (size_t i = 0; i < p->changes; i++)
        for (size_t k = 0; k < df_mixture_solids(p->mixture); k++)
            if (((p->change[i].below.solids & ~p->change[i].above.solids) >> k) & 1u)
                return df_part_solid_name(out, size, p->mixture, k);
    snprintf(out, size, "%s", "");
    return out;
}

/* Whether a crystal that takes component i may form: its own, or for what has none (a salt) one with water. */
static bool crystallises(const phases *p, size_t i) {
    int own = df_part_own_crystal(p->mixture, i);
    if (own >= 0)
        return p->allowed[own];
    for (size_t k = 0; k < df_mixture_solids(p->mixture); k++)
        if (p->allowed[k] && df_mixture_solid(p->mixture, k)->formula[i] > 0.0)
            return true;
    return false;
}

/* Components of the liquid that is left at the cold end, those that do not crystallise, by name; count in *n. */
static void never_solid(df_text *out, size_t *n, const phases *p) {
    *n = 0;
    for (size_t i = 0; i < df_mixture_count(p->mixture); i++) {
        double moles = 0.0, all = 0.0;
        for (size_t l = 0; l < p->coldest.liquids; l++) {
            moles += p->coldest.liquid[l][i];
            for (size_t j = 0; j < df_mixture_count(p->mixture); j++)
                all += p->coldest.liquid[l][j];
        }
        if (all > 0.0 && moles > 1e-3 * all && !crystallises(p, i)) {
            df_text_printf(out, "%s%s", *n > 0 ? " and " : "", df_mixture_component(p->mixture, i)->name);
            ++*n;
        }
    }
}

/* Why the last liquid does not go, as one clause; "" where it goes. */
static void solidus_note(df_text *out, const phases *p) {
    df_text names = {0};
    size_t n;
    if (!isnan(p->solidus))
        return;
    never_solid(&names, &n, p);
    if (n > 0)
        df_text_printf(out, "%s %s not crystallise in practice", df_text_string(&names), n == 1 ? "does" : "do");
    else if (!isnan(p->arrest))
        df_text_puts(out, "what is left becomes a glass before it can crystallise");
    else
        df_text_printf(out, "some liquid is left down to %.0f °C, the coldest looked at", df_celsius(p->lowest));
    out->failed = out->failed || names.failed;
    df_text_free(&names);
}

/* Where what stays liquid becomes a glass, K: below the coldest looked at, by what the liquid is there. NAN: no
 * liquid. */
static double glass_temperature(const phases *p) {
    double highest = NAN;
    if (!isnan(p->arrest))
        return p->arrest;
    for (size_t l = 0; l < p->coldest.liquids; l++)
        highest = fmax(highest, df_mixture_glass_temperature(p->mixture, p->coldest.liquid[l]));
    return highest;
}

/* Is ice the first solid, and if so is it sure to form above the glass of the liquid as it is filled? */
static bool ice_first(const phases *p) {
    char name[80];
    return !isnan(p->liquidus) && strncmp(first_solid(name, sizeof name, p), "ice", 3) == 0;
}
static bool ice_sure(const phases *p) {
    return p->nucleation > df_mixture_glass_temperature(p->mixture, p->z);
}

static void undercooling_text(df_text *out, const phases *p) {
    if (!ice_first(p))
        return;
    if (ice_sure(p))
        df_layout_printf(
            out, "ice late",
            "in vials ice commonly forms 5 to 15 K colder than that (common practice, no source), at the "
            "latest by itself at about %.0f °C (homogeneous nucleation, water-activity criterion)",
            df_celsius(p->nucleation));
    else
        df_layout_printf(
            out, "ice late",
            "cooled fast and without anything to start ice, the liquid may become a glass without any "
            "(homogeneous nucleation, water-activity criterion, comes below its glass temperature of about %.0f °C)",
            df_celsius(df_mixture_glass_temperature(p->mixture, p->z)));
}

static void left_liquid_text(df_text *out, const phases *p) {
    double glass = glass_temperature(p);
    if (isnan(p->solidus) && !isnan(glass))
        df_layout_printf(out, "glass",
                         "what stays liquid is undercooled, thickens as it gets colder and is a glass below "
                         "about %.0f °C (Gordon-Taylor equation; a liquid without a known glass by the "
                         "two-thirds rule: a rough figure)",
                         df_celsius(glass));
}

static void table_text(df_text *out, const phases *p) {
    df_text line = {0};
    df_text_puts(out, "\nOn cooling: phases, % by mass of all (in brackets what a liquid is, % w/w)\n");
    for (size_t row = 0, event = 0; row < p->rows || event < p->changes;) {
        char label[32], words[400], band[32];
        bool is_change = event < p->changes && (row == p->rows || p->change[event].temperature >= p->row[row]);
        df_text_free(&line);
        if (is_change) {
            const change *c = &p->change[event++];
            snprintf(label, sizeof label, "%6.1f °C >", df_celsius(c->temperature));
            df_part_band(band, sizeof band, c->sigma, 1);
            df_text_printf(&line, "%s%s", change_words(words, sizeof words, p, c), band[0] != '\0' ? " (" : "");
            if (band[0] != '\0')
                df_text_printf(&line, "%s K)", band + 1);
            df_layout_paragraph(out, label, df_text_string(&line));
            continue;
        }
        snprintf(label, sizeof label, "%6.1f °C", df_celsius(p->row[row]));
        df_part_phases_text(&line, p->mixture, &p->there[row], p->row[row] <= p->arrest, &p->band[row]);
        df_layout_paragraph(out, label, df_text_string(&line));
        row++;
    }
    out->failed = out->failed || line.failed;
    df_text_free(&line);
}

df_status df_report_phases_text(df_context *ctx, df_text *out, const df_pairs *pairs, const df_composition *c,
                                const double *temperatures, size_t n, df_freezing_mode mode) {
    phases *p;
    df_text note = {0};
    char name[80], band[32];
    df_status status = phases_make(ctx, &p, pairs, c, temperatures, n, mode);
    if (status < 0)
        return status;
    df_part_composition_text(out, c);
    df_text_puts(out, "\n");
    if (isnan(p->liquidus))
        df_layout_printf(out, "first solid", "none down to %.0f °C", df_celsius(p->lowest));
    else
        df_layout_printf(out, "first solid", "%.1f%s °C (%s)", df_celsius(p->liquidus),
                         df_part_band(band, sizeof band, sigma_at(p, p->liquidus), 1),
                         first_solid(name, sizeof name, p));
    solidus_note(&note, p);
    if (isnan(p->solidus))
        df_layout_printf(out, "solidus", "none: %s", df_text_string(&note));
    else
        df_layout_printf(out, "solidus", "%.1f%s °C: below it all is solid", df_celsius(p->solidus),
                         df_part_band(band, sizeof band, sigma_at(p, p->solidus), 1));
    undercooling_text(out, p);
    left_liquid_text(out, p);
    df_part_solids_text(out, p->mixture, p->allowed, mode);
    table_text(out, p);
    df_text_puts(out, "\n");
    df_layout_paragraph(out, "±",
                        "one standard deviation, from the fits of the pairs and their grades; not of how real "
                        "samples crystallise");
    df_part_trust_text(out, p->mixture);
    out->failed = out->failed || note.failed;
    df_text_free(&note);
    phases_free(p);
    if (status >= 0 && out->failed)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large");
    return status;
}

static json_t *signature_json(const phases *p, signature s) {
    json_t *o = json_object(), *solids = json_array();
    for (size_t k = 0; k < df_mixture_solids(p->mixture); k++)
        if ((s.solids >> k) & 1u)
            json_array_append_new(solids, df_json_text(df_mixture_solid(p->mixture, k)->name));
    df_json_put(o, "solids", solids);
    df_json_put(o, "liquids", json_integer((json_int_t)s.liquids));
    return o;
}

df_status df_report_phases_json(df_context *ctx, df_text *out, const df_pairs *pairs, const df_composition *c,
                                const double *temperatures, size_t n, df_freezing_mode mode) {
    phases *p;
    df_text note = {0};
    char words[400];
    df_status status = phases_make(ctx, &p, pairs, c, temperatures, n, mode);
    if (status < 0)
        return status;
    json_t *root = json_object(), *changes = json_array(), *table = json_array();
    df_json_put(root, "composition", df_part_composition_json(c));
    df_json_put(root, "volumes", df_json_text("of the liquids before mixing, at 20 °C"));
    df_json_put(root, "solids_mode", df_json_text(df_freezing_mode_name(mode)));
    df_json_put(root, "first_solid_C", df_json_number(df_celsius(p->liquidus)));
    df_json_put(root, "first_solid_sigma_K", df_json_number(sigma_at(p, p->liquidus)));
    df_json_put(root, "first_solid",
                isnan(p->liquidus) ? json_null() : df_json_text(first_solid(words, sizeof words, p)));
    df_json_put(root, "ice_by_itself_C",
                ice_first(p) && ice_sure(p) ? df_json_number(df_celsius(p->nucleation)) : json_null());
    df_json_put(root, "solidus_C", df_json_number(df_celsius(p->solidus)));
    df_json_put(root, "solidus_sigma_K", df_json_number(sigma_at(p, p->solidus)));
    solidus_note(&note, p);
    df_json_put(root, "solidus_note", isnan(p->solidus) ? df_json_text(df_text_string(&note)) : json_null());
    df_json_put(root, "glass_C", isnan(p->solidus) ? df_json_number(df_celsius(glass_temperature(p))) : json_null());
    df_json_put(root, "solids", df_part_solids_json(p->mixture, p->allowed));
    for (size_t i = 0; i < p->changes; i++) {
        json_t *o = json_object();
        df_json_put(o, "temperature_C", df_json_number(df_celsius(p->change[i].temperature)));
        df_json_put(o, "temperature_sigma_K", df_json_number(p->change[i].sigma));
        df_json_put(o, "on_cooling", df_json_text(change_words(words, sizeof words, p, &p->change[i])));
        df_json_put(o, "above", signature_json(p, p->change[i].above));
        df_json_put(o, "below", signature_json(p, p->change[i].below));
        json_array_append_new(changes, o);
    }
    df_json_put(root, "changes", changes);
    for (size_t row = 0; row < p->rows; row++) {
        json_t *o = json_object();
        df_json_put(o, "temperature_C", df_json_number(df_celsius(p->row[row])));
        df_part_phases_json(o, p->mixture, &p->there[row], p->row[row] <= p->arrest, &p->band[row]);
        json_array_append_new(table, o);
    }
    df_json_put(root, "table", table);
    df_json_put(root, "trust", df_part_trust_json(p->mixture));
    bool lost = note.failed;
    df_text_free(&note);
    phases_free(p);
    if (lost) {
        json_decref(root);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    return df_json_finish(ctx, out, root);
}
