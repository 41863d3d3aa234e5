#include "daemon/desk/claim_steps.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "daemon/base/utf8.h"
#include "daemon/desk/claim_book.h"
#include "daemon/desk/claim_clock.h"
#include "daemon/watch/stamp.h"

namespace fairlead::desk {
namespace {

using Body = v1::ClaimStepBody;

constexpr size_t kLongestWords = 10'000;
constexpr size_t kMostBytes = size_t{64} << 20;
constexpr int32_t kReminderDays = 7;

Status check_evidence(const v1::AddClaimStepRequest& request) {
  if (request.content().empty()) return fail(Code::kBadInput, "content: empty; check the file");
  if (request.content().size() > kMostBytes)
    return fail(Code::kBadInput, "content: larger than 64 MiB; hand it in in parts");
  if (request.step().file_name().empty() ||
      request.step().file_name().find('/') != std::string::npos)
    return fail(Code::kBadInput, "file_name: give the file's name without folders");
  if (auto ok = check_claim_text("file_name", request.step().file_name(), 200); !ok) return ok;
  return check_claim_text("media_type", request.step().media_type(), 100);
}

Status check_answer(const v1::ClaimStep& step, Body& body) {
  Body::Outcome outcome = Body::NONE;
  if (!Body::Outcome_Parse(step.outcome(), &outcome) || outcome == Body::NONE) {
    return fail(Code::kBadInput, "outcome: '" + step.outcome() +
                                     "' is unknown; use ACCEPTED, PARTLY, DECLINED or WITHDRAWN");
  }
  const bool pays = outcome == Body::ACCEPTED || outcome == Body::PARTLY;
  if (pays && step.amount().empty())
    return fail(Code::kBadInput, "amount: none; say what is paid, with its currency");
  if (!pays && !step.amount().empty())
    return fail(Code::kBadInput, "amount: nothing is paid on this outcome; leave it out");
  if (auto ok = check_claim_text("amount", step.amount(), 100); !ok) return ok;
  body.set_outcome(outcome);
  body.set_amount(step.amount());
  return {};
}

Result<Body> body_of(const v1::AddClaimStepRequest& request) {
  const v1::ClaimStep& step = request.step();
  Body body;
  Body::Kind kind = Body::UNSET;
  static constexpr Body::Kind kAllowed[] = {Body::NOTE,     Body::ACKNOWLEDGED, Body::STATUS,
                                            Body::EVIDENCE, Body::ANSWER,       Body::CLOCK};
  if (!Body::Kind_Parse(step.kind(), &kind) ||
      std::ranges::find(kAllowed, kind) == std::end(kAllowed)) {
    return fail(Code::kBadInput, "kind: '" + step.kind() +
                                     "' is unknown; use NOTE, ACKNOWLEDGED, STATUS, EVIDENCE, "
                                     "ANSWER or CLOCK");
  }
  body.set_claim_id(request.claim_id());
  body.set_kind(kind);
  if (auto ok = check_claim_text("words", step.words(), kLongestWords); !ok)
    return std::unexpected(ok.error());
  body.set_words(step.words());
  if (kind == Body::NOTE && step.words().empty())
    return fail(Code::kBadInput, "words: empty; a note says something");
  if (kind == Body::CLOCK) {
    if (!is_clock(step.clock()))
      return fail(Code::kBadInput,
                  "clock: '" + step.clock() + "' is unknown; use none or 49cfr370");
    body.set_clock(step.clock());
  }
  Status ok;
  if (kind == Body::ANSWER) ok = check_answer(step, body);
  if (kind == Body::EVIDENCE) ok = check_evidence(request);
  if (!ok) return std::unexpected(ok.error());
  if (kind == Body::EVIDENCE) {
    body.set_file_name(step.file_name());
    body.set_media_type(step.media_type());
  }
  return body;
}

}  // namespace

Status check_claim_text(const char* field, const std::string& text, size_t most) {
  const auto length = code_points(text);
  if (!length)
    return fail(Code::kBadInput, fmt::format("{}: is not UTF-8; save it as UTF-8", field));
  if (*length > most) {
    return fail(Code::kBadInput, fmt::format("{}: has {} characters, at most {} fit; shorten it",
                                             field, *length, most));
  }
  return {};
}

Result<v1::AddClaimStepResponse> add_claim_step(Desk& desk,
                                                const v1::AddClaimStepRequest& request) {
  const auto found = claim_named(desk, request.claim_id(), watch::wall_now_us());
  if (!found) return std::unexpected(found.error());
  auto body = body_of(request);
  if (!body) return std::unexpected(body.error());
  if (body->kind() == Body::EVIDENCE) {
    const auto sha = desk.ledger().put_attachment(request.content());
    if (!sha) return std::unexpected(sha.error());
    body->set_sha256(string_of(*sha));
  }
  const auto leaf = write_step(desk, std::move(*body));
  if (!leaf) return std::unexpected(leaf.error());
  auto claim = claim_named(desk, request.claim_id(), watch::wall_now_us());
  if (!claim) return std::unexpected(claim.error());
  v1::AddClaimStepResponse response;
  *response.mutable_claim() = std::move(*claim);
  return response;
}

Result<size_t> remind_claims(Desk& desk, int64_t now_us) {
  const auto claims = all_claims(desk, now_us);
  if (!claims) return std::unexpected(claims.error());
  size_t said = 0;
  for (const v1::Claim& claim : *claims) {
    for (const auto& due : claim.due()) {
      if (!due.done().empty() || due.days_left() > kReminderDays) continue;
      // The day names the date, so that each is said once, whatever restarts lie between.
      const std::string words = fmt::format("{} by {} ({})", due.what(), due.due(), due.origin());
      const bool known = std::ranges::any_of(claim.step(), [&](const v1::ClaimStep& step) {
        return step.kind() == "REMINDER" && step.words() == words;
      });
      if (known) continue;
      Body body;
      body.set_claim_id(claim.claim_id());
      body.set_kind(Body::REMINDER);
      body.set_due(words);
      if (const auto leaf = write_step(desk, std::move(body)); !leaf)
        return std::unexpected(leaf.error());
      ++said;
    }
  }
  return said;
}

void daily_reminders(Desk& desk, const std::function<void(const std::string&)>& log) {
  constexpr const char* kNextValue = "claims_next_us";
  constexpr int64_t kHourUs = 3'600'000'000, kDayUs = 24 * kHourUs;
  const int64_t now_us = watch::wall_now_us();
  int64_t next_us = 0;
  if (const auto text = desk.ledger().value(kNextValue))
    std::from_chars(text->data(), text->data() + text->size(), next_us);
  // A clock that ran back must not silence reminders for longer than a day.
  if (now_us < next_us && next_us <= now_us + kDayUs) return;
  const auto said = remind_claims(desk, now_us);
  if (!said) log("claims: " + said.error().message);
  if (said && *said > 0)
    log(fmt::format("claims: {} due dates near or past; fairlead claim due lists them", *said));
  (void)desk.ledger().put_value(kNextValue, std::to_string(now_us + (said ? kDayUs : kHourUs)));
}

}  // namespace fairlead::desk
