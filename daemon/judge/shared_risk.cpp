#include "daemon/judge/shared_risk.h"

#include <cstddef>
#include <map>

#include "daemon/base/exact_math.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kLooksPerTau = 6;
constexpr size_t kMostKept = 64;

}  // namespace

int64_t shared_risk_z_micro(int64_t longest_us, int64_t tau_us) {
  double looks = tau_us > 0 ? static_cast<double>(kLooksPerTau) * static_cast<double>(longest_us) /
                                  static_cast<double>(tau_us)
                            : 1.0;
  if (looks < 1.0) looks = 1.0;
  // Asked for each stay at each judging, of the few phases there are: the last ones are kept.
  thread_local std::map<double, int64_t> known;
  if (known.size() > kMostKept) known.clear();
  const auto [at, fresh] = known.try_emplace(looks);
  if (fresh) at->second = static_cast<int64_t>(normal_tail_quantile(0.05 / looks) * 1e6) + 1;
  return at->second;
}

}  // namespace fairlead::judge
