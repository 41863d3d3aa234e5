// Every quantity a rule can name, read from a job's lines and the register files.
//
// Threads: caches inside; one thread at a time.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>

#include "daemon/judge/job_lines.h"
#include "daemon/judge/register_book.h"
#include "daemon/judge/rigging_state.h"
#include "daemon/judge/series.h"
#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {

/// The job's car, truck and their noise figures, as files and `opened` say.
struct JobParties {
  const VehicleItem* vehicle = nullptr;
  const TruckItem* truck = nullptr;
  std::string truck_id;
  Interval mass_g;          // +- 1.645 s.d.
  std::string mass_origin;  // "as opened" or the vehicle file.
};
[[nodiscard]] JobParties parties_of(const JobLines& lines, const RegisterBook& book);

class Quantities {
 public:
  Quantities(const JobLines& lines, const RegisterBook& book, const JobParties& parties,
             const RiggingState& rigging);

  /// The named quantity with its longest hole (0: the vocabulary's own). `bin_us` is the length
  /// its means will be taken over (0: none).
  [[nodiscard]] const Series& series(const std::string& name, int64_t longest_hole_us,
                                     int64_t bin_us);
  /// The quantity as a limit at one instant, with its uncertainty.
  [[nodiscard]] Interval limit_at(const std::string& name, int64_t time_us);
  /// Sources whose lines the quantity is read from.
  [[nodiscard]] const std::set<std::string>& sources(const std::string& name);
  /// False while the register names sensors for the channel and none is in date at `time_us`.
  [[nodiscard]] bool calibrated(const std::string& channel, int64_t time_us) const;
  /// Found on ice or snow, as last said.
  [[nodiscard]] bool slippery(int64_t time_us) const;

 private:
  struct Noise {
    int64_t share_ppm = 0, milli = 0, tau_us = 0;
    bool from_register = false;
  };
  [[nodiscard]] Noise noise_of(const QuantityInfo& info) const;
  Series build(const std::string& name, int64_t hole_us, int64_t bin_us);
  Series sampled(const QuantityInfo& info, int64_t hole_us);
  Series rope_speed(const QuantityInfo& info, int64_t hole_us, int64_t bin_us);
  Series leg_pull(const QuantityInfo& info, int64_t hole_us);
  Series exact(const std::string& name);
  Interval free_roll(int64_t time_us);
  Interval layer(int64_t time_us);

  const JobLines& lines_;
  const RegisterBook& book_;
  const JobParties& parties_;
  const RiggingState& rigging_;
  std::vector<std::pair<int64_t, bool>> slippery_;  // From when, and whether.
  std::map<std::string, Series> cache_;
  std::map<std::string, std::set<std::string>> sources_;
};

}  // namespace fairlead::judge
