#include "clients/verify/on_record.h"
#include "clients/verify/steps.h"

namespace fairlead::verifier {

Verdicts check_bundle(std::string_view bytes, const Policy& policy, std::vector<PagesFile> pages) {
  Verdicts verdicts;
  std::optional<Case> c = open_case(bytes, policy, verdicts);
  if (!c) return verdicts;
  c->pages = std::move(pages);
  check_seal(*c, verdicts);
  check_heads(*c, verdicts);
  check_inclusion(*c, verdicts);
  check_signatures(*c, verdicts);
  check_countersigned(*c, verdicts);
  check_chains(*c, verdicts);
  check_job_ends(*c, verdicts);
  check_bodies(*c, verdicts);
  check_seen_heads(*c, verdicts);
  show_oddities(*c, verdicts);
  show_brackets(*c, verdicts);
  show_files(*c, verdicts);
  show_clock_steps(*c, verdicts);
  check_attachments(*c, verdicts);
  check_reports(*c, verdicts);
  judge_again(*c, verdicts);
  tell_record(*c, verdicts);
  return verdicts;
}

}  // namespace fairlead::verifier
