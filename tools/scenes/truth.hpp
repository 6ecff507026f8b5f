#pragma once

#include "face.hpp"
#include "layout.hpp"
#include "light.hpp"

#include <filesystem>
#include <string>

namespace scenes {

/// Writes NAME.truth.json and NAME.mask.png as TRUTH.md defines them.
void write_truth(const std::filesystem::path& folder,
                 const std::string& name,
                 const std::string& photo,
                 const SceneStyle& style,
                 const Layout& layout,
                 const Light& light,
                 const Face& face);

}  // namespace scenes
