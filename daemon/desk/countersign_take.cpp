// What countersigners answer: cosignature lines or a refusal.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "daemon/base/time_text.h"
#include "daemon/desk/countersigning.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::desk {
namespace {

constexpr size_t kLongestAnswer = 16 * 1'024;
constexpr uint64_t kDay_s = 86'400;
// An answer made this long before the start still counts as made after it: two clocks differ.
constexpr int64_t kClocksDiffer_us = 300 * int64_t{1'000'000};
// Time of a cosignature can be any number; what is printed must be one that people use.
constexpr uint64_t kLatest_s = 253'402'300'799;  // End of 9999.

std::string one_line(std::string_view text) {
  std::string out;
  for (const char c : text.substr(0, 200)) out += (c >= 0x20 && c < 0x7f) ? c : ' ';
  while (!out.empty() && out.back() == ' ') out.pop_back();
  return out;
}

std::optional<uint64_t> number_in(std::string_view line) {
  uint64_t value = 0;
  const auto [end, error] = std::from_chars(line.data(), line.data() + line.size(), value);
  if (line.empty() || error != std::errc() || end != line.data() + line.size()) return std::nullopt;
  return value;
}

bool is_same_key(const record::NoteSignature& line, const record::VerifierKey& key) {
  return line.name == key.name && line.id == key.id;
}

}  // namespace

Result<v1::TakeCountersignResponse> Countersigning::take(
    const v1::TakeCountersignRequest& request) {
  if (request.answer().size() > kLongestAnswer) {
    return fail(Code::kBadInput, "the answer is larger than 16 KiB; give the file as it came");
  }
  const auto whom = find("");
  if (!whom) return std::unexpected(whom.error());
  const std::lock_guard lock(taking_);
  const std::string& answer = request.answer();
  if (answer.starts_with("refused ") || (request.status() != 0 && request.status() != 200)) {
    return take_refusal(answer, request.status());
  }
  return take_lines(answer);
}

Status Countersigning::hear_of(const record::Checkpoint& head, const std::string& note,
                               const std::string& who) {
  return office_.heads().show({head.size, view_of(head.root), note, who});
}

// "refused STATUS WORDS\nSIZE\n" from a file; from a witness its status and "SIZE\n" or words.
Result<v1::TakeCountersignResponse> Countersigning::take_refusal(const std::string& answer,
                                                                 uint32_t status) {
  std::string_view rest = answer;
  std::string words = one_line(rest.substr(0, rest.find('\n')));
  if (status == 0) {
    const size_t end = std::min(rest.find('\n'), rest.size());
    const std::string_view first = rest.substr(0, end);
    rest.remove_prefix(std::min(end + 1, rest.size()));
    status = static_cast<uint32_t>(number_in(first.substr(8, 3)).value_or(0));
  }
  const auto size = status == 409 ? number_in(rest.substr(0, rest.find('\n'))) : std::nullopt;
  if (!size) {
    return fail(Code::kDenied, fmt::format("the countersigner refused ({}): {}", status, words));
  }
  // It names no root: only a size above this ledger's tells that this disk is an older copy.
  record::Checkpoint head{office_.origin(), *size, {}};
  if (*size <= office_.ledger().size()) {
    const auto root = office_.ledger().root_at(*size);
    if (!root) return std::unexpected(root.error());
    head.root = *root;
  }
  if (auto ok = hear_of(head, "", "the countersigner"); !ok) return std::unexpected(ok.error());
  v1::TakeCountersignResponse response;
  response.set_stands_at(*size);
  response.set_words(
      fmt::format("the countersigner stands at {} leaves; ask again from there", *size));
  return response;
}

Result<v1::TakeCountersignResponse> Countersigning::take_lines(const std::string& answer) {
  // Read as a note of any text, so that the lines are checked by the one reader there is.
  const auto as_note = record::parse_note("-\n\n" + answer);
  if (!as_note) return fail_at("the answer: ", as_note.error());
  auto found = match(as_note->signatures);
  if (!found) return std::unexpected(found.error());
  // Only what was signed after the start tells where the countersigner stands now.
  if (static_cast<int64_t>(found->newest_s) * 1'000'000 + kClocksDiffer_us >= started_us_) {
    const auto heard = hear_of(found->checkpoint, record::format_note(found->note),
                               found->accepted.front().name());
    if (!heard) return std::unexpected(heard.error());
  }
  v1::TakeCountersignResponse response;
  if (found->fresh) {
    auto written = put_on_record(*found);
    if (!written) return written;
    response = std::move(*written);
  } else {
    response.set_words("on record already");
    if (const auto known = heads_.of_size(found->checkpoint.size))
      response.set_leaf_index(known->entry_leaf);
  }
  for (const auto& one : found->accepted) *response.add_accepted() = one;
  return response;
}

// Cosignature lines do not name their head: the heads asked about are tried, newest first.
Result<Countersigning::Found> Countersigning::match(
    const std::vector<record::NoteSignature>& lines) {
  const bool by_named = std::ranges::any_of(lines, [&](const auto& line) {
    return std::ranges::any_of(named_, [&](const auto& one) { return is_same_key(line, one.key); });
  });
  if (!by_named) {
    return fail(Code::kBadInput,
                "the answer is by nobody the settings name ([[countersigner]]); it says " +
                    one_line(lines.front().name));
  }
  for (const uint64_t size : asked_sizes()) {
    const auto bytes = read_small_file(folder_ / (std::to_string(size) + ".note"), kLongestAnswer);
    if (!bytes) return std::unexpected(bytes.error());
    auto note = record::parse_note(*bytes);
    const auto checkpoint = note ? record::open_checkpoint(*note, office_.roster().log)
                                 : Result<record::Checkpoint>(std::unexpected(note.error()));
    if (!checkpoint) continue;  // Of an earlier generation.
    Found found{std::move(*note), *checkpoint, {}, false, 0};
    const auto any = accept(lines, found);
    if (!any) return std::unexpected(any.error());
    if (*any) return found;
  }
  return fail(Code::kBadInput,
              "the answer fits no head this base asked about; is it for another base, or altered "
              "on its way?");
}

// Adds the good lines to the note's. Errors: a good signature with a time that cannot be.
Result<bool> Countersigning::accept(const std::vector<record::NoteSignature>& lines, Found& found) {
  const auto earlier = heads_.of_size(found.checkpoint.size);
  if (earlier) {  // Others may have signed the same head before.
    const auto bytes = watch::CosignedHeads::note_of(office_.ledger(), *earlier);
    if (!bytes) return std::unexpected(bytes.error());
    auto note = record::parse_note(*bytes);
    if (!note) return std::unexpected(note.error());
    if (note->text == found.note.text) found.note = std::move(*note);
  }
  for (const NamedCountersigner& named : named_) {
    record::Note one{found.note.text, {}};
    std::ranges::copy_if(lines, std::back_inserter(one.signatures),
                         [&](const auto& line) { return is_same_key(line, named.key); });
    const auto at_s = record::verify_cosignature(one, named.key);
    if (!at_s) continue;
    if (*at_s > static_cast<uint64_t>(now_us_() / 1'000'000) + kDay_s || *at_s > kLatest_s) {
      return fail(Code::kBadInput, named.key.name +
                                       " signed with a time more than a day ahead; set the clock "
                                       "of that machine, or of this one, right");
    }
    v1::Countersigner accepted;
    accepted.set_name(named.key.name);
    accepted.set_size(found.checkpoint.size);
    accepted.set_at(format_time_us(static_cast<int64_t>(*at_s) * 1'000'000));
    found.accepted.push_back(std::move(accepted));
    found.newest_s = std::max(found.newest_s, *at_s);
    const bool known = std::ranges::any_of(
        found.note.signatures, [&](const auto& line) { return is_same_key(line, named.key); });
    if (known) continue;
    found.note.signatures.push_back(one.signatures.front());
    found.fresh = true;
  }
  return !found.accepted.empty();
}

Result<v1::TakeCountersignResponse> Countersigning::put_on_record(const Found& found) {
  v1::HeadCosignedBody body;
  body.set_note(record::format_note(found.note));
  const auto written = office_.write(record::Kind::kHeadCosigned, {}, body);
  if (!written) return std::unexpected(written.error());
  if (auto ok = heads_.add(body.note(), office_.origin(), written->leaf); !ok)
    return std::unexpected(ok.error());
  answered();
  // A head over the new entry: trucks that see it can prove they came after the cosignature. Where
  // signing is not allowed yet it follows with the next one.
  if (const auto head = office_.ledger().sign_head();
      !head && head.error().code != Code::kUnavailable) {
    return std::unexpected(head.error());
  }
  v1::TakeCountersignResponse response;
  response.set_leaf_index(written->leaf);
  response.set_words("on record");
  return response;
}

}  // namespace fairlead::desk
