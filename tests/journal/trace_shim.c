/* Preloaded before the C library: writes down what a process does to its journal's files, so
   that a test can replay any moment with unsynced writes dropped. Log: one record an operation:
   op, length of the path, offset, length of the data; then path and data. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

static int log_fd = -2;

static void put(const void *data, size_t size) {
    const char *p = data;
    while (size > 0) {
        ssize_t done = syscall(SYS_write, log_fd, p, size);
        if (done <= 0) abort();
        p += done;
        size -= done;
    }
}

static void note(char op, const char *path, int64_t offset, const void *data, int64_t size) {
    if (log_fd == -2) {
        const char *name = getenv("TRACE_TO");
        log_fd = name ? open(name, O_WRONLY | O_CREAT | O_APPEND, 0600) : -1;
    }
    if (log_fd < 0 || !strstr(path, ".sqlite") || strstr(path, "-shm")) return;
    int64_t head[4] = {op, (int64_t)strlen(path), offset, size};
    put(head, sizeof head);
    put(path, head[1]);
    if (op == 'w') put(data, size);
}

static void note_fd(char op, int fd, int64_t offset, const void *data, int64_t size) {
    char link[64], path[4096];
    if (fd == log_fd) return;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, sizeof path - 1);
    if (n <= 0) return;
    path[n] = 0;
    note(op, path, offset, data, size);
}

#define REAL(name) \
    static __typeof__(&name) real; \
    if (!real) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

ssize_t pwrite64(int fd, const void *b, size_t n, off64_t at) {
    REAL(pwrite64);
    ssize_t done = real(fd, b, n, at);
    if (done > 0) note_fd('w', fd, at, b, done);
    return done;
}
ssize_t pwrite(int fd, const void *b, size_t n, off_t at) {
    REAL(pwrite);
    ssize_t done = real(fd, b, n, at);
    if (done > 0) note_fd('w', fd, at, b, done);
    return done;
}
ssize_t write(int fd, const void *b, size_t n) {
    REAL(write);
    off_t at = lseek(fd, 0, SEEK_CUR);
    ssize_t done = real(fd, b, n);
    if (done > 0) note_fd('w', fd, at < 0 ? 0 : at, b, done);
    return done;
}
int fsync(int fd) {
    REAL(fsync);
    int done = real(fd);
    if (!done) note_fd('s', fd, 0, 0, 0);
    return done;
}
int fdatasync(int fd) {
    REAL(fdatasync);
    int done = real(fd);
    if (!done) note_fd('s', fd, 0, 0, 0);
    return done;
}
int ftruncate64(int fd, off64_t size) {
    REAL(ftruncate64);
    int done = real(fd, size);
    if (!done) note_fd('t', fd, size, 0, 0);
    return done;
}
int ftruncate(int fd, off_t size) {
    REAL(ftruncate);
    int done = real(fd, size);
    if (!done) note_fd('t', fd, size, 0, 0);
    return done;
}
int unlink(const char *path) {
    REAL(unlink);
    int done = real(path);
    if (!done) note('u', path, 0, 0, 0);
    return done;
}
