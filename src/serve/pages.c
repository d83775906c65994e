/* Pages, compiled in. The included table is written by tools/embed.c when the program is built: each file, and beside it its
 * packed form with .gz behind the name. */
#include "serve/pages.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

typedef struct embedded_file {
    const char *name;
    const unsigned char *bytes;
    size_t length;
} embedded_file;

#include "embedded_pages.inc"

static const embedded_file *find(const char *name, const char *ending) {
    size_t length = strlen(name);
    for (const embedded_file *file = embedded_files; file->name != NULL; file++)
        if (strncmp(file->name, name, length) == 0 && strcmp(file->name + length, ending) == 0)
            return file;
    return NULL;
}

static const char *type_of(const char *name) {
    static const struct {
        const char *ending, *type;
    } types[] = {{".html", "text/html; charset=utf-8"},
                 {".js", "text/javascript; charset=utf-8"},
                 {".css", "text/css; charset=utf-8"},
                 {".svg", "image/svg+xml"},
                 {".png", "image/png"},
                 {".json", "application/json"},
                 {".webmanifest", "application/manifest+json"},
                 {".woff2", "font/woff2"},
                 {".txt", "text/plain; charset=utf-8"}};
    const char *ending = strrchr(name, '.');
    for (size_t i = 0; ending != NULL && i < sizeof types / sizeof types[0]; i++)
        if (strcmp(ending, types[i].ending) == 0)
            return types[i].type;
    return "application/octet-stream";
}

bool df_page_find(df_page *page, const char *path, bool packed) {
    const char *name = strcmp(path, "/") == 0 ? "index.html" : path + 1;
    size_t length = strlen(name);
    bool asks_packed = length > 3 && strcmp(name + length - 3, ".gz") == 0; /* those have no path of their own */
    const embedded_file *plain = path[0] == '/' && !asks_packed ? find(name, "") : NULL;
    if (plain == NULL)
        return false;
    const embedded_file *small = find(name, ".gz"), *sent = packed && small != NULL ? small : plain;
    *page = (df_page){.type = type_of(name),
                      .bytes = (const char *)sent->bytes,
                      .length = sent->length,
                      .packed = sent == small,
                      .packable = small != NULL,
                      .lasting = strncmp(name, "assets/", 7) == 0};
    df_etag(page->etag, page->bytes, page->length);
    return true;
}

bool df_page_takes_gzip(const char *accept) {
    bool any = false;
    for (const char *at = accept != NULL ? accept : ""; *at != '\0';) {
        at += strspn(at, " \t,");
        size_t length = strcspn(at, " \t,;");
        const char *weight = at + length + strspn(at + length, " \t;");
        bool refused = strncasecmp(weight, "q=", 2) == 0 && !(strtod(weight + 2, NULL) > 0.0);
        if ((length == 4 && strncasecmp(at, "gzip", 4) == 0) || (length == 6 && strncasecmp(at, "x-gzip", 6) == 0))
            return !refused;
        any = any || (length == 1 && *at == '*' && !refused);
        at += strcspn(at, ",");
    }
    return any;
}

const char *df_page_none(void) {
    return "<!doctype html>\n"
           "<html lang=\"en\"><head><meta charset=\"utf-8\"><title>dryfront</title></head>\n"
           "<body><h1>dryfront</h1>\n"
           "<p>Whether a sample with water and solvent can be freeze-dried, and how.</p>\n"
           "<p>This program was built without its pages (they need node and npm when it is built). It answers other "
           "programs: "
           "<a href=\"/api/v1/openapi.json\">what may be asked</a>; and the commands in a terminal: dryfront "
           "help.</p>\n"
           "<p>Its numbers are computed estimates: local rules, safety data sheets and qualified people come "
           "first.</p>\n"
           "</body></html>\n";
}
