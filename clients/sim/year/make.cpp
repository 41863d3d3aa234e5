#include "clients/sim/year/make.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <fstream>
#include <iterator>
#include <map>
#include <memory>
#include <mutex>
#include <set>
#include <thread>

#include "clients/sim/year/truth.h"
#include "daemon/base/key_file.h"
#include "daemon/base/time_text.h"
#include "daemon/desk/claims.h"
#include "daemon/desk/register.h"
#include "daemon/watch/job_id.h"
#include "daemon/watch/job_record.h"

namespace fairlead::sim {
namespace {

constexpr int64_t kDay = 86'400'000'000;
constexpr int kFeeders = 4;

std::string number_of(size_t i) { return fmt::format("Y-{:05}", i + 1); }

Result<std::string> bytes_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) return fail(Code::kNotFound, path.string() + ": cannot be read");
  return std::string(std::istreambuf_iterator<char>(in), {});
}

// A truck's box: its key, its clock as far as the year has come, its recorder.
struct Box {
  record::Id16 id{};
  int64_t wall_us = 0;
  uint32_t loose_seq = 0;
  std::unique_ptr<watch::Recorder> recorder;
};

class Year {
 public:
  Year(const YearPlan& plan, const YearFiles& files,
       const std::function<void(const std::string&)>& say)
      : plan_(plan), files_(files), say_(say), jobs_(plan_year(plan)) {}
  ~Year() {
    for (auto& box : boxes_) box.recorder.reset();
    import_.reset();
    watch_.reset();
  }

  Status run() {
    for (auto step : {&Year::open, &Year::put_files, &Year::enrol, &Year::learn, &Year::drive,
                      &Year::settle, &Year::claim, &Year::close}) {
      if (auto ok = (this->*step)(); !ok) return ok;
    }
    return {};
  }

 private:
  Status open() {
    if (std::filesystem::exists(files_.data))
      return fail(Code::kConflict, files_.data.string() + ": is there already; name a new folder");
    std::error_code error;
    std::filesystem::create_directories(files_.data, error);
    if (error) return fail(Code::kIo, files_.data.string() + ": " + error.message());
    auto office = watch::Office::open(files_.data, "ozzlewick");
    if (!office) return std::unexpected(office.error());
    office_ = std::move(*office);
    devices_ = std::make_unique<intake::Devices>(*office_);
    watch::WatchOptions watching;
    watching.office = office_.get();
    watch_ = std::make_unique<watch::Watch>(office_->ledger(), std::move(watching));
    (void)watch_->subscribe([this](const watch::JobNews& news) {
      if (news.view.closed && news.view.settled && !news.view.findings.empty()) {
        const std::lock_guard lock(mutex_);
        judged_.insert(news.view.job);
      }
    });
    return watch_->load();
  }

  Status put_files() {
    auto recorder = box_of("import.ozzlewick", v1::EnrolBody::IMPORT);
    if (!recorder) return std::unexpected(recorder.error());
    import_id_ = recorder->id;
    import_ = std::move(recorder->recorder);
    desk_ = std::unique_ptr<desk::Desk>(new desk::Desk{*office_,
                                                       shelf_,
                                                       *watch_,
                                                       *devices_,
                                                       *import_,
                                                       import_id_,
                                                       {},
                                                       {},
                                                       nullptr,
                                                       {},
                                                       {},
                                                       nullptr});
    std::vector<std::filesystem::path> paths;
    for (const auto& folder : {files_.procedures, files_.fleet}) {
      std::error_code error;
      for (const auto& item : std::filesystem::directory_iterator(folder, error)) {
        if (item.path().extension() == ".textproto") paths.push_back(item.path());
      }
      if (error) return fail(Code::kNotFound, folder.string() + ": " + error.message());
    }
    std::ranges::sort(paths);
    for (const auto& path : paths) {
      auto bytes = bytes_of(path);
      if (!bytes) return std::unexpected(bytes.error());
      v1::PutFileRequest request;
      request.set_name(path.filename().string());
      request.set_content(in_force_then(*bytes));
      if (const auto put = desk::put_file(*desk_, request); !put)
        return fail_at(path.string() + ": ", put.error());
    }
    return {};
  }

  // The fleet's certificates begin in October 2026; of this year they hold from before it.
  std::string in_force_then(std::string text) const {
    const std::string from = format_time_us(plan_.from_us - 60 * kDay).substr(0, 10);
    for (const std::string key : {"valid_from: \"", "in_service: \""}) {
      for (size_t at = text.find(key); at != std::string::npos; at = text.find(key, at + 1))
        text.replace(at + key.size(), 10, from);
    }
    return text;
  }

  Result<Box> box_of(const std::string& name, v1::EnrolBody::Kind kind) {
    auto key = load_or_make_key(files_.data / "keys" /
                                (kind == v1::EnrolBody::IMPORT ? "import.key" : name + ".key"));
    if (!key) return std::unexpected(key.error());
    Box box;
    box.id = random_array<16>();
    box.wall_us = plan_.from_us;
    v1::EnrolBody body;
    body.set_device_id(string_of(box.id));
    body.set_public_key(string_of(key->public_key().bytes));
    body.set_device_name(name);
    body.set_truck(kind == v1::EnrolBody::TRUCK ? name : "");
    body.set_kind(kind);
    if (const auto enrolled = devices_->enrol(body); !enrolled)
      return std::unexpected(enrolled.error());
    watch::RecorderOptions options;
    options.device_id = box.id;
    options.key = std::make_shared<const SecretKey>(std::move(*key));
    options.clock = kind == v1::EnrolBody::IMPORT ? "import" : "truck";
    options.pins = [this](const v1::Opened& opened) { return shelf_.pins_for(opened); };
    if (kind == v1::EnrolBody::TRUCK) {
      const size_t at = boxes_.size();
      options.clocks.wall_us = [this, at] { return wall_of(at); };
      options.clocks.mono_us = [this, at] { return wall_of(at) - plan_.from_us + 1'000'000; };
    }
    box.recorder = std::make_unique<watch::Recorder>(office_->ledger(), std::move(options));
    return box;
  }
  int64_t wall_of(size_t at) const {
    return at < boxes_.size() ? boxes_[at].wall_us : plan_.from_us;
  }

  Status enrol() {
    boxes_.reserve(kTrucks);
    for (int truck = 1; truck <= kTrucks; ++truck) {
      auto box = box_of(truck_name(truck), v1::EnrolBody::TRUCK);
      if (!box) return std::unexpected(box.error());
      boxes_.push_back(std::move(*box));
      if (auto ok = boxes_.back().recorder->start("fairlead 0.1.0"); !ok) return ok;
    }
    return import_->start("fairlead 0.1.0");
  }

  Status learn() {
    for (size_t i = 0; i < variants().size(); ++i) {
      for (int truck = 1; truck <= kTrucks; ++truck) {
        auto trace = Trace::load(files_.traces, variants()[i], truck);
        if (!trace) return std::unexpected(trace.error());
        const auto lines = trace->play("truth", plan_.from_us, 1);
        const auto opened = std::ranges::find_if(lines, &v1::Observation::has_opened);
        if (opened == lines.end())
          return fail(Code::kBadInput, std::string(variants()[i].trace) + ": opens no job");
        const auto rules = watch::rules_of(office_->ledger(), shelf_.pins_for(opened->opened()));
        if (!rules) return std::unexpected(rules.error());
        truth_.learn(i, truck, *rules, *trace, plan_.from_us);
        traces_.emplace(std::pair(i, truck), std::move(*trace));
      }
    }
    return {};
  }

  // Day by day, the trucks side by side, so that the ledger commits them in groups.
  Status drive() {
    size_t next = 0;
    for (int day = 0; day < plan_.days; ++day) {
      const size_t first = next;
      while (next < jobs_.size() && jobs_[next].opened_us < plan_.from_us + (day + 1) * kDay)
        ++next;
      std::atomic<int> failures = 0;
      std::vector<std::jthread> feeders;
      for (int f = 0; f < kFeeders; ++f) {
        feeders.emplace_back([this, f, first, next, &failures] {
          for (size_t i = first; i < next; ++i) {
            if (jobs_[i].truck % kFeeders == f && !feed(i)) ++failures;
          }
        });
      }
      feeders.clear();
      if (failures > 0) return fail(Code::kIo, failed_);
      if (day % 30 == 29) {
        const std::lock_guard lock(mutex_);
        say_(fmt::format("day {} of {}: {} of {} jobs recorded, {} judged", day + 1, plan_.days,
                         next, jobs_.size(), judged_.size()));
      }
    }
    return {};
  }

  bool feed(size_t i) {
    const PlannedJob& job = jobs_[i];
    Box& box = boxes_[static_cast<size_t>(job.truck) - 1];
    std::vector<v1::Observation> lines;
    if (job.sensed_without) lines = loose_pull(box, job.opened_us - 20 * 60'000'000LL);
    const Trace& trace = traces_.at({job.variant, job.truck});
    std::ranges::move(trace.play(number_of(i), job.opened_us, job.operator_),
                      std::back_inserter(lines));
    box.wall_us = job.opened_us + trace.length_us();
    const auto fed = box.recorder->feed(lines);
    if (fed) return true;
    const std::lock_guard lock(mutex_);
    failed_ = "job " + number_of(i) + ": " + fed.error().message;
    return false;
  }

  // A minute of pull with no job open, as a load cell would tell it.
  static std::vector<v1::Observation> loose_pull(Box& box, int64_t from_us) {
    std::vector<v1::Observation> out;
    for (int s = 0; s <= 80; ++s) {
      v1::Observation line;
      line.set_time(format_time_us(from_us + s * 1'000'000));
      line.set_source("line");
      line.set_seq(++box.loose_seq);
      line.set_clock("truck");
      line.mutable_sample()->set_signal("line.pull");
      line.mutable_sample()->set_value(s < 10 || s > 70 ? 60 : 2'000);
      out.push_back(std::move(line));
    }
    return out;
  }

  Status settle() {
    for (auto& box : boxes_) {
      if (auto ok = box.recorder->stop("the year is over"); !ok) return ok;
    }
    for (size_t last = 0, still = 0; still < 120;
         std::this_thread::sleep_for(std::chrono::seconds(1))) {
      size_t now = 0;
      {
        const std::lock_guard lock(mutex_);
        now = judged_.size();
      }
      if (now >= jobs_.size()) return {};
      still = now == last ? still + 1 : 0;
      if (now / 2'000 != last / 2'000) say_(fmt::format("{} of {} jobs judged", now, jobs_.size()));
      last = now;
    }
    return fail(Code::kInternal, "jobs are left that the watch does not judge");
  }

  Status claim() {
    for (size_t i = 0; i < jobs_.size(); ++i) {
      truth_.count(jobs_[i]);
      sensed_ += jobs_[i].sensed_without;
      if (!jobs_[i].claimed) continue;
      const int64_t received = jobs_[i].opened_us + jobs_[i].claim_after_days * kDay;
      v1::OpenClaimRequest request;
      v1::Claim& claim = *request.mutable_claim();
      claim.set_job_id(number_of(i));
      claim.set_words("There is a scratch that was not there before.");
      claim.set_received(format_time_us(received).substr(0, 10));
      claim.set_sum("250.00 EUR");
      auto* allegation = claim.add_allegation();
      allegation->set_kind("marks");
      allegation->set_words("a scratch");
      const auto opened = desk::open_claim(*desk_, request);
      if (!opened) return fail_at("claim on " + number_of(i) + ": ", opened.error());
      ++claims_;
    }
    return {};
  }

  Status close() {
    if (auto ok = import_->stop("the year is over"); !ok) return ok;
    const auto text = truth_.json(plan_, jobs_, claims_, sensed_);
    std::ofstream out(files_.data / "truth.json", std::ios::binary);
    out << text;
    out.close();
    if (!out) return fail(Code::kIo, "truth.json: cannot be written");
    say_(fmt::format("{} jobs, {} claims, {} entries in {}", jobs_.size(), claims_,
                     office_->ledger().size(), files_.data.string()));
    return {};
  }

  const YearPlan plan_;
  const YearFiles files_;
  const std::function<void(const std::string&)>& say_;
  std::vector<PlannedJob> jobs_;
  std::unique_ptr<watch::Office> office_;
  std::unique_ptr<intake::Devices> devices_;
  watch::Shelf shelf_;
  std::mutex mutex_;  // Guards judged_ and failed_.
  std::set<record::Id16> judged_;
  std::string failed_;
  std::unique_ptr<watch::Watch> watch_;
  std::unique_ptr<watch::Recorder> import_;
  record::Id16 import_id_{};
  std::unique_ptr<desk::Desk> desk_;
  std::vector<Box> boxes_;
  std::map<std::pair<size_t, int>, Trace> traces_;
  Truth truth_;
  uint64_t claims_ = 0, sensed_ = 0;
};

}  // namespace

Status make_year(const YearPlan& plan, const YearFiles& files,
                 const std::function<void(const std::string&)>& say) {
  return Year(plan, files, say).run();
}

}  // namespace fairlead::sim
