#include "corefleck/visits.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>

namespace corefleck {
namespace {

enum Column : std::size_t { kCore, kDate, kPhoto, kState, kNote };
constexpr std::array kColumns{ListColumn{"core"},
                              ListColumn{"date"},
                              ListColumn{"photo"},
                              ListColumn{"state", false},
                              ListColumn{"note", false}};

ListFault fault_of(const ListCell& cell, std::string what, std::string hint) {
  return {cell.line, cell.column, std::move(what), std::move(hint)};
}

/// Takes the rows one by one and remembers what must not come twice.
class VisitsReader {
 public:
  void take(const ListRow& row) {
    Visit visit{{}, row[kPhoto].text, state_of(row[kState]), row[kNote].text, row[kPhoto]};
    check_photo(row[kPhoto]);
    const auto date = date_of(row[kDate].text);
    CoreEntry& entry = entry_of(row[kCore]);
    ++entry.rows;
    if (!date) {
      faults_.push_back(fault_of(row[kDate],
                                 fmt::format("\"{}\" is no date", row[kDate].text),
                                 "write year, month and day as 2026-03-14"));
      return;
    }
    visit.date = *date;
    if (const auto [earlier, is_new] = entry.line_by_date.try_emplace(*date, row[kDate].line); !is_new)
      faults_.push_back(fault_of(row[kDate],
                                 fmt::format("core \"{}\" has a visit of {} already, line {}",
                                             row[kCore].text,
                                             row[kDate].text,
                                             earlier->second),
                                 "keep one photo a visit, or correct the date"));
    entry.core.visits.push_back(std::move(visit));
  }

  ListResult<std::vector<CoreVisits>> finish() {
    for (const CoreEntry& entry : entries_)
      if (entry.rows == 1)
        faults_.push_back(fault_of(entry.first,
                                   fmt::format("core \"{}\" has one visit only", entry.core.core),
                                   "list a second visit, or take the line out"));
    std::stable_sort(faults_.begin(), faults_.end(), [](const ListFault& a, const ListFault& b) {
      return a.line < b.line;
    });
    if (!faults_.empty()) return tl::make_unexpected(std::move(faults_));
    std::vector<CoreVisits> cores;
    for (CoreEntry& entry : entries_) {
      std::sort(entry.core.visits.begin(), entry.core.visits.end(), [](const Visit& a, const Visit& b) {
        return a.date < b.date;
      });
      cores.push_back(std::move(entry.core));
    }
    return cores;
  }

 private:
  struct CoreEntry {
    CoreVisits core;
    ListCell first;
    int rows = 0;  ///< faulty ones among them
    std::map<Date, int> line_by_date{};
  };

  CoreEntry& entry_of(const ListCell& core) {
    const auto found = std::find_if(entries_.begin(), entries_.end(), [&](const CoreEntry& entry) {
      return entry.core.core == core.text;
    });
    if (found != entries_.end()) return *found;
    entries_.push_back({{core.text, {}}, core});
    return entries_.back();
  }

  void check_photo(const ListCell& photo) {
    const auto [earlier, is_new] =
        line_by_photo_.try_emplace(std::filesystem::path(photo.text).lexically_normal().string(), photo.line);
    if (!is_new)
      faults_.push_back(
          fault_of(photo,
                   fmt::format("photo \"{}\" is listed already, line {}", photo.text, earlier->second),
                   "give every visit its own photo"));
  }

  std::optional<FaceState> state_of(const ListCell& cell) {
    if (cell.text == "dry") return FaceState::dry;
    if (cell.text == "wet") return FaceState::wet;
    if (!cell.text.empty())
      faults_.push_back(fault_of(
          cell, fmt::format("unknown state \"{}\"", cell.text), "write dry or wet, or leave it empty"));
    return std::nullopt;
  }

  std::vector<CoreEntry> entries_;
  std::map<std::string, int> line_by_photo_;
  std::vector<ListFault> faults_;
};

}  // namespace

ListResult<std::vector<CoreVisits>> visits_of(std::string_view csv) {
  const auto rows = list_rows(csv, kColumns);
  if (!rows) return tl::make_unexpected(rows.error());
  VisitsReader reader;
  for (const ListRow& row : *rows) reader.take(row);
  return reader.finish();
}

}  // namespace corefleck
