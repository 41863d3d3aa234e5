#include "tests/unit/reports/sample_job.h"

#include <fmt/format.h>
#include <google/protobuf/text_format.h>

#include <cmath>
#include <cstdlib>

#include "daemon/base/bytes.h"
#include "daemon/base/crypto.h"
#include "daemon/base/time_text.h"
#include "daemon/record/observation_json.h"
#include "reports/json.h"

namespace fairlead::reports {
namespace {

constexpr int64_t kStart = 1802865120'000'000;  // 2027-02-17T11:52:00Z

// Writes lines with times as mm:ss from arrival, as the scenario states them.
class Lines {
 public:
  void say(const std::string& source, double at_s, const std::string& kind) {
    const std::string time = format_time_us(kStart + std::llround(at_s * 1e6));
    add(fmt::format(R"({{"time":"{}","job":"ow-0412","source":"{}","seq":{},"clock":"truck",{}}})",
                    time, source, ++seq_[source], kind));
  }
  void op(int minutes, double seconds, const std::string& kind) {
    say("operator", minutes * 60 + seconds, kind);
  }
  void sample(const std::string& source, double at_s, const std::string& signal, double value) {
    say(source, at_s, fmt::format(R"("sample":{{"signal":"{}","value":{:.4f}}})", signal, value));
  }
  std::vector<v1::Observation> take() { return std::move(lines_); }

 private:
  void add(const std::string& line) {
    auto read = record::observation_from_line(line);
    if (!read) {
      fmt::print(stderr, "sample line refused: {}\n{}\n", read.error().message, line);
      std::abort();
    }
    lines_.push_back(std::move(*read));
  }
  std::map<std::string, uint32_t> seq_;
  std::vector<v1::Observation> lines_;
};

std::string photo(const std::string& view, const char* when, const std::string& bytes) {
  return fmt::format(R"("photo":{{"view":"{}","when":"{}","sha256":"{}","mediaType":"image/png"}})",
                     view, when, hex_of(sha256(bytes)));
}

void arrive(Lines& lines, const SampleOptions& options) {
  lines.op(
      0, 0,
      R"("opened":{"procedures":["boost","load"],"vehicle":"wrenlet","truck":"OW-04","operator":"card-3f"})");
  lines.op(0, 5, R"("arrived":{})");
  lines.op(0, 40, R"("identified":{"card":"card-plate","how":"PLATE"})");
  lines.op(0, 52, R"("authority":{"card":"card-owner","kind":"OWNER","reference":"order 88"})");
  lines.op(
      1, 2,
      R"("found":{"rolls":"UNKNOWN","power":"NONE","keys":true,"fluids":false,"airbags":false,"lockedWheels":[],"flatTyres":[],"movedByOthersBefore":false,"place":"GARAGE","surface":"DRY"})");
  lines.op(1, 10,
           fmt::format(R"("film":{{"sha256":"{}","mediaType":"video/mp4","when":"BEFORE"}})",
                       hex_of(sha256("film"))));
  if (options.spot_pictures)
    lines.op(1, 40, photo("spot:front lip", "BEFORE", striped_png(120, 80, 6)));
  lines.op(1, 50, photo("odometer", "BEFORE", striped_png(120, 80, 10)));
  lines.op(2, 5, R"("custody":{"event":"TAKEN"})");
}

void jump_start(Lines& lines) {
  lines.op(4, 20, R"("clamp":{"lead":"POSITIVE","on":true,"at":"VEHICLE","point":"TERMINALS"})");
  lines.op(4, 31, R"("clamp":{"lead":"NEGATIVE","on":true,"at":"VEHICLE","point":"TERMINALS"})");
  lines.op(4, 40, R"("sourcePower":{"on":true,"nominalVolts":12})");
  for (int i = 0; i < 2100; ++i) {
    const double at = 262 + i * 0.1;
    const double volts = at < 280 ? 9.8
                         : at < 461.4
                             ? 12.4 + 0.6 * std::sin(at / 9) + 1.2 * std::exp(-(at - 280) / 6)
                             : 0.05;
    lines.sample("clamp", at, "clamp.volts", volts);
  }
  lines.sample("clamp", 260, "clamp.pos.contact", 1);
  lines.sample("clamp", 271, "clamp.neg.contact", 1);
  lines.op(6, 55, R"("screen":{"awake":true})");
  lines.op(7, 20, R"("driveReady":{"confirmed":true})");
  lines.op(7, 41, R"("clamp":{"lead":"POSITIVE","on":false,"at":"VEHICLE","point":"TERMINALS"})");
  lines.sample("clamp", 461, "clamp.pos.contact", 0);
  lines.op(7, 55, R"("clamp":{"lead":"NEGATIVE","on":false,"at":"VEHICLE","point":"TERMINALS"})");
  lines.sample("clamp", 475, "clamp.neg.contact", 0);
}

// One pull: rope comes in by `metres` from `from` at 0.8 km/h.
void pull(Lines& lines, double from_s, double out_m, double metres) {
  const double speed = 0.8 / 3.6;
  const double last = metres / speed;
  for (int i = 0; i <= static_cast<int>(last * 10); ++i) {
    const double at = i * 0.1;
    lines.sample("line", from_s + at, "line.out", out_m - speed * at);
    lines.sample("line", from_s + at, "line.pull",
                 3100 + 700 * std::sin(at / 4) + 300 * std::exp(-at));
  }
}

void winch_on(Lines& lines, const SampleOptions& options) {
  lines.op(9, 30,
           R"("rigging":{"on":true,"point":"front_eye","gear":["OW-04-soft-1"],"legsAngleDeg":0})");
  lines.op(11, 40, R"("line":{"state":"TAUT"})");
  lines.op(11, 54, R"("vehicleMode":{"mode":"ROLLING"})");
  pull(lines, 716, 18.2, 9.1);
  if (options.gap)
    lines.say("line", 775, R"("gap":{"channel":"line","cause":"cable unplugged","lost":12})");
  pull(lines, 800, 9.1, 5.1);
  lines.op(13, 50, R"("wheels":{"which":"ALL","on":"DECK"})");
  lines.op(13, 58, R"("vehicleMode":{"mode":"PARKED"})");
  lines.op(14, 10, fmt::format(R"("note":{{"text":{}}})", Json(options.note).dump()));
  lines.op(
      16, 0,
      R"("tiedown":{"on":true,"gear":"OW-04-strap-1","wheel":"LF","path":"SAME_SIDE","over":"TREAD"})");
  lines.op(
      16, 20,
      R"("tiedown":{"on":true,"gear":"OW-04-strap-2","wheel":"RF","path":"SAME_SIDE","over":"TREAD"})");
  lines.op(18, 0, R"("truckMotion":{"moving":true})");
  lines.op(39, 0, R"("truckMotion":{"moving":false})");
  lines.op(44, 0, R"("wheels":{"which":"ALL","on":"GROUND"})");
  if (options.spot_pictures)
    lines.op(46, 5, photo("spot:front lip", "AFTER", striped_png(120, 80, 9)));
  lines.op(46, 30, R"("custody":{"event":"GIVEN","to":"card-owner"})");
  lines.op(47, 0, R"("closed":{"outcome":"SIGNED"})");
}

void add_register(JobRecord& record) {
  const std::string text = R"(
vehicle { id: "wrenlet" title: "Umbelow Wrenlet, hatch" mass: "1640 kg" mass_sd: "25 kg" boost_min: "11.0 V" boost_max: "15.0 V" rolling_speed: "5 km/h" rolling_distance: "10 m" point { id: "front_eye" kind: TOW_EYE rating: "12 kN" } }
gear { id: "OW-04-soft-1" kind: SOFT_SHACKLE wll: "3000 kg" in_service: "2026-01-10" inspect_by: "2028-01-10" }
gear { id: "OW-04-strap-1" kind: WEBBING width: "50 mm" wll: "1512 kg" }
truck { id: "OW-04" title: "flatbed" deck_length: "6.40 m" winch { line_rating: "17.8 kN" } }
sensor { id: "OW-04-rope" truck: "OW-04" channel: "line.out" sd: "0.086 m" certificate: "ZC-423" valid_from: "2026-10-01" valid_until: "2027-12-31" }
sensor { id: "OW-04-load-cell" truck: "OW-04" channel: "line.pull" sd: "1.2158 %" certificate: "ZC-422" valid_from: "2026-10-01" valid_until: "2027-12-31" }
sensor { id: "OW-04-volts" truck: "OW-04" channel: "clamp.volts" sd: "0.0608 V" certificate: "ZC-425" valid_from: "2026-10-01" valid_until: "2027-12-31" }
sensor { id: "OW-04-jaw-pos" truck: "OW-04" channel: "clamp.pos.contact" certificate: "ZC-426" valid_from: "2026-10-01" valid_until: "2027-12-31" }
)";
  if (!google::protobuf::TextFormat::ParseFromString(text, &record.register_files)) std::abort();
}

void add_record_facts(JobRecord& record) {
  RecordFacts& facts = record.record;
  facts.ledger = "ozzlewick.example/fairlead/g1";
  facts.entries = 214;
  facts.head_size = 48302;
  facts.head_root = hex_of(sha256("head"));
  facts.head_at_us = kStart + 3600'000'000;
  facts.countersigned = Countersignature{"Nether Plum Mutual", kStart + 74'880'000'000, 48911};
  facts.not_before_us = kStart - 11'520'000'000;
  facts.not_after_us = kStart + 74'880'000'000;
  facts.checked_at_us = kStart + 41LL * 86'400'000'000;
  facts.check_result = "no fault in 48,990 leaves";
  facts.around = "The truck made 231 entries in that time by its own clock: 214 under this job.";
  facts.neighbours = {"OW-0411, closed 08:40, clean"};
  facts.sensed = {"2027-02-17T10:31:02 to 10:33:40 UTC: line pull up to 2.9 kN"};
  record.files = {
      {"procedure", "boost", "1.0", hex_of(sha256("boost")), kStart - 40LL * 86'400'000'000},
      {"procedure", "load", "1.0", hex_of(sha256("load")), kStart - 40LL * 86'400'000'000},
      {"vehicle", "wrenlet", "", hex_of(sha256("wrenlet")), kStart - 90LL * 86'400'000'000}};
}

}  // namespace

judge::Finding finding(const std::string& rule, judge::Verdict verdict, judge::Basis basis,
                       const std::string& lo, const std::string& best, const std::string& hi,
                       const std::string& unit) {
  judge::Finding f;
  f.rule = rule;
  f.applies = judge::Applies::kYes;
  f.verdict = verdict;
  f.basis = basis;
  if (!lo.empty()) f.margin_lo = lo;
  if (!best.empty()) f.margin_best = best;
  if (!hi.empty()) f.margin_hi = hi;
  f.unit = unit;
  f.settled = true;
  f.at_us = kStart + 800'000'000;
  f.procedure_id = "load";
  f.origin = "common practice, no source";
  return f;
}

std::vector<judge::Finding> too_far() {
  using judge::Basis;
  using judge::Verdict;
  std::vector<judge::Finding> all = all_inside();
  for (auto& f : all) {
    if (f.rule == "distance") {
      f.verdict = Verdict::kDeviated;
      f.margin_lo = "-4.5", f.margin_best = "-4.2", f.margin_hi = "-3.9";
      f.value_lo = "13.9", f.value_best = "14.2", f.value_hi = "14.5";
      f.evidence = {{"line", 900, "critical"}};
      f.sentence =
          "distance deviated: 14.2 m (13.9 to 14.5) in 'rolling', limit under 10 m, 4.2 over.";
    }
    if (f.rule == "order_off") {
      f.verdict = Verdict::kDeviated;
      f.margin_lo = f.margin_best = f.margin_hi = "-14";
      f.evidence = {{"clamp", 2103, "critical"}};
    }
  }
  return all;
}

std::vector<judge::Finding> all_inside() {
  using judge::Basis;
  using judge::Verdict;
  auto order_on = finding("order_on", Verdict::kMet, Basis::kMeasured, "11", "11", "11", "s");
  order_on.title = "Positive on before negative";
  order_on.procedure_id = "boost";
  order_on.quantity = "clamp.positive.on before clamp.negative.on";
  auto order_off = finding("order_off", Verdict::kMet, Basis::kMeasured, "11", "11", "11", "s");
  order_off.title = "Negative off before positive";
  order_off.procedure_id = "boost";
  order_off.quantity = "clamp.negative.off before clamp.positive.off";
  auto window = finding("window", Verdict::kMet, Basis::kMeasured, "0.5", "0.6", "0.7", "V");
  window.title = "Source not above the car's boost window";
  window.procedure_id = "boost";
  window.quantity = "clamp.volts";
  window.limit = "at most 15 V";
  window.value_lo = "14.3", window.value_best = "14.4", window.value_hi = "14.5";
  auto distance = finding("distance", Verdict::kMet, Basis::kMeasured, "1.9", "2.1", "2.3", "m");
  distance.title = "Short way on its own wheels";
  distance.quantity = "vehicle.rolled";
  distance.limit = "under 10 m";
  distance.value_lo = "7.7", distance.value_best = "7.9", distance.value_hi = "8.1";
  auto speed = finding("speed", Verdict::kMet, Basis::kMeasured, "4.1", "4.2", "4.3", "km/h");
  speed.title = "Walking pace on its own wheels";
  speed.quantity = "vehicle.speed";
  speed.limit = "under 5 km/h";
  speed.value_lo = "0.7", speed.value_best = "0.8", speed.value_hi = "0.9";
  auto rolls = finding("rolls_freely", Verdict::kMet, Basis::kMeasured, "1.2", "1.3", "1.4", "kN");
  rolls.title = "Pull stays below that of locked wheels";
  rolls.quantity = "line.pull";
  rolls.limit = "under 5.4 kN";
  rolls.value_best = "4.1";
  auto line = finding("line", Verdict::kMet, Basis::kMeasured, "13.6", "13.7", "13.8", "kN");
  line.title = "Pull within the weakest part of the line";
  line.quantity = "line.pull";
  line.limit = "at most 17.8 kN";
  auto photos = finding("photos_before", Verdict::kMet, Basis::kPictured, "0", "0", "0", "items");
  photos.title = "Four sides pictured before the first touch";
  auto keys = finding("keys_accounted", Verdict::kUnproven, Basis::kNone, "", "", "", "items");
  keys.title = "Keys on record before the car is up";
  keys.reason = judge::Reason::kNoData;
  auto unload = finding("taut_before_untying", Verdict::kNone, Basis::kNone, "", "", "", "s");
  unload.applies = judge::Applies::kNo;
  unload.title = "Line taut before the last strap comes off";
  return {order_on, order_off, window, distance, speed, rolls, line, photos, keys, unload};
}

JobRecord sample_job(const SampleOptions& options) {
  JobRecord record;
  record.job_id = "5d1f0a7c22b94e0f8a6610c3b7e0412a";
  record.number = "OW-2027-0412";
  Lines lines;
  arrive(lines, options);
  jump_start(lines);
  winch_on(lines, options);
  record.lines = lines.take();
  record.findings = too_far();
  record.cards = {{"card-3f", "operator 3f"}, {"card-owner", "the owner"}};
  for (const unsigned stripe : {6u, 9u, 10u}) {
    const std::string bytes = striped_png(120, 80, stripe);
    record.attachments[hex_of(sha256(bytes))] = {"image/png", bytes};
  }
  add_register(record);
  add_record_facts(record);
  return record;
}

v1::Claim sample_claim() {
  v1::Claim claim;
  claim.set_claim_id("C-0007");
  claim.set_job_id("5d1f0a7c22b94e0f8a6610c3b7e0412a");
  claim.set_words(
      "Your man dragged my Wrenlet out of the garage and since then the gearbox whines. He also "
      "took "
      "the cables off the wrong way round and now the radio is dead. And the front lip is "
      "scraped!");
  claim.set_claimant("the owner of the car");
  claim.set_received("2027-03-30");
  claim.set_sum("4,280.00 EUR");
  claim.add_document("garage estimate of 28 March");
  claim.add_document("two photos of the lip");
  const auto add = [&](const char* kind, const char* words, const char* spot) {
    auto* allegation = claim.add_allegation();
    allegation->set_kind(kind);
    allegation->set_words(words);
    allegation->set_spot(spot);
  };
  add("drive_unit", "since then the gearbox whines", "");
  add("clamp_order", "took the cables off the wrong way round", "");
  add("underside", "the front lip is scraped", "front lip");
  return claim;
}

ReportOptions sample_options(Paper paper) {
  ReportOptions options;
  options.issuer = "Ozzlewick Recovery";
  options.issued_at_us = kStart + 42LL * 86'400'000'000;
  options.offsets = {{0, 60}};
  options.paper = paper;
  options.program_version = "fairlead 0.1.0";
  return options;
}

}  // namespace fairlead::reports
