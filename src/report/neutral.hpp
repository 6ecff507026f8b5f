#pragma once

#include <array>
#include <string_view>

namespace corefleck {

/// What every record and plate says of itself, once, so that no two files say it differently.
inline constexpr std::string_view kNeutralSentence =
    "This record measures appearance: how many light spots one photograph shows, how large and how much "
    "lighter than "
    "the matrix. It does not say why a spot is there, who is at fault or what will become of the surface; "
    "competing "
    "explanations need laboratory examination by a licensed professional (petrographic examination, ASTM "
    "C856).";

inline constexpr std::array<std::string_view, 3> kSafetyCautions{
    "Drilling a core breaches the shell and can hit steel or services.",
    "Cutting it dry raises respirable crystalline silica (29 CFR 1926.1153).",
    "Local codes and licensed practice decide whether and how a core is taken.",
};

}  // namespace corefleck
