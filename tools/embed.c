/* embed OUT FILE...: writes the files as C arrays and one table for src/base/embedded.c. Runs while building. */
#include <stdio.h>
#include <string.h>

static const char *base_name(const char *path) {
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
    if (argc < 2 || argc - 2 > MOST) {
        fprintf(stderr, "usage: embed OUT FILE...\n");
        return 2;
    }
    FILE *out = fopen(argv[1], "wb");
    if (!out) {
        fprintf(stderr, "embed: cannot write %s\n", argv[1]);
        return 1;
    }
    fprintf(out, "/* Written by tools/embed.c; do not edit. */\n");
    for (int i = 2; i < argc; i++)
        if (!write_array(out, argv[i], i - 2, &lengths[i - 2])) {
            fclose(out);
            remove(argv[1]);
            return 1;
        }
    fprintf(out, "static const embedded_file embedded_files[] = {\n");
    for (int i = 2; i < argc; i++)
        fprintf(out, "{\"%s\", embedded_%d, %lu},\n", base_name(argv[i]), i - 2, lengths[i - 2]);
    fprintf(out, "{NULL, NULL, 0}};\n");
    if (fclose(out) != 0) {
        remove(argv[1]);
        return 1;
    }
    return 0;
}
