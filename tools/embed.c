/* embed OUT [--under FOLDER/] FILE...: writes the files as C arrays and one table of their names, without folders or as seen from
 * FOLDER. For src/base/embedded.c, src/serve/documents.c and src/serve/pages.c. Runs while building. */
#include <stdio.h>
#include <string.h>

static const char *name_of(const char *path, const char *under) {
    size_t length = under != NULL ? strlen(under) : 0;
    if (length > 0 && strncmp(path, under, length) == 0)
        return path + length;
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static int write_array(FILE *out, const char *path, int index, unsigned long *length) {
    FILE *in = fopen(path, "rb");
    if (!in) {
        fprintf(stderr, "embed: cannot read %s\n", path);
        return 0;
    }
    fprintf(out, "static const unsigned char embedded_%d[] = {", index);
    *length = 0;
    for (int c; (c = fgetc(in)) != EOF; (*length)++)
        fprintf(out, "%s%d,", *length % 32 == 0 ? "\n" : "", c);
    fprintf(out, "0};\n");
    int sound = !ferror(in);
    fclose(in);
    return sound;
}

int main(int argc, char **argv) {
    enum { MOST = 1024 };
    static unsigned long lengths[MOST];
    const char *under = argc > 3 && strcmp(argv[2], "--under") == 0 ? argv[3] : NULL;
    int first = under != NULL ? 4 : 2;
    if (argc < 2 || argc - first > MOST) {
        fprintf(stderr, "usage: embed OUT [--under FOLDER/] FILE...\n");
        return 2;
    }
    FILE *out = fopen(argv[1], "wb");
    if (!out) {
        fprintf(stderr, "embed: cannot write %s\n", argv[1]);
        return 1;
    }
    fprintf(out, "/* Written by tools/embed.c; do not edit. */\n");
    for (int i = first; i < argc; i++)
        if (!write_array(out, argv[i], i - first, &lengths[i - first])) {
            fclose(out);
            remove(argv[1]);
            return 1;
        }
    fprintf(out, "static const embedded_file embedded_files[] = {\n");
    for (int i = first; i < argc; i++)
        fprintf(out, "{\"%s\", embedded_%d, %lu},\n", name_of(argv[i], under), i - first, lengths[i - first]);
    fprintf(out, "{NULL, NULL, 0}};\n");
    if (fclose(out) != 0) {
        remove(argv[1]);
        return 1;
    }
    return 0;
}
