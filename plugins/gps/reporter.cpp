#include "plugins/gps/reporter.h"

#include <fmt/format.h>

#include <utility>

namespace fairlead::gps {

namespace {
// How the satellites stand is said when it changed, this often at most.
constexpr int64_t kSkyEveryUs = 60'000'000;

Told gap(sdk::Stamp at, std::string cause) {
  Told told;
  told.at = at;
  told.gap = std::move(cause);
  return told;
}

Told state(sdk::Stamp at, std::string words) {
  Told told;
  told.at = at;
  told.state = std::move(words);
  return told;
}
}  // namespace

std::vector<Told> Reporter::connected(sdk::Stamp at) {
  connected_ = true;
  silent_ = false;
  heard_us_ = fixed_us_ = at.mono_us;
  device_ = receiver_.device;
  others_said_ = false;
  last_ = Tpv();
  merger_.forget();
  jumps_.forget();
  bases_.clear();
  mode_ = 0;
  sky_said_.clear();
  std::vector<Told> out;
  if (!std::exchange(answer_said_, true)) out.push_back(state(at, "connected to gpsd"));
  return out;
}

std::vector<Told> Reporter::gone(const std::string& cause, sdk::Stamp at) {
  std::vector<Told> out;
  if (connected_) give(merger_.flush(), at, out);
  connected_ = false;
  if (std::exchange(missing_, true)) return out;
  answer_said_ = false;
  out.push_back(gap(at, cause));
  return out;
}

std::vector<Told> Reporter::report(std::string_view text, sdk::Stamp at) {
  std::vector<Told> out;
  switch (report_class(text)) {
    case Report::kTpv:
      see_tpv(text, at, out);
      break;
    case Report::kGst:
      see_gst(text);
      break;
    case Report::kSky:
      see_sky(text, at, out);
      break;
    case Report::kOther:
      break;
  }
  return out;
}

std::vector<Told> Reporter::turn(sdk::Stamp at) {
  std::vector<Told> out;
  auto since = merger_.pending_since_us();
  if (since && at.mono_us - *since >= receiver_.settle_us) give(merger_.flush(), at, out);
  watch_silence(at, out);
  return out;
}

void Reporter::see_tpv(std::string_view text, sdk::Stamp at, Tellings& out) {
  auto tpv = read_tpv(text);
  if (!tpv) {
    if (!std::exchange(misread_, true)) {
      out.push_back(gap(not_after_pending(at), "report not understood: " + tpv.error().message));
    }
    return;
  }
  if (!is_ours(tpv->device, at, out)) return;
  heard_us_ = at.mono_us;
  last_ = *tpv;
  give(merger_.push(*tpv, at), at, out);
  if (tpv->mode < 2) fixed_us_ = at.mono_us;
}

void Reporter::see_gst(std::string_view text) {
  auto gst = read_gst(text);
  // Without it gpsd's figures stand; nothing is lost.
  if (gst && !device_.empty() && gst->device == device_) merger_.push(*gst);
}

void Reporter::see_sky(std::string_view text, sdk::Stamp at, Tellings& out) {
  auto sky = read_sky(text);
  // gpsd 3.22 also sends SKY with figures of precision only, or with a list only.
  if (!sky || !sky->used || !sky->seen || device_.empty() || sky->device != device_) return;
  std::string words = fmt::format("{} of {} satellites", *sky->used, *sky->seen);
  if (sky->hdop) words += fmt::format(", HDOP {:.1f}", *sky->hdop);
  bool first = sky_said_.empty();
  if (words == sky_said_ || (!first && at.mono_us - sky_said_us_ < kSkyEveryUs)) return;
  sky_said_ = words;
  sky_said_us_ = at.mono_us;
  out.push_back(state(not_after_pending(at), words));
}

bool Reporter::is_ours(const std::string& device, sdk::Stamp at, Tellings& out) {
  if (device_.empty()) device_ = device;
  if (device == device_) return true;
  // Asked for by name: the others are somebody else's.
  if (receiver_.device.empty() && !std::exchange(others_said_, true)) {
    out.push_back(state(not_after_pending(at),
                        fmt::format("gpsd has several receivers: {} is used, not {}; name one with "
                                    "device",
                                    device_, device)));
  }
  return false;
}

void Reporter::give(const EpochMerger::Out& merged, sdk::Stamp at, Tellings& out) {
  if (merged.epoch) give_fix(*merged.epoch, at, out);
  if (merged.lost_fix) {
    mode_ = 0;
    out.push_back(gap(at, "the receiver has no fix"));
  }
}

void Reporter::give_fix(const Epoch& epoch, sdk::Stamp at, Tellings& out) {
  fixed_us_ = at.mono_us;
  missing_ = silent_ = misread_ = false;
  watch_date(epoch, out);
  watch_basis(epoch, out);
  if (epoch.fix.mode() != std::exchange(mode_, epoch.fix.mode())) {
    out.push_back(state(epoch.arrived, epoch.fix.mode() == 3 ? "3D fix" : "2D fix"));
  }
  JumpWatch::Verdict jump = jumps_.see(epoch);
  Told told;
  told.at = epoch.arrived;
  told.fix = epoch;
  told.suspect = epoch.frozen || jump == JumpWatch::Verdict::kLeapt;
  out.push_back(std::move(told));
  if (jump == JumpWatch::Verdict::kSettled) {
    out.push_back(state(epoch.arrived, "the position leapt and stays where it is now"));
  }
}

void Reporter::watch_date(const Epoch& epoch, Tellings& out) {
  if (!epoch.receiver_us) return;
  DateVerdict verdict = judge_date(*epoch.receiver_us, epoch.arrived.wall_us);
  if (verdict == std::exchange(date_, verdict)) return;
  switch (verdict) {
    case DateVerdict::kPlausible:
      out.push_back(state(epoch.arrived, "receiver's date agrees"));
      break;
    case DateVerdict::kWeekRollover:
      out.push_back(state(epoch.arrived,
                          "receiver's date is 1024 weeks off (week number wrapped); not used"));
      break;
    case DateVerdict::kOff:
      out.push_back(state(epoch.arrived, "receiver's date is off by more than a day; not used"));
      break;
  }
}

// Each once a connection: a receiver may state its own figures with every other epoch only.
void Reporter::watch_basis(const Epoch& epoch, Tellings& out) {
  if (!bases_.insert(epoch.basis).second) return;
  switch (epoch.basis) {
    case Basis::kGpsd:
      out.push_back(state(epoch.arrived, "errors: gpsd's figures, taken as 95 %, divided by 1.96"));
      break;
    case Basis::kReceiver:
      out.push_back(state(epoch.arrived, "errors: the receiver's own standard deviations (GST)"));
      break;
    case Basis::kUnstated:
      out.push_back(state(epoch.arrived, "errors: not stated; 6.1 m is taken"));
      break;
  }
}

void Reporter::watch_silence(sdk::Stamp at, Tellings& out) {
  if (!connected_ || silent_) return;
  bool stale = at.mono_us - fixed_us_ >= receiver_.silent_after_us;
  if (!stale) return;
  silent_ = true;
  double seconds = static_cast<double>(receiver_.silent_after_us) / 1e6;
  bool silence = at.mono_us - heard_us_ >= receiver_.silent_after_us;
  out.push_back(gap(not_after_pending(at),
                    silence ? fmt::format("no report from the receiver for {} s", seconds)
                            : fmt::format("no new fix for {} s: {}", seconds, why_no_fix())));
}

// What is said before the fix of an epoch that is under way is not stamped later than that fix.
sdk::Stamp Reporter::not_after_pending(sdk::Stamp at) const {
  return merger_.pending_from().value_or(at);
}

std::string Reporter::why_no_fix() const {
  if (!last_.time_us) return "its reports carry no time";
  if (!last_.lat_deg || !last_.lon_deg) return "its reports carry no position";
  if (!last_.speed_mps) return "its reports carry no speed";
  return "its time stands still";
}

}  // namespace fairlead::gps
