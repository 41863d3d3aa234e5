#include "clients/cli/http_post.h"

#include <curl/curl.h>

#include <memory>

namespace fairlead::cli {
namespace {

constexpr size_t kLongestAnswer = 64 * 1'024;

// Taking less than was given makes curl stop with CURLE_WRITE_ERROR.
size_t take(char* bytes, size_t size, size_t count, void* into) {
  auto& out = *static_cast<std::string*>(into);
  if (out.size() + size * count > kLongestAnswer) return 0;
  out.append(bytes, size * count);
  return size * count;
}

bool is_callers_fault(CURLcode code) {
  return code == CURLE_URL_MALFORMAT || code == CURLE_UNSUPPORTED_PROTOCOL ||
         code == CURLE_WRITE_ERROR || code == CURLE_PEER_FAILED_VERIFICATION ||
         code == CURLE_SSL_CACERT_BADFILE;
}

}  // namespace

Result<HttpAnswer> http_post(const std::string& url, const std::string& body,
                             std::chrono::seconds timeout, const std::string& ca) {
  static const CURLcode kReady = curl_global_init(CURL_GLOBAL_DEFAULT);
  const std::unique_ptr<CURL, decltype(&curl_easy_cleanup)> curl(curl_easy_init(),
                                                                 &curl_easy_cleanup);
  if (kReady != CURLE_OK || !curl) return fail(Code::kInternal, "libcurl cannot be started");
  HttpAnswer answer;
  char words[CURL_ERROR_SIZE] = "";
  CURL* c = curl.get();
  curl_slist* plain = curl_slist_append(nullptr, "Content-Type: text/plain; charset=utf-8");
  const std::unique_ptr<curl_slist, decltype(&curl_slist_free_all)> headers(plain,
                                                                            &curl_slist_free_all);
  curl_easy_setopt(c, CURLOPT_URL, url.c_str());
  curl_easy_setopt(c, CURLOPT_PROTOCOLS_STR, "http,https");
  curl_easy_setopt(c, CURLOPT_HTTPHEADER, headers.get());
  curl_easy_setopt(c, CURLOPT_POSTFIELDS, body.data());
  curl_easy_setopt(c, CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(body.size()));
  curl_easy_setopt(c, CURLOPT_TIMEOUT_MS,
                   static_cast<long>(std::chrono::milliseconds(timeout).count()));
  curl_easy_setopt(c, CURLOPT_NOSIGNAL, 1L);
  if (!ca.empty()) {
    curl_blob pem{const_cast<char*>(ca.data()), ca.size(), CURL_BLOB_COPY};
    curl_easy_setopt(c, CURLOPT_CAINFO_BLOB, &pem);
    curl_easy_setopt(c, CURLOPT_CAPATH, nullptr);
  }
  curl_easy_setopt(c, CURLOPT_ERRORBUFFER, words);
  curl_easy_setopt(c, CURLOPT_WRITEFUNCTION, &take);
  curl_easy_setopt(c, CURLOPT_WRITEDATA, &answer.body);
  const CURLcode done = curl_easy_perform(c);
  if (done != CURLE_OK) {
    const std::string why = words[0] != '\0' ? words : curl_easy_strerror(done);
    return fail(is_callers_fault(done) ? Code::kBadInput : Code::kUnavailable, url + ": " + why);
  }
  curl_easy_getinfo(c, CURLINFO_RESPONSE_CODE, &answer.status);
  return answer;
}

}  // namespace fairlead::cli
