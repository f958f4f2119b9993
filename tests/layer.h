/* What the layers between a program and its files have in common: the folder that is looked at, what an
 * open file is called, and every way of opening one.
 *
 * A layer sets the folder, and says what becomes of an `opened` file.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

/* Its absolute name, and the length of that: 0 while nothing is looked at. */
static char folder[PATH_MAX];
static size_t folder_length;

#define REAL(name)                                                  \
    static __typeof__(&name) real;                                  \
    if (real == NULL) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

/* What of an absolute name is below the folder, "" for the folder itself; NULL if it is not. */
static const char *inside(const char *path) {
    if (folder_length == 0 || strncmp(path, folder, folder_length) != 0) return NULL;
    if (path[folder_length] == '\0') return "";
    return path[folder_length] == '/' ? path + folder_length + 1 : NULL;
}

/* The absolute name of an open file. */
static int name_of(int file, char *name) {
    char link[64];
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t length = readlink(link, name, PATH_MAX - 1);
    if (length < 0) return -1;
    name[length] = '\0';
    return 0;
}

static int opened(int place, const char *path, int flags, mode_t mode);

static mode_t mode_of(int flags, va_list more) {
    return flags & (O_CREAT | __O_TMPFILE) ? va_arg(more, mode_t) : 0;
}

#define OPEN_AT(name)                                               \
    int name(int place, const char *path, int flags, ...) {         \
        va_list more;                                               \
        va_start(more, flags);                                      \
        mode_t mode = mode_of(flags, more);                         \
        va_end(more);                                               \
        return opened(place, path, flags, mode);                    \
    }
OPEN_AT(openat)
OPEN_AT(openat64)

#define OPEN(name)                                                  \
    int name(const char *path, int flags, ...) {                    \
        va_list more;                                               \
        va_start(more, flags);                                      \
        mode_t mode = mode_of(flags, more);                         \
        va_end(more);                                               \
        return opened(AT_FDCWD, path, flags, mode);                 \
    }
OPEN(open)
OPEN(open64)

int creat(const char *path, mode_t mode) { return open(path, O_CREAT | O_WRONLY | O_TRUNC, mode); }
