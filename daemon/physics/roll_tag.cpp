#include "daemon/physics/roll_tag.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <tuple>

#include "daemon/base/exact_math.h"
#include "daemon/physics/roll_chord.h"
#include "daemon/physics/roll_creep.h"
#include "daemon/physics/roll_filter.h"
#include "daemon/physics/roll_rest.h"

namespace fairlead::physics {
namespace {

constexpr std::array kTauM{20.0, 60.0, 300.0, 900.0};
constexpr std::array kSdD{0.04, 0.055, 0.08, 0.11, 0.16, 0.22};
constexpr std::array kSdU{0.04, 0.06, 0.09};
// No wider apart than this: at many fixes a second one point of the grid is all that is left, and
// what a Doppler error adds up to is as far off as the nearest tau is.
constexpr std::array kTauD{0.65, 1.3, 2.5, 5.0, 10.0, 20.0};
constexpr double kUnlikely = 4.0;  // Log likelihood below the best at which a noise is left out.
constexpr double kHole = 2.5;      // s without a fix.

// How far the car's motion may reach beyond what the line says, s: the line is right within 1 s;
// late by up to 2 s, by up to 3.2 s; early by up to 2 s. All are equally long, so that none is
// likelier for assuming more rest.
struct Window {
  double before, after;
  double prior = 1.0;
};
constexpr std::array kWindows{Window{1.0, 1.0, 1.0}, Window{2.0, 0.0, 0.3}, Window{3.2, -1.2, 0.1},
                              Window{0.0, 2.0, 0.1}};
constexpr Window kAllWindows{3.2, 2.0};
constexpr double kWindowFixes = 2.0;  // A second, that count for the window.
constexpr double kEdge = 2.5;  // s at either end of a window in which the car starts or stops.

// What happens in order of time: motion begins, is under way, may end, has ended; a fix comes.
struct Step {
  double time_s;
  enum Kind { kBegin, kUnderWay, kStopping, kEnd, kFix } kind;
  size_t index;
};

// When the car may move, s after the first fix. Where two pulls come close, what lies between is
// shared.
std::vector<Window> spans_of(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
                             const Window& window) {
  const auto seconds = [&](int64_t time_us) {
    return static_cast<double>(time_us - fixes.front().time_us) / 1e6;
  };
  std::vector<Window> spans;
  for (const TagPull& pull : pulls) {
    spans.push_back({seconds(pull.from_us) - window.before, seconds(pull.to_us) + window.after});
    if (spans.size() == 1) continue;
    Window &last = spans[spans.size() - 2], &here = spans.back();
    if (here.before < last.after) here.before = last.after = (here.before + last.after) / 2.0;
  }
  return spans;
}

std::vector<Step> steps_of(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
                           const Window& window) {
  std::vector<Step> steps;
  steps.reserve(fixes.size() + 4 * pulls.size());
  const std::vector<Window> spans = spans_of(fixes, pulls, window);
  for (size_t i = 0; i < spans.size(); ++i) {
    const double from = spans[i].before, to = spans[i].after;
    steps.push_back({from, Step::kBegin, i});
    if (to - from > 2.0 * kEdge) {
      steps.push_back({from + kEdge, Step::kUnderWay, i});
      steps.push_back({to - kEdge, Step::kStopping, i});
    } else {
      steps.push_back({(from + to) / 2.0, Step::kStopping, i});
    }
    steps.push_back({to, Step::kEnd, i});
  }
  for (size_t i = 0; i < fixes.size(); ++i)
    steps.push_back(
        {static_cast<double>(fixes[i].time_us - fixes.front().time_us) / 1e6, Step::kFix, i});
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
    for (const double tau : kTauM) reckon(tau);
    for (const double tau : kTauD) reckon(tau);
    reckon(RollFilter::kUnderWayTau);
    reckon(RollFilter::kEdgeTau);
    mark_holes();
  }

  // A filter for each noise. Those that share what they see of the rest before the first pull, by
  // position or by velocity, see it once.
  [[nodiscard]] std::vector<RollFilter> through(std::span<const RollNoise> noises) const {
    std::vector<RollFilter> filters;
    std::map<double, RollFilter> positions;
    std::map<std::tuple<double, double, double>, RollFilter> velocities;
    for (const RollNoise& noise : noises) {
      auto position = positions.find(noise.tau_m);
      if (position == positions.end())
        position = positions.emplace(noise.tau_m, lead_in(noise, true)).first;
      const std::tuple key{noise.sd_d, noise.sd_u, noise.tau_d};
      auto velocity = velocities.find(key);
      if (velocity == velocities.end())
        velocity = velocities.emplace(key, lead_in(noise, false)).first;
      filters.emplace_back(noise, position->second, velocity->second);
      run(filters.back(), lead_, steps_.size(), true, true, nullptr);
    }
    return filters;
  }
  [[nodiscard]] bool velocities() const {
    return std::any_of(fixes_.begin(), fixes_.end(),
                       [](const TagFix& fix) { return fix.east_mps && fix.north_mps; });
  }
  // Log likelihood of the velocities while the car stands, whichever window it is.
  [[nodiscard]] double at_rest(const RollNoise& noise) const {
    const std::vector<double>& kept = kept_.at(noise.tau_d);
    RestVelocities rest(noise);
    bool moving = false;
    for (size_t i = 0; i < steps_.size(); ++i) {
      const Step& step = steps_[i];
      rest.advance(kept[i]);
      if (step.kind == Step::kBegin) moving = true;
      if (step.kind == Step::kEnd) moving = false;
      if (step.kind != Step::kFix || moving) continue;
      const TagFix& fix = fixes_[step.index];
      if (fix.east_mps && fix.north_mps) rest.observe(*fix.east_mps, *fix.north_mps);
    }
    return rest.log_likelihood();
  }
  // Everything once more, to note what the member sets aside.
  [[nodiscard]] std::vector<size_t> set_aside(const RollNoise& noise) const {
    std::vector<size_t> asides;
    RollFilter filter(noise, fixes_.front().h_sd_m);
    run(filter, 0, steps_.size(), true, true, &asides);
    return asides;
  }

 private:
  [[nodiscard]] RollFilter lead_in(const RollNoise& noise, bool positions) const {
    RollFilter filter(noise, fixes_.front().h_sd_m);
    run(filter, 0, lead_, positions, !positions, nullptr);
    return filter;
  }
  [[nodiscard]] double seconds_to(size_t step) const {
    return step > 0 ? steps_[step].time_s - steps_[step - 1].time_s : 0.0;
  }
  void reckon(double tau) {
    std::vector<double>& kept = kept_[tau];
    for (size_t i = kept.size(); i < steps_.size(); ++i)
      kept.push_back(exact_exp(-seconds_to(i) / tau));
  }
  // What happens in a hole happens unseen.
  void mark_holes() {
    in_hole_.assign(steps_.size(), false);
    size_t after_fix = 0;
    double fix_s = steps_.empty() ? 0.0 : steps_.front().time_s;
    for (size_t i = 0; i < steps_.size(); ++i) {
      if (steps_[i].kind != Step::kFix) continue;
      if (steps_[i].time_s - fix_s > kHole)
        std::fill(in_hole_.begin() + static_cast<std::ptrdiff_t>(after_fix),
                  in_hole_.begin() + static_cast<std::ptrdiff_t>(i) + 1, true);
      fix_s = steps_[i].time_s;
      after_fix = i + 1;
    }
  }
  void run(RollFilter& filter, size_t from, size_t to, bool positions, bool velocities,
           std::vector<size_t>* asides) const {
    const std::vector<double>&kept_m = kept_.at(filter.noise().tau_m),
          &kept_d = kept_.at(filter.noise().tau_d), &under_way = kept_.at(RollFilter::kUnderWayTau),
          &edge = kept_.at(RollFilter::kEdgeTau);
    for (size_t i = from; i < to; ++i) {
      const Step& step = steps_[i];
      const TagFix& fix = fixes_[step.kind == Step::kFix ? step.index : 0];
      filter.advance({seconds_to(i), kept_m[i], kept_d[i], under_way[i], edge[i], in_hole_[i]},
                     fix.h_sd_m);
      if (step.kind == Step::kBegin) {
        filter.begin(pulls_[step.index].counted);
      } else if (step.kind == Step::kEnd) {
        filter.end();
      } else if (step.kind != Step::kFix) {
        filter.set_motion(step.kind == Step::kStopping ? RollMotion::kStopping
                                                       : RollMotion::kUnderWay);
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
  std::map<double, std::vector<double>> kept_;  // By time constant: what fades, after each step.
  std::vector<bool> in_hole_;
  size_t lead_ = 0;
};

// Sum of the chords of one member; its log likelihood stands in for the weight until all are there.
TagPosterior::Member member_of(const RollFilter& filter) {
  TagPosterior::Member member{0.0, 0.0, filter.log_likelihood(), 0.0};
  std::array<std::array<double, 2>, RollFilter::kMostChords> along;
  for (size_t k = 0; k < filter.chords(); ++k) {
    const double east = filter.chord_east(k), north = filter.chord_north(k);
    const double seen = std::sqrt(east * east + north * north);
    const double sd = std::sqrt(std::max(filter.chord_covariance(k, k), 0.0));
    const ChordLength length = chord_length(seen, sd);
    member.mean += length.mean;
    member.corrected += length.corrected;
    // The direction, as long as the s.d. of the length is in that of the chord.
    const double share = sd > 0.0 ? length.sd / sd : 1.0;
    along[k] =
        seen > 0.0 ? std::array{share * east / seen, share * north / seen} : std::array{share, 0.0};
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

// How much of what the fixes say of the window counts: as much as `kWindowFixes` a second say.
double trust_in(std::span<const TagFix> fixes) {
  const double seconds = static_cast<double>(fixes.back().time_us - fixes.front().time_us) / 1e6;
  return std::min(1.0, kWindowFixes * seconds / static_cast<double>(fixes.size()));
}

// From log likelihoods to weights, window by window. Of the noise each fix counts for what it says,
// however fast they come: the filters know how errors hang together. Which window it is, the few
// seconds at the ends of the pulls tell, where a smooth start is only roughly true: less counts.
size_t weigh(std::vector<TagPosterior::Member>& members, std::span<const TagFix> fixes) {
  const double trust = trust_in(fixes);
  const size_t each = members.size() / kWindows.size();
  std::vector<double> most;  // Log likelihood of each window's likeliest member.
  for (size_t i = 0; i < members.size(); ++i) {
    if (i % each == 0) most.push_back(members[i].weight);
    most.back() = std::max(most.back(), members[i].weight);
  }
  const double top = *std::max_element(most.begin(), most.end());
  double total = 0.0;
  for (size_t i = 0; i < members.size(); ++i) {
    const size_t window = i / each;
    double& weight = members[i].weight;
    weight =
        kWindows[window].prior * exact_exp(weight - most[window] + trust * (most[window] - top));
    total += weight;
  }
  size_t likeliest = 0;
  for (size_t i = 0; i < members.size(); ++i) {
    members[i].weight /= total;
    if (members[i].weight > members[likeliest].weight) likeliest = i;
  }
  return likeliest;
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

struct Said {
  RollNoise noise;
  double log_likelihood;
};

void leave_out_unlikely(std::vector<Said>& said) {
  double most = said.front().log_likelihood;
  for (const Said& one : said) most = std::max(most, one.log_likelihood);
  std::erase_if(said, [&](const Said& one) { return most - one.log_likelihood >= kUnlikely; });
}

// The velocity noises that could be, for what the velocities at rest say.
std::vector<Said> likely_at_rest(const Walk& walk) {
  std::vector<Said> said;
  for (const double sd_d : kSdD)
    for (const double sd_u : kSdU)
      for (const double tau_d : kTauD) {
        const RollNoise noise{kTauM.front(), sd_d, sd_u, tau_d};
        said.push_back({noise, walk.at_rest(noise)});
      }
  if (!walk.velocities()) said.resize(1);  // One is as good as another.
  leave_out_unlikely(said);
  return said;
}

// The noises that could be, whichever window it is: judged with all of them open. What the
// multipath is has little to do with what the Doppler error is, so one of the likeliest velocity
// noises tells of it for all.
std::vector<RollNoise> likely_noises(std::span<const TagFix> fixes,
                                     std::span<const TagPull> pulls) {
  const std::vector<Step> steps = steps_of(fixes, pulls, kAllWindows);
  const Walk walk(fixes, pulls, steps);
  const std::vector<Said> at_rest = likely_at_rest(walk);
  const RollNoise& likeliest =
      std::max_element(at_rest.begin(), at_rest.end(), [](const Said& a, const Said& b) {
        return a.log_likelihood < b.log_likelihood;
      })->noise;
  std::vector<RollNoise> multipaths(kTauM.size(), likeliest);
  for (size_t k = 0; k < kTauM.size(); ++k) multipaths[k].tau_m = kTauM[k];
  const std::vector<RollFilter> filters = walk.through(multipaths);
  std::vector<Said> said;
  for (size_t k = 0; k < kTauM.size(); ++k) {
    for (const Said& velocity : at_rest) {
      said.push_back({velocity.noise, filters[k].log_likelihood() + velocity.log_likelihood});
      said.back().noise.tau_m = kTauM[k];
    }
  }
  leave_out_unlikely(said);
  std::vector<RollNoise> likely;
  for (const Said& one : said) likely.push_back(one.noise);
  return likely;
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

double TagPosterior::best(double lo_m, double hi_m) const {
  TagPosterior corrected;
  for (const Member& member : members)
    corrected.members.push_back({member.corrected, member.variance, member.weight, 0.0});
  return std::clamp(corrected.quantile(0.5), lo_m, hi_m);
}

std::optional<TagPosterior> tag_posterior(std::span<const TagFix> fixes,
                                          std::span<const TagPull> pulls,
                                          const TagAllowance& allowance) {
  if (!rests_around(fixes, pulls) || counted(pulls) > RollFilter::kMostChords) return std::nullopt;
  TagPosterior posterior;
  const std::vector<RollNoise> noises = likely_noises(fixes, pulls);
  for (const Window& window : kWindows) {
    const std::vector<Step> steps = steps_of(fixes, pulls, window);
    for (const RollFilter& filter : Walk(fixes, pulls, steps).through(noises))
      posterior.members.push_back(member_of(filter));
  }
  const size_t likeliest = weigh(posterior.members, fixes);
  const std::vector<Step> steps = steps_of(fixes, pulls, kWindows[likeliest / noises.size()]);
  posterior.set_aside = Walk(fixes, pulls, steps).set_aside(noises[likeliest % noises.size()]);
  if (allowance.creep) {
    std::vector<double> weights(noises.size());
    for (size_t i = 0; i < posterior.members.size(); ++i)
      weights[i % noises.size()] += posterior.members[i].weight;
    posterior.creep_m = creep_seen(fixes, pulls, noises, weights);
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
  const double lo_m = posterior.quantile(0.025), hi_m = posterior.quantile(0.975);
  const double most = hi_m * turn_factor(allowance.turn_deg) + posterior.creep_m;
  TagWay way;
  way.lo_mm = static_cast<int64_t>(std::floor(mm(lo_m)));
  way.best_mm = static_cast<int64_t>(std::floor(mm(posterior.best(lo_m, hi_m)) + 0.5));
  way.hi_mm = static_cast<int64_t>(std::ceil(mm(most)));
  way.set_aside = posterior.set_aside;
  return way;
}

}  // namespace fairlead::physics
