#pragma once

#include "record_parts.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace corefleck {

/// One part of a report page: a heading, an entry in the page's contents, and its template of
/// src/report/page, filled with `data`. Every value is escaped by the template library.
struct PageSection {
  std::string id;                  ///< anchor
  std::string title;               ///< heading
  std::string_view template_name;  ///< empty: the parts alone
  Json data;
  std::vector<PageSection> parts = {};  ///< below it, each with a heading of its own, one level down
};

/// First link of the page, for whoever goes by keys: past the picture to what is longest.
struct SkipLink {
  std::string section, words;
};

/// What every report page has, whichever command writes it.
struct Page {
  std::string title;     ///< of the window, and the head line
  std::string subtitle;  ///< below it
  std::string program_version;
  SkipLink skip;
  Json head;                              ///< filled into head.mustache: headline figures and status
  std::vector<PageSection> sections;      ///< in their order
  std::vector<std::string_view> scripts;  ///< files of src/report/page, in the order in which they run
  Json island;                            ///< what the scripts read
  /// Packed bytes that the scripts read, by the id of their element, in base64: apart from the island, since
  /// writing megabytes as JSON costs more than all the rest.
  std::vector<std::pair<std::string, std::string>> packed;
};

/// The page as one file that needs no other: styles, scripts and data in it, and a policy that lets it fetch
/// nothing.
[[nodiscard]] std::string page_html(const Page& page);

}  // namespace corefleck
