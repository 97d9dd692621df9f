#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# completions.sh SHELL PROGRAM: writes completions for SHELL (bash, zsh, fish) to standard output. Commands, their words and options are
# read from PROGRAM's own --help; shows, drills, demo shows and sound devices are asked for when they are wanted.
set -eu
shell=$1 program=$2

# Fields that may be empty are kept apart by what no shell takes for blank.
mark=$(printf '\037')

# "NAME, FORM, HELP", one a command.
commands() {
    "$program" --help | sed -n 's/^  slowmatch \(..................................\) \(.*\)$/\1\x1f\2/p' |
        awk -F "$mark" -v OFS="$mark" '{ form = $1; sub(/ +$/, "", form); name = form; gsub(/[][]/, "", name); sub(/ .*/, "", name)
                       words = form; sub(/^[^ ]+ ?/, "", words); print name, words, $2 }'
}
# "NAME, ARGUMENT, HELP", one an option of COMMAND.
options() { # COMMAND
    "$program" "$1" --help | sed -n 's/^  --\([a-z-]*\) *\(.*\)$/\1\x1f\2/p' |
        awk -F "$mark" -v OFS="$mark" '{ argument = ""; help = $2
                       if (match($2, /^[A-Z][^ ]* +/)) { argument = substr($2, 1, RLENGTH); sub(/ +$/, "", argument); help = substr($2, RLENGTH + 1) }
                       print $1, argument, help }'
}
boards() { options rehearse | awk -F "$mark" -v OFS="$mark" '$1 == "board" { sub(/.*: /, "", $3); gsub(/,/, "", $3); print $3 }'; }
# The names of outputs, out of what `slowmatch devices` says: "output  NAME (ALSA, 2 channels, 48000 Hz)".
outputs='s/^output  \(.*\) ([^(]*)$/\1/p'
quoted() { sed "s/'/'\\\\''/g"; } # within single quotes of a shell

# ---- bash -----------------------------------------------------------------------------------------------

bash_cases() {
    commands | while IFS=$mark read -r name words _; do
        list=$(options "$name" | awk -F "$mark" -v OFS="$mark" '{ printf "--%s ", $1 }')
        taking=$(options "$name" | awk -F "$mark" -v OFS="$mark" '$2 != "" { printf "--%s:%s ", $1, $1 == "device" ? "DEVICE" : $2 }')
        printf "    %s) words='%s' options='%s' taking='%s' ;;\n" "$name" "$(printf '%s' "$words" | tr -d '[].')" "$list" "$taking"
    done
}
to_bash() {
    printf '# Completions of slowmatch for bash, made from its own --help.\n'
    printf "_slowmatch_commands='%s'\n" "$(commands | cut -d "$mark" -f 1 | tr '\n' ' ')"
    printf "_slowmatch_boards='%s'\n_slowmatch_outputs='%s'\n" "$(boards)" "$outputs"
    printf '_slowmatch_table() { # COMMAND\n    case $1 in\n%s\n    esac\n}\n' "$(bash_cases)"
    cat <<'BASH'
_slowmatch_kind() { # KIND: fills COMPREPLY for a word of that kind
    local IFS=$'\n' show
    case $1 in
    SHOW | OLD | NEW | FOLDER) COMPREPLY=($(compgen -d -X "$hidden" -- "$word")) && compopt -o filenames ;;
    FILE* | MAP*) COMPREPLY=($(compgen -f -- "$word")) && compopt -o filenames ;;
    DRILL) show=${seen[0]}; COMPREPLY=($(compgen -W "$(slowmatch drill "$show" 2>/dev/null | sed -n 's/^\([^ ][^ ]*\)  .*/\1/p')" -- "$word")) ;;
    NAME) [ "$command" != demo ] || COMPREPLY=($(compgen -W "$(slowmatch 2>/dev/null | sed -n 's/^  slowmatch demo \([^ ][^ ]*\) .*/\1/p')" -- "$word")) ;;
    SIDE*) COMPREPLY=($(compgen -W $'left\nright' -- "$word")) ;;
    SEAT) COMPREPLY=($(compgen -W $'lead\nspotter' -- "$word")) ;;
    BOARD) COMPREPLY=($(compgen -W "${_slowmatch_boards// /$'\n'}" -- "$word")) ;;
    DEVICE) COMPREPLY=($(compgen -W "$(slowmatch devices 2>/dev/null | sed -n "$_slowmatch_outputs")" -- "$word")) && compopt -o filenames ;;
    esac
}
_slowmatch() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} command=${COMP_WORDS[1]} words= options= taking=
    local -a seen=()
    local at first=2 kind hidden=
    [ -n "$word" ] || hidden='.*'
    COMPREPLY=()
    if [ "$COMP_CWORD" -eq 1 ] && [[ $word != -* ]]; then
        COMPREPLY=($(compgen -W "$_slowmatch_commands" -- "$word") $(compgen -d -X "$hidden" -- "$word"))
        compopt -o filenames
        return
    fi
    _slowmatch_table "$command"
    [ -n "$options" ] || { _slowmatch_table rehearse; command=rehearse first=1; }
    for kind in $taking; do
        if [ "$before" = "${kind%%:*}" ]; then
            _slowmatch_kind "${kind#*:}"
            return
        fi
    done
    if [[ $word == -* ]]; then
        COMPREPLY=($(compgen -W "$options" -- "$word"))
        return
    fi
    for ((at = first; at < COMP_CWORD; at++)); do
        [[ ${COMP_WORDS[at]} == -* || " $taking" == *" ${COMP_WORDS[at-1]}:"* ]] || seen+=("${COMP_WORDS[at]}")
    done
    set -- $words
    [ $# -le ${#seen[@]} ] || _slowmatch_kind "${@:${#seen[@]}+1:1}"
}
complete -F _slowmatch slowmatch
BASH
}

# ---- fish -----------------------------------------------------------------------------------------------

to_fish() {
    names=$(commands | cut -d "$mark" -f 1 | tr '\n' ' ')
    printf '# Completions of slowmatch for fish, made from its own --help.\n'
    printf "complete -c slowmatch -f\ncomplete -c slowmatch -n __fish_use_subcommand -a '(__fish_complete_directories)'\n"
    commands | while IFS=$mark read -r name words help; do
        printf "complete -c slowmatch -n __fish_use_subcommand -a %s -d '%s'\n" "$name" "$(printf '%s' "$help" | quoted)"
        when="__fish_seen_subcommand_from $name"
        [ "$name" != rehearse ] || when="not __fish_seen_subcommand_from $(printf '%s' "$names" | sed 's/rehearse //')"
        case $words in
        *SHOW* | *OLD* | *FOLDER*) printf "complete -c slowmatch -n '%s' -a '(__fish_complete_directories)'\n" "$when" ;;
        esac
        case $words in *FILE*) printf "complete -c slowmatch -n '%s' -F\n" "$when" ;; esac
        case $words in *DRILL*)
            printf "complete -c slowmatch -n '%s' -a '(slowmatch drill (commandline -opc)[3] 2>/dev/null | string match -r \"^[^ ]+(?=  )\")'\n" "$when" ;;
        esac
        case $words in *'[NAME]'*)
            printf "complete -c slowmatch -n '%s' -a '(slowmatch 2>/dev/null | string match -r -g \"^  slowmatch demo ([^ ]+) \")'\n" "$when" ;;
        esac
        options "$name" | while IFS=$mark read -r option argument about; do
            takes=
            [ "$option" != device ] || argument=DEVICE
            case $argument in
            '') ;;
            FILE* | MAP*) takes=' -rF' ;;
            SIDE*) takes=" -xa 'left right'" ;;
            SEAT) takes=" -xa 'lead spotter'" ;;
            BOARD) takes=" -xa '$(boards)'" ;;
            DEVICE) takes=" -xa '(slowmatch devices 2>/dev/null | string match -r -g \"^output  (.*) \\([^(]*\\)\\$\")'" ;;
            *) takes=' -x' ;;
            esac
            printf "complete -c slowmatch -n '%s' -l %s%s -d '%s'\n" "$when" "$option" "$takes" "$(printf '%s' "$about" | quoted)"
        done
    done
}

# ---- zsh ------------------------------------------------------------------------------------------------

# What completes a word or an argument of KIND.
zsh_action() { # KIND
    case $1 in
    SHOW | OLD | NEW | FOLDER) printf '_directories' ;;
    FILE* | MAP*) printf '_files' ;;
    DRILL) printf '_slowmatch_drills' ;;
    NAME) printf '_slowmatch_demos' ;;
    SIDE*) printf '(left right)' ;;
    SEAT) printf '(lead spotter)' ;;
    BOARD) printf '(%s)' "$(boards)" ;;
    DEVICE) printf '_slowmatch_devices' ;;
    *) printf ' ' ;;
    esac
}
zsh_text() { tr '[]' '()' | sed 's/:/\\:/g' | quoted; } # within a specification of _arguments
to_zsh() {
    printf '#compdef slowmatch\n# Completions of slowmatch for zsh, made from its own --help.\n'
    printf "_slowmatch_devices() { compadd -- \${(f)\"\$(slowmatch devices 2>/dev/null | sed -n '%s')\"} }\n" "$outputs"
    cat <<'ZSH'
_slowmatch_drills() { compadd -- ${(f)"$(slowmatch drill ${words[(r)*/show.ini]:-$line[1]} 2>/dev/null | sed -n 's/^\([^ ][^ ]*\)  .*/\1/p')"} }
_slowmatch_demos() { compadd -- ${(f)"$(slowmatch 2>/dev/null | sed -n 's/^  slowmatch demo \([^ ][^ ]*\) .*/\1/p')"} }
_slowmatch() {
    local -a commands line
    commands=(
ZSH
    commands | while IFS=$mark read -r name _ help; do
        printf "        '%s:%s'\n" "$name" "$(printf '%s' "$help" | sed 's/:/\\:/g' | quoted)"
    done
    printf '    )\n    if (( CURRENT == 2 )) && [[ $words[2] != -* ]]; then\n        _describe command commands\n        _directories\n        return\n    fi\n'
    printf '    local command=$words[2]\n    if (( ${commands[(I)$command:*]} )); then\n        shift words\n        (( CURRENT-- ))\n    else\n        command=rehearse\n    fi\n    case $command in\n'
    commands | while IFS=$mark read -r name words _; do
        printf '    %s) _arguments' "$name"
        options "$name" | while IFS=$mark read -r option argument about; do
            text=$(printf '%s' "$about" | zsh_text)
            if [ -n "$argument" ]; then
                kind=$argument
                [ "$argument" != NAME ] || kind=PERSON
                [ "$option" != device ] || kind=DEVICE
                printf " \\\\\n        '--%s=[%s]:%s:%s'" "$option" "$text" "$(printf '%s' "$argument" | zsh_text)" "$(zsh_action "$kind")"
            else
                printf " \\\\\n        '--%s[%s]'" "$option" "$text"
            fi
        done
        for word in $(printf '%s' "$words" | tr -d '[]'); do
            case $word in
            *...) printf " \\\\\n        '*:%s:%s'" "${word%...}" "$(zsh_action "${word%...}")" ;;
            *) printf " \\\\\n        ':%s:%s'" "$word" "$(zsh_action "$word")" ;;
            esac
        done
        printf ' ;;\n'
    done
    printf '    esac\n}\n_slowmatch "$@"\n'
}

case $shell in
bash | zsh | fish) "to_$shell" ;;
*) echo "completions.sh: no shell $shell; bash, zsh or fish" >&2; exit 2 ;;
esac
