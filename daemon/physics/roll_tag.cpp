#include "daemon/physics/roll_tag.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/base/exact_math.h"

namespace fairlead::physics {
namespace {

constexpr size_t kCore = 4;             // p, v, m, d.
constexpr double kMotionSd = 1.0;       // m/s.
constexpr double kMotionTau = 5.0;      // s.
constexpr double kWhitePosition = 0.5;  // m.
constexpr double kGate = 4.0;           // s.d. beyond which a fix is an outlier.
constexpr double kGuard = 1.0;          // s of motion allowed before and after a pull.
constexpr std::array kTauM{20.0, 60.0, 300.0};
constexpr std::array kSdD{0.04, 0.08, 0.16};
constexpr std::array kSdU{0.04, 0.09};
constexpr std::array kTauD{0.7, 2.5, 8.0, 20.0};

struct Noise {
  double tau_m, sd_d, sd_u, tau_d;
};

// The way of one noise member: a Gaussian, and how well the member explains the fixes.
struct Member {
  double mean, variance, log_likelihood;
  int outliers;
};

using Matrix = std::vector<std::vector<double>>;

// Same covariance for both axes; two means.
class Filter {
 public:
  Filter(size_t copies, const Noise& noise, double h_sd)
      : noise_(noise),
        size_(kCore + copies),
        covariance_(size_, std::vector<double>(size_, 0.0)),
        east_(size_, 0.0),
        north_(size_, 0.0) {
    covariance_[0][0] = 1e6;
    covariance_[2][2] = h_sd * h_sd;
    covariance_[3][3] = noise.sd_d * noise.sd_d;
  }

  void advance(double dt, bool moving, double h_sd) {
    if (dt <= 0) return;
    decay(2, exact_exp(-dt / noise_.tau_m), h_sd);
    decay(3, exact_exp(-dt / noise_.tau_d), noise_.sd_d);
    if (!moving) return;
    const double a = exact_exp(-dt / kMotionTau), reach = kMotionTau * (1.0 - a),
                 s2 = kMotionSd * kMotionSd;
    east_[0] += reach * east_[1];
    north_[0] += reach * north_[1];
    // Rows and columns: p' = p + reach v, v' = a v.
    for (size_t j = 0; j < size_; ++j) {
      covariance_[0][j] += reach * covariance_[1][j];
      covariance_[1][j] *= a;
    }
    for (size_t i = 0; i < size_; ++i) {
      covariance_[i][0] += reach * covariance_[i][1];
      covariance_[i][1] *= a;
    }
    east_[1] *= a;
    north_[1] *= a;
    covariance_[0][0] +=
        s2 * kMotionTau * kMotionTau * (2.0 * dt / kMotionTau - 3.0 + 4.0 * a - a * a);
    covariance_[0][1] += s2 * kMotionTau * (1.0 - a) * (1.0 - a);
    covariance_[1][0] = covariance_[0][1];
    covariance_[1][1] += s2 * (1.0 - a * a);
  }

  // Remembers p as copy `k`.
  void copy_position(size_t k) {
    const size_t to = kCore + k;
    east_[to] = east_[0];
    north_[to] = north_[0];
    for (size_t j = 0; j < size_; ++j) covariance_[to][j] = covariance_[0][j];
    for (size_t i = 0; i < size_; ++i) covariance_[i][to] = covariance_[i][0];
  }

  // The car stands: v is 0, and what that says of p is used.
  void stand() {
    observe(1, kCore, 0.0, 0.0, 1e-6, false);
    east_[1] = north_[1] = 0.0;
    for (size_t j = 0; j < size_; ++j) covariance_[1][j] = covariance_[j][1] = 0.0;
  }

  void observe_position(double east, double north) {
    observe(0, 2, east, north, kWhitePosition * kWhitePosition, true);
  }
  void observe_velocity(double east, double north) {
    observe(1, 3, east, north, noise_.sd_u * noise_.sd_u, true);
  }

  [[nodiscard]] double log_likelihood() const { return log_likelihood_; }
  [[nodiscard]] int outliers() const { return outliers_; }
  [[nodiscard]] double chord_east(size_t k) const {
    return east_[kCore + 2 * k + 1] - east_[kCore + 2 * k];
  }
  [[nodiscard]] double chord_north(size_t k) const {
    return north_[kCore + 2 * k + 1] - north_[kCore + 2 * k];
  }
  [[nodiscard]] double chord_covariance(size_t a, size_t b) const {
    const size_t a0 = kCore + 2 * a, a1 = a0 + 1, b0 = kCore + 2 * b, b1 = b0 + 1;
    return covariance_[a1][b1] - covariance_[a1][b0] - covariance_[a0][b1] + covariance_[a0][b0];
  }

 private:
  void decay(size_t state, double a, double sd) {
    east_[state] *= a;
    north_[state] *= a;
    for (size_t j = 0; j < size_; ++j) covariance_[state][j] *= a;
    for (size_t i = 0; i < size_; ++i) covariance_[i][state] *= a;
    covariance_[state][state] += sd * sd * (1.0 - a * a);
  }

  // One reading of state `one` + state `two` (two = kCore: none) on both axes.
  void observe(size_t one, size_t two, double east, double north, double variance, bool gated) {
    std::vector<double> gain(size_);
    for (size_t i = 0; i < size_; ++i)
      gain[i] = covariance_[i][one] + (two < kCore ? covariance_[i][two] : 0.0);
    const double s = gain[one] + (two < kCore ? gain[two] : 0.0) + variance;
    const double off_east = east - east_[one] - (two < kCore ? east_[two] : 0.0);
    const double off_north = north - north_[one] - (two < kCore ? north_[two] : 0.0);
    const double square = (off_east * off_east + off_north * off_north) / s;
    if (gated && square > 2.0 * kGate * kGate) {
      ++outliers_;
      log_likelihood_ -= exact_log(s) + kGate * kGate;
      return;
    }
    if (gated) log_likelihood_ -= exact_log(s) + 0.5 * square;
    for (size_t i = 0; i < size_; ++i) {
      east_[i] += gain[i] / s * off_east;
      north_[i] += gain[i] / s * off_north;
    }
    for (size_t i = 0; i < size_; ++i) {
      for (size_t j = 0; j < size_; ++j) covariance_[i][j] -= gain[i] * gain[j] / s;
    }
  }

  Noise noise_;
  size_t size_;
  Matrix covariance_;
  std::vector<double> east_, north_;
  double log_likelihood_ = 0.0;
  int outliers_ = 0;
};

// What happens in order of time: motion begins or ends, a fix comes.
struct Step {
  double time_s;
  enum Kind { kBegin, kEnd, kFix } kind;
  size_t index;
};

std::vector<Step> steps_of(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
                           int64_t origin_us) {
  const auto seconds = [&](int64_t time_us) {
    return static_cast<double>(time_us - origin_us) / 1e6;
  };
  std::vector<Step> steps;
  for (size_t i = 0; i < pulls.size(); ++i) {
    double from = seconds(pulls[i].from_us) - kGuard, to = seconds(pulls[i].to_us) + kGuard;
    if (i > 0) from = std::max(from, seconds((pulls[i - 1].to_us + pulls[i].from_us) / 2));
    if (i + 1 < pulls.size())
      to = std::min(to, seconds((pulls[i].to_us + pulls[i + 1].from_us) / 2));
    steps.push_back({from, Step::kBegin, i});
    steps.push_back({to, Step::kEnd, i});
  }
  for (size_t i = 0; i < fixes.size(); ++i)
    steps.push_back({seconds(fixes[i].time_us), Step::kFix, i});
  std::stable_sort(steps.begin(), steps.end(), [](const Step& a, const Step& b) {
    return a.time_s != b.time_s ? a.time_s < b.time_s : a.kind < b.kind;
  });
  return steps;
}

void take_fix(Filter& filter, const TagFix& fix) {
  filter.observe_position(fix.east_m, fix.north_m);
  if (fix.east_mps && fix.north_mps) filter.observe_velocity(*fix.east_mps, *fix.north_mps);
}

Member way_of(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
              const std::vector<Step>& steps, const Noise& noise) {
  std::vector<size_t> slot(pulls.size(), 0);
  size_t counted = 0;
  for (size_t i = 0; i < pulls.size(); ++i) {
    if (pulls[i].counted) slot[i] = counted++;
  }
  Filter filter(2 * counted, noise, fixes.front().h_sd_m);
  double now = steps.front().time_s;
  bool moving = false;
  for (const Step& step : steps) {
    const TagFix& about = fixes[step.kind == Step::kFix ? step.index : 0];
    filter.advance(step.time_s - now, moving, about.h_sd_m);
    now = step.time_s;
    if (step.kind == Step::kFix) {
      take_fix(filter, about);
      continue;
    }
    moving = step.kind == Step::kBegin;
    if (!moving) filter.stand();
    if (pulls[step.index].counted) filter.copy_position(2 * slot[step.index] + (moving ? 0 : 1));
  }
  Member member{0.0, 0.0, filter.log_likelihood(), filter.outliers()};
  std::vector<std::array<double, 2>> along(counted);
  for (size_t k = 0; k < counted; ++k) {
    const double east = filter.chord_east(k), north = filter.chord_north(k);
    const double square = east * east + north * north, own = filter.chord_covariance(k, k);
    const double length = std::sqrt(square);
    along[k] = length > 0 ? std::array{east / length, north / length} : std::array{1.0, 0.0};
    // A noisy vector is longer than the true one: Rician correction.
    member.mean += square > own ? std::sqrt(square - own) : 0.0;
  }
  for (size_t a = 0; a < counted; ++a) {
    for (size_t b = 0; b < counted; ++b) {
      member.variance +=
          filter.chord_covariance(a, b) * (along[a][0] * along[b][0] + along[a][1] * along[b][1]);
    }
  }
  return member;
}

// Quantile of the Gaussian mixture, by a fixed number of halvings.
double quantile(const std::vector<Member>& members, const std::vector<double>& weights,
                double share) {
  double low = -1e4, high = 1e5;
  for (int i = 0; i < 80; ++i) {
    const double middle = (low + high) / 2.0;
    double below = 0.0;
    for (size_t k = 0; k < members.size(); ++k) {
      const double sd = std::sqrt(std::max(members[k].variance, 1e-12));
      below += weights[k] * normal_cdf((middle - members[k].mean) / sd);
    }
    (below < share ? low : high) = middle;
  }
  return high;
}

}  // namespace

std::optional<TagWay> tag_way(std::span<const TagFix> fixes, std::span<const TagPull> pulls) {
  if (fixes.size() < 3) return std::nullopt;
  if (pulls.empty()) return TagWay{0, 0, 0, static_cast<int>(fixes.size()), 0};
  const bool rest_before = fixes.front().time_us <= pulls.front().from_us;
  const bool rest_after = fixes.back().time_us >= pulls.back().to_us;
  if (!rest_before || !rest_after) return std::nullopt;
  const std::vector<Step> steps = steps_of(fixes, pulls, fixes.front().time_us);
  std::vector<Member> members;
  for (const double tau_m : kTauM) {
    for (const double sd_d : kSdD) {
      for (const double sd_u : kSdU) {
        for (const double tau_d : kTauD)
          members.push_back(way_of(fixes, pulls, steps, {tau_m, sd_d, sd_u, tau_d}));
      }
    }
  }
  double most = members.front().log_likelihood;
  for (const Member& member : members) most = std::max(most, member.log_likelihood);
  std::vector<double> weights;
  double total = 0.0;
  int outliers = members.front().outliers;
  for (const Member& member : members) {
    weights.push_back(exact_exp(member.log_likelihood - most));
    total += weights.back();
    outliers = std::min(outliers, member.outliers);
  }
  for (double& weight : weights) weight /= total;
  TagWay way{.fixes_used = static_cast<int>(fixes.size()), .outliers = outliers};
  way.lo_mm =
      static_cast<int64_t>(std::floor(std::max(0.0, quantile(members, weights, 0.025)) * 1000.0));
  way.best_mm = static_cast<int64_t>(
      std::floor(std::max(0.0, quantile(members, weights, 0.5)) * 1000.0 + 0.5));
  way.hi_mm =
      static_cast<int64_t>(std::ceil(std::max(0.0, quantile(members, weights, 0.975)) * 1000.0));
  return way;
}

}  // namespace fairlead::physics
