// fairlead-plugin-check: plays the daemon against any plugin and says where it breaks the contract.
// Exit code: how many of the 15 groups failed; 64 for a wrong command line.
#include <fmt/format.h>
#include <google/protobuf/stubs/logging.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <charconv>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <sstream>
#include <thread>
#include <utility>

#include "tests/conformance/play.h"

namespace fairlead::conformance {
namespace {

constexpr const char* kHelp =
    R"(fairlead-plugin-check [options] PROGRAM [-- ARGUMENT...]
Plays the daemon against a sensor plug-in and checks 15 groups of cases.

  --config FILE       its settings; {device} and {port} in them become the instrument below
  --wire pty|tcp      what the instrument hangs on
  --device FILE       what the instrument says: a script of < BYTES, <" TEXT, > BYTES, = MS
  --expect FILE       the readings one round of that script must give, one JSON object a line
  --write-expect FILE writes them instead, to be read over by a person
  --preload FILE      a library put before the plugin's own (may be given again)
  --clock-shim FILE   the library by which group 12 steps the plugin's clock; found by itself
  --only N[,N...]     only these groups
  --quick             short forms of groups 07, 11 and 15
  --stall S           seconds the host is deaf in group 07 (30)
  --frames N          damaged frames in group 11 (10000)
  --soak S            seconds of group 15 (60); an hour is 3600
  --jobs N            groups at a time (8)
  --json FILE         the result as JSON too
TAP goes to stdout. The exit code is the number of failed groups.
)";

bool to_int(const std::string& text, int& value) {
  auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc() && end == text.data() + text.size() && value >= 0;
}

std::string slurp(const std::string& path, std::string& wrong) {
  std::ifstream file(path, std::ios::binary);
  if (!file) wrong = path + ": cannot be read; check the path";
  return {std::istreambuf_iterator<char>(file), {}};
}

// A bare name is looked for here, then where the shell would.
std::filesystem::path found(const std::filesystem::path& program, std::error_code& error) {
  std::filesystem::path here = std::filesystem::canonical(program, error);
  const char* path = std::getenv("PATH");
  if (!error || program.has_parent_path() || path == nullptr) return here;
  std::istringstream folders(path);
  for (std::string folder; std::getline(folders, folder, ':');) {
    here = std::filesystem::canonical(folder / program, error);
    if (!error) return here;
  }
  return {};
}

// One option with its value; empty: taken.
std::string take(const std::string& name, const std::string& value, Options& o) {
  std::string wrong;
  if (name == "--config") {
    o.config = slurp(value, wrong);
  } else if (name == "--wire") {
    if (value != "pty" && value != "tcp") return "--wire: give pty or tcp";
    o.wire = value == "pty" ? Wire::Kind::kPty : Wire::Kind::kTcp;
  } else if (name == "--device") {
    auto script = read_script(value);
    if (!script) return script.error().message;
    o.script = std::move(*script);
  } else if (name == "--expect") {
    o.expect = value;
  } else if (name == "--write-expect") {
    o.write_expect = value;
  } else if (name == "--preload") {
    o.preload.push_back(std::filesystem::absolute(value).string());  // It runs in another folder.
  } else if (name == "--clock-shim") {
    o.clock_shim = std::filesystem::absolute(value);
  } else if (name == "--json") {
    o.json = value;
  } else if (name == "--only") {
    std::string rest = value + ",";
    for (size_t comma = 0; (comma = rest.find(',')) != std::string::npos;) {
      int number = 0;
      if (!to_int(rest.substr(0, comma), number)) return "--only: give numbers, e.g. 4,6";
      o.only.push_back(number);
      rest.erase(0, comma + 1);
    }
  } else {
    int* number = name == "--stall"    ? &o.stall_s
                  : name == "--frames" ? &o.frames
                  : name == "--soak"   ? &o.soak_s
                  : name == "--jobs"   ? &o.jobs
                                       : nullptr;
    if (number == nullptr) return name + ": unknown option; see --help";
    if (!to_int(value, *number)) return name + ": give a whole number";
  }
  return wrong;
}

std::string read_options(int argc, char** argv, Options& o) {
  for (int i = 1; i < argc; ++i) {
    std::string name = argv[i];
    if (name == "--") {
      o.arguments.assign(argv + i + 1, argv + argc);
      break;
    }
    if (name == "--quick") {
      // The long form of the tests turns the short forms into full ones.
      const char* soak_s = std::getenv("FAIRLEAD_PLUGIN_CHECK_SOAK");
      if (soak_s != nullptr && to_int(soak_s, o.soak_s)) continue;
      alarm(110);  // Short forms take 20 s; a kit that hangs must not hold the tests up.
      o.stall_s = 3;
      o.frames = 300;
      o.soak_s = 4;
      continue;
    }
    if (!name.starts_with("--")) {
      if (!o.program.empty()) return name + ": only one program; put its arguments behind --";
      o.program = name;
      continue;
    }
    if (i + 1 >= argc) return name + ": its value is missing";
    if (std::string wrong = take(name, argv[++i], o); !wrong.empty()) return wrong;
  }
  std::error_code error;
  if (o.program.empty()) return "name the program to check; see --help";
  std::filesystem::path named = std::exchange(o.program, found(o.program, error));
  if (error) return named.string() + ": the program cannot be found: " + error.message();
  if (o.clock_shim.empty()) {
    std::filesystem::path here = std::filesystem::read_symlink("/proc/self/exe", error);
    std::filesystem::path beside = here.parent_path() / "libfairlead-clock-shim.so";
    bool built = std::filesystem::exists(beside, error);
    o.clock_shim =
        built ? beside
              : here.parent_path().parent_path() / "lib/fairlead/libfairlead-clock-shim.so";
  }
  if (o.wire.has_value() != !o.script.empty()) return "--wire and --device go together";
  return {};
}

std::vector<Findings> run_all(const Options& o) {
  std::vector<GroupEntry> chosen;
  for (const GroupEntry& group : all_groups()) {
    bool wanted =
        o.only.empty() || std::find(o.only.begin(), o.only.end(), group.number) != o.only.end();
    if (wanted) chosen.push_back(group);
  }
  std::vector<Findings> all(chosen.size());
  std::atomic<size_t> next = 0;
  std::vector<std::thread> workers;
  for (int i = 0; i < std::clamp(o.jobs, 1, 15); ++i) {
    workers.emplace_back([&] {
      for (size_t at = next++; at < chosen.size(); at = next++) {
        all[at].group = chosen[at].number;
        all[at].title = chosen[at].title;
        chosen[at].run(o, all[at]);
        // A thousand readings pass one case.
        std::vector<std::string>& passed = all[at].passed;
        std::sort(passed.begin(), passed.end());
        passed.erase(std::unique(passed.begin(), passed.end()), passed.end());
      }
    });
  }
  for (std::thread& worker : workers) worker.join();
  return all;
}

}  // namespace
}  // namespace fairlead::conformance

int main(int argc, char** argv) {
  using namespace fairlead::conformance;
  for (int i = 1; i < argc; ++i) {
    if (std::string(argv[i]) == "--help") {
      fmt::print("{}", kHelp);
      return 0;
    }
    if (std::string(argv[i]) == "--") break;
  }
  google::protobuf::SetLogHandler(nullptr);
  Options options;
  if (std::string wrong = read_options(argc, argv, options); !wrong.empty()) {
    fmt::print(stderr, "fairlead-plugin-check: {}\n", wrong);
    return 64;
  }
  std::vector<Findings> all = run_all(options);
  print_tap(all);
  if (!options.json.empty()) std::ofstream(options.json) << to_json(options.program, all);
  auto failures = std::count_if(all.begin(), all.end(), [](auto& f) { return !f.failed.empty(); });
  return static_cast<int>(failures);
}
