#include "daemon/record/packer.h"

#include <algorithm>
#include <array>
#include <span>

#include "daemon/record/strip.h"

namespace fairlead::record {
namespace {

// A body must still fit when its entry is brought in again inside a RECOVERED body.
constexpr size_t kMostPacked = kMaxBodySize - 512;

using O = v1::Observation;

// Each may be personal, so each can be erased without touching anything else.
constexpr std::array kAlone = {O::kNote,      O::kPhoto,   O::kFilm, O::kCondition,
                               O::kStatement, O::kCustody, O::kItem};
constexpr std::array kUrgent = {O::kHeat, O::kSmoke, O::kWarning};

// What one more line costs in a list: its bytes, a tag and a length of at most three bytes.
size_t listed_bytes(const O& line) { return line.ByteSizeLong() + 4; }

bool is_one_of(O::KindCase kind, std::span<const O::KindCase> kinds) {
  return std::ranges::find(kinds, kind) != kinds.end();
}

std::string job_body(const O& line, const std::vector<v1::Pin>& pins) {
  if (!line.has_opened()) {
    v1::JobCloseBody body;
    *body.mutable_observation() = line;
    return body.SerializeAsString();
  }
  v1::JobOpenBody body;
  *body.mutable_observation() = line;
  body.mutable_pins()->Assign(pins.begin(), pins.end());
  return body.SerializeAsString();
}

// Halves the span until each part fits; one line always does.
void pack_strip(std::span<const O> lines, std::vector<PackedBody>& out) {
  const auto body = encode_strip(lines);
  if (body && body->size() <= kMostPacked) {
    out.push_back({Kind::kStrip, "", *body, false});
  } else if (lines.size() > 1) {
    pack_strip(lines.first(lines.size() / 2), out);
    pack_strip(lines.subspan(lines.size() / 2), out);
  }
}

}  // namespace

Result<std::vector<PackedBody>> Packer::add(const O& line, int64_t now_us) {
  std::vector<PackedBody> out;
  if (line.has_sample() || line.has_fix()) {
    // Refused here, not lost later: encoding one line checks it.
    if (const auto alone = encode_strip({&line, 1}); !alone) return std::unexpected(alone.error());
    add_to_strip(line, now_us, out);
    return out;
  }
  const bool job_bound = line.has_opened() || line.has_closed() || line.has_abandoned();
  if (job_bound) {
    PackedBody bound{line.has_opened() ? Kind::kJobOpen : Kind::kJobClose, line.job(),
                     job_body(line, pins_), true};
    if (bound.body.size() > kMostPacked) {
      return fail(Code::kBadInput, "opened: is too large for one entry; pin fewer files");
    }
    close_strip_into(out);
    close_groups(out);
    out.push_back(std::move(bound));
    return out;
  }
  if (listed_bytes(line) > kMostPacked) {
    return fail(Code::kBadInput, "line: is too large for one entry; shorten its texts");
  }
  add_to_group(line, now_us, out);
  return out;
}

void Packer::add_to_strip(const O& line, int64_t now_us, std::vector<PackedBody>& out) {
  if (strip_.empty()) strip_since_us_ = now_us;
  strip_.push_back(line);
  strip_values_ += line.has_fix() ? 5 : 1;
  if (strip_values_ >= limits_.strip_values_most ||
      now_us - strip_since_us_ >= limits_.strip_for_us) {
    close_strip_into(out);
  }
}

void Packer::add_to_group(const O& line, int64_t now_us, std::vector<PackedBody>& out) {
  const bool alone = is_one_of(line.kind_case(), kAlone);
  const size_t bytes = listed_bytes(line);
  auto group = std::ranges::find(groups_, line.job(), &Group::job);
  const bool full = group != groups_.end() && group->bytes + bytes > kMostPacked;
  if (alone || full) {
    close_groups(out);
    group = groups_.end();
  }
  if (group == groups_.end()) {
    groups_.push_back({line.job(), now_us, 0, {}});
    group = groups_.end() - 1;
  }
  *group->body.add_observation() = line;
  group->bytes += bytes;
  const bool urgent = is_one_of(line.kind_case(), kUrgent);
  const bool many =
      static_cast<size_t>(group->body.observation_size()) >= limits_.observations_most;
  if (alone || urgent || many) close_groups(out, urgent);
}

std::vector<PackedBody> Packer::due(int64_t now_us) {
  std::vector<PackedBody> out;
  if (!strip_.empty() && now_us - strip_since_us_ >= limits_.strip_for_us) close_strip_into(out);
  const bool late = std::ranges::any_of(groups_, [&](const Group& group) {
    return now_us - group.since_us >= limits_.observations_for_us;
  });
  if (late) close_groups(out);
  return out;
}

std::optional<int64_t> Packer::next_due_us() const {
  std::optional<int64_t> next;
  if (!strip_.empty()) next = strip_since_us_ + limits_.strip_for_us;
  for (const auto& group : groups_) {
    const int64_t due_us = group.since_us + limits_.observations_for_us;
    next = std::min(next.value_or(due_us), due_us);
  }
  return next;
}

std::vector<PackedBody> Packer::close_strip() {
  std::vector<PackedBody> out;
  close_strip_into(out);
  return out;
}

std::vector<PackedBody> Packer::flush() {
  std::vector<PackedBody> out;
  close_strip_into(out);
  close_groups(out);
  return out;
}

void Packer::close_groups(std::vector<PackedBody>& out, bool urgent) {
  for (auto& group : groups_) {
    out.push_back({Kind::kObservations, group.job, group.body.SerializeAsString(), urgent});
  }
  groups_.clear();
}

void Packer::close_strip_into(std::vector<PackedBody>& out) {
  if (!strip_.empty()) pack_strip(strip_, out);
  strip_.clear();
  strip_values_ = 0;
}

}  // namespace fairlead::record
