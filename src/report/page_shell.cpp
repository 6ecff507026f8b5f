#include "page_shell.hpp"

#include "ascii_text.hpp"
#include "neutral.hpp"
#include "page_assets.hpp"

#include <kainjow/mustache.hpp>

#include <algorithm>

namespace corefleck {
namespace {

using kainjow::mustache::data;
using kainjow::mustache::mustache;

/// JSON as the template library takes it: a list repeats its block, null, false, "" and [] leave it out.
data template_data(const Json& json) {
  if (json.is_object()) {
    data object{data::type::object};
    for (const auto& [key, value] : json.items()) object.set(key, template_data(value));
    return object;
  }
  if (json.is_array()) {
    data list{data::type::list};
    for (const Json& item : json) list.push_back(template_data(item));
    return list;
  }
  if (json.is_string()) {
    const auto& text = json.get_ref<const std::string&>();
    return text.empty() ? data{false} : data{text};
  }
  if (json.is_boolean()) return data{json.get<bool>()};
  if (json.is_null()) return data{false};
  return data{json.dump()};
}

std::string filled(std::string_view template_name, const data& values) {
  mustache text{std::string(page_asset(template_name))};
  return text.render(values);
}

std::string body_of(const PageSection& section) {
  std::string body;
  if (!section.template_name.empty()) body = filled(section.template_name, template_data(section.data));
  for (const PageSection& part : section.parts) {
    data values{data::type::object};
    values.set("id", part.id);
    values.set("title", part.title);
    values.set("body", body_of(part));
    body += filled("part.mustache", values);
  }
  return body;
}

// Inside a script element only "</" and "<!--" could end or open anything; in JSON a '<' stands in strings
// only, where this says the same.
std::string island_text(const Json& island) {
  const std::string plain = island.dump(-1, ' ', /*ensure_ascii=*/true, Json::error_handler_t::replace);
  std::string text;
  text.reserve(plain.size() + plain.size() / 64);
  for (const char c : plain) {
    if (c == '<')
      text += "\\u003c";
    else
      text += c;
  }
  return text;
}

}  // namespace

std::string page_html(const Page& page) {
  data sections{data::type::list}, scripts{data::type::list}, safety{data::type::list};
  for (const PageSection& section : page.sections) {
    data entry{data::type::object};
    entry.set("id", section.id);
    entry.set("title", section.title);
    entry.set("body", body_of(section));
    sections.push_back(entry);
  }
  for (const std::string_view name : page.scripts) scripts.push_back(data{ascii_script(page_asset(name))});
  for (const std::string_view sentence : kSafetyCautions) safety.push_back(data{std::string(sentence)});
  data packed{data::type::list};
  for (const auto& [id, base64] : page.packed) {
    data entry{data::type::object};
    entry.set("id", id);
    entry.set("base64", base64);
    packed.push_back(entry);
  }
  data values{data::type::object};
  values.set("packed", packed);
  values.set("title", page.title);
  values.set("subtitle", page.subtitle);
  values.set("version", page.program_version);
  values.set("skip_section", page.skip.section);
  values.set("skip_words", page.skip.words);
  values.set("style", ascii_style(page_asset("page.css")));
  values.set("head", filled("head.mustache", template_data(page.head)));
  values.set("sections", sections);
  values.set("scripts", scripts);
  values.set("safety", safety);
  values.set("neutral", std::string(kNeutralSentence));
  values.set("island", island_text(page.island));
  return ascii_markup(filled("shell.mustache", values));
}

}  // namespace corefleck
