#include "daemon/ledger/sqlite/own_effect.h"

#include "daemon/ledger/holds.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::ledger {
namespace {

template <typename Body>
Result<Body> parsed(std::string_view bytes) {
  Body body;
  if (body.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) return body;
  return fail(Code::kBadInput, "body: is not what its kind says; make it again");
}

Result<OwnEffect> of_enrol(std::string_view bytes, Chains& chains) {
  const auto body = parsed<v1::EnrolBody>(bytes);
  if (!body) return std::unexpected(body.error());
  const auto device = array_of<16>(body->device_id(), "device_id");
  if (!device) return std::unexpected(device.error());
  const auto key = array_of<32>(body->public_key(), "public_key");
  if (!key) return std::unexpected(key.error());
  if (chains.latest(*device) != nullptr) {
    return fail(Code::kBadInput, "device_id: is enrolled already; rotate its key or restore it");
  }
  return OpensChain{*device, 1, {*key}};
}

Result<OwnEffect> of_restore(std::string_view bytes, Chains& chains) {
  const auto body = parsed<v1::RestoreBody>(bytes);
  if (!body) return std::unexpected(body.error());
  if (body->device_id().empty()) return OwnEffect{};  // Of the base itself: no chain opens.
  const auto device = array_of<16>(body->device_id(), "device_id");
  if (!device) return std::unexpected(device.error());
  const Chain* before = chains.latest(*device);
  if (before == nullptr) return fail(Code::kBadInput, "device_id: is not enrolled; enrol it first");
  if (body->new_epoch() <= before->mark.epoch) {
    return fail(Code::kBadInput, "new_epoch: must be after the device's last epoch; raise it");
  }
  return OpensChain{*device, body->new_epoch(), before->mark.key};
}

Result<OwnEffect> of_rotate(std::string_view bytes, Chains& chains) {
  const auto body = parsed<v1::RotateBody>(bytes);
  if (!body) return std::unexpected(body.error());
  const auto device = array_of<16>(body->device_id(), "device_id");
  if (!device) return std::unexpected(device.error());
  const auto key = array_of<32>(body->new_public_key(), "new_public_key");
  if (!key) return std::unexpected(key.error());
  if (chains.latest(*device) == nullptr) {
    return fail(Code::kBadInput, "device_id: is not enrolled; enrol it first");
  }
  return ChangesKey{*device, {*key}};
}

}  // namespace

Result<OwnEffect> own_effect(Kind kind, std::string_view body, Chains& chains) {
  switch (kind) {
    case Kind::kEnrol:
      return of_enrol(body, chains);
    case Kind::kRestore:
      return of_restore(body, chains);
    case Kind::kRotate:
      return of_rotate(body, chains);
    case Kind::kRegister: {
      auto file = parsed<v1::RegisterFileBody>(body);
      if (!file) return std::unexpected(file.error());
      return BringsFile{std::move(*file->mutable_content())};
    }
    case Kind::kHoldEnd: {
      const auto end = parsed<v1::HoldEndBody>(body);
      if (!end) return std::unexpected(end.error());
      if (const auto two = check_approvals(*end); !two) return std::unexpected(two.error());
      return OwnEffect{};
    }
    default:
      return OwnEffect{};
  }
}

}  // namespace fairlead::ledger
