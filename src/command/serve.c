/* dryfront serve: the commands over HTTP. A request's JSON object becomes a session as a command line does: the operand and the
 * options by their own names. Its files are those that it brings along and those of the workspace. */
#include "serve/serve.h"
#include "forms.h"
#include "open.h"
#include "report/parts.h"
#include "serve/file.h"
#include "serve/stock.h"

#ifdef _OPENMP
#include <omp.h>
#endif
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

extern char **environ;

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define USUAL_PORT 8600
#define JOB "job"   /* how a request's job is called in sentences */
#define JOBS "jobs" /* several of them, by names */
#define MOST_HOSTS 8
#define CSV_TYPE "text/csv; charset=utf-8"

/* Beside each service of the table: the command, the key of its operand, and options that are always given. */
static const df_service services[] = {
    {"stand", false, false, false, "application/json"},
    {"run", false, false, false, "application/json"},
    {"risk", false, false, true, "application/json"},
    {"routes", false, false, true, "application/json"},
    {"compare", false, false, true, "application/json"},
    {"recipe", false, false, true, "application/json"},
    {"ceilings", false, false, true, "application/json"},
    {"phases", false, false, false, "application/json"},
    {"vapour", false, false, false, "application/json"},
    {"strip", false, false, false, "application/json"},
    {"figures/phases", false, false, true, "image/svg+xml"},
    {"figures/pressure", false, false, true, "image/svg+xml"},
    {"figures/run", false, false, false, "image/svg+xml"},
    {"figures/space", false, false, true, "image/svg+xml"},
    {"numbers/phases", false, false, true, CSV_TYPE},
    {"numbers/pressure", false, false, true, CSV_TYPE},
    {"numbers/run", false, false, false, CSV_TYPE},
    {"numbers/space", false, false, true, CSV_TYPE},
    {"check/job", false, false, false, "application/json"},
    {"check/dryer", false, false, false, "application/json"},
    {"check/container", false, false, false, "application/json"},
    {"check/solute", false, false, false, "application/json"},
    {"check/substance", false, false, false, "application/json"},
    {"substances", true, true, false, "application/json"},
    {"containers", true, false, false, "application/json"},
    {"solutes", true, false, false, "application/json"},
    {"dryers", true, true, false, "application/json"},
    {"forms", true, true, false, "application/json"},
    {"about", true, false, false, "application/json"},
};
static const struct {
    const char *command, *operand;
    const char *file; /* the option whose file is the answer; NULL: the report is */
    const char *kind; /* of figure; NULL: the command has but one */
} behind[] = {
    {"stand", JOB, NULL, NULL},
    {"run", JOB, NULL, NULL},
    {"risk", JOB, NULL, NULL},
    {"routes", JOB, NULL, NULL},
    {"compare", JOBS, NULL, NULL},
    {"recipe", JOB, NULL, NULL},
    {"ceilings", "dryer", NULL, NULL},
    {"phases", "mixture", NULL, NULL},
    {"vapour", "mixture", NULL, NULL},
    {"strip", "mixture", NULL, NULL},
    {"phases", "mixture", "--figure", "phases"},
    {"phases", "mixture", "--figure", "pressure"},
    {"run", JOB, "--figure", NULL},
    {"recipe", JOB, "--figure", NULL},
    {"phases", "mixture", "--csv", "phases"},
    {"phases", "mixture", "--csv", "pressure"},
    {"run", JOB, "--csv", NULL},
    {"recipe", JOB, "--csv", NULL},
    {NULL, NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
    {"substances", NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
    {NULL, NULL, NULL, NULL},
};

/* One request on its way. */
typedef struct errand {
    df_call *call;
    df_files files;
    df_text drawn;
    char number[DF_MAX_VALUES][24];
} errand;

/* ---- files that a request may name ---------------------------------------------------------------------------- */

static df_status take_text(df_context *ctx, char **buffer, size_t *length, const json_t *text) {
    *length = json_string_length(text);
    *buffer = df_strndup(json_string_value(text), *length);
    return *buffer != NULL ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
}

static df_status no_dryer(df_session *s, const char *name, const char *where) {
    df_text all = {0};
    for (size_t i = 0; df_dryer_builtin_name(i) != NULL; i++)
        df_text_printf(&all, "%s%s", i > 0 ? ", " : "", df_dryer_builtin_name(i));
    df_status status = df_fail(s->ctx, DF_E_UNKNOWN_NAME,
                               "%s%sno dryer is called '%.60s': it is none of the request's 'dryers', none of the "
                               "workspace, and built in are %s; no other file is opened",
                               where != NULL ? where : "", where != NULL ? ": " : "", name, df_text_string(&all));
    df_text_free(&all);
    return status;
}

static df_status read_file(df_session *s, char **buffer, size_t *length, const char *path, const char *where) {
    const errand *e = s->files->data;
    const json_t *text = strcmp(path, JOB) == 0 && where == NULL ? json_object_get(e->call->body, JOB) : NULL;
    if (text == NULL && where == NULL)
        text = json_object_get(json_object_get(e->call->body, JOBS), path);
    if (text == NULL)
        text = json_object_get(json_object_get(e->call->body, "dryers"), path);
    if (text != NULL)
        return take_text(s->ctx, buffer, length, text);
    /* A job of the workspace may name its dryer as a file beside it would: "NAME", "dryers/NAME.yaml". */
    const char *own = path;
    own += strncmp(own, "../", 3) == 0 ? 3 : 0;
    own += strncmp(own, "dryers/", 7) == 0 ? 7 : 0;
    char name[80];
    size_t n = strlen(own);
    if (n >= sizeof name)
        return no_dryer(s, path, where);
    strcpy(name, own);
    if (n > 5 && strcmp(name + n - 5, ".yaml") == 0)
        name[n - 5] = '\0';
    if (!df_workspace_name(name))
        return no_dryer(s, path, where);
    switch (df_workspace_read(s->ctx, e->call->workspace, DF_SHELF_DRYERS, name, buffer, length)) {
    case DF_KEPT_DONE:
        return DF_OK;
    case DF_KEPT_FAILED:
        return DF_E_IO;
    default:
        return no_dryer(s, path, where);
    }
}

static df_status write_file(df_session *s, const char *path, const char *bytes, size_t length, const char *where) {
    errand *e = s->files->data;
    (void)path;
    (void)where;
    df_text_append(&e->drawn, bytes, length);
    return e->drawn.failed ? df_fail(s->ctx, DF_E_MEMORY, "out of memory") : DF_OK;
}

/* ---- a request as a session ----------------------------------------------------------------------------------- */

static df_status wrong(df_session *s, errand *e, const char *format, const char *key, const char *more) {
    e->call->envelope = true;
    return df_fail(s->ctx, DF_E_INPUT, format, key, more);
}

/* "stays_liquid" is --stays-liquid. */
static bool is_option(const df_option *option, const char *key) {
    const char *a = option->name + 2;
    for (; *a != '\0' && *key != '\0'; a++, key++)
        if (*a != *key && !(*a == '-' && *key == '_'))
            return false;
    return *a == *key;
}

/* Those that name files of this machine stay with the command line. */
static const df_option *find_option(const df_command *command, const char *key) {
    for (size_t i = 0; i < command->option_count; i++)
        if (is_option(&command->options[i], key) &&
            (command->options[i].argument == NULL || strncmp(command->options[i].argument, "FILE", 4) != 0))
            return &command->options[i];
    return NULL;
}

static df_status give(df_session *s, errand *e, const df_option *option, const char *value) {
    if (s->given_count == DF_MAX_VALUES)
        return wrong(s, e, "'%s': more values than one request may hold%s", option->name + 2, "");
    s->given[s->given_count].option = option;
    s->given[s->given_count++].value = value;
    return DF_OK;
}

static df_status read_value(df_session *s, errand *e, const df_option *option, const char *key, const json_t *value) {
    if (option->argument == NULL)
        return json_is_true(value)    ? give(s, e, option, "")
               : json_is_false(value) ? DF_OK
                                      : wrong(s, e, "'%s' should be true or false%s", key, "");
    if (json_is_string(value))
        return give(s, e, option, json_string_value(value));
    if (json_is_integer(value) && s->given_count < DF_MAX_VALUES) {
        char *number = e->number[s->given_count];
        snprintf(number, sizeof e->number[0], "%lld", (long long)json_integer_value(value));
        return give(s, e, option, number);
    }
    return wrong(s, e, "'%s' should be a text such as the option takes: %s", key, option->argument);
}

static df_status read_dryers(df_session *s, errand *e, const json_t *dryers) {
    const char *name;
    const json_t *text;
    if (!json_is_object(dryers))
        return wrong(s, e, "'%s' should be an object of names and YAML texts%s", "dryers", "");
    json_object_foreach((json_t *)dryers, name, text) {
        if (!json_is_string(text))
            return wrong(s, e, "'dryers': '%.60s' should be a text in YAML%s", name, "");
        for (size_t i = 0; df_dryer_builtin_name(i) != NULL; i++)
            if (df_name_equal(df_dryer_builtin_name(i), name))
                return wrong(s, e, "'dryers': '%.60s' is a built-in dryer; call yours otherwise%s", name, "");
    }
    return DF_OK;
}

static df_status read_jobs(df_session *s, errand *e, const json_t *jobs) {
    const char *name;
    const json_t *text;
    if (!json_is_object(jobs))
        return wrong(s, e, "'%s' should be an object of names and YAML texts%s", JOBS, "");
    json_object_foreach((json_t *)jobs, name, text) {
        if (!json_is_string(text))
            return wrong(s, e, "'jobs': '%.60s' should be a text in YAML%s", name, "");
        if (!df_workspace_name(name))
            return wrong(s, e, "'jobs': '%.60s' should be a name of letters, digits, '-', '_' and '.'%s", name, "");
        if (s->operands == DF_MAX_OPERANDS)
            return wrong(s, e, "'%s' holds more than one request may%s", JOBS, "");
        s->operand[s->operands++] = name;
    }
    return DF_OK;
}

static const df_option *own_option(const df_command *command, const char *name) {
    for (size_t i = 0; i < command->option_count; i++)
        if (strcmp(command->options[i].name, name) == 0)
            return &command->options[i];
    return NULL;
}

static df_status read_key(df_session *s, errand *e, const char *operand, const char *key, const json_t *value) {
    if (strcmp(key, operand) == 0 && strcmp(key, JOBS) == 0)
        return read_jobs(s, e, value);
    if (strcmp(key, operand) == 0 && s->operands == 0) {
        if (!json_is_string(value))
            return wrong(s, e, "'%s' should be a text%s", key, "");
        s->operand[s->operands++] = strcmp(operand, JOB) == 0 ? JOB : json_string_value(value);
        return DF_OK;
    }
    if (strcmp(key, "dryers") == 0)
        return read_dryers(s, e, value);
    if (strcmp(key, "space") == 0 && strcmp(services[e->call->service].path, "recipe") == 0) {
        if (!json_is_boolean(value))
            return wrong(s, e, "'%s' should be true or false%s", key, "");
        return json_is_true(value) ? give(s, e, own_option(s->command, "--csv"), "space.csv")
                                   : DF_OK; /* and in the answer */
    }
    const df_option *option = find_option(s->command, key);
    if (option == NULL || strcmp(key, "figure_kind") == 0)
        return wrong(s, e, "there is no '%.60s' here; /api/v1/openapi.json says what there is%s", key, "");
    if (!option->repeats || !json_is_array(value))
        return read_value(s, e, option, key, value);
    df_status status = DF_OK;
    for (size_t i = 0; i < json_array_size(value) && status == DF_OK; i++)
        status = read_value(s, e, option, key, json_array_get(value, i));
    return status;
}

static df_status read_envelope(df_session *s, errand *e) {
    const char *operand = behind[e->call->service].operand, *file = behind[e->call->service].file;
    const char *kind = behind[e->call->service].kind, *key;
    const json_t *value;
    df_status status = DF_OK;
    if (operand == NULL) {
        s->operands = e->call->item != NULL;
        s->operand[0] = e->call->item;
        return DF_OK;
    }
    json_object_foreach(e->call->body, key, value) {
        status = read_key(s, e, operand, key, value);
        if (status != DF_OK)
            return status;
    }
    if (s->operands == 0)
        return wrong(s, e, "'%s' is missing%s", operand, "");
    if (file != NULL)
        status = give(s, e, own_option(s->command, file), strcmp(file, "--csv") == 0 ? "numbers.csv" : "figure.svg");
    if (status == DF_OK && kind != NULL)
        status = give(s, e, own_option(s->command, "--figure-kind"), kind);
    return status;
}

/* ---- tables that no command has ------------------------------------------------------------------------------- */

static df_status list_containers(df_context *ctx, df_text *out, const df_containers *all) {
    json_t *root = json_object(), *list = json_array();
    for (size_t i = 0; i < df_containers_count(all); i++) {
        const df_container *c = df_containers_at(all, i);
        json_t *o = json_object();
        df_json_put(o, "key", df_json_text(c->key));
        df_json_put(o, "name", df_json_text(c->name));
        df_json_put(o, "kind", df_json_text(df_container_kind_name(c->kind)));
        df_json_put(o, "inner_diameter_mm", df_json_number(1e3 * c->inner_diameter));
        df_json_put(o, "outer_diameter_mm", df_json_number(1e3 * c->outer_diameter));
        df_json_put(o, "brim_volume_mL", df_json_number(1e6 * c->brim_volume));
        df_json_put(o, "port_diameter_mm", df_json_number(1e3 * c->port_diameter));
        df_json_put(o, "own", json_boolean(c->own));
        df_json_put(o, "source", df_json_text(c->source));
        json_array_append_new(list, o);
    }
    df_json_put(root, "containers", list);
    return df_json_finish(ctx, out, root);
}

static df_status list_solutes(df_context *ctx, df_text *out, const df_substances *all) {
    json_t *root = json_object(), *list = json_array();
    df_status status = DF_OK;
    for (size_t i = 0; i < df_substances_count(all) && status == DF_OK; i++) {
        const df_substance *s = df_substances_at(all, i);
        df_solute solute;
        if (!s->is_involatile)
            continue;
        status = df_solute_find(ctx, &solute, all, s->key, NULL);
        if (status < 0)
            break;
        status = DF_OK;
        json_t *o = json_object();
        df_json_put(o, "key", df_json_text(s->key));
        df_json_put(o, "name", df_json_text(s->name));
        df_json_put(o, "crystallises", json_boolean(solute.crystallises));
        df_json_put(o, "critical_temperature_C", df_json_number(df_celsius(solute.critical_temperature)));
        df_json_put(o, "critical_kind", df_json_text(solute.critical_kind));
        df_json_put(o, "own", json_boolean(s->own));
        df_json_put(o, "grade", df_json_text(solute.grade));
        df_json_put(o, "source", df_json_text(solute.source != NULL ? solute.source : ""));
        json_array_append_new(list, o);
    }
    df_json_put(root, "solutes", list);
    if (status == DF_OK)
        return df_json_finish(ctx, out, root);
    json_decref(root);
    return status;
}

/* The built-in dryers; one of them with its file. */
static df_status list_dryers(df_context *ctx, df_text *out, const char *name) {
    json_t *root = json_object(), *list = json_array();
    df_dryer *d = calloc(1, sizeof *d);
    df_status status = d != NULL ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status == DF_OK && name != NULL)
        status = df_dryer_builtin(ctx, d, name);
    for (size_t i = 0; status == DF_OK && df_dryer_builtin_name(i) != NULL; i++) {
        const char *key = df_dryer_builtin_name(i);
        char file[64];
        size_t length;
        if (name != NULL && !df_name_equal(key, name))
            continue;
        status = df_dryer_builtin(ctx, d, key);
        snprintf(file, sizeof file, "dryer_%s.yaml", key);
        const char *yaml = df_embedded(&length, file);
        json_t *o = json_object();
        df_json_put(o, "key", df_json_text(key));
        df_json_put(o, "name", df_json_text(d->name));
        df_json_put(o, "description", df_json_text(d->description));
        if (name != NULL)
            df_json_put(o, "yaml", df_json_text(yaml != NULL ? yaml : ""));
        json_array_append_new(list, o);
    }
    free(d);
    df_json_put(root, "dryers", list);
    if (status == DF_OK)
        return df_json_finish(ctx, out, root);
    json_decref(root);
    return status;
}

/* Which program answers, a print of the data compiled into it (another number anywhere gives another print), and whether its
 * workspace was ever used. */
static df_status about(df_context *ctx, df_text *out, const df_workspace *workspace) {
    df_text all = {0};
    char tag[DF_ETAG], print[17];
    const char *name;
    for (size_t i = 0; (name = df_embedded_name(i)) != NULL; i++) {
        size_t length;
        const char *bytes = df_embedded(&length, name);
        df_text_printf(&all, "%s %zu\n", name, length);
        df_text_append(&all, bytes, length);
    }
    df_status status = all.failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : DF_OK;
    df_etag(tag, df_text_string(&all), all.length);
    df_text_free(&all);
    if (status < 0)
        return status;
    snprintf(print, sizeof print, "%.16s", tag + 1);
    json_t *root = json_object();
    df_json_put(root, "version", df_json_text(DRYFRONT_VERSION));
    df_json_put(root, "data", df_json_text(print));
    df_json_put(root, "begun", json_boolean(df_workspace_begun(workspace)));
    return df_json_finish(ctx, out, root);
}

/* ---- a text looked at without keeping it ---------------------------------------------------------------------- */

static df_status check_text(df_context *ctx, df_text *out, df_call *call, const char *word) {
    static const char what[] =
        "the body should be {\"text\": YAML}, with \"name\" where it stands in the workspace already";
    const json_t *text = json_object_get(call->body, "text"), *name = json_object_get(call->body, "name");
    int shelf = 0;
    while (shelf < DF_SHELVES && strcmp(df_shelf_word((df_shelf)shelf), word) != 0)
        shelf++;
    call->envelope = true;
    if (shelf == DF_SHELVES || !json_is_string(text) || (name != NULL && !json_is_string(name)) ||
        json_object_size(call->body) != 1 + (size_t)(name != NULL))
        return df_fail(ctx, DF_E_INPUT, "%s", what);
    if (name != NULL && !df_workspace_name(json_string_value(name)))
        return df_fail(ctx, DF_E_INPUT, "'name' is none that a file of the workspace may have");
    df_status status = df_workspace_check(ctx, call->workspace, (df_shelf)shelf, json_string_value(name),
                                          json_string_value(text), json_string_length(text));
    if (status < 0 && status != DF_E_INPUT && status != DF_E_UNKNOWN_NAME)
        return status;
    json_t *root = json_object();
    df_json_put(root, "sound", json_boolean(status >= 0));
    df_json_put(root, "error", status >= 0 ? json_null() : df_error_object(df_status_name(status), ctx));
    df_context_clear(ctx);
    return df_json_finish(ctx, out, root);
}

/* ---- the whole ------------------------------------------------------------------------------------------------ */

/* A short answer keeps to its thread: waking others costs more than they save. */
static void keep_to_thread(const df_call *call) {
#ifdef _OPENMP
    bool whole_stand =
        strcmp(services[call->service].path, "stand") == 0 && !json_is_true(json_object_get(call->body, "quick"));
    if (!services[call->service].heavy && !whole_stand)
        omp_set_num_threads(1);
#else
    (void)call;
#endif
}

static df_status run_command(df_context *ctx, df_text *out, df_call *call, const df_stock *stock, df_pairs *pairs) {
    const char *command = behind[call->service].command;
    errand *e = calloc(1, sizeof *e);
    df_session *s = calloc(1, sizeof *s);
    df_status status = e != NULL && s != NULL ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status == DF_OK) {
        e->call = call;
        e->files = (df_files){read_file, write_file, e};
        s->ctx = ctx;
        s->command = df_command_find(command);
        s->substances = stock->substances;
        s->containers = stock->containers;
        s->pairs = pairs;
        s->json = true;
        s->files = &e->files;
        s->progress = call->progress;
        status = read_envelope(s, e);
        keep_to_thread(call);
        if (status == DF_OK)
            status = s->command->run(s);
        const df_text *answer = behind[call->service].file != NULL ? &e->drawn : &s->out;
        if (status >= 0)
            df_text_append(out, df_text_string(answer), answer->length);
        df_text_free(&s->out);
        df_text_free(&e->drawn);
    }
    free(e);
    free(s);
    return status;
}

/* Called from several threads: of the program's own session only what is never written any more is used. */
static df_status perform(df_context *ctx, df_text *out, df_call *call, void *data) {
    const df_session *program = data;
    const char *path = services[call->service].path;
    if (strcmp(path, "dryers") == 0)
        return list_dryers(ctx, out, call->item);
    if (strcmp(path, "about") == 0)
        return about(ctx, out, call->workspace);
    if (strcmp(path, "forms") == 0)
        return df_forms_json(ctx, out, call->item);
    if (strncmp(path, "check/", 6) == 0)
        return check_text(ctx, out, call, path + 6);
    df_stock *stock = df_workspace_stock(ctx, call->workspace);
    if (stock == NULL)
        return DF_E_MEMORY;
    df_status status = strcmp(path, "containers") == 0 ? list_containers(ctx, out, stock->containers)
                       : strcmp(path, "solutes") == 0  ? list_solutes(ctx, out, stock->substances)
                                                       : run_command(ctx, out, call, stock, program->pairs);
    df_workspace_release(call->workspace, stock);
    return status;
}

/* The folder of --workspace, else by the XDG Base Directory Specification 0.8. New string; NULL: no memory or no home. */
static char *workspace_folder(const df_session *s) {
    const char *stated = df_option_value(s, "--workspace", 0), *data = getenv("XDG_DATA_HOME"),
               *home = getenv("HOME");
    df_text path = {0};
    if (stated != NULL)
        df_text_puts(&path, stated);
    else if (data != NULL && data[0] == '/')
        df_text_printf(&path, "%s/dryfront", data);
    else if (home != NULL && home[0] == '/')
        df_text_printf(&path, "%s/.local/share/dryfront", home);
    return path.data;
}

/* Blocks the signals that stop the program; those threads that begin later inherit it. */
static void block_signals(sigset_t *stops) {
    sigemptyset(stops);
    sigaddset(stops, SIGINT);
    sigaddset(stops, SIGTERM);
    pthread_sigmask(SIG_BLOCK, stops, NULL);
}

static void write_address(char *out, size_t size, const char *listen, long port) {
    bool six = strchr(listen, ':') != NULL;
    snprintf(out, size, "http://%s%s%s:%ld/", six ? "[" : "", listen, six ? "]" : "", port);
}

/* Opens the pages in the user's browser, which outlives this program and hears its own signals. */
static void open_browser(const char *listen, long port) {
    char address[128], name[] = "xdg-open", *words[] = {name, address, NULL};
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attributes;
    sigset_t none;
    pid_t child;
    bool any = strcmp(listen, "0.0.0.0") == 0 || strcmp(listen, "::") == 0;
    write_address(address, sizeof address, any ? "127.0.0.1" : listen, port);
    signal(SIGCHLD, SIG_IGN); /* nobody waits for it */
    sigemptyset(&none);
    posix_spawn_file_actions_init(&files);
    for (int stream = 0; stream < 3; stream++)
        posix_spawn_file_actions_addopen(&files, stream, "/dev/null", O_RDWR, 0);
    posix_spawnattr_init(&attributes);
    posix_spawnattr_setsigmask(&attributes, &none);
    posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK);
    if (posix_spawnp(&child, name, &files, &attributes, words, environ) != 0)
        fprintf(stderr, "dryfront: no browser could be opened (xdg-open is not there); open %s yourself\n", address);
    posix_spawn_file_actions_destroy(&files);
    posix_spawnattr_destroy(&attributes);
}

static void say_where(const char *listen, long port, const char *folder) {
    char address[128];
    write_address(address, sizeof address, listen, port);
    printf("dryfront listens at %s and keeps jobs and dryers in %s\n", address, folder);
    fflush(stdout);
    if (strncmp(listen, "127.", 4) != 0 && strcmp(listen, "::1") != 0)
        fputs("dryfront: others can reach this address, and no password is asked for\n", stderr);
}

df_status df_run_serve(df_session *s) {
    const char *listen = df_option_value(s, "--listen", 0), *host[MOST_HOSTS];
    long port = USUAL_PORT, threads = 0;
    size_t hosts = 0;
    sigset_t stops;
    df_status status = df_option_count(s, &port, "--port", 0, 65535);
    if (status == DF_OK)
        status = df_option_count(s, &threads, "--threads", 1, 64);
    for (; status == DF_OK && df_option_value(s, "--host", hosts) != NULL; hosts++) {
        if (hosts == MOST_HOSTS)
            return df_fail(s->ctx, DF_E_INPUT, "--host: more than %d names", MOST_HOSTS);
        host[hosts] = df_option_value(s, "--host", hosts);
    }
    if (status != DF_OK)
        return status;
    listen = listen != NULL ? listen : "127.0.0.1";
    char *folder = workspace_folder(s);
    if (folder == NULL)
        return df_fail(s->ctx, DF_E_INPUT, "there is no home folder; say with --workspace DIR where to keep files");
    df_workspace *workspace = NULL;
    df_server *server = NULL;
    status = df_workspace_open(s->ctx, &workspace, folder, s->substances, s->containers);
    block_signals(&stops);
    df_server_task task = {.service = services,
                           .services = COUNT(services),
                           .perform = perform,
                           .data = s,
                           .listen = listen,
                           .port = port,
                           .host = host,
                           .hosts = hosts,
                           .threads = threads,
                           .workspace = workspace,
                           .version = DRYFRONT_VERSION};
    if (status == DF_OK)
        status = df_server_start(s->ctx, &server, &task);
    if (status == DF_OK) {
        int signal;
        say_where(listen, df_server_port(server), folder);
        if (df_option_value(s, "--open", 0) != NULL)
            open_browser(listen, df_server_port(server));
        while (sigwait(&stops, &signal) != 0) {
        }
        if (!df_server_stop(server)) {
            fputs("dryfront: a computation did not stop in time and was cut off\n", stderr);
            _exit(3);
        }
    }
    df_workspace_close(workspace);
    free(folder);
    return status;
}
