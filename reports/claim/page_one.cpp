// Blocks 1 to 4 and 8 of page 1: head, claim, answers, columns, what would settle it.
#include <algorithm>

#include "reports/claim/parts.h"

namespace fairlead::reports {
namespace {

constexpr size_t kMostLines = 3;  // A column on page 1.
// Characters that page 1 has room for, whoever wrote them; the pages after it have all of them.
constexpr size_t kMostClaim = 300, kMostAlleged = 120, kMostSentence = 200, kMostLine = 160;
constexpr size_t kMostClaimant = 80, kMostSum = 40, kMostDocuments = 120, kMostFiles = 240;

std::string procedures_words(const ClaimInput& in) {
  std::vector<std::string> all;
  for (const auto& file : in.record.files) {
    if (file.kind != "procedure") continue;
    std::string words = shown(file.id) + " " + shown(file.version);
    if (file.truck_since_us) words += " in force since " + in.local.date(*file.truck_since_us);
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
      out.push_back(line_json({brief(lines[depth].words, kMostLine, more), lines[depth].exhibits},
                              in.answers.size() > 1 ? answer.letter : ""));
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
  head["issuer"] = shown(o.issuer);
  bool cut = false;
  head["job_short"] = brief(head["job"], 40, cut);
  head["issuer_short"] = brief(head["issuer"], 60, cut);
  head["procedures"] = brief(procedures_words(in), kMostFiles, cut);
  head["cut"] = cut;
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
  const std::string whole = shown_whole(in.claim.words());
  std::string flat = shown(in.claim.words());
  claim["verbatim"] = in.claim.words();
  bool cut = false;
  claim["short"] = brief(flat, kMostClaim, cut);
  claim["whole"] = whole;
  claim["claimant"] =
      in.claim.claimant().empty() ? "claimant not named" : shown(in.claim.claimant());
  claim["claimant_short"] = brief(claim["claimant"], kMostClaimant, cut);
  claim["received"] = in.received_us ? in.local.date(*in.received_us) : "not stated";
  claim["sum"] = in.claim.sum().empty() ? "no sum stated" : shown(in.claim.sum());
  claim["sum_short"] = brief(claim["sum"], kMostSum, cut);
  Json allegations = Json::array();
  for (const auto& answer : in.answers) {
    allegations.push_back({{"letter", answer.letter},
                           {"whole", shown_whole(answer.claimed)},
                           {"kind", answer.kind_title}});
  }
  claim["allegations"] = std::move(allegations);
  Json documents = Json::array();
  for (const auto& document : in.claim.document())
    documents.push_back({{"words", shown(document)}});
  std::vector<std::string> names;
  for (const auto& document : in.claim.document()) names.push_back(shown(document));
  claim["documents_short"] =
      names.empty() ? "none handed in" : brief(listed(names), kMostDocuments, cut);
  claim["cut"] = cut;
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
    bool cut = false;
    const std::string claimed = shown(answer.claimed);
    out.push_back({{"letter", answer.letter},
                   {"claimed", claimed},
                   {"claimed_short", brief(claimed, kMostAlleged, cut)},
                   {"kind", answer.kind_title},
                   {"kind_id", answer.kind_id},
                   {"conclusion", words(answer.conclusion)},
                   {"first", answer.first},
                   {"second", answer.second},
                   {"first_short", brief(answer.first, kMostSentence, cut)},
                   {"second_short", brief(answer.second, kMostSentence, cut)},
                   {"against", lines_json(answer.against, "Nothing found.")},
                   {"in_favour", lines_json(answer.in_favour, "Nothing found.")},
                   {"silent", lines_json(answer.silent, "Nothing named.")},
                   {"settle", std::move(settle)},
                   // Page 1 has the pair of one allegation; a claim of several needs each.
                   {"pair", in.answers.size() > 1 &&
                                    (!answer.place.before.empty() || !answer.place.after.empty())
                                ? place_pictures(in, answer)
                                : Json(false)},
                   {"cut", cut},
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
  Json lines = Json::array();
  bool cut = false;
  std::vector<std::string> said;
  for (size_t depth = 0; depth < 4; ++depth) {
    for (const auto& answer : in.answers) {
      if (depth >= answer.settle.size() || lines.size() == kMostLines) continue;
      const std::string& words = answer.settle[depth];
      if (std::find(said.begin(), said.end(), words) != said.end()) continue;
      said.push_back(words);
      lines.push_back({{"letter", in.answers.size() > 1 ? Json(answer.letter) : Json(false)},
                       {"words", brief(words, kMostLine, cut)}});
    }
  }
  return {{"lines", std::move(lines)}, {"cut", cut}};
}

}  // namespace fairlead::reports
