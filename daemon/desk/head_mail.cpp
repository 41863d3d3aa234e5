// The head that goes out every day, and the alarm when nobody answers.
#include <fmt/format.h>

#include <fstream>

#include "daemon/base/time_text.h"
#include "daemon/desk/countersigning.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::desk {
namespace {

constexpr size_t kLongestState = 8 * 1'024;
constexpr std::string_view kTitle = "fairlead head mail v1";

std::string day_of(int64_t time_us) { return format_time_us(time_us).substr(0, 10); }

std::string mail_text(const std::string& base, int64_t now_us, const ledger::SignedHead& head,
                      const std::vector<v1::GetCountersignResponse>& asked) {
  std::string text = fmt::format(
      "Subject: {} head {} of {}\n\n"
      "This is the signed head of the record of '{}'. It covers everything recorded so far.\n\n"
      "Head {} of {} UTC, fingerprint:\n\n  {}\n\n"
      "The fingerprint on page 1 of a report that names this head must be this line. Keep this "
      "mail.\n",
      base, head.size, day_of(now_us), base, head.size, format_time_us(now_us).substr(0, 16),
      record::fingerprint_of(head.root));
  for (const auto& one : asked) {
    text += fmt::format(
        "\nTo {}: please countersign this head. Save the lines between the marks as a file and "
        "run\n\n"
        "  fairlead-verify countersign FILE --folder FOLDER --policy POLICY -o ANSWER\n\n"
        "then send ANSWER back. From then on nothing under this head can be removed or rewritten "
        "unseen.\n\n"
        "-----BEGIN REQUEST-----\n{}-----END REQUEST-----\n",
        one.countersigner(), one.body());
  }
  return text;
}

// Another mail of the same day gets a number of its own.
Status write_mail(const std::filesystem::path& outbox, const std::string& day,
                  const std::string& text) {
  std::error_code error;
  for (int i = 1; i < 1'000; ++i) {
    const auto file = outbox / ("head-" + day + (i == 1 ? "" : "-" + std::to_string(i)) + ".txt");
    if (!std::filesystem::exists(file, error)) return write_private_file(file, text);
  }
  return fail(Code::kUnavailable, outbox.string() + ": holds 999 mails of today; empty it");
}

}  // namespace

Status Countersigning::load_mail() {
  const auto file = folder_ / "mail";
  const auto text = read_small_file(file, kLongestState);
  if (!text && text.error().code == Code::kNotFound) return {};
  if (!text) return std::unexpected(text.error());
  HeadMailState mail;
  int alarmed = 0, used = 0;
  long long sent = 0, waiting = 0;
  if (!text->starts_with(kTitle) ||
      std::sscanf(text->c_str() + kTitle.size(), "\n%lld\n%lld\n%d\n%n", &sent, &waiting, &alarmed,
                  &used) != 3) {
    return fail(Code::kCorrupt, file.string() +
                                    ": is not what the base wrote; remove it, and today's head "
                                    "goes out again");
  }
  mail.sent_us = sent;
  mail.waiting_us = waiting;
  mail.alarmed = alarmed != 0;
  mail.note = text->substr(kTitle.size() + static_cast<size_t>(used));
  mail_ = std::move(mail);
  return {};
}

Status Countersigning::save_mail(const HeadMailState& mail) {
  const auto kept = write_private_file(
      folder_ / "mail", fmt::format("{}\n{}\n{}\n{}\n{}", kTitle, mail.sent_us, mail.waiting_us,
                                    mail.alarmed ? 1 : 0, mail.note));
  if (!kept) return kept;
  const std::lock_guard lock(mutex_);
  mail_ = mail;
  return {};
}

Result<ledger::SignedHead> Countersigning::send_head() {
  auto head = office_.ledger().sign_head();
  if (!head) return head;
  std::vector<v1::GetCountersignResponse> asked;
  for (const NamedCountersigner& whom : named_) {
    const auto known = heads_.newest_by(whom.key.name);
    auto one = ask_about(whom, *head, known ? known->size : 0);
    if (!one) return std::unexpected(one.error());
    asked.push_back(std::move(*one));
  }
  const int64_t now_us = now_us_();
  if (auto ok = write_mail(outbox_, day_of(now_us),
                           mail_text(office_.roster().base_name, now_us, *head, asked));
      !ok) {
    return std::unexpected(ok.error());
  }
  HeadMailState mail;
  {
    const std::lock_guard lock(mutex_);
    mail = mail_;
  }
  mail.sent_us = now_us;
  if (mail.waiting_us == 0) mail.waiting_us = now_us;
  mail.note = head->note;
  if (auto ok = save_mail(mail); !ok) return std::unexpected(ok.error());
  return head;
}

Status Countersigning::tick() {
  if (!any()) return {};
  const std::lock_guard lock(sending_);
  HeadMailState mail;
  {
    const std::lock_guard guard(mutex_);
    mail = mail_;
  }
  const int64_t now_us = now_us_();
  if (mail.sent_us == 0 || day_of(mail.sent_us) != day_of(now_us)) {
    const auto sent = send_head();
    // Not allowed to sign yet: the head goes out as soon as it is.
    if (!sent && sent.error().code != Code::kUnavailable) return std::unexpected(sent.error());
  }
  return raise_alarm();
}

Status Countersigning::raise_alarm() {
  HeadMailState mail;
  {
    const std::lock_guard lock(mutex_);
    mail = mail_;
  }
  if (mail.waiting_us == 0 || mail.alarmed || now_us_() - mail.waiting_us < kAnswerDue_us)
    return {};
  v1::AlarmBody body;
  body.set_cause(v1::AlarmBody::NO_COSIGNATURE);
  body.set_words("no countersigner has answered since the head mail of " +
                 format_time_us(mail.waiting_us));
  const auto written = office_.write(record::Kind::kAlarm, {}, body);
  if (!written) return std::unexpected(written.error());
  mail.alarmed = true;
  return save_mail(mail);
}

void Countersigning::answered() {
  HeadMailState mail;
  {
    const std::lock_guard lock(mutex_);
    mail = mail_;
  }
  mail.waiting_us = 0;
  mail.alarmed = false;
  // The answer itself is on record; a failed write here costs a needless reminder at most.
  (void)save_mail(mail);
}

Result<std::optional<Countersigning::MailedHead>> Countersigning::mailed_head(uint64_t size) {
  using Mailed = std::optional<MailedHead>;
  if (!any()) return Mailed{};
  const std::lock_guard lock(sending_);
  HeadMailState mail;
  {
    const std::lock_guard guard(mutex_);
    mail = mail_;
  }
  if (const auto note = record::parse_note(mail.note)) {
    const auto known = record::open_checkpoint(*note, office_.roster().log);
    if (known && known->size >= size)
      return Mailed(MailedHead{{known->size, known->root, mail.note}, mail.sent_us});
  }
  auto head = send_head();
  if (!head) return std::unexpected(head.error());
  return Mailed(MailedHead{std::move(*head), now_us_()});
}

std::string Countersigning::alarm() const {
  const std::lock_guard lock(mutex_);
  if (mail_.waiting_us == 0 || now_us_() - mail_.waiting_us < kAnswerDue_us) return "";
  return "no countersigner has answered for more than 72 h, since " +
         format_time_us(mail_.waiting_us);
}

}  // namespace fairlead::desk
