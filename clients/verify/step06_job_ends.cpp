// 6: the job begins with its JOB_OPEN and ends with its JOB_CLOSE, and nothing of it is withheld.
#include "clients/verify/steps.h"

namespace fairlead::verifier {
namespace {

using record::BodyForm;
using record::Kind;

void check_shown(const Case& c, Verdicts& verdicts) {
  size_t shown = 0;
  for (const Item& item : c.items) {
    if (!record::must_show_body(item.header, *c.job)) continue;
    ++shown;
    if (item.raw->form == BodyForm::kBare) {
      verdicts.add(6, Mark::kDisproven,
                   name_of(item) + " belongs to the job, but its body is withheld");
    }
  }
  if (!verdicts.failed(6)) {
    verdicts.add(6, Mark::kGood,
                 "nothing withheld of the job's " + std::to_string(shown) + " entries");
  }
}

void check_order(const Case& c, Verdicts& verdicts) {
  size_t opens = 0, after_close = 0;
  for (const Item& item : c.items) {
    if (item.header.job_id != c.job->job_id || item.header.device_id != c.job->device_id) continue;
    const auto place = record::place_of(item.header);
    if (kind_in_job(item) == Kind::kJobOpen) ++opens;
    if (place < c.job->open) {
      verdicts.add(6, Mark::kDisproven, name_of(item) + " of the job comes before its JOB_OPEN");
    }
    if (c.job->close && place > *c.job->close) ++after_close;
  }
  if (opens > 1) {
    verdicts.add(6, Mark::kNote, "the job was opened " + std::to_string(opens) + " times");
  }
  if (!c.job->close) verdicts.add(6, Mark::kNote, "the job is still open");
  if (after_close > 0) {
    verdicts.add(6, Mark::kNote,
                 std::to_string(after_close) + " entries of the job come after its JOB_CLOSE");
  }
}

}  // namespace

void check_job_ends(const Case& c, Verdicts& verdicts) {
  if (!c.job) {
    verdicts.add(6, Mark::kDisproven, "the job's JOB_OPEN is not in the bundle");
    return;
  }
  check_order(c, verdicts);
  check_shown(c, verdicts);
}

}  // namespace fairlead::verifier
