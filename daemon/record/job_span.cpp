#include "daemon/record/job_span.h"

namespace fairlead::record {
namespace {

bool inside(const EntryHeader& header, const JobSpan& span) {
  const ChainPlace place = place_of(header);
  return place >= span.open && (!span.close || place <= *span.close);
}

}  // namespace

bool is_judged_in(const EntryHeader& header, const JobSpan& span) {
  if (header.device_id != span.device_id) return false;
  const bool own = header.job_id == span.job_id;
  switch (header.kind) {
    case Kind::kJobOpen:
    case Kind::kJobClose:
    case Kind::kObservations:
    case Kind::kRecovered:
    case Kind::kStrip:
      return own || inside(header, span);
    default:
      return false;
  }
}

bool must_show_body(const EntryHeader& header, const JobSpan& span) {
  if (header.job_id == span.job_id || is_judged_in(header, span)) return true;
  return header.device_id == span.device_id && header.kind != Kind::kCard && inside(header, span);
}

bool is_foreign_to(const EntryHeader& header, const JobSpan& span) {
  return header.job_id == span.job_id && header.device_id != span.device_id &&
         !is_base_kind(header.kind);
}

}  // namespace fairlead::record
