#include "daemon/desk/retention_desk.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <set>

#include "daemon/base/utf8.h"
#include "daemon/desk/jobs.h"
#include "daemon/watch/retention.h"
#include "daemon/watch/stamp.h"

namespace fairlead::desk {
namespace {

constexpr size_t kPage = 256;
constexpr size_t kLongestWords = 1'000;
constexpr int kMostAsked = 1'000;
constexpr const char* kRequestPolicy = "request of the person";

Status check_words(const std::string& words) {
  const auto length = code_points(words);
  if (!length) return fail(Code::kBadInput, "words: is not UTF-8; save it as UTF-8");
  if (words.empty()) {
    return fail(Code::kBadInput,
                "words: empty; say why, without naming anybody: it stays in the record");
  }
  if (*length > kLongestWords) {
    return fail(Code::kBadInput, fmt::format("words: has {} characters, at most {} fit; shorten it",
                                             *length, kLongestWords));
  }
  return {};
}

// Visits the bodies of one kind that are still here.
template <typename Body, typename Visit>
Status each_body(const Desk& desk, record::Kind kind, const Visit& visit) {
  for (uint64_t from = 0;;) {
    const auto page = desk.ledger().entries_of_kind(kind, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const auto& entry : *page) {
      Body body;
      if (entry.body_state == ledger::BodyState::kHere && body.ParseFromString(entry.body))
        visit(entry.leaf, body);
    }
    if (page->size() < kPage) return {};
    from = page->back().leaf + 1;
  }
}

// Reports already written repeat what was erased: those about its jobs and of its claimants go too.
Result<std::vector<std::string>> remove_reports(const Desk& desk, const watch::ErasureReport& gone,
                                                const std::set<std::string>& cards) {
  std::set<std::string> jobs;
  for (const uint64_t leaf : gone.leaves) {
    const auto entry = desk.ledger().entries(leaf, 1, false);
    if (!entry) return std::unexpected(entry.error());
    if (!entry->empty()) jobs.insert(string_of(entry->front().header().job_id));
  }
  jobs.erase(string_of(record::Id16{}));
  std::set<std::string> claims;
  const auto read = each_body<v1::ReportIssuedBody>(
      desk, record::Kind::kReportIssued, [&](uint64_t, const v1::ReportIssuedBody& body) {
        const auto about = [&](const std::string& job) { return jobs.contains(job); };
        if (!body.claim_id().empty() && std::ranges::any_of(body.job_id(), about))
          claims.insert(body.claim_id());
      });
  if (!read) return std::unexpected(read.error());
  const auto named = each_body<v1::ClaimBody>(
      desk, record::Kind::kClaim, [&](uint64_t, const v1::ClaimBody& body) {
        if (jobs.contains(body.job_id()) || cards.contains(hex_of(body.claimant_card())))
          claims.insert(body.claim_id());
      });
  if (!named) return std::unexpected(named.error());
  std::vector<std::string> removed;
  std::error_code error;
  for (const auto& folder :
       std::filesystem::directory_iterator(desk.office.data() / "reports", error)) {
    const std::string name = folder.path().filename().string();
    const bool goes = std::ranges::any_of(
        claims, [&](const std::string& claim) { return name.starts_with(claim + "-"); });
    if (!goes) continue;
    std::filesystem::remove_all(folder.path(), error);
    if (error) return fail(Code::kIo, folder.path().string() + ": " + error.message());
    removed.push_back(folder.path().string());
  }
  return removed;
}

void fill(const std::vector<watch::ErasureGroup>& groups,
          google::protobuf::RepeatedPtrField<v1::ErasureGroup>* out) {
  for (const watch::ErasureGroup& group : groups) {
    v1::ErasureGroup& message = *out->Add();
    message.set_what(group.what);
    message.set_why(group.why);
    message.set_entries(group.entries);
    message.set_bytes(group.bytes);
  }
}

Result<v1::Erasure> erase(Desk& desk, const std::vector<watch::DueGroup>& groups,
                          const std::string& words, bool dry_run) {
  std::set<std::string> cards;  // Before they are gone.
  std::set<uint64_t> all;
  for (const auto& group : groups) all.insert(group.leaves.begin(), group.leaves.end());
  const auto read = each_body<v1::CardBody>(desk, record::Kind::kCard,
                                            [&](uint64_t leaf, const v1::CardBody& card) {
                                              if (all.contains(leaf))
                                                cards.insert(hex_of(card.card_id()));
                                            });
  if (!read) return std::unexpected(read.error());
  const auto done = watch::carry_out(desk.office, groups, words, dry_run);
  if (!done) return std::unexpected(done.error());
  v1::Erasure out;
  fill(done->going, out.mutable_going());
  fill(done->held, out.mutable_held());
  out.mutable_erase_leaf()->Assign(done->erase_leaves.begin(), done->erase_leaves.end());
  out.set_entries(done->leaves.size());
  out.set_attachments(done->attachments);
  out.set_attachments_shared(done->attachments_shared);
  out.set_wiped(done->wiped);
  if (dry_run || done->leaves.empty()) return out;
  const auto removed = remove_reports(desk, *done, cards);
  if (!removed) return std::unexpected(removed.error());
  out.mutable_report_folder()->Assign(removed->begin(), removed->end());
  return out;
}

Status find_cards(const Desk& desk, const v1::EraseOnRequestRequest& request,
                  std::set<uint64_t>& leaves) {
  for (const std::string& hex : request.card()) {
    const auto id = array_of_hex<16>(hex, "card");
    if (!id) return std::unexpected(id.error());
    const size_t before = leaves.size();
    const auto read = each_body<v1::CardBody>(desk, record::Kind::kCard,
                                              [&](uint64_t leaf, const v1::CardBody& card) {
                                                if (card.card_id() == view_of(*id))
                                                  leaves.insert(leaf);
                                              });
    if (!read) return read;
    if (leaves.size() == before)
      return fail(Code::kNotFound, "card: " + hex + " is not on record, or erased already");
  }
  return {};
}

Status find_attachments(const Desk& desk, const v1::EraseOnRequestRequest& request,
                        std::set<uint64_t>& leaves) {
  for (const std::string& hex : request.attachment()) {
    const auto hash = array_of_hex<32>(hex, "attachment");
    if (!hash) return std::unexpected(hash.error());
    const auto naming = desk.ledger().leaves_naming(*hash);
    if (!naming) return std::unexpected(naming.error());
    if (naming->empty())
      return fail(Code::kNotFound,
                  "attachment: no entry names " + hex + ", or it is erased already");
    leaves.insert(naming->begin(), naming->end());
  }
  return {};
}

v1::Hold message_of(const ledger::Hold& hold) {
  v1::Hold message;
  message.set_claim_id(hold.claim_id);
  for (const record::Id16& job : hold.jobs) message.add_job_id(hex_of(job));
  message.set_leaf(hold.leaf);
  message.set_words(hold.words);
  return message;
}

Result<ledger::Hold> find_hold(const Desk& desk, const std::string& claim) {
  const auto holds = desk.ledger().holds();
  if (!holds) return std::unexpected(holds.error());
  const auto found = holds->active().find(claim);
  if (found != holds->active().end()) return found->second;
  return fail(Code::kNotFound,
              "claim_id: nothing is held for '" + claim + "'; fairlead hold list shows what is");
}

}  // namespace

Result<v1::RunRetentionResponse> run_retention(Desk& desk, const v1::RunRetentionRequest& request) {
  const RetentionConfig& policy = desk.retention;
  v1::RunRetentionResponse response;
  response.set_policy(
      fmt::format("{}bodies {} months after their job was closed, samples outside "
                  "jobs {} months after they came",
                  policy.on ? "" : "off (settings, [retention] on): ", policy.job_months,
                  policy.loose_strip_months));
  response.set_off(!policy.on);
  if (!policy.on && !request.dry_run()) return response;
  const auto due = watch::find_due(desk.ledger(), policy, watch::wall_now_us());
  if (!due) return std::unexpected(due.error());
  auto erased = erase(desk, *due, "", request.dry_run());
  if (!erased) return std::unexpected(erased.error());
  *response.mutable_erasure() = std::move(*erased);
  return response;
}

void daily_retention(Desk& desk, const std::function<void(const std::string&)>& log) {
  constexpr const char* kNextValue = "retention_next_us";
  constexpr int64_t kHourUs = 3'600'000'000, kDayUs = 24 * kHourUs;
  if (!desk.retention.on) return;
  const int64_t now_us = watch::wall_now_us();
  int64_t next_us = 0;
  if (const auto text = desk.ledger().value(kNextValue))
    std::from_chars(text->data(), text->data() + text->size(), next_us);
  if (now_us < next_us && next_us <= now_us + kDayUs) return;
  const auto done = run_retention(desk, {});
  if (!done) log("retention: " + done.error().message);
  if (done && done->erasure().entries() > 0) {
    log(fmt::format("retention: {} bodies and {} attachments erased", done->erasure().entries(),
                    done->erasure().attachments()));
  }
  (void)desk.ledger().put_value(kNextValue, std::to_string(now_us + (done ? kDayUs : kHourUs)));
}

Result<v1::EraseOnRequestResponse> erase_on_request(Desk& desk,
                                                    const v1::EraseOnRequestRequest& request) {
  if (auto ok = check_words(request.words()); !ok) return std::unexpected(ok.error());
  if (request.leaf_size() + request.card_size() + request.attachment_size() > kMostAsked)
    return fail(Code::kBadInput, "leaf: more than 1000 things at once; ask for the rest again");
  std::set<uint64_t> leaves(request.leaf().begin(), request.leaf().end());
  if (auto ok = find_cards(desk, request, leaves); !ok) return std::unexpected(ok.error());
  if (auto ok = find_attachments(desk, request, leaves); !ok) return std::unexpected(ok.error());
  if (leaves.empty())
    return fail(Code::kBadInput, "leaf: nothing is named; give entries, cards or attachments");
  auto erased = erase(desk, {{"asked for", kRequestPolicy, {leaves.begin(), leaves.end()}}},
                      request.words(), request.dry_run());
  if (!erased) return std::unexpected(erased.error());
  v1::EraseOnRequestResponse response;
  *response.mutable_erasure() = std::move(*erased);
  return response;
}

Result<v1::ListHoldsResponse> list_holds(Desk& desk, const v1::ListHoldsRequest&) {
  const auto holds = desk.ledger().holds();
  if (!holds) return std::unexpected(holds.error());
  v1::ListHoldsResponse response;
  for (const auto& [claim, hold] : holds->active()) *response.add_hold() = message_of(hold);
  return response;
}

Result<v1::AddHoldResponse> add_hold(Desk& desk, const v1::AddHoldRequest& request) {
  if (auto ok = check_words(request.words()); !ok) return std::unexpected(ok.error());
  if (request.claim_id().empty())
    return fail(Code::kBadInput, "claim_id: empty; name the claim, or any name for the hold");
  v1::HoldBody body;
  body.set_claim_id(request.claim_id());
  body.set_words(request.words());
  for (const std::string& text : request.job()) {
    const auto job = find_job(desk, text);
    if (!job) return std::unexpected(job.error());
    body.add_job_id(string_of(*job));
  }
  if (body.job_id().empty()) return fail(Code::kBadInput, "job: none is named; give at least one");
  const auto first = array_of<16>(body.job_id(0), "job");
  const auto written = desk.office.write(record::Kind::kHold, *first, body);
  if (!written) return std::unexpected(written.error());
  const auto hold = find_hold(desk, request.claim_id());
  if (!hold) return std::unexpected(hold.error());
  v1::AddHoldResponse response;
  *response.mutable_hold() = message_of(*hold);
  return response;
}

Result<v1::EndHoldResponse> end_hold(Desk& desk, const v1::EndHoldRequest& request) {
  if (auto ok = check_words(request.words()); !ok) return std::unexpected(ok.error());
  v1::HoldEndBody body;
  body.set_claim_id(request.claim_id());
  *body.mutable_approved_by() = request.approved_by();
  body.set_words(request.words());
  if (auto ok = ledger::check_approvals(body); !ok) return std::unexpected(ok.error());
  const auto hold = find_hold(desk, request.claim_id());
  if (!hold) return std::unexpected(hold.error());
  const record::Id16 job = hold->jobs.empty() ? record::Id16{} : *hold->jobs.begin();
  const auto written = desk.office.write(record::Kind::kHoldEnd, job, body);
  if (!written) return std::unexpected(written.error());
  v1::EndHoldResponse response;
  response.set_leaf(written->leaf);
  return response;
}

}  // namespace fairlead::desk
