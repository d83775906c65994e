/* Reading and writing the user's files whole. */
#include "file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

const char *df_file_name(char *out, const char *path) {
    size_t length = strlen(path);
    if (length <= DF_FILE_NAME) {
        memcpy(out, path, length + 1);
        return out;
    }
    const char *tail = path + length - (DF_FILE_NAME - 3);
    while (((unsigned char)*tail & 0xc0) == 0x80) /* not in the middle of a letter */
        tail++;
    snprintf(out, DF_FILE_NAME + 1, "...%s", tail);
    return out;
}

/* Why the system refused, in words of our own: the same on every machine. */
static const char *reason(int error) {
    switch (error) {
    case ENOENT:
        return "there is no such file";
    case EACCES:
    case EPERM:
        return "it may not be read with your permissions";
    case ENOTDIR:
        return "a part of its path is no folder";
    case ELOOP:
        return "its symbolic links go in a circle";
    case ENAMETOOLONG:
        return "its name is too long";
    case EMFILE:
    case ENFILE:
        return "too many files are open";
    case EIO:
        return "the disk reports an error";
    default:
        return "the system cannot read it";
    }
}

static df_status check_kind(df_context *ctx, const struct stat *about, const char *before, const char *name,
                            size_t largest) {
    if (S_ISDIR(about->st_mode))
        return df_fail(ctx, DF_E_IO, "%s%s: this is a folder, not a file", before, name);
    if (!S_ISREG(about->st_mode))
        return df_fail(ctx, DF_E_IO, "%s%s: this is a device, pipe or socket, not a file", before, name);
    if (about->st_size > (off_t)largest)
        return df_fail(ctx, DF_E_INPUT, "%s%s: the file is larger than %zu MiB and is not read", before, name,
                       largest >> 20);
    return DF_OK;
}

/* Reads to the end, whatever size was stated (a file may grow, and some state none). */
static df_status read_all(df_context *ctx, char *bytes, size_t *length, int file, const char *before,
                          const char *name, size_t largest) {
    *length = 0;
    for (;;) {
        ssize_t got = read(file, bytes + *length, largest + 1 - *length);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return df_fail(ctx, DF_E_IO, "%s%s: %s", before, name, reason(errno));
        if (got == 0)
            break;
        *length += (size_t)got;
        if (*length > largest)
            return df_fail(ctx, DF_E_INPUT, "%s%s: the file is larger than %zu MiB and is not read", before, name,
                           largest >> 20);
    }
    const char *nul = memchr(bytes, '\0', *length);
    if (nul == NULL)
        return DF_OK;
    size_t line = 1;
    for (const char *at = bytes; at < nul; at++)
        line += *at == '\n';
    return df_fail(ctx, DF_E_INPUT, "%s%s:%zu: the file holds a NUL byte; it is no text in UTF-8", before, name,
                   line);
}

df_status df_file_read(df_context *ctx, char **buffer, size_t *length, const char *path, const char *where) {
    return df_file_read_within(ctx, buffer, length, path, where, DF_FILE_LARGEST);
}

df_status df_file_read_within(df_context *ctx, char **buffer, size_t *length, const char *path, const char *where,
                              size_t largest) {
    char before[256] = "", name[DF_FILE_NAME + 1];
    struct stat about;
    *buffer = NULL;
    *length = 0;
    if (where != NULL)
        snprintf(before, sizeof before, "%s: ", where);
    df_file_name(name, path);
    if (path[0] == '\0')
        return df_fail(ctx, DF_E_IO, "%sthe name of a file is wanted, but it is empty", before);
    /* Looked at before it is opened: opening alone can set a device going. */
    if (stat(path, &about) != 0)
        return df_fail(ctx, DF_E_IO, "%s%s: %s", before, name, reason(errno));
    df_status status = check_kind(ctx, &about, before, name, largest);
    if (status != DF_OK)
        return status;
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    if (file < 0)
        return df_fail(ctx, DF_E_IO, "%s%s: %s", before, name, reason(errno));
    char *bytes = NULL;
    if (fstat(file, &about) != 0)
        status = df_fail(ctx, DF_E_IO, "%s%s: %s", before, name, reason(errno));
    else
        status = check_kind(ctx, &about, before, name, largest);
    if (status == DF_OK && (bytes = malloc(largest + 2)) == NULL)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status == DF_OK)
        status = read_all(ctx, bytes, length, file, before, name, largest);
    close(file);
    if (status != DF_OK) {
        free(bytes);
        *length = 0;
        return status;
    }
    bytes[*length] = '\0';
    *buffer = bytes;
    return DF_OK;
}

/* The same for writing. */
static const char *write_reason(int error) {
    switch (error) {
    case ENOENT:
        return "there is no such folder";
    case EACCES:
    case EPERM:
        return "it may not be written with your permissions";
    case EROFS:
        return "the disk is read-only";
    case ENOSPC:
    case EDQUOT:
        return "the disk is full";
    case EFBIG:
        return "it would be larger than a file may be";
    case ENOTDIR:
    case ELOOP:
    case ENAMETOOLONG:
    case EMFILE:
    case ENFILE:
    case EIO:
        return reason(error);
    default:
        return "the system cannot write it";
    }
}

static bool write_all(int file, const char *bytes, size_t length) {
    while (length > 0) {
        ssize_t done = write(file, bytes, length);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return false;
        bytes += done;
        length -= (size_t)done;
    }
    return true;
}

df_status df_file_write(df_context *ctx, const char *path, const char *bytes, size_t length, const char *where) {
    char before[256] = "", name[DF_FILE_NAME + 1];
    struct stat about;
    mode_t rights = 0666;
    if (where != NULL)
        snprintf(before, sizeof before, "%s: ", where);
    df_file_name(name, path);
    if (path[0] == '\0')
        return df_fail(ctx, DF_E_IO, "%sthe name of a file is wanted, but it is empty", before);
    if (stat(path, &about) == 0) {
        if (S_ISDIR(about.st_mode))
            return df_fail(ctx, DF_E_IO, "%s%s: this is a folder, not a file", before, name);
        if (!S_ISREG(about.st_mode))
            return df_fail(ctx, DF_E_IO, "%s%s: this is a device, pipe or socket, and is left alone", before, name);
        if (access(path, W_OK) != 0)
            return df_fail(ctx, DF_E_IO, "%s%s: %s", before, name, write_reason(errno));
        rights = about.st_mode & 0777;
    } else {
        mode_t mask = umask(0);
        umask(mask);
        rights &= ~mask;
    }
    /* A symbolic link stays one: what it points to is replaced. */
    char *target = realpath(path, NULL);
    const char *real = target != NULL ? target : path;
    size_t size = strlen(real) + 8;
    char *beside = malloc(size);
    if (beside == NULL) {
        free(target);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    snprintf(beside, size, "%s.XXXXXX", real);
    int file = mkstemp(beside), error = 0;
    if (file < 0)
        error = errno;
    else {
        if (!write_all(file, bytes, length) || fchmod(file, rights) != 0 || fsync(file) != 0)
            error = errno != 0 ? errno : EIO;
        if (close(file) != 0 && error == 0)
            error = errno;
        if (error == 0 && rename(beside, real) != 0)
            error = errno;
        if (error != 0)
            unlink(beside);
    }
    free(beside);
    free(target);
    return error == 0 ? DF_OK : df_fail(ctx, DF_E_IO, "%s%s: %s", before, name, write_reason(error));
}

df_status df_file_suffix(df_context *ctx, const char *path, const char *suffix, const char *where) {
    size_t length = strlen(path), end = strlen(suffix);
    if (length > end && strcmp(path + length - end, suffix) == 0)
        return DF_OK;
    return df_fail(ctx, DF_E_INPUT, "%s: '%.60s' does not end in %s", where, path, suffix);
}

bool df_file_exists(const char *path) {
    struct stat about;
    return path[0] != '\0' && stat(path, &about) == 0;
}

char *df_file_beside(const char *from, const char *name) {
    const char *slash = strrchr(from, '/');
    if (name[0] == '/' || slash == NULL)
        return df_strdup(name);
    size_t folder = (size_t)(slash - from) + 1;
    char *path = malloc(folder + strlen(name) + 1);
    if (path != NULL) {
        memcpy(path, from, folder);
        strcpy(path + folder, name);
    }
    return path;
}
