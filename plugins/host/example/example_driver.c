/* An example of a vendor's driver: a load cell whose amplifier sends its pull as text over a serial
   line, one reading a line: "P 1234.5" in newtons, "OL" for overload. Copy it and begin. */
#define _DEFAULT_SOURCE /* for cfmakeraw */
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "fairlead_driver.h"

static char device[256];
static char why[320] = "not opened yet";
static char line[64]; /* what has come of the next line */
static size_t length;
static int fd = -1;

static int32_t configure(const fairlead_setting* settings, uint32_t count,
                         fairlead_problem* problem) {
  for (uint32_t i = 0; i < count; ++i) {
    problem->key = settings[i].key;
    if (strcmp(settings[i].key, "device") != 0) {
      problem->what = "is not a setting of this driver";
      problem->remedy = "remove it; there is only device";
      return 1;
    }
    if (strlen(settings[i].value) >= sizeof device) {
      problem->what = "is too long";
      problem->remedy = "name a shorter path";
      return 1;
    }
    snprintf(device, sizeof device, "%s", settings[i].value);
  }
  problem->key = "device";
  problem->what = "is missing";
  problem->remedy = "name the serial device, e.g. /dev/ttyUSB0";
  return device[0] == 0;
}

static int32_t describe(uint32_t number, fairlead_channel* out) {
  if (number > 0) return 0;
  out->source = "line";
  out->signal = "line.pull";
  out->unit = "N";
  out->range_lo = 0;
  out->range_hi = 100000;
  out->resolution = 0.5;
  return 1;
}

static int32_t lost(const char* what) {
  snprintf(why, sizeof why, "%s: %s", device, what);
  return FAIRLEAD_LOST;
}

static int32_t open_device(void) {
  struct termios raw;
  fd = open(device, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (fd < 0) return lost(strerror(errno));
  if (tcgetattr(fd, &raw) == 0) {
    cfmakeraw(&raw);
    cfsetspeed(&raw, B9600);
    tcsetattr(fd, TCSANOW, &raw);
  }
  length = 0;
  return FAIRLEAD_NOTHING;
}

/* A whole line as a reading. Rubbish on the line is no reading. */
static int32_t parse(fairlead_reading* out) {
  char* end;
  out->kind = FAIRLEAD_VALUE;
  out->quality = FAIRLEAD_GOOD;
  if (strcmp(line, "OL") == 0) {
    out->quality = FAIRLEAD_OVERLOAD;
    out->value = 100000;
    return FAIRLEAD_READING;
  }
  if (strncmp(line, "P ", 2) != 0) return FAIRLEAD_NOTHING;
  out->value = strtod(line + 2, &end);
  int good = end != line + 2 && *end == 0 && out->value >= 0 && out->value <= 100000;
  return good && fmod(out->value, 0.5) == 0 ? FAIRLEAD_READING : FAIRLEAD_NOTHING;
}

static int32_t read_device(fairlead_reading* out, uint32_t wait_ms) {
  struct pollfd ready = {fd, POLLIN, 0};
  char byte;
  while (poll(&ready, 1, (int)wait_ms) > 0) {
    ssize_t got = read(fd, &byte, 1);
    if (got <= 0) return lost(got == 0 ? "gone" : strerror(errno));
    if (byte == '\r') continue;
    if (byte != '\n') {
      if (length + 1 < sizeof line) line[length++] = byte;
      continue;
    }
    line[length] = 0;
    length = 0;
    return parse(out);
  }
  return FAIRLEAD_NOTHING;
}

static void close_device(void) {
  if (fd >= 0) close(fd);
  fd = -1;
}

static const char* trouble(void) { return why; }

const fairlead_driver* fairlead_driver_query(void) {
  static const fairlead_driver driver = {
      sizeof driver, FAIRLEAD_DRIVER_MAJOR, FAIRLEAD_DRIVER_MINOR, "example",    "1.0",  configure,
      describe,      open_device,           read_device,           close_device, trouble};
  return &driver;
}
