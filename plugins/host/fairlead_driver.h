// What a vendor's driver in C is to Fairlead: one shared object, one exported function, a few plain
// structs. The program fairlead-plugin-host loads it in a process of its own and does the rest:
// settings, clocks, buffering, heartbeat, the talk with the daemon.
//
// Rules, for both sides:
// - The first field of every struct is its size in bytes. A newer header only appends fields; who
//   gets a struct uses no field beyond the size it says. Numbers are never used for something else.
// - Whoever made a text owns it. A driver's texts stay valid until its next call; the host's until
//   the call returns. Nothing is freed across the border. Texts are UTF-8 and end with 0.
// - One call at a time: configure() and describe() first, then open(), read(), close(), trouble()
//   from one thread. A driver calls nothing of the host, and starts no thread that outlives
//   close().
// - A call returns in time: read() within its wait_ms and a little, the others within a second. One
//   that does not is taken for hung and its process is killed.
// - Beside NAME.so lies NAME.toml with `driver_abi = 1`, read before the object is loaded.
//
// History:
//   1.0  2026-11  first form
#pragma once

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define FAIRLEAD_DRIVER_MAJOR 1
#define FAIRLEAD_DRIVER_MINOR 0

/* One line of the settings: [settings] of the plugin, values as texts. */
typedef struct fairlead_setting {
  uint32_t struct_size;
  const char* key;
  const char* value;
} fairlead_setting;

/* Filled by configure() when it says no: the key, what is wrong with it, what to do. */
typedef struct fairlead_problem {
  uint32_t struct_size;
  const char* key;
  const char* what;
  const char* remedy;
} fairlead_problem;

/* What one channel delivers. Units and signals: those of the record ("line.pull" in "N"). */
typedef struct fairlead_channel {
  uint32_t struct_size;
  const char* source; /* line, deck, clamp or an id of your own */
  const char* signal;
  const char* unit;
  double range_lo; /* both 0: not known */
  double range_hi;
  double resolution; /* 0: not known */
  double rate_hz;    /* 0: the instrument decides */
} fairlead_channel;

enum fairlead_kind {
  FAIRLEAD_VALUE = 1, /* value, with quality */
  FAIRLEAD_GAP = 2,   /* readings are missing from here on; words say why */
  FAIRLEAD_STATE = 3  /* words say what changed */
};

enum fairlead_quality {
  FAIRLEAD_GOOD = 1,
  FAIRLEAD_SUSPECT = 2,
  FAIRLEAD_OVERLOAD = 3,
  FAIRLEAD_BROKEN = 4
};

typedef struct fairlead_reading {
  uint32_t struct_size;
  uint32_t channel; /* its number, from 0 */
  uint32_t kind;
  uint32_t quality;
  double value;
  const char* words;
} fairlead_reading;

/* What read() and open() return. Negative numbers of your own are taken as FAIRLEAD_LOST. */
enum fairlead_result {
  FAIRLEAD_NOTHING = 0, /* open(): open. read(): nothing came within wait_ms */
  FAIRLEAD_READING = 1, /* read(): one reading is in *out */
  FAIRLEAD_LOST = -1    /* the instrument is not there; open() is tried again after close() */
};

typedef struct fairlead_driver {
  uint32_t struct_size;
  uint16_t major;
  uint16_t minor;
  const char* name;
  const char* version;
  /* Checks the settings, touches no instrument. 0: taken. Else *problem says what is wrong. */
  int32_t (*configure)(const fairlead_setting* settings, uint32_t count, fairlead_problem* problem);
  /* After configure(): channels by number; 0: that was the last. */
  int32_t (*describe)(uint32_t number, fairlead_channel* out);
  int32_t (*open)(void);
  int32_t (*read)(fairlead_reading* out, uint32_t wait_ms);
  void (*close)(void);
  /* Why the last open() or read() said FAIRLEAD_LOST. */
  const char* (*trouble)(void);
} fairlead_driver;

/* The one symbol a driver exports. The struct is the driver's and lives for ever. */
const fairlead_driver* fairlead_driver_query(void);

#ifdef __cplusplus
}
#endif
