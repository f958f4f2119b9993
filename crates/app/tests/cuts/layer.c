/* A layer between a program and its files. Each change below one folder is written to a log, in the
 * order in which the changes were made, and each sync. `disk.rs` rebuilds from the log what a disk
 * may hold after the power was cut at any place of it.
 *
 * Loaded by LD_PRELOAD; CUTS_FOLDER names the folder, CUTS_LOG the log outside of it. Memory that is
 * mapped to be written is not followed, nor are calls that are not here: the test holds what the
 * log comes to at its end against the files that are there.
 */
#include "../../../../tests/layer.h"

#include <pthread.h>
#include <stdint.h>

/* What stands before each entry of the log; `length` bytes follow. */
struct head {
    uint32_t kind;
    uint32_t length;
    uint64_t file; /* the inode */
    uint64_t at;   /* an offset or a length */
};

/* One change at a time: the log has the order of the changes. */
static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;
static int log_file = -1;

__attribute__((constructor)) static void begin(void) {
    const char *log_name = getenv("CUTS_LOG"), *folder_name = getenv("CUTS_FOLDER");
    if (log_name == NULL || folder_name == NULL || realpath(folder_name, folder) == NULL) return;
    REAL(open);
    int opened = real(log_name, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    log_file = fcntl(opened, F_DUPFD_CLOEXEC, 700);
    if (log_file < 0) abort();
    close(opened);
    folder_length = strlen(folder);
}

static void note(char kind, uint64_t file, uint64_t at, const struct iovec *parts, int count,
                 size_t length) {
    struct head head = {(uint32_t)kind, (uint32_t)length, file, at};
    REAL(write);
    if (real(log_file, &head, sizeof head) != (ssize_t)sizeof head) abort();
    for (int part = 0; part < count && length > 0; part++) {
        size_t bytes = parts[part].iov_len < length ? parts[part].iov_len : length;
        if (real(log_file, parts[part].iov_base, bytes) != (ssize_t)bytes) abort();
        length -= bytes;
    }
}

static void note_text(char kind, uint64_t file, const char *text) {
    struct iovec part = {(void *)text, strlen(text)};
    note(kind, file, 0, &part, 1, part.iov_len);
}

/* What of an open file's name is below the folder. */
static const char *open_inside(int file, char *name) {
    return folder_length == 0 || name_of(file, name) != 0 ? NULL : inside(name);
}

/* What of a name that a program gives is below the folder. Its last part need not be there. */
static const char *given_inside(int at, const char *path, char *name) {
    char whole[2 * PATH_MAX], above[PATH_MAX];
    if (folder_length == 0) return NULL;
    if (path[0] == '/') {
        snprintf(whole, sizeof whole, "%s", path);
    } else {
        if (at == AT_FDCWD ? getcwd(above, sizeof above) == NULL : name_of(at, above) != 0) return NULL;
        snprintf(whole, sizeof whole, "%s/%s", above, path);
    }
    size_t length = strlen(whole);
    while (length > 1 && whole[length - 1] == '/') whole[--length] = '\0';
    char *last = strrchr(whole, '/');
    *last = '\0';
    if (realpath(last == whole ? "/" : whole, above) == NULL) return NULL;
    if (snprintf(name, PATH_MAX, "%s/%s", above, last + 1) >= PATH_MAX) abort();
    return inside(name);
}

static uint64_t inode(int file) {
    struct stat about;
    return fstat(file, &about) == 0 ? about.st_ino : 0;
}

static int opened(int at, const char *path, int flags, mode_t mode) {
    char name[PATH_MAX];
    REAL(openat);
    const char *below = flags & (O_CREAT | O_TRUNC) ? given_inside(at, path, name) : NULL;
    if (below == NULL) return real(at, path, flags, mode);
    pthread_mutex_lock(&turn);
    struct stat about;
    int was = fstatat(at, path, &about, 0) == 0;
    int file = real(at, path, flags, mode);
    if (file >= 0) {
        if (!was) note_text('c', inode(file), below);
        else if (flags & O_TRUNC) note('t', inode(file), 0, NULL, 0, 0);
    }
    pthread_mutex_unlock(&turn);
    return file;
}

/* A write of several parts, where the file stands or at an offset. */
static ssize_t written(int file, const struct iovec *parts, int count, off_t at, int placed) {
    char name[PATH_MAX];
    REAL(writev);
    static __typeof__(&pwritev) real_placed;
    if (real_placed == NULL) real_placed = (__typeof__(&pwritev))dlsym(RTLD_NEXT, "pwritev");
    if (open_inside(file, name) == NULL) {
        return placed ? real_placed(file, parts, count, at) : real(file, parts, count);
    }
    pthread_mutex_lock(&turn);
    struct stat about;
    fstat(file, &about);
    if (fcntl(file, F_GETFL) & O_APPEND) at = about.st_size;
    else if (!placed) at = lseek(file, 0, SEEK_CUR);
    ssize_t done = placed ? real_placed(file, parts, count, at) : real(file, parts, count);
    if (done > 0) note('w', about.st_ino, (uint64_t)at, parts, count, (size_t)done);
    pthread_mutex_unlock(&turn);
    return done;
}

ssize_t write(int file, const void *bytes, size_t length) {
    struct iovec part = {(void *)bytes, length};
    return written(file, &part, 1, 0, 0);
}

ssize_t writev(int file, const struct iovec *parts, int count) {
    return written(file, parts, count, 0, 0);
}

#define PWRITE(name)                                                          \
    ssize_t name(int file, const void *bytes, size_t length, off_t at) {      \
        struct iovec part = {(void *)bytes, length};                          \
        return written(file, &part, 1, at, 1);                                \
    }
PWRITE(pwrite)
PWRITE(pwrite64)

#define PWRITEV(name)                                                         \
    ssize_t name(int file, const struct iovec *parts, int count, off_t at) {  \
        return written(file, parts, count, at, 1);                            \
    }
PWRITEV(pwritev)
PWRITEV(pwritev64)

#define FTRUNCATE(name)                                                       \
    int name(int file, off_t length) {                                        \
        char path[PATH_MAX];                                                  \
        REAL(name);                                                           \
        if (open_inside(file, path) == NULL) return real(file, length);       \
        pthread_mutex_lock(&turn);                                            \
        int done = real(file, length);                                        \
        if (done == 0) note('t', inode(file), (uint64_t)length, NULL, 0, 0);  \
        pthread_mutex_unlock(&turn);                                          \
        return done;                                                          \
    }
FTRUNCATE(ftruncate)
FTRUNCATE(ftruncate64)

static int synced(int file, int (*real)(int)) {
    char name[PATH_MAX];
    const char *below = open_inside(file, name);
    if (below == NULL) return real(file);
    pthread_mutex_lock(&turn);
    struct stat about;
    fstat(file, &about);
    int done = real(file);
    if (done == 0 && S_ISDIR(about.st_mode)) note_text('d', 0, below);
    else if (done == 0) note('s', about.st_ino, 0, NULL, 0, 0);
    pthread_mutex_unlock(&turn);
    return done;
}

int fsync(int file) {
    REAL(fsync);
    return synced(file, real);
}

int fdatasync(int file) {
    REAL(fdatasync);
    return synced(file, real);
}

static int renamed(int from_at, const char *from, int to_at, const char *to, unsigned flags) {
    char from_name[PATH_MAX], to_name[PATH_MAX], both[2 * PATH_MAX];
    const char *old = given_inside(from_at, from, from_name);
    const char *new = given_inside(to_at, to, to_name);
    REAL(renameat2);
    if (old == NULL || new == NULL) return real(from_at, from, to_at, to, flags);
    pthread_mutex_lock(&turn);
    int done = real(from_at, from, to_at, to, flags);
    if (done == 0) {
        struct iovec part = {both, (size_t)snprintf(both, sizeof both, "%s\n%s", old, new)};
        note('n', 0, 0, &part, 1, part.iov_len);
    }
    pthread_mutex_unlock(&turn);
    return done;
}

int rename(const char *from, const char *to) { return renamed(AT_FDCWD, from, AT_FDCWD, to, 0); }

int renameat(int from_at, const char *from, int to_at, const char *to) {
    return renamed(from_at, from, to_at, to, 0);
}

int renameat2(int from_at, const char *from, int to_at, const char *to, unsigned flags) {
    return renamed(from_at, from, to_at, to, flags);
}

int unlinkat(int at, const char *path, int flags) {
    char name[PATH_MAX];
    const char *below = given_inside(at, path, name);
    REAL(unlinkat);
    if (below == NULL) return real(at, path, flags);
    pthread_mutex_lock(&turn);
    int done = real(at, path, flags);
    if (done == 0) note_text('u', 0, below);
    pthread_mutex_unlock(&turn);
    return done;
}

int unlink(const char *path) { return unlinkat(AT_FDCWD, path, 0); }

int rmdir(const char *path) { return unlinkat(AT_FDCWD, path, AT_REMOVEDIR); }

int mkdirat(int at, const char *path, mode_t mode) {
    char name[PATH_MAX];
    const char *below = given_inside(at, path, name);
    REAL(mkdirat);
    if (below == NULL) return real(at, path, mode);
    pthread_mutex_lock(&turn);
    int done = real(at, path, mode);
    if (done == 0) note_text('m', 0, below);
    pthread_mutex_unlock(&turn);
    return done;
}

int mkdir(const char *path, mode_t mode) { return mkdirat(AT_FDCWD, path, mode); }
