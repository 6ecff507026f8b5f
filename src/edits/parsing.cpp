#include "corefleck/edits.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

namespace corefleck {
namespace {

using Json = nlohmann::json;

constexpr std::string_view kFormat = "corefleck edits";
constexpr int kVersion = 1;
constexpr std::size_t kMostEdits = 10000, kMostCorners = 10000, kLongestText = 2000;
constexpr double kFarthest_mm = 10000.0;
constexpr std::array kKinds{std::pair{"strike", EditKind::strike},
                            std::pair{"restore", EditKind::restore},
                            std::pair{"add", EditKind::add},
                            std::pair{"exclude", EditKind::exclude}};

/// What is wrong with one part of the file, without its place.
struct Fault {
  std::string what, hint;
};
template <class T>
using Part = tl::expected<T, Fault>;

tl::unexpected<Fault> fault(std::string what, std::string hint) {
  return tl::make_unexpected(Fault{std::move(what), std::move(hint)});
}

Part<std::string> text_of(const Json& object, const char* key, bool required) {
  const auto found = object.find(key);
  if (found == object.end() && !required) return std::string();
  const std::string hint =
      fmt::format("give \"{}\" as a text in quotes, of up to {} characters", key, kLongestText);
  if (found == object.end()) return fault(fmt::format("{} is missing", key), hint);
  if (!found->is_string()) return fault(fmt::format("{} is not a text", key), hint);
  auto text = found->get<std::string>();
  if (text.size() > kLongestText) return fault(fmt::format("{} is too long", key), hint);
  if (required && text.find_first_not_of(" \t\r\n") == std::string::npos)
    return fault(fmt::format("{} is empty", key), hint);
  return text;
}

Part<double> number_of(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_number())
    return fault(fmt::format("{} is missing or no number", key), fmt::format("give \"{}\" as a number", key));
  const auto value = found->get<double>();
  if (!std::isfinite(value) || std::abs(value) > kFarthest_mm)
    return fault(fmt::format("{} = {} is out of range", key, value), "correct that number");
  return value;
}

Part<int> whole_of(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_number_integer() || found->get<double>() < 1 ||
      found->get<double>() > 1e9)
    return fault(fmt::format("{} is missing or no whole number from 1", key),
                 fmt::format("give \"{}\" as a whole number", key));
  return found->get<int>();
}

Part<std::vector<cv::Point2d>> outline_of(const Json& object) {
  const std::string hint = "give \"outline_mm\" as three or more corners [x, y] in mm that enclose an area";
  const auto found = object.find("outline_mm");
  if (found == object.end() || !found->is_array() || found->size() < 3)
    return fault("outline_mm is missing or has fewer than three corners", hint);
  if (found->size() > kMostCorners)
    return fault(fmt::format("outline_mm has more than {} corners", kMostCorners), hint);
  std::vector<cv::Point2d> corners;
  for (const Json& corner : *found) {
    if (!corner.is_array() || corner.size() != 2 || !corner[0].is_number() || !corner[1].is_number())
      return fault(fmt::format("outline_mm: corner {} is not [x, y]", corners.size() + 1), hint);
    corners.emplace_back(corner[0].get<double>(), corner[1].get<double>());
    const cv::Point2d& p = corners.back();
    if (!(std::abs(p.x) <= kFarthest_mm) || !(std::abs(p.y) <= kFarthest_mm))
      return fault(fmt::format("outline_mm: corner {} is out of range", corners.size()), hint);
  }
  return corners;
}

Part<Edit> edit_of(const Json& object) {
  if (!object.is_object()) return fault("is not an object", "write each edit in braces");
  const auto kind_name = text_of(object, "edit", true);
  if (!kind_name) return tl::make_unexpected(kind_name.error());
  const auto* kind = std::find_if(
      kKinds.begin(), kKinds.end(), [&](const auto& known) { return *kind_name == known.first; });
  if (kind == kKinds.end())
    return fault(fmt::format("\"{}\" is no kind of edit", *kind_name), "use strike, restore, add or exclude");
  Edit edit{};
  edit.kind = kind->second;
  const std::array texts{std::tuple{"reason", true, &edit.reason},
                         std::tuple{"initials", true, &edit.initials},
                         std::tuple{"at", false, &edit.at}};
  for (const auto& [key, required, to] : texts) {
    auto text = text_of(object, key, required);
    if (!text) return tl::make_unexpected(text.error());
    *to = *std::move(text);
  }
  if (edit.kind == EditKind::add || edit.kind == EditKind::exclude) {
    auto outline = outline_of(object);
    if (!outline) return tl::make_unexpected(outline.error());
    edit.outline_mm = *std::move(outline);
    return edit;
  }
  const auto id = whole_of(object, "spot_id");
  const auto x = number_of(object, "x_mm"), y = number_of(object, "y_mm");
  if (!id) return tl::make_unexpected(id.error());
  for (const auto* place : {&x, &y})
    if (!*place) return tl::make_unexpected(place->error());
  edit.spot_id = *id;
  edit.place_mm = {*x, *y};
  return edit;
}

bool is_sha256(const std::string& text) {
  return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

Part<Edits> head_of(const Json& root) {
  if (!root.is_object() || root.value("format", Json()) != kFormat)
    return fault("is no edits file", "save one with the report's \"Save edits\"");
  if (root.value("version", Json()) != kVersion)
    return fault("is of another version of the format",
                 fmt::format("this program reads version {}", kVersion));
  Edits edits;
  const auto sha = text_of(root, "photo_sha256", true);
  if (!sha) return tl::make_unexpected(sha.error());
  if (!is_sha256(*sha))
    return fault("photo_sha256 is no SHA-256", "give its 64 lower-case hexadecimal digits");
  edits.photo_sha256 = *sha;
  const auto pitch = number_of(root, "grid_mm_per_px");
  const auto size = whole_of(root, "grid_size_px");
  if (!pitch) return tl::make_unexpected(pitch.error());
  if (!size) return tl::make_unexpected(size.error());
  edits.mm_per_px = *pitch;
  edits.grid_size_px = *size;
  return edits;
}

std::optional<int> line_of(std::string_view text, std::size_t byte) {
  if (byte > text.size()) byte = text.size();
  return 1 +
         static_cast<int>(std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(byte), '\n'));
}

}  // namespace

std::string_view name(EditKind kind) {
  for (const auto& [kind_name, known] : kKinds)
    if (known == kind) return kind_name;
  return "";
}

Result<Edits> parse_edits(std::string_view text, const std::string& file) {
  const auto wrong = [&](const std::string& place, const Fault& f) {
    return failure(ErrorCode::bad_edits, fmt::format("{}: {}{}", file, place, f.what), f.hint);
  };
  Json root;
  try {
    root = Json::parse(text);
  } catch (const Json::parse_error& error) {
    return wrong(fmt::format("line {}: ", *line_of(text, error.byte)),
                 {"is not JSON", "save the edits again with the report's \"Save edits\""});
  } catch (const Json::exception&) {
    return wrong("", {"holds a number that is out of range", "save the edits again with the report"});
  }
  auto edits = head_of(root);
  if (!edits) return wrong("", edits.error());
  edits->file = file;
  const auto list = root.find("edits");
  if (list == root.end() || !list->is_array())
    return wrong("", {"edits is missing or no list", "give \"edits\" as a list in brackets"});
  if (list->size() > kMostEdits)
    return wrong("", {fmt::format("holds more than {} edits", kMostEdits), "leave some out"});
  for (const Json& item : *list) {
    auto edit = edit_of(item);
    if (!edit) return wrong(fmt::format("edit {}: ", edits->list.size() + 1), edit.error());
    edits->list.push_back(*std::move(edit));
  }
  return *std::move(edits);
}

Result<void> belongs_to(const Edits& edits, const std::string& photo_sha256) {
  if (edits.photo_sha256 == photo_sha256) return {};
  return failure(
      ErrorCode::bad_edits,
      fmt::format("{}: made for another photo (SHA-256 {}..., this one {}...)",
                  edits.file,
                  edits.photo_sha256.substr(0, 12),
                  photo_sha256.substr(0, 12)),
      "give the photo that was corrected, or leave --edits out and correct this one in its report.html");
}

}  // namespace corefleck
