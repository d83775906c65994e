/* Usual cautions, from data/safety.csv. */
#include "dryfront/report.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Appends at most what fits. */
static void add(char *out, size_t size, const char *text) {
    size_t used = strlen(out);
    snprintf(out + used, size - used, "%s", text);
}

/* A cell as a part of a sentence: commas inside, and without the hazard statement's number, which `substances NAME`
 * shows. */
static void plain(char *out, size_t size, const char *cell) {
    snprintf(out, size, "%s", cell);
    char *code = strstr(out, " (H");
    if (code != NULL)
        *code = '\0';
    for (char *c = out; *c != '\0'; c++)
        if (*c == ';' || *c == ':')
            *c = ',';
}

void df_report_caution(char *out, size_t size, const df_substance *s) {
    static const char *const shown[] = {"flammable", "toxic", "corrosive", "skin", "peroxide_former"};
    static const char *const end = "; local rules and its safety data sheet come first";
    char body[400] = "";
    bool listed = false, memory = false;
    df_csv *csv = NULL;
    if (size == 0)
        return;
    out[0] = '\0';
    if (s->is_water)
        return;
    bool read = df_csv_builtin(NULL, &csv, "safety.csv") == DF_OK;
    if (read) {
        int key = df_csv_find(csv, "key"), quantity = df_csv_find(csv, "quantity"), value = df_csv_find(csv, "value");
        int scope = df_csv_find(csv, "unit_or_scope"), grade = df_csv_find(csv, "grade");
        for (size_t i = 0; i < sizeof shown / sizeof shown[0]; i++)
            for (size_t row = 0; row < df_csv_rows(csv); row++) {
                if (strcmp(df_csv_cell(csv, row, key), s->key) != 0)
                    continue;
                listed = true;
                if (strcmp(df_csv_cell(csv, row, quantity), shown[i]) != 0)
                    continue;
                char text[160];
                plain(text, sizeof text, df_csv_cell(csv, row, value));
                add(body, sizeof body, body[0] != '\0' ? "; " : "");
                if (strcmp(shown[i], "peroxide_former") == 0)
                    add(body, sizeof body, "peroxide former, ");
                add(body, sizeof body, text);
                if (strcmp(shown[i], "flammable") == 0) {
                    plain(text, sizeof text, df_csv_cell(csv, row, scope));
                    add(body, sizeof body, " (");
                    add(body, sizeof body, text);
                    add(body, sizeof body, ")");
                }
                memory = memory || strcmp(df_csv_cell(csv, row, grade), "from memory") == 0;
            }
        df_csv_free(csv);
    }
    if (!read) /* out of memory: silence must not look like harmlessness */
        snprintf(body, sizeof body, "cautions could not be read");
    else if (!listed && isfinite(s->flash_point))
        snprintf(body, sizeof body, "flash point %.0f °C", s->flash_point - DF_ZERO_CELSIUS);
    else if (!listed)
        snprintf(body, sizeof body, "no caution on file");
    if (body[0] == '\0')
        return;
    /* One place is kept for the end: the advice to look elsewhere is never what is cut. */
    char head[640];
    snprintf(head, sizeof head, "%.100s: %s%s", s->name, body, memory ? " (from memory)" : "");
    size_t room = size > strlen(end) + 1 ? size - strlen(end) - 1 : 0;
    if (strlen(head) > room) {
        while (room > 0 && ((unsigned char)head[room] & 0xc0) == 0x80)
            room--;
        head[room] = '\0';
    }
    snprintf(out, size, "%s%s", head, end);
}

void df_report_hazards(char *out, size_t size, const df_substance *s) {
    df_csv *csv = NULL;
    if (size == 0)
        return;
    out[0] = '\0';
    if (df_csv_builtin(NULL, &csv, "safety.csv") != DF_OK) {
        snprintf(out, size, "hazard statements could not be read");
        return;
    }
    for (size_t row = 0; row < df_csv_rows(csv); row++)
        if (strcmp(df_csv_cell(csv, row, df_csv_find(csv, "key")), s->key) == 0 &&
            strcmp(df_csv_cell(csv, row, df_csv_find(csv, "quantity")), "hazard_statements") == 0) {
            const char *value = df_csv_cell(csv, row, df_csv_find(csv, "value"));
            if (strncmp(value, "none", 4) == 0)
                break;
            size_t used = 0;
            for (; *value != '\0' && used + 2 < size; value++) {
                out[used++] = *value == ';' ? ',' : *value;
                if (*value == ';')
                    out[used++] = ' ';
            }
            out[used] = '\0';
            if (strcmp(df_csv_cell(csv, row, df_csv_find(csv, "grade")), "from memory") == 0)
                add(out, size, " (from memory)");
            break;
        }
    df_csv_free(csv);
}
