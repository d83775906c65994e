/* A job run over lists, ranges and draws of its fields. */
#include "dryfront/sweep.h"
#include "advice/sobol.h"
#include "advice/stand.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define MOST_VALUES 10000 /* of one axis */
#define CHUNK 100         /* runs, unless stated */
#define MOST_DRYERS 32
#define ROUGH 1e-4
#define COMPOSITION "sample.composition."

typedef enum axis_kind { LIST, RANGE, DRAWN } axis_kind;

typedef struct axis {
    char field[128], where[160];
    axis_kind kind;
    size_t count;    /* of a list or range */
    char **value;    /* of a list; owned */
    double from, to; /* in `unit` */
    char unit[32];
    size_t drawn; /* dimension of a drawn one */
} axis;

struct df_sweep {
    char name[96], job[256], job_where[160];
    axis axis[DF_SWEEP_AXES];
    size_t axes, draws, drawn, chunk, grid;
    bool whole;
    df_sobol sobol;
    char *plan, *text, *text_name; /* plan and job as read */
    size_t plan_length, text_length;
    df_yaml *yaml;
    const df_substances *substances;
    const df_containers *containers;
    const df_pairs *pairs;
    char dryer_name[MOST_DRYERS][256];
    df_dryer *dryer;
    size_t dryers;
};

/* ---- the plan ------------------------------------------------------------------------------------------------- */

static df_status read_list(df_context *ctx, axis *a, const df_yaml_node *list) {
    a->kind = LIST;
    a->count = df_yaml_count(list);
    if (df_yaml_node_kind(list) != DF_YAML_LIST || a->count < 1 || a->count > MOST_VALUES)
        return df_yaml_fail(ctx, list, "should be a list of 1 to %d values", MOST_VALUES);
    a->value = calloc(a->count, sizeof *a->value);
    for (size_t i = 0; i < a->count; i++) {
        const char *text = df_yaml_scalar(df_yaml_item(list, i));
        if (text == NULL)
            return df_yaml_fail(ctx, df_yaml_item(list, i), "should be one value, as it stands in a job");
        if (a->value == NULL || (a->value[i] = df_strdup(text)) == NULL)
            return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    return DF_OK;
}

static df_status read_end(df_context *ctx, double *value, char *unit, size_t size, const df_yaml_node *map,
                          const char *key) {
    const df_yaml_node *node = df_yaml_get(map, key);
    const char *rest, *text = node != NULL ? df_yaml_scalar(node) : NULL;
    if (text == NULL || !df_number_scan(value, &rest, text))
        return df_yaml_fail(ctx, node != NULL ? node : map, "'%s' should be a number with its unit, as in a job",
                            key);
    snprintf(unit, size, "%.31s", rest);
    return DF_OK;
}

static df_status read_range(df_context *ctx, axis *a, const df_yaml_node *map) {
    char unit[32];
    long count = 0;
    bool draw = false;
    df_status status = read_end(ctx, &a->from, a->unit, sizeof a->unit, map, "from");
    if (status == DF_OK)
        status = read_end(ctx, &a->to, unit, sizeof unit, map, "to");
    if (status == DF_OK && strcmp(unit, a->unit) != 0)
        return df_yaml_fail(ctx, df_yaml_get(map, "to"), "should have the unit of 'from', '%s'", a->unit);
    if (status == DF_OK && !(a->to > a->from))
        return df_yaml_fail(ctx, df_yaml_get(map, "to"), "should be larger than 'from'");
    if (status == DF_OK)
        status = df_yaml_bool(ctx, &draw, map, "draw", false);
    if (status == DF_OK && draw && df_yaml_get(map, "count") != NULL)
        return df_yaml_fail(ctx, df_yaml_get(map, "count"),
                            "does not go with draw: the plan's 'draws' says how many");
    if (status == DF_OK && !draw)
        status = df_yaml_integer(ctx, &count, map, "count", true, 2, MOST_VALUES);
    a->kind = draw ? DRAWN : RANGE;
    a->count = draw ? 1 : (size_t)count;
    return status;
}

static df_status read_axis(df_context *ctx, df_sweep *s, const df_yaml_node *map) {
    static const char *const keys[] = {"field", "values", "from", "to", "count", "draw"};
    axis *a = &s->axis[s->axes++];
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    if (status == DF_OK)
        status = df_yaml_text(ctx, a->field, sizeof a->field, map, "field", true);
    if (status != DF_OK)
        return status;
    df_yaml_where(a->where, sizeof a->where, df_yaml_get(map, "field"));
    const df_yaml_node *values = df_yaml_get(map, "values");
    bool ranged = df_yaml_get(map, "from") != NULL || df_yaml_get(map, "to") != NULL ||
                  df_yaml_get(map, "count") != NULL || df_yaml_get(map, "draw") != NULL;
    if ((values != NULL) == ranged)
        return df_yaml_fail(ctx, map, "needs either values, or from and to with count or draw");
    return values != NULL ? read_list(ctx, a, values) : read_range(ctx, a, map);
}

static df_status read_plan(df_context *ctx, df_sweep *s, const df_yaml_node *root) {
    static const char *const keys[] = {"sweep", "job", "vary", "draws", "seed", "chunk", "runs"};
    static const char *const extents[] = {"primary", "whole"};
    long draws = 1, seed = 1, chunk = CHUNK;
    int extent = 0;
    df_status status = df_yaml_check_keys(ctx, root, keys, COUNT(keys));
    if (status == DF_OK)
        status = df_yaml_text(ctx, s->name, sizeof s->name, root, "sweep", true);
    if (status == DF_OK)
        status = df_yaml_text(ctx, s->job, sizeof s->job, root, "job", true);
    if (status == DF_OK) {
        df_yaml_where(s->job_where, sizeof s->job_where, df_yaml_get(root, "job"));
        status = df_yaml_integer(ctx, &draws, root, "draws", false, 1, DF_SWEEP_RUNS);
    }
    if (status == DF_OK)
        status = df_yaml_integer(ctx, &seed, root, "seed", false, 0, 2000000000L);
    if (status == DF_OK)
        status = df_yaml_integer(ctx, &chunk, root, "chunk", false, 1, 10000);
    if (status == DF_OK)
        status = df_yaml_choice(ctx, &extent, root, "runs", false, extents, 2);
    const df_yaml_node *list = df_yaml_get(root, "vary");
    if (status == DF_OK && (list == NULL || df_yaml_node_kind(list) != DF_YAML_LIST || df_yaml_count(list) < 1 ||
                            df_yaml_count(list) > DF_SWEEP_AXES))
        status =
            df_yaml_fail(ctx, list != NULL ? list : root, "'vary' should be a list of 1 to %d fields", DF_SWEEP_AXES);
    for (size_t i = 0; status == DF_OK && i < df_yaml_count(list); i++)
        status = read_axis(ctx, s, df_yaml_item(list, i));
    if (status != DF_OK)
        return status;
    s->grid = 1;
    for (size_t i = 0; i < s->axes; i++) {
        if (s->axis[i].kind == DRAWN)
            s->axis[i].drawn = s->drawn++;
        s->grid *= s->axis[i].count;
        if (s->grid > DF_SWEEP_RUNS)
            return df_yaml_fail(ctx, list, "more than %d runs", DF_SWEEP_RUNS);
    }
    if ((s->drawn > 0) != (df_yaml_get(root, "draws") != NULL))
        return df_yaml_fail(ctx, root,
                            s->drawn > 0 ? "'draws' is missing: how often the fields with draw are drawn"
                                         : "'draws' needs a field with draw: yes");
    s->draws = (size_t)draws;
    s->chunk = (size_t)chunk;
    s->whole = extent == 1;
    if (s->grid * s->draws > DF_SWEEP_RUNS)
        return df_yaml_fail(ctx, root, "%zu runs are more than %d", s->grid * s->draws, DF_SWEEP_RUNS);
    df_sobol_make(&s->sobol, s->drawn, (uint64_t)seed, true);
    return DF_OK;
}

df_status df_sweep_parse(df_context *ctx, df_sweep **out, const char *buffer, size_t length, const char *name) {
    df_yaml *yaml = NULL;
    df_sweep *s = *out = calloc(1, sizeof *s);
    if (s == NULL || (s->plan = df_strndup(buffer, length)) == NULL) {
        free(s);
        *out = NULL;
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    s->plan_length = length;
    df_status status = df_yaml_parse(ctx, &yaml, buffer, length, name);
    if (status == DF_OK)
        status = read_plan(ctx, s, df_yaml_root(yaml));
    df_yaml_free(yaml);
    if (status != DF_OK) {
        df_sweep_free(s);
        *out = NULL;
    }
    return status;
}

void df_sweep_free(df_sweep *s) {
    if (s == NULL)
        return;
    for (size_t i = 0; i < s->axes; i++) {
        for (size_t k = 0; k < s->axis[i].count && s->axis[i].value != NULL; k++)
            free(s->axis[i].value[k]);
        free(s->axis[i].value);
    }
    df_yaml_free(s->yaml);
    free(s->plan);
    free(s->text);
    free(s->text_name);
    free(s->dryer);
    free(s);
}

const char *df_sweep_name(const df_sweep *s) {
    return s->name;
}
const char *df_sweep_job(const df_sweep *s) {
    return s->job;
}
const char *df_sweep_job_where(const df_sweep *s) {
    return s->job_where;
}
size_t df_sweep_runs(const df_sweep *s) {
    return s->grid * s->draws;
}
size_t df_sweep_chunks(const df_sweep *s) {
    return (df_sweep_runs(s) + s->chunk - 1) / s->chunk;
}

/* ---- the values of a run -------------------------------------------------------------------------------------- */

typedef struct value {
    char text[160];  /* as it goes into the job */
    char shown[160]; /* as it goes into the table */
} value;

/* Draws go fastest, then the last field of the plan. */
static void values_of(value *v, const df_sweep *s, size_t run) {
    double u[DF_SOBOL_DIMENSIONS];
    df_sobol_point(u, &s->sobol, (uint32_t)(run % s->draws));
    size_t rest = run / s->draws;
    for (size_t i = s->axes; i-- > 0;) {
        const axis *a = &s->axis[i];
        size_t k = rest % a->count;
        rest /= a->count;
        if (a->kind == LIST) {
            snprintf(v[i].text, sizeof v[i].text, "%.159s", a->value[k]);
            snprintf(v[i].shown, sizeof v[i].shown, "%.159s", a->value[k]);
            continue;
        }
        double share = a->kind == DRAWN ? u[a->drawn] : (double)k / (double)(a->count - 1);
        double number = share < 1.0 ? a->from + share * (a->to - a->from) : a->to;
        snprintf(v[i].shown, sizeof v[i].shown, "%.10g", number);
        snprintf(v[i].text, sizeof v[i].text, "%.10g%s%s", number, a->unit[0] != '\0' ? " " : "", a->unit);
    }
}

/* ---- the job of a run ----------------------------------------------------------------------------------------- */

/* Whether a path is the field's; "[*]" in the field stands for any place in a list. */
static bool is_field(const char *path, const char *field) {
    while (*path != '\0' || *field != '\0') {
        if (strncmp(field, "[*]", 3) == 0 && *path == '[') {
            field += 3;
            path += strcspn(path, "]");
            path += *path != '\0';
            continue;
        }
        if (*path != *field)
            return false;
        path++;
        field++;
    }
    return true;
}

/* Whether the field is `key` of the map at `path`: the key, else NULL. */
static const char *key_under(const char *path, const char *field) {
    const char *dot = strrchr(field, '.');
    char parent[128];
    if (dot == NULL)
        return path[0] == '\0' ? field : NULL;
    snprintf(parent, sizeof parent, "%.*s", (int)(dot - field), field);
    return is_field(path, parent) ? dot + 1 : NULL;
}

static void quote(df_text *out, const char *text) {
    df_text_puts(out, "\"");
    for (; *text != '\0'; text++) {
        if (*text == '"' || *text == '\\')
            df_text_puts(out, "\\");
        if ((unsigned char)*text < 0x20)
            df_text_printf(out, "\\x%02x", (unsigned)(unsigned char)*text);
        else
            df_text_append(out, text, 1);
    }
    df_text_puts(out, "\"");
}

/* The amount of one part of a composition replaced; false where the part is not there. */
static bool replace_part(char *out, size_t size, const char *text, const char *name, const char *amount) {
    size_t used = 0;
    bool found = false;
    out[0] = '\0';
    while (*text != '\0') {
        size_t length = strcspn(text, ",;"), from = strspn(text, " \t\n");
        char part[256];
        snprintf(part, sizeof part, "%.*s", (int)(length > from ? length - from : 0),
                 text + (length > from ? from : length));
        /* The name is all before the last word but one that begins with a digit, or the whole. */
        size_t end = strlen(part);
        while (end > 0 && part[end - 1] == ' ')
            part[--end] = '\0';
        char *number = NULL;
        for (char *at = part; *at != '\0'; at++)
            if (at > part && at[-1] == ' ' && *at >= '0' && *at <= '9')
                number = at;
        char bare[256];
        snprintf(bare, sizeof bare, "%.*s", (int)(number != NULL ? (size_t)(number - part) : strlen(part)), part);
        for (size_t k = strlen(bare); k > 0 && bare[k - 1] == ' ';)
            bare[--k] = '\0';
        bool this_one = df_name_equal(bare, name);
        found = found || this_one;
        used += (size_t)snprintf(out + used, size - used, "%s%s%s%s", used > 0 ? ", " : "", this_one ? bare : part,
                                 this_one ? " " : "", this_one ? amount : "");
        if (used + 1 >= size)
            return false;
        text += length;
        text += *text != '\0';
    }
    return found;
}

typedef struct writing {
    const df_sweep *sweep;
    const value *value;
    size_t met[DF_SWEEP_AXES]; /* places where a field was found */
} writing;

static void write_scalar(df_text *out, writing *w, const df_yaml_node *node) {
    const char *path = df_yaml_node_path(node);
    char text[1024], next[1024];
    snprintf(text, sizeof text, "%.1023s", df_yaml_scalar(node));
    for (size_t i = 0; i < w->sweep->axes; i++) {
        const char *field = w->sweep->axis[i].field;
        if (is_field(path, field)) {
            snprintf(text, sizeof text, "%s", w->value[i].text);
            w->met[i]++;
        } else if (strcmp(path, "sample.composition") == 0 && strncmp(field, COMPOSITION, strlen(COMPOSITION)) == 0 &&
                   replace_part(next, sizeof next, text, field + strlen(COMPOSITION), w->value[i].text)) {
            memcpy(text, next, sizeof text);
            w->met[i]++;
        }
    }
    quote(out, text);
}

static void write_node(df_text *out, writing *w, const df_yaml_node *node) {
    df_yaml_kind kind = df_yaml_node_kind(node);
    if (kind == DF_YAML_SCALAR) {
        write_scalar(out, w, node);
        return;
    }
    const char *before = "";
    df_text_puts(out, kind == DF_YAML_LIST ? "[" : "{");
    for (size_t i = 0; i < df_yaml_count(node); i++, before = ", ") {
        df_text_puts(out, before);
        if (kind == DF_YAML_MAP) {
            quote(out, df_yaml_key(node, i));
            df_text_puts(out, ": ");
        }
        write_node(out, w, df_yaml_item(node, i));
    }
    for (size_t i = 0; i < w->sweep->axes && kind == DF_YAML_MAP; i++) { /* fields that the job leaves out */
        const char *key = key_under(df_yaml_node_path(node), w->sweep->axis[i].field);
        if (key == NULL || df_yaml_get(node, key) != NULL)
            continue;
        df_text_puts(out, before);
        quote(out, key);
        df_text_puts(out, ": ");
        quote(out, w->value[i].text);
        before = ", ";
        w->met[i]++;
    }
    df_text_puts(out, kind == DF_YAML_LIST ? "]" : "}");
}

static df_status job_of(df_context *ctx, df_job *job, writing *w, const df_sweep *s, const value *v) {
    df_text text = {0};
    *w = (writing){.sweep = s, .value = v};
    write_node(&text, w, df_yaml_root(s->yaml));
    df_status status = text.failed ? df_fail(ctx, DF_E_MEMORY, "out of memory")
                                   : df_job_parse(ctx, job, s->substances, s->containers, df_text_string(&text),
                                                  text.length, s->text_name);
    df_text_free(&text);
    return status;
}

static df_status name_dryer(df_context *ctx, df_sweep *s, const char *name) {
    for (size_t i = 0; i < s->dryers; i++)
        if (strcmp(s->dryer_name[i], name) == 0)
            return DF_OK;
    if (s->dryers == MOST_DRYERS)
        return df_fail(ctx, DF_E_INPUT, "more than %d dryers", MOST_DRYERS);
    snprintf(s->dryer_name[s->dryers++], sizeof s->dryer_name[0], "%.255s", name);
    return DF_OK;
}

df_status df_sweep_take_job(df_context *ctx, df_sweep *s, const df_substances *substances,
                            const df_containers *containers, const df_pairs *pairs, const char *buffer, size_t length,
                            const char *name) {
    value v[DF_SWEEP_AXES];
    writing w = {.sweep = s, .value = v};
    s->substances = substances;
    s->containers = containers;
    s->pairs = pairs;
    s->text = df_strndup(buffer, length);
    s->text_length = length;
    s->text_name = df_strdup(name);
    df_job *job = calloc(1, sizeof *job);
    df_status status =
        s->text == NULL || s->text_name == NULL || job == NULL
            ? df_fail(ctx, DF_E_MEMORY, "out of memory")
            : df_job_parse(ctx, job, substances, containers, buffer, length, name); /* for its sentences */
    if (status == DF_OK)
        status = df_yaml_parse(ctx, &s->yaml, buffer, length, name);
    values_of(v, s, 0);
    if (status == DF_OK) {
        df_text text = {0};
        write_node(&text, &w, df_yaml_root(s->yaml));
        df_text_free(&text);
    }
    for (size_t i = 0; i < s->axes && status == DF_OK; i++)
        if (w.met[i] == 0)
            status = df_fail(
                ctx, DF_E_INPUT,
                "%s: '%s' is not in %s; write it as in the job's sentences, e.g. recipe[0].shelf_temperature, "
                "containers[*].fill or sample.composition.acetonitrile",
                s->axis[i].where, s->axis[i].field, name);
    if (status == DF_OK && (status = job_of(ctx, job, &w, s, v)) < 0) {
        char why[400];
        snprintf(why, sizeof why, "%.399s", df_context_message(ctx));
        status = df_fail(ctx, status, "with the plan's first values, %s", why);
    }
    bool dryers = false;
    for (size_t i = 0; i < s->axes && status == DF_OK; i++)
        if (strcmp(s->axis[i].field, "dryer") == 0)
            for (size_t k = 0; k < s->axis[i].count && status == DF_OK; k++) {
                dryers = true;
                status = s->axis[i].kind == LIST
                             ? name_dryer(ctx, s, s->axis[i].value[k])
                             : df_fail(ctx, DF_E_INPUT, "%s: a dryer is named: give values", s->axis[i].where);
            }
    if (status == DF_OK && !dryers)
        status = name_dryer(ctx, s, job->dryer);
    if (status == DF_OK && (s->dryer = calloc(s->dryers, sizeof *s->dryer)) == NULL)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    free(job);
    return status;
}

const char *df_sweep_dryer_name(const df_sweep *s, size_t index) {
    return index < s->dryers ? s->dryer_name[index] : NULL;
}

void df_sweep_take_dryer(df_sweep *s, size_t index, const df_dryer *dryer) {
    if (index < s->dryers)
        s->dryer[index] = *dryer;
}

/* FNV-1a (Fowler, Noll & Vo; RFC 9923). */
static void hash(uint64_t *h, const char *bytes, size_t length) {
    for (size_t i = 0; i < length; i++)
        *h = (*h ^ (unsigned char)bytes[i]) * 0x100000001B3u;
}

df_status df_sweep_fingerprint(df_context *ctx, uint64_t *out, const df_sweep *s) {
    uint64_t h = 0xCBF29CE484222325u;
    df_status status = DF_OK;
    hash(&h, s->plan, s->plan_length + 1);
    hash(&h, s->text, s->text_length + 1);
    for (size_t i = 0; i < s->dryers && status == DF_OK; i++) {
        df_text text = {0};
        status = df_dryer_write(ctx, &text, &s->dryer[i], NULL, NULL);
        hash(&h, df_text_string(&text), text.length);
        df_text_free(&text);
    }
    *out = h;
    return status;
}

/* ---- runs ----------------------------------------------------------------------------------------------------- */

/* What one thread keeps from run to run: a frozen path and a deposit hold as long as the sample is the same. */
typedef struct bench {
    df_context *ctx;
    df_job job, made_for;
    df_setup setup;
    df_frozen_path path;
    df_deposit deposit;
    bool made;
} bench;

static bool same_sample(const df_job *a, const df_job *b) {
    return memcmp(&a->composition, &b->composition, sizeof a->composition) == 0 && a->solutes == b->solutes &&
           memcmp(a->solute, b->solute, sizeof a->solute) == 0 && a->mode == b->mode;
}

static df_status make_sample(bench *b, const df_sweep *s) {
    if (b->made && same_sample(&b->job, &b->made_for))
        return DF_OK;
    b->made = false;
    df_status status = df_trial_path(b->ctx, &b->path, &b->job, s->pairs);
    if (status >= 0)
        status = df_deposit_make(b->ctx, &b->deposit, s->pairs, &b->job.composition);
    b->made = status >= 0;
    b->made_for = b->job;
    return status;
}

static void cell(df_text *out, const char *text) {
    if (text[strcspn(text, ",\"\n\r")] == '\0') {
        df_text_puts(out, text);
        return;
    }
    df_text_puts(out, "\"");
    for (; *text != '\0'; text++) {
        if (*text == '"')
            df_text_puts(out, "\"");
        df_text_append(out, *text == '\n' || *text == '\r' ? " " : text, 1);
    }
    df_text_puts(out, "\"");
}

static void number(df_text *out, double x) {
    if (isfinite(x))
        df_text_printf(out, ",%.7g", x);
    else
        df_text_puts(out, ",");
}

#define RESULTS                                                                                                      \
    "standing,cause,acceptable,least_margin_K,hottest_C,primary_h,end_h,highest_pressure_mbar,"                      \
    "highest_trap_surface_C,organic_to_pump_g,note"

/* Result columns of one run, from the comma after "status" on. */
static df_status run_job(df_text *out, bench *b, const df_sweep *s) {
    const df_dryer *dryer = NULL;
    for (size_t i = 0; i < s->dryers; i++)
        if (strcmp(s->dryer_name[i], b->job.dryer) == 0)
            dryer = &s->dryer[i];
    if (dryer == NULL)
        return df_fail(b->ctx, DF_E_INTERNAL, "dryer '%s' was not opened", b->job.dryer);
    df_status status = df_trial_fit(b->ctx, &b->job, dryer);
    if (status == DF_OK)
        status = make_sample(b, s);
    if (status < 0)
        return status;
    df_verdict v;
    df_run run = {0};
    bool afloat = df_verdict_afloat(&v, &b->job, &b->path);
    if (!afloat) {
        status = df_trial_fill(b->ctx, &b->setup, &b->job, dryer, &b->path, &b->deposit,
                               df_trial_loaded(&b->job, &b->path), s->whole);
        b->setup.terse = true;
        b->setup.tolerance = ROUGH;
        if (status == DF_OK)
            status = df_run_simulate(b->ctx, &run, &b->setup);
        if (status < 0)
            return status;
        v = df_verdict_of_run(&run, &b->setup);
    }
    bool acceptable =
        v.standing == DF_RIGID || (v.standing == DF_WETTED && df_purpose_accepts_wetted(b->job.purpose));
    df_text_printf(out, "ok,%s,%s,%s", df_standing_name(v.standing), df_cause_name(v.cause),
                   acceptable ? "yes" : "no");
    if (afloat)
        df_text_puts(out, ",,,,,,,");
    else {
        const df_class_run *c = &run.classes[v.worst];
        bool dry = run.end == DF_END_DRY;
        number(out, c->least_margin);
        number(out, c->hottest - DF_ZERO_CELSIUS);
        number(out, (isnan(run.primary_time) && dry ? run.time : run.primary_time) / 3600.0);
        number(out, dry ? run.time / 3600.0 : NAN);
        number(out, run.highest_pressure / 100.0);
        number(out, run.highest_trap_surface - DF_ZERO_CELSIUS);
        number(out, 1e3 * run.organic_to_pump);
        df_run_free(&run);
    }
    df_text_puts(out, ",\n");
    return DF_OK;
}

static df_status row(df_text *out, bench *b, const df_sweep *s, size_t run) {
    value v[DF_SWEEP_AXES];
    writing w;
    values_of(v, s, run);
    df_text_printf(out, "%zu,", run + 1);
    for (size_t i = 0; i < s->axes; i++) {
        cell(out, v[i].shown);
        df_text_puts(out, ",");
    }
    df_status status = job_of(b->ctx, &b->job, &w, s, v);
    if (status == DF_OK)
        status = run_job(out, b, s);
    if (status < 0) {
        df_text_printf(out, "%s,,,,,,,,,,,", df_status_name(status));
        cell(out, df_context_message(b->ctx));
        df_text_puts(out, "\n");
    }
    return status == DF_E_MEMORY || out->failed ? DF_E_MEMORY : DF_OK;
}

void df_sweep_header(df_text *out, const df_sweep *s) {
    df_text_puts(out, "run,");
    for (size_t i = 0; i < s->axes; i++) {
        char name[192];
        const axis *a = &s->axis[i];
        snprintf(name, sizeof name, a->kind != LIST && a->unit[0] != '\0' ? "%s (%s)" : "%s", a->field, a->unit);
        cell(out, name);
        df_text_puts(out, ",");
    }
    df_text_puts(out, "status," RESULTS "\n");
}

df_status df_sweep_chunk(df_context *ctx, df_text *out, const df_sweep *s, size_t chunk) {
    size_t first = chunk * s->chunk, n = df_sweep_runs(s) - first;
    n = n < s->chunk ? n : s->chunk;
    df_text *rows = calloc(n, sizeof *rows);
    df_status worst = rows == NULL ? DF_E_MEMORY : DF_OK;
#pragma omp parallel if (worst == DF_OK)
    {
        bench *b = calloc(1, sizeof *b);
        df_status own = b == NULL || df_context_create(&b->ctx) != DF_OK ? DF_E_MEMORY : DF_OK;
#pragma omp for schedule(dynamic, 1)
        for (size_t k = 0; k < n; k++)
            if (own == DF_OK && rows != NULL)
                own = row(&rows[k], b, s, first + k);
        if (own != DF_OK)
#pragma omp critical(df_sweep)
            worst = own;
        if (b != NULL)
            df_context_destroy(b->ctx);
        free(b);
    }
    for (size_t k = 0; k < n && worst == DF_OK; k++)
        df_text_append(out, df_text_string(&rows[k]), rows[k].length);
    for (size_t k = 0; k < n && rows != NULL; k++)
        df_text_free(&rows[k]);
    free(rows);
    return worst != DF_OK || out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : DF_OK;
}
