#include "tests/unit/reports/hostile_job.h"

#include <google/protobuf/message.h>

#include <set>

#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

// Not free: forms, and names by which things are looked up in these tests.
bool is_bound(const std::string& name) {
  static const std::set<std::string> kBound = {
      "time",      "received",   "promised",   "sha256",      "signal",        "source",
      "job_id",    "claim_id",   "mass",       "mass_sd",     "wll",           "rating",
      "boost_min", "boost_max",  "valid_from", "valid_until", "rolling_speed", "rolling_distance",
      "sd",        "in_service", "inspect_by", "deck_length", "line_rating",   "width",
      "channel",   "state",      "clock"};
  return kBound.contains(name);
}

void spoil(google::protobuf::Message& message, const std::string& text) {
  const auto* about = message.GetDescriptor();
  const auto* reflection = message.GetReflection();
  using Field = google::protobuf::FieldDescriptor;
  for (int i = 0; i < about->field_count(); ++i) {
    const Field* field = about->field(i);
    if (field->cpp_type() == Field::CPPTYPE_MESSAGE) {
      if (field->is_repeated()) {
        for (int k = 0; k < reflection->FieldSize(message, field); ++k)
          spoil(*reflection->MutableRepeatedMessage(&message, field, k), text);
      } else if (reflection->HasField(message, field)) {
        spoil(*reflection->MutableMessage(&message, field), text);
      }
      continue;
    }
    const bool free = field->type() == Field::TYPE_STRING && !is_bound(field->name());
    if (!free) continue;
    if (field->is_repeated()) {
      for (int k = 0; k < reflection->FieldSize(message, field); ++k)
        reflection->SetRepeatedString(&message, field, k, text);
    } else if (!reflection->GetString(message, field).empty()) {
      reflection->SetString(&message, field, text);
    }
  }
}

}  // namespace

std::string hostile_text() {
  return "</script><script>alert(1)</script><img src=x onerror=alert(1)> {{report.title}} \" ' & "
         "--> ]]> \xE2\x80\xAE"
         "detrever \xE2\x81\xA6 \xF0\x9F\x98\x80 \xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D "
         "\xD9\x85\xD8\xB1\xD8\xAD\xD8\xA8\xD8\xA7 \xE8\xBB\x8A \xD0\xBC\xD0\xB0\xD1\x88 "
         "a\xCC\x81\xCC\x81\xCC\x81\xCC\x81\xCC\x81\xCC\x81";
}

Hostile hostile_job(Paper paper, const std::string& filler) {
  const std::string text = hostile_text() + filler;
  Hostile out{sample_job(), sample_claim(), sample_options(paper)};
  // One of each kind that the sample lacks and that carries words.
  v1::Observation line = out.record.lines.front();
  const auto add = [&](const auto& fill) {
    line.clear_opened();
    fill(line);
    line.set_seq(line.seq() + 1000);
    out.record.lines.push_back(line);
  };
  add([](auto& l) { l.mutable_statement()->set_text("x"), l.mutable_statement()->set_card("y"); });
  add([](auto& l) {
    l.mutable_reason()->set_words("x"), l.mutable_reason()->set_rule("distance");
  });
  add([](auto& l) { l.mutable_abandoned()->set_words("x"); });
  add([](auto& l) { l.mutable_anchor()->set_words("x"); });
  add([](auto& l) {
    auto* c = l.mutable_condition();
    c->set_place("x"), c->set_kind("x"), c->set_words("x"), c->set_when(v1::When::BEFORE);
  });
  add([](auto& l) { l.mutable_item()->set_bag("x"), l.mutable_item()->set_kind(v1::Item::OTHER); });
  add([](auto& l) { l.mutable_custody()->set_place("x"), l.mutable_custody()->set_to("y"); });
  add([](auto& l) { l.mutable_heat()->set_where("x"); });
  add([](auto& l) {
    l.mutable_door()->set_which("x"), l.mutable_door()->set_means(v1::Door::TOOL);
  });
  for (auto& one : out.record.lines) spoil(one, text);
  out.record.number = text;
  out.record.job_id = text;
  for (auto& [card, name] : out.record.cards) name = text;
  out.record.cards[text] = text;
  for (auto& finding : out.record.findings) {
    finding.title = finding.origin = finding.sentence = finding.procedure_id = text;
  }
  for (auto& file : out.record.files) file.id = file.version = file.by = file.kind = text;
  for (auto* part : {&out.record.record.ledger, &out.record.record.check_result,
                     &out.record.record.around, &out.record.record.countersigned->by})
    *part = text;
  out.record.record.neighbours = out.record.record.same_card = out.record.record.sensed = {text};
  out.record.other_rules = OtherRules{text, {text}, {{text, text, text}}};
  spoil(out.record.register_files, text);
  spoil(out.claim, text);
  // Kinds are looked up; the words and places are what people write.
  const char* kinds[] = {"drive_unit", "clamp_order", "underside"};
  for (int i = 0; i < out.claim.allegation_size(); ++i)
    out.claim.mutable_allegation(i)->set_kind(kinds[i % 3]);
  out.options.issuer = text;
  out.options.zone_name = text;
  out.options.program_version = text;
  return out;
}

}  // namespace fairlead::reports
