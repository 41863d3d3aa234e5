// Blocks 5, 6 and 9 of page 1: measured facts, the two pictures, the record.
#include <algorithm>
#include <cmath>

#include "reports/claim/finding_words.h"
#include "reports/claim/parts.h"
#include "reports/claim/words.h"

namespace fairlead::reports {
namespace {

constexpr size_t kMostRows = 5;
// Characters of a cell, of a sentence; the pages after page 1 have them whole.
constexpr size_t kMostInCell = 60, kMostInstrument = 80, kMostSaid = 160;

bool is_tied(const ClaimInput& in, size_t index) {
  return std::any_of(in.answers.begin(), in.answers.end(), [&](const Answer& a) {
    const auto holds = [&](const std::vector<size_t>& all) {
      return std::find(all.begin(), all.end(), index) != all.end();
    };
    return holds(a.tied.deviated) || holds(a.tied.met) || holds(a.tied.open);
  });
}

// What an adjuster wants first: what lies outside, then what bears on the claim.
std::vector<size_t> rows_in_order(const ClaimInput& in) {
  std::vector<size_t> rows;
  for (size_t i = 0; i < in.record.findings.size(); ++i) {
    const auto& f = in.record.findings[i];
    if (f.applies != judge::Applies::kYes || f.basis != judge::Basis::kMeasured) continue;
    if (!f.margin_best && !f.margin_lo && !f.margin_hi) continue;
    // A margin beside an unproven finding would read as if it were met.
    if (f.verdict == judge::Verdict::kUnproven) continue;
    if (is_tied(in, i)) rows.push_back(i);
  }
  std::stable_sort(rows.begin(), rows.end(), [&](size_t a, size_t b) {
    const auto rank = [&](size_t i) {
      return in.record.findings[i].verdict == judge::Verdict::kDeviated ? 0 : 1;
    };
    return rank(a) < rank(b);
  });
  if (rows.size() > kMostRows) rows.resize(kMostRows);
  return rows;
}

std::string instrument_words(const ClaimInput& in, const judge::Finding& f) {
  const std::string signal = signal_behind(f.quantity, in.series);
  if (signal.empty()) return "times of marks; no reading to calibrate";
  return calibration_of(in.record, signal, f.at_us).words;
}

Json picture(const ClaimInput& in, const std::vector<size_t>& photos, const std::string& none) {
  Json out;
  out["has"] = !photos.empty();
  out["none"] = none;
  if (photos.empty()) return out;
  const PhotoFact& photo = in.facts.photos[photos.front()];
  out["exhibit"] = exhibit('P', photos.front());
  out["sha256"] = photo.sha256;
  out["time"] = in.local.date_clock(photo.time_us);
  out["view"] = shortened(view_words(photo.view), 50);
  return out;
}

// Without a picture of the place: the words, and what was filmed round the car then.
std::string no_picture_words(const ClaimInput& in, v1::When::Word when) {
  const bool before = when == v1::When::BEFORE;
  const std::string at = before ? "before first touch" : "at release";
  std::string film;
  bool other = false;
  for (size_t i = 0; i < in.facts.photos.size(); ++i) {
    const PhotoFact& photo = in.facts.photos[i];
    const bool in_time = !before || !in.facts.first_touch || photo.time_us <= *in.facts.first_touch;
    if (photo.when != when || !in_time) continue;
    other = true;
    if (photo.film && film.empty()) {
      film = " The film round the car, " + exhibit('P', i) + ", is of " +
             in.local.date_clock(photo.time_us) + ".";
    }
  }
  return (other ? "No still picture of this place " : "No picture ") + at + " exists." + film;
}

// The allegation with most pictures of its place; the first one when none has any.
const Answer& pictured_answer(const ClaimInput& in) {
  const Answer* best = &in.answers.front();
  const auto weight = [](const Answer& a) {
    return (a.place.before.empty() ? 0 : 2) + (a.place.after.empty() ? 0 : 1);
  };
  for (const auto& answer : in.answers) {
    if (weight(answer) > weight(*best)) best = &answer;
  }
  return *best;
}

std::string countersigned_words(const ClaimInput& in) {
  const auto& record = in.record.record;
  if (!record.countersigned) {
    return "Not yet countersigned: until somebody else has signed a head that covers this job, a "
           "rewriting by the base alone would not show.";
  }
  const auto& by = *record.countersigned;
  std::string out = shortened(shown(by.by), 80) + " countersigned head " + grouped(by.head_size) +
                    " on " + in.local.date(by.at_us) + " " + in.local.minute(by.at_us);
  if (in.received_us) {
    out += ", " + span_words(*in.received_us - by.at_us) +
           (*in.received_us >= by.at_us ? " before the claim" : " after the claim");
  }
  return out + ".";
}

std::string entries_words(const RecordFacts& record) {
  std::string out =
      "Entries of this job: " +
      grouped(record.entries - std::min(record.entries, record.entries_missing)) + " of " +
      grouped(record.entries) + ", " +
      (record.entries_missing == 0 ? "none missing" : grouped(record.entries_missing) + " missing");
  if (record.entries_foreign > 0)
    out += "; " + grouped(record.entries_foreign) + " from another device";
  if (record.entries_recovered > 0)
    out += "; " + grouped(record.entries_recovered) + " recovered after a fault";
  if (record.attachments_missing > 0) {
    out += "; " + counted(record.attachments_missing, "attachment", "attachments") +
           " promised, not here";
  }
  return out + ".";
}

}  // namespace

std::string bracket_words(const LocalTime& local, const TimeBracket& bracket) {
  const auto at = [&](int64_t time_us) { return local.date_clock(time_us); };
  if (bracket.not_before_us && bracket.not_after_us) {
    return "written between " + at(*bracket.not_before_us) + " and " + at(*bracket.not_after_us);
  }
  if (bracket.not_after_us) return "written before " + at(*bracket.not_after_us);
  if (bracket.not_before_us) return "written after " + at(*bracket.not_before_us);
  return "";
}

Json measured_block(const ClaimInput& in) {
  Json rows = Json::array();
  bool cut = false;
  for (const size_t index : rows_in_order(in)) {
    const auto& f = in.record.findings[index];
    // An order has no value or limit beside its margin; its title says which order.
    const bool order = f.quantity.find(" before ") != std::string::npos;
    rows.push_back(
        {{"what", brief(title_words(f), kMostInCell, cut)},
         {"procedure",
          f.procedure_id.empty() ? Json(false) : Json(brief(shown(f.procedure_id), 24, cut))},
         {"value", order ? "-" : brief(value_words(f), kMostInCell, cut)},
         {"limit", order ? "this order" : brief(limit_words(f), kMostInCell, cut)},
         {"margin", brief(margin_signed(f), kMostInCell, cut)},
         {"basis", basis_words(f)},
         {"exhibit", exhibit('F', index)},
         {"instrument", brief(instrument_words(in, f), kMostInstrument, cut)},
         {"outside", f.verdict == judge::Verdict::kDeviated}});
  }
  return {{"has_rows", !rows.empty()},
          {"cut", cut},
          {"rows", std::move(rows)},
          {"none", "No instrument measured anything that bears on this claim."}};
}

Json place_pictures(const ClaimInput& in, const Answer& answer) {
  Json out;
  out["place"] = shortened(shown(answer.place.words), 50);
  // Without a named place the kind's own views stand there: an odometer is no place of harm.
  out["heading"] = answer.place.words == "the claimed place"
                       ? std::string("Pictures that bear on it")
                       : "Pictures of " + out["place"].get<std::string>();
  out["letter"] = in.answers.size() > 1 ? Json(answer.letter) : Json(false);
  out["before"] = picture(in, answer.place.before, no_picture_words(in, v1::When::BEFORE));
  out["after"] = picture(in, answer.place.after, no_picture_words(in, v1::When::AFTER));
  const bool both = !answer.place.before.empty() && !answer.place.after.empty();
  out["apart"] = both ? Json("Taken " +
                             span_words(in.facts.photos[answer.place.after.front()].time_us -
                                        in.facts.photos[answer.place.before.front()].time_us) +
                             " apart.")
                      : Json(false);
  return out;
}

Json pictures_block(const ClaimInput& in) { return place_pictures(in, pictured_answer(in)); }

Json record_block(const ClaimInput& in) {
  const RecordFacts& record = in.record.record;
  Json out;
  bool cut = false;
  out["ledger"] = shown(record.ledger);
  out["entries"] = entries_words(record);
  out["countersigned"] = countersigned_words(in);
  Json groups = Json::array();
  for (const auto& group : fingerprint_groups(record.head_root))
    groups.push_back({{"group", group}});
  out["has_head"] = !groups.empty();
  out["fingerprint"] = std::move(groups);
  out["head"] = "Fingerprint of head " + grouped(record.head_size) +
                (record.head_at_us ? " of " + in.local.date(*record.head_at_us) + " " +
                                         in.local.minute(*record.head_at_us)
                                   : "");
  const std::string bracket = bracket_words(in.local, {record.not_before_us, record.not_after_us});
  out["bracket"] = bracket.empty() ? Json(false) : Json("Proven to have been " + bracket + ".");
  out["check"] = record.checked_at_us
                     ? "Read again from the disk " + in.local.date_clock(*record.checked_at_us) +
                           ": " + shown(record.check_result) + "."
                     : "No full check of the ledger is on record.";
  out["check_short"] = brief(out["check"], kMostSaid, cut);
  out["cut"] = cut;
  out["imported"] = record.imported
                        ? Json(
                              "The lines of this job were fed into the base from a file, not "
                              "recorded on a truck.")
                        : Json(false);
  out["ways"] = Json::array(
      {{{"words",
         "By hand: the fingerprint must equal the line in your own daily head mail of that head."}},
       {{"words",
         "By program: fairlead-verify on the bundle, attached to the PDF or sent beside it, with "
         "your "
         "own policy file."}},
       {{"words",
         "By anyone else: the bundle holds every file; tree, signatures and notes follow RFC 6962, "
         "RFC 8032 and C2SP."}}});
  out["not_promised"] =
      "Not promised: that a sensor told the truth, or that everything done was recorded.";
  return out;
}

}  // namespace fairlead::reports
