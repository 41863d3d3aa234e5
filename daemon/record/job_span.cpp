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
  const bool of_no_job = is_zero(header.job_id) && inside(header, span);
  switch (header.kind) {
    case Kind::kJobOpen:
    case Kind::kJobClose:
    case Kind::kRecovered:
      return own;
    case Kind::kObservations:
      return own || of_no_job;
    case Kind::kStrip:
      return of_no_job;
    default:
      return false;
  }
}

bool must_show_body(const EntryHeader& header, const JobSpan& span) {
  return header.job_id == span.job_id || is_judged_in(header, span);
}

bool is_foreign_to(const EntryHeader& header, const JobSpan& span) {
  return header.job_id == span.job_id && header.device_id != span.device_id &&
         !is_base_kind(header.kind);
}

}  // namespace fairlead::record
