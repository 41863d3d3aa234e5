#include "clients/verify/pdf_bundle.h"

#include <zlib.h>

#include <algorithm>
#include <charconv>
#include <optional>

namespace fairlead::verifier {
namespace {

constexpr std::string_view kType = "/EmbeddedFile";
constexpr std::string_view kBundleMagic = "FLB1";
constexpr size_t kMaxDictionary = 4'096;
constexpr size_t kMaxAttachments = 1'000;
constexpr const char* kOtherWay =
    "; check bundle.flb itself, which comes beside the report, or take it out with pdfdetach "
    "-saveall REPORT.pdf";

std::unexpected<Error> bad(const std::string& words) {
  return fail(Code::kBadInput, "PDF: " + words + kOtherWay);
}

bool ends_name(std::string_view text, size_t at) {
  return at >= text.size() || std::string_view(" \t\r\n\f/<>[]()").find(text[at]) != text.npos;
}

/// What follows `key` in a dictionary, without leading blanks; nullopt when it is not there.
std::optional<std::string_view> value_of(std::string_view dictionary, std::string_view key) {
  for (size_t at = 0; (at = dictionary.find(key, at)) != dictionary.npos; at += key.size()) {
    if (!ends_name(dictionary, at + key.size())) continue;
    std::string_view rest = dictionary.substr(at + key.size());
    rest.remove_prefix(std::min(rest.find_first_not_of(" \t\r\n\f"), rest.size()));
    return rest;
  }
  return std::nullopt;
}

/// A whole number that is no reference to another object ("12 0 R").
std::optional<uint64_t> number_of(std::string_view dictionary, std::string_view key) {
  const auto value = value_of(dictionary, key);
  uint64_t number = 0;
  if (!value) return std::nullopt;
  const auto [end, error] = std::from_chars(value->data(), value->data() + value->size(), number);
  if (error != std::errc()) return std::nullopt;
  std::string_view rest = value->substr(static_cast<size_t>(end - value->data()));
  rest.remove_prefix(std::min(rest.find_first_not_of(" \t\r\n\f"), rest.size()));
  if (!rest.empty() && rest.front() >= '0' && rest.front() <= '9') return std::nullopt;
  return number;
}

struct Stream {
  std::string_view raw;
  bool flate = false;
  std::optional<uint64_t> size;  // As the file says it is when inflated.
};

/// The stream whose dictionary holds the /EmbeddedFile at `at`; nullopt when it is not in the form
/// our writer gives.
std::optional<Stream> stream_at(std::string_view pdf, size_t at) {
  const size_t low = at > kMaxDictionary ? at - kMaxDictionary : 0;
  const size_t begin = pdf.substr(low, at - low).rfind(" obj");
  if (begin == pdf.npos) return std::nullopt;
  const std::string_view tail = pdf.substr(at, kMaxDictionary);
  const size_t keyword = tail.find("stream");
  if (keyword == tail.npos) return std::nullopt;
  const std::string_view dictionary = pdf.substr(low + begin, at + keyword - low - begin);
  if (dictionary.find("endobj") != dictionary.npos) return std::nullopt;
  const auto length = number_of(dictionary, "/Length");
  std::string_view data = pdf.substr(at + keyword + 6);
  if (data.starts_with("\r\n")) data.remove_prefix(1);
  if (!length || !data.starts_with("\n") || *length > data.size() - 1) return std::nullopt;
  Stream out;
  out.raw = data.substr(1, static_cast<size_t>(*length));
  out.size = number_of(dictionary, "/Size");
  if (auto filter = value_of(dictionary, "/Filter")) {
    if (filter->starts_with("[")) filter->remove_prefix(1);
    filter->remove_prefix(std::min(filter->find_first_not_of(' '), filter->size()));
    if (!filter->starts_with("/FlateDecode") || value_of(dictionary, "/DecodeParms")) {
      return std::nullopt;
    }
    out.flate = true;
  }
  return out;
}

/// Inflates until `cap` bytes are out or the stream ends; false for bytes that are not deflated.
bool inflate_up_to(std::string_view raw, size_t cap, std::string& out, bool& ended) {
  z_stream z{};
  if (inflateInit(&z) != Z_OK) return false;
  int state = Z_OK;
  while (state == Z_OK && out.size() < cap) {
    if (z.avail_in == 0 && !raw.empty()) {
      z.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(raw.data()));
      z.avail_in = static_cast<uInt>(std::min<size_t>(raw.size(), size_t{1} << 30));
      raw.remove_prefix(z.avail_in);
    }
    const size_t before = out.size();
    const size_t room = std::min(cap - before, std::max<size_t>(before, 65'536));
    out.resize(before + room);
    z.next_out = reinterpret_cast<Bytef*>(out.data() + before);
    z.avail_out = static_cast<uInt>(room);
    state = inflate(&z, Z_NO_FLUSH);
    out.resize(out.size() - z.avail_out);
  }
  inflateEnd(&z);
  ended = state == Z_STREAM_END;
  return ended || state == Z_OK;
}

bool holds_bundle(const Stream& stream) {
  if (!stream.flate) return stream.raw.starts_with(kBundleMagic);
  std::string begin;
  bool ended = false;
  return inflate_up_to(stream.raw, kBundleMagic.size(), begin, ended) && begin == kBundleMagic;
}

Result<std::string> unpack(const Stream& stream) {
  if (stream.raw.size() > kMaxInflatedBundle || stream.size.value_or(0) > kMaxInflatedBundle) {
    return bad("the attached bundle is over 1 GiB");
  }
  if (!stream.flate) return std::string(stream.raw);
  std::string out;
  bool ended = false;
  // One more than allowed, so that what is longer shows.
  const size_t cap = static_cast<size_t>(stream.size.value_or(kMaxInflatedBundle)) + 1;
  if (!inflate_up_to(stream.raw, cap, out, ended) || !ended) {
    return bad("the attached bundle is cut off or damaged");
  }
  if (stream.size && out.size() != *stream.size) {
    return bad("the attached bundle has another length than the PDF says");
  }
  return out;
}

}  // namespace

Result<std::string> bundle_of_pdf(std::string_view pdf) {
  std::optional<Stream> found;
  bool odd = false;
  size_t seen = 0;
  for (size_t at = 0; (at = pdf.find(kType, at)) != pdf.npos; at += kType.size()) {
    if (!ends_name(pdf, at + kType.size())) continue;  // "/EmbeddedFiles", the list of them.
    if (++seen > kMaxAttachments) return bad("has more than 1,000 attachments");
    const auto stream = stream_at(pdf, at);
    if (!stream) {
      odd = true;
    } else if (holds_bundle(*stream)) {
      if (found) return bad("carries more than one bundle, and nobody can say which is meant");
      found = stream;
    }
  }
  if (found) return unpack(*found);
  if (odd) return bad("an attachment is not stored the way our reports store it");
  return fail(Code::kNotFound, std::string("PDF: carries no bundle") + kOtherWay);
}

}  // namespace fairlead::verifier
