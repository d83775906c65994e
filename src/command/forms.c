/* What the parsers ask of every field: data/fields.csv as JSON. */
#include "forms.h"
#include "report/parts.h"

#include <stdlib.h>
#include <string.h>

static const char *const forms[] = {"job", "dryer", "container", "solute", "substance"};

static const char *cell(const df_csv *csv, size_t row, const char *column) {
    return df_csv_cell(csv, row, df_csv_find(csv, column));
}

/* "a;b" as a list. */
static json_t *words(const char *text) {
    json_t *list = json_array();
    while (*text != '\0') {
        size_t length = strcspn(text, ";");
        json_array_append_new(list, json_stringn(text, length));
        text += length + (text[length] == ';');
    }
    return list;
}

static json_t *form_json(const df_csv *csv, const char *form) {
    json_t *o = json_object(), *fields = json_array();
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        if (strcmp(cell(csv, row, "form"), form) != 0)
            continue;
        json_t *field = json_object();
        df_json_put(field, "path", df_json_text(cell(csv, row, "path")));
        df_json_put(field, "kind", df_json_text(cell(csv, row, "kind")));
        df_json_put(field, "needed", json_boolean(strcmp(cell(csv, row, "needed"), "yes") == 0));
        df_json_put(field, "depends", json_boolean(strcmp(cell(csv, row, "needed"), "depends") == 0));
        df_json_put(field, "otherwise", df_json_text(cell(csv, row, "otherwise")));
        df_json_put(field, "lowest", df_json_text(cell(csv, row, "lowest")));
        df_json_put(field, "highest", df_json_text(cell(csv, row, "highest")));
        df_json_put(field, "units", words(cell(csv, row, "units")));
        df_json_put(field, "choices", words(cell(csv, row, "choices")));
        df_json_put(field, "meaning", df_json_text(cell(csv, row, "meaning")));
        json_array_append_new(fields, field);
    }
    df_json_put(o, "form", df_json_text(form));
    df_json_put(o, "fields", fields);
    return o;
}

df_status df_forms_json(df_context *ctx, df_text *out, const char *form) {
    static const char *const columns[] = {"form",   "path",    "kind",  "needed",  "otherwise",
                                          "lowest", "highest", "units", "choices", "meaning"};
    df_csv *csv = NULL;
    json_t *root = NULL, *list = json_array();
    df_status status = df_csv_builtin(ctx, &csv, "fields.csv");
    if (status == DF_OK)
        status = df_csv_require(ctx, csv, columns, sizeof columns / sizeof columns[0]);
    for (size_t i = 0; i < sizeof forms / sizeof forms[0] && status == DF_OK; i++) {
        if (form == NULL)
            json_array_append_new(list, form_json(csv, forms[i]));
        else if (strcmp(form, forms[i]) == 0)
            root = form_json(csv, forms[i]);
    }
    if (status == DF_OK && form == NULL) {
        root = json_object();
        df_json_put(root, "forms", json_incref(list));
    }
    json_decref(list);
    df_csv_free(csv);
    if (status == DF_OK && root == NULL)
        status = df_fail(ctx, DF_E_UNKNOWN_NAME,
                         "there is no form '%.40s'; there are job, dryer, container, solute and substance", form);
    return status == DF_OK ? df_json_finish(ctx, out, root) : status;
}
