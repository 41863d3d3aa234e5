// Every quantity a rule can name, read from a job's lines and the register files.
//
// Threads: caches inside; one thread at a time.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

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
  /// How long before a new reading it may change what is known of the quantity.
  [[nodiscard]] int64_t reach_us(const std::string& name, int64_t longest_hole_us, int64_t bin_us);
  /// The lines have grown: all that stood before `changed_from_us` stands.
  void follow(int64_t changed_from_us);
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
  // A series, and what it takes to go on with it.
  struct Kept {
    Series series;
    int64_t changed_from_us = kBeginning;  // Lines from there on are not in it yet; kForever: all.
    int64_t reach_us = 0;
  };
  [[nodiscard]] Noise noise_of(const QuantityInfo& info) const;
  void read_surface();
  const Kept& kept(const std::string& name, int64_t hole_us, int64_t bin_us);
  void make(const QuantityInfo& info, int64_t hole_us, int64_t bin_us, Kept& kept);
  [[nodiscard]] bool stands(std::string_view name, bool by_word, int64_t again_us);
  void sampled(const QuantityInfo& info, int64_t hole_us, int64_t from_us, Kept& kept);
  void read_on(const QuantityInfo& info, int64_t hole_us, int64_t again_us, Series& series) const;
  void rope_speed(const QuantityInfo& info, const Series& out, int64_t bin_us, int64_t from_us,
                  Kept& kept);
  static void leg_pull(const QuantityInfo& info, const Series& pull, const Series& angles,
                       int64_t from_us, Kept& kept);
  Series exact(const std::string& name);
  Interval free_roll(const Series& tilt, int64_t time_us);
  [[nodiscard]] Interval layer(const Series& rope, int64_t time_us) const;

  const JobLines& lines_;
  const RegisterBook& book_;
  const JobParties& parties_;
  const RiggingState& rigging_;
  std::vector<std::pair<int64_t, bool>> slippery_;  // From when, and whether.
  int64_t rope_mm_ = 0;                             // On the winch, where its layers are on file.
  std::array<int64_t, 3> tilted_mdeg_{};            // Of the last free_roll, with its pull.
  Interval rolls_n_;
  std::map<std::tuple<std::string_view, int64_t, int64_t>, Kept> cache_;
  std::map<std::string, std::set<std::string>> sources_;
};

}  // namespace fairlead::judge
