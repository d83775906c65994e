/* Opening the user's dryers and jobs. */
#include "open.h"
#include "serve/file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static df_status unknown_dryer(df_session *s, const char *name, const char *before) {
    const char *names[16];
    char near[200];
    size_t n = 0;
    df_text all = {0};
    while (n < COUNT(names) && df_dryer_builtin_name(n) != NULL) {
        names[n] = df_dryer_builtin_name(n);
        df_text_printf(&all, "%s%s", n > 0 ? ", " : "", names[n]);
        n++;
    }
    df_suggest(near, sizeof near, name, names, n);
    df_status status =
        df_fail(s->ctx, DF_E_UNKNOWN_NAME,
                "%sno dryer is called '%.60s'%s%s%s built in are %s; or give the path of a dryer file", before, name,
                near[0] != '\0' ? "; did you mean " : ";", near, near[0] != '\0' ? "?" : "", df_text_string(&all));
    df_text_free(&all);
    return status;
}

df_status df_open_dryer(df_session *s, df_dryer *dryer, const char *name, const char *from, const char *where) {
    for (size_t i = 0; df_dryer_builtin_name(i) != NULL; i++)
        if (df_name_equal(df_dryer_builtin_name(i), name))
            return df_dryer_builtin(s->ctx, dryer, name);
    char before[256] = "", shown[DF_FILE_NAME + 1], *buffer = NULL;
    size_t length = 0;
    if (s->files != NULL) {
        df_status status = s->files->read(s, &buffer, &length, name, where);
        if (status == DF_OK)
            status = df_dryer_parse(s->ctx, dryer, s->containers, buffer, length, df_file_name(shown, name));
        free(buffer);
        return status;
    }
    if (where != NULL)
        snprintf(before, sizeof before, "%s: ", where);
    char *path = from != NULL ? df_file_beside(from, name) : df_strdup(name);
    if (path == NULL)
        return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    df_status status;
    bool written_as_path = strchr(name, '/') != NULL || strstr(name, ".y") != NULL;
    if (!written_as_path && !df_file_exists(path)) {
        /* A name alone: a file beside, or of a job of a workspace, whose dryers stand in the folder next to its own. */
        static const char *const folders[] = {"", "../dryers/"};
        for (size_t i = 0; i < COUNT(folders) && (from != NULL || i == 0); i++) {
            char kept[160];
            snprintf(kept, sizeof kept, "%s%.120s.yaml", folders[i], name);
            char *other = from != NULL ? df_file_beside(from, kept) : df_strdup(kept);
            if (other == NULL) {
                free(path);
                return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
            }
            if (df_file_exists(other)) {
                free(path);
                path = other;
                break;
            }
            free(other);
        }
    }
    if (!written_as_path && !df_file_exists(path))
        status = unknown_dryer(s, name, before);
    else
        status = df_file_read(s->ctx, &buffer, &length, path, where);
    if (status == DF_OK)
        status = df_dryer_parse(s->ctx, dryer, s->containers, buffer, length, df_file_name(shown, path));
    free(buffer);
    free(path);
    return status;
}

df_status df_open_job_text(df_session *s, df_job *job, df_dryer *dryer, char **text, const char *path) {
    char shown[DF_FILE_NAME + 1];
    size_t length = 0;
    *text = NULL;
    df_status status = s->files != NULL ? s->files->read(s, text, &length, path, NULL)
                                        : df_file_read(s->ctx, text, &length, path, NULL);
    if (status == DF_OK)
        status = df_job_parse(s->ctx, job, s->substances, s->containers, *text, length, df_file_name(shown, path));
    if (status == DF_OK)
        status = df_open_dryer(s, dryer, job->dryer, path, job->dryer_where);
    return status;
}

df_status df_open_job(df_session *s, df_job *job, df_dryer *dryer, const char *path) {
    char *text;
    df_status status = df_open_job_text(s, job, dryer, &text, path);
    free(text);
    return status;
}

char *df_open_seen_from(const df_session *s, const char *job, const char *path) {
    for (size_t i = 0; df_dryer_builtin_name(i) != NULL; i++)
        if (df_name_equal(df_dryer_builtin_name(i), path))
            return df_strdup(path);
    if (s->files != NULL || path[0] == '/' || strchr(job, '/') == NULL)
        return df_strdup(path);
    if (job[0] == '/' || strstr(job, "..") != NULL || strncmp(job, "./", 2) == 0)
        return NULL;
    for (const char *next; (next = strchr(job, '/')) != NULL; job = next + 1) { /* folders that they share */
        size_t folder = (size_t)(next - job) + 1;
        if (strncmp(job, path, folder) != 0)
            break;
        path += folder;
    }
    df_text out = {0};
    for (; (job = strchr(job, '/')) != NULL; job++)
        df_text_puts(&out, "../");
    df_text_puts(&out, path);
    return out.data;
}

df_status df_write_out(df_session *s, const char *path, const char *bytes, size_t length, const char *where) {
    return s->files != NULL ? s->files->write(s, path, bytes, length, where)
                            : df_file_write(s->ctx, path, bytes, length, where);
}
