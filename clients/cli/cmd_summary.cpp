#include "clients/cli/cmd_summary.h"

#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>

#include "clients/cli/ending.h"
#include "clients/cli/pages.h"
#include "fairlead/v1/summaries_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  PageOptions pages;
  std::string from, to;
  std::optional<uint32_t> invoiced;
  bool list = false, preview = false, own_copy = false;
};

/// Says every two seconds how far the base has come, on a terminal or into a log alike.
class ProgressLine {
 public:
  explicit ProgressLine(const std::string& base)
      : asker_([base](const std::stop_token& stop) {
          const auto stub = v1::SummariesService::NewStub(channel_to(base));
          std::mutex mutex;
          std::condition_variable_any wake;
          std::unique_lock lock(mutex);
          while (!wake.wait_for(lock, stop, std::chrono::seconds(2), [] { return false; })) {
            if (stop.stop_requested()) return;
            v1::GetProgressResponse at;
            const auto asked = call_base(base, std::chrono::seconds(2), [&](auto& context) {
              return stub->GetProgress(&context, {}, &at);
            });
            if (asked && at.jobs() > 0)
              std::cerr << fmt::format("{} of {} jobs read\n", at.jobs_read(), at.jobs());
          }
        }) {}

 private:
  std::jthread asker_;
};

int list(const Arguments& a) {
  v1::ListSummariesResponse response;
  const auto stub = v1::SummariesService::NewStub(channel_to(a.pages.base));
  const auto done = call_base(a.pages.base, std::chrono::seconds(30), [&](auto& context) {
    return stub->ListSummaries(&context, {}, &response);
  });
  if (!done) return complain(done.error());
  if (a.pages.json) {
    print_json(response);
    return 0;
  }
  for (const auto& one : response.summary()) {
    std::cout << fmt::format("{} to {}  issued {}  {}\n", one.from(), one.to(), one.issued_at(),
                             one.json_sha256());
  }
  if (response.summary().empty()) std::cout << "no summary on record\n";
  return 0;
}

int run(const Arguments& a) {
  if (a.list) return list(a);
  if (a.from.empty() || a.to.empty()) {
    return complain({Code::kBadInput, "--from and --to are missing; give the span, or --list"});
  }
  v1::WriteSummaryRequest request;
  if (auto ok = ask_pages(a.pages, request); !ok) return complain(ok.error());
  request.set_from(a.from);
  request.set_to(a.to);
  request.set_preview(a.preview);
  request.set_own_copy(a.own_copy);
  if (a.preview && a.pages.out.empty())
    return complain({Code::kBadInput, "--preview needs --out: nothing is kept at the base"});
  if (a.invoiced) request.set_jobs_invoiced(*a.invoiced);
  v1::WriteSummaryResponse response;
  const auto stub = v1::SummariesService::NewStub(channel_to(a.pages.base));
  const ProgressLine progress(a.pages.base);
  const auto done = call_base(a.pages.base, std::chrono::seconds(600), [&](auto& context) {
    return stub->WriteSummary(&context, request, &response);
  });
  if (!done) return complain(done.error());
  return end_pages(a.pages, response,
                   a.preview ? "preview: nothing was recorded or sent"
                             : fmt::format("on record as leaf {}", response.issued_leaf()));
}

}  // namespace

void add_summary(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command =
      app.add_subcommand("summary", "Write the compliance summary of a span: HTML, PDF, JSON, CSV");
  command->add_option("--from", a->from, "First day (or RFC 3339): jobs opened from then on");
  command->add_option("--to", a->to, "Day after the last one");
  command->add_option("--jobs-invoiced", a->invoiced, "The owner's own count of jobs in that span");
  command->add_flag("--preview", a->preview,
                    "Neither issued nor on record: to look at before the first one is sent");
  command->add_flag("--own-copy", a->own_copy,
                    "For your own eyes: figures of fewer than five people are shown");
  command->add_flag("--list", a->list, "List the summaries issued so far");
  add_page_options(command, a->pages);
  command->footer(
      "Example:\n  fairlead summary --from 2027-01-01 --to 2027-04-01 --jobs-invoiced 412 --out "
      "out/q1");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
