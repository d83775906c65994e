/* Solutes, and the mixture that they freeze in. */
#include "dryfront/sample.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MAX_NAMES 400       /* names looked through for a suggestion */
#define COLDEST_GLASS 150.0 /* K, that a freeze-concentrate may have: above that of water */
#define WARMEST_GLASS 272.0 /* K: below the melting of ice */

static bool named(const df_substance *s, const char *name) {
    if (df_name_equal(s->key, name) || df_name_equal(s->name, name))
        return true;
    for (const char *at = s->aliases; *at != '\0';) {
        char alias[64];
        size_t length = strcspn(at, ";");
        snprintf(alias, sizeof alias, "%.*s", (int)length, at);
        if (length > 0 && df_name_equal(alias, name))
            return true;
        at += length + (at[length] == ';');
    }
    return false;
}

df_status df_solute_find(df_context *ctx, df_solute *out, const df_substances *substances, const char *name,
                         const char *where) {
    const char *names[MAX_NAMES];
    size_t count = 0;
    for (size_t i = 0; i < df_substances_count(substances); i++) {
        const df_substance *s = df_substances_at(substances, i);
        if (!s->is_involatile)
            continue;
        if (!named(s, name)) {
            if (count + 2 <= MAX_NAMES) {
                names[count++] = s->key;
                names[count++] = s->name;
            }
            continue;
        }
        memset(out, 0, sizeof *out);
        out->known = true;
        out->own = s->own;
        out->substance = *s;
        out->density = df_solid_density(s, 293.15);
        out->critical_temperature =
            s->involatile.critical_kind[0] != '\0' ? s->involatile.anchor_temperature : (double)NAN;
        out->crystallises = !s->involatile.anchor_is_glass;
        out->glass_temperature = s->glass_temperature;
        out->gordon_taylor = s->involatile.gordon_taylor;
        snprintf(out->key, sizeof out->key, "%s", s->key);
        snprintf(out->grade, sizeof out->grade, "%s", df_grade_name(s->worst_grade));
        snprintf(out->name, sizeof out->name, "%s", s->name);
        snprintf(out->critical_kind, sizeof out->critical_kind, "%s", s->involatile.critical_kind);
        out->source = s->source;
        return DF_OK;
    }
    char near[256];
    const char *prefix = where != NULL ? where : "", *colon = where != NULL ? ": " : "",
               *why = df_substances_left_out(substances, name);
    if (why != NULL)
        return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%sthe solute '%s' is left out, its file is unsound: %s", prefix,
                       colon, name, why);
    df_suggest(near, sizeof near, name, names, count);
    if (near[0] != '\0')
        return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%sno solute is called '%s'; did you mean %s?", prefix, colon, name,
                       near);
    return df_fail(ctx, DF_E_UNKNOWN_NAME,
                   "%s%sno solute is called '%s'; state its critical_temperature, or take one of data/solutes.csv or "
                   "describe it in a file of your own",
                   prefix, colon, name);
}

void df_solute_state_critical(df_solute *solute, double temperature) {
    df_involatile *v = &solute->substance.involatile;
    solute->critical_temperature = temperature;
    snprintf(solute->critical_kind, sizeof solute->critical_kind, "stated");
    if (!solute->known || !v->anchor_is_glass)
        return;
    solute->known = temperature > COLDEST_GLASS && temperature < WARMEST_GLASS &&
                    temperature < solute->substance.glass_temperature - 1.0;
    if (solute->known)
        v->anchor_temperature = temperature;
}

df_status df_frozen_mixture(df_context *ctx, df_mixture **mixture, double *z, const df_pairs *pairs,
                            const df_composition *c, const df_solute *solutes, size_t n) {
    const df_substance *component[DF_MAX_COMPONENTS];
    size_t count = c->n;
    double total = 1.0, mole_volume = df_composition_molar_mass(c) / df_composition_density(c); /* m3 per mole */
    memset(z, 0, DF_MAX_COMPONENTS * sizeof *z);
    for (size_t i = 0; i < c->n; i++) {
        component[i] = c->component[i];
        z[i] = c->x[i];
    }
    for (size_t i = 0; i < n; i++) {
        const df_solute *s = &solutes[i];
        if (!s->known || !(s->concentration > 0.0))
            continue;
        size_t at = c->n;
        while (at < count && strcmp(component[at]->key, s->substance.key) != 0)
            at++;
        if (at == DF_MAX_COMPONENTS)
            continue;
        if (at == count)
            component[count++] = &s->substance;
        double moles = s->concentration * mole_volume / s->substance.molar_mass;
        z[at] += moles;
        total += moles;
    }
    for (size_t i = 0; i < count; i++)
        z[i] /= total;
    return df_mixture_create(ctx, mixture, pairs, component, count);
}
