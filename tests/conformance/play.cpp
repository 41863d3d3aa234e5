#include "tests/conformance/play.h"

#include <stdlib.h>

#include <algorithm>
#include <set>
#include <thread>
#include <utility>

namespace fairlead::conformance {

namespace {
std::string replaced(std::string text, const std::string& what, const std::string& with) {
  for (size_t at = 0; (at = text.find(what, at)) != std::string::npos; at += with.size()) {
    text.replace(at, what.size(), with);
  }
  return text;
}
}  // namespace

Play::Play(const Options& chosen, const std::string& before, bool start_now) : options(chosen) {
  std::string name = (std::filesystem::temp_directory_path() / "plugin-check-XXXXXX").string();
  folder = mkdtemp(name.data());
  std::filesystem::create_directory(folder / "home");
  std::string config = before + options.config;
  if (options.wire) {
    wire = std::make_unique<Wire>(*options.wire, folder / "device", options.script);
    config = replaced(config, "{device}", (folder / "device").string());
    config = replaced(config, "{port}", std::to_string(wire->port()));
  }
  session = "check-" + unique_word();
  stage = std::make_unique<Stage>(folder / "s", config, session);
  if (start_now) start();
}

Play::~Play() {
  subject.reset();
  stage.reset();
  wire.reset();
  std::error_code ignored;
  std::filesystem::remove_all(folder, ignored);
}

void Play::start(const std::vector<std::string>& extra) {
  started_us = mono_now_us();
  Subject::Start how{.program = options.program,
                     .arguments = {"--socket", (folder / "s").string(), "--session", session},
                     .folder = folder / "home"};
  how.arguments.insert(how.arguments.end(), options.arguments.begin(), options.arguments.end());
  std::string preload;
  for (const std::string& file : options.preload) preload += (preload.empty() ? "" : ":") + file;
  for (const std::string& more : extra) {
    if (more.starts_with("LD_PRELOAD=")) {
      preload += (preload.empty() ? "" : ":") + more.substr(11);
    } else {
      how.extra.push_back(more);
    }
  }
  if (!preload.empty()) how.extra.push_back("LD_PRELOAD=" + preload);
  subject = std::make_unique<Subject>(how);
}

bool Play::described(milliseconds within) {
  return stage->wait(within, [](const std::vector<Said>& all) {
    for (const Said& s : all) {
      if (s.frame.has_described()) return true;
    }
    return false;
  });
}

bool Play::reads(milliseconds within, size_t from, int64_t since_us) {
  size_t next = from;
  return stage->wait(within, [&](const std::vector<Said>& all) {
    for (; next < all.size(); ++next) {
      for (const v1::PluginReading& r : all[next].frame.batch().readings()) {
        if ((r.has_value() || r.has_fix()) && r.mono_us() >= since_us) return true;
      }
    }
    return false;
  });
}

std::vector<v1::PluginChannel> Play::channels() const {
  for (const Said& s : stage->said()) {
    if (!s.frame.has_described()) continue;
    const auto& list = s.frame.described().channels();
    return {list.begin(), list.end()};
  }
  return {};
}

std::vector<v1::PluginReading> Play::readings(size_t from) const {
  std::vector<v1::PluginReading> out;
  std::vector<Said> all = stage->said();
  uint64_t last = 0;
  for (size_t i = 0; i < all.size(); ++i) {
    if (!all[i].frame.has_batch()) continue;
    const v1::PluginBatch& batch = all[i].frame.batch();
    if (batch.batch_seq() <= last) continue;
    last = batch.batch_seq();
    if (i >= from) out.insert(out.end(), batch.readings().begin(), batch.readings().end());
  }
  return out;
}

bool Play::beats_within(milliseconds within) {
  size_t next = mark();
  return stage->wait(within, [&](const std::vector<Said>& all) {
    for (; next < all.size(); ++next) {
      if (all[next].frame.has_heartbeat()) return true;
    }
    return false;
  });
}

int64_t Play::sleep(milliseconds time) {
  constexpr int64_t kStepUs = 10'000;
  const int64_t until_us = mono_now_us() + 1000 * time.count();
  int64_t worst_us = 0;
  for (int64_t now_us = mono_now_us(); now_us < until_us;) {
    int64_t due_us = std::min(now_us + kStepUs, until_us);
    std::this_thread::sleep_for(std::chrono::microseconds(due_us - now_us));
    now_us = mono_now_us();
    worst_us = std::max(worst_us, now_us - due_us);
  }
  return worst_us;
}

const std::vector<GroupEntry>& all_groups() {
  static const std::vector<GroupEntry> groups = {
      {1, "handshake: versions, session, refusal", handshake},
      {2, "description: channels, units, ranges", description},
      {3, "bad settings are refused and the field is named", bad_settings},
      {4, "batches without a hole, both clocks, in order", order_and_clocks},
      {5, "heartbeat goes on with an idle instrument", heartbeat},
      {6, "every value fits its channel", values},
      {7, "a host that does not read: memory bounded, losses marked", deaf_host},
      {8, "after a reconnect everything unacknowledged comes again", replay},
      {9, "ends when asked, and when its host is gone", endings},
      {10, "stopped and continued: no invented readings", stopped},
      {11, "instrument silent, garbled, unplugged", device},
      {12, "wall clock stepped by an hour", clock_step},
      {13, "files, processes and output", hygiene},
      {14, "recorded bytes give the expected readings", golden},
      {15, "soak: rate, memory, processor", soak},
  };
  return groups;
}

}  // namespace fairlead::conformance
