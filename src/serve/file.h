/* Reading the user's files whole. */
#ifndef DRYFRONT_SERVE_FILE_H
#define DRYFRONT_SERVE_FILE_H

#include "dryfront/base.h"

#define DF_FILE_LARGEST ((size_t)4 << 20) /* bytes */
#define DF_LOG_LARGEST ((size_t)64 << 20) /* bytes, of a log */
#define DF_FILE_NAME 100                  /* bytes of a file's name in sentences */

/* A path as it stands in sentences: a long one loses its beginning. Written to out[DF_FILE_NAME + 1]. */
const char *df_file_name(char *out, const char *path);

/* Reads a regular file of at most DF_FILE_LARGEST bytes into *buffer (NUL-terminated, free it). `where` (may be NULL)
 * stands before the sentence. DF_E_IO: missing, unreadable, a directory, a device, pipe or socket; DF_E_INPUT: too
 * large (found out before anything is read), holds a NUL byte; DF_E_MEMORY. On failure *buffer is NULL. */
DF_NODISCARD df_status df_file_read(df_context *ctx, char **buffer, size_t *length, const char *path,
                                    const char *where);
/* The same with another limit than DF_FILE_LARGEST, bytes. */
DF_NODISCARD df_status df_file_read_within(df_context *ctx, char **buffer, size_t *length, const char *path,
                                           const char *where, size_t largest);
/* Writes a file whole or not at all: into a new file beside it, which then takes its place. A file that is there is
 * replaced; anything else (folder, device, pipe) is refused. `where` (may be NULL) stands before the sentence. DF_E_IO. */
DF_NODISCARD df_status df_file_write(df_context *ctx, const char *path, const char *bytes, size_t length,
                                     const char *where);
/* Refuses a name for a file to write that does not end in `suffix` (".svg"), so that no job or table is replaced by mistake.
 * `where` stands before the sentence. DF_E_INPUT. */
DF_NODISCARD df_status df_file_suffix(df_context *ctx, const char *path, const char *suffix, const char *where);
/* Whether there is something at the path. */
bool df_file_exists(const char *path);
/* `name` seen from the folder of the file `from`; an absolute name stays. New string (free it), NULL: no memory. */
char *df_file_beside(const char *from, const char *name);

#endif
