#include "daemon/physics/securement_parts.h"

namespace fairlead::physics {
namespace {

void add_words(std::string& words, const std::string& more) {
  if (more.empty()) return;
  words += words.empty() ? more : "; " + more;
}

void take(Weakest& weakest, const Part& part) {
  Interval wll = part.wll;
  if (part.counts == Verdict::kDeviated) wll = exactly(0);
  if (part.counts == Verdict::kUnproven) wll.lo = 0;
  if (part.counts != Verdict::kMet)
    add_words(weakest.words,
              fmt::format("'{}' {} count: {}", part.name,
                          part.counts == Verdict::kDeviated ? "does not" : "may not", part.why));
  if (part.counts == Verdict::kMet && part.wll.lo == 0 && part.wll.hi > 0)
    add_words(weakest.words, fmt::format("the rating of '{}' is unread", part.name));
  if (weakest.part.empty() || wll.lo < weakest.wll.lo ||
      (wll.lo == weakest.wll.lo && wll.hi < weakest.wll.hi))
    weakest.part = part.name;
  weakest.wll = least(weakest.wll, wll);
  weakest.counts = both(weakest.counts, part.counts);
}

}  // namespace

Interval breaking_strength(const Tiedown& tiedown) {
  Interval weakest{kNoBound, kNoBound};
  const auto take_in = [&](const Part& part) {
    Interval breaking = part.breaking.value_or(Interval{part.wll.lo, kNoBound});
    if (part.counts == Verdict::kDeviated) breaking = exactly(0);
    if (part.counts == Verdict::kUnproven) breaking.lo = 0;
    weakest = least(weakest, breaking);
  };
  for (const Part& part : tiedown.parts) take_in(part);
  if (tiedown.parts.empty()) return kUnread;
  if (tiedown.anchor) take_in(*tiedown.anchor);
  return weakest;
}

Weakest weakest_part(const Tiedown& tiedown) {
  Weakest weakest{.wll = {kNoBound, kNoBound}, .part = {}, .words = {}};
  for (const Part& part : tiedown.parts) take(weakest, part);
  if (tiedown.parts.empty()) {
    weakest.wll = kUnread;
    weakest.counts = Verdict::kUnproven;
    add_words(weakest.words, fmt::format("nothing is known of the parts of '{}'", tiedown.name));
  }
  if (tiedown.anchor) {
    take(weakest, *tiedown.anchor);
  } else {
    add_words(weakest.words,
              fmt::format("no file names the anchor of '{}'; it does not limit", tiedown.name));
  }
  return weakest;
}

}  // namespace fairlead::physics
