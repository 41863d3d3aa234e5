// Which job a claim is about: plate card, day, place, truck.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <map>
#include <set>
#include <tuple>

#include "daemon/base/time_text.h"
#include "daemon/desk/claim_steps.h"
#include "daemon/desk/jobs.h"
#include "daemon/watch/job_record.h"

namespace fairlead::desk {
namespace {

constexpr int64_t kDayUs = 86'400'000'000;
constexpr size_t kMostRead = 2'000;  // Jobs whose lines are read for one question.
constexpr int kMostFound = 50;
constexpr double kNearM = 2'000, kEarthM = 6'371'000, kRad = 3.14159265358979323846 / 180;

// "AB-123 c" and "ab123C" are one plate.
std::string squeezed(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c != ' ' && c != '-' && c != '.')
      out += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  }
  return out;
}
std::string lowered(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

struct Cards {
  std::set<std::string> of_plate;            // Card ids, 32 hex.
  std::map<std::string, std::string> place;  // Card id to name and address, lower case.
};

Result<Cards> read_cards(const Desk& desk, const std::string& plate) {
  Cards out;
  constexpr size_t kPage = 256;
  for (uint64_t from = 0;;) {
    const auto page = desk.ledger().entries_of_kind(record::Kind::kCard, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const auto& entry : *page) {
      v1::CardBody card;
      if (entry.body_state != ledger::BodyState::kHere || !card.ParseFromString(entry.body))
        continue;
      const std::string id = hex_of(card.card_id());
      const bool named = !plate.empty() && (squeezed(card.plate()) == plate ||
                                            squeezed(card.vin()) == plate || squeezed(id) == plate);
      if (named) out.of_plate.insert(id);
      out.place[id] = lowered(card.name() + " " + card.address());
    }
    if (page->size() < kPage) return out;
    from = page->back().leaf + 1;
  }
}

struct Point {
  double lat = 0, lon = 0;
};

std::optional<Point> point_of(const std::string& text) {
  Point p;
  char rest = 0;
  if (std::sscanf(text.c_str(), "%lf,%lf%c", &p.lat, &p.lon, &rest) != 2) return std::nullopt;
  if (std::abs(p.lat) > 90 || std::abs(p.lon) > 180) return std::nullopt;
  return p;
}

// Haversine on a sphere: good to half a percent, which a search of 2 km does not notice.
double metres_apart(const Point& a, const Point& b) {
  const double s = std::sin((b.lat - a.lat) * kRad / 2), t = std::sin((b.lon - a.lon) * kRad / 2);
  return 2 * kEarthM *
         std::asin(std::min(
             1.0, std::sqrt(s * s + std::cos(a.lat * kRad) * std::cos(b.lat * kRad) * t * t)));
}

class Finder {
 public:
  Finder(const v1::FindClaimJobsRequest& request, Cards cards, std::optional<int64_t> day_us)
      : request_(request),
        plate_(squeezed(request.plate())),
        place_(lowered(request.place())),
        point_(point_of(request.place())),
        cards_(std::move(cards)),
        day_us_(day_us) {}

  // 0: does not fit. Higher: fits better.
  int by_opening(const watch::JobView& view, const std::string& truck, std::string& why) const {
    int fits = 1;
    if (!request_.truck().empty()) {
      if (truck != request_.truck() && view.opened.opened().truck() != request_.truck()) return 0;
      add(why, "truck " + request_.truck());
    }
    if (day_us_) {
      const auto at = parse_time_us(view.opened.time());
      if (!at || *at < *day_us_ - kDayUs || *at >= *day_us_ + 2 * kDayUs) return 0;
      const bool same = *at >= *day_us_ && *at < *day_us_ + kDayUs;
      fits += same;
      add(why, same ? "the day itself" : "a day beside it");
    }
    return fits;
  }
  [[nodiscard]] bool asks_lines() const { return !plate_.empty() || !place_.empty(); }
  bool by_lines(const watch::JobRecord& job, std::string& why) const {
    bool plate = plate_.empty(), place = place_.empty();
    double nearest = kNearM;
    for (const auto* lines : {&job.lines, &job.foreign}) {
      for (const v1::Observation& line : *lines) {
        if (!plate && line.has_identified() && is_plate(line.identified().card())) {
          plate = true;
          add(why, "plate on card " + line.identified().card());
        }
        if (point_ && line.has_fix()) {
          nearest = std::min(nearest,
                             metres_apart(*point_, {line.fix().lat_deg(), line.fix().lon_deg()}));
        } else if (!place && !point_ && names_place(line)) {
          place = true;
          add(why, "the place is named");
        }
      }
    }
    if (point_ && nearest < kNearM) {
      place = true;
      add(why, fmt::format("a fix {:.0f} m from the place", nearest));
    }
    return plate && place;
  }

 private:
  static void add(std::string& why, const std::string& words) {
    why += (why.empty() ? "" : ", ") + words;
  }
  bool is_plate(const std::string& card) const {
    return cards_.of_plate.contains(card) || squeezed(card) == plate_;
  }
  bool names_place(const v1::Observation& line) const {
    const auto has = [&](const std::string& text) {
      return lowered(text).find(place_) != std::string::npos;
    };
    const auto card = [&](const std::string& id) {
      const auto found = cards_.place.find(id);
      return found != cards_.place.end() && found->second.find(place_) != std::string::npos;
    };
    if (line.has_custody()) return has(line.custody().place()) || card(line.custody().to());
    if (line.has_found()) return has(v1::Found::Place_Name(line.found().place()));
    if (line.has_note()) return has(line.note().text());
    if (line.has_statement()) return has(line.statement().text()) || card(line.statement().card());
    return line.has_authority() &&
           (card(line.authority().card()) || has(line.authority().reference()));
  }

  const v1::FindClaimJobsRequest& request_;
  std::string plate_, place_;
  std::optional<Point> point_;
  Cards cards_;
  std::optional<int64_t> day_us_;
};

}  // namespace

Result<v1::FindClaimJobsResponse> find_claim_jobs(const Desk& desk,
                                                  const v1::FindClaimJobsRequest& request) {
  const std::pair<const char*, std::string> texts[] = {
      {"plate", request.plate()}, {"place", request.place()}, {"truck", request.truck()}};
  for (const auto& [field, text] : texts) {
    if (auto ok = check_claim_text(field, text, 200); !ok) return std::unexpected(ok.error());
  }
  if (request.plate().empty() && request.date().empty() && request.place().empty() &&
      request.truck().empty())
    return fail(Code::kBadInput, "nothing is asked for; give a plate, a date, a place or a truck");
  std::optional<int64_t> day;
  if (!request.date().empty()) {
    const auto read = parse_date_us(request.date());
    if (!read)
      return fail(Code::kBadInput, "date: '" + request.date() + "' is no date; write 2027-02-17");
    day = *read;
  }
  auto cards = read_cards(desk, squeezed(request.plate()));
  if (!cards) return std::unexpected(cards.error());
  const Finder finder(request, std::move(*cards), day);
  struct Fit {
    int fits;
    watch::JobView view;
    std::string why;
  };
  std::vector<Fit> all;
  for (auto& view : desk.watch.jobs()) {
    std::string why;
    const int fits = finder.by_opening(view, job_message(desk, view).truck(), why);
    if (fits > 0) all.push_back({fits, std::move(view), std::move(why)});
  }
  if (finder.asks_lines() && all.size() > kMostRead)
    return fail(
        Code::kBadInput,
        fmt::format("{} jobs would have to be read; give a date or a truck too", all.size()));
  // Newest first among those that fit alike.
  std::ranges::stable_sort(all, [](const Fit& a, const Fit& b) {
    return std::tuple(-a.fits, b.view.opened.time()) < std::tuple(-b.fits, a.view.opened.time());
  });
  v1::FindClaimJobsResponse response;
  for (Fit& fit : all) {
    if (finder.asks_lines()) {
      const auto record = watch::read_job(desk.ledger(), fit.view.job);
      if (!record) return std::unexpected(record.error());
      if (!finder.by_lines(*record, fit.why)) continue;
    }
    if (response.found_size() == kMostFound) {
      response.set_more(true);
      break;
    }
    auto* found = response.add_found();
    *found->mutable_job() = job_message(desk, fit.view);
    found->set_why(fit.why);
  }
  return response;
}

}  // namespace fairlead::desk
