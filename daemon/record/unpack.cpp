#include <fmt/format.h>

#include "daemon/record/commitment.h"
#include "daemon/record/observation_check.h"
#include "daemon/record/packer.h"
#include "daemon/record/strip.h"

namespace fairlead::record {
namespace {

using Lines = std::vector<v1::Observation>;

template <typename Body>
Result<Body> parsed(std::string_view bytes) {
  Body body;
  if (bytes.size() > kMaxBodySize ||
      !body.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) {
    return fail(Code::kBadInput, "body: is not what its kind says; send the body as it was signed");
  }
  return body;
}

Result<Lines> checked(Lines lines) {
  for (size_t i = 0; i < lines.size(); ++i) {
    if (const auto sane = check_observation(lines[i]); !sane) {
      return fail_at(fmt::format("observation[{}].", i), sane.error());
    }
  }
  return lines;
}

template <typename Body>
Result<Lines> one_line(std::string_view bytes) {
  auto body = parsed<Body>(bytes);
  if (!body) return std::unexpected(body.error());
  Lines lines;
  lines.push_back(std::move(*body->mutable_observation()));
  return checked(std::move(lines));
}

Result<Lines> list_of_lines(std::string_view bytes) {
  auto body = parsed<v1::ObservationsBody>(bytes);
  if (!body) return std::unexpected(body.error());
  Lines lines;
  lines.reserve(static_cast<size_t>(body->observation_size()));
  for (auto& line : *body->mutable_observation()) lines.push_back(std::move(line));
  return checked(std::move(lines));
}

Result<Lines> recovered_lines(std::string_view bytes) {
  const auto body = parsed<v1::RecoveredBody>(bytes);
  if (!body) return std::unexpected(body.error());
  if (body->salt().empty()) return Lines{};  // The body is gone; the header alone came back.
  const auto header = decode_header(body->entry());
  if (!header) return fail_at("recovered.entry.", header.error());
  if (header->kind == Kind::kRecovered) {
    return fail(Code::kBadInput,
                "recovered: holds another recovered entry; send the old one itself");
  }
  const auto salt = array_of<16>(body->salt(), "recovered.salt");
  if (!salt) return std::unexpected(salt.error());
  if (!body_matches(*header, *salt, body->body())) {
    return fail(Code::kBadInput,
                "recovered.body: is not the one its entry commits to; send it as it was signed");
  }
  return observations_of(header->kind, body->body());
}

}  // namespace

Result<Lines> observations_of(Kind kind, std::string_view body) {
  switch (kind) {
    case Kind::kObservations:
      return list_of_lines(body);
    case Kind::kStrip:
      return decode_strip(body);
    case Kind::kJobOpen:
      return one_line<v1::JobOpenBody>(body);
    case Kind::kJobClose:
      return one_line<v1::JobCloseBody>(body);
    case Kind::kRecovered:
      return recovered_lines(body);
    default:
      return Lines{};
  }
}

}  // namespace fairlead::record
