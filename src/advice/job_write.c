/* A job as YAML. */
#include "advice/uncertain.h"
#include "base/yaml_write.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct job_writer {
    df_yaml_writer w;
    const df_job *job;
    df_setup usual;           /* what holds where the job does not say */
    const df_yaml_node *root; /* of the older text; NULL: none */
} job_writer;

/* Whether the older text states a field of a section. */
static bool stated(const job_writer *j, const char *section, const char *key) {
    return j->root != NULL && df_yaml_get(df_yaml_get(j->root, section), key) != NULL;
}

/* A field of a section that is written where it is not as usual, or was stated. The first one begins the section. */
typedef struct optional {
    const char *key;
    double value, usual;
    df_dimension dimension;
    const char *unit;
} optional;

static bool begin(job_writer *j, const char *section, bool begun) {
    if (!begun) {
        df_yaml_section(&j->w, section);
        df_text_puts(j->w.out, "\n");
    }
    return true;
}

static bool put_optional(job_writer *j, const char *section, bool begun, const optional *list, size_t n) {
    for (size_t i = 0; i < n; i++) {
        const optional *o = &list[i];
        if (o->value == o->usual && !stated(j, section, o->key))
            continue;
        begun = begin(j, section, begun);
        df_yaml_put_quantity(&j->w, o->key, o->value, o->dimension, o->unit);
    }
    return begun;
}

/* ", key: value" within brackets. */
static void inside(df_text *out, const char *key, double value, df_dimension dimension, const char *unit) {
    df_text_printf(out, ", %s: ", key);
    df_put_quantity(out, value, dimension, unit);
}

static void put_top_word(job_writer *j, const char *key, const char *value) {
    df_yaml_section(&j->w, key);
    df_text_puts(j->w.out, " ");
    df_put_scalar(j->w.out, value, false);
    df_text_puts(j->w.out, "\n");
}

/* Lines of the note as comments, behind those that stand before the first field already. */
static void put_note(job_writer *j, const char *note) {
    df_yaml_comments(&j->w, "job", false, false);
    for (const char *line = note; line != NULL && *line != '\0';) {
        size_t length = strcspn(line, "\n");
        df_text_puts(j->w.out, length > 0 ? "# " : "#");
        for (size_t i = 0; i < length; i++) { /* a name may hold anything */
            unsigned char c = (unsigned char)line[i];
            df_text_append(j->w.out, c < ' ' || c == 0x7f ? " " : &line[i], 1);
        }
        df_text_puts(j->w.out, "\n");
        line += length + (line[length] == '\n');
    }
}

/* ---- sample --------------------------------------------------------------------------------------------------- */

/* Critical temperature and density are written where they are not those of the table. */
static void put_solute(job_writer *j, const df_solute *s) {
    df_text *out = j->w.out;
    bool described = s->key[0] == '\0';
    df_text_puts(out, "    - {name: ");
    df_put_scalar(out, described ? s->name : s->key, true);
    inside(out, "concentration", s->concentration, DF_DIM_MASS_CONCENTRATION, NULL);
    if (described || strcmp(s->critical_kind, "stated") == 0)
        inside(out, "critical_temperature", s->critical_temperature, DF_DIM_TEMPERATURE, NULL);
    double density = described ? DF_SOLUTE_DENSITY : df_solid_density(&s->substance, 293.15);
    if (s->density != density && !(isnan(s->density) && isnan(density)))
        inside(out, "density", s->density, DF_DIM_MASS_CONCENTRATION, NULL);
    df_text_puts(out, "}\n");
}

static void put_seen(job_writer *j, const char *key, int seen) {
    const df_composition *c = &j->job->composition;
    bool any = false;
    for (size_t i = 0; i < c->n; i++) {
        if (c->seen[i] != seen)
            continue;
        if (!any) {
            df_yaml_field(&j->w, key);
            df_text_puts(j->w.out, " [");
        }
        df_text_puts(j->w.out, any ? ", " : "");
        df_put_scalar(j->w.out, c->component[i]->key, true);
        any = true;
    }
    if (any)
        df_text_puts(j->w.out, "]\n");
}

static void put_sample(job_writer *j) {
    const df_job *job = j->job;
    df_text composition = {0};
    df_yaml_section(&j->w, "sample");
    df_text_puts(j->w.out, "\n");
    df_composition_write(&composition, &job->composition);
    df_yaml_put_word(&j->w, "composition", df_text_string(&composition));
    j->w.out->failed = j->w.out->failed || composition.failed;
    df_text_free(&composition);
    if (job->solutes > 0) {
        df_yaml_field(&j->w, "solutes");
        df_text_puts(j->w.out, "\n");
    }
    for (size_t i = 0; i < job->solutes; i++)
        put_solute(j, &job->solute[i]);
    put_seen(j, "crystallises", 1);
    put_seen(j, "stays_liquid", -1);
}

/* ---- containers, freezing, recipe, events --------------------------------------------------------------------- */

static void put_containers(job_writer *j) {
    df_text *out = j->w.out;
    df_yaml_list(&j->w, "containers");
    for (size_t i = 0; i < j->job->groups; i++) {
        const df_group *g = &j->job->group[i];
        df_text_puts(out, "  - {type: ");
        df_put_scalar(out, g->container.key, true);
        df_text_printf(out, ", count: %ld", g->count);
        for (int spot = DF_SPOT_EDGE; spot < DF_SPOTS; spot++)
            if (g->at[spot] > 0)
                df_text_printf(out, ", %s: %ld", df_spot_name((df_spot)spot), g->at[spot]);
        inside(out, "fill", g->fill, DF_DIM_VOLUME, "mL");
        if (g->lie == DF_LIE_SHELL)
            df_text_puts(out, ", lie: shell");
        df_text_printf(out, ", place: %s", g->place == DF_PLACE_SHELF ? "shelf" : "manifold");
        if (isfinite(g->on))
            inside(out, "on", g->on, DF_DIM_TIME, NULL);
        if (isfinite(g->off))
            inside(out, "off", g->off, DF_DIM_TIME, NULL);
        df_text_puts(out, "}\n");
    }
}

static void put_freezing(job_writer *j) {
    const df_cooling *c = &j->job->cooling;
    df_yaml_section(&j->w, "freezing");
    df_text_puts(j->w.out, "\n");
    df_yaml_put_word(&j->w, "means", df_means_name(c->means));
    if (c->temperature != df_means_temperature(c->means) || stated(j, "freezing", "temperature"))
        df_yaml_put_quantity(&j->w, "temperature", c->temperature, DF_DIM_TEMPERATURE, NULL);
}

static void put_events(job_writer *j) {
    df_text *out = j->w.out;
    const df_job *job = j->job;
    if (job->loading > 0.0 || (j->root != NULL && df_yaml_get(j->root, "loading") != NULL)) {
        df_yaml_section(&j->w, "loading");
        df_text_puts(out, " ");
        df_put_quantity(out, job->loading, DF_DIM_TIME, "min");
        df_text_puts(out, "\n");
    }
    if (job->events > 0)
        df_yaml_list(&j->w, "events");
    for (size_t i = 0; i < job->events; i++) {
        const df_event *e = &job->event[i];
        df_text_printf(out, "  - {event: %s", df_event_name(e->kind));
        inside(out, "time", e->time, DF_DIM_TIME, NULL);
        if (e->kind != DF_EVENT_REFILL || e->length > 0.0)
            inside(out, "length", e->length, DF_DIM_TIME, NULL);
        if (e->kind == DF_EVENT_DEFROST && e->thaw != 0.5 * e->length)
            inside(out, "thaw", e->thaw, DF_DIM_TIME, NULL);
        if (e->trap > 0)
            df_text_printf(out, ", trap: %zu", e->trap + 1);
        df_text_puts(out, "}\n");
    }
}

static void put_residual(job_writer *j) {
    const df_composition *c = &j->job->composition;
    bool begun = false;
    for (size_t i = 0; i < c->n; i++) {
        if (!(j->job->target[i] > 0.0))
            continue;
        begun = begin(j, "residual", begun);
        df_yaml_put_quantity(&j->w, c->component[i]->key, j->job->target[i], DF_DIM_PERCENT,
                             j->job->target[i] < 1e-3 ? "ppm" : "%");
    }
}

/* ---- the rest ------------------------------------------------------------------------------------------------- */

static void put_limits(job_writer *j) {
    const df_job *job = j->job;
    const df_setup *u = &j->usual;
    const optional limits[] = {
        {"margin", job->margin, u->margin, DF_DIM_TEMPERATURE_STEP, NULL},
        {"time", job->time_limit, u->time_limit, DF_DIM_TIME, NULL},
        {"product_temperature", job->product_temperature, 0.0, DF_DIM_TEMPERATURE, NULL},
    };
    put_optional(j, "limits", false, limits, sizeof limits / sizeof limits[0]);
    if (job->cake.stated) {
        begin(j, "cake", false);
        df_yaml_put_quantity(&j->w, "r0", job->cake.r0, DF_DIM_RESISTANCE, NULL);
        df_yaml_put_quantity(&j->w, "a1", job->cake.a1, DF_DIM_RESISTANCE_SLOPE, NULL);
        df_yaml_put_quantity(&j->w, "a2", job->cake.a2, DF_DIM_PER_LENGTH, NULL);
    }
}

static void put_model(job_writer *j) {
    const df_job *job = j->job;
    const df_setup *u = &j->usual;
    const optional model[] = {
        {"least_framework", job->least_framework, u->least_framework, DF_DIM_PERCENT, NULL},
        {"trace_liquid", job->trace_liquid, u->trace_liquid, DF_DIM_PERCENT, NULL},
        {"top_coefficient", job->top_coefficient, 0.0, DF_DIM_HEAT_TRANSFER, NULL},
        {"dry_conductivity", job->dry_conductivity, DF_DRY_CONDUCTIVITY, DF_DIM_CONDUCTIVITY, NULL},
        {"pore_exponent", job->pore_exponent, u->pore_exponent, DF_DIM_NUMBER, NULL},
    };
    bool begun = false;
    if (job->mode != (df_freezing_mode)0 || stated(j, "model", "solids")) {
        begun = begin(j, "model", false);
        df_yaml_put_word(&j->w, "solids", df_freezing_mode_name(job->mode));
    }
    put_optional(j, "model", begun, model, sizeof model / sizeof model[0]);
}

df_status df_job_write(df_context *ctx, df_text *out, const df_job *job, const char *original, const char *note) {
    job_writer j = {.job = job};
    df_yaml *older = NULL;
    df_setup_defaults(&j.usual);
    if (original != NULL && df_yaml_parse(NULL, &older, original, strlen(original), "older") == DF_OK)
        j.root = df_yaml_root(older);
    df_status status = df_yaml_writer_open(ctx, &j.w, out, original);
    put_note(&j, note);
    put_top_word(&j, "job", job->name);
    put_top_word(&j, "purpose", df_purpose_name(job->purpose));
    put_top_word(&j, "dryer", job->dryer);
    put_sample(&j);
    put_containers(&j);
    put_freezing(&j);
    if (job->recipe_given) {
        df_yaml_list(&j.w, "recipe");
        df_recipe_write(out, &job->recipe, "  ");
    }
    put_events(&j);
    put_residual(&j);
    if (job->others > 0)
        df_yaml_list(&j.w, "dryers");
    for (size_t i = 0; i < job->others; i++) {
        df_text_puts(out, "  - ");
        df_put_scalar(out, job->other[i], false);
        df_text_puts(out, "\n");
    }
    put_limits(&j);
    put_model(&j);
    df_uncertain_write(&j.w, job->uncertain);
    df_status closed = df_yaml_writer_close(ctx, &j.w);
    df_yaml_free(older);
    return status != DF_OK ? status : closed;
}
