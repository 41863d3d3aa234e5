// The recorder and live judging on a real ledger: a truck's warning comes while the line moves, a
// base writes findings when a job is closed and again when they change, restarts lose nothing. The
// load procedure and the fleet are the shipped files; expected margins follow from the invented
// scenario (12.6 m rolled of under 10 m).
#include "daemon/watch/watch.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <atomic>
#include <fstream>
#include <set>
#include <sstream>

#include "daemon/base/time_text.h"
#include "daemon/judge/shipped.h"
#include "daemon/record/observation_json.h"
#include "daemon/record/packer.h"
#include "daemon/uplink/truck_disk.h"
#include "daemon/watch/recorder.h"
#include "daemon/watch/shelf.h"
#include "tests/unit/uplink/temp_base.h"

namespace fairlead {
namespace {

using namespace std::chrono_literals;
using test::TempBase;

constexpr int64_t kStartUs = 1'793'000'000'000'000;

v1::Observation line_of(const std::string& json) {
  auto line = record::observation_from_line(json);
  EXPECT_TRUE(line) << (line ? "" : line.error().message) << ": " << json;
  return line ? *line : v1::Observation{};
}

// A winch-on in which the car rolls `metres` on its wheels at 0.2 m/s, by the rope counter.
std::vector<v1::Observation> winch_on(const std::string& job, double metres, bool close) {
  std::vector<v1::Observation> lines;
  std::map<std::string, int> seq;
  int64_t now_us = kStartUs;
  const auto add = [&](const std::string& source, const std::string& kind) {
    lines.push_back(line_of(
        fmt::format(R"({{"time":"{}","job":"{}","source":"{}","seq":{},"clock":"truck",{}}})",
                    format_time_us(now_us), job, source, ++seq[source], kind)));
  };
  add("operator",
      R"("opened":{"procedures":["load"],"vehicle":"wrenlet","truck":"OW-02","operator":"card-1"})");
  add("operator", R"("arrived":{})");
  now_us += 60'000'000;
  add("operator",
      R"("rigging":{"on":true,"point":"front_eye","gear":["soft-1"],"legsAngleDeg":0})");
  now_us += 20'000'000;
  add("operator", R"("line":{"state":"TAUT"})");
  now_us += 10'000'000;
  add("operator", R"("vehicleMode":{"mode":"ROLLING"})");
  for (double out = 20; out > 20 - metres; out -= 0.1) {
    add("line", fmt::format(R"("sample":{{"signal":"line.out","value":{:.2f}}})", out));
    add("line", R"("sample":{"signal":"line.pull","value":2500})");
    now_us += 500'000;
  }
  add("operator", R"("vehicleMode":{"mode":"PARKED"})");
  add("operator",
      R"("rigging":{"on":false,"point":"front_eye","gear":["soft-1"],"legsAngleDeg":0})");
  if (close) {
    now_us += 60'000'000;
    add("operator", R"("closed":{"outcome":"SIGNED"})");
  }
  return lines;
}

std::string text_of(const std::filesystem::path& file) {
  std::ifstream in(file);
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

// The shipped load procedure and the fleet, put on a shelf and into a ledger.
void fill_shelf(watch::Shelf& shelf, ledger::Ledger& ledger) {
  const auto add = [&](const std::string& name, const std::string& bytes) {
    v1::RegisterFileBody file;
    file.set_name(name);
    file.set_content(bytes);
    const auto kind = watch::kind_of_file(name, bytes);
    ASSERT_TRUE(kind) << kind.error().message;
    file.set_kind(*kind);
    ASSERT_TRUE(ledger.put_file(bytes));
    shelf.add(file, 0, 0);
  };
  add("load.textproto", judge::shipped_procedure("load")->bytes);
  for (const char* name : {"vehicles", "gear", "trucks", "sensors"}) {
    const std::string file = std::string(name) + ".textproto";
    add(file, text_of(std::filesystem::path("clients/sim/fleet") / file));
  }
}

template <typename Condition>
bool wait_for(Condition condition, std::chrono::seconds most = 20s) {
  const auto until = std::chrono::steady_clock::now() + most;
  while (std::chrono::steady_clock::now() < until) {
    if (condition()) return true;
    std::this_thread::sleep_for(5ms);
  }
  return false;
}

// A base with an import device that lines are fed into.
class Feedable {
 public:
  explicit Feedable(TempBase& base) : base_(base) {
    fill_shelf(shelf_, base.ledger());
    v1::EnrolBody body;
    id_ = random_array<16>();
    body.set_device_id(string_of(id_));
    body.set_public_key(string_of(key_->public_key().bytes));
    body.set_device_name("import");
    body.set_kind(v1::EnrolBody::IMPORT);
    EXPECT_TRUE(base.devices().enrol(body));
    start();
  }
  void start() {
    watch::RecorderOptions options;
    options.device_id = id_;
    options.key = key_;
    options.pins = [this](const v1::Opened& opened) { return shelf_.pins_for(opened); };
    recorder_ = std::make_unique<watch::Recorder>(base_.ledger(), options);
    ASSERT_TRUE(recorder_->start("test"));
    watch::WatchOptions watching;
    watching.office = &base_.office();
    watching.at_most_every = 20ms;
    watch_ = std::make_unique<watch::Watch>(base_.ledger(), watching);
    ASSERT_TRUE(watch_->load());
  }
  void restart() {
    watch_.reset();
    recorder_.reset();
    base_.restart();
    start();
  }
  std::map<std::string, v1::FindingBody> written(const record::Id16& job) {
    std::map<std::string, v1::FindingBody> out;
    const auto entries = base_.ledger().entries_of_kind(record::Kind::kFinding, 0, 10'000);
    EXPECT_TRUE(entries);
    for (const auto& entry : *entries) {
      v1::FindingBody body;
      EXPECT_TRUE(body.ParseFromString(entry.body));
      if (entry.header().job_id == job) out[body.rule()] = body;
    }
    return out;
  }
  watch::Recorder& recorder() { return *recorder_; }
  watch::Watch& watch() { return *watch_; }

 private:
  TempBase& base_;
  watch::Shelf shelf_;
  record::Id16 id_{};
  std::shared_ptr<const SecretKey> key_ = std::make_shared<const SecretKey>(SecretKey::generate());
  std::unique_ptr<watch::Recorder> recorder_;
  std::unique_ptr<watch::Watch> watch_;
};

TEST(Recorder, ALineCountsOnceHoweverOftenItComes) {
  TempBase base;
  Feedable feed(base);
  const auto lines = winch_on("J-1", 3, true);
  const auto first = feed.recorder().feed(lines);
  ASSERT_TRUE(first) << first.error().message;
  EXPECT_EQ(first->recorded, lines.size());
  EXPECT_EQ(first->duplicates, 0U);
  EXPECT_EQ(feed.recorder().feed(lines)->duplicates, lines.size());
  feed.restart();
  const auto after = feed.recorder().feed(lines);
  EXPECT_EQ(after->recorded, 0U);
  EXPECT_EQ(after->duplicates, lines.size());
  const auto record = watch::read_job(base.ledger(), watch::job_id_of("J-1"));
  ASSERT_TRUE(record) << record.error().message;
  EXPECT_EQ(record->lines.size(), lines.size());
  // The same identity with other content is kept too: the judge has to know.
  v1::Observation other = lines[1];
  other.set_time(format_time_us(kStartUs + 1));
  EXPECT_EQ(feed.recorder().feed(std::span(&other, 1))->recorded, 1U);
}

TEST(Recorder, NumbersItsOwnSourcesWithoutEndAcrossRestarts) {
  TempBase base;
  Feedable feed(base);
  v1::Observation line;
  line.set_time(format_time_us(kStartUs));
  line.set_source("line");
  line.mutable_sample()->set_signal("line.pull");
  for (int i = 0; i < 3; ++i) EXPECT_TRUE(feed.recorder().offer(line));
  ASSERT_TRUE(feed.recorder().stop("test"));
  feed.restart();
  EXPECT_TRUE(feed.recorder().offer(line));
  ASSERT_TRUE(feed.recorder().stop("test"));
  std::vector<uint32_t> numbers;
  const auto entries = base.ledger().entries(0, 1'000, true);
  ASSERT_TRUE(entries);
  for (const auto& entry : *entries) {
    const auto read = record::observations_of(entry.header().kind, entry.body);
    ASSERT_TRUE(read);
    for (const auto& one : *read) numbers.push_back(one.seq());
  }
  EXPECT_EQ(numbers, (std::vector<uint32_t>{1, 2, 3, 4}));
}

// A load cell that was missing before the job opened is missing inside the job's own entries; one
// that came back is not spoken of.
TEST(Recorder, SaysAgainInsideAJobWhatWasMissingBefore) {
  TempBase base;
  Feedable feed(base);
  const auto say = [&](const std::string& source, const std::string& kind) {
    feed.recorder().say(line_of(fmt::format(R"({{"time":"{}","source":"{}","seq":1,{}}})",
                                            format_time_us(kStartUs), source, kind)));
  };
  for (const char* source : {"line", "clamp"}) {
    say(source, R"("sensor":{"channel":"line.pull","state":"missing"})");
    say(source, R"("gap":{"channel":"line.pull","cause":"the plugin ended with 1"})");
  }
  say("clamp", R"("sample":{"signal":"line.pull","value":0})");
  ASSERT_TRUE(feed.recorder().feed(winch_on("J-9", 3, false)));
  const auto record = watch::read_job(base.ledger(), watch::job_id_of("J-9"));
  ASSERT_TRUE(record) << record.error().message;
  int sensors = 0, gaps = 0;
  for (const auto& line : record->lines) {
    if (!line.job().empty()) continue;
    EXPECT_EQ(line.source(), "line");
    sensors += line.has_sensor() && line.sensor().state() == "missing";
    gaps += line.has_gap() && line.gap().cause() == "the plugin ended with 1";
    EXPECT_GT(line.seq(), 2U) << "a line of its own, numbered on";
  }
  EXPECT_EQ(sensors, 1);
  EXPECT_EQ(gaps, 1);
}

TEST(Watch, WritesFindingsWhenAJobIsClosedAndTheyAreTheJudges) {
  TempBase base;
  Feedable feed(base);
  const auto id = watch::job_id_of("J-2");
  const auto lines = winch_on("J-2", 12.6, true);
  const std::span all(lines);
  ASSERT_TRUE(feed.recorder().feed(all.first(lines.size() - 1)));
  ASSERT_TRUE(wait_for([&] {
    const auto view = feed.watch().job(id);
    return view && view->lines == lines.size() - 1;
  }));
  EXPECT_TRUE(feed.written(id).empty()) << "an open job has no finding on record";
  ASSERT_TRUE(feed.recorder().feed(all.last(1)));
  ASSERT_TRUE(wait_for([&] { return !feed.written(id).empty(); }));
  ASSERT_TRUE(wait_for([&] { return feed.watch().job(id)->closed.has_value(); }));
  const auto record = watch::read_job(base.ledger(), id);
  ASSERT_TRUE(record);
  const auto rules = watch::rules_of(base.ledger(), record->pins);
  ASSERT_TRUE(rules) << rules.error().message;
  const auto findings = judge::judge_job(*rules, record->lines);
  ASSERT_TRUE(wait_for([&] { return feed.written(id).size() == findings.size(); }));
  for (const judge::Finding& finding : findings) {
    EXPECT_EQ(feed.written(id).at(judge::finding_key(finding)).line(),
              judge::finding_to_json(finding));
  }
  const auto view = feed.watch().job(id);
  EXPECT_GE(view->deviated, 1U);
  bool too_far = false;
  for (const std::string& line : view->findings.lines()) {
    too_far = too_far || (line.find("\"rule\":\"distance\"") != std::string::npos &&
                          watch::is_verdict(line, "deviated"));
  }
  EXPECT_TRUE(too_far);
}

// Eight hours of one job: rolled on, then driven, looked at and stood, a fix a minute.
std::vector<v1::Observation> eight_hours(const std::string& job) {
  auto lines = winch_on(job, 7, false);
  std::map<std::string, uint32_t> seq;
  for (const auto& line : lines) seq[line.source()] = std::max(seq[line.source()], line.seq());
  const int64_t from_us = *parse_time_us(lines.back().time());
  const auto add = [&](int minute, const std::string& source, const std::string& kind) {
    lines.push_back(line_of(fmt::format(
        R"({{"time":"{}","job":"{}","source":"{}","seq":{},"clock":"truck",{}}})",
        format_time_us(from_us + minute * 60'000'000LL), job, source, ++seq[source], kind)));
  };
  for (int minute = 1; minute < 8 * 60; ++minute) {
    const bool moving = minute / 20 % 3 != 2;
    add(minute, "gps.truck",
        fmt::format(R"("fix":{{"latDeg":{:.4f},"lonDeg":-30,"speedMps":{},"hSdM":2.5,)"
                    R"("speedSdMps":0.1,"mode":3}})",
                    44.5 + minute * 0.001, moving ? 18.5 : 0.0));
    if (minute % 20 == 0)
      add(minute, "gps.truck", fmt::format(R"("truckMotion":{{"moving":{}}})", moving));
    if (minute % 90 == 0) add(minute, "operator", R"("secured":{"checked":true})");
  }
  add(8 * 60, "operator", R"("closed":{"outcome":"SIGNED"})");
  return lines;
}

std::map<std::string, std::string> bytes_of(const std::map<std::string, v1::FindingBody>& written) {
  std::map<std::string, std::string> bytes;
  for (const auto& [rule, body] : written) bytes[rule] = body.SerializeAsString();
  return bytes;
}

// A truck that was never out of reach, its lines judged as they come, against one that comes back
// after eight hours: everything at once, in another order, the base restarted in between.
TEST(Watch, AnEightHourOfflineTruckMergesWithoutAChangedByte) {
  const auto id = watch::job_id_of("J-8");
  const auto lines = eight_hours("J-8");
  const auto all_written = [&](Feedable& feed) {
    return wait_for([&] {
      const auto view = feed.watch().job(id);
      return view && view->lines == lines.size() && !view->findings.empty() &&
             feed.written(id).size() == view->findings.size();
    });
  };
  std::map<std::string, std::string> in_order, offline;
  {
    TempBase base;
    Feedable feed(base);
    for (size_t at = 0; at < lines.size(); at += 50) {
      const auto count = std::min<size_t>(50, lines.size() - at);
      ASSERT_TRUE(feed.recorder().feed(std::span(lines).subspan(at, count)));
      ASSERT_TRUE(wait_for([&] {
        const auto view = feed.watch().job(id);
        return view && view->lines == at + count && !view->findings.empty();
      })) << "judged while it went on, after "
          << at + count << " lines";
    }
    ASSERT_TRUE(all_written(feed));
    in_order = bytes_of(feed.written(id));
  }
  {
    TempBase base;
    Feedable feed(base);
    auto late = lines;
    // The opening first, as a chain gives it; all else newest first.
    std::reverse(late.begin() + 1, late.end());
    const size_t half = late.size() / 2;
    // The closing last: what is on record of a closed job would be revised, not merged.
    std::rotate(late.begin() + 1, late.begin() + 2, late.end());
    ASSERT_TRUE(feed.recorder().feed(std::span(late).first(half)));
    feed.restart();
    ASSERT_TRUE(feed.recorder().feed(std::span(late).subspan(half)));
    ASSERT_TRUE(all_written(feed));
    offline = bytes_of(feed.written(id));
  }
  EXPECT_GT(in_order.size(), 10U);
  EXPECT_EQ(offline, in_order);
}

TEST(Watch, ARestartWritesNothingTwiceAndLateLinesMakeARevision) {
  TempBase base;
  Feedable feed(base);
  const auto id = watch::job_id_of("J-3");
  ASSERT_TRUE(feed.recorder().feed(winch_on("J-3", 3, true)));
  ASSERT_TRUE(wait_for([&] {
    const auto view = feed.watch().job(id);
    return view && !view->findings.empty() && feed.written(id).size() == view->findings.size();
  }));
  const auto before = feed.written(id);
  feed.restart();
  std::this_thread::sleep_for(500ms);
  const auto after = feed.written(id);
  ASSERT_EQ(after.size(), before.size());
  for (const auto& [rule, body] : after) EXPECT_EQ(body.revision(), 1U) << rule;
  const auto shown = [&] {
    std::multiset<std::string> lines;
    for (const auto& line : feed.watch().job(id)->findings.lines()) lines.insert(line);
    return lines;
  };
  const auto newest = [&] {
    std::multiset<std::string> lines;
    for (const auto& [rule, body] : feed.written(id)) lines.insert(body.line());
    return lines;
  };
  EXPECT_EQ(shown(), newest());
  // An operator's photo that comes after the close: the job is judged again.
  auto late = line_of(
      R"({"time":"2026-10-26T00:00:01Z","job":"J-3","source":"operator","seq":50,"clock":"truck",)"
      R"("identified":{"card":"card-2","how":"PLATE"}})");
  ASSERT_TRUE(feed.recorder().feed(std::span(&late, 1)));
  EXPECT_TRUE(wait_for([&] {
    for (const auto& [rule, body] : feed.written(id)) {
      if (body.revision() == 2) return true;
    }
    return false;
  }));
  EXPECT_TRUE(wait_for([&] { return shown() == newest(); }));
  feed.restart();
  EXPECT_EQ(shown(), newest());
}

// A truck's recorder and its watch on its own disk.
class WatchedTruck {
 public:
  explicit WatchedTruck(std::chrono::milliseconds at_most_every) : every_(at_most_every) {
    auto disk = uplink::TruckDisk::open(folder_.path(), "OW-02");
    EXPECT_TRUE(disk) << disk.error().message;
    disk_ = std::move(*disk);
    v1::EnrolBody body;
    body.set_device_id(string_of(disk_->device_id()));
    body.set_public_key(string_of(disk_->key()->public_key().bytes));
    body.set_device_name("OW-02");
    body.set_kind(v1::EnrolBody::TRUCK);
    const auto device = base_.devices().enrol(body);
    EXPECT_TRUE(device);
    EXPECT_TRUE(disk_->keep_enrolment(device->enrolment));
    fill_shelf(shelf_, ledger());
    start();
  }
  ~WatchedTruck() { stop(); }
  void restart() {
    stop();
    start();
  }
  ledger::Ledger& ledger() { return *disk_->ledger(); }
  watch::Recorder& recorder() { return *recorder_; }
  watch::Watch& watch() { return *watch_; }
  std::vector<std::string> warnings() {
    const std::lock_guard lock(mutex_);
    return warnings_;
  }
  // What the watch shows of a job, and what the judge says of all that is on record of it.
  [[nodiscard]] std::vector<std::string> shown(const std::string& job) {
    const auto view = watch_->job(watch::job_id_of(job));
    return view ? view->findings.lines() : std::vector<std::string>();
  }
  [[nodiscard]] std::vector<std::string> judged(const std::string& job) {
    const auto record = watch::read_job(ledger(), watch::job_id_of(job));
    EXPECT_TRUE(record);
    const auto rules = watch::rules_of(ledger(), record->pins);
    EXPECT_TRUE(rules);
    std::vector<std::string> lines;
    for (const auto& finding : judge::judge_job(*rules, record->lines))
      lines.push_back(judge::finding_to_json(finding));
    return lines;
  }

 private:
  void start() {
    watch::WatchOptions watching;
    watching.device_id = disk_->device_id();
    watching.pins = [this](const v1::Opened& opened) { return shelf_.pins_for(opened); };
    watching.say = [this](v1::Observation line) { recorder_->say(std::move(line)); };
    watching.at_most_every = every_;
    watch_ = std::make_unique<watch::Watch>(ledger(), watching);
    ASSERT_TRUE(watch_->load());
    (void)watch_->subscribe([this](const watch::JobNews& news) {
      const std::lock_guard lock(mutex_);
      warnings_.insert(warnings_.end(), news.warnings.begin(), news.warnings.end());
    });
    watch::RecorderOptions recording;
    recording.device_id = disk_->device_id();
    recording.key = disk_->key();
    recording.pins = watching.pins;
    recording.on_line = [this](const v1::Observation& line) { watch_->line(line); };
    recorder_ = std::make_unique<watch::Recorder>(ledger(), recording);
    ASSERT_TRUE(recorder_->start("test"));
  }
  void stop() {
    watch_.reset();
    recorder_.reset();
  }

  std::chrono::milliseconds every_;
  test::TempFolder folder_;
  TempBase base_;  // Only to enrol the truck.
  std::unique_ptr<uplink::TruckDisk> disk_;
  watch::Shelf shelf_;
  std::mutex mutex_;
  std::vector<std::string> warnings_;
  std::unique_ptr<watch::Recorder> recorder_;
  std::unique_ptr<watch::Watch> watch_;
};

TEST(Watch, ATruckWarnsWithinASecondOfTheDecidingSample) {
  WatchedTruck truck(500ms);
  const auto near = winch_on("J-4", 9.5, false);
  // Without the lines that end the pull: the car is still rolling.
  ASSERT_TRUE(truck.recorder().feed(std::span(near).first(near.size() - 2)));
  const auto begun = std::chrono::steady_clock::now();
  const auto distance_warned = [&] {
    return std::ranges::any_of(truck.warnings(), [](const std::string& words) {
      return words.find("distance") != std::string::npos;
    });
  };
  ASSERT_TRUE(wait_for(distance_warned, 5s)) << "9.5 m of under 10 m must warn";
  EXPECT_LT(std::chrono::steady_clock::now() - begun, 1s);
  // The warning is on record, once, under the job.
  const auto on_record = [&] {
    const auto record = watch::read_job(truck.ledger(), watch::job_id_of("J-4"));
    EXPECT_TRUE(record);
    return std::ranges::count_if(record->lines, [](const auto& line) {
      return line.has_warning() && line.warning().rule() == "distance";
    });
  };
  ASSERT_TRUE(wait_for([&] { return on_record() > 0; }));
  std::this_thread::sleep_for(700ms);
  EXPECT_EQ(on_record(), 1);
}

// What ends is let go of; what comes of it, the judge's warnings too, is judged with its past.
TEST(Watch, ATruckTakesUpAnEndedJobWithItsPast) {
  WatchedTruck truck(20ms);
  const auto lines = winch_on("J-5", 3, true);
  const record::Id16 job = watch::job_id_of("J-5");
  ASSERT_TRUE(truck.recorder().feed(lines));
  const auto shown_as_judged = [&] { return truck.shown("J-5") == truck.judged("J-5"); };
  ASSERT_TRUE(wait_for(shown_as_judged));
  int seq = static_cast<int>(
      std::ranges::count_if(lines, [](const auto& line) { return line.source() == "operator"; }));
  int minutes = 10;
  const auto say = [&](const std::string& kind) {
    const auto line = line_of(fmt::format(
        R"({{"time":"{}","job":"J-5","source":"operator","seq":{},"clock":"truck",{}}})",
        format_time_us(kStartUs + ++minutes * 60'000'000LL), ++seq, kind));
    EXPECT_TRUE(truck.recorder().feed(std::span(&line, 1)));
  };
  // All that the ledger holds of the job, the line said last among it.
  const auto all_taken = [&] {
    const auto view = truck.watch().job(job);
    const auto record = watch::read_job(truck.ledger(), job);
    return view && record && view->lines == record->lines.size() &&
           std::ranges::any_of(record->lines, [&](const auto& line) {
             return line.source() == "operator" && line.seq() == static_cast<uint64_t>(seq);
           });
  };
  say(R"("note":{"text":"late"})");
  ASSERT_TRUE(wait_for(all_taken));
  EXPECT_TRUE(wait_for(shown_as_judged));
  for (const bool after_a_start : {false, true}) {
    if (after_a_start) truck.restart();
    say(R"("reopened":{})");
    say(R"("vehicleMode":{"mode":"ROLLING"})");
    ASSERT_TRUE(wait_for(all_taken));
    EXPECT_FALSE(truck.watch().job(job)->closed);
    EXPECT_TRUE(wait_for(shown_as_judged));
    say(R"("vehicleMode":{"mode":"PARKED"})");
    say(R"("closed":{"outcome":"SIGNED"})");
    ASSERT_TRUE(wait_for(all_taken));
    EXPECT_TRUE(truck.watch().job(job)->closed);
    EXPECT_TRUE(wait_for(shown_as_judged));
  }
}

// Readings that never pause for as long as the worker's idle time: the warning comes among them.
TEST(Watch, ATruckWarnsWhileReadingsStream) {
  TempBase files;  // Whose ledger holds the files that the job pins.
  watch::Shelf shelf;
  fill_shelf(shelf, files.ledger());
  watch::WatchOptions watching;
  watching.pins = [&](const v1::Opened& opened) { return shelf.pins_for(opened); };
  watching.at_most_every = 100ms;
  watch::Watch watch(files.ledger(), watching);
  ASSERT_TRUE(watch.load());
  std::atomic<bool> warned = false;
  (void)watch.subscribe([&](const watch::JobNews& news) {
    for (const std::string& words : news.warnings)
      if (words.find("distance") != std::string::npos) warned = true;
  });
  // 9 m, of which the rule warns, are reached after two thirds of the readings.
  const auto lines = winch_on("J-6", 13.5, false);
  size_t streamed = 0;
  for (const v1::Observation& line : std::span(lines).first(lines.size() - 2)) {
    if (warned) break;
    watch.line(line);
    ++streamed;
    std::this_thread::sleep_for(10ms);
  }
  EXPECT_TRUE(warned);
  EXPECT_LT(streamed, lines.size() * 8 / 10);
}

TEST(Shelf, PinsWhatTheOpeningNamesAndTheWholeRegister) {
  test::TempFolder folder;
  TempBase base;
  watch::Shelf shelf;
  fill_shelf(shelf, base.ledger());
  v1::Opened opened;
  opened.add_procedures("load");
  opened.add_procedures("nobody-has-this");
  const auto pins = shelf.pins_for(opened);
  ASSERT_EQ(pins.size(), 5U);
  EXPECT_EQ(pins[0].name(), "load.textproto");
  opened.clear_procedures();
  EXPECT_EQ(shelf.pins_for(opened).size(), 4U);
}

TEST(Shelf, FilesThatDoNotCompileAreRefusedWithTheirPlace) {
  const auto typo = watch::kind_of_file("x.textproto", "vehicle { id: \"a\" mas: \"1 kg\" }");
  ASSERT_FALSE(typo);
  EXPECT_NE(typo.error().message.find("x.textproto:1:"), std::string::npos) << typo.error().message;
  const auto unit = watch::kind_of_file("y.textproto", "vehicle { id: \"a\" mass: \"1 km\" }");
  ASSERT_FALSE(unit);
  EXPECT_EQ(watch::kind_of_file("t", "truck { id: \"a\" }").value(), v1::FileKind::TRUCK);
}

}  // namespace
}  // namespace fairlead
