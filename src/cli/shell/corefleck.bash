# bash completion for corefleck. The options are read from the program's own help, so that they are never out of date.
_corefleck() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} program=${COMP_WORDS[0]}
  COMPREPLY=()
  if ((COMP_CWORD == 1)); then
    mapfile -t COMPREPLY < <(compgen -W "measure wetdry compare track --help --version" -- "$word")
    return
  fi
  case $before in
    --state) mapfile -t COMPREPLY < <(compgen -W "dry wet" -- "$word"); return ;;
    --size-classes) mapfile -t COMPREPLY < <(compgen -W "sqrt2 R5 R10 R20" -- "$word"); return ;;
  esac
  if [[ $word == -* ]]; then
    local options
    options=$("$program" "${COMP_WORDS[1]}" --help 2> /dev/null | grep -o -- '--[a-z][a-z-]*' | sort -u)
    mapfile -t COMPREPLY < <(compgen -W "$options" -- "$word")
    return
  fi
  compopt -o default 2> /dev/null
}
complete -F _corefleck corefleck
