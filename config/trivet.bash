# Bash completion of trivet and trivetd. Verbs, options and their values are read from the programs' own help, so that
# this file cannot fall behind them. Nothing is asked of the daemon.
# shellcheck shell=bash

# Options that a verb takes beside its own, except for those that only work something out.
_trivet_common='--help --json --quiet --socket --store --pin-fd'

# The verbs that `trivet help` lists.
_trivet_verbs()
{
    local line
    while IFS= read -r line; do
        [[ $line =~ ^'  '([a-z][a-z-]*)'  ' ]] && printf '%s\n' "${BASH_REMATCH[1]}"
    done < <("$1" help 2>/dev/null)
    printf 'help\n'
}

# The rules that `trivet limits` lists.
_trivet_rules()
{
    local line
    while IFS= read -r line; do
        [[ $line =~ ^'  '([a-z0-9.-]+/[a-z0-9.-]+)' ' ]] && printf '%s\n' "${BASH_REMATCH[1]}"
    done < <("$1" limits 2>/dev/null)
}

# Long options on a page of help, each once.
_trivet_options()
{
    local page=$1 seen=' '
    while [[ $page =~ --[a-z][a-z-]* ]]; do
        page=${page#*"${BASH_REMATCH[0]}"}
        [[ $seen == *" ${BASH_REMATCH[0]} "* ]] && continue
        seen+="${BASH_REMATCH[0]} "
        printf '%s\n' "${BASH_REMATCH[0]}"
    done
}

# What a page of help tells of an option; a line that goes on is joined.
_trivet_told()
{
    local page=$1 option=$2 line told='' found=
    while IFS= read -r line; do
        if [[ $line =~ ^' '+(-.,' ')?"$option"' '+(.*) ]]; then
            told=${BASH_REMATCH[2]} found=yes
        elif [[ $found && $line =~ ^'            '' '*([^ ].*) ]]; then
            told+=" ${BASH_REMATCH[1]}"
        elif [[ $found ]]; then
            break
        fi
    done <<<"$page"
    printf '%s\n' "$told"
}

# "served, stored or discarded (needed)" gives its words; what is not a list of single words gives nothing.
_trivet_choices()
{
    local told=$1 word words
    while [[ $told =~ ' ('[^\)]*')' ]]; do
        told=${told/"${BASH_REMATCH[0]}"/}
    done
    told=${told// or /, }
    IFS=, read -ra words <<<"$told"
    ((${#words[@]} > 1)) || return 0
    for word in "${words[@]}"; do
        [[ ${word# } =~ ^[a-z][a-z-]*$ ]] || return 0
    done
    printf '%s\n' "${words[@]# }"
}

# The choices for the word number $3, counted from 0, that stands without an option after a verb.
_trivet_positional()
{
    local page=$1 verb=$2 number=$3 usage=${1%%$'\n'*} name
    if [[ $verb == export && $number == 0 && $page =~ 'WHAT is '([^.]*)'.' ]]; then
        _trivet_choices "${BASH_REMATCH[1]//$'\n'/ }"
        return
    fi
    while [[ $usage =~ '['([a-z]+)']' ]]; do
        name=${BASH_REMATCH[1]} usage=${usage#*"${BASH_REMATCH[0]}"}
        ((number-- == 0)) && _trivet_choices "$(_trivet_told "$page" "--$name")"
    done
}

_trivet()
{
    local program=$1 cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]} verb='' number=0 i word page
    COMPREPLY=()
    for ((i = 1; i < COMP_CWORD; i++)); do
        word=${COMP_WORDS[i]}
        case $word in
        --json | --quiet | --help | -h | --for-plan | --accept-unverified | --added-up | --cold-oven | --apart | --without-records) ;;
        -*) ((i++)) ;; # every other option has a value
        *) if [[ $verb ]]; then ((number++)); else verb=$word; fi ;;
        esac
    done
    case $prev in
    --out | --socket | --device | --keep)
        compopt -o filenames 2>/dev/null
        mapfile -t COMPREPLY < <(compgen -f -- "$cur")
        return
        ;;
    --limit)
        mapfile -t COMPREPLY < <(compgen -W "$(_trivet_rules "$program")" -- "$cur")
        return
        ;;
    --store | --profiles | --live)
        compopt -o filenames 2>/dev/null
        mapfile -t COMPREPLY < <(compgen -d -- "$cur")
        return
        ;;
    esac
    if [[ -z $verb && $cur == -* ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$_trivet_common --version" -- "$cur")
    elif [[ -z $verb || $verb == help ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$(_trivet_verbs "$program")" -- "$cur")
    else
        page=$("$program" "$verb" --help 2>/dev/null) || return 0
        if [[ $cur == -* ]]; then
            case $verb in
            convert | boiling-point | forecast) ;;
            *) page+=" $_trivet_common" ;;
            esac
            mapfile -t COMPREPLY < <(compgen -W "$(_trivet_options "$page")" -- "$cur")
        elif [[ $prev == --* && ! $prev =~ ^--(json|quiet|for-plan|accept-unverified|added-up|cold-oven|apart|without-records)$ ]]; then
            mapfile -t COMPREPLY < <(compgen -W "$(_trivet_choices "$(_trivet_told "$page" "$prev")")" -- "$cur")
        elif [[ $verb == limits ]]; then
            mapfile -t COMPREPLY < <(compgen -W "$(_trivet_rules "$program")" -- "$cur")
        elif [[ $verb == plan-series ]]; then
            compopt -o filenames 2>/dev/null
            mapfile -t COMPREPLY < <(compgen -d -- "$cur")
        elif [[ $verb == judge || $verb == forecast ]]; then
            compopt -o filenames 2>/dev/null
            mapfile -t COMPREPLY < <(compgen -f -- "$cur")
        else
            mapfile -t COMPREPLY < <(compgen -W "$(_trivet_positional "$page" "$verb" "$number")" -- "$cur")
        fi
    fi
}

_trivetd()
{
    local program=$1 cur=${COMP_WORDS[COMP_CWORD]}
    if [[ $cur == -* ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$(_trivet_options "$("$program" --help 2>/dev/null)")" -- "$cur")
    else
        compopt -o filenames 2>/dev/null
        mapfile -t COMPREPLY < <(
            compgen -d -- "$cur"
            compgen -f -X '!*.yaml' -- "$cur"
        )
    fi
}

complete -F _trivet trivet
complete -F _trivetd trivetd
