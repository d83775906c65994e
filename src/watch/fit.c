/* Series cut from logs, findings, remarks. */
#include "watch/fit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const tests[DF_TESTS] = {"isolation", "pump_down", "trap", "ice_test", "product"};

const char *df_test_name(df_test test) {
    return tests[test];
}

df_status df_test_recognise(df_context *ctx, df_test *test, const df_log *log) {
    const char *note = df_log_note(log, "test");
    for (int i = 0; i < DF_TESTS && note != NULL; i++)
        if (df_name_equal(note, tests[i])) {
            *test = (df_test)i;
            return DF_OK;
        }
    if (note != NULL)
        return df_fail(ctx, DF_E_INPUT,
                       "%s: test: '%.40s' is none; it is isolation, pump_down, trap, ice_test or product",
                       df_log_name(log), note);
    const double *pressure = df_log_values(log, DF_LOG_CHAMBER_PRESSURE, 0);
    size_t rows = df_log_rows(log);
    if (df_log_count(log, DF_LOG_BEFORE) + df_log_count(log, DF_LOG_LOST) > 0)
        *test = DF_TEST_ICE;
    else if (df_log_count(log, DF_LOG_PRODUCT_TEMPERATURE) + df_log_count(log, DF_LOG_FRONT_TEMPERATURE) +
                 df_log_count(log, DF_LOG_WEIGHT) >
             0)
        *test = DF_TEST_PRODUCT;
    else if (pressure == NULL && df_log_count(log, DF_LOG_TRAP_TEMPERATURE) > 0)
        *test = DF_TEST_TRAP;
    else if (pressure != NULL && pressure[rows - 1] > 1.02 * pressure[0])
        *test = DF_TEST_ISOLATION;
    else if (pressure != NULL && pressure[rows - 1] < 0.5 * pressure[0])
        *test = DF_TEST_PUMP_DOWN;
    else
        return df_fail(
            ctx, DF_E_INPUT,
            "%s: its columns do not tell what was tested; name it by its option (--isolation, --pump-down, "
            "--trap, --ice-test, --product) or write a line '# test: isolation' into it",
            df_log_name(log));
    return DF_OK;
}

/* ---- series --------------------------------------------------------------------------------------------------- */

df_status df_series_window(df_context *ctx, double *from, double *until, const df_log *log) {
    const double *t = df_log_values(log, DF_LOG_TIME, 0);
    if (t == NULL)
        return df_fail(ctx, DF_E_INPUT,
                       "%s: no column of time was found; name it 'time [s]', or map it in the dryer's "
                       "section 'log'",
                       df_log_name(log));
    *from = 0.0;
    *until = t[df_log_rows(log) - 1];
    df_status status = df_log_note_quantity(ctx, from, log, "from", DF_DIM_TIME, 0.0, *until);
    if (status == DF_OK)
        status = df_log_note_quantity(ctx, until, log, "until", DF_DIM_TIME, 0.0, 1e10);
    if (status == DF_OK && !(*until > *from))
        return df_fail(ctx, DF_E_INPUT, "%s: 'until' should lie after 'from'", df_log_name(log));
    return status;
}

df_status df_series_take(df_context *ctx, df_series *out, const df_log *source, df_log_quantity quantity,
                         size_t index, double from, double until, bool logarithm, size_t least, size_t most) {
    const double *t = df_log_values(source, DF_LOG_TIME, 0), *v = df_log_values(source, quantity, index);
    size_t rows = df_log_rows(source), n = 0, block;
    memset(out, 0, sizeof *out);
    if (v == NULL) {
        const char *unknown = df_log_unknown(source);
        return df_fail(ctx, DF_E_INPUT,
                       "%s: no column of %s was found%s%.200s; map it in the dryer's section 'source'",
                       df_log_name(source), df_log_quantity_name(quantity),
                       unknown[0] != '\0' ? "; not understood: " : "", unknown);
    }
    for (size_t i = 0; i < rows; i++)
        n += t[i] >= from && t[i] <= until && (logarithm ? v[i] > 0.0 : !isnan(v[i]));
    if (n < least)
        return df_fail(ctx, DF_E_INPUT, "%s: %s: %zu usable value%s%s; at least %zu are needed", df_log_name(source),
                       df_log_column_name(source, quantity, index), n, n == 1 ? "" : "s",
                       from > 0.0 || until < t[rows - 1] ? " between 'from' and 'until'" : "", least);
    block = (n + most - 1) / most;
    out->time = malloc((n / block + 1) * sizeof *out->time);
    out->value = malloc((n / block + 1) * sizeof *out->value);
    if (out->time == NULL || out->value == NULL) {
        df_series_free(out);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    double sum_t = 0.0, sum_v = 0.0;
    size_t in_block = 0;
    for (size_t i = 0; i < rows; i++) {
        if (!(t[i] >= from && t[i] <= until && (logarithm ? v[i] > 0.0 : !isnan(v[i]))))
            continue;
        sum_t += t[i];
        sum_v += logarithm ? log(v[i]) : v[i];
        if (++in_block < block)
            continue;
        out->time[out->n] = sum_t / (double)block;
        out->value[out->n++] = logarithm ? exp(sum_v / (double)block) : sum_v / (double)block;
        sum_t = sum_v = 0.0;
        in_block = 0;
    }
    out->resolution = df_log_digit(source, quantity, index);
    return DF_OK;
}

void df_series_free(df_series *s) {
    free(s->time);
    free(s->value);
    memset(s, 0, sizeof *s);
}

double df_series_at(const df_series *s, double time) {
    return df_interpolate(s->time, s->value, s->n, time);
}

/* ---- findings ------------------------------------------------------------------------------------------------- */

void df_fit_begin(df_fit *fit, df_test test, const df_log *const *logs, size_t n) {
    memset(fit, 0, sizeof *fit);
    fit->test = test;
    fit->logs = n;
    for (size_t i = 0; i < n; i++)
        fit->log[i] = logs[i];
}

void df_fit_settle(df_fit *fit, const df_least *p, double noise_scale, double most, const char *unit) {
    fit->points = p->data;
    fit->unknowns = p->parameters;
    fit->residual = p->noise * noise_scale;
    fit->residual_unit = unit;
    fit->correlation = p->correlation;
    fit->described = p->noise <= most;
    if (!fit->described)
        df_fit_remark(
            fit,
            "the residuals are larger than %.3g %s: the log is not what the test's model describes, and its "
            "constants are not used",
            most * noise_scale, unit);
    if (p->correlation > 0.5)
        df_fit_remark(
            fit,
            "neighbouring residuals are alike (correlation %.2f): the model misses a slow change; the bands "
            "are widened for it, and may still be too narrow",
            p->correlation);
}

void df_fit_remark(df_fit *fit, const char *format, ...) {
    va_list arguments;
    if (fit->remarks == DF_MAX_FIT_REMARKS)
        return;
    va_start(arguments, format);
    vsnprintf(fit->remark[fit->remarks++], sizeof fit->remark[0], format, arguments);
    va_end(arguments);
}

/* si = number * factor + offset. */
static void scale_of(double *factor, double *offset, const df_finding *f) {
    char text[48];
    double one = 1.0;
    *offset = 0.0;
    bool celsius = f->dimension == DF_DIM_TEMPERATURE;
    snprintf(text, sizeof text, "0 %s", f->unit);
    bool sound = df_quantity_parse(NULL, offset, text, f->dimension, NULL) == DF_OK;
    snprintf(text, sizeof text, "1 %s", f->unit);
    sound = df_quantity_parse(NULL, &one, text, f->dimension, NULL) == DF_OK && sound;
    *factor = !sound || celsius ? 1.0 : one - *offset;
}

/* Place of the last digit shown: a tenth of the band, or four digits where there is none. */
static double last_place(double number, double band) {
    double last = band > 0.0 && isfinite(band) ? 0.1 * band : 1e-4 * fabs(number);
    return last > 0.0 ? pow(10.0, floor(log10(last) + 1e-9)) : 1.0;
}

static void show(char out[48], double number, double last, const char *unit) {
    double size = fabs(number), rounded = round(number / last) * last;
    int decimals = last < 1.0 ? (int)lround(-log10(last)) : 0;
    int digits = size > last ? (int)floor(log10(size) + 1e-9) - (int)lround(log10(last)) : 0;
    if (size >= 1e6 || decimals > 9)
        snprintf(out, 48, "%.*e %s", digits < 15 ? digits : 15, rounded, unit);
    else
        snprintf(out, 48, "%.*f %s", decimals, rounded, unit);
    size_t length = strlen(out);
    while (length > 0 && out[length - 1] == ' ')
        out[--length] = '\0';
}

void df_finding_text(char value[48], char band[48], char before[48], const df_finding *f) {
    double factor, offset;
    scale_of(&factor, &offset, f);
    const char *band_unit = f->dimension == DF_DIM_TEMPERATURE ? "K" : f->unit;
    double number = (f->value - offset) / factor, width = f->band / factor;
    show(value, number, last_place(number, width), f->unit);
    if (isfinite(f->band))
        show(band, width, last_place(width, width), band_unit);
    else
        snprintf(band, 48, "unknown");
    before[0] = '\0';
    if (!isnan(f->before))
        snprintf(before, 48, "%.6g%s%s", (f->before - offset) / factor, f->unit[0] != '\0' ? " " : "", f->unit);
}

double df_fit_find(df_fit *fit, const char *field, df_dimension dimension, const char *unit, double value,
                   double band, double before, bool written) {
    if (fit->findings == DF_MAX_FINDINGS)
        return value;
    df_finding *f = &fit->finding[fit->findings++];
    char text[48], rest[2][48];
    memset(f, 0, sizeof *f);
    snprintf(f->field, sizeof f->field, "%s", field);
    f->dimension = dimension;
    f->unit = unit;
    f->value = value;
    f->band = band;
    f->before = before;
    f->at = NAN;
    f->written = f->quoted = written;
    df_finding_text(text, rest[0], rest[1], f);
    double rounded;
    if (df_quantity_parse(NULL, &rounded, text, dimension, NULL) == DF_OK)
        f->value = rounded;
    return f->value;
}

void df_fit_join(df_fit *fit, const df_least *p, size_t n, const size_t *finding, double gradient[][DF_LEAST_MOST]) {
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < n; k++) {
            double sum = 0.0;
            for (size_t a = 0; a < p->parameters; a++)
                for (size_t b = 0; b < p->parameters; b++)
                    if (gradient[i][a] != 0.0 && gradient[k][b] != 0.0)
                        sum += gradient[i][a] * p->covariance[a][b] * gradient[k][b];
            fit->joint[finding[i]][finding[k]] = sum;
        }
}

df_status df_fit_history(df_context *ctx, df_dryer_notes *notes, const df_fit *fit, const char *date) {
    df_status status = DF_OK;
    for (size_t i = 0; i < fit->findings && status == DF_OK; i++) {
        const df_finding *f = &fit->finding[i];
        df_history_entry e;
        if (!f->quoted || !isfinite(f->band))
            continue;
        memset(&e, 0, sizeof e);
        snprintf(e.date, sizeof e.date, "%.10s", date);
        snprintf(e.field, sizeof e.field, "%s", f->field);
        df_finding_text(e.value, e.band, e.before, f);
        size_t used = 0;
        for (size_t k = 0; k < fit->logs; k++) {
            const char *name = df_log_name(fit->log[k]), *slash = strrchr(name, '/');
            int n = snprintf(e.log + used, sizeof e.log - used, "%s%.60s", k > 0 ? ", " : "",
                             slash != NULL ? slash + 1 : name);
            used += n > 0 && used + (size_t)n < sizeof e.log ? (size_t)n : 0;
            e.log[used] = '\0'; /* a name that does not fit is left out whole */
            e.bytes += (long)df_log_bytes(fit->log[k]);
            e.rows += (long)df_log_rows(fit->log[k]);
        }
        status = df_dryer_notes_add(ctx, notes, &e);
    }
    return status;
}
