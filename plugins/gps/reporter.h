// One receiver: from gpsd's reports and the passing of time to what is recorded about it. Knows no
// socket; times are the caller's.
//
// Threads: one at a time. Units: microseconds.
#pragma once

#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "plugins/gps/config.h"
#include "plugins/gps/epoch.h"
#include "plugins/gps/jump.h"
#include "plugins/gps/protocol.h"
#include "plugins/sdk/feed.h"

namespace fairlead::gps {

/// One thing to record: a fix, a gap with its cause, or a change of state in words.
struct Told {
  /// Of an epoch's fix and what is said of it: when its first report arrived. Never runs back.
  sdk::Stamp at;
  std::optional<Epoch> fix;
  bool suspect = false;
  std::string gap;
  std::string state;
};

class Reporter {
 public:
  explicit Reporter(Receiver receiver) : receiver_(std::move(receiver)) {}

  /// gpsd answers.
  [[nodiscard]] std::vector<Told> connected(sdk::Stamp at);
  /// One report as gpsd sent it.
  [[nodiscard]] std::vector<Told> report(std::string_view text, sdk::Stamp at);
  /// Time has passed: an epoch may be over, the receiver may be silent.
  [[nodiscard]] std::vector<Told> turn(sdk::Stamp at);
  /// gpsd is not there, or no more. A gap, once a loss however often it is dialled in vain.
  [[nodiscard]] std::vector<Told> gone(const std::string& cause, sdk::Stamp at);

 private:
  using Tellings = std::vector<Told>;
  void see_tpv(std::string_view text, sdk::Stamp at, Tellings& out);
  void see_gst(std::string_view text);
  void see_sky(std::string_view text, sdk::Stamp at, Tellings& out);
  bool is_ours(const std::string& device, sdk::Stamp at, Tellings& out);
  void give(const EpochMerger::Out& merged, sdk::Stamp at, Tellings& out);
  void give_fix(const Epoch& epoch, sdk::Stamp at, Tellings& out);
  void watch_date(const Epoch& epoch, Tellings& out);
  void watch_basis(const Epoch& epoch, Tellings& out);
  void watch_silence(sdk::Stamp at, Tellings& out);
  [[nodiscard]] std::string why_no_fix() const;
  [[nodiscard]] sdk::Stamp not_after_pending(sdk::Stamp at) const;

  const Receiver receiver_;
  bool connected_ = false;
  // What was said and holds until the next fix.
  bool missing_ = false;  // gpsd is absent.
  bool silent_ = false;   // The receiver is silent or says nothing new.
  bool misread_ = false;  // A report was not understood.
  bool answer_said_ = false;
  std::string device_;  // The one listened to; empty: none heard yet.
  bool others_said_ = false;
  int64_t heard_us_ = 0;  // Last report of a position, whatever it held.
  int64_t fixed_us_ = 0;  // Last fix, or the last time it said it has none.
  Tpv last_;
  EpochMerger merger_;
  JumpWatch jumps_;
  DateVerdict date_ = DateVerdict::kPlausible;
  std::set<Basis> bases_;
  uint32_t mode_ = 0;
  std::string sky_said_;
  int64_t sky_said_us_ = 0;
};

}  // namespace fairlead::gps
