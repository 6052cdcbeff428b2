/* A disk that fails: reads of files whose path holds EIO_PATH fail from byte EIO_FROM on, once EIO_ON exists. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static int fails(int fd, long last)
{
    char link[64], path[4096];
    const char *wanted = getenv("EIO_PATH"), *from = getenv("EIO_FROM"), *on = getenv("EIO_ON");
    if (!wanted || !from || !on || access(on, F_OK))
        return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0)
        return 0;
    path[length] = 0;
    return strstr(path, wanted) && last >= atol(from);
}

ssize_t read(int fd, void *to, size_t count)
{
    static ssize_t (*real)(int, void *, size_t);
    if (!real)
        real = dlsym(RTLD_NEXT, "read");
    if (fails(fd, lseek(fd, 0, SEEK_CUR) + (long)count - 1)) {
        errno = EIO;
        return -1;
    }
    return real(fd, to, count);
}

ssize_t pread64(int fd, void *to, size_t count, off_t at)
{
    static ssize_t (*real)(int, void *, size_t, off_t);
    if (!real)
        real = dlsym(RTLD_NEXT, "pread64");
    if (fails(fd, at + (long)count - 1)) {
        errno = EIO;
        return -1;
    }
    return real(fd, to, count, at);
}

size_t fread(void *to, size_t size, size_t count, FILE *file)
{
    static size_t (*real)(void *, size_t, size_t, FILE *);
    if (!real)
        real = dlsym(RTLD_NEXT, "fread");
    if (fails(fileno(file), ftell(file) + (long)(size * count) - 1)) {
        errno = EIO;
        file->_flags |= 0x20; /* what ferror() looks at in the GNU library */
        return 0;
    }
    return real(to, size, count, file);
}
