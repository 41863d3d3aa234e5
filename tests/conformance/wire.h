// The instrument as the kit plays it, at the other end of a pty or a TCP port, from a script:
//
//   # words for people
//   < 02 1F 30        the instrument says these bytes
//   <" {"a":1}        the instrument says this text and a line's end
//   > 01 04 00 ..     the plugin asks this; ".." is any byte
//   = 250             milliseconds go by
//
// A script is played over and over. It can be interrupted by silence, rubbish, damaged bytes, and a
// pulled cable.
//
// Threads: any; the instrument is a thread of its own.
#pragma once

#include <atomic>
#include <filesystem>
#include <mutex>
#include <optional>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead::conformance {

struct Line {
  enum Kind { kSay, kExpect, kWait } kind = kSay;
  std::string bytes;
  std::vector<bool> any;  // kExpect: bytes that may be anything.
  int wait_ms = 0;
};
/// Errors: kBadInput with the line's number.
[[nodiscard]] Result<std::vector<Line>> read_script(const std::filesystem::path& file);

enum class Mode { kPlay, kSilent, kGarbage, kDamaged };

class Wire {
 public:
  enum class Kind { kPty, kTcp };
  /// The pty is found at `link`; a TCP port is taken by itself.
  Wire(Kind kind, std::filesystem::path link, std::vector<Line> script);
  ~Wire();
  Wire(const Wire&) = delete;
  Wire& operator=(const Wire&) = delete;

  [[nodiscard]] int port() const { return port_; }
  void set_mode(Mode mode) { mode_ = mode; }
  /// Pulls the cable; plugged in again with the same name.
  void unplug();
  void plug();
  /// Waits of the script are divided by this.
  void set_speed(int times) { speed_ = times; }
  [[nodiscard]] uint64_t rounds() const { return rounds_; }
  [[nodiscard]] uint64_t damaged() const { return damaged_; }
  /// What the plugin asked that was not in the script, once.
  [[nodiscard]] std::string surprise() const;

 private:
  void run();
  bool play(const Line& line);
  bool expect(const Line& line);
  void say(std::string bytes);
  void pause(int ms);
  void open_up();
  void close_down();
  bool meet();

  const Kind kind_;
  const std::filesystem::path link_;
  const std::vector<Line> script_;
  int port_ = 0;
  mutable std::mutex mutex_;  // The descriptors and surprise_.
  int listener_ = -1;
  int end_ = -1;
  int held_ = -1;  // The pty's other side, so that it stays between two openings.
  std::string surprise_;
  std::mt19937 random_{20261129};
  std::atomic<Mode> mode_ = Mode::kPlay;
  std::atomic<int> speed_ = 1;
  std::atomic<uint64_t> rounds_ = 0;
  std::atomic<uint64_t> damaged_ = 0;
  std::atomic<bool> ending_ = false;
  std::thread thread_;
};

}  // namespace fairlead::conformance
