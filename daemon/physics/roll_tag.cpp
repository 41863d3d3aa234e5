#include "daemon/physics/roll_tag.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/base/exact_math.h"
#include "daemon/physics/roll_creep.h"
#include "daemon/physics/roll_filter.h"

namespace fairlead::physics {
namespace {

constexpr std::array kTauM{20.0, 60.0, 300.0};
constexpr std::array kSdD{0.04, 0.08, 0.16};
constexpr std::array kSdU{0.04, 0.09};
constexpr std::array kTauD{0.7, 2.5, 8.0, 20.0};
constexpr std::array kSdV{0.4, 1.0};  // A steady winch; anything else.
constexpr double kTrust = 0.5;

// What happens in order of time: motion begins or ends, a fix comes.
struct Step {
  double time_s;
  enum Kind { kBegin, kEnd, kFix } kind;
  size_t index;
};

std::vector<Step> steps_of(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
                           double guard_s) {
  const auto seconds = [&](int64_t time_us) {
    return static_cast<double>(time_us - fixes.front().time_us) / 1e6;
  };
  std::vector<Step> steps;
  steps.reserve(fixes.size() + 2 * pulls.size());
  for (size_t i = 0; i < pulls.size(); ++i) {
    double from = seconds(pulls[i].from_us) - guard_s, to = seconds(pulls[i].to_us) + guard_s;
    if (i > 0) from = std::max(from, seconds((pulls[i - 1].to_us + pulls[i].from_us) / 2));
    if (i + 1 < pulls.size())
      to = std::min(to, seconds((pulls[i].to_us + pulls[i + 1].from_us) / 2));
    steps.push_back({from, Step::kBegin, i});
    steps.push_back({to, Step::kEnd, i});
  }
  for (size_t i = 0; i < fixes.size(); ++i)
    steps.push_back({seconds(fixes[i].time_us), Step::kFix, i});
  std::stable_sort(steps.begin(), steps.end(), [](const Step& a, const Step& b) {
    // Of two pulls that meet, the first ends before the second begins.
    return a.time_s != b.time_s ? a.time_s < b.time_s
                                : a.kind != Step::kFix && b.kind == Step::kFix;
  });
  return steps;
}

// Runs filters over steps.
class Walk {
 public:
  Walk(std::span<const TagFix> fixes, std::span<const TagPull> pulls, std::span<const Step> steps)
      : fixes_(fixes), pulls_(pulls), steps_(steps) {
    while (lead_ < steps.size() && steps[lead_].kind == Step::kFix) ++lead_;
  }

  // The rest before the first pull, for positions or for velocities alone.
  [[nodiscard]] RollFilter lead_in(const RollNoise& noise, bool positions) const {
    RollFilter filter(noise, fixes_.front().h_sd_m);
    run(filter, 0, lead_, positions, !positions, nullptr);
    return filter;
  }
  void rest_of(RollFilter& filter) const { run(filter, lead_, steps_.size(), true, true, nullptr); }
  // Everything once more, to note what the member sets aside.
  [[nodiscard]] std::vector<size_t> set_aside(const RollNoise& noise) const {
    std::vector<size_t> asides;
    RollFilter filter(noise, fixes_.front().h_sd_m);
    run(filter, 0, steps_.size(), true, true, &asides);
    return asides;
  }

 private:
  void run(RollFilter& filter, size_t from, size_t to, bool positions, bool velocities,
           std::vector<size_t>* asides) const {
    double now = from > 0 ? steps_[from - 1].time_s : steps_.front().time_s;
    for (size_t i = from; i < to; ++i) {
      const Step& step = steps_[i];
      const TagFix& fix = fixes_[step.kind == Step::kFix ? step.index : 0];
      filter.advance(step.time_s - now, fix.h_sd_m);
      now = step.time_s;
      if (step.kind == Step::kBegin) {
        filter.begin(pulls_[step.index].counted);
      } else if (step.kind == Step::kEnd) {
        filter.end();
      } else {
        bool used = !positions || filter.observe_position(fix.east_m, fix.north_m, fix.h_sd_m);
        if (velocities && fix.east_mps && fix.north_mps)
          used = filter.observe_velocity(*fix.east_mps, *fix.north_mps) && used;
        if (!used && asides != nullptr) asides->push_back(step.index);
      }
    }
  }

  std::span<const TagFix> fixes_;
  std::span<const TagPull> pulls_;
  std::span<const Step> steps_;
  size_t lead_ = 0;
};

// Sum of the chords of one member; its log likelihood stands in for the weight until all are there.
TagPosterior::Member member_of(const RollFilter& filter) {
  TagPosterior::Member member{0.0, 0.0, filter.log_likelihood()};
  std::array<std::array<double, 2>, RollFilter::kMostChords> along;
  for (size_t k = 0; k < filter.chords(); ++k) {
    const double east = filter.chord_east(k), north = filter.chord_north(k);
    const double square = east * east + north * north, own = filter.chord_covariance(k, k);
    const double length = std::sqrt(square);
    along[k] = length > 0 ? std::array{east / length, north / length} : std::array{1.0, 0.0};
    // A noisy vector is longer than the true one: Rician correction.
    member.mean += square > own ? std::sqrt(square - own) : 0.0;
  }
  for (size_t a = 0; a < filter.chords(); ++a) {
    for (size_t b = 0; b < filter.chords(); ++b) {
      member.variance +=
          filter.chord_covariance(a, b) * (along[a][0] * along[b][0] + along[a][1] * along[b][1]);
    }
  }
  member.variance = std::max(member.variance, 1e-12);
  return member;
}

size_t weigh(std::vector<TagPosterior::Member>& members, double trust) {
  size_t likeliest = 0;
  for (size_t i = 1; i < members.size(); ++i) {
    if (members[i].weight > members[likeliest].weight) likeliest = i;
  }
  const double most = members[likeliest].weight;
  double total = 0.0;
  for (TagPosterior::Member& member : members) {
    member.weight = exact_exp(trust * (member.weight - most));
    total += member.weight;
  }
  for (TagPosterior::Member& member : members) member.weight /= total;
  return likeliest;
}

// The grid is coarse: taken at its word, many fixes would make it surer of one point than it can
// be. They count as one every two seconds, which is also what the checks of docs/roll.md bear out.
double trust_in(std::span<const TagFix> fixes) {
  const double seconds = static_cast<double>(fixes.back().time_us - fixes.front().time_us) / 1e6;
  return kTrust * std::min(1.0, seconds / static_cast<double>(fixes.size()));
}

size_t counted(std::span<const TagPull> pulls) {
  return static_cast<size_t>(
      std::count_if(pulls.begin(), pulls.end(), [](const TagPull& pull) { return pull.counted; }));
}

bool rests_around(std::span<const TagFix> fixes, std::span<const TagPull> pulls) {
  return fixes.size() >= 3 && !pulls.empty() && fixes.front().time_us <= pulls.front().from_us &&
         fixes.back().time_us >= pulls.back().to_us;
}

// The way is at most (a / 2) / sin(a / 2) times its chord where the path turns by a.
double turn_factor(double turn_deg) {
  if (turn_deg <= 0) return 1.0;
  return turn_deg / 2.0 * (3.14159265358979323846 / 180.0) / exact_sin_deg(turn_deg / 2.0);
}

// Too many pulls for one filter: taken apart at the longest rest; ends add up, on the safe side.
std::optional<TagWay> taken_apart(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
                                  const TagAllowance& allowance) {
  size_t cut = 1;
  const auto rest = [&](size_t i) { return pulls[i].from_us - pulls[i - 1].to_us; };
  for (size_t i = 1; i < pulls.size(); ++i) {
    if (rest(i) > rest(cut)) cut = i;
  }
  size_t first = 0, last = fixes.size();  // Fixes of the later half begin, of the earlier end.
  while (first < fixes.size() && fixes[first].time_us < pulls[cut - 1].to_us) ++first;
  while (last > 0 && fixes[last - 1].time_us > pulls[cut].from_us) --last;
  auto before = tag_way(fixes.first(last), pulls.first(cut), allowance);
  const auto after = tag_way(fixes.subspan(first), pulls.subspan(cut), allowance);
  if (!before || !after) return std::nullopt;
  before->lo_mm += after->lo_mm;
  before->best_mm += after->best_mm;
  before->hi_mm += after->hi_mm;
  for (const size_t index : after->set_aside) before->set_aside.push_back(first + index);
  return before;
}

// All members of the grid; those that share what they see of the first rest see it once.
std::vector<RollNoise> walk_grid(const Walk& walk, std::vector<TagPosterior::Member>& members) {
  std::vector<RollNoise> noises;
  std::vector<RollFilter> positions;
  for (const double tau_m : kTauM) positions.push_back(walk.lead_in({tau_m, 1, 1, 1}, true));
  for (const double sd_d : kSdD) {
    for (const double sd_u : kSdU) {
      for (const double tau_d : kTauD) {
        const RollFilter velocities = walk.lead_in({1, sd_d, sd_u, tau_d}, false);
        for (size_t i = 0; i < kTauM.size(); ++i) {
          for (const double sd_v : kSdV) {
            noises.push_back({kTauM[i], sd_d, sd_u, tau_d, sd_v});
            RollFilter filter(noises.back(), positions[i], velocities);
            walk.rest_of(filter);
            members.push_back(member_of(filter));
          }
        }
      }
    }
  }
  return noises;
}

}  // namespace

double TagPosterior::share_below(double way_m) const {
  double below = 0.0;
  for (const Member& member : members)
    below += member.weight * normal_cdf((way_m - member.mean) / std::sqrt(member.variance));
  return below;
}

// By a fixed number of halvings, to a hundredth of a millimetre.
double TagPosterior::quantile(double share) const {
  double low = members.front().mean, high = low;
  for (const Member& member : members) {
    const double reach = 10.0 * std::sqrt(member.variance);
    low = std::min(low, member.mean - reach);
    high = std::max(high, member.mean + reach);
  }
  for (int i = 0; i < 32; ++i) {
    const double middle = (low + high) / 2.0;
    (share_below(middle) < share ? low : high) = middle;
  }
  return high;
}

std::optional<TagPosterior> tag_posterior(std::span<const TagFix> fixes,
                                          std::span<const TagPull> pulls,
                                          const TagAllowance& allowance) {
  if (!rests_around(fixes, pulls) || counted(pulls) > RollFilter::kMostChords) return std::nullopt;
  const std::vector<Step> steps = steps_of(fixes, pulls, allowance.guard_s);
  const Walk walk(fixes, pulls, steps);
  TagPosterior posterior;
  const std::vector<RollNoise> noises = walk_grid(walk, posterior.members);
  const size_t likeliest = weigh(posterior.members, trust_in(fixes));
  posterior.set_aside = walk.set_aside(noises[likeliest]);
  if (allowance.creep) {
    std::vector<double> weights;
    for (const TagPosterior::Member& member : posterior.members) weights.push_back(member.weight);
    posterior.creep_m = creep_seen(fixes, pulls, allowance.guard_s, noises, weights);
  }
  return posterior;
}

std::optional<TagWay> tag_way(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
                              const TagAllowance& allowance) {
  if (fixes.size() < 3) return std::nullopt;
  if (counted(pulls) == 0) return TagWay{};
  if (!rests_around(fixes, pulls)) return std::nullopt;
  if (counted(pulls) > RollFilter::kMostChords) return taken_apart(fixes, pulls, allowance);
  const auto posterior = tag_posterior(fixes, pulls, allowance);
  if (!posterior) return std::nullopt;
  return way_of(*posterior, allowance);
}

TagWay way_of(const TagPosterior& posterior, const TagAllowance& allowance) {
  const auto mm = [](double metres) { return std::max(0.0, metres) * 1000.0; };
  const double most =
      posterior.quantile(0.975) * turn_factor(allowance.turn_deg) + posterior.creep_m;
  TagWay way;
  way.lo_mm = static_cast<int64_t>(std::floor(mm(posterior.quantile(0.025))));
  way.best_mm = static_cast<int64_t>(std::floor(mm(posterior.quantile(0.5)) + 0.5));
  way.hi_mm = static_cast<int64_t>(std::ceil(mm(most)));
  way.set_aside = posterior.set_aside;
  return way;
}

}  // namespace fairlead::physics
