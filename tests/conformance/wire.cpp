#include "tests/conformance/wire.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <netinet/in.h>
#include <poll.h>
#include <pty.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <fstream>
#include <sstream>
#include <utility>

namespace fairlead::conformance {

namespace {
constexpr int kAnswerWithinMs = 300;

bool read_bytes(const std::string& text, Line& line) {
  std::istringstream words(text);
  std::string word;
  while (words >> word) {
    unsigned value = 0;
    bool any = word == "..";
    auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value, 16);
    if (!any && (error != std::errc() || end != word.data() + word.size() || value > 255)) {
      return false;
    }
    line.bytes += static_cast<char>(value);
    line.any.push_back(any);
  }
  return !line.bytes.empty();
}
}  // namespace

Result<std::vector<Line>> read_script(const std::filesystem::path& file) {
  std::ifstream in(file);
  if (!in) return fail(Code::kNotFound, file.string() + ": cannot be read; check the path");
  std::vector<Line> script;
  std::string text;
  for (int number = 1; std::getline(in, text); ++number) {
    if (text.empty() || text[0] == '#') continue;
    Line line;
    bool good = true;
    if (text.starts_with("<\" ")) {
      line.bytes = text.substr(3) + "\r\n";
    } else if (text.starts_with("< ") || text.starts_with("> ")) {
      line.kind = text[0] == '<' ? Line::kSay : Line::kExpect;
      good = read_bytes(text.substr(2), line);
    } else if (text.starts_with("= ")) {
      line.kind = Line::kWait;
      auto [end, error] = std::from_chars(text.data() + 2, text.data() + text.size(), line.wait_ms);
      good = error == std::errc() && end == text.data() + text.size();
    } else {
      good = false;
    }
    if (!good) {
      return fail(Code::kBadInput, fmt::format("{}:{}: is no line of a script; write < BYTES, <\" "
                                               "TEXT, > BYTES or = MILLISECONDS",
                                               file.string(), number));
    }
    script.push_back(std::move(line));
  }
  if (script.empty()) return fail(Code::kBadInput, file.string() + ": has no line to play");
  return script;
}

Wire::Wire(Kind kind, std::filesystem::path link, std::vector<Line> script)
    : kind_(kind), link_(std::move(link)), script_(std::move(script)) {
  open_up();
  thread_ = std::thread([this] { run(); });
}

Wire::~Wire() {
  ending_ = true;
  thread_.join();
  close_down();
}

void Wire::open_up() {
  std::lock_guard lock(mutex_);
  if (kind_ == Kind::kPty) {
    std::array<char, 256> name{};
    if (openpty(&end_, &held_, name.data(), nullptr, nullptr) != 0) return;
    termios raw{};
    tcgetattr(held_, &raw);
    cfmakeraw(&raw);
    tcsetattr(held_, TCSANOW, &raw);
    for (int fd : {end_, held_}) fcntl(fd, F_SETFD, FD_CLOEXEC);
    fcntl(end_, F_SETFL, O_NONBLOCK);
    std::error_code ignored;
    std::filesystem::remove(link_, ignored);
    std::filesystem::create_symlink(name.data(), link_, ignored);
    return;
  }
  listener_ = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
  int yes = 1;
  setsockopt(listener_, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(static_cast<uint16_t>(port_));
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  bind(listener_, reinterpret_cast<sockaddr*>(&address), size);
  listen(listener_, 4);
  getsockname(listener_, reinterpret_cast<sockaddr*>(&address), &size);
  port_ = ntohs(address.sin_port);
}

void Wire::close_down() {
  std::lock_guard lock(mutex_);
  for (int* fd : {&listener_, &end_, &held_}) {
    if (*fd >= 0) close(std::exchange(*fd, -1));
  }
  std::error_code ignored;
  if (kind_ == Kind::kPty) std::filesystem::remove(link_, ignored);
}

void Wire::unplug() { close_down(); }

void Wire::plug() { open_up(); }

std::string Wire::surprise() const {
  std::lock_guard lock(mutex_);
  return surprise_;
}

// True when somebody is at the other end. Whoever dials later takes over.
bool Wire::meet() {
  std::lock_guard lock(mutex_);
  if (kind_ == Kind::kPty) return end_ >= 0;
  int later =
      listener_ < 0 ? -1 : accept4(listener_, nullptr, nullptr, SOCK_CLOEXEC | SOCK_NONBLOCK);
  if (later >= 0) {
    if (end_ >= 0) close(end_);
    end_ = later;
  }
  return end_ >= 0;
}

void Wire::run() {
  while (!ending_) {
    if (!meet()) {
      pause(10);
      continue;
    }
    bool whole = true;
    for (const Line& line : script_) {
      if (ending_ || !meet()) break;
      whole = play(line) && whole;
      if (!whole) break;
    }
    if (whole) ++rounds_;
  }
}

bool Wire::play(const Line& line) {
  if (mode_ == Mode::kSilent) {
    pause(20);
    return false;
  }
  if (mode_ == Mode::kGarbage) {
    std::string rubbish(64, '\0');
    for (char& c : rubbish) c = static_cast<char>(random_());
    say(rubbish);
    pause(10);
    return false;
  }
  switch (line.kind) {
    case Line::kSay:
      say(line.bytes);
      return true;
    case Line::kExpect:
      return expect(line);
    case Line::kWait:
      pause(mode_ == Mode::kDamaged ? 1 : std::max(1, line.wait_ms / speed_));
      return true;
  }
  return true;
}

bool Wire::expect(const Line& line) {
  std::string got;
  auto until = std::chrono::steady_clock::now() + std::chrono::milliseconds(kAnswerWithinMs);
  while (got.size() < line.bytes.size() && !ending_ && std::chrono::steady_clock::now() < until) {
    char byte = 0;
    ssize_t n = 0;
    {
      std::lock_guard lock(mutex_);
      n = end_ < 0 ? -1 : read(end_, &byte, 1);
    }
    if (n == 1) {
      got += byte;
    } else {
      pause(1);
    }
  }
  bool same = got.size() == line.bytes.size();
  for (size_t i = 0; same && i < got.size(); ++i) same = line.any[i] || got[i] == line.bytes[i];
  std::lock_guard lock(mutex_);
  if (!same && !got.empty() && mode_ == Mode::kPlay && surprise_.empty()) {
    for (char c : got) surprise_ += fmt::format("{:02X} ", static_cast<unsigned char>(c));
  }
  return same;
}

void Wire::say(std::string bytes) {
  if (mode_ == Mode::kDamaged) {
    ++damaged_;
    size_t at = random_() % bytes.size();
    switch (random_() % 4) {
      case 0:
        bytes[at] = static_cast<char>(bytes[at] ^ (1 << (random_() % 8)));
        break;
      case 1:
        bytes[at] = static_cast<char>(random_());
        break;
      case 2:
        bytes.erase(at, 1 + random_() % 4);
        break;
      default:
        bytes.insert(at, 1, static_cast<char>(random_()));
    }
  }
  std::lock_guard lock(mutex_);
  if (end_ < 0) return;
  if (kind_ == Kind::kPty) {
    (void)!write(end_, bytes.data(), bytes.size());
  } else if (send(end_, bytes.data(), bytes.size(), MSG_NOSIGNAL) < 0 && errno != EAGAIN) {
    close(std::exchange(end_, -1));
  }
}

void Wire::pause(int ms) {
  auto until = std::chrono::steady_clock::now() + std::chrono::milliseconds(ms);
  while (!ending_ && std::chrono::steady_clock::now() < until) {
    std::this_thread::sleep_for(std::chrono::milliseconds(std::min(ms, 20)));
  }
}

}  // namespace fairlead::conformance
