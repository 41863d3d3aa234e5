/* Steps the wall clock of one process: clock_gettime(CLOCK_REALTIME) and its kin are shifted by the
   microseconds in the file that FAIRLEAD_CLOCK_FILE names. Put before a plugin's libraries by
   fairlead-plugin-check (group 12). Threads: any. */
#define _GNU_SOURCE
#include <fcntl.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static _Atomic int64_t* shared;

__attribute__((constructor)) static void open_clock(void) {
  const char* path = getenv("FAIRLEAD_CLOCK_FILE");
  int fd = path == NULL ? -1 : open(path, O_RDONLY | O_CLOEXEC);
  if (fd < 0) return;
  void* at = mmap(NULL, sizeof *shared, PROT_READ, MAP_SHARED, fd, 0);
  close(fd);
  if (at != MAP_FAILED) shared = at;
}

int clock_gettime(clockid_t id, struct timespec* out) {
  long failed = syscall(SYS_clock_gettime, id, out);
  if (failed != 0 || shared == NULL || id != CLOCK_REALTIME) return (int)failed;
  int64_t offset_us = atomic_load(shared);
  int64_t ns = out->tv_nsec + offset_us % 1000000 * 1000;
  out->tv_sec += offset_us / 1000000;
  if (ns >= 1000000000) {
    ns -= 1000000000;
    ++out->tv_sec;
  } else if (ns < 0) {
    ns += 1000000000;
    --out->tv_sec;
  }
  out->tv_nsec = ns;
  return 0;
}

int gettimeofday(struct timeval* restrict out, void* restrict zone) {
  (void)zone;
  struct timespec now;
  int failed = clock_gettime(CLOCK_REALTIME, &now);
  out->tv_sec = now.tv_sec;
  out->tv_usec = now.tv_nsec / 1000;
  return failed;
}

time_t time(time_t* out) {
  struct timespec now;
  clock_gettime(CLOCK_REALTIME, &now);
  if (out != NULL) *out = now.tv_sec;
  return now.tv_sec;
}
