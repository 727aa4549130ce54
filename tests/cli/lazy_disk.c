// Planted defects of the trials of sign-offs: preloaded, this makes the calls of the C library fail to do what they are
// for, and say that they did.
//
//   -DFORGETS=S_IFREG   forcing a file to disk does nothing; S_IFDIR: a folder
//   -DSHORT             a write takes one byte
#define _GNU_SOURCE
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#ifdef FORGETS
int fsync(int file) {
  struct stat info;
  if (fstat(file, &info) == 0 && (info.st_mode & S_IFMT) == FORGETS) return 0;
  return (int)syscall(SYS_fsync, file);
}

int fdatasync(int file) { return fsync(file); }
#endif

#ifdef SHORT
ssize_t write(int file, const void* bytes, size_t size) {
  return syscall(SYS_write, file, bytes, size < 1 ? size : 1);
}
#endif
