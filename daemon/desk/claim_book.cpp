#include "daemon/desk/claim_book.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <map>

#include "daemon/base/time_text.h"
#include "daemon/desk/cards.h"
#include "daemon/desk/claim_clock.h"
#include "daemon/watch/stamp.h"

namespace fairlead::desk {
namespace {

constexpr size_t kPage = 256;

template <typename Visit>
Status each_entry_of(const Desk& desk, record::Kind kind, const Visit& visit) {
  for (uint64_t from = 0;;) {
    const auto page = desk.ledger().entries_of_kind(kind, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const auto& entry : *page) {
      // An erased body is gone on purpose; its entry still counts in the ledger.
      if (entry.body_state != ledger::BodyState::kHere) continue;
      if (auto ok = visit(entry); !ok) return ok;
    }
    if (page->size() < kPage) return {};
    from = page->back().leaf + 1;
  }
}

template <typename Body>
Status read_body(const ledger::StoredEntry& entry, Body& body) {
  if (body.ParseFromString(entry.body)) return {};
  return fail(Code::kCorrupt, fmt::format("leaf {}: the body cannot be read", entry.leaf));
}

v1::Claim claim_of(const v1::ClaimBody& body, uint64_t leaf,
                   const std::map<std::string, std::string>& names) {
  v1::Claim claim;
  claim.set_claim_id(body.claim_id());
  claim.set_job_id(hex_of(body.job_id()));
  claim.set_words(body.words());
  for (const auto& allegation : body.allegation()) {
    auto* out = claim.add_allegation();
    out->set_kind(allegation.kind());
    out->set_words(allegation.words());
    out->set_spot(allegation.place());
  }
  const auto name = names.find(hex_of(body.claimant_card()));
  if (name != names.end()) claim.set_claimant(name->second);
  claim.set_received(format_time_us(body.first_notice_us()));
  claim.set_sum(body.sum());
  *claim.mutable_document() = body.document();
  claim.set_leaf_index(leaf);
  claim.set_clock("none");
  claim.set_state("OPEN");
  return claim;
}

void take_step(const v1::ClaimStepBody& body, uint64_t leaf, v1::Claim& claim) {
  auto* step = claim.add_step();
  step->set_kind(v1::ClaimStepBody::Kind_Name(body.kind()));
  step->set_at(format_time_us(body.at_us()));
  step->set_words(body.kind() == v1::ClaimStepBody::REMINDER ? body.due() : body.words());
  step->set_leaf_index(leaf);
  if (body.kind() == v1::ClaimStepBody::EVIDENCE) {
    step->set_file_name(body.file_name());
    step->set_media_type(body.media_type());
    step->set_sha256(hex_of(body.sha256()));
  }
  if (body.kind() == v1::ClaimStepBody::DRAFT) step->set_sha256(hex_of(body.json_sha256()));
  if (body.kind() == v1::ClaimStepBody::CLOCK) {
    step->set_clock(body.clock());
    claim.set_clock(body.clock());
  }
  if (body.kind() == v1::ClaimStepBody::ANSWER) {
    step->set_outcome(v1::ClaimStepBody::Outcome_Name(body.outcome()));
    step->set_amount(body.amount());
    claim.set_state(step->outcome());
    claim.set_amount(body.amount());
  }
}

void add_due(v1::Claim& claim, int64_t now_us) {
  std::vector<ClaimMoment> moments;
  for (const auto& step : claim.step()) {
    using Kind = ClaimMoment::Kind;
    const int64_t at = parse_time_us(step.at()).value_or(0);
    if (step.kind() == "ACKNOWLEDGED") moments.push_back({Kind::kAcknowledged, at});
    if (step.kind() == "STATUS") moments.push_back({Kind::kStatus, at});
    if (step.kind() == "ANSWER") moments.push_back({Kind::kAnswer, at});
  }
  const int64_t received = parse_time_us(claim.received()).value_or(0);
  for (const DueDate& date : due_dates(claim.clock(), received, moments, now_us)) {
    auto* due = claim.add_due();
    due->set_what(date.what);
    due->set_origin(date.origin);
    due->set_due(day_text(date.due_us));
    if (date.done_us) due->set_done(day_text(*date.done_us));
    due->set_overdue(date.overdue(now_us));
    due->set_days_left(date.days_left(now_us));
  }
}

// Claims by id with the steps in the order of the ledger.
class Book {
 public:
  explicit Book(std::map<std::string, std::string> names) : names_(std::move(names)) {}

  Status take(const ledger::StoredEntry& entry) {
    v1::ClaimStepBody step;
    if (auto ok = read_body(entry, step); !ok) return ok;
    if (step.kind() != v1::ClaimStepBody::UNSET) {
      // Of a claim whose opening was erased nothing is left to show.
      const auto at = at_.find(step.claim_id());
      if (at != at_.end()) take_step(step, entry.leaf, claims_[at->second]);
      return {};
    }
    v1::ClaimBody body;
    if (auto ok = read_body(entry, body); !ok) return ok;
    at_[body.claim_id()] = claims_.size();
    claims_.push_back(claim_of(body, entry.leaf, names_));
    return {};
  }
  Status take_report(const ledger::StoredEntry& entry) {
    v1::ReportIssuedBody body;
    if (auto ok = read_body(entry, body); !ok) return ok;
    const auto at = at_.find(body.claim_id());
    if (body.kind() != v1::ReportIssuedBody::CLAIM || at == at_.end()) return {};
    auto* step = claims_[at->second].add_step();
    step->set_kind("REPORT");
    step->set_at(format_time_us(body.issued_us()));
    step->set_sha256(hex_of(body.json_sha256()));
    step->set_leaf_index(entry.leaf);
    return {};
  }
  std::vector<v1::Claim> finish(int64_t now_us) {
    for (v1::Claim& claim : claims_) {
      auto& steps = *claim.mutable_step();
      std::stable_sort(steps.begin(), steps.end(), [](const auto& a, const auto& b) {
        return a.leaf_index() < b.leaf_index();
      });
      add_due(claim, now_us);
    }
    return std::move(claims_);
  }

 private:
  std::map<std::string, std::string> names_;
  std::map<std::string, size_t> at_;
  std::vector<v1::Claim> claims_;
};

void raise_to(const std::string& claim_id, uint64_t& highest) {
  uint64_t number = 0;
  if (!claim_id.starts_with("C-")) return;
  std::from_chars(claim_id.data() + 2, claim_id.data() + claim_id.size(), number);
  highest = std::max(highest, number);
}

}  // namespace

Result<std::vector<v1::Claim>> all_claims(const Desk& desk, int64_t now_us) {
  auto names = card_names(desk);
  if (!names) return std::unexpected(names.error());
  Book book(std::move(*names));
  const auto read =
      each_entry_of(desk, record::Kind::kClaim,
                    [&](const ledger::StoredEntry& entry) { return book.take(entry); });
  if (!read) return std::unexpected(read.error());
  const auto reports =
      each_entry_of(desk, record::Kind::kReportIssued,
                    [&](const ledger::StoredEntry& entry) { return book.take_report(entry); });
  if (!reports) return std::unexpected(reports.error());
  const auto holds = desk.ledger().holds();
  if (!holds) return std::unexpected(holds.error());
  auto claims = book.finish(now_us);
  for (auto& claim : claims) claim.set_on_hold(holds->active().contains(claim.claim_id()));
  return claims;
}

Result<v1::Claim> claim_named(const Desk& desk, const std::string& claim_id, int64_t now_us) {
  auto claims = all_claims(desk, now_us);
  if (!claims) return std::unexpected(claims.error());
  for (auto& claim : *claims) {
    if (claim.claim_id() == claim_id) return std::move(claim);
  }
  return fail(Code::kNotFound, "no claim '" + claim_id + "'; fairlead claim list shows them");
}

Result<uint64_t> next_claim_number(const Desk& desk) {
  uint64_t highest = 0;
  const auto claims =
      each_entry_of(desk, record::Kind::kClaim, [&](const ledger::StoredEntry& entry) -> Status {
        v1::ClaimStepBody step;  // Field 1 is the claim's id in both messages.
        if (auto ok = read_body(entry, step); !ok) return ok;
        raise_to(step.claim_id(), highest);
        return {};
      });
  if (!claims) return std::unexpected(claims.error());
  const auto holds =
      each_entry_of(desk, record::Kind::kHold, [&](const ledger::StoredEntry& entry) -> Status {
        v1::HoldBody hold;
        if (auto ok = read_body(entry, hold); !ok) return ok;
        raise_to(hold.claim_id(), highest);
        return {};
      });
  if (!holds) return std::unexpected(holds.error());
  return highest + 1;
}

Result<uint64_t> write_step(Desk& desk, v1::ClaimStepBody step) {
  step.set_at_us(watch::wall_now_us());
  const auto written = desk.office.write(record::Kind::kClaim, {}, step);
  if (!written) return std::unexpected(written.error());
  return written->leaf;
}

}  // namespace fairlead::desk
