/* dryfront sweep: a plan's runs, kept piece by piece in a folder beside the table, so that nothing written is done twice. */
#include "dryfront/sweep.h"
#include "serve/file.h"
#include "hosts.h"
#include "open.h"
#include "progress.h"

#include <jansson.h>

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

typedef struct study {
    df_session *session;
    df_sweep *sweep;
    df_hosts hosts;
    char *out, *folder;
    uint64_t mark;
    size_t chunks, done, before; /* before: pieces that were there */
    size_t standing[4], failed;
    df_bar bar;
    df_progress progress;
} study;

static df_status no_memory(df_context *ctx) {
    return df_fail(ctx, DF_E_MEMORY, "out of memory");
}

/* ---- what is read --------------------------------------------------------------------------------------------- */

static df_status open_plan(study *t, const char *path) {
    df_session *s = t->session;
    char *buffer = NULL, *job = NULL, shown[DF_FILE_NAME + 1];
    size_t length;
    df_status status = df_file_read(s->ctx, &buffer, &length, path, NULL);
    if (status == DF_OK)
        status = df_sweep_parse(s->ctx, &t->sweep, buffer, length, df_file_name(shown, path));
    free(buffer);
    if (status != DF_OK)
        return status;
    job = df_file_beside(path, df_sweep_job(t->sweep));
    if (job == NULL)
        return no_memory(s->ctx);
    status = df_file_read(s->ctx, &buffer, &length, job, df_sweep_job_where(t->sweep));
    if (status == DF_OK)
        status = df_sweep_take_job(s->ctx, t->sweep, s->substances, s->containers, s->pairs, buffer, length,
                                   df_file_name(shown, job));
    free(buffer);
    for (size_t i = 0; status == DF_OK && df_sweep_dryer_name(t->sweep, i) != NULL; i++) {
        df_dryer dryer;
        status = df_open_dryer(s, &dryer, df_sweep_dryer_name(t->sweep, i), job, "dryer");
        if (status == DF_OK)
            df_sweep_take_dryer(t->sweep, i, &dryer);
    }
    free(job);
    t->chunks = df_sweep_chunks(t->sweep);
    return status == DF_OK ? df_sweep_fingerprint(s->ctx, &t->mark, t->sweep) : status;
}

/* ---- the folder of pieces ------------------------------------------------------------------------------------- */

static char *piece_path(const study *t, size_t piece) {
    size_t size = strlen(t->folder) + 40;
    char *path = malloc(size);
    if (path != NULL)
        snprintf(path, size, "%s/%06zu.csv", t->folder, piece);
    return path;
}

/* "sweep 1f...": what the folder belongs to. */
static df_status claim_folder(study *t) {
    df_context *ctx = t->session->ctx;
    char line[96], shown[DF_FILE_NAME + 1], *found = NULL, *path = NULL;
    size_t size = strlen(t->folder) + 16, length = 0;
    snprintf(line, sizeof line, "dryfront " DRYFRONT_VERSION " sweep %016llx\n", (unsigned long long)t->mark);
    path = malloc(size);
    if (path == NULL)
        return no_memory(ctx);
    snprintf(path, size, "%s/plan", t->folder);
    df_status status = DF_OK;
    if (mkdir(t->folder, 0777) != 0 && errno != EEXIST)
        status = df_fail(ctx, DF_E_IO, "--out: the folder %s cannot be made", df_file_name(shown, t->folder));
    else if (df_file_exists(path)) {
        status = df_file_read(ctx, &found, &length, path, NULL);
        if (status == DF_OK && strcmp(found, line) != 0)
            status = df_fail(
                ctx, DF_E_INPUT,
                "%s holds pieces of another plan, job or dryer, or of another version; finish that, remove the "
                "folder, or name another --out",
                df_file_name(shown, t->folder));
    } else
        status = df_file_write(ctx, path, line, strlen(line), "--out");
    free(found);
    free(path);
    return status;
}

static df_status find_pieces(study *t, size_t *piece, size_t *n) {
    *n = 0;
    for (size_t i = 0; i < t->chunks; i++) {
        char *path = piece_path(t, i);
        if (path == NULL)
            return no_memory(t->session->ctx);
        if (!df_file_exists(path))
            piece[(*n)++] = i;
        free(path);
    }
    t->before = t->done = t->chunks - *n;
    return DF_OK;
}

static df_status work(df_context *ctx, df_text *out, size_t piece, void *data) {
    const study *t = data;
    return df_sweep_chunk(ctx, out, t->sweep, piece);
}

static df_status keep(df_context *ctx, size_t piece, const char *bytes, size_t length, void *data) {
    study *t = data;
    char *path = piece_path(t, piece);
    df_status status = path == NULL ? no_memory(ctx) : df_file_write(ctx, path, bytes, length, "--out");
    free(path);
    t->done++;
    if (t->progress.tell != NULL)
        t->progress.tell(t->progress.data, (double)t->done / (double)t->chunks, 0.0);
    return status;
}

/* ---- the table ------------------------------------------------------------------------------------------------ */

static df_status count_rows(df_context *ctx, study *t, const df_text *header, const char *bytes, size_t length,
                            const char *name) {
    df_text whole = {0};
    df_csv *csv = NULL;
    df_text_append(&whole, df_text_string(header), header->length);
    df_text_append(&whole, bytes, length);
    df_status status =
        whole.failed ? no_memory(ctx) : df_csv_parse(ctx, &csv, df_text_string(&whole), whole.length, name);
    int column = status == DF_OK ? df_csv_find(csv, "standing") : -1;
    for (size_t i = 0; status == DF_OK && i < df_csv_rows(csv); i++) {
        const char *word = df_csv_cell(csv, i, column);
        size_t k = 0;
        while (k < 4 && strcmp(word, df_standing_name((df_standing)k)) != 0)
            k++;
        *(k < 4 ? &t->standing[k] : &t->failed) += 1;
    }
    df_csv_free(csv);
    df_text_free(&whole);
    return status;
}

static df_status append_piece(df_context *ctx, study *t, FILE *file, const df_text *header, size_t piece) {
    char *path = piece_path(t, piece), *bytes = NULL, shown[DF_FILE_NAME + 1];
    size_t length = 0;
    if (path == NULL)
        return no_memory(ctx);
    df_status status = df_file_read_within(ctx, &bytes, &length, path, NULL, (size_t)64 << 20);
    if (status == DF_OK)
        status = count_rows(ctx, t, header, bytes, length, df_file_name(shown, path));
    if (status == DF_OK && fwrite(bytes, 1, length, file) != length)
        status = df_fail(ctx, DF_E_IO, "--out: the table cannot be written; the pieces stay in %s",
                         df_file_name(shown, t->folder));
    free(bytes);
    free(path);
    return status;
}

/* All pieces in order, in a new file that then takes the table's place; the pieces go last. */
static df_status merge(study *t) {
    df_context *ctx = t->session->ctx;
    df_text header = {0};
    size_t size = strlen(t->out) + 16;
    char *beside = malloc(size), shown[DF_FILE_NAME + 1];
    if (beside == NULL)
        return no_memory(ctx);
    snprintf(beside, size, "%s.parts/table", t->out);
    df_sweep_header(&header, t->sweep);
    FILE *file = fopen(beside, "wb");
    df_status status = file == NULL || header.failed || fwrite(header.data, 1, header.length, file) != header.length
                           ? df_fail(ctx, DF_E_IO, "--out: %s cannot be written", df_file_name(shown, beside))
                           : DF_OK;
    for (size_t i = 0; i < t->chunks && status == DF_OK; i++)
        status = append_piece(ctx, t, file, &header, i);
    if (file != NULL) {
        bool sound = fflush(file) == 0 && fsync(fileno(file)) == 0;
        sound = fclose(file) == 0 && sound;
        if (status == DF_OK && (!sound || rename(beside, t->out) != 0))
            status = df_fail(ctx, DF_E_IO, "--out: %s cannot be written", df_file_name(shown, t->out));
    }
    for (size_t i = 0; i < t->chunks && status == DF_OK; i++) {
        char *path = piece_path(t, i);
        if (path != NULL)
            unlink(path);
        free(path);
    }
    if (status == DF_OK) {
        snprintf(beside, size, "%s.parts/plan", t->out);
        unlink(beside);
        rmdir(t->folder);
    }
    df_text_free(&header);
    free(beside);
    return status;
}

/* ---- the command ---------------------------------------------------------------------------------------------- */

static df_status report(study *t) {
    df_session *s = t->session;
    size_t runs = df_sweep_runs(t->sweep);
    if (!s->json) {
        df_text_printf(&s->out, "%s: %zu runs in %zu pieces", df_sweep_name(t->sweep), runs, t->chunks);
        if (t->before > 0)
            df_text_printf(&s->out, ", %zu of them there before", t->before);
        df_text_puts(&s->out, "\n");
        for (size_t k = 0; k < 4; k++)
            df_text_printf(&s->out, "  %-8s %9zu\n", df_standing_name((df_standing)k), t->standing[k]);
        df_text_printf(&s->out, "  %-8s %9zu%s\ntable: %s\n", "no run", t->failed,
                       t->failed > 0 ? "   (columns 'status' and 'note' say why)" : "", t->out);
        return DF_OK;
    }
    json_t *root = json_object(), *standings = json_object();
    for (size_t k = 0; k < 4; k++)
        json_object_set_new(standings, df_standing_name((df_standing)k), json_integer((json_int_t)t->standing[k]));
    json_object_set_new(root, "sweep", json_string(df_sweep_name(t->sweep)));
    json_object_set_new(root, "runs", json_integer((json_int_t)runs));
    json_object_set_new(root, "pieces", json_integer((json_int_t)t->chunks));
    json_object_set_new(root, "pieces_there_before", json_integer((json_int_t)t->before));
    json_object_set_new(root, "standings", standings);
    json_object_set_new(root, "no_run", json_integer((json_int_t)t->failed));
    json_object_set_new(root, "table", json_string(t->out));
    char *text = json_dumps(root, JSON_INDENT(2));
    df_status status = text == NULL ? no_memory(s->ctx) : DF_OK;
    if (text != NULL)
        df_text_printf(&s->out, "%s\n", text);
    free(text);
    json_decref(root);
    return status;
}

static df_status run_all(study *t) {
    df_context *ctx = t->session->ctx;
    size_t *piece = malloc((t->chunks + 1) * sizeof *piece), n = 0;
    bool first = t->hosts.rank == 0;
    df_status status = piece == NULL ? no_memory(ctx) : DF_OK;
    if (status == DF_OK && first)
        status = claim_folder(t);
    if (status == DF_OK && first)
        status = find_pieces(t, piece, &n);
    status = df_hosts_agree(ctx, &t->hosts, status, t->mark);
    if (status == DF_OK) {
        t->progress = df_bar_begin(&t->bar, "running");
        status = df_hosts_share(ctx, &t->hosts, piece, n, work, keep, t);
        df_bar_end(&t->bar);
    }
    if (status == DF_OK && first)
        status = merge(t);
    if (status == DF_OK && first)
        status = report(t);
    free(piece);
    return status;
}

df_status df_run_sweep(df_session *s) {
    study t = {.session = s};
    const char *out = df_option_value(s, "--out", 0);
    df_status status = df_hosts_begin(s->ctx, &t.hosts);
    bool begun = status == DF_OK;
    if (status == DF_OK && out == NULL)
        status = df_fail(s->ctx, DF_E_INPUT, "say where the table goes: --out FILE.csv");
    if (status == DF_OK)
        status = df_file_suffix(s->ctx, out, ".csv", "--out");
    if (status == DF_OK) {
        size_t size = strlen(out) + 8;
        t.out = df_strdup(out);
        t.folder = malloc(size);
        if (t.out == NULL || t.folder == NULL)
            status = no_memory(s->ctx);
        else
            snprintf(t.folder, size, "%s.parts", out);
    }
    if (status == DF_OK)
        status = open_plan(&t, s->operand[0]);
    if (begun) {
        status = df_hosts_agree(s->ctx, &t.hosts, status, t.mark);
        if (status == DF_OK)
            status = run_all(&t);
        status = df_hosts_agree(s->ctx, &t.hosts, status, t.mark);
    }
    df_hosts_end();
    df_sweep_free(t.sweep);
    free(t.out);
    free(t.folder);
    return status;
}
