/* The pages: files of web/, built and compiled in. */
#ifndef DRYFRONT_SERVE_PAGES_H
#define DRYFRONT_SERVE_PAGES_H

#include "serve/workspace.h"

typedef struct df_page {
    const char *type; /* media type */
    const char *bytes;
    size_t length;
    char etag[DF_ETAG];
    const char *coding; /* Content-Encoding: "br", "gzip"; NULL: as it is */
    bool packable;      /* there is a packed one and a plain one: the answer varies with Accept-Encoding */
    bool lasting;       /* its name changes with its content */
} df_page;

/* The page at a path ("/", "/assets/x.js"), packed as an Accept-Encoding header (may be NULL) likes best; false where there is
 * none. Among what it likes equally brotli comes before gzip, gzip before none (RFC 9110, 12.5.3). */
bool df_page_find(df_page *page, const char *path, const char *accept_encoding);
/* What stands at / where the program was built without pages. */
const char *df_page_none(void);

#endif
