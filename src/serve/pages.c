/* Pages, compiled in. The included table is written by tools/embed.c when the program is built: each file, and beside it its
 * packed forms with .gz and .br behind the name. */
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

/* How much a header wants each coding, 0 to 1. What is not named is wanted as "*" is; without that the plain form is wanted least
 * of all and the others not at all. */
typedef struct wants {
    double brotli, gzip, plain;
} wants;

static wants read_wants(const char *accept) {
    const double unnamed = -1.0, least = 1e-6;
    wants w = {unnamed, unnamed, unnamed};
    double any = unnamed;
    for (const char *at = accept != NULL ? accept : ""; *at != '\0';) {
        at += strspn(at, " \t,");
        size_t length = strcspn(at, " \t,;");
        const char *parameter = at + length + strspn(at + length, " \t;");
        double weight = strncasecmp(parameter, "q=", 2) == 0 ? strtod(parameter + 2, NULL) : 1.0;
        weight = weight > 0.0 ? (weight < 1.0 ? weight : 1.0) : 0.0; /* what is no number is none */
        if (length == 2 && strncasecmp(at, "br", 2) == 0)
            w.brotli = weight;
        else if ((length == 4 && strncasecmp(at, "gzip", 4) == 0) ||
                 (length == 6 && strncasecmp(at, "x-gzip", 6) == 0))
            w.gzip = weight;
        else if (length == 8 && strncasecmp(at, "identity", 8) == 0)
            w.plain = weight;
        else if (length == 1 && *at == '*')
            any = weight;
        at += strcspn(at, ",");
    }
    w.brotli = w.brotli >= 0.0 ? w.brotli : any >= 0.0 ? any : 0.0;
    w.gzip = w.gzip >= 0.0 ? w.gzip : any >= 0.0 ? any : 0.0;
    w.plain = w.plain >= 0.0 ? w.plain : any >= 0.0 ? any : least;
    return w;
}

bool df_page_find(df_page *page, const char *path, const char *accept) {
    const char *name = strcmp(path, "/") == 0 ? "index.html" : path + 1;
    const char *ending = strrchr(name, '.'); /* the packed ones have no path of their own */
    bool asks_packed = ending != NULL && (strcmp(ending, ".gz") == 0 || strcmp(ending, ".br") == 0);
    const embedded_file *plain = path[0] == '/' && !asks_packed ? find(name, "") : NULL;
    if (plain == NULL)
        return false;
    const embedded_file *brotli = find(name, ".br"), *gzip = find(name, ".gz"), *sent = plain;
    const char *coding = NULL;
    wants w = read_wants(accept);
    double most = w.plain;
    if (gzip != NULL && w.gzip > 0.0 && w.gzip >= most) {
        sent = gzip;
        coding = "gzip";
        most = w.gzip;
    }
    if (brotli != NULL && w.brotli > 0.0 && w.brotli >= most) {
        sent = brotli;
        coding = "br";
    }
    *page = (df_page){.type = type_of(name),
                      .bytes = (const char *)sent->bytes,
                      .length = sent->length,
                      .coding = coding,
                      .packable = brotli != NULL || gzip != NULL,
                      .lasting = strncmp(name, "assets/", 7) == 0};
    df_etag(page->etag, page->bytes, page->length);
    return true;
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
