// fairlead-bench-watch: how long after a line came a truck has judged it. The reference job's lines
// are handed to the truck's Watch on the wall clock, --speed times as fast as they were read, and
// each is timed from then until findings come out that it is in. Lines of people are judged at
// once, readings as often as the truck does that (--every milliseconds).
//
//   fairlead-bench-watch [--speed N] [--every MS] [--seconds S] [--procedure ID]
//   [--source CHECKOUT] [--tiny]
//
// Exit 1 when a line was never judged.
#include <fmt/core.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <mutex>
#include <thread>

#include "daemon/base/time_text.h"
#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/checkpoint.h"
#include "daemon/watch/shelf.h"
#include "daemon/watch/watch.h"
#include "tests/bench/measure.h"
#include "tests/bench/reference_job.h"

namespace fairlead::bench {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

ledger::Options options_in(const fs::path& folder) {
  const auto secret = std::make_shared<const SecretKey>(SecretKey::generate());
  ledger::Options options;
  options.folder = folder / "ledger";
  options.head_file = folder / "head";
  options.signer = ledger::LogSigner{
      *record::make_verifier_key(*record::origin_of("bench", 1), record::NoteKeyType::kEd25519,
                                 secret->public_key()),
      secret};
  return options;
}

Status add_files(const fs::path& folder, watch::Shelf& shelf, ledger::Ledger& ledger) {
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder, error)) {
    if (entry.path().extension() != ".textproto") continue;
    std::ifstream in(entry.path(), std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
    v1::RegisterFileBody file;
    file.set_name(entry.path().filename().string());
    file.set_content(bytes);
    const auto kind = watch::kind_of_file(file.name(), bytes);
    if (!kind) return std::unexpected(kind.error());
    file.set_kind(*kind);
    if (auto put = ledger.put_file(bytes); !put) return std::unexpected(put.error());
    shelf.add(file, 0, 0);
  }
  return {};
}

// When each line came, and when it was first in a judging.
class Times {
 public:
  void came() {
    const std::lock_guard lock(mutex_);
    came_.push_back(Clock::now());
  }
  void judged(size_t lines) {
    const auto now = Clock::now();
    const std::lock_guard lock(mutex_);
    for (; took_ms_.size() < std::min(lines, came_.size());)
      took_ms_.push_back(
          std::chrono::duration<double, std::milli>(now - came_[took_ms_.size()]).count());
  }
  [[nodiscard]] size_t known() {
    const std::lock_guard lock(mutex_);
    return took_ms_.size();
  }
  [[nodiscard]] const std::vector<double>& took_ms() const { return took_ms_; }

 private:
  std::mutex mutex_;
  std::vector<Clock::time_point> came_;
  std::vector<double> took_ms_;
};

void print(const char* what, std::vector<double> took_ms) {
  std::ranges::sort(took_ms);
  const auto share = [&](size_t percent) { return took_ms[(took_ms.size() - 1) * percent / 100]; };
  if (took_ms.empty()) return;
  fmt::print("{:9} {:6} lines: {:.1f} ms p50, {:.1f} ms p99, {:.1f} ms most\n", what,
             took_ms.size(), share(50), share(99), share(100));
}

Status run(std::span<char*> arguments) {
  const bool tiny = flag_option(arguments, "--tiny");
  const int speed = number_option(arguments, "--speed", tiny ? 300 : 4);
  const int every_ms = number_option(arguments, "--every", 250);
  const int seconds = number_option(arguments, "--seconds", 25 * 60);
  if (speed < 1 || every_ms < 1 || seconds < 1)
    return fail(Code::kBadInput, "--speed, --every and --seconds: give whole numbers from 1");
  const std::string source = text_option(arguments, "--source", ".");
  auto said = said_lines(source);
  if (!said) return std::unexpected(said.error());
  for (auto& line : *said) {
    if (!line.has_opened()) continue;
    line.mutable_opened()->clear_procedures();
    line.mutable_opened()->add_procedures(text_option(arguments, "--procedure", "load"));
  }
  const auto lines = reference_job(*said, "bench", 0);
  const fs::path folder = fs::temp_directory_path() / fmt::format("bench-watch-{}", getpid());
  fs::create_directories(folder);
  auto opened = ledger::open_sqlite(options_in(folder));
  if (!opened) return std::unexpected(opened.error());
  ledger::Ledger& own = **opened;
  watch::Shelf shelf;
  for (const char* files : {"/daemon/judge/procedures", "/clients/sim/fleet"}) {
    if (auto ok = add_files(source + files, shelf, own); !ok) return ok;
  }
  Times times;
  size_t handed = 0;
  const Stopwatch whole;
  {
    watch::WatchOptions options;
    options.pins = [&](const v1::Opened& job) { return shelf.pins_for(job); };
    options.at_most_every = std::chrono::milliseconds(every_ms);
    watch::Watch watch(own, options);
    if (auto ok = watch.load(); !ok) return ok;
    (void)watch.subscribe([&](const watch::JobNews& news) { times.judged(news.view.lines); });
    const int64_t first_us = *parse_time_us(lines.front().time());
    const auto begun = Clock::now();
    for (const auto& line : lines) {
      const int64_t at_us = *parse_time_us(line.time()) - first_us;
      if (at_us > seconds * 1'000'000LL || line.has_closed()) break;
      std::this_thread::sleep_until(begun + std::chrono::microseconds(at_us / speed));
      times.came();
      watch.line(line);
      ++handed;
    }
    for (int i = 0; i < 500 && times.known() < handed; ++i)
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  fs::remove_all(folder);
  if (handed == 0 || times.known() != handed)
    return fail(Code::kInternal, fmt::format("{} of {} lines were judged", times.known(), handed));
  std::vector<double> words, readings;
  for (size_t i = 0; i < handed; ++i)
    (lines[i].has_sample() || lines[i].has_fix() ? readings : words).push_back(times.took_ms()[i]);
  fmt::print(
      "{} lines at {} times their pace, judged for readings each {} ms at most; {:.1f} s, "
      "{:.2f} CPU-s\n",
      handed, speed, every_ms, whole.wall_s(), whole.cpu_s());
  print("words", words);
  print("readings", readings);
  return {};
}

}  // namespace
}  // namespace fairlead::bench

int main(int count, char** arguments) {
  const auto done = fairlead::bench::run({arguments, static_cast<size_t>(count)});
  if (done) return 0;
  fmt::print(stderr, "fairlead-bench-watch: {}\n", done.error().message);
  return 1;
}
