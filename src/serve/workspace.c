/* The folder of jobs, dryers, containers, solutes and substances. One lock over looking and writing: two writers cannot both believe to be the first. */
#include "serve/workspace.h"
#include "serve/file.h"
#include "serve/stock.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define NAME_LONGEST 64
#define MOST_FILES 2000 /* on a shelf */

struct df_workspace {
    pthread_mutex_t lock;
    char *folder;
    const df_substances *substances;
    const df_containers *containers;
    df_stock *stock;    /* of the files as they were when last looked at; NULL: not yet */
    uint64_t stock_was; /* their print then */
};

static const char *const shelves[DF_SHELVES] = {"jobs", "dryers", "containers", "solutes", "substances"};
static const char *const words[DF_SHELVES] = {"job", "dryer", "container", "solute", "substance"};

const char *df_shelf_name(df_shelf shelf) {
    return shelves[shelf];
}

const char *df_shelf_word(df_shelf shelf) {
    return words[shelf];
}

/* Whether its files are part of the stock. */
static bool is_stocked(df_shelf shelf) {
    return shelf >= DF_SHELF_CONTAINERS;
}

void df_etag(char out[DF_ETAG], const char *bytes, size_t length) {
    uint64_t hash = 14695981039346656037u; /* FNV-1a, 64 bits: RFC 9923 */
    for (size_t i = 0; i < length; i++)
        hash = (hash ^ (unsigned char)bytes[i]) * 1099511628211u;
    snprintf(out, DF_ETAG, "\"%016llx\"", (unsigned long long)hash);
}

static bool letter_or_digit(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

static bool ends_in(const char *name, const char *end) {
    size_t length = strlen(name), tail = strlen(end);
    return length >= tail && strcmp(name + length - tail, end) == 0;
}

bool df_workspace_name(const char *name) {
    size_t length = strlen(name);
    if (length < 1 || length > NAME_LONGEST || !letter_or_digit(name[0]))
        return false;
    for (const char *at = name; *at != '\0'; at++)
        if (!letter_or_digit(*at) && strchr("-_.", *at) == NULL)
            return false;
    return !ends_in(name, ".yaml") && !ends_in(name, ".yml");
}

/* "FOLDER/jobs/NAME.yaml" or, without a name, "FOLDER/jobs"; NULL: no memory. */
static char *path_of(const df_workspace *w, df_shelf shelf, const char *name) {
    size_t size = strlen(w->folder) + NAME_LONGEST + 32;
    char *path = malloc(size);
    if (path != NULL)
        snprintf(path, size, "%s/%s%s%s%s", w->folder, df_shelf_name(shelf), name != NULL ? "/" : "",
                 name != NULL ? name : "", name != NULL ? ".yaml" : "");
    return path;
}

/* "FOLDER/.begun", an empty file: there from the first text on. NULL: no memory. */
static char *mark_of(const df_workspace *w) {
    size_t size = strlen(w->folder) + sizeof "/.begun";
    char *path = malloc(size);
    if (path != NULL)
        snprintf(path, size, "%s/.begun", w->folder);
    return path;
}

/* Where the mark cannot be made, the texts themselves are mark enough until they are removed. */
static void mark_begun(const df_workspace *w) {
    char *path = mark_of(w);
    int mark = path != NULL ? open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600) : -1;
    if (mark >= 0)
        close(mark);
    free(path);
}

bool df_workspace_begun(const df_workspace *w) {
    char *path = mark_of(w);
    bool there = path == NULL || access(path, F_OK) == 0;
    free(path);
    return there;
}

/* Makes a folder with those above it. */
static bool make_folder(const char *path) {
    char *part = df_strdup(path);
    if (part == NULL)
        return false;
    for (char *at = part + 1; *at != '\0'; at++)
        if (*at == '/') {
            *at = '\0';
            mkdir(part, 0777);
            *at = '/';
        }
    struct stat about;
    bool made = (mkdir(part, 0700) == 0 || errno == EEXIST) && stat(part, &about) == 0 && S_ISDIR(about.st_mode) &&
                access(part, R_OK | W_OK | X_OK) == 0;
    free(part);
    return made;
}

df_status df_workspace_open(df_context *ctx, df_workspace **workspace, const char *folder,
                            const df_substances *substances, const df_containers *containers) {
    df_workspace *w = calloc(1, sizeof *w);
    *workspace = NULL;
    if (w != NULL)
        w->folder = df_strdup(folder);
    if (w == NULL || w->folder == NULL || pthread_mutex_init(&w->lock, NULL) != 0) {
        if (w != NULL)
            free(w->folder);
        free(w);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    w->substances = substances;
    w->containers = containers;
    df_status status = DF_OK;
    if (folder[0] == '\0' || !make_folder(folder))
        status =
            df_fail(ctx, DF_E_IO, "--workspace: '%.200s' is no folder that can be made, read and written", folder);
    for (int shelf = 0; shelf < DF_SHELVES && status == DF_OK; shelf++) {
        char *path = path_of(w, (df_shelf)shelf, NULL);
        if (path == NULL)
            status = df_fail(ctx, DF_E_MEMORY, "out of memory");
        else if (!make_folder(path))
            status = df_fail(ctx, DF_E_IO, "--workspace: '%.200s' cannot be made, read and written", path);
        free(path);
    }
    if (status != DF_OK) {
        df_workspace_close(w);
        return status;
    }
    *workspace = w;
    return DF_OK;
}

void df_workspace_close(df_workspace *w) {
    if (w == NULL)
        return;
    df_stock_free(w->stock);
    pthread_mutex_destroy(&w->lock);
    free(w->folder);
    free(w);
}

static df_kept check_name(df_context *ctx, df_shelf shelf, const char *name) {
    if (!df_workspace_name(name)) {
        df_fail(ctx, DF_E_INPUT,
                "a name in the workspace has 1 to %d of the letters a to z, digits, '-', '_' and '.', begins with a "
                "letter or digit and does not end in .yaml",
                NAME_LONGEST);
        return DF_KEPT_REFUSED;
    }
    for (size_t i = 0; shelf == DF_SHELF_DRYERS && df_dryer_builtin_name(i) != NULL; i++)
        if (df_name_equal(df_dryer_builtin_name(i), name)) {
            df_fail(ctx, DF_E_INPUT, "'%s' is a built-in dryer; take another name", name);
            return DF_KEPT_REFUSED;
        }
    return DF_KEPT_DONE;
}

/* The caller holds the lock. */
static df_kept read_file(df_context *ctx, const df_workspace *w, df_shelf shelf, const char *name, char **text,
                         size_t *length) {
    char *path = path_of(w, shelf, name);
    *text = NULL;
    if (path == NULL) {
        df_fail(ctx, DF_E_MEMORY, "out of memory");
        return DF_KEPT_FAILED;
    }
    df_kept kept = DF_KEPT_DONE;
    if (!df_file_exists(path)) {
        df_fail(ctx, DF_E_UNKNOWN_NAME, "the workspace has no %s called '%.64s'", words[shelf], name);
        kept = DF_KEPT_MISSING;
    } else if (df_file_read(ctx, text, length, path, NULL) != DF_OK)
        kept = DF_KEPT_FAILED;
    free(path);
    return kept;
}

/* Whether an If-Match header (a list of tags, or "*") holds the tag. Weak tags match nothing (RFC 9110, 13.1.1). */
static bool matches(const char *header, const char *etag) {
    if (strcmp(header, "*") == 0)
        return true;
    const char *at = strstr(header, etag);
    return at != NULL && !(at - header >= 2 && at[-1] == '/' && at[-2] == 'W');
}

/* Whether the version that stands there is the one that the caller has seen. The caller holds the lock. */
static df_kept check_version(df_context *ctx, const df_workspace *w, df_shelf shelf, const char *name,
                             const char *match, bool *there) {
    char *old = NULL, etag[DF_ETAG];
    size_t length = 0;
    df_kept kept = read_file(ctx, w, shelf, name, &old, &length);
    *there = kept == DF_KEPT_DONE;
    if (*there)
        df_etag(etag, old, length);
    free(old);
    if (kept == DF_KEPT_MISSING && match != NULL) {
        df_fail(ctx, DF_E_INPUT, "'%s' is not in the workspace any more", name);
        return DF_KEPT_CHANGED;
    }
    if (kept != DF_KEPT_DONE)
        return kept;
    if (match == NULL) {
        df_fail(ctx, DF_E_INPUT, "'%s' is in the workspace already; say with If-Match which version is meant", name);
        return DF_KEPT_UNNAMED;
    }
    if (!matches(match, etag)) {
        df_fail(ctx, DF_E_INPUT, "'%s' was changed by someone else since it was read; read it again", name);
        return DF_KEPT_CHANGED;
    }
    return DF_KEPT_DONE;
}

df_kept df_workspace_read(df_context *ctx, df_workspace *w, df_shelf shelf, const char *name, char **text,
                          size_t *length) {
    *text = NULL;
    df_kept kept = check_name(ctx, shelf, name);
    if (kept != DF_KEPT_DONE)
        return kept;
    pthread_mutex_lock(&w->lock);
    kept = read_file(ctx, w, shelf, name, text, length);
    pthread_mutex_unlock(&w->lock);
    return kept;
}

/* Names of a shelf, in order; how many. The caller holds the lock and frees them. */
static int by_name(const void *a, const void *b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static size_t names_of(const df_workspace *w, df_shelf shelf, char **name) {
    size_t n = 0;
    char *path = path_of(w, shelf, NULL);
    DIR *folder = path != NULL ? opendir(path) : NULL;
    for (struct dirent *entry; folder != NULL && n < MOST_FILES && (entry = readdir(folder)) != NULL;) {
        if (!ends_in(entry->d_name, ".yaml"))
            continue;
        char *plain = df_strndup(entry->d_name, strlen(entry->d_name) - strlen(".yaml"));
        if (plain != NULL && df_workspace_name(plain))
            name[n++] = plain;
        else
            free(plain);
    }
    if (folder != NULL)
        closedir(folder);
    free(path);
    qsort(name, n, sizeof *name, by_name);
    return n;
}

/* ---- what jobs are read with ---------------------------------------------------------------------------------- */

/* The files of the stock but one (NULL: none is left out). The caller holds the lock and takes them over. */
static df_stock_item *read_items(df_context *ctx, size_t *n, const df_workspace *w, df_shelf but, const char *name) {
    char **names = calloc(MOST_FILES, sizeof *names);
    df_stock_item *items = calloc((DF_SHELVES - DF_SHELF_CONTAINERS) * MOST_FILES, sizeof *items);
    *n = 0;
    for (int shelf = DF_SHELF_CONTAINERS; names != NULL && items != NULL && shelf < DF_SHELVES; shelf++) {
        size_t count = names_of(w, (df_shelf)shelf, names);
        for (size_t i = 0; i < count; i++) {
            df_stock_item *item = &items[*n];
            bool wanted = name == NULL || (df_shelf)shelf != but || strcmp(names[i], name) != 0;
            if (wanted && read_file(NULL, w, (df_shelf)shelf, names[i], &item->text, &item->length) == DF_KEPT_DONE) {
                item->shelf = (df_shelf)shelf;
                item->name = names[i];
                ++*n;
            } else
                free(names[i]);
        }
    }
    if (names == NULL || items == NULL)
        df_fail(ctx, DF_E_MEMORY, "out of memory");
    free(names);
    return items;
}

/* A number that is another when a file of the stock came, went or changed: of names, sizes, times of change. */
static uint64_t print_of(const df_workspace *w) {
    uint64_t print = 0;
    for (int shelf = DF_SHELF_CONTAINERS; shelf < DF_SHELVES; shelf++) {
        char *path = path_of(w, (df_shelf)shelf, NULL);
        DIR *folder = path != NULL ? opendir(path) : NULL;
        for (struct dirent *entry; folder != NULL && (entry = readdir(folder)) != NULL;) {
            struct stat about;
            char etag[DF_ETAG], what[512];
            if (!ends_in(entry->d_name, ".yaml") || fstatat(dirfd(folder), entry->d_name, &about, 0) != 0)
                continue;
            snprintf(what, sizeof what, "%d/%.256s %lld %lld.%09ld %llu", shelf, entry->d_name,
                     (long long)about.st_size, (long long)about.st_mtim.tv_sec, about.st_mtim.tv_nsec,
                     (unsigned long long)about.st_ino);
            df_etag(etag, what, strlen(what));
            print += strtoull(etag + 1, NULL, 16); /* in whatever order the folder is read */
        }
        if (folder != NULL)
            closedir(folder);
        free(path);
    }
    return print;
}

/* The caller holds the lock. NULL: no memory. */
static df_stock *current_stock(df_context *ctx, df_workspace *w) {
    uint64_t print = print_of(w);
    if (w->stock != NULL && print == w->stock_was)
        return w->stock;
    size_t n;
    df_stock *stock = NULL;
    df_stock_item *items = read_items(ctx, &n, w, DF_SHELF_JOBS, NULL);
    if (items == NULL || df_stock_build(ctx, &stock, w->substances, w->containers, items, n) != DF_OK)
        return NULL;
    if (w->stock != NULL && w->stock->references == 0)
        df_stock_free(w->stock);
    w->stock = stock;
    w->stock_was = print;
    return stock;
}

df_stock *df_workspace_stock(df_context *ctx, df_workspace *w) {
    pthread_mutex_lock(&w->lock);
    df_stock *stock = current_stock(ctx, w);
    if (stock != NULL)
        stock->references++;
    pthread_mutex_unlock(&w->lock);
    return stock;
}

void df_workspace_release(df_workspace *w, df_stock *stock) {
    if (stock == NULL)
        return;
    pthread_mutex_lock(&w->lock);
    if (--stock->references == 0 && stock != w->stock)
        df_stock_free(stock);
    pthread_mutex_unlock(&w->lock);
}

/* The parser that reads such a file says whether it is sound; of a job or dryer. */
static df_status check_parsed(df_context *ctx, const df_stock *stock, df_shelf shelf, const char *file,
                              const char *text, size_t length) {
    union {
        df_job job;
        df_dryer dryer;
    } *read = calloc(1, sizeof *read);
    if (read == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_status status = shelf == DF_SHELF_JOBS
                           ? df_job_parse(ctx, &read->job, stock->substances, stock->containers, text, length, file)
                           : df_dryer_parse(ctx, &read->dryer, stock->containers, text, length, file);
    free(read);
    return status;
}

/* What belongs to the stock is checked beside all other files of it. */
static df_status check_stocked(df_context *ctx, df_workspace *w, df_shelf shelf, const char *name, const char *file,
                               const char *text, size_t length) {
    size_t n;
    df_stock *stock = NULL;
    pthread_mutex_lock(&w->lock);
    df_stock_item *items = read_items(ctx, &n, w, shelf, name);
    pthread_mutex_unlock(&w->lock);
    if (items == NULL)
        return DF_E_MEMORY;
    df_status status = df_stock_build(ctx, &stock, w->substances, w->containers, items, n);
    if (status == DF_OK)
        status = df_stock_add(ctx, stock, shelf, text, length, file);
    df_stock_free(stock);
    return status;
}

df_status df_workspace_check(df_context *ctx, df_workspace *w, df_shelf shelf, const char *name, const char *text,
                             size_t length) {
    char file[NAME_LONGEST + 8];
    snprintf(file, sizeof file, "%.64s%s", name != NULL ? name : words[shelf], name != NULL ? ".yaml" : "");
    if (is_stocked(shelf))
        return check_stocked(ctx, w, shelf, name, file, text, length);
    df_stock *stock = df_workspace_stock(ctx, w);
    df_status status = stock != NULL ? check_parsed(ctx, stock, shelf, file, text, length) : DF_E_MEMORY;
    df_workspace_release(w, stock);
    return status;
}

/* ---- writing, removing, listing ------------------------------------------------------------------------------- */

static bool is_full(const df_workspace *w, df_shelf shelf) {
    char **name = calloc(MOST_FILES, sizeof *name);
    size_t n = name != NULL ? names_of(w, shelf, name) : MOST_FILES;
    for (size_t i = 0; name != NULL && i < n; i++)
        free(name[i]);
    free(name);
    return n >= MOST_FILES;
}

df_kept df_workspace_write(df_context *ctx, df_workspace *w, df_shelf shelf, const char *name, const char *text,
                           size_t length, const char *match, bool draft, char etag[DF_ETAG]) {
    df_kept kept = check_name(ctx, shelf, name);
    if (kept != DF_KEPT_DONE)
        return kept;
    if (memchr(text, '\0', length) != NULL) {
        df_fail(ctx, DF_E_INPUT, "the file holds a NUL byte; it is no text in UTF-8");
        return DF_KEPT_REFUSED;
    }
    if (!draft && df_workspace_check(ctx, w, shelf, name, text, length) < 0)
        return DF_KEPT_REFUSED;
    bool there = false;
    pthread_mutex_lock(&w->lock);
    kept = check_version(ctx, w, shelf, name, match, &there);
    if (kept == DF_KEPT_MISSING)
        kept = DF_KEPT_DONE;
    if (kept == DF_KEPT_DONE && !there && is_full(w, shelf)) {
        df_fail(ctx, DF_E_INPUT, "the workspace holds %d %s; remove some first", MOST_FILES, df_shelf_name(shelf));
        kept = DF_KEPT_FULL;
    }
    if (kept == DF_KEPT_DONE) {
        char *path = path_of(w, shelf, name);
        if (path == NULL || df_file_write(ctx, path, text, length, NULL) != DF_OK)
            kept = DF_KEPT_FAILED;
        else if (!there) {
            kept = DF_KEPT_NEW;
            mark_begun(w);
        }
        free(path);
    }
    pthread_mutex_unlock(&w->lock);
    df_etag(etag, text, length);
    return kept;
}

df_kept df_workspace_remove(df_context *ctx, df_workspace *w, df_shelf shelf, const char *name, const char *match) {
    df_kept kept = check_name(ctx, shelf, name);
    if (kept != DF_KEPT_DONE)
        return kept;
    bool there = false;
    pthread_mutex_lock(&w->lock);
    kept = check_version(ctx, w, shelf, name, match, &there);
    if (kept == DF_KEPT_DONE) {
        char *path = path_of(w, shelf, name);
        if (path == NULL || unlink(path) != 0) {
            df_fail(ctx, DF_E_IO, "'%s' cannot be removed", name);
            kept = DF_KEPT_FAILED;
        }
        free(path);
    }
    pthread_mutex_unlock(&w->lock);
    return kept;
}

/* The caller holds the lock. */
static json_t *entry(df_context *ctx, const df_stock *stock, df_shelf shelf, const char *name, const char *text,
                     size_t length) {
    char etag[DF_ETAG], file[NAME_LONGEST + 8];
    const df_stock_item *item = is_stocked(shelf) ? df_stock_find(stock, shelf, name) : NULL;
    const char *problem = item != NULL ? item->problem : NULL;
    df_etag(etag, text, length);
    snprintf(file, sizeof file, "%.64s.yaml", name);
    df_context_clear(ctx);
    if (!is_stocked(shelf) && check_parsed(ctx, stock, shelf, file, text, length) < 0)
        problem = df_context_message(ctx);
    json_t *o = json_pack("{s:s, s:s, s:I, s:b, s:o}", "name", name, "etag", etag, "bytes", (json_int_t)length,
                          "sound", problem == NULL, "problem", problem == NULL ? json_null() : json_string(problem));
    if (item != NULL && o != NULL) {
        json_t *keys = json_array();
        for (size_t i = 0; i < item->keys; i++)
            json_array_append_new(keys, json_string(item->key[i]));
        json_object_set_new(o, "keys", keys);
    }
    return o;
}

df_kept df_workspace_list(df_context *ctx, df_workspace *w, df_shelf shelf, df_text *out) {
    json_t *list = json_array();
    char **name = calloc(MOST_FILES, sizeof *name);
    pthread_mutex_lock(&w->lock);
    const df_stock *stock = current_stock(ctx, w);
    size_t n = name != NULL && stock != NULL ? names_of(w, shelf, name) : 0;
    for (size_t i = 0; i < n; i++) {
        char *text = NULL;
        size_t length = 0;
        if (read_file(ctx, w, shelf, name[i], &text, &length) == DF_KEPT_DONE)
            json_array_append_new(list, entry(ctx, stock, shelf, name[i], text, length));
        free(text);
        free(name[i]);
    }
    pthread_mutex_unlock(&w->lock);
    free(name);
    df_context_clear(ctx);
    json_t *root = json_pack("{s:o}", df_shelf_name(shelf), list);
    char *bytes = root != NULL ? json_dumps(root, JSON_INDENT(2)) : NULL;
    if (bytes != NULL) {
        df_text_puts(out, bytes);
        df_text_puts(out, "\n");
    } else
        df_fail(ctx, DF_E_MEMORY, "out of memory");
    free(bytes);
    json_decref(root);
    return bytes != NULL ? DF_KEPT_DONE : DF_KEPT_FAILED;
}
