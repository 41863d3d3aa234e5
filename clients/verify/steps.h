// The twelve steps of the check, each in its own file. A step reads the case, notes in it what
// later steps need, and says what it found; none stops at the first fault, so that the list is
// whole.
//
// Threads: one thread at a time.
#pragma once

#include "clients/verify/case.h"
#include "clients/verify/verdicts.h"

namespace fairlead::verifier {

void check_seal(const Case& c, Verdicts& verdicts);           // 1
void check_heads(Case& c, Verdicts& verdicts);                // 2
void check_countersigned(const Case& c, Verdicts& verdicts);  // 2, once 4 knows every roster
void check_inclusion(const Case& c, Verdicts& verdicts);      // 3
void check_signatures(Case& c, Verdicts& verdicts);           // 4
void check_chains(const Case& c, Verdicts& verdicts);         // 5
void check_job_ends(const Case& c, Verdicts& verdicts);       // 6
void check_bodies(Case& c, Verdicts& verdicts);               // 7
void check_seen_heads(const Case& c, Verdicts& verdicts);     // 8
void show_oddities(const Case& c, Verdicts& verdicts);        // 9
void show_brackets(const Case& c, Verdicts& verdicts);        // 10
void show_files(const Case& c, Verdicts& verdicts);           // 10
void show_clock_steps(const Case& c, Verdicts& verdicts);     // 10
void check_attachments(const Case& c, Verdicts& verdicts);    // 11
void check_reports(const Case& c, Verdicts& verdicts);        // 11 too
void judge_again(const Case& c, Verdicts& verdicts);          // 12

/// All of them over a bundle's bytes; `pages` are report files to hold against what the record says
/// was issued.
[[nodiscard]] Verdicts check_bundle(std::string_view bytes, const Policy& policy,
                                    std::vector<PagesFile> pages = {});

}  // namespace fairlead::verifier
