#include "clients/sim/year/play.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <map>
#include <tuple>

#include "daemon/base/time_text.h"
#include "daemon/record/observation_json.h"

namespace fairlead::sim {
namespace {

constexpr int64_t kEarlier_us = 300'000'000;

void replace_all(std::string& text, const std::string& from, const std::string& to) {
  for (size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
    text.replace(at, from.size(), to);
}

struct Timed {
  int64_t at_us = 0;
  v1::Observation line;
};

bool comes_before(const Timed& a, const Timed& b) {
  return std::tuple(a.at_us, a.line.source(), a.line.seq()) <
         std::tuple(b.at_us, b.line.source(), b.line.seq());
}

// Numbers without a hole, in the order of time: a mark that was moved leaves none.
void number(std::vector<Timed>& lines) {
  std::map<std::string, uint32_t> next;
  for (Timed& one : lines) one.line.set_seq(++next[one.line.source()]);
}

Result<std::vector<Timed>> read(const std::filesystem::path& file, const std::string& truck) {
  std::ifstream in(file);
  if (!in) return fail(Code::kNotFound, file.string() + ": cannot be read; give --traces");
  std::vector<Timed> out;
  std::string text, was;
  for (size_t row = 1; std::getline(in, text); ++row) {
    const size_t at = text.find("\"truck\":\"OW-");
    if (was.empty() && at != std::string::npos) was = text.substr(at + 9, 5);
    if (!was.empty()) replace_all(text, was, truck);
    auto line = record::observation_from_line(text);
    if (!line) return fail_at(fmt::format("{}:{}: ", file.string(), row), line.error());
    const auto time = parse_time_us(line->time());
    if (!time) return fail(Code::kBadInput, fmt::format("{}:{}: no time", file.string(), row));
    out.push_back({*time, std::move(*line)});
  }
  if (out.empty()) return fail(Code::kBadInput, file.string() + ": is empty");
  return out;
}

}  // namespace

std::string truck_name(int truck) { return fmt::format("OW-{:02}", truck); }
std::string card_of(int operator_) { return fmt::format("{:032x}", 0xca4d0000 + operator_); }

Result<Trace> Trace::load(const std::filesystem::path& traces, const Variant& variant, int truck) {
  auto lines = read(traces / variant.trace / "trace.jsonl", truck_name(truck));
  if (!lines) return std::unexpected(lines.error());
  std::erase_if(*lines, [&](const Timed& one) { return one.line.source() == variant.silent; });
  for (Timed& one : *lines) {
    if (variant.photos_in_time && one.line.has_photo() &&
        one.line.photo().when() == v1::When::BEFORE)
      one.at_us -= kEarlier_us;
  }
  std::stable_sort(lines->begin(), lines->end(), comes_before);
  number(*lines);
  Trace out;
  for (Timed& one : *lines) {
    out.offsets_.push_back(one.at_us - lines->front().at_us);
    out.lines_.push_back(std::move(one.line));
  }
  return out;
}

std::vector<v1::Observation> Trace::play(const std::string& job, int64_t opened_us,
                                         int operator_) const {
  std::vector<v1::Observation> out = lines_;
  for (size_t i = 0; i < out.size(); ++i) {
    out[i].set_time(format_time_us(opened_us + offsets_[i]));
    out[i].set_job(job);
    if (out[i].has_opened()) out[i].mutable_opened()->set_operator_(card_of(operator_));
    if (out[i].has_crew()) out[i].mutable_crew()->set_operator_(card_of(operator_));
  }
  return out;
}

}  // namespace fairlead::sim
