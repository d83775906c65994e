/* Files of docs/api and docs/schema, compiled in. The included table is written by tools/embed.c when the program is built. */
#include "serve/documents.h"

#include <string.h>

typedef struct embedded_file {
    const char *name;
    const unsigned char *bytes;
    size_t length;
} embedded_file;

#include "embedded_api.inc"

const char *df_document(size_t *length, const char *name) {
    for (const embedded_file *file = embedded_files; file->name != NULL; file++)
        if (strcmp(file->name, name) == 0) {
            *length = file->length;
            return (const char *)file->bytes;
        }
    return NULL;
}
