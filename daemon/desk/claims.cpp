#include "daemon/desk/claims.h"

#include <fmt/format.h>

#include <map>

#include "daemon/base/time_text.h"
#include "daemon/desk/cards.h"
#include "daemon/desk/claim_book.h"
#include "daemon/desk/claim_clock.h"
#include "daemon/desk/claim_steps.h"
#include "daemon/desk/jobs.h"
#include "daemon/watch/stamp.h"
#include "reports/claim/allegation_table.h"

namespace fairlead::desk {
namespace {

constexpr size_t kPage = 256;
constexpr size_t kLongestWords = 10'000;
constexpr int kMostDocuments = 100;

Result<int64_t> received_time(const std::string& text) {
  if (text.empty()) return watch::wall_now_us();
  if (const auto time = parse_time_us(text)) return *time;
  const auto day = parse_date_us(text);
  if (!day) {
    return fail(Code::kBadInput,
                "received: '" + text + "' is neither a date nor RFC 3339; write 2027-03-30");
  }
  return *day;
}

/// Every allegation with the id of its kind; one without a kind gets the one its words fit.
Status check_allegations(v1::Claim& claim) {
  const auto table = reports::shipped_allegation_table();
  if (!table) return std::unexpected(table.error());
  if (claim.allegation().empty()) {
    const auto* kind = reports::guess_kind(*table, claim.words());
    if (kind == nullptr) {
      return fail(
          Code::kBadInput,
          "allegation: none given and the claim's words fit no kind; name one as KIND=WORDS");
    }
    claim.add_allegation()->set_kind(kind->id());
    claim.mutable_allegation(0)->set_words(claim.words());
  }
  if (claim.allegation_size() > 6) {
    return fail(Code::kBadInput, "allegation: more than six; open a second claim for the rest");
  }
  for (auto& allegation : *claim.mutable_allegation()) {
    if (auto ok = check_claim_text("allegation.words", allegation.words(), kLongestWords); !ok)
      return ok;
    if (auto ok = check_claim_text("allegation.spot", allegation.spot(), 200); !ok) return ok;
    if (allegation.words().empty()) allegation.set_words(claim.words());
    if (allegation.kind().empty()) {
      const auto* kind = reports::guess_kind(*table, allegation.words());
      if (kind == nullptr) {
        return fail(Code::kBadInput, "allegation: '" + allegation.words() +
                                         "' fits no kind; name one as KIND=WORDS");
      }
      allegation.set_kind(kind->id());
    }
    if (const auto kind = reports::find_kind(*table, allegation.kind()); !kind) {
      return std::unexpected(kind.error());
    }
  }
  return {};
}

Status check_claim(v1::Claim& claim) {
  if (claim.words().empty()) {
    return fail(Code::kBadInput, "words: empty; give the claim in the claimant's own words");
  }
  if (auto ok = check_claim_text("words", claim.words(), kLongestWords); !ok) return ok;
  if (auto ok = check_claim_text("claimant", claim.claimant(), 500); !ok) return ok;
  if (auto ok = check_claim_text("sum", claim.sum(), 100); !ok) return ok;
  if (claim.document_size() > kMostDocuments) {
    return fail(Code::kBadInput,
                "document: more than 100 lines; put them into a list of their own");
  }
  for (const auto& document : claim.document()) {
    if (auto ok = check_claim_text("document", document, 500); !ok) return ok;
  }
  return check_allegations(claim);
}

v1::ClaimBody body_of(const v1::Claim& claim, const record::Id16& job, int64_t received_us,
                      const std::string& card) {
  v1::ClaimBody body;
  body.set_claim_id(claim.claim_id());
  body.set_job_id(string_of(job));
  body.set_opened_us(watch::wall_now_us());
  body.set_claimant_card(card);
  body.set_words(claim.words());
  for (const auto& allegation : claim.allegation()) {
    auto* out = body.add_allegation();
    out->set_id(fmt::format("A{}", body.allegation_size()));
    out->set_kind(allegation.kind());
    out->set_words(allegation.words());
    out->set_place(allegation.spot());
  }
  body.set_first_notice_us(received_us);
  body.set_sum(claim.sum());
  *body.mutable_document() = claim.document();
  return body;
}

template <typename Body, typename Visit>
Status each_body(const Desk& desk, record::Kind kind, const Visit& visit) {
  for (uint64_t from = 0;;) {
    const auto page = desk.ledger().entries_of_kind(kind, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const auto& entry : *page) {
      Body body;
      // An erased body is gone on purpose; its entry still counts in the ledger.
      if (entry.body_state != ledger::BodyState::kHere) continue;
      if (!body.ParseFromString(entry.body)) {
        return fail(Code::kCorrupt, fmt::format("leaf {}: the body cannot be read", entry.leaf));
      }
      visit(body, entry.leaf);
    }
    if (page->size() < kPage) return {};
    from = page->back().leaf + 1;
  }
}

// The claimant's name stands alone in a card; the claim names it by a random id.
Result<std::string> write_card(Desk& desk, const std::string& claimant) {
  if (claimant.empty()) return std::string();
  v1::CardBody card;
  card.set_card_id(string_of(random_array<16>()));
  card.set_kind(v1::CardBody::PERSON);
  card.set_name(claimant);
  desk.import.append(record::Kind::kCard, card.SerializeAsString());
  return card.card_id();
}

}  // namespace

Result<std::map<std::string, std::string>> card_names(const Desk& desk) {
  std::map<std::string, std::string> names;
  const auto read =
      each_body<v1::CardBody>(desk, record::Kind::kCard, [&](const v1::CardBody& card, uint64_t) {
        std::string name = card.name();
        if (name.empty()) name = !card.plate().empty() ? "plate " + card.plate() : card.words();
        if (!name.empty()) names[hex_of(card.card_id())] = name;
      });
  if (!read) return std::unexpected(read.error());
  return names;
}

Result<v1::OpenClaimResponse> open_claim(Desk& desk, const v1::OpenClaimRequest& request) {
  v1::Claim claim = request.claim();
  const auto job = find_job(desk, claim.job_id());
  if (!job) return std::unexpected(job.error());
  if (!desk.watch.job(*job)) {
    return fail(Code::kBadInput,
                "job: is ordered but no truck has opened it; there is no record to hold");
  }
  if (auto ok = check_claim(claim); !ok) return std::unexpected(ok.error());
  const auto received = received_time(claim.received());
  if (!received) return std::unexpected(received.error());
  if (claim.clock().empty()) claim.set_clock("none");
  if (!is_clock(claim.clock()))
    return fail(Code::kBadInput, "clock: '" + claim.clock() + "' is unknown; use none or 49cfr370");
  const auto number = next_claim_number(desk);
  if (!number) return std::unexpected(number.error());
  claim.set_claim_id(fmt::format("C-{:04}", *number));
  const auto card = write_card(desk, claim.claimant());
  if (!card) return std::unexpected(card.error());
  const auto written =
      desk.office.write(record::Kind::kClaim, *job, body_of(claim, *job, *received, *card));
  if (!written) return std::unexpected(written.error());
  v1::HoldBody hold;
  hold.set_claim_id(claim.claim_id());
  hold.add_job_id(string_of(*job));
  hold.set_words("evidence hold with the claim");
  const auto held = desk.office.write(record::Kind::kHold, *job, hold);
  if (!held) return std::unexpected(held.error());
  if (claim.clock() != "none") {
    v1::ClaimStepBody clock;
    clock.set_claim_id(claim.claim_id());
    clock.set_kind(v1::ClaimStepBody::CLOCK);
    clock.set_clock(claim.clock());
    if (const auto leaf = write_step(desk, std::move(clock)); !leaf)
      return std::unexpected(leaf.error());
  }
  auto opened = claim_named(desk, claim.claim_id(), watch::wall_now_us());
  if (!opened) return std::unexpected(opened.error());
  v1::OpenClaimResponse response;
  *response.mutable_claim() = std::move(*opened);
  return response;
}

Result<v1::GetClaimResponse> get_claim(Desk& desk, const v1::GetClaimRequest& request) {
  auto claim = claim_named(desk, request.claim_id(), watch::wall_now_us());
  if (!claim) return std::unexpected(claim.error());
  v1::GetClaimResponse response;
  *response.mutable_claim() = std::move(*claim);
  return response;
}

Result<v1::ListClaimsResponse> list_claims(Desk& desk, const v1::ListClaimsRequest& request) {
  const auto claims = all_claims(desk, watch::wall_now_us());
  if (!claims) return std::unexpected(claims.error());
  std::string job;
  if (!request.job().empty()) {
    const auto id = find_job(desk, request.job());
    if (!id) return std::unexpected(id.error());
    job = hex_of(*id);
  }
  v1::ListClaimsResponse response;
  for (const auto& claim : *claims) {
    if (job.empty() || claim.job_id() == job) *response.add_claim() = claim;
  }
  return response;
}

}  // namespace fairlead::desk
