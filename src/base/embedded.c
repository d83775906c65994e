/* The files of data/, compiled in. The included table is written by tools/embed.c when the program is built. */
#include "dryfront/base.h"

#include <string.h>

typedef struct embedded_file {
    const char *name;
    const unsigned char *bytes; /* with a NUL after the last one */
    size_t length;
} embedded_file;

#include "embedded_data.inc"

const char *df_embedded(size_t *length, const char *name) {
    for (const embedded_file *file = embedded_files; file->name; file++)
        if (strcmp(file->name, name) == 0) {
            if (length)
                *length = file->length;
            return (const char *)file->bytes;
        }
    if (length)
        *length = 0;
    return NULL;
}

const char *df_embedded_name(size_t index) {
    return index + 1 < sizeof embedded_files / sizeof embedded_files[0] ? embedded_files[index].name : NULL;
}
