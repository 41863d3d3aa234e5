#include "clients/cli/cmd_feed.h"

#include <fmt/format.h>

#include <chrono>
#include <fstream>
#include <iostream>
#include <thread>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "fairlead/v1/feed_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr int kMostLines = 1'000;
constexpr size_t kMostBytes = size_t{2} << 20;
constexpr std::chrono::seconds kTimeout{60};
constexpr std::chrono::milliseconds kAgain{500};

struct Arguments {
  std::string base, file;
  unsigned wait_s = 0;
  bool json = false;
};

struct Total {
  uint64_t recorded = 0, duplicates = 0, refused = 0;
};

class Feeder {
 public:
  explicit Feeder(const Arguments& arguments)
      : a_(arguments), stub_(v1::FeedService::NewStub(channel_to(arguments.base))) {
    request_.set_name(a_.file == "-" ? "stdin" : a_.file);
  }

  Status run(std::istream& in) {
    std::string line;
    uint32_t number = 0;
    size_t bytes = 0;
    while (std::getline(in, line)) {
      ++number;
      if (request_.line_size() == 0) request_.set_first_line(number);
      bytes += line.size();
      request_.add_line(line);
      // Lines typed or piped in go out one by one; a file goes in batches.
      const bool live = a_.file == "-" && in.rdbuf()->in_avail() <= 0;
      if (!live && request_.line_size() < kMostLines && bytes < kMostBytes) continue;
      if (auto ok = send(); !ok) return ok;
      bytes = 0;
    }
    return request_.line_size() > 0 ? send() : Status{};
  }
  [[nodiscard]] const Total& total() const { return total_; }

 private:
  // The same lines again are duplicates, so a call that got no answer is simply made again.
  Status send() {
    const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(a_.wait_s);
    v1::FeedLinesResponse response;
    for (;;) {
      const auto done = call_base(a_.base, kTimeout, [&](auto& context) {
        return stub_->FeedLines(&context, request_, &response);
      });
      if (done) break;
      if (done.error().code != Code::kUnavailable || std::chrono::steady_clock::now() > until)
        return done;
      std::this_thread::sleep_for(kAgain);
    }
    total_.recorded += response.recorded();
    total_.duplicates += response.duplicates();
    total_.refused += static_cast<uint64_t>(response.refused_size());
    for (const auto& refused : response.refused()) std::cerr << refused.words() << "\n";
    request_.clear_line();
    return {};
  }

  const Arguments& a_;
  std::unique_ptr<v1::FeedService::Stub> stub_;
  v1::FeedLinesRequest request_;
  Total total_;
};

int run(const Arguments& a) {
  std::ifstream file;
  if (a.file != "-") {
    file.open(a.file);
    if (!file) return complain({Code::kNotFound, a.file + ": cannot be read; check the path"});
  }
  Feeder feeder(a);
  const Status done = feeder.run(a.file == "-" ? std::cin : file);
  const Total& total = feeder.total();
  if (a.json) {
    std::cout << fmt::format("{{\"recorded\":{},\"duplicates\":{},\"refused\":{}}}\n",
                             total.recorded, total.duplicates, total.refused);
  } else {
    std::cout << fmt::format("{} recorded, {} already there, {} refused\n", total.recorded,
                             total.duplicates, total.refused);
  }
  if (!done) return complain(done.error());
  return total.refused > 0 ? 3 : 0;
}

}  // namespace

void add_feed(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command =
      app.add_subcommand("feed", "Record observation lines (.jsonl) on a truck or at a base");
  command->add_option("FILE", a->file, "Lines, one JSON object each; - reads from standard input")
      ->required();
  command->add_option("--to", a->base, "Address of the truck or base")
      ->envname("FAIRLEAD_BASE")
      ->default_str(kDefaultBase);
  a->base = kDefaultBase;
  command->add_option("--wait", a->wait_s, "Try again for so many seconds while nobody answers");
  command->add_flag("--json", a->json, "One JSON object");
  command->footer(
      "Answers when the lines are on disk. Into a base they are an import device's and shown as "
      "imported.\n"
      "The same lines again are not recorded twice. Exit: 0 all recorded, 3 some refused, 4 nobody "
      "answered.\n"
      "Examples:\n  fairlead feed job.jsonl --to unix:/run/fairlead/truck.sock\n"
      "  tail -f steps.jsonl | fairlead feed - --to unix:/run/fairlead/truck.sock");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
