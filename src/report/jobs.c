/* Jobs and dryers to be taken over, as texts within JSON. */
#include "report/parts.h"

#include <stdio.h>
#include <string.h>

#define NOTE_WIDTH 100 /* bytes of a line of comment */

json_t *df_part_job_json(const df_job *job, const char *original, const df_text *note) {
    df_text text = {0};
    const char *lines = note != NULL ? df_text_string(note) : NULL;
    json_t *out =
        df_job_write(NULL, &text, job, original, lines) == DF_OK ? df_json_text(df_text_string(&text)) : json_null();
    df_text_free(&text);
    return out;
}

void df_part_dryer_json(json_t *dryers, const df_job *job, const df_dryer *dryer) {
    df_text text = {0};
    if (df_dryer_write(NULL, &text, dryer, NULL, NULL) == DF_OK)
        df_json_put(dryers, job->dryer, df_json_text(df_text_string(&text)));
    df_text_free(&text);
}

void df_part_note(df_text *note, const char *format, ...) {
    char sentence[1200];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    for (const char *at = sentence; *at != '\0';) {
        size_t length = strlen(at), end = length;
        if (length > NOTE_WIDTH) {
            for (end = NOTE_WIDTH; end > 0 && at[end] != ' ';)
                end--;
            end = end > 0 ? end : length;
        }
        df_text_puts(note, at == sentence ? "" : "  ");
        df_text_append(note, at, end);
        df_text_puts(note, "\n");
        at += end + (at[end] == ' ');
    }
}
