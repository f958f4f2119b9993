/* A layer between a program and its files that makes calls fail.
 *
 * Loaded by LD_PRELOAD. Calls on names and open files below FAULTS_FOLDER are counted from 1 on; the
 * call FAULTS_AT fails, and how is said by FAULTS_HOW:
 *
 *   once   any counted call, this one alone, with an input/output error
 *   on     the same, and each after it
 *   full   calls that need room, this one and each after it: no space left
 *   sync   a sync, this one alone, with an input/output error
 *
 * Without FAULTS_AT none fails. FAULTS_FROM names a file outside of the folder: while it is not there
 * nothing is counted. FAULTS_COUNT names a file to which the count goes when the program ends.
 */
#include "../../../../tests/layer.h"

#include <errno.h>
#include <stdatomic.h>

/* What a call is: any may fail, those that need room, or syncs. */
enum kind { ANY, ROOM, SYNC };

static char from[PATH_MAX], count_name[PATH_MAX];
static long at = LONG_MAX;
static enum { ONCE, ON, FULL, SYNCS } how;
static atomic_long count;

__attribute__((constructor)) static void begin(void) {
    const char *folder_name = getenv("FAULTS_FOLDER"), *at_text = getenv("FAULTS_AT");
    const char *how_text = getenv("FAULTS_HOW"), *text;
    if (folder_name == NULL || how_text == NULL || realpath(folder_name, folder) == NULL) return;
    folder_length = strlen(folder);
    how = strcmp(how_text, "on") == 0     ? ON
          : strcmp(how_text, "full") == 0 ? FULL
          : strcmp(how_text, "sync") == 0 ? SYNCS
                                          : ONCE;
    if (at_text != NULL) at = atol(at_text);
    if ((text = getenv("FAULTS_FROM")) != NULL) snprintf(from, sizeof from, "%s", text);
    if ((text = getenv("FAULTS_COUNT")) != NULL) snprintf(count_name, sizeof count_name, "%s", text);
}

__attribute__((destructor)) static void end(void) {
    if (count_name[0] == '\0') return;
    FILE *out = fopen(count_name, "w");
    if (out == NULL) return;
    fprintf(out, "%ld\n", atomic_load(&count));
    fclose(out);
}

static int open_inside(int file) {
    char name[PATH_MAX];
    return folder_length > 0 && name_of(file, name) == 0 && inside(name) != NULL;
}

/* The same of a name that a program gives, as it stands or within an open folder. */
static int given_inside(int place, const char *path) {
    char above[PATH_MAX], whole[2 * PATH_MAX];
    if (folder_length == 0) return 0;
    if (path[0] == '/') return inside(path) != NULL;
    if (place != AT_FDCWD) return open_inside(place);
    if (getcwd(above, sizeof above) == NULL) return 0;
    snprintf(whole, sizeof whole, "%s/%s", above, path);
    return inside(whole) != NULL;
}

/* Counts a call on the folder; whether it fails, with `errno` set. */
static int fails(enum kind kind) {
    struct stat about;
    int before = errno, wanted = how == FULL ? kind == ROOM : how == SYNCS ? kind == SYNC : 1;
    if (!wanted || (from[0] != '\0' && stat(from, &about) != 0)) {
        errno = before;
        return 0;
    }
    long this = atomic_fetch_add(&count, 1) + 1;
    if (this == at || (this > at && (how == ON || how == FULL))) {
        errno = how == FULL ? ENOSPC : EIO;
        return 1;
    }
    errno = before;
    return 0;
}

static int opened(int place, const char *path, int flags, mode_t mode) {
    REAL(openat);
    if (given_inside(place, path) && fails(flags & O_CREAT ? ROOM : ANY)) return -1;
    return real(place, path, flags, mode);
}

#define ON_FILE(result, name, kind, parameters, arguments)          \
    result name parameters {                                        \
        REAL(name);                                                 \
        if (open_inside(file) && fails(kind)) return -1;            \
        return real arguments;                                      \
    }
ON_FILE(ssize_t, read, ANY, (int file, void *bytes, size_t length), (file, bytes, length))
ON_FILE(ssize_t, readv, ANY, (int file, const struct iovec *parts, int parts_count),
        (file, parts, parts_count))
ON_FILE(ssize_t, pread, ANY, (int file, void *bytes, size_t length, off_t place),
        (file, bytes, length, place))
ON_FILE(ssize_t, pread64, ANY, (int file, void *bytes, size_t length, off64_t place),
        (file, bytes, length, place))
ON_FILE(int, ftruncate, ROOM, (int file, off_t length), (file, length))
ON_FILE(int, ftruncate64, ROOM, (int file, off64_t length), (file, length))
ON_FILE(int, fsync, SYNC, (int file), (file))
ON_FILE(int, fdatasync, SYNC, (int file), (file))

/* A write that fails for want of room has written its first half. */
#define WRITE(name, parameters, half, arguments)                    \
    ssize_t name parameters {                                       \
        REAL(name);                                                 \
        if (open_inside(file) && fails(ROOM)) {                     \
            int why = errno;                                        \
            if (how == FULL && length > 1) real half;               \
            errno = why;                                            \
            return -1;                                              \
        }                                                           \
        return real arguments;                                      \
    }
WRITE(write, (int file, const void *bytes, size_t length), (file, bytes, length / 2),
      (file, bytes, length))
WRITE(pwrite, (int file, const void *bytes, size_t length, off_t place),
      (file, bytes, length / 2, place), (file, bytes, length, place))
WRITE(pwrite64, (int file, const void *bytes, size_t length, off64_t place),
      (file, bytes, length / 2, place), (file, bytes, length, place))

ssize_t writev(int file, const struct iovec *parts, int parts_count) {
    REAL(writev);
    if (open_inside(file) && fails(ROOM)) return -1;
    return real(file, parts, parts_count);
}

int renameat2(int old_place, const char *old, int new_place, const char *new, unsigned flags) {
    REAL(renameat2);
    if (given_inside(new_place, new) && fails(ROOM)) return -1;
    return real(old_place, old, new_place, new, flags);
}

int renameat(int old_place, const char *old, int new_place, const char *new) {
    return renameat2(old_place, old, new_place, new, 0);
}

int rename(const char *old, const char *new) { return renameat2(AT_FDCWD, old, AT_FDCWD, new, 0); }

int unlinkat(int place, const char *path, int flags) {
    REAL(unlinkat);
    if (given_inside(place, path) && fails(ANY)) return -1;
    return real(place, path, flags);
}

int unlink(const char *path) { return unlinkat(AT_FDCWD, path, 0); }

int rmdir(const char *path) { return unlinkat(AT_FDCWD, path, AT_REMOVEDIR); }

int mkdirat(int place, const char *path, mode_t mode) {
    REAL(mkdirat);
    if (given_inside(place, path) && fails(ROOM)) return -1;
    return real(place, path, mode);
}

int mkdir(const char *path, mode_t mode) { return mkdirat(AT_FDCWD, path, mode); }
