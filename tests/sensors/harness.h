// What the sensor tests share: private folders, free ports, real programs as children, a stream of
// bytes on a port, and the observations a supervisor delivered.
#pragma once

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "daemon/sensors/process.h"
#include "daemon/sensors/supervisor.h"

namespace fairlead::test {

/// A private folder, gone at the end.
class TempDir {
 public:
  TempDir();
  ~TempDir();
  TempDir(const TempDir&) = delete;
  TempDir& operator=(const TempDir&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// A TCP port nobody listens on now.
int free_port();

/// How late this machine wakes a thread that sleeps 5 ms, at worst since it was made: other work on
/// it is not the fault of what is tested.
class Lateness {
 public:
  Lateness();
  ~Lateness();
  /// The limit, and room for a chain of four threads that are all as late.
  [[nodiscard]] std::chrono::milliseconds stretched(std::chrono::milliseconds limit) const;

 private:
  std::atomic<int64_t> worst_us_ = 0;
  std::atomic<bool> ending_ = false;
  std::thread thread_;
};

/// Waits until the condition holds, at most so long: in turns of 10 ms, so that a machine that does
/// not give us the time gives as much more of it.
bool eventually(const std::function<bool()>& condition,
                std::chrono::milliseconds within = std::chrono::seconds(10));

/// A program and all it prints. Killed at the end.
class Program {
 public:
  Program(const std::filesystem::path& program, const std::vector<std::string>& arguments);
  ~Program();
  [[nodiscard]] std::string output() const;
  /// First "listening on 127.0.0.1:PORT" it prints; 0 when it does not come.
  [[nodiscard]] int port() const;
  void kill(int signal);
  [[nodiscard]] int pid() const { return process_.pid(); }

 private:
  sensors::Process process_;
  mutable std::mutex mutex_;
  std::string output_;
  std::atomic<bool> ending_ = false;
  std::thread reader_;
};

/// Plays a file's lines to whoever connects, once told to.
class FileFeeder {
 public:
  explicit FileFeeder(const std::filesystem::path& file);
  ~FileFeeder();
  [[nodiscard]] int port() const { return port_; }
  void go() { go_ = true; }
  [[nodiscard]] bool done() const { return done_; }

 private:
  void run(const std::string& text);
  int listener_ = -1;
  int port_ = 0;
  std::atomic<bool> go_ = false;
  std::atomic<bool> done_ = false;
  std::atomic<bool> ending_ = false;
  std::thread thread_;
};

/// Collects what a supervisor delivers.
class Collector {
 public:
  struct Entry {
    v1::Observation observation;
    std::chrono::steady_clock::time_point at;
  };
  sensors::Sink sink();
  void set_full(bool full) { full_ = full; }
  [[nodiscard]] std::vector<Entry> all() const;
  [[nodiscard]] std::vector<v1::Observation> of(const std::string& source) const;
  [[nodiscard]] std::vector<double> values(const std::string& source,
                                           const std::string& signal) const;
  [[nodiscard]] size_t size() const;
  /// A gap of the source whose cause holds these words, at or after entry `from`.
  [[nodiscard]] bool has_gap(const std::string& source, const std::string& words,
                             size_t from = 0) const;
  [[nodiscard]] bool has_state(const std::string& source, const std::string& words,
                               size_t from = 0) const;

 private:
  mutable std::mutex mutex_;
  std::vector<Entry> entries_;
  std::atomic<bool> full_ = false;
};

/// A supervisor in a private folder with its log.
class Host {
 public:
  Host(std::vector<sensors::PluginSpec> specs, sensors::Limits limits = {});
  Collector seen;
  TempDir dir;
  [[nodiscard]] sensors::Supervisor& supervisor() { return *supervisor_; }
  [[nodiscard]] int pid_of(const std::string& id) const;
  [[nodiscard]] sensors::Health health_of(const std::string& id) const;
  [[nodiscard]] std::string log() const;

 private:
  mutable std::mutex mutex_;
  std::string log_;
  std::unique_ptr<sensors::Supervisor> supervisor_;
};

}  // namespace fairlead::test
