/* Reading the command line. */
#include "command.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MOST_NAMES 24

/* The option of this command line that is spelled word[length]; NULL where there is none. */
static const df_option *find_option(const df_command *command, const char *word, size_t length) {
    if (length == 2 && strncmp(word, "-h", 2) == 0)
        return find_option(command, "--help", 6);
    for (size_t i = 0; df_global_option_at(i) != NULL; i++) {
        const df_option *o = df_global_option_at(i);
        if (strlen(o->name) == length && strncmp(o->name, word, length) == 0)
            return o;
    }
    for (size_t i = 0; command != NULL && i < command->option_count; i++) {
        const df_option *o = &command->options[i];
        if (strlen(o->name) == length && strncmp(o->name, word, length) == 0)
            return o;
    }
    return NULL;
}

static df_status unknown_option(df_session *s, const char *word, size_t length) {
    const char *names[MOST_NAMES];
    char near[200], plain[64];
    size_t n = 0;
    for (size_t i = 0; df_global_option_at(i) != NULL && n < MOST_NAMES; i++)
        names[n++] = df_global_option_at(i)->name;
    for (size_t i = 0; s->command != NULL && i < s->command->option_count && n < MOST_NAMES; i++)
        names[n++] = s->command->options[i].name;
    snprintf(plain, sizeof plain, "%.*s", (int)(length < 63 ? length : 63), word);
    df_suggest(near, sizeof near, plain, names, n);
    const char *name = s->command != NULL ? s->command->name : "dryfront";
    if (near[0] != '\0')
        return df_fail(s->ctx, DF_E_UNKNOWN_NAME, "%s has no option '%s'; did you mean %s?", name, plain, near);
    return df_fail(s->ctx, DF_E_UNKNOWN_NAME, "%s has no option '%s'; 'dryfront help%s%s' lists them", name, plain,
                   s->command != NULL ? " " : "", s->command != NULL ? s->command->name : "");
}

df_status df_unknown_command(df_session *s, const char *word) {
    const char *names[MOST_NAMES];
    char near[200];
    size_t n = 0;
    for (; df_command_at(n) != NULL && n < MOST_NAMES; n++)
        names[n] = df_command_at(n)->name;
    df_suggest(near, sizeof near, word, names, n);
    return df_fail(s->ctx, DF_E_UNKNOWN_NAME, "there is no command '%.60s'%s%s%s", word,
                   near[0] ? "; did you mean " : "", near, near[0] ? "?" : "; 'dryfront help' lists them");
}

/* Keeps an option; *index moves past a value that stands in the next word. */
static df_status take_option(df_session *s, int *index, int count, char *const *words) {
    const char *word = words[*index], *equals = strchr(word, '=');
    size_t length = equals != NULL ? (size_t)(equals - word) : strlen(word);
    const df_option *option = find_option(s->command, word, length);
    if (option == NULL)
        return unknown_option(s, word, length);
    const char *value = "";
    if (option->argument == NULL) {
        if (equals != NULL)
            return df_fail(s->ctx, DF_E_INPUT, "%s takes no value", option->name);
    } else if (equals != NULL)
        value = equals + 1;
    else if (*index + 1 < count && strncmp(words[*index + 1], "--", 2) != 0)
        value = words[++*index];
    else
        return df_fail(s->ctx, DF_E_INPUT, "%s needs a value: %s %s", option->name, option->name, option->argument);
    for (size_t i = 0; i < s->given_count; i++)
        if (s->given[i].option == option) {
            if (option->argument == NULL)
                return DF_OK; /* a switch is on however often it is named */
            if (!option->repeats)
                return df_fail(s->ctx, DF_E_INPUT, "%s is given twice", option->name);
        }
    if (s->given_count == DF_MAX_VALUES)
        return df_fail(s->ctx, DF_E_INPUT, "more than %d options", DF_MAX_VALUES);
    s->given[s->given_count].option = option;
    s->given[s->given_count++].value = value;
    return DF_OK;
}

static bool looks_like_option(const char *word) {
    return word[0] == '-' && (word[1] == '-' || strcmp(word, "-h") == 0);
}

df_status df_command_line_read(df_session *s, int count, char *const *words) {
    bool only_operands = false;
    for (int i = 1; i < count; i++) {
        if (!only_operands && strcmp(words[i], "--") == 0) {
            only_operands = true;
            continue;
        }
        if (!only_operands && looks_like_option(words[i])) {
            df_status status = take_option(s, &i, count, words);
            if (status != DF_OK)
                return status;
        } else if (s->command == NULL) {
            s->command = df_command_find(words[i]);
            if (s->command == NULL)
                return df_unknown_command(s, words[i]);
        } else if (s->operands == s->command->most)
            return df_fail(s->ctx, DF_E_INPUT,
                           "%s takes %s, and '%.60s' is one word too many; quote what belongs "
                           "together",
                           s->command->name, s->command->operand, words[i]);
        else
            s->operand[s->operands++] = words[i];
    }
    s->json = df_option_value(s, "--json", 0) != NULL;
    return DF_OK;
}

const char *df_option_value(const df_session *s, const char *name, size_t index) {
    for (size_t i = 0; i < s->given_count; i++)
        if (strcmp(s->given[i].option->name, name) == 0 && index-- == 0)
            return s->given[i].value;
    return NULL;
}

df_status df_option_count(const df_session *s, long *value, const char *name, long lowest, long highest) {
    const char *word = df_option_value(s, name, 0), *rest;
    double number;
    if (word == NULL)
        return DF_OK;
    if (!df_number_scan(&number, &rest, word) || *rest != '\0' || number != floor(number) ||
        number < (double)lowest || number > (double)highest)
        return df_fail(s->ctx, DF_E_INPUT, "%s: '%.40s' should be a whole number from %ld to %ld", name, word, lowest,
                       highest);
    *value = (long)number;
    return DF_OK;
}
