#include "daemon/watch/job_id.h"

namespace fairlead::watch {

record::Id16 job_id_of(std::string_view name) {
  if (name.empty()) return {};
  if (const auto id = array_of_hex<16>(name, "job")) return *id;
  const Hash hash = sha256({"fairlead/job/v1\n", name});
  record::Id16 id{};
  std::copy_n(hash.begin(), id.size(), id.begin());
  return id;
}

}  // namespace fairlead::watch
