/* Drivers that break the rules of fairlead_driver.h, one a build: -DBAD=name. */
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include "plugins/host/fairlead_driver.h"

#define WRONG_MAJOR 1
#define SHORT_STRUCT 2
#define NO_FUNCTION 3
#define NO_QUERY 4
#define NO_DRIVER 5
#define LONGER 6

/* Leaves a mark when it is loaded: nothing of a refused driver may run. */
__attribute__((constructor)) static void loaded(void) {
  const char* mark = getenv("FAIRLEAD_DRIVER_MARK");
  FILE* file = mark == NULL ? NULL : fopen(mark, "w");
  if (file != NULL) fclose(file);
}

static int32_t configure(const fairlead_setting* settings, uint32_t count,
                         fairlead_problem* problem) {
  (void)settings;
  (void)count;
  (void)problem;
  return 0;
}
static int32_t describe(uint32_t number, fairlead_channel* out) {
  (void)number;
  (void)out;
  return 0;
}
static int32_t nothing(void) { return 0; }
static int32_t read_nothing(fairlead_reading* out, uint32_t wait_ms) {
  (void)out;
  (void)wait_ms;
  return 0;
}
static void done(void) {}
static const char* trouble(void) { return "none"; }

/* As a later version would be: more at the end. */
struct later {
  fairlead_driver first;
  int32_t (*more)(void);
};

#if BAD == NO_QUERY
const fairlead_driver* another_name(void) {
#else
const fairlead_driver* fairlead_driver_query(void) {
#endif
  static struct later driver = {
      {sizeof(fairlead_driver), FAIRLEAD_DRIVER_MAJOR, FAIRLEAD_DRIVER_MINOR, "bad", "1.0",
       configure, describe, nothing, read_nothing, done, trouble},
      nothing};
#if BAD == WRONG_MAJOR
  driver.first.major = FAIRLEAD_DRIVER_MAJOR + 1;
#elif BAD == SHORT_STRUCT
  driver.first.struct_size = offsetof(fairlead_driver, read);
#elif BAD == NO_FUNCTION
driver.first.read = NULL;
#elif BAD == NO_DRIVER
return NULL;
#elif BAD == LONGER
driver.first.struct_size = sizeof driver;
driver.first.minor = 7;
#endif
  return &driver.first;
}
