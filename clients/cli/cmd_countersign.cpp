#include "clients/cli/cmd_countersign.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <iostream>
#include <optional>
#include <thread>

#include "clients/cli/base_call.h"
#include "clients/cli/http_post.h"
#include "clients/cli/part.h"
#include "fairlead/v1/ledger_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{30};
constexpr size_t kLongestAnswer = 16 * 1'024, kLongestCa = 64 * 1'024;
constexpr int kMostResumes = 3;

struct Arguments {
  std::string base, whom, out, file, url, ca_file;
  std::optional<uint64_t> old_size;
  unsigned tries = 6;
  unsigned wait_ms = 1'000;
  bool json = false;
};

Result<v1::GetCountersignResponse> ask(const Arguments& a, std::optional<uint64_t> old_size) {
  v1::GetCountersignRequest request;
  request.set_countersigner(a.whom);
  if (old_size) request.set_old_size(*old_size);
  v1::GetCountersignResponse response;
  const auto stub = v1::LedgerService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->GetCountersign(&context, request, &response);
  });
  if (!done) return std::unexpected(done.error());
  return response;
}

Result<v1::TakeCountersignResponse> hand_in(const Arguments& a, const std::string& answer,
                                            long status) {
  v1::TakeCountersignRequest request;
  request.set_answer(answer);
  request.set_status(static_cast<uint32_t>(status));
  v1::TakeCountersignResponse response;
  const auto stub = v1::LedgerService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->TakeCountersign(&context, request, &response);
  });
  if (!done) return std::unexpected(done.error());
  return response;
}

int show(const Arguments& a, const v1::TakeCountersignResponse& taken) {
  if (a.json) {
    print_json(taken);
    return 0;
  }
  for (const auto& one : taken.accepted()) {
    std::cout << fmt::format("{} countersigned head {} at {}, leaf {}\n", one.name(), one.size(),
                             one.at(), taken.leaf_index());
  }
  if (taken.has_stands_at()) {
    std::cout << taken.words() << ": fairlead countersign request --old " << taken.stands_at()
              << "\n";
  }
  return 0;
}

int request(const Arguments& a) {
  const auto asked = ask(a, a.old_size);
  if (!asked) return complain(asked.error());
  if (a.out.empty()) {
    std::cout << asked->body();
    return 0;
  }
  std::ofstream file(a.out, std::ios::binary | std::ios::trunc);
  file << asked->body();
  file.close();
  if (!file) return complain({Code::kIo, a.out + ": cannot be written"});
  std::cout << fmt::format("head {} for {}, from {}: {}\n", asked->size(), asked->countersigner(),
                           asked->old_size(), a.out);
  return 0;
}

int take(const Arguments& a) {
  const auto answer = whole_file(a.file, kLongestAnswer);
  if (!answer) return complain(answer.error());
  const auto taken = hand_in(a, *answer, 0);
  if (!taken) return complain(taken.error());
  return show(a, *taken);
}

bool is_passing(long status) { return status == 429 || status >= 500; }

/// One answer of the witness that is not "come again later", with waits between attempts.
Result<HttpAnswer> post_with_patience(const Arguments& a, const std::string& url,
                                      const std::string& body, const std::string& ca) {
  constexpr unsigned kLongestWait_ms = 60'000;
  unsigned wait_ms = a.wait_ms;
  for (unsigned attempt = 1;; ++attempt) {
    auto answer = http_post(url, body, kTimeout, ca);
    const bool again =
        answer ? is_passing(answer->status) : answer.error().code == Code::kUnavailable;
    if (!again) return answer;
    const std::string why =
        answer ? fmt::format("{}: status {}", url, answer->status) : answer.error().message;
    if (attempt >= a.tries) {
      return fail(Code::kUnavailable, fmt::format("{}; gave up after {} attempts", why, attempt));
    }
    std::cerr << fmt::format("{}; again in {} ms\n", why, wait_ms);
    std::this_thread::sleep_for(std::chrono::milliseconds(wait_ms));
    wait_ms = std::min(wait_ms * 2, kLongestWait_ms);
  }
}

int push(const Arguments& a) {
  std::optional<uint64_t> old_size = a.old_size;
  for (int resumed = 0; resumed <= kMostResumes; ++resumed) {
    const auto asked = ask(a, old_size);
    if (!asked) return complain(asked.error());
    std::string url = a.url.empty() ? asked->url() : a.url;
    if (url.empty()) {
      return complain({Code::kBadInput, asked->countersigner() +
                                            ": has no url in the base's settings; name one with "
                                            "--url, or exchange files (request, take)"});
    }
    while (url.ends_with('/')) url.pop_back();
    std::string ca = asked->ca();
    if (!a.ca_file.empty()) {
      auto named = whole_file(a.ca_file, kLongestCa);
      if (!named) return complain(named.error());
      ca = std::move(*named);
    }
    const auto answer = post_with_patience(a, url + "/add-checkpoint", asked->body(), ca);
    if (!answer) return complain(answer.error());
    const auto taken = hand_in(a, answer->body, answer->status);
    if (!taken) return complain(taken.error());
    if (!taken->has_stands_at()) return show(a, *taken);
    old_size = taken->stands_at();
  }
  return complain({Code::kUnavailable,
                   "the witness names another size each time; does somebody else push as well?"});
}

}  // namespace

void add_countersign(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* countersign =
      app.add_subcommand("countersign", "Have an outside party sign the newest head");
  countersign->require_subcommand(1);
  CLI::App* asking =
      part(countersign, a, "request", "Write what a countersigner is asked", request);
  CLI::App* taking = part(countersign, a, "take", "Put a countersigner's answer on record", take);
  CLI::App* pushing =
      part(countersign, a, "push", "Ask a C2SP witness over HTTP and take its answer", push);
  for (CLI::App* command : {asking, pushing}) {
    command->add_option("--countersigner", a->whom, "Its key name; default: the first one named");
    command->add_option("--old", a->old_size, "Size it stands at, where it has said so");
  }
  asking->add_option("-o,--out", a->out, "Write to this file");
  taking->add_option("answer", a->file, "Cosignature lines, or a refusal, as they came")
      ->required();
  pushing->add_option("--url", a->url, "Submission prefix; default: the url in the settings");
  pushing->add_option("--ca", a->ca_file,
                      "Authority of an https url, PEM; default: the ca in the settings");
  pushing->add_option("--tries", a->tries, "Attempts while it does not answer")
      ->capture_default_str();
  pushing->add_option("--wait-ms", a->wait_ms, "First wait between attempts; doubles each time")
      ->capture_default_str();
  asking->footer("Example:\n  fairlead countersign request -o head.request");
  taking->footer("Example:\n  fairlead countersign take head.answer");
  pushing->footer("Example, daily from a timer:\n  fairlead countersign push");
}

}  // namespace fairlead::cli
