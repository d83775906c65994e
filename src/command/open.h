/* Opening the user's dryers and jobs. */
#ifndef DRYFRONT_COMMAND_OPEN_H
#define DRYFRONT_COMMAND_OPEN_H

#include "command.h"

/* A built-in dryer, or a file whose path is seen from the folder of `from` (NULL: from here). `where` (may be NULL)
 * stands before the sentence. DF_E_UNKNOWN_NAME with the nearest names; errors as df_file_read and df_dryer_parse. */
DF_NODISCARD df_status df_open_dryer(df_session *session, df_dryer *dryer, const char *name, const char *from,
                                     const char *where);
/* A job's file and the dryer it names. Errors as df_file_read, df_job_parse and df_open_dryer. */
DF_NODISCARD df_status df_open_job(df_session *session, df_job *job, df_dryer *dryer, const char *path);
/* The same, with the text of the job's file in *text: free it in any case. */
DF_NODISCARD df_status df_open_job_text(df_session *session, df_job *job, df_dryer *dryer, char **text,
                                        const char *path);
/* What a job in the file `job` has to call the file `path` that is named on the command line; new string, NULL where that cannot be
 * said. */
char *df_open_seen_from(const df_session *session, const char *job, const char *path);

/* As df_file_write, into the session's own files where it has them. */
DF_NODISCARD df_status df_write_out(df_session *session, const char *path, const char *bytes, size_t length,
                                    const char *where);

#endif
