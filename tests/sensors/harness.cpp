#include "tests/sensors/harness.h"

#include <gtest/gtest.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <fstream>
#include <iterator>

namespace fairlead::test {

namespace {
using namespace std::chrono_literals;

int bound_socket(int& port) {
  int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  EXPECT_EQ(bind(fd, reinterpret_cast<sockaddr*>(&address), size), 0);
  EXPECT_EQ(getsockname(fd, reinterpret_cast<sockaddr*>(&address), &size), 0);
  port = ntohs(address.sin_port);
  return fd;
}
}  // namespace

TempDir::TempDir() {
  std::string name = (std::filesystem::temp_directory_path() / "fairlead-test-XXXXXX").string();
  EXPECT_NE(mkdtemp(name.data()), nullptr);
  path_ = name;
}

TempDir::~TempDir() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

int free_port() {
  int port = 0;
  close(bound_socket(port));
  return port;
}

bool eventually(const std::function<bool()>& condition, std::chrono::milliseconds within) {
  for (auto waited = 0ms; !condition(); waited += 10ms) {
    if (waited > within) return false;
    std::this_thread::sleep_for(10ms);
  }
  return true;
}

Lateness::Lateness() {
  thread_ = std::thread([this] {
    while (!ending_) {
      auto due = std::chrono::steady_clock::now() + 5ms;
      std::this_thread::sleep_until(due);
      auto late = std::chrono::steady_clock::now() - due;
      int64_t late_us = std::chrono::duration_cast<std::chrono::microseconds>(late).count();
      worst_us_ = std::max(worst_us_.load(), late_us);
    }
  });
}

Lateness::~Lateness() {
  ending_ = true;
  thread_.join();
}

std::chrono::milliseconds Lateness::stretched(std::chrono::milliseconds limit) const {
  return limit + std::chrono::milliseconds(4 * worst_us_ / 1000);
}

Program::Program(const std::filesystem::path& program, const std::vector<std::string>& arguments) {
  auto spawned = sensors::Process::spawn(program, arguments);
  EXPECT_TRUE(spawned) << (spawned ? "" : spawned.error().message);
  if (!spawned) return;
  process_ = std::move(*spawned);
  reader_ = std::thread([this] {
    std::array<char, 65536> buffer;
    while (!ending_) {
      pollfd fd{process_.output_fd(), POLLIN, 0};
      poll(&fd, 1, 50);
      ssize_t got = read(process_.output_fd(), buffer.data(), buffer.size());
      if (got == 0) return;
      std::lock_guard lock(mutex_);
      if (got > 0) output_.append(buffer.data(), static_cast<size_t>(got));
    }
  });
}

Program::~Program() {
  process_.signal_group(SIGTERM);
  std::string how;
  eventually([&] { return process_.reap(how); }, 1s);
  ending_ = true;
  if (reader_.joinable()) reader_.join();
}

std::string Program::output() const {
  std::lock_guard lock(mutex_);
  return output_;
}

int Program::port() const {
  constexpr std::string_view kWords = "listening on 127.0.0.1:";
  int port = 0;
  eventually([&] {
    std::string text = output();
    size_t at = text.find(kWords);
    if (at == std::string::npos || text.find('\n', at) == std::string::npos) return false;
    port = std::atoi(text.c_str() + at + kWords.size());
    return true;
  });
  return port;
}

void Program::kill(int signal) {
  process_.signal_group(signal);
  std::string how;
  EXPECT_TRUE(eventually([&] { return process_.reap(how); }));
}

FileFeeder::FileFeeder(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(in), {}};
  listener_ = bound_socket(port_);
  EXPECT_EQ(listen(listener_, 1), 0);
  thread_ = std::thread([this, text] { run(text); });
}

FileFeeder::~FileFeeder() {
  ending_ = true;
  thread_.join();
  close(listener_);
}

void FileFeeder::run(const std::string& text) {
  pollfd fd{listener_, POLLIN, 0};
  while (!ending_ && poll(&fd, 1, 50) <= 0) continue;
  if (ending_) return;
  int client = accept(listener_, nullptr, nullptr);
  while (!ending_ && !go_) std::this_thread::sleep_for(5ms);
  for (size_t at = 0; at < text.size() && !ending_;) {
    size_t end = text.find('\n', at);
    end = end == std::string::npos ? text.size() : end + 1;
    if (send(client, text.data() + at, end - at, MSG_NOSIGNAL) < 0) break;
    at = end;
    std::this_thread::sleep_for(1ms);
  }
  done_ = true;
  while (!ending_) std::this_thread::sleep_for(5ms);
  close(client);
}

sensors::Sink Collector::sink() {
  return [this](v1::Observation observation) {
    if (full_) return false;
    std::lock_guard lock(mutex_);
    entries_.push_back({std::move(observation), std::chrono::steady_clock::now()});
    return true;
  };
}

std::vector<Collector::Entry> Collector::all() const {
  std::lock_guard lock(mutex_);
  return entries_;
}

std::vector<v1::Observation> Collector::of(const std::string& source) const {
  std::vector<v1::Observation> out;
  std::lock_guard lock(mutex_);
  for (const Entry& e : entries_) {
    if (e.observation.source() == source) out.push_back(e.observation);
  }
  return out;
}

std::vector<double> Collector::values(const std::string& source, const std::string& signal) const {
  std::vector<double> out;
  std::lock_guard lock(mutex_);
  for (const Entry& e : entries_) {
    const v1::Observation& o = e.observation;
    if (o.source() == source && o.has_sample() && o.sample().signal() == signal) {
      out.push_back(o.sample().value());
    }
  }
  return out;
}

size_t Collector::size() const {
  std::lock_guard lock(mutex_);
  return entries_.size();
}

bool Collector::has_gap(const std::string& source, const std::string& words, size_t from) const {
  std::lock_guard lock(mutex_);
  for (size_t i = from; i < entries_.size(); ++i) {
    const v1::Observation& o = entries_[i].observation;
    if (o.source() == source && o.has_gap() && o.gap().cause().find(words) != std::string::npos) {
      return true;
    }
  }
  return false;
}

bool Collector::has_state(const std::string& source, const std::string& words, size_t from) const {
  std::lock_guard lock(mutex_);
  for (size_t i = from; i < entries_.size(); ++i) {
    const v1::Observation& o = entries_[i].observation;
    if (o.source() == source && o.has_sensor() &&
        o.sensor().state().find(words) != std::string::npos) {
      return true;
    }
  }
  return false;
}

Host::Host(std::vector<sensors::PluginSpec> specs, sensors::Limits limits) {
  sensors::SupervisorOptions options;
  options.runtime_dir = dir.path() / "run";
  options.limits = limits;
  options.log = [this](std::string_view line) {
    std::lock_guard lock(mutex_);
    log_ += std::string(line) + "\n";
  };
  auto started = sensors::Supervisor::start(std::move(options), std::move(specs), seen.sink());
  EXPECT_TRUE(started) << (started ? "" : started.error().message);
  if (started) supervisor_ = std::move(*started);
}

sensors::Health Host::health_of(const std::string& id) const {
  for (const sensors::Health& h : supervisor_->health()) {
    if (h.id == id) return h;
  }
  ADD_FAILURE() << "no plugin " << id;
  return {};
}

int Host::pid_of(const std::string& id) const { return health_of(id).pid; }

std::string Host::log() const {
  std::lock_guard lock(mutex_);
  return log_;
}

}  // namespace fairlead::test
