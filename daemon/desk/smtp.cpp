#include "daemon/desk/smtp.h"

#include <curl/curl.h>
#include <fmt/format.h>

#include <ctime>
#include <memory>

#include "daemon/base/key_file.h"

namespace fairlead::desk {
namespace {

constexpr size_t kLongestPassword = 1'024;
constexpr long kConnect_s = 20, kWhole_s = 120;

using Handle = std::unique_ptr<CURL, decltype(&curl_easy_cleanup)>;
using Lines = std::unique_ptr<curl_slist, decltype(&curl_slist_free_all)>;
using Mime = std::unique_ptr<curl_mime, decltype(&curl_mime_free)>;

void add(Lines& lines, const std::string& text) {
  lines.reset(curl_slist_append(lines.release(), text.c_str()));
}

// RFC 5322 date, in UTC.
std::string date_words(int64_t time_us) {
  const std::time_t seconds = time_us / 1'000'000;
  std::tm parts{};
  gmtime_r(&seconds, &parts);
  static const char* const kDays[] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
  static const char* const kMonths[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  return fmt::format("{}, {:02} {} {:04} {:02}:{:02}:{:02} +0000", kDays[parts.tm_wday],
                     parts.tm_mday, kMonths[parts.tm_mon], parts.tm_year + 1900, parts.tm_hour,
                     parts.tm_min, parts.tm_sec);
}

// What came from outside into a header line: no line may begin inside it.
std::string one_line(std::string text) {
  for (char& c : text) {
    if (static_cast<unsigned char>(c) < ' ' || c == 0x7f) c = ' ';
  }
  return text;
}

Lines headers_of(const MailConfig& config, const Mail& mail) {
  Lines lines(nullptr, &curl_slist_free_all);
  std::string to;
  for (const auto& one : mail.to) to += (to.empty() ? "" : ", ") + one;
  add(lines, "Date: " + date_words(mail.date_us));
  add(lines, "From: " + one_line(config.from));
  add(lines, "To: " + one_line(to));
  add(lines, "Message-ID: <" + one_line(mail.id) + ">");
  add(lines, "Subject: " + one_line(mail.subject));
  add(lines, "Auto-Submitted: auto-generated");
  return lines;
}

Mime mime_of(CURL* curl, const Mail& mail) {
  Mime mime(curl_mime_init(curl), &curl_mime_free);
  curl_mimepart* text = curl_mime_addpart(mime.get());
  curl_mime_data(text, mail.text.data(), mail.text.size());
  curl_mime_type(text, "text/plain; charset=utf-8");
  curl_mime_encoder(text, "quoted-printable");
  for (const MailFile& file : mail.files) {
    curl_mimepart* part = curl_mime_addpart(mime.get());
    curl_mime_data(part, file.bytes.data(), file.bytes.size());
    curl_mime_type(part, file.media_type.c_str());
    curl_mime_filename(part, file.name.c_str());
    curl_mime_encoder(part, "base64");
  }
  return mime;
}

Status log_in(CURL* curl, const MailConfig& config) {
  if (config.user.empty()) return {};
  auto password = read_small_file(config.password_file, kLongestPassword);
  if (!password) return fail_at("mail.password_file: ", password.error());
  while (password->ends_with('\n') || password->ends_with('\r')) password->pop_back();
  curl_easy_setopt(curl, CURLOPT_USERNAME, config.user.c_str());
  curl_easy_setopt(curl, CURLOPT_PASSWORD, password->c_str());
  return {};
}

Error error_of(CURLcode code, long answer, const std::string& words) {
  switch (code) {
    case CURLE_PEER_FAILED_VERIFICATION:
    case CURLE_SSL_CACERT_BADFILE:
    case CURLE_LOGIN_DENIED:
    case CURLE_USE_SSL_FAILED:
      return {Code::kDenied, words};
    case CURLE_URL_MALFORMAT:
    case CURLE_UNSUPPORTED_PROTOCOL:
      return {Code::kBadInput, words};
    default:
      return {answer >= 500 && answer < 600 ? Code::kDenied : Code::kUnavailable, words};
  }
}

}  // namespace

Status send_mail(const MailConfig& config, const Mail& mail) {
  static const CURLcode kReady = curl_global_init(CURL_GLOBAL_DEFAULT);
  const Handle curl(curl_easy_init(), &curl_easy_cleanup);
  if (kReady != CURLE_OK || !curl) return fail(Code::kInternal, "libcurl cannot be started");
  CURL* c = curl.get();
  char words[CURL_ERROR_SIZE] = "";
  const Lines headers = headers_of(config, mail);
  const Mime mime = mime_of(c, mail);
  Lines to(nullptr, &curl_slist_free_all);
  for (const auto& one : mail.to) add(to, "<" + one + ">");
  curl_easy_setopt(c, CURLOPT_URL, config.server.c_str());
  curl_easy_setopt(c, CURLOPT_PROTOCOLS_STR, "smtp,smtps");
  curl_easy_setopt(c, CURLOPT_USE_SSL,
                   static_cast<long>(config.tls ? CURLUSESSL_ALL : CURLUSESSL_NONE));
  curl_easy_setopt(c, CURLOPT_SSLVERSION, static_cast<long>(CURL_SSLVERSION_TLSv1_2));
  if (!config.ca.empty()) {
    curl_easy_setopt(c, CURLOPT_CAINFO, config.ca.c_str());
    curl_easy_setopt(c, CURLOPT_CAPATH, nullptr);
  }
  if (auto ok = log_in(c, config); !ok) return ok;
  curl_easy_setopt(c, CURLOPT_MAIL_FROM, ("<" + config.from + ">").c_str());
  curl_easy_setopt(c, CURLOPT_MAIL_RCPT, to.get());
  curl_easy_setopt(c, CURLOPT_HTTPHEADER, headers.get());
  curl_easy_setopt(c, CURLOPT_MIMEPOST, mime.get());
  curl_easy_setopt(c, CURLOPT_CONNECTTIMEOUT, kConnect_s);
  curl_easy_setopt(c, CURLOPT_TIMEOUT, kWhole_s);
  curl_easy_setopt(c, CURLOPT_NOSIGNAL, 1L);
  curl_easy_setopt(c, CURLOPT_ERRORBUFFER, words);
  const CURLcode done = curl_easy_perform(c);
  if (done == CURLE_OK) return {};
  long answer = 0;
  curl_easy_getinfo(c, CURLINFO_RESPONSE_CODE, &answer);
  std::string why = config.server + ": " + (words[0] != '\0' ? words : curl_easy_strerror(done));
  if (answer > 0) why += " (answer " + std::to_string(answer) + ")";
  return std::unexpected(error_of(done, answer, one_line(why)));
}

}  // namespace fairlead::desk
