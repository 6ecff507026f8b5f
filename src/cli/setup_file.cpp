#include "setup_file.hpp"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <fstream>
#include <iterator>

namespace corefleck {
namespace {

std::string_view wanted(OptionKind kind) {
  switch (kind) {
    case OptionKind::flag:
      return "true or false";
    case OptionKind::number:
      return "a number, without quotes";
    case OptionKind::whole_number:
      return "a whole number, without quotes";
    case OptionKind::numbers:
      return "a list of numbers, for example [100, 200, 50]";
    case OptionKind::paths:
      return "a text in quotes, or a list of them";
    case OptionKind::text:
    case OptionKind::path:
      break;
  }
  return "a text in quotes";
}

std::optional<double> number_of(const toml::node& node) {
  if (const auto* real = node.as_floating_point()) return real->get();
  if (const auto* whole = node.as_integer()) return static_cast<double>(whole->get());
  return std::nullopt;
}

std::optional<OptionValue> numbers_of(const toml::node& node) {
  const auto* list = node.as_array();
  if (list == nullptr) return std::nullopt;
  std::vector<double> values;
  for (const toml::node& item : *list) {
    const auto value = number_of(item);
    if (!value) return std::nullopt;
    values.push_back(*value);
  }
  return values;
}

std::optional<OptionValue> path_of(const toml::node& node, const std::filesystem::path& folder) {
  const auto* text = node.as_string();
  if (text == nullptr) return std::nullopt;
  return text->get().empty() ? std::string() : (folder / text->get()).lexically_normal().string();
}

std::optional<OptionValue> value_of(const toml::node& node,
                                    OptionKind kind,
                                    const std::filesystem::path& folder) {
  switch (kind) {
    case OptionKind::flag:
      if (const auto* flag = node.as_boolean()) return flag->get();
      return std::nullopt;
    case OptionKind::number:
      if (const auto value = number_of(node)) return std::vector<double>{*value};
      return std::nullopt;
    case OptionKind::whole_number:
      if (const auto* whole = node.as_integer())
        return std::vector<double>{static_cast<double>(whole->get())};
      return std::nullopt;
    case OptionKind::numbers:
      return numbers_of(node);
    case OptionKind::text:
      if (const auto* text = node.as_string()) return text->get();
      return std::nullopt;
    case OptionKind::path:
    case OptionKind::paths:
      return path_of(node, folder);
  }
  return std::nullopt;
}

/// The values of one key: one, but of a list where the option may be given again.
std::vector<const toml::node*> values_under(const toml::node& node, OptionKind kind) {
  const auto* list = kind == OptionKind::paths ? node.as_array() : nullptr;
  if (list == nullptr) return {&node};
  std::vector<const toml::node*> values;
  for (const toml::node& item : *list) values.push_back(&item);
  return values;
}

Result<void> apply(const std::filesystem::path& path, const toml::table& table, SharedOptions& options) {
  for (const auto& [key, node] : table) {
    const std::string given(key.str());
    std::string name = given;
    std::replace(name.begin(), name.end(), '_', '-');
    const OptionSpec* spec = find_option(name);
    const std::string place = fmt::format("{}: line {}: {}", path.string(), node.source().begin.line, given);
    if (spec == nullptr)
      return failure(ErrorCode::bad_setting,
                     place + " is not an option",
                     "keys are option names without the dashes in front, as in corefleck measure --help");
    for (const toml::node* item : values_under(node, spec->kind)) {
      const auto value = value_of(*item, spec->kind, path.parent_path());
      if (!value)
        return failure(ErrorCode::bad_setting,
                       place + " has a value of the wrong type",
                       fmt::format("give {}", wanted(spec->kind)));
      if (const auto fault = set_option(options, *spec, *value))
        return failure(ErrorCode::bad_setting, fmt::format("{} = {}", place, *fault), "correct that line");
    }
  }
  return {};
}

}  // namespace

Result<void> apply_setup_file(const std::filesystem::path& path, SharedOptions& options) {
  std::error_code ignored;
  std::ifstream file(path, std::ios::binary);
  if (!file || std::filesystem::is_directory(path, ignored))
    return failure(
        ErrorCode::bad_setting, path.string() + ": cannot be read", "check the file after --setup");
  const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  try {
    return apply(path, toml::parse(std::string_view(text), path.string()), options);
  } catch (const toml::parse_error& error) {
    return failure(
        ErrorCode::bad_setting,
        fmt::format("{}: line {}: {}", path.string(), error.source().begin.line, error.description()),
        "write one `key = value` a line (TOML)");
  }
}

}  // namespace corefleck
