#include "tests/unit/verify/small_job.h"

#include <cstdio>

#include "daemon/judge/judge.h"
#include "daemon/record/observation_json.h"
#include "daemon/record/packer.h"
#include "daemon/record/strip.h"

namespace fairlead {
namespace {

// Two comes_first rules: one is met, one deviated.
constexpr char kProcedure[] = R"(id: "short"
version: "1.0"
title: "A short procedure"
step { id: "S1" say: "Check plate and order" done_by: "identified" }
rule { id: "identity_before_touch" title: "Plate or VIN checked before the first touch"
  origin { text: "made for this test" standing: PRACTICE }
  comes_first { first: "identified" then: "first_touch" } }
rule { id: "authority_before_touch" title: "Authority on record before the first touch"
  origin { text: "made for this test" standing: PRACTICE }
  comes_first { first: "authority" then: "first_touch" } }
)";

std::string observations(std::initializer_list<v1::Observation> lines) {
  v1::ObservationsBody body;
  for (const auto& line : lines) *body.add_observation() = line;
  return body.SerializeAsString();
}

}  // namespace

SmallJob::SmallJob(v1::EnrolBody::Kind kind) : procedure(kProcedure), photo(3'000, '\x7f') {
  enrol_leaf = base.enrol(truck, kind);
  v1::StartBody start;
  start.set_version("0.1.0");
  start.set_clean(true);
  base.write(truck, record::Kind::kStart, start.SerializeAsString());
}

v1::Observation SmallJob::line(int second, const std::string& source, uint32_t seq,
                               const std::string& kind) const {
  char time[40];
  std::snprintf(time, sizeof time, "2026-03-02T10:00:%02d.000000Z", second);
  const auto read = record::observation_from_line(
      R"({"time":")" + std::string(time) + R"(","job":")" + hex_of(id) + R"(","source":")" +
      source + R"(","clock":"truck","seq":)" + std::to_string(seq) + "," + kind + "}");
  EXPECT_TRUE(read.has_value()) << (read ? "" : read.error().message);
  return read.value_or(v1::Observation());
}

uint64_t SmallJob::say(int second, uint32_t seq, const std::string& kind) {
  return base.write(truck, record::Kind::kObservations,
                    observations({line(second, "operator", seq, kind)}), id);
}

void SmallJob::open() {
  v1::JobOpenBody body;
  *body.mutable_observation() = line(
      0, "operator", 1,
      R"("opened":{"procedures":["short"],"vehicle":"small","truck":"truck-7","operator":"card-1"})");
  v1::Pin* pin = body.add_pins();
  pin->set_name("short.textproto");
  pin->set_kind(v1::FileKind::PROCEDURE);
  pin->set_sha256(string_of(sha256(procedure)));
  open_leaf = base.write(truck, record::Kind::kJobOpen, body.SerializeAsString(), id);
}

void SmallJob::work() {
  say(10, 2, R"("identified":{"card":"card-2","how":"PLATE"})");
  say(20, 3,
      R"("photo":{"view":"front","when":"BEFORE","sha256":")" + hex_of(sha256(photo)) +
          R"(","mediaType":"image/jpeg"})");
  say(30, 4, R"("door":{"which":"LF","means":"ELECTRIC"})");
  note_leaf = say(40, 5, R"("note":{"text":"It rains."})");
  v1::Observation pull = line(35, "line", 1, R"("sample":{"signal":"line.pull","value":2600})");
  pull.clear_job();
  strip_leaf = base.write(truck, record::Kind::kStrip, record::encode_strip({&pull, 1}).value());
}

uint64_t SmallJob::chat(const std::string& words) {
  const auto note = line(45, "probe", ++chats_, R"("note":{"text":")" + words + R"("})");
  return base.write(truck, record::Kind::kObservations, observations({note}), id);
}

void SmallJob::close() {
  v1::JobCloseBody body;
  *body.mutable_observation() = line(50, "operator", 6, R"("closed":{"outcome":"SIGNED"})");
  close_leaf = base.write(truck, record::Kind::kJobClose, body.SerializeAsString(), id);
  v1::Observation elsewhere = line(55, "operator", 7, R"("note":{"text":"Another job."})");
  base.write(truck, record::Kind::kObservations, observations({elsewhere}), other);
}

void SmallJob::judge() {
  std::vector<v1::Observation> lines;
  for (const Leaf& leaf : base.leaves) {
    if (leaf.header.job_id != id && leaf.header.kind != record::Kind::kStrip) continue;
    auto more = record::observations_of(leaf.header.kind, leaf.body);
    ASSERT_TRUE(more.has_value()) << more.error().message;
    lines.insert(lines.end(), more->begin(), more->end());
  }
  const auto rules = judge::Rulebook::load({{"short.textproto", procedure}}, {});
  ASSERT_TRUE(rules.has_value()) << rules.error().message;
  for (const auto& finding : judge::judge_job(*rules, lines)) {
    v1::FindingBody body;
    body.set_job_id(string_of(id));
    body.set_rule(judge::finding_key(finding));
    body.set_revision(finding.revision);
    body.set_line(judge::finding_to_json(finding));
    finding_leaf = base.write(base.service, record::Kind::kFinding, body.SerializeAsString(), id);
  }
}

void SmallJob::run(bool cosign) {
  base.sign_head(cosign);
  if (cosign) {
    v1::HeadCosignedBody body;
    body.set_note(base.heads().back());
    base.write(base.service, record::Kind::kHeadCosigned, body.SerializeAsString());
  }
  base.seen_size = base.leaves.size();
  open();
  work();
  close();
  judge();
  base.sign_head(cosign);
}

record::Bundle SmallJob::bundle() {
  record::Bundle out = base.bundle(id, truck);
  out.files.push_back({sha256(procedure), procedure});
  out.attachments.push_back({sha256(photo), photo});
  return out;
}

}  // namespace fairlead
