// Blocks 1 to 4 and 8 of page 1: head, claim, answers, columns, what would settle it.
#include <algorithm>

#include "reports/claim/parts.h"

namespace fairlead::reports {
namespace {

constexpr size_t kMostLines = 3;         // A column on page 1.
constexpr size_t kWordsOnPageOne = 300;  // Characters of the claim; the rest follows in full.

std::string procedures_words(const ClaimInput& in) {
  std::vector<std::string> all;
  for (const auto& file : in.record.files) {
    if (file.kind != "procedure") continue;
    std::string words = shown(file.id) + " " + shown(file.version);
    words += ", " + since_words(in, file, false);
    all.push_back(words);
  }
  if (!all.empty()) {
    std::string out = all.size() == 1 ? "Procedure " : "Procedures ";
    for (size_t i = 0; i < all.size(); ++i) out += (i == 0 ? "" : "; ") + all[i];
    return out;
  }
  for (const auto& id : in.facts.procedures) all.push_back(shown(id));
  return all.empty() ? "No procedure on record" : "Procedures " + listed(all);
}

Json line_json(const AnswerLine& line, const std::string& letter) {
  const std::string exhibits = joined_exhibits(line.exhibits);
  return {{"letter", letter.empty() ? Json(false) : Json(letter)},
          {"words", line.words},
          {"exhibits", exhibits.empty() ? Json(false) : Json(exhibits)}};
}

Json lines_json(const std::vector<AnswerLine>& lines, const char* nothing) {
  Json out = Json::array();
  for (const auto& line : lines) out.push_back(line_json(line, ""));
  if (out.empty()) out.push_back(line_json({nothing, {}}, ""));
  return out;
}

// Each allegation's first line, then each one's second, until the column is full.
Json column(const ClaimInput& in, std::vector<AnswerLine> Answer::* part, const char* nothing) {
  Json out = Json::array();
  std::vector<std::string> said;
  bool more = false;
  for (size_t depth = 0;; ++depth) {
    bool any = false;
    for (const auto& answer : in.answers) {
      const auto& lines = answer.*part;
      if (depth >= lines.size()) continue;
      any = true;
      if (std::find(said.begin(), said.end(), lines[depth].words) != said.end()) continue;
      if (out.size() == kMostLines) {
        more = true;
        continue;
      }
      said.push_back(lines[depth].words);
      out.push_back(line_json(lines[depth], in.answers.size() > 1 ? answer.letter : ""));
    }
    if (!any) break;
  }
  if (out.empty()) out.push_back(line_json({nothing, {}}, ""));
  return {{"lines", std::move(out)}, {"more", more}};
}

}  // namespace

std::string joined_exhibits(const std::vector<std::string>& exhibits) {
  std::string out;
  for (const auto& name : exhibits) out += (out.empty() ? "" : ", ") + name;
  return out;
}

Json head_block(const ClaimInput& in) {
  const auto& o = in.options;
  Json head;
  head["title"] = "Claim report";
  head["form"] = "fairlead claim report, form 1";
  head["claim_id"] = shown(in.claim.claim_id());
  head["job"] = shown(in.record.number.empty() ? in.record.job_id : in.record.number);
  head["job_id"] = shown(in.record.job_id);
  head["issued"] = in.local.date_clock(o.issued_at_us) + " " + in.local.name();
  head["job_short"] = shortened(head["job"], 40);
  head["issuer"] = shortened(shown(o.issuer), 80);
  head["procedures"] = shortened(procedures_words(in), 320);
  head["table"] = "Allegation table " + in.table.rows.version() + " in force since " +
                  in.table.rows.in_force_since();
  head["table_sha256"] = in.table.sha256;
  head["program"] = shown(o.program_version);
  head["advice"] = "Not legal advice.";
  head["draft"] = o.draft ? Json(o.draft_recorded ? "Draft. This draft is recorded."
                                                  : "Draft. Drafts leave no entry in the record.")
                          : Json(false);
  head["clock"] = in.local.name();
  head["paper"] = o.paper == Paper::kA4 ? "A4" : "Letter";
  return head;
}

Json claim_block(const ClaimInput& in) {
  Json claim;
  const std::string whole = shown(in.claim.words(), true);
  std::string flat = shown(in.claim.words());
  claim["verbatim"] = in.claim.words();
  claim["short"] = shortened(flat, kWordsOnPageOne);
  claim["long"] = is_longer(flat, kWordsOnPageOne);
  claim["whole"] = whole;
  claim["claimant"] = in.claim.claimant().empty() ? "claimant not named"
                                                  : shortened(shown(in.claim.claimant()), 120);
  claim["received"] = in.received_us ? in.local.date(*in.received_us) : "not stated";
  claim["sum"] = in.claim.sum().empty() ? "no sum stated" : shortened(shown(in.claim.sum()), 60);
  Json allegations = Json::array();
  for (const auto& answer : in.answers) {
    allegations.push_back({{"letter", answer.letter},
                           {"claimed", shortened(shown(answer.claimed), 160)},
                           {"whole", shown(answer.claimed, true)},
                           {"kind", answer.kind_title}});
  }
  claim["allegations"] = std::move(allegations);
  Json documents = Json::array();
  for (const auto& document : in.claim.document())
    documents.push_back({{"words", shown(document)}});
  std::vector<std::string> names;
  for (const auto& document : in.claim.document()) names.push_back(shown(document));
  claim["documents_short"] = names.empty() ? "none handed in" : shortened(listed(names), 160);
  claim["has_documents"] = !documents.empty();
  claim["documents"] = std::move(documents);
  return claim;
}

Json answers_block(const ClaimInput& in) {
  Json out = Json::array();
  for (const auto& answer : in.answers) {
    Json settle = Json::array();
    for (const auto& words : answer.settle) settle.push_back({{"words", words}});
    Json not_judged = Json::array();
    for (const auto& words : answer.not_judged) not_judged.push_back({{"words", words}});
    out.push_back({{"letter", answer.letter},
                   {"claimed", shortened(shown(answer.claimed), 160)},
                   {"kind", answer.kind_title},
                   {"kind_id", answer.kind_id},
                   {"conclusion", words(answer.conclusion)},
                   {"first", answer.first},
                   {"second", answer.second},
                   {"against", lines_json(answer.against, "Nothing found.")},
                   {"in_favour", lines_json(answer.in_favour, "Nothing found.")},
                   {"silent", lines_json(answer.silent, "Nothing named.")},
                   {"settle", std::move(settle)},
                   // Page 1 has the pair of one allegation; a claim of several needs each.
                   {"pair", in.answers.size() > 1 &&
                                    (!answer.place.before.empty() || !answer.place.after.empty())
                                ? place_pictures(in, answer)
                                : Json(false)},
                   {"has_not_judged", !not_judged.empty()},
                   {"not_judged", std::move(not_judged)}});
  }
  return out;
}

Json columns_block(const ClaimInput& in) {
  Json out;
  out["against"] = column(in, &Answer::against, "Nothing found.");
  out["in_favour"] = column(in, &Answer::in_favour, "Nothing found.");
  out["silent"] = column(in, &Answer::silent, "Nothing named.");
  out["more"] = out["against"]["more"].get<bool>() || out["in_favour"]["more"].get<bool>() ||
                out["silent"]["more"].get<bool>();
  return out;
}

Json settle_block(const ClaimInput& in) {
  Json out = Json::array();
  std::vector<std::string> said;
  for (size_t depth = 0; depth < 4; ++depth) {
    for (const auto& answer : in.answers) {
      if (depth >= answer.settle.size() || out.size() == kMostLines) continue;
      const std::string& words = answer.settle[depth];
      if (std::find(said.begin(), said.end(), words) != said.end()) continue;
      said.push_back(words);
      out.push_back({{"letter", in.answers.size() > 1 ? Json(answer.letter) : Json(false)},
                     {"words", words}});
    }
  }
  return out;
}

}  // namespace fairlead::reports
