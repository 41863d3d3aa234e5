#include <cmath>

#include "reports/plan/plan_report.h"

namespace fairlead::reports {
namespace {

// To a ten-thousandth of the unit; a bound that does not exist is null.
Json number(double value) {
  if (!std::isfinite(value)) return nullptr;
  const double rounded = std::round(value * 1e4) / 1e4;
  return rounded == 0 ? 0.0 : rounded;
}

Json range(const plan::Interval& x) { return Json::array({number(x.lo), number(x.hi)}); }

Json check_json(const plan::PlanCheck& check) {
  const physics::Check& c = check.check;
  return {{"id", check.id},
          {"what", c.what},
          {"verdict", physics::word_of(c.verdict)},
          {"decides", c.decides},
          {"marginLo", number(c.margin.lo)},
          {"marginBest", check.best ? number(*check.best) : Json(nullptr)},
          {"marginHi", number(c.margin.hi)},
          {"unit", c.unit},
          {"have", range(c.have)},
          {"need", range(c.need)},
          {"origin", c.origin},
          {"standing", physics::word_of(c.standing)},
          {"words", c.words}};
}

Json line_json(const plan::LinePlan& line) {
  return {{"rollingN", range(line.rolling_n)},
          {"lockedN", range(line.locked_n)},
          {"parts", line.parts},
          {"partsSuffice", line.parts_suffice},
          {"firstLayer", line.first_layer},
          {"lastLayer", line.last_layer},
          {"points", line.points},
          {"gear", line.gear}};
}

}  // namespace

Json plan_json(const plan::Plan& plan) {
  Json out{{"vehicle", plan.vehicle},
           {"truck", plan.truck},
           {"fits", fits_word(plan.fits)},
           {"verdict", physics::word_of(plan.fits)},
           {"rules", {{"id", plan.rules}, {"title", plan.rules_title}, {"from", plan.rules_from}}},
           {"changes", plan.changes},
           {"checks", Json::array()},
           {"line", line_json(plan.line)},
           {"tiedowns", Json::array()},
           {"notes", plan.notes},
           {"steps", Json::array()}};
  for (const plan::PlanCheck& check : plan.checks) out["checks"].push_back(check_json(check));
  for (const plan::StrapUse& strap : plan.straps)
    out["tiedowns"].push_back({{"gear", strap.gear},
                               {"wheel", strap.wheel},
                               {"wllKg", number(strap.wll_kg)},
                               {"creditKg", number(strap.credit_kg)},
                               {"share", number(strap.share)}});
  for (const plan::PlanStep& step : plan.steps)
    out["steps"].push_back(
        {{"procedure", step.procedure}, {"say", step.say}, {"cautions", step.cautions}});
  return out;
}

}  // namespace fairlead::reports
