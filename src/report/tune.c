/* What was learnt of a dryer from its logs. */
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char caution[] = "tests run the dryer under vacuum and in the cold: glass can burst (whole, round or "
                              "thick-walled vessels, a shield), "
                              "cold surfaces and coolants burn the skin and coolants take the place of air; the "
                              "maker's manual, local rules and "
                              "qualified people come first. A leak rate says nothing of sterility";

static const char *const meaning[DF_TESTS] = {"isolated: leak and degassing", "pumped down: pump",
                                              "trap: refrigeration", "ice weighed: heat from the shelf",
                                              "product: resistance of its dried layer"};

/* "at 0.1 mbar" of a point of a curve, "" otherwise. */
static const char *place(char out[40], const df_finding *f) {
    char mbar[24];
    out[0] = '\0';
    if (!isnan(f->at) && f->at_dimension == DF_DIM_PRESSURE)
        snprintf(out, 40, " at %s mbar", df_part_mbar(mbar, sizeof mbar, f->at));
    else if (!isnan(f->at))
        snprintf(out, 40, " at %.1f °C", df_celsius(f->at));
    return out;
}

/* Length of the number at the start of "0.0103 mbar L/s". */
static int number_length(const char *text) {
    const char *space = strchr(text, ' ');
    return space != NULL ? (int)(space - text) : (int)strlen(text);
}

static void finding_line(df_text *out, const df_finding *f) {
    char value[48], band[48], before[48], where[40], name[96];
    df_finding_text(value, band, before, f);
    snprintf(name, sizeof name, "%s%s", f->field, place(where, f));
    const char *unit = value + number_length(value), *band_unit = band + number_length(band);
    bool same = strcmp(unit, band_unit) == 0; /* "-58.1 ± 0.1 K" would be wrong of "°C" */
    df_text_printf(out, "  %s%*s %.*s ± %.*s%s", name, (int)(44 - df_utf8_width(name) % 44), "",
                   same ? number_length(value) : (int)strlen(value), value,
                   same ? number_length(band) : (int)strlen(band), band, same ? unit : "");
    if (before[0] != '\0')
        df_text_printf(out, "\n%*s was %s", 45, "", before);
    df_text_puts(out, "\n");
}

static void fit_text(df_text *out, const df_fit *fit) {
    df_text names = {0};
    for (size_t i = 0; i < fit->logs; i++)
        df_text_printf(&names, "%s%s (%zu rows)", i > 0 ? ", " : "", df_log_name(fit->log[i]),
                       df_log_rows(fit->log[i]));
    df_text_printf(out, "\n%c%s\n", meaning[fit->test][0] - 'a' + 'A', meaning[fit->test] + 1);
    df_layout_printf(out, "from", "%.900s; %zu points, %zu unknowns, residual %.2g %s", df_text_string(&names),
                     fit->points, fit->unknowns, fit->residual, fit->residual_unit);
    for (size_t i = 0; i < fit->findings; i++)
        finding_line(out, &fit->finding[i]);
    const char *label = "mind";
    for (size_t i = 0; i < fit->remarks; i++, label = "")
        df_layout_paragraph(out, label, fit->remark[i]);
    for (size_t k = 0; k < fit->logs; k++)
        for (size_t i = 0; df_log_remark(fit->log[k], i) != NULL; i++, label = "")
            df_layout_printf(out, label, "%.80s: %s", df_log_name(fit->log[k]), df_log_remark(fit->log[k], i));
    out->failed = out->failed || names.failed;
    df_text_free(&names);
}

df_status df_report_tune_text(df_context *ctx, df_text *out, const df_tuning *t) {
    df_layout_printf(out, "constants", "of %s, from logs; ± one standard deviation", t->dryer);
    for (size_t i = 0; i < t->fits; i++)
        fit_text(out, &t->fit[i]);
    df_text_puts(out, "\n");
    if (t->cake != NULL)
        df_layout_printf(out, "in the job", "cake: {r0: %.3g m/s, a1: %.3g 1/s, a2: %.3g 1/m}", t->cake->r0,
                         t->cake->a1, t->cake->a2);
    if (t->written == NULL)
        df_layout_paragraph(out, "written", "nothing");
    else if (t->before != NULL)
        df_layout_printf(out, "written", "%s; as it was before: %s", t->written, t->before);
    else
        df_layout_paragraph(out, "written", t->written);
    df_layout_paragraph(out, "caution", caution);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large") : DF_OK;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

static json_t *number_of(const char *text) {
    double value;
    return df_json_number(df_number_scan(&value, NULL, text) ? value : NAN);
}

static json_t *finding_json(const df_finding *f) {
    json_t *o = json_object();
    char value[48], band[48], before[48];
    df_finding_text(value, band, before, f);
    bool pressure = f->at_dimension == DF_DIM_PRESSURE;
    df_json_put(o, "field", df_json_text(f->field));
    df_json_put(o, "unit", df_json_text(f->unit));
    df_json_put(o, "value", number_of(value));
    df_json_put(o, "band", number_of(band));
    df_json_put(o, "before", number_of(before));
    df_json_put(o, "at_mbar", df_json_number(!isnan(f->at) && pressure ? f->at / 100.0 : NAN));
    df_json_put(o, "at_C", df_json_number(!isnan(f->at) && !pressure ? df_celsius(f->at) : NAN));
    df_json_put(o, "in_file", json_boolean(f->written));
    return o;
}

static json_t *log_json(const df_log *log) {
    json_t *o = json_object(), *remarks = json_array();
    df_json_put(o, "name", df_json_text(df_log_name(log)));
    df_json_put(o, "bytes", json_integer((json_int_t)df_log_bytes(log)));
    df_json_put(o, "rows", json_integer((json_int_t)df_log_rows(log)));
    df_json_put(o, "columns_not_understood", df_json_text(df_log_unknown(log)));
    for (size_t i = 0; df_log_remark(log, i) != NULL; i++)
        json_array_append_new(remarks, df_json_text(df_log_remark(log, i)));
    df_json_put(o, "remarks", remarks);
    return o;
}

static json_t *fit_json(const df_fit *fit) {
    json_t *o = json_object(), *logs = json_array(), *constants = json_array(), *remarks = json_array();
    for (size_t i = 0; i < fit->logs; i++)
        json_array_append_new(logs, log_json(fit->log[i]));
    for (size_t i = 0; i < fit->findings; i++)
        json_array_append_new(constants, finding_json(&fit->finding[i]));
    for (size_t i = 0; i < fit->remarks; i++)
        json_array_append_new(remarks, df_json_text(fit->remark[i]));
    df_json_put(o, "test", df_json_text(df_test_name(fit->test)));
    df_json_put(o, "described", json_boolean(fit->described));
    df_json_put(o, "logs", logs);
    df_json_put(o, "points", json_integer((json_int_t)fit->points));
    df_json_put(o, "unknowns", json_integer((json_int_t)fit->unknowns));
    df_json_put(o, "residual", df_json_number(fit->residual));
    df_json_put(o, "residual_unit", df_json_text(fit->residual_unit));
    df_json_put(o, "correlation", df_json_number(fit->correlation));
    df_json_put(o, "constants", constants);
    df_json_put(o, "remarks", remarks);
    return o;
}

df_status df_report_tune_json(df_context *ctx, df_text *out, const df_tuning *t) {
    json_t *root = json_object(), *fits = json_array(), *cake = NULL;
    if (t->cake != NULL) {
        cake = json_object();
        df_json_put(cake, "r0_m_s", df_json_number(t->cake->r0));
        df_json_put(cake, "a1_per_s", df_json_number(t->cake->a1));
        df_json_put(cake, "a2_per_m", df_json_number(t->cake->a2));
    }
    for (size_t i = 0; i < t->fits; i++)
        json_array_append_new(fits, fit_json(&t->fit[i]));
    df_json_put(root, "dryer", df_json_text(t->dryer));
    df_json_put(root, "date", df_json_text(t->date));
    df_json_put(root, "fits", fits);
    df_json_put(root, "cake", cake != NULL ? cake : json_null());
    df_json_put(root, "written", t->written != NULL ? df_json_text(t->written) : json_null());
    df_json_put(root, "before", t->before != NULL ? df_json_text(t->before) : json_null());
    df_json_put(root, "caution", df_json_text(caution));
    return df_json_finish(ctx, out, root);
}
