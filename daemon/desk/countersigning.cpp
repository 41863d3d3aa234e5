#include "daemon/desk/countersigning.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "daemon/base/key_file.h"
#include "daemon/base/time_text.h"
#include "daemon/record/add_checkpoint.h"

namespace fairlead::desk {
namespace {

constexpr size_t kLongestCa = 64 * 1'024;

Result<NamedCountersigner> named_of(const CountersignerConfig& config) {
  auto key = record::parse_verifier_key(config.vkey);
  if (!key) return fail_at("countersigner.vkey: ", key.error());
  if (key->type != record::NoteKeyType::kCosignature) {
    return fail(Code::kBadInput, "countersigner.vkey: " + key->name +
                                     " is no cosignature key; ask for the one of type 4");
  }
  NamedCountersigner named{std::move(*key), config.url, {}};
  if (config.ca.empty()) return named;
  auto ca = read_small_file(config.ca, kLongestCa);
  if (!ca) return fail_at("countersigner.ca: ", ca.error());
  named.ca = std::move(*ca);
  return named;
}

}  // namespace

Countersigning::Countersigning(watch::Office& office, size_t threshold, Clock now_us)
    : office_(office),
      threshold_(threshold),
      now_us_(std::move(now_us)),
      started_us_(now_us_()),
      folder_(office.data() / "countersign"),
      outbox_(office.data() / "outbox") {}

Result<std::unique_ptr<Countersigning>> Countersigning::open(
    watch::Office& office, const std::vector<CountersignerConfig>& named, size_t threshold,
    Clock now_us) {
  std::unique_ptr<Countersigning> out(new Countersigning(office, threshold, std::move(now_us)));
  for (const CountersignerConfig& config : named) {
    auto one = named_of(config);
    if (!one) return std::unexpected(one.error());
    for (const NamedCountersigner& other : out->named_) {
      if (other.key.key == one->key.key || other.key.name == one->key.name) {
        return fail(Code::kBadInput, "countersigner.vkey: " + one->key.name + " is named twice");
      }
    }
    out->named_.push_back(std::move(*one));
  }
  if (auto ok = out->heads_.load(office.ledger(), office.origin()); !ok)
    return std::unexpected(ok.error());
  if (!out->any()) return out;
  std::error_code error;
  for (const auto& folder : {out->folder_, out->outbox_}) {
    std::filesystem::create_directories(folder, error);
    if (error) return fail(Code::kIo, folder.string() + ": cannot be made: " + error.message());
  }
  if (auto ok = out->load_mail(); !ok) return std::unexpected(ok.error());
  return out;
}

std::string Countersigning::policy_text() const {
  std::string text = "# Who countersigns this log (C2SP tlog-policy).\nlog " +
                     record::format_verifier_key(office_.roster().log) + "\n";
  std::string members;
  for (size_t i = 0; i < named_.size(); ++i) {
    const std::string name = fmt::format("w{}", i + 1);
    members += " " + name;
    text += fmt::format("witness {} {}{}{}\n", name, record::format_verifier_key(named_[i].key),
                        named_[i].url.empty() ? "" : " ", named_[i].url);
  }
  if (named_.empty()) return text + "quorum none\n";
  return text +
         fmt::format("group countersigners {}{}\nquorum countersigners\n", threshold_, members);
}

Result<const NamedCountersigner*> Countersigning::find(const std::string& name) const {
  if (named_.empty()) {
    return fail(Code::kNotFound,
                "nobody is named as a countersigner; add a [[countersigner]] table with their vkey "
                "to the base's settings");
  }
  if (name.empty()) return &named_.front();
  const auto found = std::ranges::find(named_, name, [](const auto& one) { return one.key.name; });
  if (found != named_.end()) return &*found;
  std::string all;
  for (const auto& one : named_) all += (all.empty() ? "" : ", ") + one.key.name;
  return fail(Code::kNotFound, "countersigner '" + name + "': not named; there is " + all);
}

// Before anybody has shown that this disk is not an older copy nothing new is signed, but the head
// published last can still be shown: the answer tells where the countersigner stands.
Result<ledger::SignedHead> Countersigning::newest_head() {
  auto head = office_.ledger().sign_head();
  if (head || head.error().code != Code::kUnavailable) return head;
  if (const auto published = office_.ledger().head()) return *published;
  return std::unexpected(head.error());
}

Result<v1::GetCountersignResponse> Countersigning::ask(const v1::GetCountersignRequest& request) {
  const auto whom = find(request.countersigner());
  if (!whom) return std::unexpected(whom.error());
  const auto head = newest_head();
  if (!head) return std::unexpected(head.error());
  const auto known = heads_.newest_by((*whom)->key.name);
  const uint64_t old_size = request.has_old_size() ? request.old_size() : (known ? known->size : 0);
  return ask_about(**whom, *head, old_size);
}

Result<v1::GetCountersignResponse> Countersigning::ask_about(const NamedCountersigner& whom,
                                                             const ledger::SignedHead& head,
                                                             uint64_t old_size) {
  if (old_size > head.size) {
    return fail(Code::kConflict,
                fmt::format("{} has countersigned a head over {} leaves, but this ledger's newest "
                            "is over {}: it was restored from an older copy",
                            whom.key.name, old_size, head.size));
  }
  record::AddCheckpoint body{old_size, {}, head.note};
  if (old_size > 0) {
    auto proof = office_.ledger().consistency(old_size, head.size);
    if (!proof) return std::unexpected(proof.error());
    body.proof = std::move(*proof);
  }
  if (auto ok = keep_asked(head); !ok) return std::unexpected(ok.error());
  v1::GetCountersignResponse response;
  response.set_countersigner(whom.key.name);
  response.set_url(whom.url);
  response.set_ca(whom.ca);
  response.set_old_size(old_size);
  response.set_size(head.size);
  response.set_body(record::format_add_checkpoint(body));
  return response;
}

// Sizes of the heads asked about, largest first.
std::vector<uint64_t> Countersigning::asked_sizes() const {
  std::vector<uint64_t> sizes;
  std::error_code error;
  for (const auto& item : std::filesystem::directory_iterator(folder_, error)) {
    const std::string name = item.path().stem().string();
    uint64_t size = 0;
    const auto [end, wrong] = std::from_chars(name.data(), name.data() + name.size(), size);
    if (item.path().extension() == ".note" && wrong == std::errc() &&
        end == name.data() + name.size()) {
      sizes.push_back(size);
    }
  }
  std::ranges::sort(sizes, std::greater<>());
  return sizes;
}

Status Countersigning::keep_asked(const ledger::SignedHead& head) {
  constexpr size_t kMostAsked = 400;  // A year of daily heads nobody answers.
  const auto file = folder_ / (std::to_string(head.size) + ".note");
  std::error_code error;
  if (std::filesystem::exists(file, error)) return {};
  const std::vector<uint64_t> sizes = asked_sizes();
  for (size_t i = kMostAsked; i < sizes.size(); ++i) {
    std::filesystem::remove(folder_ / (std::to_string(sizes[i]) + ".note"), error);
  }
  return write_private_file(file, head.note);
}

void Countersigning::add_status(v1::GetStatusResponse& status) const {
  for (const NamedCountersigner& named : named_) {
    v1::Countersigner& one = *status.add_countersigner();
    one.set_name(named.key.name);
    one.set_url(named.url);
    const auto head = heads_.newest_by(named.key.name);
    if (!head) continue;
    one.set_size(head->size);
    for (const auto& cosignature : head->cosignatures) {
      if (cosignature.by == named.key.name) {
        one.set_at(format_time_us(static_cast<int64_t>(cosignature.at_s) * 1'000'000));
      }
    }
  }
  status.set_countersign_alarm(alarm());
  const std::lock_guard lock(mutex_);
  if (mail_.waiting_us > 0) status.set_countersign_waiting_since(format_time_us(mail_.waiting_us));
}

}  // namespace fairlead::desk
