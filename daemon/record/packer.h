// Turns the stream of observations a device records into the bodies of its entries, and back.
//
//   opened -> JOB_OPEN; closed, abandoned -> JOB_CLOSE; sample, fix -> STRIP; the rest ->
//   OBSERVATIONS, where note, photo, film, condition, statement, custody and item stand alone, so
//   that erasing one erases nothing else, and heat, smoke and warning go out at once.
//
// Time is passed in (microseconds of any one clock that does not run back), so a test can play it.
// Threads: one thread at a time.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/record/entry.h"
#include "fairlead/v1/observation.pb.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::record {

struct PackedBody {
  Kind kind = Kind::kObservations;
  /// Job the entry belongs to, as the lines say it; empty for strips and lines without a job.
  std::string job;
  std::string body;
  /// Must be durable at once: a warning, heat or smoke is in it.
  bool urgent = false;
};

struct PackerLimits {
  int64_t observations_for_us = 200'000;
  size_t observations_most = 64;
  int64_t strip_for_us = 10'000'000;
  size_t strip_values_most = 4'096;  // A fix is five.
};

class Packer {
 public:
  explicit Packer(PackerLimits limits = {}) : limits_(limits) {}

  /// Files in force, written into every later JOB_OPEN.
  void set_pins(std::vector<v1::Pin> pins) { pins_ = std::move(pins); }

  /// Takes one line and returns the bodies that this completes, in the order to be appended. The
  /// line must have passed check_observation. Errors: kBadInput when it alone is larger than a body
  /// may be; then nothing of it was taken and everything else stays as it was.
  [[nodiscard]] Result<std::vector<PackedBody>> add(const v1::Observation& line, int64_t now_us);

  /// Bodies whose time has come.
  [[nodiscard]] std::vector<PackedBody> due(int64_t now_us);
  /// When `due` will next have something; nullopt while nothing is pending.
  [[nodiscard]] std::optional<int64_t> next_due_us() const;

  /// Closes the strip under way (a deviation was flagged).
  [[nodiscard]] std::vector<PackedBody> close_strip();
  /// Closes everything (the daemon stops).
  [[nodiscard]] std::vector<PackedBody> flush();

 private:
  struct Group {
    std::string job;
    int64_t since_us = 0;
    size_t bytes = 0;
    v1::ObservationsBody body;
  };

  void close_groups(std::vector<PackedBody>& out, bool urgent = false);
  void close_strip_into(std::vector<PackedBody>& out);
  void add_to_strip(const v1::Observation& line, int64_t now_us, std::vector<PackedBody>& out);
  void add_to_group(const v1::Observation& line, int64_t now_us, std::vector<PackedBody>& out);

  PackerLimits limits_;
  std::vector<v1::Pin> pins_;
  std::vector<Group> groups_;  // One a job, oldest first.
  std::vector<v1::Observation> strip_;
  size_t strip_values_ = 0;
  int64_t strip_since_us_ = 0;
};

/// The lines an entry's body carries, each checked; none for kinds that carry no lines. A RECOVERED
/// body gives those of the entry inside it. Errors: kBadInput, "observation[i].field: what; what to
/// do".
[[nodiscard]] Result<std::vector<v1::Observation>> observations_of(Kind kind,
                                                                   std::string_view body);

}  // namespace fairlead::record
