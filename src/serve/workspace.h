/* The user's folder of jobs, dryers and own containers, solutes and substances: the same YAML files as everywhere, one for each
 * name. */
#ifndef DRYFRONT_SERVE_WORKSPACE_H
#define DRYFRONT_SERVE_WORKSPACE_H

#include "dryfront/report.h"

typedef struct df_workspace df_workspace;

typedef enum df_shelf {
    DF_SHELF_JOBS,
    DF_SHELF_DRYERS,
    DF_SHELF_CONTAINERS,
    DF_SHELF_SOLUTES,
    DF_SHELF_SUBSTANCES
} df_shelf;
#define DF_SHELVES 5
const char *df_shelf_name(df_shelf shelf); /* "jobs", "dryers", "containers", "solutes", "substances" */
const char *df_shelf_word(df_shelf shelf); /* "job", "dryer", ... */

#define DF_ETAG 20 /* bytes of an entity tag with its quotes and NUL */

/* The tag of some bytes: 64 bits of FNV-1a in hexadecimal, in quotes. It tells versions apart; it guards against no forgery. */
void df_etag(char out[DF_ETAG], const char *bytes, size_t length);

/* What came of a request to the workspace beside a sentence. */
typedef enum df_kept {
    DF_KEPT_DONE,
    DF_KEPT_NEW,     /* done, and it was not there before */
    DF_KEPT_REFUSED, /* wrong name, or what it holds is wrong */
    DF_KEPT_MISSING, /* nothing has that name */
    DF_KEPT_CHANGED, /* another version stands there than the one named */
    DF_KEPT_UNNAMED, /* it is there, and no version was named */
    DF_KEPT_FULL,
    DF_KEPT_FAILED /* the disk */
} df_kept;

/* Opens the folder and makes it where it is not there. The program's own sets are what the user's are put beside, and must
 * outlive it. DF_E_IO. */
DF_NODISCARD df_status df_workspace_open(df_context *ctx, df_workspace **workspace, const char *folder,
                                         const df_substances *substances, const df_containers *containers);
void df_workspace_close(df_workspace *workspace); /* takes NULL */

/* Whether a name may be one: 1 to 64 letters, digits, '-', '_', '.' of ASCII, beginning with a letter or digit, not
 * ending in .yaml or .yml. */
bool df_workspace_name(const char *name);

/* Each from any thread. The sentence of what failed is the context's.
 * The file of a name: *text (free it). */
df_kept df_workspace_read(df_context *ctx, df_workspace *workspace, df_shelf shelf, const char *name, char **text,
                          size_t *length);
/* Writes it. `match`: the If-Match header, "*" for any; NULL: it must not be there. `draft`: kept even where it cannot be
 * read as a job or dryer. `etag` gets the tag of what stands there then. */
df_kept df_workspace_write(df_context *ctx, df_workspace *workspace, df_shelf shelf, const char *name,
                           const char *text, size_t length, const char *match, bool draft, char etag[DF_ETAG]);
df_kept df_workspace_remove(df_context *ctx, df_workspace *workspace, df_shelf shelf, const char *name,
                            const char *match);
/* Whether anything was ever kept here through this room, removed since or not. */
bool df_workspace_begun(const df_workspace *workspace);
/* {"jobs": [{name, etag, bytes, sound, problem}]} in order of their names; of containers, solutes and substances also `keys`. */
df_kept df_workspace_list(df_context *ctx, df_workspace *workspace, df_shelf shelf, df_text *out);

/* Whether a text would be taken, as df_workspace_write has it, under `name` (in sentences NAME.yaml; NULL: a new one, in sentences
 * the word of its shelf). DF_E_INPUT, DF_E_UNKNOWN_NAME with where it is at fault. */
DF_NODISCARD df_status df_workspace_check(df_context *ctx, df_workspace *workspace, df_shelf shelf, const char *name,
                                          const char *text, size_t length);

/* The substances, solutes and containers of the program and of the workspace's files as they are now; made anew only when one of
 * these has changed. NULL and a sentence: DF_E_MEMORY. What is released is freed once nobody holds it. */
typedef struct df_stock df_stock;
df_stock *df_workspace_stock(df_context *ctx, df_workspace *workspace);
void df_workspace_release(df_workspace *workspace, df_stock *stock); /* takes NULL */

#endif
