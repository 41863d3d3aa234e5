#include "reports/claim/event_words.h"

#include <array>
#include <utility>

#include "reports/text.h"

namespace fairlead::reports {
namespace {

using Row = std::pair<std::string_view, std::string_view>;

constexpr std::array kEvents = std::to_array<Row>({
    {"first_touch", "first touch"},
    {"opened", "job opened"},
    {"closed", "job closed"},
    {"abandoned", "work abandoned"},
    {"reopened", "job reopened"},
    {"arrived", "truck arrived"},
    {"found", "found state noted"},
    {"identified", "car identified"},
    {"authority", "authority noted"},
    {"film", "film"},
    {"condition", "mark listed"},
    {"statement", "statement"},
    {"heat", "temperature taken"},
    {"note", "note"},
    {"secured.checked", "load looked at"},
    {"charging.started", "charging started"},
    {"charging.stopped", "charging stopped"},
    {"charging.confirmed", "charging confirmed"},
    {"connector.tether_drawn", "connector tether drawn"},
    {"connector.released", "connector released"},
    {"connector.out", "connector out"},
    {"connector.in", "connector in"},
    {"item:KEYS", "keys noted"},
    {"item:VALUABLE", "valuable noted"},
    {"item:DOCUMENT", "document noted"},
    {"item:OTHER", "item noted"},
});

// Facts: what their beginning and their end are called.
struct FactWords {
  std::string_view fact, on, off;
};

constexpr std::array kFacts = std::to_array<FactWords>({
    {"clamp.positive", "positive clamp on", "positive clamp off"},
    {"clamp.negative", "negative clamp on", "negative clamp off"},
    {"lid.positive", "positive lid lead on", "positive lid lead off"},
    {"lid.negative", "negative lid lead on", "negative lid lead off"},
    {"source.positive", "positive lead on the source", "positive lead off the source"},
    {"source.negative", "negative lead on the source", "negative lead off the source"},
    {"boost", "both clamps on", "a clamp off"},
    {"screen.awake", "screen awake", "screen dark"},
    {"drive.ready", "ready to drive", "no longer ready to drive"},
    {"steering.live", "steering live", "steering dead"},
    {"smoke", "smoke seen", "smoke gone"},
    {"barrier", "barrier set", "barrier gone"},
    {"scene.set", "scene secured", "scene no longer secured"},
    {"mode.parked", "car in park", "car out of park"},
    {"mode.rolling", "car free-rolling", "car no longer free-rolling"},
    {"mode.drive", "car in drive", "car out of drive"},
    {"mode.reverse", "car in reverse", "car out of reverse"},
    {"mode.off", "car off", "car no longer off"},
    {"charging", "charging", "charging ended"},
    {"rigging", "hook-up on", "hook-up off"},
    {"tied", "first strap on", "last strap off"},
    {"ramp", "ramp on", "ramp off"},
    {"line.taut", "line taut", "line slack"},
    {"line.holding", "line holding", "line no longer holding"},
    {"line.pulling", "line pulling", "line no longer pulling"},
    {"driven_wheels.on_ground", "driven wheels on the ground", "driven wheels off the ground"},
    {"wheels.on_ground", "wheels on the ground", "wheels off the ground"},
    {"wheels.on_deck", "all wheels on the deck", "a wheel off the deck"},
    {"wheels.on_skates", "car on skates", "car off skates"},
    {"loaded", "car loaded", "car unloaded"},
    {"held_by_line_alone", "car held by the line alone", "car no longer held by the line alone"},
    {"deck.moving", "deck moving", "deck still"},
    {"truck.moving", "truck moving", "truck standing"},
    {"rolling", "car rolling", "car still"},
});

std::string edge_words(std::string_view fact, bool on, std::string_view event) {
  for (const FactWords& row : kFacts) {
    if (row.fact == fact) return std::string(on ? row.on : row.off);
  }
  const size_t colon = fact.find(':');
  if (colon == std::string_view::npos) return shown(std::string(event));
  const std::string where = shown(std::string(fact.substr(colon + 1)));
  if (fact.starts_with("cover.off:")) return "cover " + where + (on ? " off" : " on");
  if (fact.starts_with("rigging:")) return "hook-up on " + where + (on ? " made" : " ended");
  if (fact.starts_with("tied:")) return "strap on " + where + (on ? " set" : " ended");
  if (fact.starts_with("phase:")) return "'" + where + "'" + (on ? " begins" : " ends");
  return shown(std::string(event));
}

}  // namespace

std::string event_words(std::string_view event) {
  for (const Row& row : kEvents) {
    if (row.first == event) return std::string(row.second);
  }
  if (event.ends_with(".on")) return edge_words(event.substr(0, event.size() - 3), true, event);
  if (event.ends_with(".off")) return edge_words(event.substr(0, event.size() - 4), false, event);
  return shown(std::string(event));
}

std::string with_event_words(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const size_t space = text.find(' ');
    const std::string_view word = text.substr(0, space);
    out += event_words(word);
    if (space == std::string_view::npos) break;
    out += ' ';
    text.remove_prefix(space + 1);
  }
  return out;
}

}  // namespace fairlead::reports
