/* The description of the API and the schemas of its answers, compiled in. */
#ifndef DRYFRONT_SERVE_DOCUMENTS_H
#define DRYFRONT_SERVE_DOCUMENTS_H

#include <stddef.h>

/* A file of docs/api or docs/schema by its name ("openapi.json", "stand.json"); NULL where there is none. */
const char *df_document(size_t *length, const char *name);

#endif
