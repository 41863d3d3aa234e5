#include "clients/verify/job_lines.h"

#include <algorithm>

#include "daemon/record/packer.h"

namespace fairlead::verifier {

JobLines job_lines(const Case& c) {
  std::vector<const Item*> judged;
  for (const Item& item : c.items) {
    if (c.job && !item.quarantined && record::is_judged_in(item.header, *c.job)) {
      judged.push_back(&item);
    }
  }
  std::stable_sort(judged.begin(), judged.end(), [](const Item* a, const Item* b) {
    return record::place_of(a->header) < record::place_of(b->header);
  });
  JobLines out;
  for (const Item* item : judged) {
    if (!item->body_bound) {
      out.whole = false;
      continue;
    }
    auto lines = record::observations_of(item->header.kind, item->raw->body);
    if (!lines) {
      out.trouble = name_of(*item) + ": " + lines.error().message;
      continue;
    }
    if (record::place_of(item->header) == c.job->open && !lines->empty()) {
      out.job = lines->front().job();
    }
    std::move(lines->begin(), lines->end(), std::back_inserter(out.lines));
  }
  return out;
}

std::vector<v1::Observation> foreign_lines(const Case& c) {
  std::vector<v1::Observation> out;
  for (const Item& item : c.items) {
    if (!c.job || !item.body_bound || !record::is_foreign_to(item.header, *c.job)) continue;
    auto lines = record::observations_of(item.header.kind, item.raw->body);
    if (lines) std::move(lines->begin(), lines->end(), std::back_inserter(out));
  }
  return out;
}

std::vector<v1::Pin> job_pins(const Case& c) {
  for (const Item& item : c.items) {
    if (!c.job || kind_in_job(item) != record::Kind::kJobOpen ||
        item.header.device_id != c.job->device_id || item.header.job_id != c.job->job_id ||
        record::place_of(item.header) != c.job->open) {
      continue;
    }
    auto body = body_as<v1::JobOpenBody>(item);
    if (item.header.kind == record::Kind::kRecovered) {
      const auto recovered = body_as<v1::RecoveredBody>(item);
      v1::JobOpenBody inside;
      const bool read = recovered && inside.ParseFromString(recovered->body());
      body = read ? std::optional(std::move(inside)) : std::nullopt;
    }
    if (body) return {body->pins().begin(), body->pins().end()};
  }
  return {};
}

}  // namespace fairlead::verifier
