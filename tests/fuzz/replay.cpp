// Runs a fuzz target without libFuzzer: its seeds as they are, then a fixed series of mutations of
// them, so that every build tests the parsers the same way.
//   fuzz_x [MUTATIONS]     default 200,000, or as many as 10 seconds allow
//   fuzz_x --write FOLDER  writes the seeds as files, a corpus for libFuzzer to start from
// A crash names the mutation; `fuzz_x N` with a number above it runs into it again.

#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <random>

#include "tests/fuzz/target.h"

namespace {

volatile std::sig_atomic_t current = 0;

void tell_and_die(int number) {
  char text[] = "fuzz replay: crashed in mutation 0000000000\n";
  unsigned left = static_cast<unsigned>(current);
  for (size_t at = sizeof text - 3; left > 0; --at, left /= 10) {
    text[at] = static_cast<char>('0' + left % 10);
  }
  if (write(STDERR_FILENO, text, sizeof text - 1) < 0) _exit(1);
  std::signal(number, SIG_DFL);
  std::raise(number);
}

void run(const std::string& input) {
  // An exact copy on the heap, so that a read past the end is seen by a sanitizer.
  const std::vector<uint8_t> bytes(input.begin(), input.end());
  LLVMFuzzerTestOneInput(bytes.data(), bytes.size());
}

std::string mutated(std::string text, const std::vector<std::string>& seeds, std::mt19937_64& rng) {
  const auto below = [&](size_t n) { return n == 0 ? 0 : static_cast<size_t>(rng() % n); };
  for (size_t changes = 1 + below(4); changes > 0; --changes) {
    const size_t at = below(text.size());
    switch (below(7)) {
      case 0:  // A bit.
        if (!text.empty()) text[at] = static_cast<char>(text[at] ^ (1 << below(8)));
        break;
      case 1:  // A byte, often one that means something to a parser.
        if (!text.empty()) text[at] = "\0\xff\x7f\x80\"{}[],:-0e\\\n "[below(18)];
        break;
      case 2:
        text.erase(at, 1 + below(8));
        break;
      case 3:
        text.insert(at, text.substr(below(text.size()), below(16)));
        break;
      case 4:
        text.resize(at);
        break;
      case 5: {  // A splice with another seed.
        const std::string& other = seeds[below(seeds.size())];
        text = text.substr(0, at) + other.substr(below(other.size()));
        break;
      }
      default:  // A big length.
        if (at + 4 <= text.size()) std::memset(text.data() + at, below(2) == 0 ? 0xff : 0, 4);
    }
  }
  return text;
}

int write_seeds(const std::filesystem::path& folder) {
  std::filesystem::create_directories(folder);
  size_t number = 0;
  for (const std::string& seed : fairlead::fuzz::seeds()) {
    std::ofstream file(folder / ("seed-" + std::to_string(number++)), std::ios::binary);
    file << seed;
    if (!file.flush()) return 1;
  }
  return 0;
}

}  // namespace

int main(int count, char** words) {
  if (count == 3 && std::string_view(words[1]) == "--write") return write_seeds(words[2]);
  const unsigned long mutations = count > 1 ? std::strtoul(words[1], nullptr, 10) : 200'000;
  for (int number : {SIGABRT, SIGSEGV, SIGBUS, SIGFPE, SIGILL}) std::signal(number, tell_and_die);
  const std::vector<std::string> seeds = fairlead::fuzz::seeds();
  if (seeds.empty() || mutations == 0) return 2;
  for (const std::string& seed : seeds) run(seed);
  std::mt19937_64 rng(20260302);
  const auto ends = std::chrono::steady_clock::now() + std::chrono::seconds(10);
  unsigned long done = 0;
  for (; done < mutations && std::chrono::steady_clock::now() < ends; ++done) {
    current = static_cast<std::sig_atomic_t>(done + 1);
    run(mutated(seeds[rng() % seeds.size()], seeds, rng));
  }
  std::printf("%zu seeds, %lu mutations\n", seeds.size(), done);
  return 0;
}
