// One performance: a stage, the instrument if there is one, and a fresh plugin between them.
//
// Threads: one. Ownership: everything ends with the Play.
#pragma once

#include <chrono>
#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "tests/conformance/findings.h"
#include "tests/conformance/stage.h"
#include "tests/conformance/subject.h"
#include "tests/conformance/wire.h"

namespace fairlead::conformance {

using std::chrono::milliseconds;

struct Options {
  std::filesystem::path program;
  std::vector<std::string> arguments;
  std::string config;
  std::optional<Wire::Kind> wire;
  std::vector<Line> script;
  std::filesystem::path expect;
  std::filesystem::path write_expect;
  std::vector<std::string> preload;
  std::filesystem::path clock_shim;
  std::vector<int> only;
  std::filesystem::path json;
  int stall_s = 30;
  int soak_s = 60;
  int frames = 10'000;
  int jobs = 8;
};

class Play {
 public:
  /// `change`: applied to the settings before they are handed out. `start`: false to start later.
  explicit Play(const Options& options, const std::string& before = {}, bool start = true);
  ~Play();

  void start(const std::vector<std::string>& extra = {});
  /// Waits for the plugin's description.
  bool described(milliseconds within = milliseconds(6000));
  /// Waits until a reading with content (value or fix), taken at `since_us` of the monotonic clock
  /// or later, has come since frame `from`.
  bool reads(milliseconds within, size_t from = 0, int64_t since_us = 0);
  [[nodiscard]] size_t mark() const { return stage->said().size(); }
  [[nodiscard]] std::vector<v1::PluginChannel> channels() const;
  /// All readings since frame `from`, resent batches once.
  [[nodiscard]] std::vector<v1::PluginReading> readings(size_t from = 0) const;
  [[nodiscard]] bool beats_within(milliseconds within);
  /// Lets it run. How late this thread was woken at worst, microseconds: what other work on the
  /// machine may have cost the plugin too.
  static int64_t sleep(milliseconds time);

  const Options& options;
  std::filesystem::path folder;  // Its own; "home" below is the plugin's.
  std::unique_ptr<Wire> wire;
  std::unique_ptr<Stage> stage;
  std::unique_ptr<Subject> subject;
  std::string session;
  int64_t started_us = 0;
};

using Group = void (*)(const Options& options, Findings& findings);
struct GroupEntry {
  int number;
  const char* title;
  Group run;
};
[[nodiscard]] const std::vector<GroupEntry>& all_groups();

// By number; what each demands stands beside it in its file.
void handshake(const Options&, Findings&);
void description(const Options&, Findings&);
void bad_settings(const Options&, Findings&);
void order_and_clocks(const Options&, Findings&);
void heartbeat(const Options&, Findings&);
void values(const Options&, Findings&);
void deaf_host(const Options&, Findings&);
void replay(const Options&, Findings&);
void endings(const Options&, Findings&);
void stopped(const Options&, Findings&);
void device(const Options&, Findings&);
void clock_step(const Options&, Findings&);
void hygiene(const Options&, Findings&);
void golden(const Options&, Findings&);
void soak(const Options&, Findings&);

}  // namespace fairlead::conformance
