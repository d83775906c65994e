/* dryfront: the program. Reads the command line, runs one command, writes its answer whole or not at all. */
#include "command.h"
#include "serve/file.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The user's own substances, solutes, containers: every file that the option names. */
static df_status extend(df_session *s, const char *option) {
    df_status status = DF_OK;
    for (size_t i = 0; status == DF_OK && df_option_value(s, option, i) != NULL; i++) {
        const char *path = df_option_value(s, option, i);
        char *buffer, name[DF_FILE_NAME + 1];
        size_t length;
        status = df_file_read(s->ctx, &buffer, &length, path, NULL);
        if (status == DF_OK) {
            df_file_name(name, path);
            status = strcmp(option, "--substances") == 0
                         ? df_substances_extend(s->ctx, s->substances, buffer, length, name)
                     : strcmp(option, "--solutes") == 0
                         ? df_solutes_extend(s->ctx, s->substances, buffer, length, name)
                         : df_containers_extend(s->ctx, s->containers, buffer, length, name);
        }
        free(buffer);
    }
    return status;
}

static df_status load(df_session *s) {
    df_status status = df_substances_create(s->ctx, &s->substances);
    if (status == DF_OK)
        status = df_containers_create(s->ctx, &s->containers);
    if (status == DF_OK)
        status = extend(s, "--substances");
    if (status == DF_OK)
        status = extend(s, "--solutes");
    if (status == DF_OK)
        status = extend(s, "--containers");
    if (status == DF_OK)
        status = df_pairs_create(s->ctx, &s->pairs);
    return status;
}

static df_status answer(df_session *s, int count, char *const *words) {
    df_status status = df_command_line_read(s, count, words);
    if (status != DF_OK)
        return status;
    if (df_option_value(s, "--version", 0) != NULL) {
        df_text_puts(&s->out, "dryfront " DRYFRONT_VERSION "\n");
        return DF_OK;
    }
    if (df_option_value(s, "--help", 0) != NULL) {
        if (s->command != NULL)
            df_help_command(&s->out, s->command);
        else
            df_help_overview(&s->out);
        return DF_OK;
    }
    if (s->command == NULL)
        return df_fail(
            s->ctx, DF_E_INPUT,
            "say what to do: stand, run, risk, sweep, routes, compare, ceilings, phases, vapour, strip, tune, "
            "substances or serve; 'dryfront help' explains them");
    if (s->operands < s->command->least)
        return df_fail(s->ctx, DF_E_INPUT, "%s needs %s: dryfront %s %s", s->command->name, s->command->operand,
                       s->command->name, s->command->operands);
    if (s->command->run == df_run_help)
        return df_run_help(s);
    status = load(s);
    if (status == DF_OK)
        status = s->command->run(s);
    if (status >= 0 && s->out.failed)
        status = df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    return status;
}

/* False where not every byte went out: closed pipe, full disk. */
static bool write_out(const df_text *out) {
    bool sound = fwrite(df_text_string(out), 1, out->length, stdout) == out->length;
    sound = fflush(stdout) == 0 && sound;
    return fclose(stdout) == 0 && sound; /* a network disk may say so only now */
}

int main(int count, char **words) {
    df_session s;
    memset(&s, 0, sizeof s);
    signal(SIGPIPE, SIG_IGN); /* a reader that went away is reported, not died of */
    if (df_context_create(&s.ctx) != DF_OK) {
        fputs("dryfront: out of memory\n", stderr);
        return df_status_exit(DF_E_MEMORY);
    }
    df_status status = answer(&s, count, words);
    int exit_status = status < 0 ? df_status_exit(status) : s.no ? 1 : 0;
    if (status < 0) {
        const char *sentence = df_context_message(s.ctx);
        fprintf(stderr, "dryfront: %s\n", sentence[0] != '\0' ? sentence : df_status_name(status));
    } else if (!write_out(&s.out)) {
        fputs("dryfront: the answer could not be written: the output is closed or full\n", stderr);
        exit_status = 3;
    }
    df_text_free(&s.out);
    df_pairs_free(s.pairs);
    df_containers_free(s.containers);
    df_substances_free(s.substances);
    df_context_destroy(s.ctx);
    return exit_status;
}
