/* Lets a serial library open a pty: answers the questions about modem lines that a pty has none of.
   For tests only, put before a plugin's libraries with fairlead-plugin-check --preload. */
#define _GNU_SOURCE
#include <stdarg.h>
#include <stddef.h>
#include <sys/ioctl.h>
#include <sys/syscall.h>
#include <unistd.h>

int ioctl(int fd, unsigned long request, ...) {
  va_list args;
  va_start(args, request);
  void* argument = va_arg(args, void*);
  va_end(args);
  if (request == TIOCMGET && argument != NULL) {
    *(int*)argument = TIOCM_DTR | TIOCM_RTS;
    return 0;
  }
  if (request == TIOCMSET || request == TIOCMBIS || request == TIOCMBIC) return 0;
  return (int)syscall(SYS_ioctl, fd, request, argument);
}
