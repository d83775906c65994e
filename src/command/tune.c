/* dryfront tune: a dryer's constants from its logs. */
#include "command.h"
#include "serve/file.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define MOST_LOGS (DF_TESTS * DF_MAX_TEST_LOGS)

static const char *const options[DF_TESTS] = {"--isolation", "--pump-down", "--trap", "--ice-test", "--product"};

typedef struct task {
    df_log *log;
    df_test test;
} task;

/* Everything that one tuning holds. */
typedef struct bench {
    df_dryer dryer;
    df_dryer_notes notes;
    df_job job;
    char *original; /* text of the dryer's file; NULL: built in */
    size_t original_length;
    task task[MOST_LOGS];
    size_t tasks;
    df_fit fit[DF_TESTS];
    size_t fits;
    df_cake cake;
    bool cake_known;
} bench;

static bool is_builtin(const char *name) {
    for (size_t i = 0; df_dryer_builtin_name(i) != NULL; i++)
        if (df_name_equal(df_dryer_builtin_name(i), name))
            return true;
    return false;
}

static df_status open_dryer(df_session *s, bench *b) {
    const char *path = s->operand[0];
    char shown[DF_FILE_NAME + 1];
    if (is_builtin(path))
        return df_dryer_builtin(s->ctx, &b->dryer, path);
    df_status status = df_file_read(s->ctx, &b->original, &b->original_length, path, NULL);
    df_file_name(shown, path);
    if (status == DF_OK)
        status = df_dryer_parse(s->ctx, &b->dryer, s->containers, b->original, b->original_length, shown);
    if (status == DF_OK)
        status = df_dryer_notes_parse(s->ctx, &b->notes, b->original, b->original_length, shown);
    return status;
}

static df_status open_log(df_session *s, bench *b, const char *path, const char *where) {
    char *buffer = NULL, shown[DF_FILE_NAME + 1];
    size_t length = 0;
    if (b->tasks == MOST_LOGS)
        return df_fail(s->ctx, DF_E_INPUT, "more than %d logs", (int)MOST_LOGS);
    df_status status = df_file_read_within(s->ctx, &buffer, &length, path, where, DF_LOG_LARGEST);
    if (status == DF_OK)
        status =
            df_log_parse(s->ctx, &b->task[b->tasks].log, buffer, length, df_file_name(shown, path), &b->notes.log);
    free(buffer);
    b->tasks += status == DF_OK;
    return status;
}

/* The logs in the order of the command line, so that a note finds the log before it; then those without an option. */
static df_status open_logs(df_session *s, bench *b) {
    df_status status = DF_OK;
    for (size_t i = 0; i < s->given_count && status == DF_OK; i++) {
        const char *name = s->given[i].option->name, *value = s->given[i].value;
        for (int k = 0; k < DF_TESTS && status == DF_OK; k++)
            if (strcmp(name, options[k]) == 0) {
                status = open_log(s, b, value, name);
                if (status == DF_OK)
                    b->task[b->tasks - 1].test = (df_test)k;
            }
        if (status == DF_OK && strcmp(name, "--note") == 0)
            status = b->tasks > 0 ? df_log_add_note(s->ctx, b->task[b->tasks - 1].log, value, name)
                                  : df_fail(s->ctx, DF_E_INPUT,
                                            "--note: it belongs to the log named before it, by its "
                                            "option, and there is none");
    }
    for (size_t i = 1; i < s->operands && status == DF_OK; i++) {
        status = open_log(s, b, s->operand[i], NULL);
        if (status == DF_OK)
            status = df_test_recognise(s->ctx, &b->task[b->tasks - 1].test, b->task[b->tasks - 1].log);
    }
    if (status == DF_OK && b->tasks == 0)
        status = df_fail(s->ctx, DF_E_INPUT,
                         "tune needs a log: dryfront tune %s --isolation LOG.csv; 'dryfront help tune' "
                         "lists the tests",
                         s->operand[0]);
    return status;
}

static df_status open_job(df_session *s, bench *b, bool wanted) {
    const char *path = df_option_value(s, "--job", 0);
    char *buffer = NULL, shown[DF_FILE_NAME + 1];
    size_t length = 0;
    if (!wanted)
        return path == NULL ? DF_OK
                            : df_fail(s->ctx, DF_E_INPUT, "--job belongs to a log of its run: add --product LOG.csv");
    if (path == NULL)
        return df_fail(s->ctx, DF_E_INPUT, "--product needs the job that was run: add --job JOB.yaml");
    df_status status = df_file_read(s->ctx, &buffer, &length, path, "--job");
    if (status == DF_OK)
        status =
            df_job_parse(s->ctx, &b->job, s->substances, s->containers, buffer, length, df_file_name(shown, path));
    free(buffer);
    return status;
}

static const df_fit *found(const bench *b, df_test test) {
    for (size_t i = 0; i < b->fits; i++)
        if (b->fit[i].test == test)
            return &b->fit[i];
    return NULL;
}

/* All logs of one test together; a test that does not describe them leaves the dryer as it was. */
static df_status learn(df_session *s, bench *b, df_test test) {
    const df_log *logs[DF_MAX_TEST_LOGS];
    const df_substance *water = NULL;
    size_t n = 0;
    for (size_t i = 0; i < b->tasks; i++) {
        if (b->task[i].test != test)
            continue;
        if (n == (test == DF_TEST_PRODUCT ? 1 : DF_MAX_TEST_LOGS))
            return df_fail(s->ctx, DF_E_INPUT, "%s: more logs of this test than are taken together", options[test]);
        logs[n++] = b->task[i].log;
    }
    if (n == 0)
        return test == DF_TEST_PRODUCT ? open_job(s, b, false) : DF_OK;
    df_dryer before = b->dryer;
    df_fit *fit = &b->fit[b->fits];
    df_status status = DF_OK;
    switch (test) {
    case DF_TEST_ISOLATION:
        status = df_tune_isolation(s->ctx, fit, &b->dryer, logs, n);
        break;
    case DF_TEST_PUMP_DOWN:
        status = df_tune_pump_down(s->ctx, fit, &b->dryer, logs, n, found(b, DF_TEST_ISOLATION));
        break;
    case DF_TEST_TRAP:
        status = df_tune_trap(s->ctx, fit, &b->dryer, logs, n);
        break;
    case DF_TEST_ICE:
        status = df_substances_find(s->ctx, &water, s->substances, "water", NULL);
        if (status == DF_OK)
            status = df_tune_ice(s->ctx, fit, &b->dryer, water, logs, n);
        break;
    case DF_TEST_PRODUCT:
    case DF_TESTS:
        status = open_job(s, b, true);
        if (status == DF_OK)
            status = df_tune_product(s->ctx, fit, &b->cake, &b->dryer, &b->job, s->pairs, logs[0], b->fit, b->fits);
        b->cake_known = status == DF_OK && fit->described;
        break;
    }
    if (status != DF_OK)
        return status;
    b->fits++;
    if (!fit->described) {
        b->dryer = before;
        s->no = true;
    }
    return DF_OK;
}

/* Today's, where none is given. */
static df_status read_date(df_session *s, char date[11]) {
    const char *given = df_option_value(s, "--date", 0);
    time_t now = time(NULL);
    struct tm day;
    if (given != NULL && !df_is_date(given))
        return df_fail(s->ctx, DF_E_INPUT, "--date: '%.40s' is no date; write YYYY-MM-DD", given);
    if (given != NULL)
        snprintf(date, 11, "%.10s", given);
    else if (localtime_r(&now, &day) == NULL || strftime(date, 11, "%Y-%m-%d", &day) == 0)
        return df_fail(s->ctx, DF_E_INPUT, "the machine does not tell the date: give --date YYYY-MM-DD");
    return DF_OK;
}

/* The new text of the dryer's file, checked by reading it again; empty where nothing is to be written. */
static df_status make_text(df_session *s, bench *b, df_text *text, const char *date) {
    bool any = false;
    df_status status = DF_OK;
    for (size_t i = 0; i < b->fits && status == DF_OK; i++)
        if (b->fit[i].described) {
            any = true;
            status = df_fit_history(s->ctx, &b->notes, &b->fit[i], date);
        }
    if (status != DF_OK || !any)
        return status;
    df_dryer again;
    status = df_dryer_write(s->ctx, text, &b->dryer, &b->notes, b->original);
    if (status == DF_OK)
        status = df_dryer_parse(s->ctx, &again, s->containers, text->data, text->length, "the new file");
    return status;
}

static df_status check_output(df_session *s) {
    const char *output = df_option_value(s, "--output", 0);
    bool trial = df_option_value(s, "--try", 0) != NULL;
    if (trial && output != NULL)
        return df_fail(s->ctx, DF_E_INPUT, "--try writes nothing, and --output says where to write: leave one out");
    if (output != NULL)
        return df_file_suffix(s->ctx, output, ".yaml", "--output");
    if (!trial && is_builtin(s->operand[0]))
        return df_fail(s->ctx, DF_E_INPUT,
                       "'%s' is built in and cannot be written: say with --output FILE.yaml where the "
                       "new one goes, or --try",
                       s->operand[0]);
    return DF_OK;
}

df_status df_run_tune(df_session *s) {
    const char *output = df_option_value(s, "--output", 0);
    char date[11] = "", *kept = NULL;
    df_text text = {0};
    bench *b = calloc(1, sizeof *b);
    if (b == NULL)
        return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    df_status status = check_output(s);
    if (status == DF_OK)
        status = read_date(s, date);
    if (status == DF_OK)
        status = open_dryer(s, b);
    if (status == DF_OK)
        status = open_logs(s, b);
    for (int k = 0; k < DF_TESTS && status == DF_OK; k++)
        status = learn(s, b, (df_test)k);
    if (status == DF_OK)
        status = make_text(s, b, &text, date);
    bool writes = text.length > 0 && df_option_value(s, "--try", 0) == NULL;
    if (status == DF_OK && writes && output == NULL) {
        size_t size = strlen(s->operand[0]) + 5;
        kept = malloc(size);
        if (kept == NULL)
            status = df_fail(s->ctx, DF_E_MEMORY, "out of memory");
        else
            snprintf(kept, size, "%s.bak", s->operand[0]);
    }
    if (status == DF_OK) {
        const df_tuning tuning = {b->dryer.name,
                                  date,
                                  b->fit,
                                  b->fits,
                                  b->cake_known ? &b->cake : NULL,
                                  !writes          ? NULL
                                  : output != NULL ? output
                                                   : s->operand[0],
                                  kept};
        status =
            s->json ? df_report_tune_json(s->ctx, &s->out, &tuning) : df_report_tune_text(s->ctx, &s->out, &tuning);
    }
    /* All is made before anything is written; the copy first. */
    if (status == DF_OK && kept != NULL)
        status = df_file_write(s->ctx, kept, b->original, b->original_length, NULL);
    if (status == DF_OK && writes)
        status = df_file_write(s->ctx, output != NULL ? output : s->operand[0], text.data, text.length,
                               output != NULL ? "--output" : NULL);
    for (size_t i = 0; i < b->tasks; i++)
        df_log_free(b->task[i].log);
    df_dryer_notes_free(&b->notes);
    df_text_free(&text);
    free(b->original);
    free(kept);
    free(b);
    return status;
}
