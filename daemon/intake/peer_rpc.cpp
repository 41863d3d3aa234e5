#include "daemon/intake/peer_rpc.h"

#include <grpc/grpc_security_constants.h>

namespace fairlead::intake {

Result<Identity> peer_of(const grpc::AuthContext& connection) {
  const auto kinds = connection.FindPropertyValues(GRPC_TRANSPORT_SECURITY_TYPE_PROPERTY_NAME);
  if (kinds.empty() || kinds.front() == "insecure") return Identity{};
  const auto names = connection.FindPropertyValues(GRPC_PEER_URI_PROPERTY_NAME);
  if (names.size() != 1) {
    return fail(Code::kDenied,
                "the certificate has no name of this base; make one with fairlead "
                "enrol certificate");
  }
  auto identity = parse_identity({names.front().data(), names.front().size()});
  if (!identity) return fail(Code::kDenied, identity.error().message);
  return identity;
}

std::string certificate_of(const grpc::AuthContext& connection) {
  const auto found = connection.FindPropertyValues(GRPC_X509_PEM_CERT_PROPERTY_NAME);
  return found.empty() ? std::string() : std::string(found.front().data(), found.front().size());
}

}  // namespace fairlead::intake
