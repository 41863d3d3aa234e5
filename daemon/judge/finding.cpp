#include "daemon/judge/finding.h"

#include <fmt/format.h>

#include "daemon/base/time_text.h"

namespace fairlead::judge {
namespace {

// A JSON string: quotes, backslashes and control characters escaped, other UTF-8 as it is.
std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (static_cast<unsigned char>(c) < 0x20) {
      out += fmt::format("\\u{:04x}", static_cast<unsigned>(static_cast<unsigned char>(c)));
    } else {
      out += c;
    }
  }
  return out + "\"";
}

std::string number(const Bound& bound) { return bound.value_or("null"); }

}  // namespace

const char* word(Applies applies) {
  return applies == Applies::kYes ? "yes" : applies == Applies::kNo ? "no" : "unknown";
}

const char* word(Verdict verdict) {
  switch (verdict) {
    case Verdict::kNone:
      return "";
    case Verdict::kMet:
      return "met";
    case Verdict::kDeviated:
      return "deviated";
    case Verdict::kUnproven:
      return "unproven";
  }
  return "";
}

const char* word(Reason reason) {
  switch (reason) {
    case Reason::kNone:
      return "";
    case Reason::kNoData:
      return "no_data";
    case Reason::kTooClose:
      return "too_close";
    case Reason::kClockDoubt:
      return "clock_doubt";
    case Reason::kSourcesDisagree:
      return "sources_disagree";
    case Reason::kNotYet:
      return "not_yet";
    case Reason::kCutShort:
      return "cut_short";
  }
  return "";
}

const char* word(Basis basis) {
  switch (basis) {
    case Basis::kNone:
      return "";
    case Basis::kMeasured:
      return "measured";
    case Basis::kPictured:
      return "pictured";
    case Basis::kSaid:
      return "said";
  }
  return "";
}

std::string finding_to_json(const Finding& f) {
  std::string evidence;
  for (const Evidence& one : f.evidence) {
    evidence +=
        fmt::format("{}{{\"source\":{},\"seq\":{},\"role\":{}}}", evidence.empty() ? "" : ",",
                    quoted(one.source), one.seq, quoted(one.role));
  }
  const std::string at = f.at_us ? quoted(format_time_us(*f.at_us)) : "null";
  return fmt::format(
      "{{\"rule\":{},\"applies\":\"{}\",\"verdict\":\"{}\",\"reason\":\"{}\",\"basis\":\"{}\","
      "\"marginLo\":{},\"marginBest\":{},\"marginHi\":{},\"unit\":{},\"at\":{},\"evidence\":[{}],"
      "\"settled\":{},\"revision\":{},\"meaning\":{},\"procedureSha256\":\"{}\","
      "\"registerSha256\":\"{}\",\"inputsSha256\":\"{}\",\"sentence\":{}}}",
      quoted(f.rule), word(f.applies), word(f.verdict), word(f.reason), word(f.basis),
      number(f.margin_lo), number(f.margin_best), number(f.margin_hi), quoted(f.unit), at, evidence,
      f.settled, f.revision, f.meaning, f.procedure_sha256, f.register_sha256, f.inputs_sha256,
      quoted(f.sentence));
}

}  // namespace fairlead::judge
