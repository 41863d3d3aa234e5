// 10: between which countersigned moments the job was recorded.
#include <algorithm>

#include "clients/verify/steps.h"
#include "daemon/base/time_text.h"
#include "daemon/record/brackets.h"

namespace fairlead::verifier {
namespace {

/// Every cosigned head of the bundle, and with its leaf every HEAD_COSIGNED entry that names one.
std::vector<record::CosignedHead> cosigned_heads(const Case& c) {
  std::vector<record::CosignedHead> out;
  for (const Head& head : c.heads) {
    if (!head.cosigned_s.empty())
      out.push_back({head.checkpoint.size, std::nullopt, head.cosigned_s});
  }
  for (const Item& item : c.items) {
    if (item.header.kind != record::Kind::kHeadCosigned || !item.signed_well) continue;
    const auto body = body_as<v1::HeadCosignedBody>(item);
    const auto note = body ? record::parse_note(body->note())
                           : Result<record::Note>(fail(Code::kNotFound, "no body"));
    if (!note) continue;
    // Only heads that step 8 ties to this log's history count.
    const auto head =
        std::ranges::find(c.heads, note->text, [](const Head& one) { return one.note.text; });
    if (head == c.heads.end()) continue;
    record::CosignedHead one{head->checkpoint.size, item.raw->leaf, {}};
    for (const record::VerifierKey& key : c.policy.countersigners) {
      if (const auto time_s = record::verify_cosignature(*note, key))
        one.times_s.push_back(*time_s);
    }
    out.push_back(std::move(one));
  }
  return out;
}

std::string time_words(std::optional<uint64_t> time_s) {
  // A cosignature's time is signed, but could be any number.
  constexpr uint64_t kLatest_s = 253'402'300'799;  // End of 9999.
  if (!time_s || *time_s > kLatest_s) return "unknown";
  return format_time_us(static_cast<int64_t>(*time_s) * 1'000'000);
}

void show_entry(const Case& c, const std::vector<record::CosignedHead>& heads, const Item& item,
                const std::string& what, Verdicts& verdicts) {
  // What a device says it had seen counts where step 8 ties it to this log.
  const bool own = item.header.ledger_id == record::ledger_id_of(c.policy.origin());
  const record::Bracket bracket = record::bracket_of(heads, own ? item.header.seen_size : 0,
                                                     item.raw->leaf, c.policy.threshold);
  verdicts.add(10, Mark::kShown,
               what + ": not before " + time_words(bracket.not_before_s) + ", not after " +
                   time_words(bracket.not_after_s) + "; the device's clock says " +
                   format_time_us(item.header.wall_us));
}

}  // namespace

void show_brackets(const Case& c, Verdicts& verdicts) {
  if (!c.job) return;
  const auto heads = cosigned_heads(c);
  for (const Item& item : c.items) {
    if (item.header.device_id != c.job->device_id) continue;
    const auto place = record::place_of(item.header);
    if (place == c.job->open) show_entry(c, heads, item, "job opened", verdicts);
    if (c.job->close && place == *c.job->close) show_entry(c, heads, item, "job closed", verdicts);
  }
}

}  // namespace fairlead::verifier
